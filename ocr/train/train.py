"""Trains one of the two nets on boxes made by makecells and exports it.

    python3 train.py --net a --data DIR --minutes 6 --out DIR --seed 1

It takes up new shards as makecells finishes them. Wherever a choice is to be made (best of several
trainings, length), it is made on the select-* files: boxes by writers that learn-* holds none of.
Without a GPU it runs too, slowly: --steps 20 --batch 64 proves the code.
"""
import argparse
import glob
import json
import math
import os
import time

import numpy as np
import torch
from torch.nn import functional as F

import nets

CELL, GLYPH = 48 * 40, 28 * 28
RECORD = 2 + CELL + GLYPH
EVERY = 4  # steps between updates of the moving average


def read(path, net):
    """Labels, kinds and pictures (uint8) of one file."""
    raw = np.fromfile(path, np.uint8).reshape(-1, RECORD)
    part = raw[:, 2:2 + CELL] if net == "a" else raw[:, 2 + CELL:]
    size = nets.NETS[net][1]
    return (torch.from_numpy(raw[:, 0].astype(np.int64)), torch.from_numpy(raw[:, 1].copy()),
            torch.from_numpy(np.ascontiguousarray(part)).view(-1, 1, *size))


class Pool:
    """All boxes made so far, on the device."""

    def __init__(self, pattern, net, device, most):
        self.pattern, self.net, self.device = pattern, net, device
        size = nets.NETS[net][1]
        self.y = torch.zeros(most, dtype=torch.int64, device=device)
        self.x = torch.zeros(most, 1, *size, dtype=torch.uint8, device=device)
        self.n, self.seen = 0, set()

    def update(self):
        for path in sorted(glob.glob(self.pattern)):
            if path in self.seen:
                continue
            y, _, x = read(path, self.net)
            if self.n + len(y) > len(self.y):
                return
            self.seen.add(path)
            self.x[self.n:self.n + len(y)] = x.to(self.device)
            self.y[self.n:self.n + len(y)] = y.to(self.device)
            self.n += len(y)

    def batch(self, size):
        i = torch.randint(self.n, (size,), device=self.device)
        return self.x[i].float().div_(255), self.y[i]


def rand(n, device, lo, hi):
    return torch.rand(n, 1, 1, 1, device=device) * (hi - lo) + lo


def augmented(x, net):
    """x moved, turned, bent, made fainter or bolder, with noise and small patches lost."""
    n, _, h, w = x.shape
    dev = x.device
    if net == "a":
        turn, zoom, shear, shift = 0.10, 0.09, 0.12, 0.05
    else:
        turn, zoom, shear, shift = 0.16, 0.13, 0.20, 0.06
    a = (torch.rand(n, device=dev) * 2 - 1) * turn
    sx = 1 + (torch.rand(n, device=dev) * 2 - 1) * zoom
    sy = 1 + (torch.rand(n, device=dev) * 2 - 1) * zoom
    k = (torch.rand(n, device=dev) * 2 - 1) * shear
    t = (torch.rand(n, 2, device=dev) * 2 - 1) * shift * 2
    cos, sin = torch.cos(a), torch.sin(a)
    theta = torch.stack([
        torch.stack([cos * sx, (k - sin) * h / w, t[:, 0]], 1),
        torch.stack([sin * w / h, cos * sy, t[:, 1]], 1)], 1)
    grid = F.affine_grid(theta, x.shape, align_corners=False)
    # A gentle elastic bend: a coarse field, interpolated.
    bend = torch.randn(n, 2, 6, 5, device=dev) * (0.045 * torch.rand(n, 1, 1, 1, device=dev))
    grid = grid + F.interpolate(bend, (h, w), mode="bilinear", align_corners=True).permute(0, 2, 3, 1)
    x = F.grid_sample(x, grid, padding_mode="border" if net == "a" else "zeros", align_corners=False)
    if net == "b":
        # Bolder or thinner strokes.
        u = rand(n, dev, 0, 1)
        bold = F.max_pool2d(x, 3, 1, 1)
        thin = -F.max_pool2d(-x, 3, 1, 1)
        m = rand(n, dev, 0, 0.7)
        x = torch.where(u < 0.15, x + m * (bold - x), torch.where(u > 0.88, x + 0.8 * m * (thin - x), x))
        x = x * rand(n, dev, 0.88, 1.1)
    else:
        # Paper is 32/255: gain acts on the ink.
        paper = 32 / 255
        x = paper + (x - paper) * rand(n, dev, 0.75, 1.25)
    x = x + torch.randn_like(x) * rand(n, dev, 0, 0.05) * (rand(n, dev, 0, 1) < 0.5)
    # A small patch lost, as under a drop or a crease.
    cx, cy = rand(n, dev, 0, w), rand(n, dev, 0, h)
    r = rand(n, dev, 1, 4)
    gx = torch.arange(w, device=dev).view(1, 1, 1, w)
    gy = torch.arange(h, device=dev).view(1, 1, h, 1)
    hole = ((gx - cx).abs() < r) & ((gy - cy).abs() < r) & (rand(n, dev, 0, 1) < 0.15)
    x = torch.where(hole, torch.full_like(x, 32 / 255 if net == "a" else 0.0), x)
    return x.clamp_(0, 1)


@torch.no_grad()
def claims(net, x, device):
    out = []
    for part in x.split(4096):
        out.append(F.softmax(net(part.to(device).float() / 255 * 4 - 0.5), 1).double().cpu())
    return torch.cat(out)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--net", choices=["a", "b"], required=True)
    ap.add_argument("--data", required=True)
    ap.add_argument("--learn", default="learn-*.bin")
    ap.add_argument("--out", required=True)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--minutes", type=float, default=0, help="train until then, counted from the start")
    ap.add_argument("--steps", type=int, default=0, help="or for so many steps")
    ap.add_argument("--batch", type=int, default=2048)
    ap.add_argument("--lr", type=float, default=2e-3)
    ap.add_argument("--most", type=int, default=4_000_000, help="boxes to keep")
    ap.add_argument("--least", type=int, default=1, help="boxes to wait for before the first step")
    ap.add_argument("--start", default="", help="folder with weights to go on from, else random ones")
    ap.add_argument("--name", default="")
    o = ap.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(o.seed)
    torch.backends.cudnn.benchmark = True
    make, size = nets.NETS[o.net]
    net = make()
    if o.start:
        net.load_state_dict(torch.load(os.path.join(o.start, o.net + ".pt"), map_location="cpu"))
    net = net.to(device, memory_format=torch.channels_last)
    slow = make().to(device, memory_format=torch.channels_last)  # the weights' moving average
    slow.load_state_dict(net.state_dict())
    slow.eval()
    slow_floats = [v for v in slow.state_dict().values() if v.dtype.is_floating_point]
    net_floats = [v for v in net.state_dict().values() if v.dtype.is_floating_point]
    name = o.name or o.net
    print(name, sum(p.numel() for p in net.parameters()), "weights on", device, flush=True)
    pool = Pool(os.path.join(o.data, o.learn), o.net, device, o.most)
    begin = time.time()
    # A small pool would be learnt by heart before the next boxes come.
    while pool.n < o.least:
        pool.update()
        time.sleep(0.5)
    decay = [p for p in net.parameters() if p.ndim > 1]
    rest = [p for p in net.parameters() if p.ndim <= 1]
    opt = torch.optim.AdamW([{"params": decay, "weight_decay": 0.05}, {"params": rest, "weight_decay": 0}], lr=o.lr,
                            **({"fused": True} if device == "cuda" else {}))
    probes = {os.path.basename(p)[:-4]: read(p, o.net) for p in sorted(glob.glob(os.path.join(o.data, "select-*.bin")))}

    def share(step):
        done = step / o.steps if o.steps else 0
        if o.minutes:
            done = max(done, (time.time() - begin) / (60 * o.minutes))
        return done

    step, loss_sum, log = 0, 0.0, []
    while share(step) < 1:
        done = share(step)
        lr = o.lr * min(1, (step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * min(1, done))) + 1e-6
        for g in opt.param_groups:
            g["lr"] = lr
        x, y = pool.batch(o.batch)
        x = augmented(x, o.net).contiguous(memory_format=torch.channels_last)
        net.train()
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            out = net(x * 4 - 0.5)
        loss = F.cross_entropy(out.float(), y)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        opt.step()
        step += 1
        if step % EVERY == 0:
            with torch.no_grad():
                keep = min(0.999 ** EVERY, (step + 1) / (step + 10))
                torch._foreach_mul_(slow_floats, keep)
                torch._foreach_add_(slow_floats, net_floats, alpha=1 - keep)
        if step % 50 == 0:
            pool.update()
        if step % 2000 == 0 or share(step) >= 1:
            line = {"step": step, "s": round(time.time() - begin), "boxes": pool.n, "loss": round(loss.item(), 4)}
            for k, (yy, _, xx) in probes.items():
                p = claims(slow, xx, device)
                line[k] = round(1e4 * (p.argmax(1) != yy).double().mean().item(), 1)  # wrong in 10,000
            log.append(line)
            print(name, json.dumps(line), flush=True)
    os.makedirs(o.out, exist_ok=True)
    nets.export(slow, size, os.path.join(o.out, name + ".onnx"))
    torch.save({k: v.cpu() for k, v in slow.state_dict().items()}, os.path.join(o.out, name + ".pt"))
    with open(os.path.join(o.out, name + ".log.json"), "w") as f:
        json.dump(log, f, indent=1)
    answers = {}
    for k, (yy, kind, xx) in probes.items():
        answers[k + ".y"], answers[k + ".kind"] = yy.numpy().astype(np.uint8), kind.numpy()
        answers[k + ".p"] = claims(slow, xx, device).numpy().astype(np.float32)
    np.savez_compressed(os.path.join(o.out, name + ".select.npz"), **answers)


if __name__ == "__main__":
    main()
