"""Trains the trouble net on combs drawn by maketrouble.

    python3 traintrouble.py --data DIR --out DIR --minutes 3 --seed 1

DIR holds learn*.bin and select.bin. Choices are made on select.bin: writers that nothing here was trained on. What the
net claims of every other *.bin there is written to OUT too, for choosing thresholds. Without a GPU it runs too, slowly:
--steps 3 --batch 8 proves the code.
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

import troublenet

HEAD = 6  # kind, way, place, level, writer
RECORD = HEAD + 72 * 160
DECAY = 0.998


def load(path, device):
    rec = np.fromfile(path, np.uint8).reshape(-1, RECORD)
    x = torch.from_numpy(rec[:, HEAD:]).to(device).view(-1, 1, 72, 160)
    return x, torch.from_numpy(rec[:, 0].astype(np.int64)).to(device), rec[:, :HEAD].copy()


def again(x):
    """Combs as if photographed once more: paler or darker, softer, noisier, a place beside, part of it in shade."""
    x, n, dev = x.float(), len(x), x.device
    r = lambda lo, hi: lo + (hi - lo) * torch.rand(n, 1, 1, 1, device=dev)
    soft = F.avg_pool2d(F.pad(x, (1, 1, 1, 1), mode="replicate"), 3, 1)
    x = torch.where(r(0, 1) < 0.25, x + (soft - x) * r(0.2, 1), x)
    x = 32 + (x - 32) * r(0.7, 1.25) + torch.randn_like(x) * r(0, 7) + r(-3, 3)
    theta = torch.zeros(n, 2, 3, device=dev)
    theta[:, 0, 0], theta[:, 1, 1] = 1 + 0.025 * torch.randn(n, device=dev), 1 + 0.025 * torch.randn(n, device=dev)
    theta[:, 0, 1], theta[:, 1, 0] = 0.01 * torch.randn(n, device=dev), 0.01 * torch.randn(n, device=dev)
    theta[:, 0, 2], theta[:, 1, 2] = r(-0.02, 0.02).flatten(), r(-0.03, 0.03).flatten()
    x = F.grid_sample(x, F.affine_grid(theta, x.shape, align_corners=False), align_corners=False, padding_mode="border")
    return x.clamp(0, 255) / 255


@torch.no_grad()
def claims(net, x):
    net.eval()
    return torch.cat([torch.softmax(net(x[i:i + 1024].float() / 255 * 4 - 0.5), 1) for i in range(0, len(x), 1024)])


def judged(p, y, head):
    """Trouble found, in 1,000 of each kind, when 1 in 1,000, 1 in 200 and 1 in 100 plain combs are called trouble."""
    plain = p[:, 0].cpu().numpy()
    y = y.cpu().numpy()
    line = {}
    for hard in (0, 1):
        m = head[:, 3] == hard
        if not (m & (y == 0)).any():
            continue  # a handful of combs, to try the code
        line["right" + ("/hard" if hard else "")] = round(1000 * float((p.argmax(1).cpu().numpy() == y)[m].mean()))
        ok = np.sort(plain[m & (y == 0)])
        for share in (0.001, 0.005, 0.01):
            limit = ok[int(share * len(ok))]
            found = {k: round(1000 * float((plain[m & (y == i)] < limit).mean())) for i, k in enumerate(troublenet.KINDS) if 0 < i < 9 and (m & (y == i)).any()}
            line[f"{share}" + ("/hard" if hard else "")] = found
    return line


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--data", required=True)
    ap.add_argument("--out", required=True)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--minutes", type=float, default=0)
    ap.add_argument("--steps", type=int, default=0)
    ap.add_argument("--batch", type=int, default=1024)
    ap.add_argument("--lr", type=float, default=2e-3)
    ap.add_argument("--wide", default="12,24,32,56,80", help="channels")
    o = ap.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(o.seed)
    torch.backends.cudnn.benchmark = True
    os.makedirs(o.out, exist_ok=True)
    parts = [load(f, device) for f in sorted(glob.glob(os.path.join(o.data, "learn*.bin")))]
    x, y = torch.cat([p[0] for p in parts]), torch.cat([p[1] for p in parts])
    sx, sy, shead = load(os.path.join(o.data, "select.bin"), device)
    c = tuple(int(v) for v in o.wide.split(","))
    net, slow = troublenet.TroubleNet(c).to(device), troublenet.TroubleNet(c).to(device).eval()
    slow.load_state_dict(net.state_dict())
    pairs = [(a, b) for a, b in zip(slow.state_dict().values(), net.state_dict().values()) if a.dtype.is_floating_point]
    params = list(net.parameters())
    opt = torch.optim.AdamW([{"params": [p for p in params if p.ndim > 1], "weight_decay": 0.05},
                             {"params": [p for p in params if p.ndim <= 1], "weight_decay": 0}], lr=o.lr)
    print(sum(p.numel() for p in params), "weights on", device, "|", len(y), "combs to learn,", len(sy), "to choose by", flush=True)
    begin = looked = time.time()
    step, done, log = 0, 0.0, []
    while done < 1:
        for g in opt.param_groups:
            g["lr"] = o.lr * min(1, (step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6
        i = torch.randint(0, len(y), (o.batch,), device=device)
        with torch.no_grad():
            b = again(x[i])
        net.train()
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            odds = net(b * 4 - 0.5)
        loss = F.cross_entropy(odds.float(), y[i])
        opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(params, 5.0)
        opt.step()
        keep = min(DECAY, (step + 1) / (step + 10))
        with torch.no_grad():
            torch._foreach_mul_([a for a, _ in pairs], keep)
            torch._foreach_add_([a for a, _ in pairs], [v for _, v in pairs], alpha=1 - keep)
        step += 1
        done = step / o.steps if o.steps else 0
        if o.minutes:
            done = max(done, (time.time() - begin) / (60 * o.minutes))
        if time.time() - looked > 40 or done >= 1:
            looked = time.time()
            line = {"step": step, "s": round(time.time() - begin), "loss": round(loss.item(), 4)}
            line.update(judged(claims(slow, sx), sy, shead))
            log.append(line)
            print(json.dumps(line), flush=True)
    torch.save({k: v.cpu() for k, v in slow.state_dict().items()}, os.path.join(o.out, "trouble.pt"))
    with open(os.path.join(o.out, "log.json"), "w") as f:
        json.dump(log, f, indent=1)
    troublenet.export(slow.cpu(), os.path.join(o.out, "trouble.onnx"))
    slow.to(device)
    for f in sorted(glob.glob(os.path.join(o.data, "*.bin"))):
        if os.path.basename(f).startswith("learn"):
            continue
        tx, _, head = load(f, device)
        p = claims(slow, tx).cpu().numpy().astype("<f4")
        np.concatenate([head, p.view(np.uint8)], 1).tofile(os.path.join(o.out, os.path.basename(f)[:-4] + ".claims"))
    print("done", flush=True)


if __name__ == "__main__":
    main()
