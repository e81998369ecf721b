"""From the bytes of a file to its pixels, upright: JPEG, PNG and TIFF by OpenCV, others by their own modules.

BGR exists here only.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from ..errors import FileError
from .dng_develop import decode_dng
from .header import Header, damaged, greyscale
from .heif import decode_heif

ENOUGH_SIDE = 1900  # px of the long side that are left of a shrunk JPEG at least
GREY_STEP = 32  # pixels; a look at every 32nd tells whether a photo has colour


def decode(data: bytes, header: Header) -> NDArray[Any]:
    """The pixels of a file, (h, w, 3) uint8 or uint16 RGB, upright and read-only.

    Raises
    ------
    FileError
        The picture cannot be decoded, is not the one that the header announced, or has no colour.
    """
    if header.kind == "HEIC":
        pixels = decode_heif(data, header)
    elif header.kind == "DNG":
        pixels = decode_dng(data, header)
    else:
        pixels = _by_opencv(data, header)
    # A grey that was coded in colours comes back with up to one code of eight bits between its channels.
    few = pixels[::GREY_STEP, ::GREY_STEP].astype(np.int32)
    if np.abs(np.diff(few, axis=2)).max() <= np.iinfo(pixels.dtype).max // 255:
        raise greyscale()
    if header.kind != "TIFF":
        pixels = _upright(pixels, header.camera.orientation)
    pixels.setflags(write=False)
    return pixels


def _by_opencv(data: bytes, header: Header) -> NDArray[Any]:
    coded = np.frombuffer(data, np.uint8)
    with _quiet():
        # OpenCV turns a TIFF upright itself, whatever it is told; the others wait for `_upright`.
        pixels = _decode_tiff(coded) if header.kind == "TIFF" else _decode_other(coded, shrinking(header))
    if pixels is None or not _as_announced(pixels, header):
        raise damaged()
    return pixels


def _as_announced(pixels: NDArray[Any], header: Header) -> bool:
    """Whether the decoder found what the header said: size (of a TIFF perhaps turned), three colours, bits."""
    by = shrinking(header)
    sides = (-(-header.height // by), -(-header.width // by), 3)
    turned = (header.width, header.height, 3) if header.kind == "TIFF" else sides
    return pixels.shape in (sides, turned) and pixels.dtype == {8: np.uint8, 16: np.uint16}[header.bits]


def shrinking(header: Header) -> int:
    """1, 2, 4 or 8: by how much a JPEG is shrunk while it is decoded, keeping ENOUGH_SIDE pixels and more.

    The decoder averages what it never unpacks, in half the time and a quarter of the memory. The mean is taken over
    neighbours of the sensor's own grid, whose colour the camera has interpolated already; a patch of the card keeps
    a thousand pixels and more.
    """
    if header.kind != "JPEG":
        return 1
    return max(by for by in (1, 2, 4, 8) if by == 1 or max(header.width, header.height) >= by * ENOUGH_SIDE)


def _decode_other(coded: NDArray[np.uint8], by: int) -> NDArray[Any] | None:
    if by == 1:
        return _imdecode(coded, cv2.IMREAD_COLOR_RGB | cv2.IMREAD_ANYDEPTH | cv2.IMREAD_IGNORE_ORIENTATION)
    shrink = {2: cv2.IMREAD_REDUCED_COLOR_2, 4: cv2.IMREAD_REDUCED_COLOR_4, 8: cv2.IMREAD_REDUCED_COLOR_8}[by]
    pixels = _imdecode(coded, shrink | cv2.IMREAD_IGNORE_ORIENTATION)
    return None if pixels is None else cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB, dst=pixels)


def _decode_tiff(coded: NDArray[np.uint8]) -> NDArray[Any] | None:
    """RGB of a TIFF. OpenCV gives 16-bit TIFF in RGB order as memory that was never written, so BGR it is."""
    pixels = _imdecode(coded, cv2.IMREAD_UNCHANGED)
    if pixels is None or pixels.ndim != 3:
        return None
    if pixels.shape[2] == 4 and (pixels[..., 3] != np.iinfo(pixels.dtype).max).any():
        # TIFF may hold colours that alpha has darkened already, and OpenCV darkens the others.
        raise FileError("partly-transparent", "save-as-rgb")
    return cv2.cvtColor(pixels, cv2.COLOR_BGR2RGB if pixels.shape[2] == 3 else cv2.COLOR_BGRA2RGB)


def _imdecode(coded: NDArray[np.uint8], flags: int) -> NDArray[Any] | None:
    try:
        return cv2.imdecode(coded, flags)
    except cv2.error:
        return None


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep OpenCV's own words about a damaged file off the screen: the refusal says it better."""
    log: Any = getattr(cv2.utils, "logging", cv2)  # moved from version 4 to 5
    level = log.getLogLevel()
    log.setLogLevel(0)  # silent
    try:
        yield
    finally:
        log.setLogLevel(level)


def _upright(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Undo the camera's orientation (Exif 2.32, tag 0x0112); a number that is none counts as upright."""
    if orientation in (5, 6, 7, 8):
        pixels = cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE)
        orientation = {5: 2, 6: 1, 7: 4, 8: 3}[orientation]
    if orientation == 3:
        return cv2.rotate(pixels, cv2.ROTATE_180)
    if orientation in (2, 4):
        return cv2.flip(pixels, 1 if orientation == 2 else 0)
    return pixels
