"""Stores tick boxes with what the mark net answered in PyTorch: markanswers.py BOXES CLAIMS OUT.

BOXES is a file of `calibrate marks`, CLAIMS what trainmarks.py wrote of it. A record of OUT (gzip) is 1 if the box is
marked, the picture, and a float32, little endian: sixteen of each. Needs nothing but Python.
"""
import gzip
import sys

HEAD, BOX, CLAIM = 5, 32 * 64, 4

boxes, claims, out = sys.argv[1:]
left = [16, 16]
with open(boxes, "rb") as a, open(claims, "rb") as b, gzip.GzipFile(out, "wb", mtime=0) as f:
    while any(left):
        r, c = a.read(HEAD + BOX), b.read(HEAD + CLAIM)
        if len(r) < HEAD + BOX:
            break
        if r[:HEAD] != c[:HEAD]:
            sys.exit("the claims are of other boxes")
        if left[r[0]]:
            left[r[0]] -= 1
            f.write(r[:1] + r[HEAD:] + c[HEAD:])
