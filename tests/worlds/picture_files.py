"""Picture files, Exif blocks and colour profiles written byte by byte, to the open standards, for the tests."""

from __future__ import annotations

import csv
import io
import struct
import zlib

import cv2
import numpy as np
import tifffile
from PIL import Image

from tests.paths import REFERENCE

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


def exif_at(data):
    """Where in a file the value of the orientation lies that `exif` wrote."""
    return data.index(struct.pack("<HHI", 0x0112, 3, 1)) + 8


# --- HEIC, written by pillow-heif (libheif and x265)


def heic(pixels, bits=8, **options):
    """A HEIC file of 8-bit pixels, or of the top `bits` of 16; without loss unless told otherwise."""
    import pillow_heif

    height, width, colours = pixels.shape
    mode = {3: "RGB", 4: "RGBA"}[colours] + ("" if bits == 8 else ";16")
    made = pillow_heif.from_bytes(mode, (width, height), np.ascontiguousarray(pixels).tobytes())
    file = io.BytesIO()
    quick = {"preset": "ultrafast"}
    made.save(file, **{"quality": -1, "chroma": 444, "matrix_coefficients": 0, "enc_params": quick, **options})
    return file.getvalue()


def heic_box(name, content):
    return struct.pack(">I4s", 8 + len(content), name) + content


def heic_in_other_boxes(data, width, height, crop=None, shared=0):
    """The coded picture of a HEIC in a container that states another size, a crop, or Exif items of the same bytes."""
    configuration, coded = _box_content(data, b"hvcC"), _box_content(data, b"mdat")
    numbers, spare = range(1, 2 + shared), bytes(500_000 if shared else 0)
    properties = [(b"hvcC", configuration), (b"ispe", struct.pack(">3I", 0, width, height))]
    properties += [(b"clap", struct.pack(">8I", crop[0], 1, crop[1], 1, 0, 1, 0, 1))] if crop else []
    kinds = [struct.pack(">IHH4sB", 2 << 24, one, 0, b"Exif" if one > 1 else b"hvc1", 0) for one in numbers]
    used = bytes(range(1, 1 + len(properties)))
    start = heic_box(b"ftyp", b"heic" + bytes(4) + b"mif1heic")

    def meta(first):
        places = [(first, len(coded)), *[(first + len(coded), len(spare))] * shared]
        extents = [struct.pack(">HHHII", one, 0, 1, *place) for one, place in zip(numbers, places, strict=True)]
        boxes = [
            (b"hdlr", bytes(8) + b"pict" + bytes(13)),
            (b"pitm", struct.pack(">IH", 0, 1)),
            (b"iinf", struct.pack(">IH", 0, len(kinds)) + b"".join(heic_box(b"infe", kind) for kind in kinds)),
            (b"iloc", struct.pack(">IHH", 0, 0x4400, len(extents)) + b"".join(extents)),
            (b"iprp", heic_box(b"ipco", b"".join(heic_box(*one) for one in properties))
             + heic_box(b"ipma", struct.pack(">IIHB", 0, 1, 1, len(used)) + used)),
            (b"iref", bytes(4) + b"".join(heic_box(b"cdsc", struct.pack(">3H", one, 1, 1)) for one in numbers[1:])),
        ]  # fmt: skip
        return heic_box(b"meta", bytes(4) + b"".join(heic_box(*box) for box in boxes))

    return start + meta(len(start) + len(meta(0)) + 8) + heic_box(b"mdat", coded + spare)


def _box_content(data, name):
    place = data.index(name)
    return data[place + 4 : place - 4 + int.from_bytes(data[place - 4 : place], "big")]


def without_box(data, name, count=1):
    """The file with the first boxes of a name made ones that mean nothing; sizes stay."""
    assert data.count(name) >= count
    return data.replace(name, b"free", count)


# --- DNG (specification 1.7), written by tifffile


def rationals(*values):
    return tuple(whole for value in values for whole in (round(value * 10_000), 10_000))


def dng(sensor, filters=(0, 1, 1, 2), black=64, white=1023, orientation=1, neutral=(0.5, 1, 0.7), more=(), **options):
    """A DNG of a sensor's numbers: (h, w) under colour filters, or (h, w, 3) developed already.

    `more` are tags (number, type, count, value) besides; one with the number of a usual one takes its place.
    """
    tags = {
        254: (254, 4, 1, 0),
        272: (272, 2, 0, "Probe 7"),
        274: (274, 3, 1, orientation),
        50706: (50706, 1, 4, bytes([1, 4, 0, 0])),
        50707: (50707, 1, 4, bytes([1, 1, 0, 0])),
        50708: (50708, 2, 0, "Probe 7"),
        50714: (50714, 4, 1, black),
        50717: (50717, 4, 1, white),
        50721: (50721, 10, 9, rationals(*CAMERA_MATRIX.ravel())),
        50728: (50728, 5, 3, rationals(*neutral)),
        50778: (50778, 3, 1, 21),  # D65
    }
    if sensor.ndim == 2:
        tags |= {33421: (33421, 3, 2, (2, 2)), 33422: (33422, 1, 4, bytes(filters))}
    tags |= {tag[0]: tag for tag in more}
    file = io.BytesIO()
    tifffile.imwrite(
        file,
        sensor,
        photometric=32803 if sensor.ndim == 2 else 34892,
        metadata=None,
        extratags=[(*tag, True) for tag in tags.values() if tag[1]],
        **{"software": False, **options},
    )
    return file.getvalue()


def gain_map(gains, area=(0, 0, 40, 640), pitch=(1, 1), spacing=None, origin=(0.0, 0.0), plane=0, planes=1):
    """An opcode of kind 9 (DNG 1.7, chapter 7), all numbers big-endian; gains (v, h)."""
    gains = np.asarray(gains, float)
    spacing = spacing or [1 / max(side - 1, 1) for side in gains.shape]
    content = struct.pack(">10I", *area, plane, planes, *pitch, *gains.shape)
    content += struct.pack(">4dI", *spacing, *origin, 1) + gains.astype(">f4").tobytes()
    return struct.pack(">4I", 9, 0x01030000, 0, len(content)) + content


def opcodes(*codes):
    """OpcodeList2 (51009): applied to the numbers once they are light."""
    block = struct.pack(">I", len(codes)) + b"".join(codes)
    return 51009, 7, len(block), block


def packed_dng(sensor, **options):
    """The same DNG with its numbers packed without loss (compression 7), behind its end."""
    plain, packed = dng(sensor, **options), lossless_jpeg(sensor)
    for tag, value in ((259, 7), (273, len(plain)), (279, len(packed))):
        plain = with_entry(plain, tag, value)
    return plain + packed


def with_entry(data, tag, value):
    """A little-endian TIFF with another number in an entry of its first directory."""
    start = struct.unpack_from("<I", data, 4)[0]
    entries = range(start + 2, start + 2 + 12 * struct.unpack_from("<H", data, start)[0], 12)
    place = next(entry for entry in entries if struct.unpack_from("<H", data, entry)[0] == tag)
    return data[: place + 2] + struct.pack("<HII", 4, 1, value) + data[place + 12 :]


def lossless_jpeg(sensor):
    """Numbers of a sensor by the lossless process of ITU-T T.81, annex H: (h, w) as two colours of half the width.

    Every difference to the pixel on the left (to the one above, in the first column) has a code of five bits.
    """
    pixels = (sensor if sensor.ndim == 3 else sensor.reshape(len(sensor), -1, 2)).astype(int)
    height, width, colours = pixels.shape
    before = np.concatenate([np.zeros((height, 1, colours), int), pixels[:, :-1]], axis=1)
    before[0, 0], before[1:, 0] = 1 << 15, pixels[:-1, 0]
    bits = []
    for difference in (pixels - before).ravel():
        size = int(abs(difference)).bit_length()
        value = difference if difference > 0 else difference + (1 << size) - 1
        bits.append(f"{size:05b}" + (f"{value:0{size}b}" if size else ""))
    joined = "".join(bits)
    joined += "1" * (-len(joined) % 8)
    scan = int(joined, 2).to_bytes(len(joined) // 8, "big").replace(b"\xff", b"\xff\0")
    sizes = bytes(range(17))
    table = jpeg_segment(0xC4, b"\0" + bytes([0, 0, 0, 0, len(sizes)]) + bytes(11) + sizes)
    each = range(colours)
    frame = jpeg_segment(
        0xC3, struct.pack(">BHHB", 16, height, width, colours) + b"".join(bytes([i, 0x11, 0]) for i in each)
    )
    start = jpeg_segment(0xDA, bytes([colours]) + b"".join(bytes([i, 0]) for i in each) + b"\1\0\0")
    return b"\xff\xd8" + table + frame + start + scan + b"\xff\xd9"


def mosaic(rgb, filters=(0, 1, 1, 2)):
    """(h, w, 3) light -> (2 h, 2 w), each pixel as the four filters see it."""
    squares = rgb[..., list(filters)].reshape(*rgb.shape[:2], 2, 2)
    return squares.swapaxes(1, 2).reshape(2 * rgb.shape[0], 2 * rgb.shape[1])


# XYZ under D65 to an invented camera's RGB, about what a phone's sensor has.
CAMERA_MATRIX = np.array([[0.9, -0.3, -0.1], [-0.4, 1.2, 0.2], [-0.05, 0.2, 0.7]])


# --- JPEG with a gain map behind it

ISO_21496 = b"urn:iso:std:iso:ts:21496:-1\0" + bytes(4)  # annex C: the versions follow the name
XMP = b"http://ns.adobe.com/xap/1.0/\0"


def with_second_picture(first, second):
    """Two JPEGs in one file, with the index of CIPA DC-007 (multi-picture format) in the first."""
    index_size = 8 + 2 + 12 * 3 + 4 + 32
    start = len(first) + 4 + 4 + index_size
    place = start - (2 + 4 + 4)  # counted from the index's own start, behind its marker, length and name
    entries = struct.pack("<IIIHH", 0x030000, start, 0, 0, 0) + struct.pack("<IIIHH", 0, len(second), place, 0, 0)
    index = b"II*\0" + struct.pack("<IH", 8, 3) + struct.pack("<HHI4s", 0xB000, 7, 4, b"0100")
    index += struct.pack("<HHII", 0xB001, 4, 1, 2) + struct.pack("<HHII", 0xB002, 7, 32, 50) + bytes(4) + entries
    return with_segments(first, (0xE2, b"MPF\0" + index)) + second


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
