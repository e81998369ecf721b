"""A picture file -> upright RGB as coded, with the way from its code values to linear light and XYZ.

Nothing is converted here: 12 million pixels stay the small integers that they are in the file, and the few that
are measured go through `linear`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..errors import FileError
from ..files import disk_cause
from ..messages.message import Flag, flag
from .decode import decode
from .file_formats import read_header
from .header import Header, damaged
from .icc_profile import ColourSpace, display_p3, for_hdr_screens, read_profile, srgb

LARGEST_FILE = 200_000_000  # bytes
LARGEST_PICTURE = 120_000_000  # pixels
SMALLEST_SIDE = 600  # pixels, of the long side
SMALL_SIDE = 1600  # pixels, of the long side
EDGE = 8  # pixels, a block of JPEG: a decoder that makes something up does so by whole blocks


@dataclass(frozen=True)
class Photo:
    """A photo as its file codes it, upright.

    `pixels` (h, w, 3) uint8 or uint16 RGB, read-only; `decode` (256 or 65536, 3) code value -> linear light
    0..1 in the file's own primaries; `to_xyz` (3, 3) linear RGB -> XYZ, D65/2, Y = 100 of (1, 1, 1); `digest`
    is the file's SHA-256; `flags` say why its numbers may be weak. `linear` says that the code itself is proportional
    to light, as the sensor saw it: a raw photo.
    """

    path: str
    pixels: NDArray[Any]
    decode: NDArray[np.float32]
    to_xyz: Array
    colour_space: str
    camera: str
    taken: str
    digest: str
    flags: tuple[Flag, ...]
    linear: bool = False

    @property
    def day(self) -> str:
        """The day it was taken, 2026-01-31, by its camera, else the file's."""
        try:
            return date.fromisoformat(self.taken[:10].replace(":", "-")).isoformat()
        except ValueError:
            return date.fromtimestamp(Path(self.path).stat().st_mtime).isoformat()


def read_photo(path: str | Path) -> Photo:
    """A JPEG, HEIC, DNG, PNG or TIFF file -> `Photo`.

    Raises
    ------
    FileError
        There is no such file, it is not a sound RGB picture of useful size, or its colours have no known meaning.
    """
    try:
        data = _read(Path(path))
        header = read_header(data)
        _check_size(header)
        space = _colour_space(header)
        pixels = decode(data, header)
    except FileError as error:
        error.at("in-photo", photo=path)
        raise
    return Photo(
        path=str(path),
        pixels=pixels,
        decode=space.decode,
        to_xyz=space.to_xyz,
        colour_space=space.name,
        camera=header.camera.model,
        taken=header.camera.taken,
        digest=hashlib.sha256(data).hexdigest(),
        flags=(*space.flags, *_flags(header, pixels)),
        linear=header.kind == "DNG",
    )


def linear(photo: Photo, coded: NDArray[Any]) -> NDArray[np.float32]:
    """Coded RGB of the photo, (..., 3) uint8 or uint16 as in `pixels` -> linear light (..., 3), float32, 0..1."""
    return decoded(coded, photo.decode)


def decoded(coded: NDArray[Any], table: NDArray[np.float32]) -> NDArray[np.float32]:
    """Coded RGB (..., 3) uint8 or uint16 -> what a table (levels, 3) has for each code, same shape."""
    if coded.dtype == np.uint8 and coded.size:
        flat = np.ascontiguousarray(coded).reshape(-1, 1, 3)
        return np.asarray(cv2.LUT(flat, table[None]), np.float32).reshape(coded.shape)
    light = np.empty(coded.shape, np.float32)
    for channel in range(3):
        light[..., channel] = table[coded[..., channel], channel]
    return light


def _read(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise FileError("photo-is-folder", "name-the-photo")
        if path.stat().st_size > LARGEST_FILE:
            raise FileError("photo-file-too-large", "export-as-jpeg", most=LARGEST_FILE)
        return path.read_bytes()
    except FileNotFoundError as error:
        raise FileError("photo-missing", "check-the-photo") from error
    except (OSError, ValueError) as error:
        raise FileError("photo-not-opened", "check-the-photo", cause=disk_cause(error)) from error


def _check_size(header: Header) -> None:
    if not header.width * header.height:
        raise damaged()
    if header.width * header.height > LARGEST_PICTURE:
        raise FileError(
            "too-many-pixels", "take-fewer-pixels", width=header.width, height=header.height, most=LARGEST_PICTURE
        )
    if max(header.width, header.height) < SMALLEST_SIDE:
        raise FileError(
            "too-few-pixels", "use-full-size", width=header.width, height=header.height, least=SMALLEST_SIDE
        )


def _colour_space(header: Header) -> ColourSpace:
    """The meaning of the file's numbers, for as many codes as its pixels have in memory, 256 or 65536."""
    if header.space is not None:
        return header.space
    stored = _stored_space(header)
    if header.bits in (8, 16):
        return stored
    # Ten bits lie at the top of sixteen: whatever is below them, it is the same light.
    decode = stored.decode.repeat(65536 >> header.bits, axis=0)
    decode.setflags(write=False)
    return replace(stored, decode=decode)


def _stored_space(header: Header) -> ColourSpace:
    """For as many codes as are in the file: its profile, what it states otherwise, or sRGB with a flag."""
    levels = 1 << header.bits
    if header.profile is not None:
        return read_profile(header.profile, levels)
    if header.stated == "HDR":
        raise for_hdr_screens()
    if header.stated == "sRGB":
        return srgb(levels)
    if header.stated == "Display P3":
        return display_p3(levels)
    if header.stated in ("DCF optional", "other"):
        raise FileError("colour-space-not-described", "set-camera-to-srgb")
    return srgb(levels, "sRGB (assumed)", (flag("srgb-assumed", stated=header.stated),))


def _flags(header: Header, pixels: NDArray[Any]) -> Iterator[Flag]:
    yield from header.flags
    if header.alpha:
        yield flag("transparency-ignored")
    if max(header.width, header.height) < SMALL_SIDE:
        yield flag("photo-small", width=header.width, height=header.height)
    if header.kind == "JPEG" and _flat_edge(pixels):
        yield flag("edge-of-one-colour")


def _flat_edge(pixels: NDArray[Any]) -> bool:
    """Whether one edge has a single colour that is neither black nor white, as decoders fill in what is missing."""
    edges = pixels[-EDGE:], pixels[:EDGE], pixels[:, -EDGE:], pixels[:, :EDGE]
    return any(len(set(edge[0, 0]) - {0, 255}) > 0 and bool((edge == edge[0, 0]).all()) for edge in edges)
