"""Trains the mark net on tick boxes written by `calibrate marks`.

    python3 trainmarks.py --data DIR --out DIR --minutes 1.5 --seed 1

DIR holds learn*.bin and select.bin. Choices are made on select.bin: cards that nothing here was trained on. What the net
claims of every other *.bin there is written to OUT too, for choosing limits. Without a GPU it runs too, slowly: --steps 3
--batch 8 proves the code.
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

import marknet

HEAD = 5
RECORD = HEAD + 32 * 64
DECAY = 0.998
PALE = 1  # what the rules say of a box that the net will be asked about


def load(path, device):
    rec = np.fromfile(path, np.uint8).reshape(-1, RECORD)
    x = torch.from_numpy(rec[:, HEAD:]).to(device).view(-1, 1, 32, 64)
    return x, torch.from_numpy(rec[:, 0].astype(np.int64)).to(device), rec[:, :HEAD].copy()


def again(x):
    """Boxes as if photographed once more: paler or darker, softer, noisier, a place beside, in another shade."""
    x, n, dev = x.float(), len(x), x.device
    r = lambda lo, hi: lo + (hi - lo) * torch.rand(n, 1, 1, 1, device=dev)
    pair = torch.cat([x[:, :, :, :32], x[:, :, :, 32:]], 1)
    soft = F.avg_pool2d(F.pad(pair, (1, 1, 1, 1), mode="replicate"), 3, 1)
    pair = torch.where(r(0, 1) < 0.2, pair + (soft - pair) * r(0.2, 1), pair)
    pair = 38 + (pair - 38) * r(0.75, 1.3)
    box, like = pair[:, :1], pair[:, 1:]
    box = box + torch.randn_like(box) * r(0, 4) + r(-3, 3)
    # A shade across: a plane over the box, now and then an edge.
    lin = torch.linspace(-1, 1, 32, device=dev)
    plane = lin.view(1, 1, 1, 32) * r(-1, 1) + lin.view(1, 1, 32, 1) * r(-1, 1)
    edge = torch.tanh((plane + r(-0.5, 0.5)) * r(1, 5))
    box = box + torch.where(r(0, 1) < 0.5, plane * r(0, 5), edge * r(0, 6)) * (r(0, 1) < 0.4)
    theta = torch.zeros(n, 2, 3, device=dev)
    flip = torch.ones(n, device=dev)
    theta[:, 0, 0], theta[:, 1, 1] = flip + 0.02 * torch.randn(n, device=dev), 1 + 0.02 * torch.randn(n, device=dev)
    theta[:, 0, 1], theta[:, 1, 0] = 0.02 * torch.randn(n, device=dev), 0.02 * torch.randn(n, device=dev)
    theta[:, 0, 2], theta[:, 1, 2] = r(-0.05, 0.05).flatten(), r(-0.05, 0.05).flatten()
    grid = F.affine_grid(theta, (n, 1, 32, 32), align_corners=False)
    # Now and then the box lies a little beside where the others have it, mostly not.
    alone = torch.where(r(0, 1).view(n, 1, 1, 1) < 0.3, r(-0.03, 0.03).view(n, 1, 1, 1), torch.zeros(n, 1, 1, 1, device=dev))
    box = F.grid_sample(box, grid + alone, align_corners=False, padding_mode="border")
    like = F.grid_sample(like, grid, align_corners=False, padding_mode="border")
    return torch.cat([box, like], 3).clamp(0, 255) / 255


@torch.no_grad()
def claims(net, x):
    net.eval()
    return torch.cat([torch.softmax(net(x[i:i + 4096].float() / 255 * 4 - 0.6), 1)[:, 1] for i in range(0, len(x), 4096)])


def judged(p, head):
    """Of boxes that the rules doubt for paleness: settled rightly and wrongly at some limits, by level."""
    p, line = p.cpu().numpy(), {}
    for hard in (0, 1):
        m = (head[:, 2] == hard) & (head[:, 3] == PALE)
        y, q = head[m, 0], p[m]
        name = "hard" if hard else "ordinary"
        line[name] = {"boxes": int(m.sum()), "marked": int(y.sum())}
        for limit in (0.02, 0.005, 0.001):
            yes, no = q >= 1 - limit, q <= limit
            line[name][str(limit)] = [int((yes & (y == 1)).sum()), int((yes & (y == 0)).sum()), int((no & (y == 0)).sum()), int((no & (y == 1)).sum())]
    return line


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--data", required=True)
    ap.add_argument("--out", required=True)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--minutes", type=float, default=0)
    ap.add_argument("--steps", type=int, default=0)
    ap.add_argument("--batch", type=int, default=2048)
    ap.add_argument("--lr", type=float, default=2e-3)
    o = ap.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(o.seed)
    torch.backends.cudnn.benchmark = True
    os.makedirs(o.out, exist_ok=True)
    parts = [load(f, device) for f in sorted(glob.glob(os.path.join(o.data, "learn*.bin")))]
    x, y = torch.cat([p[0] for p in parts]), torch.cat([p[1] for p in parts])
    # Boxes in doubt are what it is for; the plain ones keep it from forgetting what marks are.
    pale = torch.cat([torch.from_numpy(p[2][:, 3] == PALE) for p in parts]).to(device)
    weight = torch.where(pale, 2.0, 1.0)
    weight = weight * torch.where(y == 1, (weight * (y == 0)).sum() / (weight * (y == 1)).sum() * 0.6, torch.ones_like(weight))
    sx, sy, shead = load(os.path.join(o.data, "select.bin"), device)
    net, slow = marknet.MarkNet().to(device), marknet.MarkNet().to(device).eval()
    slow.load_state_dict(net.state_dict())
    pairs = [(a, b) for a, b in zip(slow.state_dict().values(), net.state_dict().values()) if a.dtype.is_floating_point]
    params = list(net.parameters())
    opt = torch.optim.AdamW([{"params": [p for p in params if p.ndim > 1], "weight_decay": 0.05},
                             {"params": [p for p in params if p.ndim <= 1], "weight_decay": 0}], lr=o.lr)
    print(sum(p.numel() for p in params), "weights on", device, "|", len(y), "boxes to learn,", int(y.sum()), "marked,", int(pale.sum()),
          "pale;", len(sy), "to choose by", flush=True)
    begin = looked = time.time()
    step, done, log = 0, 0.0, []
    while done < 1:
        for g in opt.param_groups:
            g["lr"] = o.lr * min(1, (step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * done)) + 1e-6
        i = torch.multinomial(weight, o.batch, replacement=True)
        with torch.no_grad():
            b = again(x[i])
        net.train()
        with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
            odds = net(b * 4 - 0.6)
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
        if time.time() - looked > 20 or done >= 1:
            looked = time.time()
            line = {"step": step, "s": round(time.time() - begin), "loss": round(loss.item(), 4)}
            line.update(judged(claims(slow, sx), shead))
            log.append(line)
            print(json.dumps(line), flush=True)
    torch.save({k: v.cpu() for k, v in slow.state_dict().items()}, os.path.join(o.out, "marks.pt"))
    with open(os.path.join(o.out, "log.json"), "w") as f:
        json.dump(log, f, indent=1)
    marknet.export(slow.cpu(), os.path.join(o.out, "marks.onnx"))
    slow.to(device)
    for f in sorted(glob.glob(os.path.join(o.data, "*.bin"))):
        if os.path.basename(f).startswith("learn"):
            continue
        tx, _, head = load(f, device)
        p = claims(slow, tx).cpu().numpy().astype("<f4").reshape(-1, 1)
        np.concatenate([head, p.view(np.uint8)], 1).tofile(os.path.join(o.out, os.path.basename(f)[:-4] + ".claims"))
    print("done", flush=True)


if __name__ == "__main__":
    main()
