"""The two nets, of different make: one sees the whole cell, the other the ink alone.

Both return 12 log-odds: digits 0 to 9, empty, other. Sizes are chosen so that both together take at most
3 ms a character on one core with OpenCV's dnn.
"""
import torch
from torch import nn
from torch.nn import functional as F

CLASSES = 12


def conv_bn(cin, cout, k=3, stride=1):
    return nn.Sequential(
        nn.Conv2d(cin, cout, k, stride, k // 2, bias=False), nn.BatchNorm2d(cout), nn.ReLU(inplace=True))


class Residual(nn.Module):
    """Two convolutions around a shortcut."""

    def __init__(self, c):
        super().__init__()
        self.a = conv_bn(c, c)
        self.b = nn.Sequential(nn.Conv2d(c, c, 3, 1, 1, bias=False), nn.BatchNorm2d(c))

    def forward(self, x):
        return F.relu(x + self.b(self.a(x)))


class NetA(nn.Module):
    """Reads the cell, 1 x 48 x 40: strided 3 x 3 convolutions with shortcuts, place kept to the end."""

    def __init__(self, c=(24, 48, 80, 128), drop=0.3):
        super().__init__()
        self.body = nn.Sequential(
            conv_bn(1, c[0], 3, 2),
            conv_bn(c[0], c[1], 3),
            conv_bn(c[1], c[2], 3, 2), Residual(c[2]),
            conv_bn(c[2], c[3], 3, 2), Residual(c[3]),
            conv_bn(c[3], 40, 1))
        self.drop = nn.Dropout(drop)
        self.hidden = nn.Linear(40 * 6 * 5, 128)
        self.out = nn.Linear(128, CLASSES)

    def forward(self, x):
        x = self.body(x).flatten(1)
        x = F.relu(self.hidden(self.drop(x)))
        return self.out(self.drop(x))


class NetB(nn.Module):
    """Reads the glyph, 1 x 28 x 28: wide kernels and pooling, then the mean over place."""

    def __init__(self, c=(32, 56, 88, 144), drop=0.3):
        super().__init__()
        self.body = nn.Sequential(
            conv_bn(1, c[0], 5), nn.MaxPool2d(2),
            conv_bn(c[0], c[1], 5), conv_bn(c[1], c[2], 3), nn.MaxPool2d(2),
            conv_bn(c[2], c[3], 3), conv_bn(c[3], c[3], 3))
        self.drop = nn.Dropout(drop)
        self.hidden = nn.Linear(c[3] * 9, 96)
        self.out = nn.Linear(96, CLASSES)

    def forward(self, x):
        x = F.max_pool2d(self.body(x), 3, 2).flatten(1)
        x = F.relu(self.hidden(self.drop(x)))
        return self.out(self.drop(x))


NETS = {"a": (NetA, (48, 40)), "b": (NetB, (28, 28))}


def folded(net):
    """A copy of net for inference, batch norm folded into the convolutions."""
    import copy

    net = copy.deepcopy(net).eval().cpu().float()

    def fold(seq):
        kids = list(seq.named_children())
        for (n1, m1), (n2, m2) in zip(kids, kids[1:]):
            if isinstance(m1, nn.Conv2d) and isinstance(m2, nn.BatchNorm2d):
                setattr(seq, n1, nn.utils.fuse_conv_bn_eval(m1, m2))
                setattr(seq, n2, nn.Identity())
        for _, m in seq.named_children():
            fold(m)

    fold(net)
    return net


class Probs(nn.Module):
    """net with the shift from bytes / 255 and the softmax inside, so that the file is the whole reader."""

    def __init__(self, net):
        super().__init__()
        self.net = net

    def forward(self, x):
        return F.softmax(self.net(x * 4.0 - 0.5), dim=1)


def export(net, size, path):
    """Writes net as ONNX, opset 11, batch of any size, input bytes / 255, output probabilities."""
    model = Probs(folded(net)).eval()
    kw = {}
    if int(torch.__version__.split(".")[0]) >= 2:
        kw["dynamo"] = False
    torch.onnx.export(model, torch.zeros(1, 1, *size), path, opset_version=11, input_names=["box"],
                      output_names=["probs"], dynamic_axes={"box": {0: "n"}, "probs": {0: "n"}},
                      do_constant_folding=True, **kw)
