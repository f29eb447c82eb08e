"""Packs what makestrips wrote so that it travels: 32 grey levels instead of 256, xz.

    python3 packcells.py IN.gz OUT.xz          strips
    python3 packcells.py IN.gz OUT.xz glyphs   glyphs: of letters no more than a training needs
"""
import lzma
import sys

import numpy as np

from synth import HEAD
from traincell import RECORD, load

glyphs = len(sys.argv) > 3
size, head = (HEAD, 5) if glyphs else (RECORD, 21)
rec = load(sys.argv[1]).reshape(-1, size)
if glyphs:
    keep = rec[:, 0] <= ord("9")
    keep |= rec[:, 1] == 2
    for c in range(ord("A"), ord("z") + 1):
        most = 260 if c > ord("b") else 1600
        keep[((rec[:, 0] == c) & (rec[:, 1] == 0)).nonzero()[0][:most]] = True
    rec = rec[keep]
rec = rec.copy()
rec[:, head:] = rec[:, head:] & 0xF8 | rec[:, head:] >> 5
with lzma.open(sys.argv[2], "wb", preset=1) as f:
    f.write(rec.tobytes())
print(len(rec), "records")
