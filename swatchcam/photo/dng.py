"""DNG files: what they say of the sensor's picture and of its colours.

Source: DNG specification 1.7, chapters 2 to 4 and 6; colour filters from TIFF/EP.
"""

from __future__ import annotations

import struct

import numpy as np

from ..arrays import Array
from ..errors import FileError
from ..messages.message import flag
from . import tiff_tags as tiff
from .header import Header, cut_short, damaged
from .icc_profile import D50, D65, SRGB_XY, ColourSpace, colour_space, primaries_to_xyz, to_d65
from .tiff_tags import Directory, read_camera, read_directory

MOSAIC, LINEAR = 32803, 34892  # the two kinds of raw picture, by their photometric interpretation
RAW_PHOTOMETRIC = (MOSAIC, LINEAR)
BAYER = ((0, 1, 1, 2), (1, 0, 2, 1), (1, 2, 0, 1), (2, 1, 1, 0))
PREVIEW = 1  # bit of TIFF's NewSubfileType
UNPACKED, LOSSLESS = 1, 7  # compression: none, lossless JPEG
LARGEST_LINEAR = 50_000_000  # px, of three numbers each
MOST_DIRECTORIES = 16  # that are looked into: a picture and its previews are a few
# K, by the number of a light in Exif 2.32 (LightSource); daylight and flash taken as D55, tungsten as A.
TEMPERATURES = {17: 2856, 3: 2856, 24: 3200, 18: 4874, 23: 5003, 20: 5503, 1: 5503, 4: 5503, 21: 6504, 22: 7504}
DAYLIGHT = 6504  # K
SINGULAR = 1e-4  # a matrix of a smaller determinant loses a colour
DARKEST_WHITE = 0.02  # of the largest channel: one that reads less of white cannot be balanced


def read_dng(data: bytes, tags: Directory) -> Header:
    """The bytes of a DNG and its first directory -> what they say of the sensor's picture.

    Raises
    ------
    FileError
        There is no such picture, it is cut short, or its filters, numbers or packing are of a kind that is not read.
    """
    try:
        picture = sensor_picture(data, tags)
        _check_coding(picture)
        neutral, space = _colours(tags)
    except (struct.error, ValueError, np.linalg.LinAlgError) as error:
        raise damaged() from error
    if picture.end() > len(data):
        raise cut_short()
    _check_packing(data, picture)
    return Header(
        kind="DNG",
        width=picture.number(tiff.WIDTH),
        height=picture.number(tiff.HEIGHT),
        bits=16,
        camera=read_camera(data),
        space=space,
        neutral=neutral,
    )


def sensor_picture(data: bytes, tags: Directory) -> Directory:
    """The directory of the largest full picture from the sensor, of all in a file; the others are previews.

    Raises
    ------
    FileError
        There is none.
    ValueError, struct.error
        A directory lies beyond the file.
    """
    places = tags.numbers(tiff.DIRECTORIES)[:MOST_DIRECTORIES]
    directories = [tags, *(read_directory(data, place) for place in places)]
    found = [one for one in directories if one.number(tiff.PHOTOMETRIC) in RAW_PHOTOMETRIC]
    full = [one for one in found if not one.number(tiff.SUBFILE) & PREVIEW]
    if not full:
        raise FileError("dng-without-sensor-picture", "develop-raw")
    return max(full, key=lambda one: one.number(tiff.WIDTH) * one.number(tiff.HEIGHT))


def _check_coding(picture: Directory) -> None:
    linear = picture.number(tiff.PHOTOMETRIC) == LINEAR
    samples, pixels = picture.number(tiff.SAMPLES, 1), picture.number(tiff.WIDTH) * picture.number(tiff.HEIGHT)
    filters = tuple(picture.get(tiff.FILTER_COLOURS) or b"")
    if not linear and (picture.numbers(tiff.FILTERS) != (2, 2) or filters not in BAYER or samples != 1):
        raise FileError("dng-filters-unusual", "develop-raw")
    if linear and (samples != 3 or pixels > LARGEST_LINEAR):
        raise FileError("dng-picture-unusual", "develop-raw")
    if any(kind != 1 for kind in picture.numbers(tiff.SAMPLE_FORMAT)):
        raise FileError("dng-floating-point", "develop-raw")
    if picture.number(tiff.COMPRESSION, 1) not in (UNPACKED, LOSSLESS):
        raise FileError("dng-packed-otherwise", "develop-raw")
    if not all(8 <= bits <= 16 for bits in picture.numbers(tiff.BITS) or (1,)):
        raise damaged()


def _check_packing(data: bytes, picture: Directory) -> None:
    """Refuse strips and tiles that are not there or not what they are said to be; LibRaw would make them black."""
    starts = picture.numbers(tiff.STRIPS) or picture.numbers(tiff.TILES)
    sizes = picture.numbers(tiff.STRIP_BYTES) or picture.numbers(tiff.TILE_BYTES)
    needed = picture.number(tiff.WIDTH) * picture.number(tiff.HEIGHT) * sum(picture.numbers(tiff.BITS)) // 8
    packed = picture.number(tiff.COMPRESSION, 1) == LOSSLESS
    if not packed and sum(sizes) < needed:
        raise damaged()
    if packed and not all(data[start : start + 2] == b"\xff\xd8" for start in starts):
        raise damaged()


def _colours(tags: Directory) -> tuple[tuple[float, float, float], ColourSpace]:
    """What the sensor reads of white (largest 1), and the meaning of its numbers once that is made 1, 1, 1.

    Of two calibrations the one nearer to daylight is taken: D65 is what is asked for, and the card corrects the rest.
    """
    second = _near_daylight(tags, tiff.LIGHT_2) < _near_daylight(tags, tiff.LIGHT_1)
    first_tags = tiff.MATRIX_1, tiff.CALIBRATION_1, tiff.FORWARD_1
    pick = (tiff.MATRIX_2, tiff.CALIBRATION_2, tiff.FORWARD_2) if second else first_tags
    matrix, calibration, forward = (_square(tags, tag) for tag in pick)
    steps = np.linspace(0, 1, 65536)[:, None].repeat(3, axis=1)
    own = np.diag(tags.fractions(tiff.BALANCE)[:3] or (1, 1, 1)) @ (np.eye(3) if calibration is None else calibration)
    neutral = _neutral(tags, None if matrix is None else own @ matrix)
    red, green, blue = (float(one) for one in neutral / neutral.max())
    stated = red, green, blue
    if matrix is None:
        flags = (flag("dng-without-matrix"),)
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


def _square(tags: Directory, tag: int) -> Array | None:
    numbers = tags.fractions(tag)
    if not numbers:
        return None
    matrix = np.array(numbers).reshape(3, 3)
    if not np.isfinite(matrix).all() or abs(np.linalg.det(matrix)) < SINGULAR:
        raise damaged()
    return matrix


def _neutral(tags: Directory, to_camera: Array | None) -> Array:
    """Camera RGB of white as shot; else of the stated white, or of D65, through the matrix; else even."""
    neutral = np.array(tags.fractions(tiff.NEUTRAL))
    xy = tags.fractions(tiff.WHITE_XY)
    if not len(neutral):
        xyz = D65 if len(xy) != 2 else np.array([xy[0], xy[1], 1 - xy[0] - xy[1]])
        neutral = np.ones(3) if to_camera is None else to_camera @ xyz
    if neutral.shape != (3,) or not (neutral > DARKEST_WHITE * neutral.max()).all():
        raise damaged()
    return neutral
