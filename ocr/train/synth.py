"""Draws lines of handwriting in ruled cells on the device, a batch at a time: as many as a training takes.

Glyphs come as maps of the distance to their centre lines (ocr/train/strips/map.go), so that each is drawn with a
pen of its own. Paper, print, light, blur and noise imitate what ocr/train/strips photographs with scan/camera,
more widely; what that camera does beyond (folds, JPEG, glare) is learnt from its own strips in the mix.
"""
import random

import torch
from torch.nn import functional as F

from cellnet import CODE

MAP_W, MAP_H, UNIT, PAD = 60, 44, 32, 6
PX = 8                     # px/mm while drawing
W_MM, H_MM = 40.0, 12.0
W, H = int(W_MM * PX), int(H_MM * PX)
SLOTS = 11
SMALL = "cdefghkmnprtuvwxy"
HEAD = 5 + MAP_W * MAP_H   # bytes of a glyph's record


class Glyphs:
    """All maps on the device, findable by writer and digit or by sign."""

    def __init__(self, raw, device):
        rec = raw.reshape(-1, HEAD)
        self.maps = torch.from_numpy(255 - rec[:, 5:]).view(-1, 1, MAP_H, MAP_W).to(device)
        self.wide = torch.from_numpy(rec[:, 4].copy()).float().to(device) / UNIT
        label, kind = rec[:, 0], rec[:, 1]
        writer = rec[:, 2].astype("int64") + 256 * rec[:, 3].astype("int64")
        self.device = device
        # Signs: digits, then those of the net, then small letters.
        self.signs = "0123456789" + "-/,?abABCDEFGHIJKLMNOPQRSTUVWXYZ" + "".join(c for c in SMALL if c not in "ab")
        lists = []
        for c in self.signs[10:]:
            own = (label == ord(c)).nonzero()[0]
            filed, ours = own[kind[own] == 0], own[kind[own] == 2]
            # Four in five from the file, where it has the letter.
            if len(filed) and len(ours):
                reps = max(1, round(len(filed) / 4 / len(ours)))
                own = list(filed) + list(ours) * reps
            lists.append(torch.tensor([int(i) for i in own] or [0]))
        self.other, self.other_n = self.table(lists)
        self.filed = torch.from_numpy((kind == 0) & (label >= ord("a"))).to(device)
        writers = sorted(set(int(w) for w in writer[label <= ord("9")] if w != 0xFFFF))
        self.writers = len(writers)
        plain, europe = [], []
        for w in writers:
            mine = writer == w
            for d in range(10):
                a = (mine & (label == ord("0") + d) & (kind == 0)).nonzero()[0]
                b = (mine & (label == ord("0") + d) & (kind == 1)).nonzero()[0]
                if not len(a):
                    a = ((label == ord("0") + d) & (kind == 0)).nonzero()[0]
                if not len(b):
                    b = a
                plain.append(torch.tensor(a[:64]))
                europe.append(torch.tensor(b[:64]))
        self.plain, self.plain_n = self.table(plain)
        self.europe, self.europe_n = self.table(europe)

    def table(self, lists):
        n = torch.tensor([len(v) for v in lists])
        t = torch.zeros(len(lists), int(n.max()), dtype=torch.long)
        for i, v in enumerate(lists):
            t[i, :len(v)] = v
        return t.to(self.device), n.to(self.device)

    def pick(self, sign, writer):
        """A glyph for each sign (n x slots, -1 for none) in the hand of each line's writer."""
        def of(t, n, row):
            k = (torch.rand(row.shape, device=self.device) * n[row]).long()
            return t[row, k]

        digit = sign.clamp(0, 9) + 10 * writer[:, None]
        europe = (torch.rand(writer.shape, device=self.device) < 0.3)[:, None]
        number = torch.where(europe, of(self.europe, self.europe_n, digit), of(self.plain, self.plain_n, digit))
        return torch.where(sign < 10, number, of(self.other, self.other_n, (sign - 10).clamp(min=0)))


def letter():
    weights = {**{c: 3 for c in "FKWPHCU"}, **{c: 0.15 for c in "IO"}, **{c: 0.5 for c in "BDGLQSZ"}}
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return random.choices(letters, [weights.get(c, 1) for c in letters])[0]


def suffix():
    return random.choices(["", "a", "b"], [0.9, 0.06, 0.04])[0]


def gate():
    return str(random.randint(1, 99) if random.random() < 0.93 else random.randint(100, 140)) + suffix()


def number():
    u = random.random()
    n = random.randint(1, 9) if u < 0.3 else random.randint(10, 99) if u < 0.65 else \
        random.randint(100, 999) if u < 0.95 else random.randint(1000, 9999)
    return ("0" if n < 100 and random.random() < 0.05 else "") + str(n)


class Texts:
    """A pool of things to write, as tensors."""

    def __init__(self, glyphs, n, device):
        code = {c: i for i, c in enumerate(glyphs.signs)}
        rows, gaps, labels, lens, boxes, struck, over = [], [], [], [], [], [], []
        for _ in range(n):
            kind = random.choices(["bib", "comb", "gate", "range", "code-gate", "code", "any"], [20, 22, 12, 14, 16, 9, 7])[0]
            box = 0
            if kind in ("bib", "comb"):
                text = number()
                if kind == "comb":
                    box = random.randint(max(1, len(text)), 4)
            elif kind == "gate":
                text = gate()
            elif kind == "range":
                a = random.randint(1, 99)
                sep = random.choices("-/,", [78, 12, 10])[0]
                text = str(a) + suffix() + sep + str(a + random.randint(1, 5)) + suffix()
                if sep == "," and random.random() < 0.3:
                    text += sep + str(a + random.randint(6, 9))
            elif kind == "code-gate":
                text = letter() + (letter() if random.random() < 0.06 else "") + gate()
            elif kind == "code":
                text = letter() + (letter() if random.random() < 0.2 else "")
            else:  # signs in any order, so that the net reads ink and not habits
                text = "".join(random.choice("0123456789") if random.random() < 0.7 else random.choice("-/?ab" + "ACEFHJKLMNPRTUVWXY")
                               for _ in range(random.randint(1, 5)))
            draw, says, s, o = text, text, (0, 0), -1
            u = random.random()
            if u < 0.05:
                draw, says = "", ""
            elif u < 0.08:
                draw, says, box = "-", "-", 0
            elif u < 0.095:
                draw, says, s, box = "", "#", (-1, -1), 0
            elif u < 0.12:
                draw, says, box = "".join(random.choice(SMALL) for _ in range(random.randint(2, 5))), "#", 0
            elif u < 0.15:
                says, s = "#", (0, len(text))
            elif u < 0.17 and 2 * len(text) <= SLOTS - 1:
                draw, says, s, box = text + text, "#" + text, (0, len(text)), 0
            elif u < 0.20:
                draw, says = text + "?", text + "?"
                box = 0 if box <= len(text) else box
            elif u < 0.235 and text:
                o = random.randrange(len(text))
                says = text[:o] + "#" + text[o + 1:]
            draw = draw[:SLOTS - 1]
            row = [code[c] for c in draw] + [-1] * (SLOTS - len(draw))
            gap = [0.0] * SLOTS
            for i in range(len(draw) - 1):
                if draw[i].isupper() and draw[i + 1].isdigit():
                    gap[i] = random.random() * random.random() * 0.9
                if s[1] > s[0] and i + 1 == s[1] and len(draw) > s[1]:
                    gap[i] = random.uniform(0.2, 0.5)
            rows.append(row), gaps.append(gap), boxes.append(box), struck.append(s), over.append(o)
            lens.append(len(says))
            labels.append([CODE[c] for c in says] + [0] * (16 - len(says)))
        t = lambda v, d=torch.long: torch.tensor(v, dtype=d, device=device)
        self.sign, self.gap, self.label, self.len = t(rows), t(gaps, torch.float), t(labels), t(lens)
        self.boxes, self.struck, self.over = t(boxes), t(struck), t(over)

    def draw(self, n):
        i = torch.randint(0, len(self.len), (n,), device=self.len.device)
        return {k: v[i] for k, v in vars(self).items()}


class Artist:
    """Draws batches of strips with what they say."""

    def __init__(self, glyphs, texts, device):
        self.g, self.t, self.device = glyphs, texts, device
        self.half = torch.float16 if device == "cuda" else torch.float32
        ys = (torch.arange(H, device=device) + 0.5) / PX - H_MM / 2
        xs = (torch.arange(W, device=device) + 0.5) / PX - W_MM / 2
        self.y, self.x = ys[None, :, None], xs[None, None, :]

    def u(self, lo, hi, *shape):
        return lo + (hi - lo) * torch.rand(*shape, device=self.device)

    def n(self, *shape):
        return torch.randn(*shape, device=self.device)

    def waves(self, n, h, w, size=None):
        """Smooth noise of about unit size, h x w knots over the picture."""
        return F.interpolate(self.n(n, 1, h, w), size=size or (H, W), mode="bicubic", align_corners=False)[:, 0]

    def strokes(self, x, y, glyph, on, cx, base, kh, shear, turn, pen):
        """The distance beyond the pen's edge, mm, of the nearest stroke; slots are n x s."""
        far = torch.full(x.shape, 2.0, device=self.device)
        wide = self.g.wide[glyph]
        for s in range(glyph.shape[1]):
            if not bool(on[:, s].any()):
                continue
            v = lambda t: t[:, s, None, None]
            dx, dy = x - v(cx), y - v(base)
            dy2 = dy - v(turn) * dx
            dx = dx + v(shear) * (dy + 0.5 * v(kh)) + v(turn) * dy
            mx = (dx / v(kh) + v(wide) / 2) * UNIT + PAD
            my = (1 + dy2 / v(kh)) * UNIT + PAD
            grid = torch.stack([2 * mx / MAP_W - 1, 2 * my / MAP_H - 1], -1).clamp(-3, 3).to(self.half)
            near = F.grid_sample(self.g.maps[glyph[:, s]].to(self.half) / 255, grid, align_corners=False)[:, 0].float()
            d = (1 - near) * (6.0 / UNIT) * v(kh) - pen[:, None, None]
            d = torch.where((near > 0.01) & v(on), d, torch.full_like(d, 2.0))
            far = torch.minimum(far, d)
        return far

    def segments(self, x, y, ends, pen):
        """As strokes, for straight lines: ends is n x s x 4 in mm."""
        far = torch.full(x.shape, 2.0, device=self.device)
        for s in range(ends.shape[1]):
            ax, ay, bx, by = (ends[:, s, k, None, None] for k in range(4))
            dx, dy = bx - ax, by - ay
            t = (((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy).clamp(min=1e-6)).clamp(0, 1)
            far = torch.minimum(far, torch.hypot(x - ax - t * dx, y - ay - t * dy) - pen[:, None, None])
        return far

    def line(self, at, pos, half, cover):
        """A printed line's cover at distance |at - pos|."""
        return cover * ((half - (at - pos).abs()) * PX + 0.5).clamp(0, 1)

    def batch(self, n):
        """Strips (n x 1 x 48 x 160, 0 to 1), labels (n x 16) and their lengths."""
        b = self.t.draw(n)
        u, nn = self.u, self.n
        hard = torch.rand(n, device=self.device) < 0.5
        pick = lambda a, c: torch.where(hard, c, a)
        # The field, and where straightening thinks it is.
        fh = u(6.8, 10.6, n)
        boxes = b["boxes"].clamp(min=1).float()
        fw = torch.where(b["boxes"] > 0, boxes * u(6.0, 9.0, n), u(9.0, 36.0, n)).clamp(max=36.5)
        off = (0.15 + 0.25 * (torch.rand(n, 1, device=self.device) < 0.15)) * nn(n, 2)
        tilt = 0.006 * nn(n, 1, 1)
        x = self.x - off[:, 0, None, None] - tilt * self.y
        y = self.y - off[:, 1, None, None] + tilt * self.x
        # The hand.
        writer = torch.randint(0, self.g.writers, (n,), device=self.device)
        ball = torch.rand(n, device=self.device) < 0.25
        pen = torch.where(ball, u(0.35, 0.6, n), u(0.36, 0.85, n)) / 2
        dark = torch.where(ball, pick(u(0.45, 0.9, n), u(0.22, 0.5, n)), pick(u(0.22, 0.65, n), u(0.10, 0.28, n)))
        slant, tight = 0.09 * nn(n).clamp(-2.5, 2.5), u(-0.06, 0.32, n)
        height = u(3.2, 6.3, n) * u(0.85, 1.1, n)
        # The line.
        sign = b["sign"]
        on = sign >= 0
        glyph = self.g.pick(sign, writer)
        k = (1 + 0.07 * nn(n, SLOTS)) * torch.where(self.g.filed[glyph], u(0.5, 0.75, n, SLOTS), torch.ones(1, device=self.device))
        k = k * (1 + 0.12 * nn(n, 1)).clamp(0.8, 1.25) ** (torch.rand(n, SLOTS, device=self.device) < 0.3)
        wide = self.g.wide[glyph] * k * on
        gap = (tight[:, None] + 0.06 * nn(n, SLOTS)).clamp(min=-0.1) + b["gap"]
        count = on.sum(1)
        behind = torch.arange(SLOTS, device=self.device)[None] < (count - 1)[:, None]
        gap = gap * behind
        total = (wide + gap).sum(1).clamp(min=0.15)
        h = torch.minimum(torch.minimum(height, 0.93 * fh), 0.97 * fw / total)
        at = (wide + gap).cumsum(1) - gap - wide / 2
        slack = fw - total * h
        place = (torch.tensor([0.08, 0.5, 0.5, 0.88], device=self.device)[torch.randint(0, 4, (n,), device=self.device)] + 0.12 * nn(n)).clamp(0, 1)
        cx = -fw[:, None] / 2 + (slack * place)[:, None] + at * h[:, None]
        slack_y = fh - h
        base = (-fh / 2 + h + slack_y * (0.5 + 0.22 * nn(n)).clamp(0.0, 1.0))
        out = torch.rand(n, device=self.device) < 0.04
        base = torch.where(out, fh / 2 + u(0.02, 0.2, n) * h, base)
        cx = torch.where((torch.rand(n, device=self.device) < 0.03)[:, None], cx + (slack * (1 - place) + 0.1 * h)[:, None], cx)
        base = base[:, None] + (0.05 * nn(n))[:, None] * (cx - cx[:, :1]) + 0.035 * h[:, None] * nn(n, SLOTS)
        # One digit a box.
        comb = b["boxes"] > 0
        boxw = fw / boxes
        room = (boxes - count).clamp(min=0)
        start = torch.floor(room * torch.tensor([0.0, 0.5, 1.0], device=self.device)[torch.randint(0, 3, (n,), device=self.device)])
        inbox = -fw[:, None] / 2 + (start[:, None] + torch.arange(SLOTS, device=self.device)[None] + 0.5) * boxw[:, None]
        hb = torch.minimum(torch.minimum(height, 0.95 * fh), 1.05 * boxw / self.g.wide[glyph].clamp(min=0.5).amax(1))
        cx = torch.where(comb[:, None], inbox + u(-0.7, 0.7, n)[:, None] + u(0.15, 0.6, n)[:, None] * nn(n, SLOTS), cx)
        yb = hb / 2 + 0.4 * nn(n).clamp(-2, 2)
        base = torch.where(comb[:, None], yb[:, None] + u(0.1, 0.5, n)[:, None] * nn(n, SLOTS), base)
        h = torch.where(comb, hb, h)
        kh = k * h[:, None]
        shear = slant[:, None] + 0.035 * nn(n, SLOTS)
        turn = 0.035 * nn(n, SLOTS)
        # A sign over another, and neighbours' ink, in two more slots.
        two = torch.arange(2, device=self.device)[None]
        extra = self.g.pick(torch.randint(0, 10, (n, 2), device=self.device), writer)
        o = b["over"].clamp(min=0)
        rows = torch.arange(n, device=self.device)
        side = torch.randint(0, 4, (n, 2), device=self.device)
        eh = h[:, None] * u(0.8, 1.1, n, 2)
        ew = self.g.wide[extra] * eh
        far_x = fw[:, None] / 2 + ew / 2 + u(-0.15, 1.2, n, 2) * ew.clamp(max=2.0)
        far_y = fh[:, None] / 2 + eh * u(-0.12, 0.5, n, 2)
        ex = torch.where(side == 0, -far_x, torch.where(side == 1, far_x, u(-1, 1, n, 2) * fw[:, None] / 2))
        eb = torch.where(side == 2, -far_y, torch.where(side == 3, far_y + eh, u(-0.5, 0.5, n, 2) + eh / 2))
        eon = torch.rand(n, 2, device=self.device) < 0.3
        ov = (b["over"] >= 0)[:, None] & (two == 0)
        ex = torch.where(ov, (cx[rows, o] + 0.3 * nn(n))[:, None], ex)
        eb = torch.where(ov, (base[rows, o] + 0.2 * nn(n))[:, None], eb)
        eh = torch.where(ov, (kh[rows, o].clamp(min=2.5))[:, None], eh)
        eon = eon & ~((b["over"] >= 0)[:, None] & (two == 1)) | ov
        # Nobody's 1 is seen over another digit; such a line says what it said: rare, and left as it is.
        cat = lambda a, c: torch.cat([a, c], 1)
        wob = 0.10 * u(0.2, 1.4, n, 1, 1)
        xw, yw = x + wob * self.waves(n, 4, 14), y + wob * self.waves(n, 4, 14)
        d = self.strokes(xw, yw, cat(glyph, extra), cat(on, eon), cat(cx, ex), cat(base, eb), cat(kh, eh),
                         cat(shear, slant[:, None] + 0.04 * nn(n, 2)), cat(turn, 0.04 * nn(n, 2)), pen)
        # Struck out, or a scribble.
        s = b["struck"]
        hit = (s[:, 1] > s[:, 0]) | (s[:, 0] < 0)
        i = hit.nonzero()[:, 0]
        if len(i):
            m = len(i)
            first, last = s[i, 0].clamp(min=0), (s[i, 1] - 1).clamp(min=0)
            x0 = cx[i, first] - self.g.wide[glyph[i, first]] * kh[i, first] / 2 - u(0.2, 1.0, m)
            x1 = cx[i, last] + self.g.wide[glyph[i, last]] * kh[i, last] / 2 + u(0.2, 1.0, m)
            y1 = base[i, first] + 0.3
            y0 = y1 - kh[i, first] - 0.6
            free = s[i, 0] < 0
            sx, sw = u(-0.45, 0.0, m) * fw[i], u(0.25, 0.5, m) * fw[i]
            x0, x1 = torch.where(free, sx, x0), torch.where(free, sx + sw, x1)
            y0, y1 = torch.where(free, -u(1.0, 3.5, m), y0), torch.where(free, u(1.0, 3.5, m), y1)
            way = torch.randint(0, 4, (m,), device=self.device)
            way = torch.where(free, torch.full_like(way, 2), way)
            e = torch.full((m, 9, 4), 99.0, device=self.device)
            jig = lambda *sh: 0.3 * nn(*sh)
            mid, span = (y0 + y1) / 2, (y1 - y0)
            slope = 0.12 * nn(m) * span
            lv = mid + 0.1 * span * nn(m)
            once, twice, zig, cross = (way == w for w in range(4))
            l1 = torch.stack([x0, lv - slope, x1, lv + slope], 1)
            l2 = torch.stack([x0, lv + 0.18 * span - slope, x1, lv + 0.18 * span + slope], 1)
            c1, c2 = torch.stack([x0, y0, x1, y1], 1), torch.stack([x0, y1, x1, y0], 1)
            e[:, 0] = torch.where((once | twice)[:, None], l1, torch.where(cross[:, None], c1, e[:, 0]))
            e[:, 1] = torch.where(twice[:, None], l2, torch.where(cross[:, None], c2, e[:, 1]))
            pts_x = x0[:, None] + (x1 - x0)[:, None] * torch.linspace(0, 1, 10, device=self.device)[None] + jig(m, 10)
            pts_y = torch.where((torch.arange(10, device=self.device) % 2 == 0)[None], y0[:, None], y1[:, None]) + jig(m, 10)
            z = torch.stack([pts_x[:, :-1], pts_y[:, :-1], pts_x[:, 1:], pts_y[:, 1:]], 2)
            e = torch.where(zig[:, None, None], z, e)
            d[i] = torch.minimum(d[i], self.segments(xw[i], yw[i], e, pen[i]))
        edge = torch.where(ball, u(0.03, 0.06, n), u(0.06, 0.16, n))[:, None, None]
        ink = ((edge - d) / (2 * edge)).clamp(0, 1)
        ink = ink * ink * (3 - 2 * ink)
        # Pressure along the line, grain across it.
        ink = ink * (1 + u(0.0, 0.25, n, 1, 1) * self.waves(n, 4, 20)).clamp(0.2, 1.4)
        grain = torch.where(ball, u(0, 0.1, n), u(0.1, 0.75, n))[:, None, None]
        ink = ink * (1 - grain * torch.sigmoid(2.5 * self.waves(n, H // 2, W // 2)) + 0.4 * grain)
        shade = (dark[:, None, None] * ink).clamp(0, 0.93)
        # What shines through or was rubbed out.
        i = (torch.rand(n, device=self.device) < 0.12).nonzero()[:, 0]
        if len(i):
            m = len(i)
            gg = self.g.pick(torch.randint(0, 10, (m, 3), device=self.device), writer[i])
            gx, gb, gh = u(-0.4, 0.4, m, 3) * fw[i, None], u(-1, 4, m, 3), u(3, 7, m, 3)
            flip = torch.where(torch.rand(m, device=self.device) < 0.5, -1.0, 1.0)[:, None, None]
            dg = self.strokes(x[i] * flip, y[i], gg, torch.rand(m, 3, device=self.device) < 0.6, gx, gb, gh,
                              0.1 * nn(m, 3), 0.05 * nn(m, 3), pen[i] * u(0.9, 1.6, m))
            faint = (dark[i] * u(0.04, 0.2, m)).clamp(max=0.12)[:, None, None] * ((0.12 - dg) / 0.24).clamp(0, 1)
            shade[i] = 1 - (1 - shade[i]) * (1 - faint)
        # Print.
        half = u(0.06, 0.2, n, 1, 1)
        cover = u(0.15, 0.95, n, 1, 1) * (torch.rand(n, 1, 1, device=self.device) > 0.04)
        hw, hh = fw[:, None, None] / 2, fh[:, None, None] / 2
        gaps = [torch.where(torch.rand(n, device=self.device) < 0.5, u(0.3, 1.6, n), torch.full((n,), 9.0, device=self.device))[:, None, None] for _ in range(4)]
        inside_y = ((hh + half - y.abs()) * PX + 0.5).clamp(0, 1)
        inside_x = ((hw + half - x.abs()) * PX + 0.5).clamp(0, 1)
        rowl = (torch.rand(n, 1, 1, device=self.device) < 0.5).float()   # rows' lines go on beyond the field
        run_x = torch.maximum(inside_x, rowl)
        p = torch.maximum(self.line(x.abs(), hw, half, cover) * inside_y, self.line(y.abs(), hh, half, cover) * run_x)
        p = torch.maximum(p, self.line(x, -hw - gaps[0], half, cover) * inside_y)
        p = torch.maximum(p, self.line(x, hw + gaps[1], half, cover) * inside_y)
        p = torch.maximum(p, self.line(y, -hh - gaps[2], half, cover))
        p = torch.maximum(p, self.line(y, hh + gaps[3], half, cover))
        up = self.u(-1, 1, n, 1, 1) * hw  # a column of the rows above and below
        p = torch.maximum(p, self.line(x, up, half, cover) * (y.abs() > hh + 0.3) * (torch.rand(n, 1, 1, device=self.device) < 0.4))
        rule = cover * u(0.35, 1.0, n, 1, 1)
        for j in range(1, 4):
            pos = -hw + fw[:, None, None] * j / boxes[:, None, None]
            there = (comb & (b["boxes"] > j))[:, None, None]
            p = torch.maximum(p, self.line(x, pos, half * 0.9, rule) * inside_y * there)
        bright = (1 - shade) * (1 - p)
        # Smudges, and the edge of a shadow that the paper's plane can't follow.
        i = (torch.rand(n, device=self.device) < 0.15).nonzero()[:, 0]
        if len(i):
            blob = torch.sigmoid(3 * self.waves(len(i), 3, 7) - 1.5)
            bright[i] = bright[i] * (1 - u(0.02, 0.12, len(i), 1, 1) * blob)
        i = (torch.rand(n, device=self.device) < 0.1).nonzero()[:, 0]
        if len(i):
            m = len(i)
            a = u(0, 6.283, m, 1, 1)
            soft = torch.exp(u(-1.6, 2.0, m, 1, 1))
            t = (x[i] * torch.cos(a) + y[i] * torch.sin(a) - u(-12, 12, m, 1, 1)) / soft * 3
            bright[i] = bright[i] * (1 - u(0.1, 0.6, m, 1, 1) * torch.sigmoid(t))
        # The camera.
        sigma = pick(u(0.02, 0.13, n), u(0.04, 0.34, n)) * PX
        sx, sy = (sigma * (1 + 0.25 * nn(n)).clamp(0.5, 1.6) for _ in range(2))
        bright = self.blurred(bright, torch.hypot(sx, torch.full_like(sx, 0.4)), torch.hypot(sy, torch.full_like(sy, 0.4)))
        fine, coarse = nn(n, H, W), F.interpolate(nn(n, 1, int(H * 0.6), int(W * 0.6)), size=(H, W), mode="bilinear", align_corners=False)[:, 0]
        loud = pick(u(0.003, 0.02, n), u(0.006, 0.045, n))[:, None, None]
        mixn = u(0, 1, n, 1, 1)
        bright = bright + loud * (mixn * fine + (1.4 - mixn) * coarse)
        sharp = pick(u(0, 1, n), u(0, 1.4, n))[:, None, None]
        soft = F.avg_pool2d(bright[:, None], 3, 1, 1, count_include_pad=False)[:, 0]
        bright = bright + sharp * (bright - soft)
        if random.random() < 0.5:  # pixels no finer than the page
            small = F.interpolate(bright[:, None], scale_factor=random.uniform(0.5, 0.9), mode="bilinear", align_corners=False)
            bright = F.interpolate(small, size=(H, W), mode="bilinear", align_corners=False)[:, 0]
        tilt_l = 0.02 * nn(n, 1, 1) * self.x / 20 + 0.02 * nn(n, 1, 1) * self.y / 6
        darkness = 1 - bright * (1 + tilt_l) / (1 + 0.008 * nn(n, 1, 1))
        darkness = F.avg_pool2d(darkness[:, None], 2)
        # Beyond the field: clean paper, from a whole pixel on; and what is seen is measured against its own paper.
        mw, mh = ((fw + 3) * 4).round()[:, None, None, None] / 2, ((fh + 3) * 4).round().clamp(max=48)[:, None, None, None] / 2
        px = (torch.arange(160, device=self.device) - 79.5).abs()[None, None, None]
        py = (torch.arange(48, device=self.device) - 23.5).abs()[None, None, :, None]
        seen = (px < mw) & (py < mh)
        paper = torch.where(seen, darkness, torch.full_like(darkness, float("nan"))).flatten(1).nanmedian(1).values[:, None, None, None]
        strip = torch.where(seen, tone((darkness - paper) / (1 - paper).clamp(min=0.05)), torch.full_like(darkness, 32 / 255))
        return strip.contiguous(), b["label"], b["len"]

    def blurred(self, v, sx, sy):
        n = v.shape[0]
        r = torch.arange(-9, 10, device=self.device).float()[None]
        kx = torch.exp(-r * r / (2 * sx[:, None] ** 2))
        ky = torch.exp(-r * r / (2 * sy[:, None] ** 2))
        kx, ky = kx / kx.sum(1, keepdim=True), ky / ky.sum(1, keepdim=True)
        v = F.pad(v[None], (9, 9, 9, 9), mode="replicate").to(self.half)
        v = F.conv2d(v, kx[:, None, None, :].to(self.half), groups=n)
        return F.conv2d(v, ky[:, None, :, None].to(self.half), groups=n)[0].float()


def tone(d):
    """As crop.Tone, in 0 to 1."""
    pale = (32 + d * 278 / 0.25 / 2).clamp(min=0)
    return torch.where(d < 0, pale, (32 + d / (d.clamp(min=0) + 0.25) * 278).clamp(max=255)).floor() / 255
