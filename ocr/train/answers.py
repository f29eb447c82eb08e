"""Stores boxes with what the trained nets answer in PyTorch: answers.py WEIGHTS_DIR BOXES OUT.

A record of OUT (gzip) is label, kind, cell, glyph as makecells writes them, then 12 float32 of net a and 12
of net b, little endian.
"""
import gzip
import sys

import numpy as np
import torch

import nets
from train import CELL, GLYPH, RECORD

weights, boxes, out = sys.argv[1:]
raw = np.fromfile(boxes, np.uint8).reshape(-1, RECORD)[:100]  # combs come as a whole: a few more were made
answers = []
for name, part in (("a", raw[:, 2:2 + CELL]), ("b", raw[:, 2 + CELL:2 + CELL + GLYPH])):
    make, size = nets.NETS[name]
    net = make()
    net.load_state_dict({k: v.float() if v.dtype.is_floating_point else v
                         for k, v in torch.load(f"{weights}/{name}.pt", map_location="cpu").items()})
    net.eval()
    x = torch.from_numpy(np.ascontiguousarray(part)).view(-1, 1, *size).float() / 255
    with torch.no_grad():
        answers.append(torch.softmax(net(x * 4.0 - 0.5), 1).numpy().astype("<f4"))
with gzip.GzipFile(out, "wb", mtime=0) as f:
    for i in range(len(raw)):
        f.write(raw[i].tobytes() + answers[0][i].tobytes() + answers[1][i].tobytes())
