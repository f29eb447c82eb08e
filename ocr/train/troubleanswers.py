"""Stores combs with what the trouble net answered in PyTorch: troubleanswers.py COMBS CLAIMS OUT.

COMBS is a file of maketrouble, CLAIMS what traintrouble.py wrote of it. A record of OUT (gzip) is kind, the comb, and 10
float32, little endian: three combs of each kind. Needs nothing but Python.
"""
import gzip
import sys

HEAD, COMB, CLAIMS = 6, 72 * 160, 40

combs, claims, out = sys.argv[1:]
left = {k: 3 for k in range(10)}
with open(combs, "rb") as a, open(claims, "rb") as b, gzip.GzipFile(out, "wb", mtime=0) as f:
    while any(left.values()):
        r, c = a.read(HEAD + COMB), b.read(HEAD + CLAIMS)
        if len(r) < HEAD + COMB:
            break
        if r[:HEAD] != c[:HEAD]:
            sys.exit("the claims are of other combs")
        if left[r[0]]:
            left[r[0]] -= 1
            f.write(r[:1] + r[HEAD:] + c[HEAD:])
