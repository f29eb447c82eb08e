"""The net that reads a whole cell without cutting it: convolutions only, one guess for each half millimetre.

It sees a strip, 1 x 48 x 160 (ocr/crop/strip.go), and returns log-odds of 44 symbols at 80 places from left to
right: connectionist temporal classification (Graves and others 2006) makes texts of them. Symbol 0 is
"nothing new here". No recurrent layers, so that OpenCV's dnn runs it.
"""
import torch
from torch import nn
from torch.nn import functional as F

from nets import Residual, conv_bn, folded

SYMBOLS = "\0" + "0123456789-/,?ab" + "ABCDEFGHIJKLMNOPQRSTUVWXYZ" + "#"
CODE = {c: i for i, c in enumerate(SYMBOLS)}
SIZE = (48, 160)
PLACES = 80


def along(cin, cout, k, dilation=1):
    """A convolution along the line, with its batch norm."""
    return nn.Sequential(nn.Conv2d(cin, cout, (1, k), 1, (0, k // 2 * dilation), (1, dilation), bias=False),
                         nn.BatchNorm2d(cout), nn.ReLU(inplace=True))


CHANNELS = (20, 40, 64, 88, 112)


class CellNet(nn.Module):
    """Height is folded away in four steps, width halved once. c is how wide each step is."""

    def __init__(self, c=CHANNELS, drop=0.15):
        super().__init__()
        self.body = nn.Sequential(
            conv_bn(1, c[0], 5, 2),                               # 24 x 80
            conv_bn(c[0], c[1], 3), nn.MaxPool2d((2, 1)),         # 12 x 80
            conv_bn(c[1], c[2], 3), Residual(c[2]), nn.MaxPool2d((2, 1)),  # 6 x 80
            conv_bn(c[2], c[3], 3), Residual(c[3]), nn.MaxPool2d((2, 1)),  # 3 x 80
            nn.Sequential(nn.Conv2d(c[3], c[4], 3, 1, (0, 1), bias=False), nn.BatchNorm2d(c[4]), nn.ReLU(inplace=True)),
            along(c[4], c[4], 5), along(c[4], c[4], 5, 2), along(c[4], c[4], 5, 3))
        self.drop = nn.Dropout(drop)
        self.out = nn.Conv2d(c[4], len(SYMBOLS), 1)

    def forward(self, x):
        return self.out(self.drop(self.body(x)))  # n x 44 x 1 x 80


def loaded(path):
    """The net whose weights path holds, as wide as they are."""
    state = torch.load(path, map_location="cpu")
    first = [state[k] for k in sorted((k for k in state if k.startswith("body.") and k.endswith(".0.weight") and k.count(".") == 3),
                                      key=lambda k: int(k.split(".")[1]))]
    net = CellNet(tuple(w.shape[0] for w in first[:5]))
    net.load_state_dict(state)
    return net


class Odds(nn.Module):
    """The net with the shift from bytes / 255 inside, so that the file is the whole reader."""

    def __init__(self, net):
        super().__init__()
        self.net = net

    def forward(self, x):
        return self.net(x * 4.0 - 0.5)


def export(net, path):
    """Writes net as ONNX, opset 11, batch of any size, input bytes / 255, output log-odds."""
    model = Odds(folded(net)).eval()
    kw = {"dynamo": False} if int(torch.__version__.split(".")[0]) >= 2 else {}
    torch.onnx.export(model, torch.zeros(1, 1, *SIZE), path, opset_version=11, input_names=["strip"],
                      output_names=["odds"], dynamic_axes={"strip": {0: "n"}, "odds": {0: "n"}},
                      do_constant_folding=True, **kw)


def losses(odds, targets, lengths):
    """Surprise at each target, nats."""
    logp = F.log_softmax(odds.float().squeeze(2), 1).permute(2, 0, 1)  # places x n x symbols
    n = odds.shape[0]
    places = torch.full((n,), logp.shape[0], dtype=torch.long, device=odds.device)
    return F.ctc_loss(logp, targets, places, lengths, blank=0, reduction="none", zero_infinity=True)


def greedy(odds):
    """The text along the likeliest path of each strip."""
    out = []
    for row in odds.squeeze(2).argmax(1).cpu().tolist():
        text, last = "", 0
        for s in row:
            if s != last and s:
                text += SYMBOLS[s]
            last = s
        out.append(text)
    return out
