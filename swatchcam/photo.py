"""A picture file -> upright RGB as coded, with the way from its code values to linear light and XYZ.

The only module that knows how pictures are stored. Nothing is converted here: 12 million pixels stay 8 bit
integers, and the few that are measured go through `linear`.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from .icc import read_profile, srgb

LARGEST_FILE = 200_000_000  # bytes
LARGEST_PICTURE = 120_000_000  # pixels
SMALLEST_SIDE = 600  # pixels, of the long side
SMALL_SIDE = 1600  # pixels, of the long side
DECODE = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_ANYDEPTH | cv2.IMREAD_IGNORE_ORIENTATION
NEXT_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
ORIENTATION, MODEL, EXIF, TAKEN, COLOUR_SPACE = 0x0112, 0x0110, 0x8769, 0x9003, 0xA001


@dataclass(frozen=True)
class Photo:
    """A photo as its file codes it, upright.

    `pixels` (h, w, 3) uint8 or uint16 RGB, read-only; `decode` (256 or 65536, 3) code value -> linear light
    0..1 in the file's own primaries; `to_xyz` (3, 3) linear RGB -> XYZ, D65/2, Y = 100 of (1, 1, 1).
    `flags` are weaknesses in words.
    """

    path: str
    pixels: NDArray[Any]
    decode: NDArray[np.float32]
    to_xyz: NDArray[np.float64]
    colour_space: str
    camera: str
    taken: str
    digest: str
    flags: tuple[str, ...]


def read_photo(path: str | Path) -> Photo:
    """A picture file -> `Photo`."""
    data = Path(path).read_bytes()
    from io import BytesIO

    from PIL.JpegImagePlugin import JpegImageFile

    header = JpegImageFile(BytesIO(data))
    exif = header.getexif()
    pixels = _upright(cv2.imdecode(np.frombuffer(data, np.uint8), DECODE), exif.get(ORIENTATION, 1))
    pixels.setflags(write=False)
    profile = header.info.get("icc_profile")
    space = read_profile(profile, 256) if profile else srgb(256, "sRGB (assumed)", ("no colour profile; sRGB assumed",))
    return Photo(
        str(path),
        pixels,
        space.decode,
        space.to_xyz,
        space.name,
        str(exif.get(MODEL, "")).strip(),
        str(exif.get_ifd(EXIF).get(TAKEN, "")).strip(),
        hashlib.sha256(data).hexdigest(),
        space.flags,
    )


def linear(photo: Photo, coded: NDArray[Any]) -> NDArray[np.float32]:
    """Coded RGB (..., 3) of the photo -> linear light (..., 3), float32, 0..1."""
    flat = np.ascontiguousarray(coded).reshape(-1, 1, 3)
    if flat.dtype == np.uint8:
        return np.asarray(cv2.LUT(flat, photo.decode[None])).reshape(coded.shape)
    return np.stack([photo.decode[flat[..., i], i] for i in range(3)], axis=-1).reshape(coded.shape)


def _upright(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Undo the camera's orientation (Exif 2.32, tag 0x0112)."""
    if orientation in (5, 6, 7, 8):
        pixels = cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE)
        orientation = {5: 2, 6: 1, 7: 4, 8: 3}[orientation]
    if orientation == 3:
        return cv2.rotate(pixels, cv2.ROTATE_180)
    if orientation in (2, 4):
        return cv2.flip(pixels, 1 if orientation == 2 else 0)
    return pixels
