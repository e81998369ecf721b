"""HEIC files (ISO/IEC 23008-12): what they say of their primary picture, and its pixels as they are coded.

The container's own turning and mirroring hold, and Exif's orientation does not count there. Pictures coded in HEVC are
read, whole or as a grid of tiles; what else the container may hold is refused before a decoder sees it. A stream of
more pixels than its item announces is left to libheif, which refuses it before it takes memory.
"""

from __future__ import annotations

import struct
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..errors import FileError
from ..messages.message import Flag, flag
from .header import GAIN_MAP, SRGB_TRANSFER, Header, coding_independent, damaged, greyscale
from .isobmff import BoxItem, Container, content, read_container
from .tiff_tags import Camera, read_camera

CODED = (b"hvc1", b"hev1")
LARGEST_BLOCK = 64  # px; HEVC codes whole blocks, so a stream is a little larger than its picture
TILES_OVER, SPARE_TILES = 4, 4_000_000  # tiles may have so many times the picture's pixels, and so many px more
CROPPED = 2  # a picture may be cropped to one pixel in so many
# ITU-T H.273, tables 2 and 3: what video encoders write, and the numbers for "unspecified".
VIDEO_PRIMARIES, VIDEO_TRANSFERS = (1, 2, 5, 6), (1, 2, 6, 13, 14, 15)
# In the kind of an auxiliary picture: ISO 21496-1; ISO/IEC 23008-12, 6.5.8.
GAIN_MAP_KINDS, ALPHA_KINDS = (b":hdrgainmap", b":21496:"), (b":2015:auxid:1", b":auxiliary:alpha")


def read_heif(data: bytes) -> Header:
    """The bytes of a HEIC file -> what they say of the primary picture.

    Raises
    ------
    FileError
        The file is cut short or contradicts itself, or its picture is a film, AVIF, greyscale or coded in a way that
        is not read.
    """
    box = read_container(data)
    if box is None:
        raise FileError("film-or-burst", "save-as-jpeg")
    primary = box.items[box.primary]
    try:
        parts = _coded_parts(data, box)
        _check_streams(data, parts)
        width, height = _sides(primary)
        profile, stated, flags = _colours(primary, parts[0])
    except (ValueError, IndexError, struct.error) as error:
        raise damaged() from error
    if _beside(box, ALPHA_KINDS):
        raise FileError("partly-transparent", "save-as-rgb")
    gain_map = _beside(box, GAIN_MAP_KINDS) or any(item.kind == b"tmap" for item in box.items.values())
    camera = _camera(data, box)
    return Header(
        kind="HEIC",
        width=width,
        height=height,
        bits=_bits(parts[0]),
        camera=camera,
        profile=profile,
        stated=stated or camera.colour_space,
        flags=(*flags, *([GAIN_MAP] if gain_map else [])),
    )


def decode_heif(data: bytes, header: Header) -> NDArray[Any]:
    """The pixels (h, w, 3) of the primary picture, upright: uint8, or uint16 with the bits at the top.

    Raises
    ------
    FileError
        The picture cannot be decoded, or is not the one that its header announced.
    """
    import pillow_heif  # it loads PIL, which photos of other kinds do without

    try:
        file = pillow_heif.open_heif(data, convert_hdr_to_8bit=False)
        picture = file[file.primary_index]
        mode, pixels = picture.mode, np.asarray(picture)
    except (ValueError, OSError, RuntimeError, EOFError, SyntaxError, IndexError, MemoryError) as error:
        raise damaged() from error
    if mode[0] in "LI":
        raise greyscale()
    depth = np.uint8 if header.bits == 8 else np.uint16
    if pixels.dtype != depth or pixels.shape != (header.height, header.width, 3):
        raise damaged()
    return pixels


def _coded_parts(data: bytes, box: Container) -> list[BoxItem]:
    """The primary picture as it is coded: itself, or the tiles of its grid, sizes checked (23008-12, 6.6.2.3)."""
    primary = box.items[box.primary]
    tiles = [box.items[number] for number in box.to(b"dimg", box.primary) if number in box.items]
    parts = tiles if primary.kind == b"grid" else [primary]
    kinds = {part.kind for part in parts} - {*CODED}
    if kinds:
        name = "AVIF" if b"av01" in kinds else f"HEIF ({_text(min(kinds))})"
        raise FileError("format-not-read", "save-as-jpeg", format=name)
    if primary.kind == b"grid":
        _check_grid(content(data, primary), primary, tiles)
    return parts


def _check_grid(layout: bytes, primary: BoxItem, tiles: list[BoxItem]) -> None:
    flags, rows, columns = layout[1], layout[2] + 1, layout[3] + 1
    width, height = struct.unpack_from(">II" if flags & 1 else ">HH", layout, 4)
    sides = {_extent(tile) for tile in tiles}
    if (width, height) != _extent(primary) or len(tiles) != rows * columns or len(sides) != 1:
        raise damaged()
    across, down = sides.pop()
    if across * down * rows * columns > TILES_OVER * width * height + SPARE_TILES:
        raise damaged()


def _check_streams(data: bytes, parts: list[BoxItem]) -> None:
    """Refuse streams whose units (ISO/IEC 14496-15, 8.3.3) do not end where they should, and ones without colour."""
    for part in parts:
        configuration, coded, at = part.property(b"hvcC") or b"", content(data, part), 0
        if not configuration[16] & 3:  # the chroma format
            raise greyscale()
        length_size = (configuration[21] & 3) + 1
        while at < len(coded):
            size = int.from_bytes(coded[at : at + length_size], "big")
            at += length_size + size
            if not size or at > len(coded):
                raise damaged()


def _extent(item: BoxItem) -> tuple[int, int]:
    """Width and height of an item before it is cropped or turned (23008-12, 6.5.3)."""
    width, height = struct.unpack_from(">II", item.property(b"ispe") or b"", 4)
    return width, height


def _sides(item: BoxItem) -> tuple[int, int]:
    """Width and height after the item's cropping and turning, in the order of its properties (23008-12, 6.5)."""
    whole = width, height = _extent(item)
    for name, value in item.properties:
        if name == b"clap":
            across, by, down, by_too = struct.unpack_from(">4I", value)
            if not by or not by_too:
                raise damaged()
            width, height = across // by, down // by_too
        elif name == b"irot" and value[0] & 1:
            width, height = height, width
    padded = (whole[0] - LARGEST_BLOCK) * (whole[1] - LARGEST_BLOCK)
    if CROPPED * width * height < padded:  # a small view of what may be a picture too large for the limits
        raise damaged()
    return width, height


def _bits(part: BoxItem) -> int:
    """Bits per colour (ISO/IEC 14496-15, 8.3.3)."""
    return 8 + ((part.property(b"hvcC") or bytes(18))[17] & 7)


def _colours(primary: BoxItem, part: BoxItem) -> tuple[bytes | None, str, tuple[Flag, ...]]:
    """Profile, stated colours and flags of the colour boxes; a profile goes before numbers (23008-12, 6.5.5)."""
    boxes = [value for name, value in (*primary.properties, *part.properties) if name == b"colr"]
    profile = next((value[4:] for value in boxes if value[:4] in (b"prof", b"rICC")), None)
    numbers = next((struct.unpack_from(">HH", value, 4) for value in boxes if value[:4] == b"nclx"), None)
    stated, flags = _stated(*numbers) if numbers else ("", ())
    if profile is None or stated == "HDR":
        return None, stated, flags
    return profile, "", ()


def _stated(primaries: int, transfer: int) -> tuple[str, tuple[Flag, ...]]:
    """Stills are coded with the tone curve of sRGB, whatever a phone's video encoder writes beside them."""
    stated = coding_independent(primaries, transfer)
    if stated == "other" and transfer in VIDEO_TRANSFERS:
        if primaries in VIDEO_PRIMARIES:
            return "video", ()
        if coding_independent(primaries, SRGB_TRANSFER) != "other":
            return coding_independent(primaries, SRGB_TRANSFER), (flag("video-curve-stated"),)
    return stated, ()


def _camera(data: bytes, box: Container) -> Camera:
    """What the camera wrote: Exif behind four bytes that say how far (23008-12, annex A.2.1)."""
    for number in box.referring(b"cdsc", box.primary):
        item = box.items.get(number)
        if item is not None and item.kind == b"Exif":
            block = content(data, item)
            start = 4 + int.from_bytes(block[:4], "big")
            return replace(read_camera(block[start:].removeprefix(b"Exif\0\0")), orientation=1)
    return Camera()


def _beside(box: Container, marks: tuple[bytes, ...]) -> bool:
    """Whether an auxiliary picture of one of these kinds lies beside the primary one."""
    beside = [box.items[number] for number in box.referring(b"auxl", box.primary) if number in box.items]
    return any(mark in (item.property(b"auxC") or b"") for item in beside for mark in marks)


def _text(kind: bytes) -> str:
    return "".join(letter for letter in kind.decode("ascii", "ignore") if letter.isprintable())
