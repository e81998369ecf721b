"""The numbers of a raw photo's sensor -> linear RGB of half the size, without a phone's tone curve.

Each square of two by two filters becomes one pixel, so nothing is interpolated. A channel that the sensor could not
hold is at full scale, whatever the white balance does. Source: DNG specification 1.7, chapters 5 to 7.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from . import tiff_tags as tiff
from .dng import sensor_picture
from .dng_shading import Shading, read_shading, shading_at
from .header import Header, damaged
from .tiff_tags import Directory, read_directory

SQUARE = ((0, 0), (0, 1), (1, 0), (1, 1))
FULL = 0.985  # of the way from black to white: from here on a filter may have been full
LEAST_SPAN = 16  # numbers from black to white; a sensor has hundreds
STRIP = 128  # rows of the picture at a time: the floats of all of them would take more memory than it


def decode_dng(data: bytes, header: Header) -> NDArray[np.uint16]:
    """Linear RGB (h / 2, w / 2, 3), white balanced, as the sensor lay; 65535 where the sensor was full.

    Raises
    ------
    FileError
        The sensor's numbers cannot be unpacked, or are not as many as the header announced.
    """
    import rawpy  # half as long to load as a photo takes to measure

    try:
        picture = sensor_picture(data, read_directory(data))
        shading = read_shading(picture.get(tiff.OPCODES) or b"")
        with rawpy.RawPy() as raw:
            raw.open_buffer(io.BytesIO(data))
            if (raw.sizes.raw_width, raw.sizes.raw_height) != (header.width, header.height):
                raise damaged()
            raw.unpack()  # LibRaw fills up a broken stream with black; rawpy asks for its count of errors, and raises
            return _halved(raw, np.array(header.neutral), shading, _active_area(raw, picture))
    except (rawpy.LibRawError, rawpy.NotSupportedError, struct.error, ValueError, MemoryError) as error:
        raise damaged() from error


def _active_area(raw: Any, picture: Directory) -> tuple[int, int, int, int]:
    """Where LibRaw's picture begins in the active area (an even row and column), and that area's height and width."""
    sizes = raw.sizes
    whole = (0, 0, sizes.raw_height, sizes.raw_width)
    top, left, bottom, right = picture.numbers(tiff.ACTIVE_AREA) or whole
    down, across = sizes.top_margin - top, sizes.left_margin - left
    if min(down, across) < 0 or bottom - top < down + sizes.height or right - left < across + sizes.width:
        raise damaged()
    return down, across, bottom - top, right - left


def _halved(
    raw: Any, neutral: Array, shading: tuple[Shading, ...], area: tuple[int, int, int, int]
) -> NDArray[np.uint16]:
    """The mean of each colour in every square of two by two; no number leaves the range of its channel.

    The channel that needs the most gain spans the codes, and the others end below: white stays white and no light that
    the sensor held is cut off. What it could not hold is told by the code of full scale.
    """
    sensor, pattern = raw.raw_image_visible, raw.raw_pattern
    black, white = np.array(raw.black_level_per_channel, np.float32), np.float32(raw.white_level)
    span = white - (black if pattern is None else np.full(4, black.max()))  # chapter 5: of each plane
    rows, columns = sensor.shape[0] // 2, sensor.shape[1] // 2
    if not rows or not columns or span.min() < LEAST_SPAN:
        raise damaged()
    half = np.empty((rows, columns, 3), np.uint16)
    for channel, gain in enumerate(65535 * neutral.min() / neutral):
        for top in range(0, rows, STRIP):
            part = sensor[2 * top : 2 * min(top + STRIP, rows), : 2 * columns]
            light, full = np.float32(0), np.False_
            cells = list(_cells(part, pattern, channel))
            for cell, level, (row, column) in cells:
                seen = (cell - black[level]) / span[level]
                full = full | (seen >= FULL)
                at = area[0] + 2 * top + np.arange(row, len(part), 2), area[1] + np.arange(column, 2 * columns, 2)
                lit = seen * shading_at(shading, at, area[2:], 0 if pattern is not None else channel)
                full = full | (lit > 1)
                light = light + lit / np.float32(len(cells))
            half[top : top + STRIP, :, channel] = np.where(full, 65535, np.clip(light, 0, 1) * np.float32(gain) + 0.5)
    return half


def _cells(
    part: NDArray[np.uint16], pattern: NDArray[np.uint8] | None, channel: int
) -> Iterator[tuple[NDArray[np.float32], int, tuple[int, int]]]:
    """The numbers of one colour from every square, whose black level is theirs, and their place in the square."""
    for row, column in SQUARE:
        cell = part[row::2, column::2].astype(np.float32)
        if pattern is None:
            yield cell[..., channel], channel, (row, column)
        elif pattern[row, column] == channel or (channel == 1 and pattern[row, column] == 3):
            yield cell, int(pattern[row, column]), (row, column)  # LibRaw numbers the greens 1 and 3
