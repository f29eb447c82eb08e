"""Changes to boxes on the device, anew at each step: a box is never seen twice as it is."""
import math

import torch
from torch.nn import functional as F

PAPER = 32 / 255  # of net a's view; net b's is black where no ink is


def rand(n, device, lo, hi):
    return torch.rand(n, 1, 1, 1, device=device) * (hi - lo) + lo


def augmented(x, net, wild):
    """x moved, turned, bent, made fainter or bolder, blurred, with noise and small patches lost.

    wild is for digits that no camera has changed and no pen redrawn: they are bent and faded further.
    """
    x = moved(x, net, wild)
    x = inked(x, net, wild)
    return marred(x, net).clamp(0, 1)


def moved(x, net, wild):
    n, _, h, w = x.shape
    dev = x.device
    if net == "a":
        turn, zoom, shear, shift, bend = (0.19, 0.16, 0.22, 0.10, 0.085) if wild else (0.12, 0.11, 0.14, 0.06, 0.055)
    else:
        turn, zoom, shear, shift, bend = (0.22, 0.17, 0.26, 0.07, 0.10) if wild else (0.18, 0.14, 0.22, 0.06, 0.065)
    a = (torch.rand(n, device=dev) * 2 - 1) * turn
    sx = 1 + (torch.rand(n, device=dev) * 2 - 1) * zoom
    sy = 1 + (torch.rand(n, device=dev) * 2 - 1) * zoom
    k = (torch.rand(n, device=dev) * 2 - 1) * shear
    t = (torch.rand(n, 2, device=dev) * 2 - 1) * shift * 2
    cos, sin = torch.cos(a), torch.sin(a)
    theta = torch.stack([
        torch.stack([cos * sx, (k - sin) * h / w, t[:, 0]], 1),
        torch.stack([sin * w / h, cos * sy, t[:, 1]], 1)], 1)
    grid = F.affine_grid(theta, list(x.shape), align_corners=False)
    # An elastic bend: a coarse field, interpolated.
    field = torch.randn(n, 2, 6, 5, device=dev) * (bend * torch.rand(n, 1, 1, 1, device=dev))
    grid = grid + F.interpolate(field, (h, w), mode="bilinear", align_corners=True).permute(0, 2, 3, 1)
    return F.grid_sample(x, grid, padding_mode="border" if net == "a" else "zeros", align_corners=False)


def inked(x, net, wild):
    """Bolder or thinner strokes, softer ones, fainter ink."""
    n, dev = x.shape[0], x.device
    often = 0.22 if wild else 0.12
    u, m = rand(n, dev, 0, 1), rand(n, dev, 0, 0.7)
    bold = F.max_pool2d(x, 3, 1, 1)
    thin = -F.max_pool2d(-x, 3, 1, 1)
    x = torch.where(u < often, x + m * (bold - x), torch.where(u > 1 - often, x + 0.8 * m * (thin - x), x))
    soft = F.avg_pool2d(F.pad(x, (1, 1, 1, 1), mode="replicate"), 3, 1)
    x = x + (soft - x) * rand(n, dev, 0, 1) * (rand(n, dev, 0, 1) < 0.35)
    if net == "b":
        return x * rand(n, dev, 0.75 if wild else 0.85, 1.12)
    if wild:
        # A third of them as faint as pencil on a bad photo.
        gain = torch.exp(rand(n, dev, math.log(0.25), 0.15))
        gain = torch.where(rand(n, dev, 0, 1) < 0.33, gain, rand(n, dev, 0.8, 1.2))
    else:
        gain = rand(n, dev, 0.7, 1.28)
    return PAPER + (x - PAPER) * gain


def marred(x, net):
    """Noise, uneven light and a small patch lost, as under a drop or a crease."""
    n, _, h, w = x.shape
    dev = x.device
    x = x + torch.randn_like(x) * rand(n, dev, 0, 0.06) * (rand(n, dev, 0, 1) < 0.5)
    if net == "a":
        uneven = torch.randn(n, 1, 3, 3, device=dev) * rand(n, dev, 0, 0.04) * (rand(n, dev, 0, 1) < 0.3)
        x = x + F.interpolate(uneven, (h, w), mode="bilinear", align_corners=True)
    cx, cy = rand(n, dev, 0, w), rand(n, dev, 0, h)
    r = rand(n, dev, 1, 4)
    gx = torch.arange(w, device=dev).view(1, 1, 1, w)
    gy = torch.arange(h, device=dev).view(1, 1, h, 1)
    hole = ((gx - cx).abs() < r) & ((gy - cy).abs() < r) & (rand(n, dev, 0, 1) < 0.15)
    return torch.where(hole, torch.full_like(x, PAPER if net == "a" else 0.0), x)
