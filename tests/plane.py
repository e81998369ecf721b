"""The card, the cloth and the ink, drawn square-on from spectra.

A `Sheet` is a picture of the card's plane. Rectangles are drawn with exact coverage, so an edge lies where its
millimetres say, to a small fraction of a pixel. What a pixel holds is the camera's answer to a reflectance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from spectra import Array

Answer = Callable[[Array], Array]  # (..., 81) reflectance -> (..., 3) camera RGB
Rect = tuple[float, float, float, float]  # x, y, w, h in mm


@dataclass
class Sheet:
    """A region of the plane: `pixels` (h, w, 3) float32, its top-left corner at `origin` mm, `scale` px per mm."""

    pixels: NDArray[np.float32]
    origin: tuple[float, float]
    scale: float

    def cover(self, rect: Rect) -> tuple[slice, slice, NDArray[np.float32], NDArray[np.float32]] | None:
        """Rows and columns touched by a rectangle, and the covered part of each; None if it lies outside."""
        x, y, w, h = rect
        across = _coverage((x - self.origin[0]) * self.scale, w * self.scale, self.pixels.shape[1])
        down = _coverage((y - self.origin[1]) * self.scale, h * self.scale, self.pixels.shape[0])
        if across is None or down is None:
            return None
        return down[0], across[0], down[1], across[1]

    def paint(self, rect: Rect, colour: Array) -> None:
        """Fill a rectangle with one colour, (3,) or a picture of the covered pixels."""
        found = self.cover(rect)
        if found is None:
            return
        rows, columns, down, across = found
        self.blend(rows, columns, np.outer(down, across), colour)

    def blend(self, rows: slice, columns: slice, alpha: NDArray[np.float32], colour: Array) -> None:
        """Lay a colour over part of the sheet, `alpha` saying how much of each pixel it covers."""
        part = self.pixels[rows, columns]
        part += alpha[..., None] * (np.asarray(colour, dtype=np.float32) - part)

    def centres(self, rows: slice, columns: slice) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Millimetres (w,) and (h,) of the pixel centres of a part."""
        xs = (np.arange(columns.start, columns.stop) + 0.5) / self.scale + self.origin[0]
        ys = (np.arange(rows.start, rows.stop) + 0.5) / self.scale + self.origin[1]
        return xs.astype(np.float32), ys.astype(np.float32)


def _coverage(start: float, length: float, count: int) -> tuple[slice, NDArray[np.float32]] | None:
    low, high = max(start, 0.0), min(start + length, float(count))
    if high <= low:
        return None
    first, last = int(np.floor(low)), int(np.ceil(high))
    edges = np.clip(np.arange(first, last + 1), low, high)
    return slice(first, last), np.diff(edges).astype(np.float32)


def tag_modules(family: int, number: int) -> Array:
    """(8, 8) a fiducial's modules, 1 where it is black."""
    dictionary = cv2.aruco.getPredefinedDictionary(family)
    side = dictionary.markerSize + 2
    return (cv2.aruco.generateImageMarker(dictionary, number, side, borderBits=1) == 0).astype(float)


def paint_tag(sheet: Sheet, rect: Rect, modules: Array, black: Array) -> None:
    """Print a fiducial; neighbouring modules leave no seam, as each pixel's black share is summed first."""
    found = sheet.cover(rect)
    if found is None:
        return
    rows, columns, _, _ = found
    x, y, w, h = rect
    across = _shares(sheet, columns, x, w / modules.shape[1], modules.shape[1], 0)
    down = _shares(sheet, rows, y, h / modules.shape[0], modules.shape[0], 1)
    sheet.blend(rows, columns, (down @ modules @ across.T).astype(np.float32), black)


def _shares(sheet: Sheet, part: slice, start: float, side: float, count: int, axis: int) -> Array:
    """(pixels, count) how much of each pixel each module covers."""
    edges = (start + side * np.arange(count + 1) - sheet.origin[axis]) * sheet.scale
    pixels = np.arange(part.start, part.stop)[:, None]
    return np.clip(np.minimum(pixels + 1, edges[1:]) - np.maximum(pixels, edges[:-1]), 0, 1)


@cache
def weave(scale: float, pitch: float, seed: int) -> NDArray[np.float32]:
    """A tile of plain weave, `pitch` mm from thread to thread: mean 0, about -1 to 1."""
    threads, fine = 48, 3
    side = max(round(threads * pitch * scale), threads)
    rng = np.random.default_rng(seed)
    place = (np.arange(side * fine) + 0.5) / (side * fine) * threads
    across = np.abs(np.sin(np.pi * place))  # bright on top of a thread, dark between two
    number = place.astype(int)
    slub = rng.normal(1, 0.12, (2, threads))
    over = (number[:, None] + number[None, :]) % 2 == 0
    warp = across[None, :] * slub[0][number][None, :] * (0.6 + 0.4 * across[:, None])
    weft = across[:, None] * slub[1][number][:, None] * (0.6 + 0.4 * across[None, :])
    tile = cv2.resize(np.where(over, warp, weft), (side, side), interpolation=cv2.INTER_AREA)
    tile = tile - tile.mean()
    return (tile / np.abs(tile).max()).astype(np.float32)


def tiled(tile: NDArray[np.float32], rows: slice, columns: slice) -> NDArray[np.float32]:
    """The part of an endless tiling that falls on a part of a sheet."""
    down = np.arange(rows.start, rows.stop) % tile.shape[0]
    across = np.arange(columns.start, columns.stop) % tile.shape[1]
    return tile[down[:, None], across[None, :]]
