"""Directories of tags, as TIFF files, DNG files and cameras write them (TIFF 6.0, DNG 1.7, Exif 2.32)."""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from typing import Any

SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 10: 8, 13: 4}  # TIFF 6.0, page 15: bytes of each type
NUMBERS = {3: "H", 4: "I", 13: "I"}
RATIONALS = {5: "I", 10: "i"}

# TIFF 6.0, section 8 and appendix A; ICC.1:2022, annex B for the profile's tag.
SUBFILE, WIDTH, HEIGHT, BITS, PHOTOMETRIC, SAMPLES, PLANES, SAMPLE_FORMAT = 254, 256, 257, 258, 262, 277, 284, 339
STRIPS, STRIP_BYTES, TILES, TILE_BYTES, PROFILE = 273, 279, 324, 325, 34675
# TIFF/EP for the colour filters; DNG 1.7, chapters 3 and 4: RAW is DNGVersion, OPCODES is OpcodeList2.
COMPRESSION, DIRECTORIES, FILTERS, FILTER_COLOURS, RAW = 259, 330, 33421, 33422, 50706
MATRIX_1, MATRIX_2, CALIBRATION_1, CALIBRATION_2, LIGHT_1, LIGHT_2 = 50721, 50722, 50723, 50724, 50778, 50779
BALANCE, NEUTRAL, WHITE_XY, FORWARD_1, FORWARD_2 = 50727, 50728, 50729, 50964, 50965
ACTIVE_AREA, OPCODES = 50829, 51009
# Exif 2.32, sections 4.6.3 to 4.6.7.
MODEL, ORIENTATION, EXIF, TAKEN, COLOUR_SPACE, INTEROPERABILITY, INDEX = 272, 274, 34665, 36867, 40961, 40965, 1
LONGEST_TEXT = 80  # letters; a camera's name has fewer
WANTED = {
    *(SUBFILE, WIDTH, HEIGHT, BITS, PHOTOMETRIC, SAMPLES, PLANES, SAMPLE_FORMAT),
    *(STRIPS, STRIP_BYTES, TILES, TILE_BYTES, PROFILE),
    *(COMPRESSION, DIRECTORIES, FILTERS, FILTER_COLOURS, RAW),
    *(MATRIX_1, MATRIX_2, CALIBRATION_1, CALIBRATION_2, LIGHT_1, LIGHT_2),
    *(BALANCE, NEUTRAL, WHITE_XY, FORWARD_1, FORWARD_2, ACTIVE_AREA, OPCODES),
    *(MODEL, ORIENTATION, EXIF, TAKEN, COLOUR_SPACE, INTEROPERABILITY, INDEX),
}


@dataclass(frozen=True)
class Camera:
    """What the camera wrote beside the picture; empty where it wrote nothing.

    `orientation` is the code of Exif, 1 for upright; `colour_space` is "sRGB", "DCF optional" (the wide one of
    DCF 2.0), "uncalibrated" or "".
    """

    model: str = ""
    taken: str = ""
    orientation: int = 1
    colour_space: str = ""


class Directory(dict[int, Any]):
    """The tags of one directory that matter here, and where the next directory starts (0 for nowhere)."""

    following: int = 0

    def number(self, tag: int, default: int = 0) -> int:
        """The first number of a tag, or `default` if there is none."""
        return next(iter(self.numbers(tag)), default)

    def numbers(self, tag: int) -> tuple[int, ...]:
        """The whole numbers of a tag, or () if there are none."""
        value = self.get(tag)
        return value if isinstance(value, tuple) and all(isinstance(one, int) for one in value) else ()

    def fractions(self, tag: int) -> tuple[float, ...]:
        """The fractions (or whole numbers) of a tag, or () if there are none; one over nothing is NaN."""
        value = self.get(tag)
        return tuple(float(one) for one in value) if isinstance(value, tuple) else ()

    def end(self) -> int:
        """Where the last strip or tile of the picture ends in the file."""
        ends = [0]
        for starts, counts in ((STRIPS, STRIP_BYTES), (TILES, TILE_BYTES)):
            ends += [start + count for start, count in zip(self.numbers(starts), self.numbers(counts), strict=False)]
        return max(ends)

    def text(self, tag: int) -> str:
        """The text of a tag on one line, or ""."""
        value = self.get(tag)
        text = value.split(b"\0")[0].decode("utf-8", "ignore") if isinstance(value, bytes) else ""
        return "".join(letter for letter in text if letter.isprintable()).strip()[:LONGEST_TEXT]


def read_camera(block: bytes) -> Camera:
    """An Exif block (or a whole TIFF) -> what the camera wrote; a block that cannot be read counts as none."""
    try:
        tags = read_directory(block)
        inner = read_directory(block, tags.number(EXIF)) if EXIF in tags else Directory()
        index = read_directory(block, inner.number(INTEROPERABILITY)) if INTEROPERABILITY in inner else Directory()
    except (struct.error, ValueError):
        return Camera()
    stated = {1: "sRGB", 0xFFFF: "uncalibrated"}.get(inner.number(COLOUR_SPACE), "")
    if index.text(INDEX) == "R03" and stated != "sRGB":
        stated = "DCF optional"
    return Camera(tags.text(MODEL), inner.text(TAKEN), tags.number(ORIENTATION, 1), stated)


def read_directory(block: bytes, position: int | None = None) -> Directory:
    """One directory of a TIFF structure, by default the first; numbers and fractions as tuples, all else as bytes.

    Raises
    ------
    ValueError, struct.error
        The block has no such structure, or ends too early.
    """
    if block[:4] not in (b"II*\0", b"MM\0*"):
        raise ValueError("no TIFF structure")
    order = "<" if block[:1] == b"I" else ">"
    if position is None:
        position = struct.unpack_from(order + "I", block, 4)[0]
    tags = Directory()
    end = position + 2 + 12 * struct.unpack_from(order + "H", block, position)[0]
    for entry in range(position + 2, end, 12):
        tag, kind, count = struct.unpack_from(order + "HHI", block, entry)
        if tag in WANTED and tag not in tags:
            tags[tag] = _value(block, order, kind, count, entry + 8)
    tags.following = struct.unpack_from(order + "I", block, end)[0]
    return tags


def _value(block: bytes, order: str, kind: int, count: int, position: int) -> Any:
    size = SIZES.get(kind, 0) * count
    if size > 4:  # what does not fit into the entry lies elsewhere
        position = struct.unpack_from(order + "I", block, position)[0]
    if position + size > len(block):
        return b""
    if kind in NUMBERS:
        return struct.unpack_from(f"{order}{count}{NUMBERS[kind]}", block, position)
    if kind in RATIONALS:
        parts = struct.unpack_from(f"{order}{2 * count}{RATIONALS[kind]}", block, position)
        return tuple(above / below if below else math.nan for above, below in zip(parts[::2], parts[1::2], strict=True))
    return block[position : position + size]
