"""Picture files, Exif blocks and colour profiles written byte by byte, to the open standards, for the tests."""

from __future__ import annotations

import csv
import io
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image

REFERENCE = Path(__file__).parent / "reference"
D50 = (0.9642, 1.0, 0.8249)  # ICC.1:2022, 7.2.16


def reference(name, *sections):
    """Rows of a file of published values whose first column is one of the sections."""
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        rows = csv.reader(line for line in file if not line.startswith("#"))
        return [row for row in rows if row[0] in sections]


def matrix(name, *start):
    """A published matrix: three rows that begin with these words."""
    rows = [row for row in reference(name, start[0]) if row[: len(start)] == list(start)]
    first = 2 if name == "srgb_iec61966.csv" else 3
    return np.array([[float(value) for value in row[first : first + 3]] for row in rows])


def noise(dtype=np.uint8, width=640, height=32, colours=3, seed=1):
    """A picture of random colours, every code value allowed."""
    rng = np.random.default_rng(seed)
    return rng.integers(0, np.iinfo(dtype).max, (height, width, colours), dtype=dtype, endpoint=True)


def blocks(width=640, height=80, seed=2):
    """A picture of flat 16-pixel blocks, which JPEG keeps to a code or so in the middle of each."""
    colours = np.random.default_rng(seed).integers(30, 226, (height // 16, width // 16, 3), dtype=np.uint8)
    return np.kron(colours, np.ones((16, 16, 1), np.uint8))


# --- files


def pil(pixels, kind, **options):
    """Written by Pillow."""
    file = io.BytesIO()
    (pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels)).save(file, kind, **options)
    return file.getvalue()


def jpeg(pixels, **options):
    return pil(pixels, "JPEG", **{"quality": 100, "subsampling": 0, **options})


def opencv(pixels, kind):
    """Written by OpenCV; the pixels are RGB or RGBA."""
    return cv2.imencode(kind, pixels[..., [2, 1, 0, 3][: pixels.shape[2]]])[1].tobytes()


def tiff(pixels, **options):
    """Written by tifffile."""
    file = io.BytesIO()
    tifffile.imwrite(file, pixels, **{"photometric": "rgb", "metadata": None, **options})
    return file.getvalue()


def png(pixels, *chunks):
    """A PNG of 8 or 16 bits with chunks put before its pixels, each (name, content)."""
    plain = opencv(pixels, ".png")
    return plain[:33] + b"".join(png_chunk(*chunk) for chunk in chunks) + plain[33:]


def png_chunk(name, content):
    body = name + content
    return struct.pack(">I", len(content)) + body + struct.pack(">I", zlib.crc32(body))


def iccp(profile):
    """The chunk that carries a profile in a PNG."""
    return b"iCCP", b"profile\0\0" + zlib.compress(profile)


def jpeg_segment(marker, content):
    return bytes([0xFF, marker]) + struct.pack(">H", len(content) + 2) + content


def with_segments(jpeg_bytes, *segments):
    """A JPEG with segments put after its first marker."""
    return jpeg_bytes[:2] + b"".join(jpeg_segment(*segment) for segment in segments) + jpeg_bytes[2:]


def exif(orientation=1, model="Probe 7", taken="2026:03:04 05:06:07", colour_space=None, index=None, order="<"):
    """An Exif block (Exif 2.32): main directory, Exif directory, interoperability directory."""
    texts = [model.encode() + b"\0", taken.encode() + b"\0"]
    inner = [(0x9003, 2, texts[1])]
    if colour_space is not None:
        inner.append((0xA001, 3, struct.pack(order + "H", colour_space)))
    if index is not None:
        inner.append((0xA005, 4, "index"))
    layout = {"main": 8, "inner": 8 + 2 + 12 * 3 + 4}
    layout["index"] = layout["inner"] + 2 + 12 * len(inner) + 4
    heap = bytearray()
    heap_start = layout["index"] + 2 + 12 + 4

    def directory(entries):
        out = struct.pack(order + "H", len(entries))
        for tag, kind, value in entries:
            content = struct.pack(order + "I", layout[value]) if isinstance(value, str) else value
            count = len(content) // {2: 1, 3: 2, 4: 4}[kind]
            if len(content) > 4:
                heap.extend(content)
                content = struct.pack(order + "I", heap_start + len(heap) - len(content))
            out += struct.pack(order + "HHI", tag, kind, count) + content.ljust(4, b"\0")
        return out + bytes(4)

    main = [(0x0110, 2, texts[0]), (0x0112, 3, struct.pack(order + "H", orientation)), (0x8769, 4, "inner")]
    body = directory(main) + directory(inner) + directory([(1, 2, (index or "R98").encode() + b"\0")])
    return {"<": b"II*\0", ">": b"MM\0*"}[order] + struct.pack(order + "I", 8) + body + bytes(heap)


# --- colour profiles (ICC.1:2022)


def fixed(*values):
    """s15Fixed16 numbers."""
    return struct.pack(f">{len(values)}i", *(round(value * 65536) for value in values))


def gamma_curve(gamma):
    return b"curv" + bytes(4) + struct.pack(">IH", 1, round(gamma * 256))


def identity_curve():
    return b"curv" + bytes(4) + struct.pack(">I", 0)


def table_curve(values):
    return b"curv" + bytes(4) + struct.pack(f">I{len(values)}H", len(values), *(round(v * 65535) for v in values))


def formula_curve(kind, *parameters):
    return b"para" + bytes(4) + struct.pack(">HH", kind, 0) + fixed(*parameters)


SRGB_CURVE = formula_curve(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1


def colorants(xy_section):
    """Published chromaticities -> colorants under D50, as profiles state them (columns red, green, blue)."""
    xy = [(float(row[2]), float(row[3])) for row in reference("srgb_iec61966.csv", xy_section)]
    columns = np.array([[x / y, 1, (1 - x - y) / y] for x, y in xy]).T
    under_d65 = columns[:, :3] * np.linalg.solve(columns[:, :3], columns[:, 3])
    return matrix("adaptation.csv", "xyz_to_xyz", "bradford d65 to d50") @ under_d65


def text_v4(text):
    content = text.encode("utf-16-be")
    return b"mluc" + bytes(4) + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(content), 28) + content


def text_v2(text):
    return b"desc" + bytes(4) + struct.pack(">I", len(text) + 1) + text.encode() + bytes(1 + 78)


def profile(columns, curves, name=None, more=(), version=4, space=b"RGB ", pcs=b"XYZ ", kind=b"mntr", leave_out=()):
    """A colour profile of curves and colorants."""
    curves = [curves] * 3 if isinstance(curves, bytes) else curves
    describe = text_v4 if version == 4 else text_v2
    tags = [(b"desc", describe(name or "Made for a test")), (b"wtpt", b"XYZ " + bytes(4) + fixed(*D50))]
    for letter, column, curve in zip((b"r", b"g", b"b"), columns.T, curves, strict=True):
        tags += [(letter + b"XYZ", b"XYZ " + bytes(4) + fixed(*column)), (letter + b"TRC", curve)]
    tags = [tag for tag in [*tags, *more] if tag[0] not in leave_out]
    position, table, body = 128 + 4 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for signature, content in tags:
        table += struct.pack(">4sII", signature, position + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    header = bytearray(128)
    struct.pack_into(">I4xI4s4s4s", header, 0, 128 + len(table) + len(body), version << 24, kind, space, pcs)
    header[36:40] = b"acsp"
    header[68:80] = fixed(*D50)
    return bytes(header) + table + body


def srgb_profile():
    return profile(colorants("srgb_xy"), SRGB_CURVE, "An sRGB profile")


def display_p3_profile():
    return profile(colorants("display_p3_xy"), SRGB_CURVE, "A wide profile")


def chad(xyz_matrix):
    return b"chad", b"sf32" + bytes(4) + fixed(*np.ravel(xyz_matrix))
