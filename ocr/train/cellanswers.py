"""Stores strips with what the cell net answers in PyTorch: cellanswers.py WEIGHTS STRIPS OUT.

A record of OUT (gzip) is what the ink says (16 bytes), the strip, and 44 x 80 float32, little endian. The strips
must be drawn without letters' files (makestrips -data ""): pictures of those stay out of the project.
"""
import gzip
import sys

import numpy as np
import torch

import cellnet
from traincell import RECORD, load

weights, strips, out = sys.argv[1:]
rec = load(strips).reshape(-1, RECORD)[:12]
net = cellnet.loaded(weights).eval()
with torch.no_grad():
    odds = net(torch.from_numpy(rec[:, 21:].copy()).view(-1, 1, 48, 160).float() / 255 * 4 - 0.5).numpy().astype("<f4")
with gzip.GzipFile(out, "wb", mtime=0) as f:
    for r, o in zip(rec, odds):
        f.write(r[:16].tobytes() + r[21:].tobytes() + o.tobytes())
