"""DNG files: the sensor's own numbers, without a phone's tone curve, as RGB of half the size.

Each square of two by two filters becomes one pixel, so nothing is interpolated. A channel that the sensor could not
hold is at full scale, whatever the white balance does. Source: DNG specification 1.7, chapters 3, 4 and 6.
"""

from __future__ import annotations

import io
import os
import struct
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import exif
from .errors import FileError
from .exif import Directory, read_camera, read_directory
from .header import DEVELOP, Header, cut_short, damaged
from .icc import D50, D65, SRGB_XY, ColourSpace, colour_space, primaries_to_xyz, to_d65

MOSAIC, LINEAR = 32803, 34892  # the two kinds of raw picture, by their photometric interpretation
RAW_PHOTOMETRIC = (MOSAIC, LINEAR)
BAYER = ((0, 1, 1, 2), (1, 0, 2, 1), (1, 2, 0, 1), (2, 1, 1, 0))
UNPACKED, LOSSLESS = 1, 7  # compression: none, lossless JPEG
LARGEST_LINEAR = 50_000_000  # px, of three numbers each
MOST_DIRECTORIES = 16
TEMPERATURES = {17: 2856, 3: 2856, 24: 3200, 18: 4874, 23: 5003, 20: 5503, 1: 5503, 4: 5503, 21: 6504, 22: 7504}  # K
DAYLIGHT = 6504  # K
FULL = 0.985  # of the way from black to white: from here on a filter may have been full
COMPLAINTS = (b"Unexpected end of file", b"data corrupted at", b"Corrupt data near")  # LibRaw's
STRIP = 128  # rows of the picture at a time


def read_dng(data: bytes, tags: Directory) -> Header:
    """The bytes of a DNG and its first directory -> what they say of the sensor's picture.

    Raises
    ------
    FileError
        There is no such picture, it is cut short, or its filters, numbers or packing are of a kind that is not read.
    """
    try:
        picture = _sensor_picture(data, tags)
        _check_coding(picture)
        neutral, space = _colours(tags)
    except (struct.error, ValueError, np.linalg.LinAlgError) as error:
        raise damaged() from error
    if picture.end() > len(data):
        raise cut_short()
    _check_packing(data, picture)
    return Header(
        kind="DNG",
        width=picture.number(exif.WIDTH),
        height=picture.number(exif.HEIGHT),
        bits=16,
        camera=read_camera(data),
        space=space,
        neutral=neutral,
    )


def decode_dng(data: bytes, header: Header) -> NDArray[np.uint16]:
    """Linear RGB (h / 2, w / 2, 3), white balanced, as the sensor lay; 65535 where the sensor was full.

    Raises
    ------
    FileError
        The sensor's numbers cannot be unpacked, or are not as many as the header announced.
    """
    import rawpy  # half as long to load as a photo takes to measure

    try:
        with _complaints_are_refusals(), rawpy.RawPy() as raw:
            raw.open_buffer(io.BytesIO(data))
            if (raw.sizes.raw_width, raw.sizes.raw_height) != (header.width, header.height):
                raise damaged()
            raw.unpack()
            return _halved(raw, np.array(header.neutral))
    except (rawpy.LibRawError, rawpy.NotSupportedError, ValueError, MemoryError) as error:
        raise damaged() from error


@contextmanager
def _complaints_are_refusals() -> Iterator[None]:
    """Refuse what LibRaw fills up with black: it tells of a broken stream on the error channel only."""
    channel = os.dup(2)
    with tempfile.TemporaryFile() as heard:
        os.dup2(heard.fileno(), 2)
        try:
            yield
        finally:
            os.dup2(channel, 2)
            heard.seek(0)
            said = heard.read()
            complaint = any(words in said for words in COMPLAINTS)
            if not complaint:
                os.write(channel, said)  # another thread's
            os.close(channel)
    if complaint:
        raise damaged()


def _sensor_picture(data: bytes, tags: Directory) -> Directory:
    """The directory of the largest full picture from the sensor; the others are previews."""
    places = tags.numbers(exif.DIRECTORIES)[:MOST_DIRECTORIES]
    directories = [tags, *(read_directory(data, place) for place in places)]
    found = [one for one in directories if one.number(exif.PHOTOMETRIC) in RAW_PHOTOMETRIC]
    full = [one for one in found if not one.number(exif.SUBFILE) & 1]
    if not full:
        raise FileError("There is no picture from the sensor in the DNG.", DEVELOP)
    return max(full, key=lambda one: one.number(exif.WIDTH) * one.number(exif.HEIGHT))


def _check_coding(picture: Directory) -> None:
    linear = picture.number(exif.PHOTOMETRIC) == LINEAR
    samples, pixels = picture.number(exif.SAMPLES, 1), picture.number(exif.WIDTH) * picture.number(exif.HEIGHT)
    filters = tuple(picture.get(exif.FILTER_COLOURS) or b"")
    if not linear and (picture.numbers(exif.FILTERS) != (2, 2) or filters not in BAYER or samples != 1):
        raise FileError("The sensor's colour filters do not lie in the usual squares of four.", DEVELOP)
    if linear and (samples != 3 or pixels > LARGEST_LINEAR):
        raise FileError("The DNG holds a developed picture that is not in three colours, or too large.", DEVELOP)
    if any(kind != 1 for kind in picture.numbers(exif.SAMPLE_FORMAT)):
        raise FileError("The DNG is coded in floating-point numbers.", DEVELOP)
    if picture.number(exif.COMPRESSION, 1) not in (UNPACKED, LOSSLESS):
        raise FileError("The DNG is packed with loss or in a way that is not read.", DEVELOP)
    if not all(8 <= bits <= 16 for bits in picture.numbers(exif.BITS) or (1,)):
        raise damaged()


def _check_packing(data: bytes, picture: Directory) -> None:
    """Refuse strips and tiles that are not there or not what they are said to be; LibRaw would make them black."""
    starts = picture.numbers(exif.STRIPS) or picture.numbers(exif.TILES)
    sizes = picture.numbers(exif.STRIP_BYTES) or picture.numbers(exif.TILE_BYTES)
    needed = picture.number(exif.WIDTH) * picture.number(exif.HEIGHT) * sum(picture.numbers(exif.BITS)) // 8
    packed = picture.number(exif.COMPRESSION, 1) == LOSSLESS
    if not packed and sum(sizes) < needed:
        raise damaged()
    if packed and not all(data[start : start + 2] == b"\xff\xd8" for start in starts):
        raise damaged()


def _colours(tags: Directory) -> tuple[tuple[float, float, float], ColourSpace]:
    """What the sensor reads of white (largest 1), and the meaning of its numbers once that is made 1, 1, 1.

    Of two calibrations the one nearer to daylight is taken: D65 is what is asked for, and the card corrects the rest.
    """
    second = _near_daylight(tags, exif.LIGHT_2) < _near_daylight(tags, exif.LIGHT_1)
    first_tags = exif.MATRIX_1, exif.CALIBRATION_1, exif.FORWARD_1
    pick = (exif.MATRIX_2, exif.CALIBRATION_2, exif.FORWARD_2) if second else first_tags
    matrix, calibration, forward = (_square(tags, tag) for tag in pick)
    steps = np.linspace(0, 1, 65536)[:, None].repeat(3, axis=1)
    own = np.diag(tags.fractions(exif.BALANCE)[:3] or (1, 1, 1)) @ (np.eye(3) if calibration is None else calibration)
    neutral = _neutral(tags, None if matrix is None else own @ matrix)
    red, green, blue = (float(one) for one in neutral / neutral.max())
    stated = red, green, blue
    if matrix is None:
        flags = ("the DNG has no colour matrix; the primaries of sRGB assumed",)
        return stated, colour_space("camera RGB, linear", steps, primaries_to_xyz(SRGB_XY), flags)
    if forward is not None:
        reference = np.linalg.inv(own)
        to_xyz = to_d65(D50) @ forward @ np.diag(1 / (reference @ neutral)) @ reference @ np.diag(neutral)
    else:
        to_xyz = np.linalg.inv(own @ matrix) @ np.diag(neutral)
        to_xyz = to_d65(to_xyz.sum(axis=1)) @ to_xyz
    white = to_xyz.sum(axis=1)
    if not np.isfinite(to_xyz).all() or white.min() <= 0:
        raise damaged()
    return stated, colour_space("camera RGB, linear", steps, to_xyz * (D65 / white)[:, None], ())


def _near_daylight(tags: Directory, light: int) -> float:
    """How far a calibration's light is from daylight, in reciprocal kelvin; without end if there is none."""
    kelvin = TEMPERATURES.get(tags.number(light), 0)
    return abs(1 / kelvin - 1 / DAYLIGHT) if kelvin else np.inf


def _square(tags: Directory, tag: int) -> NDArray[np.float64] | None:
    numbers = tags.fractions(tag)
    if not numbers:
        return None
    matrix = np.array(numbers).reshape(3, 3)
    if not np.isfinite(matrix).all() or abs(np.linalg.det(matrix)) < 1e-4:
        raise damaged()
    return matrix


def _neutral(tags: Directory, to_camera: NDArray[np.float64] | None) -> NDArray[np.float64]:
    """Camera RGB of white as shot; else of the stated white, or of D65, through the matrix; else even."""
    neutral = np.array(tags.fractions(exif.NEUTRAL))
    xy = tags.fractions(exif.WHITE_XY)
    if not len(neutral):
        xyz = D65 if len(xy) != 2 else np.array([xy[0], xy[1], 1 - xy[0] - xy[1]])
        neutral = np.ones(3) if to_camera is None else to_camera @ xyz
    if neutral.shape != (3,) or not (neutral > 0.02 * neutral.max()).all():
        raise damaged()
    return neutral


def _halved(raw: Any, neutral: NDArray[np.float64]) -> NDArray[np.uint16]:
    """The mean of each colour in every square of two by two; no number leaves the range of its channel.

    The channel that needs the most gain spans the codes, and the others end below: white stays white and no light that
    the sensor held is cut off. What it could not hold is told by the code of full scale.
    """
    sensor, pattern = raw.raw_image_visible, raw.raw_pattern
    black, white = np.array(raw.black_level_per_channel, float), float(raw.white_level)
    span = white - (black if pattern is None else np.full(4, black.max()))  # chapter 5: of each plane
    rows, columns = sensor.shape[0] // 2, sensor.shape[1] // 2
    if not rows or not columns or span.min() < 16:
        raise damaged()
    half = np.empty((rows, columns, 3), np.uint16)
    for channel, gain in enumerate(65535 * neutral.min() / neutral):
        for top in range(0, rows, STRIP):
            part = sensor[2 * top : 2 * min(top + STRIP, rows), : 2 * columns]
            cells = [(cell - black[at]) / span[at] for cell, at in _cells(part, pattern, channel)]
            codes = np.clip(np.mean(cells, axis=0), 0, 1) * gain + 0.5
            codes[np.max(cells, axis=0) >= FULL] = 65535
            half[top : top + STRIP, :, channel] = codes
    return half


def _cells(
    part: NDArray[np.uint16], pattern: NDArray[np.uint8] | None, channel: int
) -> Iterator[tuple[NDArray[np.float32], int]]:
    """The numbers of one colour from every square, and whose black level is theirs; greens are numbered 1 and 3."""
    for row, column in ((0, 0), (0, 1), (1, 0), (1, 1)):
        cell = part[row::2, column::2].astype(np.float32)
        if pattern is None:
            yield cell[..., channel], channel
        elif pattern[row, column] == channel or (channel == 1 and pattern[row, column] == 3):
            yield cell, int(pattern[row, column])
