"""Trains both nets on boxes made by makecells, each on its own draws, and exports them.

    python3 train.py --data DIR --minutes 14 --out DIR --seed 1

It takes up new shards as makecells finishes them. Wherever a choice is to be made (which of the averages
of the weights, mix, length), it is made on the select-* files: boxes by writers that learn-* holds none of.
Without a GPU it runs too, slowly: --steps 20 --batch 64 proves the code.
"""
import argparse
import glob
import json
import math
import os
import re
import time

import numpy as np
import torch
from torch.nn import functional as F

import nets
from augment import augmented

CELL, GLYPH = 48 * 40, 28 * 28
RECORD = 2 + CELL + GLYPH
EVERY = 4  # steps between updates of the moving averages
# Decay a step of the averages that are kept: about the last 1,000 steps, and the last 8,000.
DECAY = {"short": 0.999, "long": 0.999875}


def read(path, net):
    """Labels, kinds and pictures (uint8) of one file."""
    raw = np.fromfile(path, np.uint8).reshape(-1, RECORD)
    part = raw[:, 2:2 + CELL] if net == "a" else raw[:, 2 + CELL:]
    size = nets.NETS[net][1]
    return (torch.from_numpy(raw[:, 0].astype(np.int64)), torch.from_numpy(raw[:, 1].copy()),
            torch.from_numpy(np.ascontiguousarray(part)).view(-1, 1, *size))


class Pool:
    """All boxes made so far, on the device, as both nets see them."""

    def __init__(self, pattern, device, most):
        self.pattern, self.device, self.most = pattern, device, most
        self.y = torch.zeros(most, dtype=torch.int64, device=device)
        self.x = {k: torch.zeros(most, 1, *size, dtype=torch.uint8, device=device) for k, (_, size) in nets.NETS.items()}
        self.n, self.seen = 0, set()
        self.count = torch.zeros((), device=device)  # n where a captured step can read it

    def update(self, files=1000):
        for path in sorted(glob.glob(self.pattern)):
            if path in self.seen:
                continue
            boxes = {k: read(path, k) for k in nets.NETS}
            y = boxes["a"][0]
            if self.n + len(y) > self.most or files == 0:
                return
            files -= 1
            self.seen.add(path)
            for k, x in self.x.items():
                x[self.n:self.n + len(y)] = boxes[k][2].to(self.device)
            self.y[self.n:self.n + len(y)] = y.to(self.device)
            self.n += len(y)
            self.count.fill_(self.n)

    def draw(self, net, size):
        i = (torch.rand(size, device=self.device, dtype=torch.float64) * self.count).long()
        return self.x[net][i].float().div(255), self.y[i]


class Course:
    """The training of one net."""

    def __init__(self, name, o, mix, plain, device):
        self.name, self.mix, self.plain, self.device, self.o = name, mix, plain, device, o
        make, self.size = nets.NETS[name]

        def on_device():
            return make().to(device, memory_format=torch.channels_last)

        self.net = on_device()
        if o.start:
            self.net.load_state_dict(torch.load(os.path.join(o.start, name + ".pt"), map_location="cpu"))
        self.averages = {k: on_device().eval() for k in DECAY}
        for m in self.averages.values():
            m.load_state_dict(self.net.state_dict())
        self.floats = {k: [v for v in m.state_dict().values() if v.dtype.is_floating_point]
                       for k, m in list(self.averages.items()) + [("net", self.net)]}
        self.cuda = device == "cuda"
        decay = [p for p in self.net.parameters() if p.ndim > 1]
        rest = [p for p in self.net.parameters() if p.ndim <= 1]
        lr = torch.tensor(o.lr, device=device) if self.cuda else o.lr
        self.opt = torch.optim.AdamW([{"params": decay, "weight_decay": 0.05}, {"params": rest, "weight_decay": 0}], lr=lr,
                                     **({"fused": True, "capturable": True} if self.cuda else {}))
        self.loss = torch.zeros((), device=device)
        self.graph = None
        self.net.train()

    def once(self):
        """One step, in operations that a CUDA graph can hold."""
        few = int(self.o.batch * self.o.originals)
        x, y = self.mix.draw(self.name, self.o.batch - few)
        x = augmented(x, self.name, wild=False)
        if few:
            x2, y2 = self.plain.draw(self.name, few)
            x, y = torch.cat([x, augmented(x2, self.name, wild=True)]), torch.cat([y, y2])
        x = x.contiguous(memory_format=torch.channels_last)
        with torch.autocast(self.device, torch.bfloat16, enabled=self.cuda, cache_enabled=False):
            out = self.net(x * 4 - 0.5)
        loss = F.cross_entropy(out.float(), y)
        loss.backward()
        self.opt.step()
        self.loss.copy_(loss.detach())

    def capture(self):
        """Records a step, so that the processor has little to do at each: it is busy making boxes."""
        side = torch.cuda.Stream()
        side.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(side):
            for _ in range(12):
                self.opt.zero_grad(set_to_none=True)
                self.once()
        torch.cuda.current_stream().wait_stream(side)
        self.opt.zero_grad(set_to_none=True)
        graph = torch.cuda.CUDAGraph()
        with torch.cuda.graph(graph):
            self.once()
        self.graph = graph

    def step(self, n, lr):
        for g in self.opt.param_groups:
            if self.cuda:
                g["lr"].fill_(lr)
            else:
                g["lr"] = lr
        if self.graph:
            self.graph.replay()
        else:
            self.opt.zero_grad(set_to_none=True)
            self.once()
        if n % EVERY == 0:
            with torch.no_grad():
                for k, decay in DECAY.items():
                    keep = min(decay ** EVERY, (n / EVERY + 1) / (n / EVERY + 10))
                    torch._foreach_mul_(self.floats[k], keep)
                    torch._foreach_add_(self.floats[k], self.floats["net"], alpha=1 - keep)


@torch.no_grad()
def claims(net, x, device):
    out = []
    for part in x.split(8192):
        out.append(F.softmax(net(part.to(device).float() / 255 * 4 - 0.5), 1).double().cpu())
    return torch.cat(out)


def probes_in(folder):
    """The select-* files, those of the mix together, as {name: {net: (labels, kinds, pictures)}}."""
    groups = {}
    for path in sorted(glob.glob(os.path.join(folder, "select-*.bin"))):
        name = re.sub(r"^select-\d+$", "mix", os.path.basename(path)[:-4]).replace("select-", "")
        groups.setdefault(name, []).append(path)
    return {name: {k: tuple(torch.cat(t) for t in zip(*(read(p, k) for p in paths))) for k in nets.NETS}
            for name, paths in groups.items()}


def judged(models, probes, device):
    """Digits wrong in 10,000 by each net and by the mean of both, and the mean's surprise in nats."""
    line = {}
    for name, views in probes.items():
        y = views["a"][0]
        p = {k: claims(models[k], views[k][2], device) for k in models}
        p["mean"] = sum(p.values()) / len(p)
        digit = y < 10
        row = [round(1e4 * (q.argmax(1) != y)[digit].double().mean().item(), 1) for q in p.values()]
        if (~digit).any():
            row.append(round(1e4 * (p["mean"].argmax(1) != y)[~digit].double().mean().item(), 1))
        row.append(round(-p["mean"][torch.arange(len(y)), y].clamp(min=1e-9).log().mean().item(), 4))
        line[name] = row
    return line


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--data", required=True)
    ap.add_argument("--learn", default="learn-[0-9]*.bin", help="the mix")
    ap.add_argument("--plain", default="learn-original.bin", help="digits as MNIST has them")
    ap.add_argument("--originals", type=float, default=0.25, help="share of each batch from --plain")
    ap.add_argument("--out", required=True)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--minutes", type=float, default=0, help="train until then, counted from the first step")
    ap.add_argument("--steps", type=int, default=0, help="or for so many steps")
    ap.add_argument("--batch", type=int, default=2048)
    ap.add_argument("--lr", type=float, default=2e-3)
    ap.add_argument("--most", type=int, default=3_000_000, help="boxes to keep")
    ap.add_argument("--least", type=int, default=1, help="boxes to wait for before the first step")
    ap.add_argument("--start", default="", help="folder with weights to go on from, else random ones")
    ap.add_argument("--mid", type=float, default=0.64, help="share of the training at which the long average is kept as mid")
    ap.add_argument("--judge", type=float, default=45, help="seconds between looks at the select-* files")
    o = ap.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(o.seed)
    torch.backends.cudnn.benchmark = True
    os.makedirs(o.out, exist_ok=True)
    mix = Pool(os.path.join(o.data, o.learn), device, o.most)
    plain = Pool(os.path.join(o.data, o.plain), device, 60_000)
    plain.update()
    # A small pool would be learnt by heart before the next boxes come.
    while mix.n < o.least or (o.originals and not plain.n):
        mix.update()
        plain.update()
        time.sleep(0.5)
    courses = {k: Course(k, o, mix, plain, device) for k in nets.NETS}
    print({k: sum(p.numel() for p in c.net.parameters()) for k, c in courses.items()}, "weights on", device, flush=True)
    begin = time.time()
    if device == "cuda":
        for c in courses.values():
            try:
                c.capture()
            except RuntimeError as err:  # slower, not wrong
                print(c.name, "not captured:", err, flush=True)
    print("captured in", round(time.time() - begin, 1), "s", flush=True)

    def share():
        done = step / o.steps if o.steps else 0
        if o.minutes:
            done = max(done, (time.time() - begin) / (60 * o.minutes))
        return done

    def save(kind, line, name=""):
        folder = os.path.join(o.out, name or kind)
        os.makedirs(folder, exist_ok=True)
        for k, c in courses.items():
            torch.save({n: v.cpu() for n, v in c.averages[kind].state_dict().items()}, os.path.join(folder, k + ".pt"))
        with open(os.path.join(folder, "line.json"), "w") as f:
            json.dump(line, f)

    step, log, looked, done, halfway = 0, [], time.time(), 0, False
    while done < 1:
        lr = o.lr * min(1, (step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6
        for c in courses.values():
            c.step(step, lr)
        step += 1
        if step % 8 == 0:
            if device == "cuda":
                torch.cuda.synchronize()  # else steps are asked for far ahead of the clock
            done = share()
        elif o.steps:
            done = share()
        if step % 100 == 0:
            mix.update(files=4)
        if time.time() - looked > o.judge or done >= 1:
            looked = time.time()
            probes = probes_in(o.data)  # they may be made beside the training
            for kind in DECAY:
                line = {"kind": kind, "step": step, "s": round(time.time() - begin), "boxes": mix.n, "lr": round(lr, 6),
                        "loss": [round(c.loss.item(), 4) for c in courses.values()]}
                line.update(judged({k: c.averages[kind] for k, c in courses.items()}, probes, device))
                log.append(line)
                print(json.dumps(line), flush=True)
                save(kind, line)
            if done >= o.mid and not halfway:
                halfway = True
                save("long", line, "mid")
            looked = time.time()
            with open(os.path.join(o.out, "log.json"), "w") as f:
                json.dump(log, f, indent=1)
    for kind in DECAY:
        for k, c in courses.items():
            nets.export(c.averages[kind], c.size, os.path.join(o.out, kind, k + ".onnx"))
    print("done", flush=True)


if __name__ == "__main__":
    main()
