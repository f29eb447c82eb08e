"""Trains the cell net on lines drawn on the device (synth.py) and strips of the bench card (makestrips).

    python3 traincell.py --data DIR --out DIR --minutes 9 --seed 1

DIR holds glyphs.*, learn-*.* and select.* as makestrips wrote them, or packed by packcells.py. Choices are made on
select.*: writers and letters that nothing here was trained on. Without a GPU it runs too, slowly:
--steps 3 --batch 8 --ring 64 --texts 500 proves the code.
"""
import argparse
import copy
import glob
import gzip
import json
import lzma
import math
import os
import random
import time

import numpy as np
import torch

import cellnet
import synth

TYPES = ["comb", "bib", "gate", "range", "code-gate", "code"]
RECORD = 21 + 48 * 160
DECAY = 0.999


def load(path):
    with (lzma.open if path.endswith(".xz") else gzip.open)(path) as f:
        return np.frombuffer(f.read(), np.uint8)


class Strips:
    """Strips of the bench card: pictures, what they say, types, how spoilt."""

    def __init__(self, paths, device):
        rec = np.concatenate([load(p).reshape(-1, RECORD) for p in paths])
        self.texts = [bytes(r[:16]).rstrip(b"\0").decode() for r in rec]
        self.type, self.spoil, self.hard = rec[:, 16], rec[:, 17], rec[:, 18]
        self.x = torch.from_numpy(rec[:, 21:].copy()).view(-1, 1, 48, 160).to(device)
        codes = [[cellnet.CODE[c] for c in t] for t in self.texts]
        self.label = torch.tensor([c + [0] * (16 - len(c)) for c in codes], device=device)
        self.len = torch.tensor([len(c) for c in codes], device=device)

    def draw(self, n):
        i = torch.randint(0, len(self.len), (n,), device=self.len.device)
        return again(self.x[i]), self.label[i], self.len[i]


class Ring:
    """The strips drawn last, each to be seen a few times, changed: drawing costs more than learning."""

    def __init__(self, artist, size, device):
        self.artist, self.size, self.at, self.n = artist, size, 0, 0
        self.x = torch.zeros(size, 1, 48, 160, dtype=torch.uint8, device=device)
        self.label = torch.zeros(size, 16, dtype=torch.long, device=device)
        self.len = torch.zeros(size, dtype=torch.long, device=device)

    def add(self, n):
        x, y, k = self.artist.batch(n)
        i = (torch.arange(n, device=y.device) + self.at) % self.size
        self.x[i], self.label[i], self.len[i] = (x * 255).round().byte(), y, k
        self.at, self.n = (self.at + n) % self.size, min(self.n + n, self.size)

    def draw(self, n):
        i = torch.randint(0, self.n, (n,), device=self.len.device)
        return again(self.x[i]), self.label[i], self.len[i]


def again(x):
    """Strips as if photographed once more: paler or darker, a little noise, a place beside."""
    x, n = x.float(), len(x)
    r = lambda lo, hi: lo + (hi - lo) * torch.rand(n, 1, 1, 1, device=x.device)
    x = 32 + (x - 32) * r(0.75, 1.2) + torch.randn_like(x) * r(0, 6) + r(-2, 2)
    theta = torch.zeros(n, 2, 3, device=x.device)
    theta[:, 0, 0], theta[:, 1, 1] = 1 + 0.03 * torch.randn(n, device=x.device), 1 + 0.03 * torch.randn(n, device=x.device)
    theta[:, 0, 1] = 0.02 * torch.randn(n, device=x.device)
    theta[:, 0, 2], theta[:, 1, 2] = r(-0.025, 0.025).flatten(), r(-0.04, 0.04).flatten()
    x = torch.nn.functional.grid_sample(x, torch.nn.functional.affine_grid(theta, x.shape, align_corners=False),
                                        align_corners=False, padding_mode="border")
    return x.clamp(0, 255).floor() / 255


@torch.no_grad()
def judged(net, strips, name):
    """Texts wrong in 10,000 by type, plain ones and all, and the mean surprise."""
    net.eval()
    texts, loss = [], []
    for i in range(0, len(strips.texts), 512):
        odds = net(strips.x[i:i + 512].float() / 255 * 4 - 0.5)
        texts += cellnet.greedy(odds)
        loss.append(cellnet.losses(odds, strips.label[i:i + 512], strips.len[i:i + 512]))
    wrong = np.array([a != b for a, b in zip(texts, strips.texts)])
    plain = strips.spoil == 0
    line = {"set": name, "surprise": round(torch.cat(loss).mean().item(), 4), "all": round(1e4 * wrong.mean())}
    for k, t in enumerate(TYPES):
        for hard in (0, 1):
            m = (strips.type == k) & plain & (strips.hard == hard)
            if m.any():
                line[t + ("/hard" if hard else "")] = round(1e4 * wrong[m].mean())
    line["spoilt"] = round(1e4 * wrong[~plain].mean()) if (~plain).any() else None
    return line


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--data", required=True)
    ap.add_argument("--out", required=True)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--minutes", type=float, default=0)
    ap.add_argument("--steps", type=int, default=0)
    ap.add_argument("--batch", type=int, default=512)
    ap.add_argument("--bench", type=float, default=0.12, help="share of each batch from strips of the bench card")
    ap.add_argument("--fresh", type=float, default=0.4, help="strips newly drawn for each that is learnt from")
    ap.add_argument("--ring", type=int, default=160_000, help="drawn strips to keep")
    ap.add_argument("--lr", type=float, default=2e-3)
    ap.add_argument("--texts", type=int, default=400_000, help="size of the pool of texts")
    ap.add_argument("--start", default="", help="weights to go on from")
    ap.add_argument("--channels", default=",".join(map(str, cellnet.CHANNELS)), help="how wide each step of the net is")
    ap.add_argument("--judge", type=float, default=60, help="seconds between looks at select.*")
    o = ap.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(o.seed)
    random.seed(o.seed)
    torch.backends.cudnn.benchmark = True
    os.makedirs(o.out, exist_ok=True)
    begin = time.time()
    find = lambda p: sorted(glob.glob(os.path.join(o.data, p)))
    glyphs = synth.Glyphs(load(find("glyphs.*")[0]), device)
    artist = synth.Artist(glyphs, synth.Texts(glyphs, o.texts, device), device)
    learn = [p for p in find("learn-*.?z")]
    bench = Strips(learn, device) if learn and o.bench else None
    select = Strips(find("select.*"), device) if find("select.*") else None
    few = int(o.batch * o.bench) if bench else 0
    ring = Ring(artist, o.ring, device)
    for _ in range(o.ring // o.batch // 8):
        ring.add(o.batch)
    net = cellnet.loaded(o.start) if o.start else cellnet.CellNet(tuple(int(c) for c in o.channels.split(",")))
    slow = copy.deepcopy(net).to(device).eval()
    net = net.to(device, memory_format=torch.channels_last)
    pairs = [(a, b) for a, b in zip(slow.state_dict().values(), net.state_dict().values()) if a.dtype.is_floating_point]
    params = list(net.parameters())
    opt = torch.optim.AdamW([{"params": [p for p in params if p.ndim > 1], "weight_decay": 0.03},
                             {"params": [p for p in params if p.ndim <= 1], "weight_decay": 0}], lr=o.lr)
    print(sum(p.numel() for p in params), "weights on", device, "|", len(glyphs.wide), "glyphs,", glyphs.writers, "writers,",
          len(bench.texts) if bench else 0, "bench strips | ready after", round(time.time() - begin, 1), "s", flush=True)
    begin = looked = time.time()
    step, done, log = 0, 0.0, []
    while done < 1:
        for g in opt.param_groups:
            g["lr"] = o.lr * min(1, (step + 1) / 500) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6
        with torch.no_grad():
            ring.add(max(1, int(o.fresh * (o.batch - few))))
            x, y, n = ring.draw(o.batch - few)
            if few:
                x2, y2, n2 = bench.draw(few)
                x, y, n = torch.cat([x, x2]), torch.cat([y, y2]), torch.cat([n, n2])
        net.train()
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            odds = net((x * 4 - 0.5))
        loss = cellnet.losses(odds, y, n).mean()
        opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(params, 5.0)
        opt.step()
        keep = min(DECAY, (step + 1) / (step + 10))
        with torch.no_grad():
            torch._foreach_mul_([a for a, _ in pairs], keep)
            torch._foreach_add_([a for a, _ in pairs], [b for _, b in pairs], alpha=1 - keep)
        step += 1
        done = step / o.steps if o.steps else 0
        if o.minutes:
            done = max(done, (time.time() - begin) / (60 * o.minutes))
        if step % 200 == 0:
            print(step, round(time.time() - begin), "s, loss", round(loss.item(), 4), flush=True)
        if time.time() - looked > o.judge or done >= 1:
            looked = time.time()
            line = {"step": step, "s": round(time.time() - begin), "loss": round(loss.item(), 4)}
            if select:
                line.update(judged(slow, select, "select"))
            log.append(line)
            print(json.dumps(line), flush=True)
            torch.save({k: v.cpu() for k, v in slow.state_dict().items()}, os.path.join(o.out, "cell.pt"))
            with open(os.path.join(o.out, "log.json"), "w") as f:
                json.dump(log, f, indent=1)
    cellnet.export(slow, os.path.join(o.out, "cell.onnx"))
    print("done", flush=True)


if __name__ == "__main__":
    main()
