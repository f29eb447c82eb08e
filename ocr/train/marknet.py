"""The net that tells a mark in a tick box from shade, grain and print.

It sees 1 x 32 x 64 (ocr/crop/mark.go): the box, and beside it the same box as the other rows of the card have it. It
returns log-odds of no mark and of a mark.
"""
import torch
from torch import nn
from torch.nn import functional as F

from nets import conv_bn, folded

SIDE = 32


class MarkNet(nn.Module):
    """Both pictures as two channels of one: what differs between them is what counts."""

    def __init__(self, c=(16, 24, 32, 40), drop=0.2):
        super().__init__()
        self.body = nn.Sequential(
            conv_bn(2, c[0], 5, 2),                              # 16 x 16
            conv_bn(c[0], c[1], 3), nn.MaxPool2d(2),             # 8 x 8
            conv_bn(c[1], c[2], 3), conv_bn(c[2], c[3], 3, 2))   # 4 x 4
        self.drop = nn.Dropout(drop)
        self.hidden = nn.Linear(c[3] * 16, 48)
        self.out = nn.Linear(48, 2)

    def forward(self, x):
        x = torch.cat([x[:, :, :, :SIDE], x[:, :, :, SIDE:]], 1)
        x = self.body(x).flatten(1)
        x = F.relu(self.hidden(self.drop(x)))
        return self.out(self.drop(x))


class Claims(nn.Module):
    """The net with the shift from bytes / 255 and the softmax inside, so that the file is the whole of it."""

    def __init__(self, net):
        super().__init__()
        self.net = net

    def forward(self, x):
        return torch.softmax(self.net(x * 4.0 - 0.6), 1)


def export(net, path):
    """Writes net as ONNX, opset 11, batch of any size, input bytes / 255, output probabilities."""
    model = Claims(folded(net)).eval()
    kw = {"dynamo": False} if int(torch.__version__.split(".")[0]) >= 2 else {}
    torch.onnx.export(model, torch.zeros(1, 1, SIDE, 2 * SIDE), path, opset_version=11, input_names=["box"],
                      output_names=["mark"], dynamic_axes={"box": {0: "n"}, "mark": {0: "n"}},
                      do_constant_folding=True, **kw)
