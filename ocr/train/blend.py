"""Averages the weights of two trainings or of two moments of one: blend.py FIRST SECOND SHARE OUT.

The second went on from the first; SHARE is its part. Nets on one path of training lie in one basin; between its ends they are less
sure of what they learnt by heart (Wortsman et al. 2022, Model soups). Batch norm's statistics are
averaged with the rest.
"""
import os
import sys

import torch

import nets

first, second, share, out = sys.argv[1:]
share = float(share)
os.makedirs(out, exist_ok=True)
for name, (make, size) in nets.NETS.items():
    a, b = (torch.load(f"{d}/{name}.pt", map_location="cpu") for d in (first, second))
    mixed = {k: a[k].lerp(b[k], share) if b[k].dtype.is_floating_point else b[k] for k in b}
    net = make()
    net.load_state_dict(mixed)
    torch.save(mixed, f"{out}/{name}.pt")
    nets.export(net, size, f"{out}/{name}.onnx")
