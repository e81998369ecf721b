"""How much darker a lens draws its corners, as a DNG has it written down to be undone.

Source: DNG specification 1.7, chapter 7 (opcode lists, GainMap). Opcodes of other kinds, such as bad pixels, are left
out: a square of two by two stands for itself.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..arrays import Mask

GAIN_MAP = 9
SPACING_AT, GAINS_AT = 40, 76  # bytes from the start of such a map
LARGEST_MAP = 1_000_000  # numbers
LARGEST_GAIN = 100.0
MOST_MAPS, MOST_PLANES = 16, 4  # four of each are usual
NEAREST, FARTHEST = 1e-6, 10.0  # of the sensor's side: how far apart a map's points may be, and how far off it


@dataclass(frozen=True)
class Shading:
    """A coarse map of gains for every `pitch`-th row and column of an area of some planes of the sensor.

    `area` is top, left, bottom, right in px; `gains` (v, h, planes); `spacing` and `origin` of its points are shares
    of the sensor's height and width.
    """

    area: tuple[int, int, int, int]
    planes: range
    pitch: tuple[int, int]
    spacing: tuple[float, float]
    origin: tuple[float, float]
    gains: NDArray[np.float32]


def read_shading(block: bytes) -> tuple[Shading, ...]:
    """The gain maps of an opcode list; none for no bytes.

    Raises
    ------
    ValueError, struct.error
        The list ends too early, or a map makes no sense.
    """
    if not block:
        return ()
    found, at = [], 4
    for _ in range(struct.unpack_from(">I", block)[0]):
        kind, _, _, size = struct.unpack_from(">4I", block, at)
        if at + 16 + size > len(block):
            raise ValueError("an opcode is cut short")
        if kind == GAIN_MAP:
            found.append(_gain_map(block[at + 16 : at + 16 + size]))
        at += 16 + size
    if len(found) > MOST_MAPS:
        raise ValueError("too many gain maps")
    return tuple(found)


def _gain_map(block: bytes) -> Shading:
    top, left, bottom, right, plane, planes, *pitch, down, across = struct.unpack_from(">10I", block)
    *spread, layers = struct.unpack_from(">4dI", block, SPACING_AT)
    if not 0 < down * across * layers <= LARGEST_MAP or min(pitch) < 1 or planes > MOST_PLANES:
        raise ValueError("a gain map of no size")
    stored = np.frombuffer(block, ">f4", down * across * layers, GAINS_AT).reshape(down, across, layers)
    if not (stored > 0).all() or not (stored <= LARGEST_GAIN).all():
        raise ValueError("a gain map of no light")
    gaps = [gap for gap, points in zip(spread, (down, across), strict=False) if points > 1]
    if not all(NEAREST <= gap <= FARTHEST for gap in gaps) or not all(abs(start) <= FARTHEST for start in spread[2:]):
        raise ValueError("a gain map that does not lie on the sensor")
    return Shading(
        area=(top, left, bottom, right),
        planes=range(plane, plane + planes),
        pitch=(pitch[0], pitch[1]),
        spacing=(spread[0], spread[1]),
        origin=(spread[2], spread[3]),
        gains=stored.astype(np.float32),
    )


def shading_at(
    maps: tuple[Shading, ...], at: tuple[NDArray[Any], NDArray[Any]], shape: tuple[int, ...], plane: int
) -> NDArray[np.float32]:
    """The product of all maps for one plane, where a sensor has these rows and columns.

    Parameters
    ----------
    at : rows (r,) and columns (c,) of the active area, px
    shape : height and width of the active area, px
    plane : the colour of a developed picture; 0 for a mosaic

    Returns
    -------
    (r, c) float32, by how much to multiply the light; (1, 1) if there is no map
    """
    gain = np.ones((1, 1), np.float32)
    for one in maps:
        if plane in one.planes:
            inside = [_inside(places, one, axis) for axis, places in enumerate(at)]
            if inside[0].any() and inside[1].any():
                layer = one.gains[..., min(plane - one.planes.start, one.gains.shape[2] - 1)]
                for axis, places in enumerate(at):
                    layer = _between(layer, places, shape[axis], one, axis)
                gain = gain * np.where(np.outer(*inside), layer, np.float32(1))
    return gain


def _inside(places: NDArray[Any], one: Shading, axis: int) -> Mask:
    first, end = one.area[axis], one.area[axis + 2]
    return (places >= first) & (places < end) & ((places - first) % one.pitch[axis] == 0)


def _between(
    layer: NDArray[np.float32], places: NDArray[Any], side: int, one: Shading, axis: int
) -> NDArray[np.float32]:
    """The map at the centres of these pixels along one axis, straight between its points and even beyond them."""
    last = layer.shape[axis] - 1
    if not last:
        return np.repeat(layer, len(places), axis=axis)
    step = np.clip(((places + 0.5) / side - one.origin[axis]) / one.spacing[axis], 0, last)
    below = np.minimum(step.astype(int), last - 1)
    share = (step - below).astype(np.float32)
    share = share[:, None] if axis == 0 else share
    low, high = layer.take(below, axis), layer.take(below + 1, axis)
    return low + (high - low) * share
