#!/usr/bin/env python3
"""Makes the HEIC files of this folder, built as phones build them: square tiles, a grid that puts them
together and cuts off what is too much, a turn as a property (irot), and the same turn once more as Exif.

The picture is a gradient of our own, the one of the tests. Needs heif-enc (Debian: libheif-examples), which
packs single tiles; it writes neither grids nor turns. Source of the boxes: ISO/IEC 14496-12 and 23008-12.
"""
import os, struct, subprocess, sys, tempfile, zlib

W, H, TILE = 96, 64, 64


def grey(x, y):
    return 150 * x // W + 100 * y // H


def png(w, h, at, bits=8):
    rows = b"".join(b"\0" + b"".join((v.to_bytes(1, "big") if bits == 8 else (v * 257).to_bytes(2, "big"))
                                     for x in range(w) for v in [at(x, y)] * 3) for y in range(h))
    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", w, h, bits, 2, 0, 0, 0))
            + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


def encode(w, h, at, *options, bits=8):
    with tempfile.TemporaryDirectory() as d:
        with open(d + "/in.png", "wb") as f:
            f.write(png(w, h, at, bits))
        subprocess.run(["heif-enc", "-q", "90", *options, d + "/in.png", "-o", d + "/out.heic"], check=True,
                       stdout=subprocess.DEVNULL)
        with open(d + "/out.heic", "rb") as f:
            return f.read()


def tile_of(file):
    """The decoder's configuration and the coded picture of a file with one picture."""
    at = file.index(b"hvcC") - 4
    config = file[at:at + struct.unpack(">I", file[at:at + 4])[0]]
    at = file.index(b"mdat") - 4
    return config, file[at + 8:at + struct.unpack(">I", file[at:at + 4])[0]]


def box(kind, *parts):
    body = b"".join(parts)
    return struct.pack(">I", 8 + len(body)) + kind + body


def full(kind, version, flags, *parts):
    return box(kind, struct.pack(">I", version << 24 | flags), *parts)


def exif(orientation):
    return (b"\0\0\0\6Exif\0\0MM\0*\0\0\0\x08\0\1\x01\x12\0\3\0\0\0\1" + struct.pack(">HHI", orientation, 0, 0))


def phone(orientation, quarters):
    """A file whose stored picture has to be turned by so many quarters against the clock."""
    def stored(x, y):  # the upright picture's grey at a pixel of the stored one
        if quarters == 0: return grey(x, y)
        if quarters == 1: return grey(y, H - 1 - x)
        if quarters == 2: return grey(W - 1 - x, H - 1 - y)
        return grey(W - 1 - y, x)
    w, h = (W, H) if quarters % 2 == 0 else (H, W)
    columns, rows = -(-w // TILE), -(-h // TILE)
    tiles, config = [], None
    for row in range(rows):
        for column in range(columns):
            one, data = tile_of(encode(TILE, TILE, lambda x, y: stored(min(column * TILE + x, w - 1), min(row * TILE + y, h - 1))))
            assert config in (None, one), "tiles must share one configuration"
            config = one
            tiles.append(data)
    n = len(tiles)
    grid_id, exif_id = n + 1, n + 2
    grid = struct.pack(">BBBBHH", 0, 0, rows - 1, columns - 1, w, h)
    infos = [full(b"infe", 2, 1, struct.pack(">HH4s", i + 1, 0, b"hvc1"), b"\0") for i in range(n)]  # 1: hidden
    infos.append(full(b"infe", 2, 0, struct.pack(">HH4s", grid_id, 0, b"grid"), b"\0"))
    infos.append(full(b"infe", 2, 1, struct.pack(">HH4s", exif_id, 0, b"Exif"), b"\0"))
    iinf = full(b"iinf", 0, 0, struct.pack(">H", len(infos)), *infos)
    iref = full(b"iref", 0, 0,
                box(b"dimg", struct.pack(">HH", grid_id, n), *(struct.pack(">H", i + 1) for i in range(n))),
                box(b"cdsc", struct.pack(">HHH", exif_id, 1, grid_id)))
    properties = box(b"ipco", config, full(b"ispe", 0, 0, struct.pack(">II", TILE, TILE)),
                     full(b"ispe", 0, 0, struct.pack(">II", w, h)), box(b"irot", bytes([quarters])))
    tied = b"".join(struct.pack(">HBBB", i + 1, 2, 0x81, 2) for i in range(n))
    tied += struct.pack(">HBBB", grid_id, 2, 3, 0x84)
    iprp = box(b"iprp", properties, full(b"ipma", 0, 0, struct.pack(">I", n + 1), tied))
    def meta(base):
        items, at = b"", base
        for i, data in enumerate(tiles + [exif(orientation)]):
            ident = i + 1 if i < n else exif_id
            items += struct.pack(">HHHHII", ident, 0, 0, 1, at, len(data))
            at += len(data)
        items += struct.pack(">HHHHII", grid_id, 1, 0, 1, 0, len(grid))
        iloc = full(b"iloc", 1, 0, struct.pack(">BBH", 0x44, 0, n + 2), items)
        return full(b"meta", 0, 0, full(b"hdlr", 0, 0, struct.pack(">I4sIIIB", 0, b"pict", 0, 0, 0, 0)),
                    full(b"pitm", 0, 0, struct.pack(">H", grid_id)), iinf, iref, iprp, box(b"idat", grid), iloc)
    head = box(b"ftyp", b"heic", struct.pack(">I", 0), b"mif1", b"heic")
    base = len(head) + len(meta(0)) + 8
    return head + meta(base) + box(b"mdat", *tiles, exif(orientation))


here = os.path.dirname(os.path.abspath(sys.argv[0]))
for orientation, quarters in {1: 0, 3: 2, 6: 3, 8: 1}.items():
    with open(f"{here}/phone-{orientation}.heic", "wb") as f:
        f.write(phone(orientation, quarters))
with open(here + "/ten-bits.heic", "wb") as f:
    f.write(encode(W, H, grey, "-b", "10", bits=16))
with open(here + "/one.avif", "wb") as f:
    f.write(encode(W, H, grey, "-A"))
