"""Packs what makestrips wrote so that it travels: 32 grey levels instead of 256, xz.

    python3 packcells.py IN.gz OUT.xz [glyphs]
"""
import lzma
import sys

import numpy as np

from traincell import RECORD, load
from synth import HEAD

size, head = (HEAD, 5) if len(sys.argv) > 3 else (RECORD, 21)
rec = load(sys.argv[1]).reshape(-1, size).copy()
rec[:, head:] = rec[:, head:] & 0xF8 | rec[:, head:] >> 5
with lzma.open(sys.argv[2], "wb", preset=2) as f:
    f.write(rec.tobytes())
