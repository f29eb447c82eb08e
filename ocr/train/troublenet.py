"""The net that tells plain writing in a comb from trouble: it sees the comb whole, with what stands around it.

It sees 1 x 72 x 160 (ocr/crop/comb.go) and returns log-odds of ten kinds (ocr/train/trouble/kind.go).
"""
import torch
from torch import nn
from torch.nn import functional as F

from nets import Residual, conv_bn, folded

KINDS = ["plain", "struck", "overwritten", "question", "rubbed-out", "outside", "dash", "other", "on-line", "empty"]
SIZE = (72, 160)


class TroubleNet(nn.Module):
    """Strided convolutions, place kept to the end: where ink stands is half of what trouble is."""

    def __init__(self, c=(12, 24, 32, 56, 80), drop=0.3):
        super().__init__()
        self.body = nn.Sequential(
            conv_bn(1, c[0], 5, 2),                                                     # 36 x 80
            conv_bn(c[0], c[1], 3, 2),                                                  # 18 x 40
            conv_bn(c[1], c[2], 3), nn.MaxPool2d(2),                                    # 9 x 20
            conv_bn(c[2], c[3], 3), conv_bn(c[3], c[3], 3), nn.MaxPool2d(2),            # 4 x 10
            conv_bn(c[3], c[4], 3), Residual(c[4]), conv_bn(c[4], 24, 1))
        self.drop = nn.Dropout(drop)
        self.hidden = nn.Linear(24 * 4 * 10, 96)
        self.out = nn.Linear(96, len(KINDS))

    def forward(self, x):
        x = self.body(x).flatten(1)
        x = F.relu(self.hidden(self.drop(x)))
        return self.out(self.drop(x))


class Claims(nn.Module):
    """The net with the shift from bytes / 255 and the softmax inside, so that the file is the whole of it."""

    def __init__(self, net):
        super().__init__()
        self.net = net

    def forward(self, x):
        return torch.softmax(self.net(x * 4.0 - 0.5), 1)


def export(net, path):
    """Writes net as ONNX, opset 11, batch of any size, input bytes / 255, output probabilities."""
    model = Claims(folded(net)).eval()
    kw = {"dynamo": False} if int(torch.__version__.split(".")[0]) >= 2 else {}
    torch.onnx.export(model, torch.zeros(1, 1, *SIZE), path, opset_version=11, input_names=["comb"],
                      output_names=["kinds"], dynamic_axes={"comb": {0: "n"}, "kinds": {0: "n"}},
                      do_constant_folding=True, **kw)
