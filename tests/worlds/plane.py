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

from tests.worlds.spectra import Array

Answer = Callable[[Array], Array]  # (..., 81) reflectance -> (..., 3) camera RGB
Rect = tuple[float, float, float, float]  # x, y, w, h in mm
Part = tuple[slice, slice, NDArray[np.float32], NDArray[np.float32]]  # rows, columns, and how much of each
EDGE = 0.35  # mm; how far the thickness of the stock darkens the cloth
PITCH = 0.36  # mm from thread to thread


@dataclass
class Sheet:
    """A region of the plane: `pixels` (h, w, 3) float32, its top-left corner at `origin` mm, `scale` px per mm."""

    pixels: NDArray[np.float32]
    origin: tuple[float, float]
    scale: float

    def cover(self, rect: Rect) -> Part | None:
        """Rows and columns touched by a rectangle, and the covered part of each; None if it lies outside."""
        x, y, w, h = rect
        across = _coverage((x - self.origin[0]) * self.scale, w * self.scale, self.pixels.shape[1])
        down = _coverage((y - self.origin[1]) * self.scale, h * self.scale, self.pixels.shape[0])
        if across is None or down is None:
            return None
        return down[0], across[0], down[1], across[1]

    def paint(self, rect: Rect, colour: Array, round: bool = False) -> None:
        """Fill a rectangle, or the ellipse in it, with one colour (3,)."""
        found = self.cover(rect)
        if found is None:
            return
        if not round:
            self.fill(found, colour)
            return
        rows, columns = found[:2]
        xs, ys = self.centres(rows, columns)
        x, y, w, h = rect
        radius = np.hypot((xs - x - w / 2) / (w / 2), ((ys - y - h / 2) / (h / 2))[:, None])
        self.blend(rows, columns, np.clip((1 - radius) * min(w, h) / 2 * self.scale + 0.5, 0, 1), colour)

    def fill(self, found: Part, colour: Array) -> None:
        """Fill a covered part with one colour (3,) or with a picture of it (h, w, 3)."""
        rows, columns, down, across = found
        part = self.pixels[rows, columns]
        picture = np.asarray(colour, dtype=np.float32)
        if picture.ndim == 1:  # rows of one colour are copied many times faster than pixels of it
            picture = np.broadcast_to(np.tile(picture, (part.shape[1], 1)), part.shape)
        # Only the outermost pixels are partly covered; blending all of them would take five times as long.
        rim = [(i, slice(None)) for i in {0, len(down) - 1}] + [(slice(1, -1), j) for j in {0, len(across) - 1}]
        for at in rim:
            alpha = (down[at[0]] * across[at[1]])[:, None]
            part[at] += alpha * (picture[at] - part[at])
        part[1:-1, 1:-1] = picture[1:-1, 1:-1]

    def darken_inside(self, rect: Rect, depth: float) -> None:
        """Darken a rectangle towards its rim, as a cut edge of thick stock does to what lies below."""
        found = self.cover(rect)
        if found is None:
            return
        x, y, w, h = rect
        xs, ys = self.centres(found[0], found[1])
        across = 1 - depth * np.exp(-np.minimum(np.abs(xs - x), np.abs(x + w - xs)) / EDGE)
        down = 1 - depth * np.exp(-np.minimum(np.abs(ys - y), np.abs(y + h - ys)) / EDGE)
        self.pixels[found[0], found[1]] *= (down[:, None] * across)[..., None]

    def darken_outside(self, rect: Rect, depth: float) -> None:
        """Darken what lies just outside a rectangle."""
        x, y, w, h = rect
        reach = 5 * EDGE
        wide = w + 2 * reach
        strips = [(x - reach, y - reach, wide, reach), (x - reach, y + h, wide, reach)]
        strips += [(x - reach, y, reach, h), (x + w, y, reach, h)]
        for found in filter(None, map(self.cover, strips)):
            xs, ys = self.centres(found[0], found[1])
            across = np.maximum(np.maximum(x - xs, xs - x - w), 0)
            down = np.maximum(np.maximum(y - ys, ys - y - h), 0)[:, None]
            share = np.outer(found[2], found[3])
            self.pixels[found[0], found[1]] *= (1 - share * depth * np.exp(-np.hypot(across, down) / EDGE))[..., None]

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


def texture(sheet: Sheet, rows: slice, columns: slice, amplitude: float) -> NDArray[np.float32]:
    """(h, w) relative brightness of the cloth's weave on part of a sheet, about 1."""
    if not amplitude:
        return np.ones((rows.stop - rows.start, columns.stop - columns.start), dtype=np.float32)
    return _laid(1 + np.float32(amplitude) * weave(round(sheet.scale, 2), PITCH, 1), rows, columns)


def woven(
    sheet: Sheet, rows: slice, columns: slice, amplitude: float, colour: Array, out: NDArray[np.float32] | None = None
) -> NDArray[np.float32]:
    """(h, w, 3) cloth of a colour (3,) on part of a sheet, in place of what `out` holds if that is given."""
    if not amplitude:
        return tinted(texture(sheet, rows, columns, amplitude), colour)
    tile = 1 + np.float32(amplitude) * weave(round(sheet.scale, 2), PITCH, 1)
    return _laid(tinted(tile, colour), rows, columns, out)


def _laid(
    tile: NDArray[np.float32], rows: slice, columns: slice, out: NDArray[np.float32] | None = None
) -> NDArray[np.float32]:
    """Copies of a tile beside and below each other from pixel (0, 0) on, seen on part of the sheet."""
    down, across = (
        np.arange(part.start, part.stop) % side for part, side in zip((rows, columns), tile.shape, strict=False)
    )
    return np.take(np.take(tile, across, axis=1), down, axis=0, out=out, mode="clip")


def tinted(shade: NDArray[np.float32], colour: Array) -> NDArray[np.float32]:
    """(h, w) brightness times a colour (3,) -> (h, w, 3); many times faster than broadcasting."""
    return cv2.merge([shade * np.float32(channel) for channel in colour])


def times(picture: NDArray[np.float32], field: NDArray[np.float32]) -> NDArray[np.float32]:
    """(h, w, 3) times (h, w)."""
    return cv2.multiply(picture, cv2.merge([field, field, field]))


def film_map(
    sheet: Sheet,
    rows: slice,
    columns: slice,
    shade: NDArray[np.float32],
    uneven: float,
    blotch: float,
    series: Array,
    seed: int,
    taper: float = 0.0,
) -> NDArray[np.float32] | None:
    """(h, w) place on the series of thicknesses: squeegee streaks, blotches, and more paste between threads.

    Over `taper` mm from the edge the film grows from nothing to its thickness.

    None for an even film.
    """
    if not uneven:
        return None
    rng = np.random.default_rng(seed)
    xs, ys = sheet.centres(rows, columns)
    blotches = _blobs(rng, xs, ys, blotch)
    streaks = _blobs(rng, xs, np.zeros(1, dtype=np.float32), 2.5)
    field = 0.7 * blotches + 0.5 * streaks
    if np.ptp(shade) > 0:
        field = field - 0.5 * (shade - 1) / shade.std()
    relative = np.exp(np.float32(uneven) * field - 0.5 * uneven**2)
    if taper:
        inside = np.minimum(np.minimum(xs - xs[0], xs[-1] - xs), np.minimum(ys - ys[0], ys[-1] - ys)[:, None])
        relative = relative * np.minimum(inside / taper, 1)
    step = (relative - series[0]) / (series[1] - series[0])
    return np.clip(step, 0, len(series) - 1).astype(np.float32)


def _blobs(rng: np.random.Generator, xs: Array, ys: Array, size: float) -> NDArray[np.float32]:
    """(h, w) smooth noise with a standard deviation of about 1 and blobs of `size` mm."""
    left, top = float(xs[0]), float(ys[0])
    knots = rng.normal(size=(int(np.ptp(ys) / size) + 5, int(np.ptp(xs) / size) + 5)).astype(np.float32)
    across, down = (xs - left) / size + 1.5, (ys - top) / size + 1.5
    grid = np.dstack(np.meshgrid(across, down)).astype(np.float32)
    # Cubic interpolation between the knots takes a part of their spread away.
    return 1.35 * cv2.remap(knots, grid, None, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)


def ragged(sheet: Sheet, rows: slice, columns: slice, wander: float, seed: int) -> NDArray[np.float32]:
    """(h, w) coverage of a film whose edge runs up to `wander` mm inside the part."""
    rng = np.random.default_rng(seed + 1)
    xs, ys = sheet.centres(rows, columns)
    inside = np.minimum(np.minimum(xs - xs[0], xs[-1] - xs), np.minimum(ys - ys[0], ys[-1] - ys)[:, None])
    bays = np.abs(_blobs(rng, xs, ys, 3.0) + 0.5 * _blobs(rng, xs, ys, 0.8)) * wander / 2
    return np.clip((inside - bays) * sheet.scale + 0.5, 0, 1).astype(np.float32)


def sheen(sheet: Sheet, rows: slice, columns: slice, strength: float, seed: int) -> NDArray[np.float32]:
    """(h, w) light that a wet film mirrors, of white: a broad veil and soft highlights, `strength` on average."""
    xs, ys = sheet.centres(rows, columns)
    waves = _blobs(np.random.default_rng(seed + 3), xs, ys, 14.0)
    veil = np.exp(0.7 * waves)
    return (strength * veil / veil.mean()).astype(np.float32)


def paint_dirt(sheet: Sheet, rows: slice, columns: slice, count: int, colour: Array, seed: int) -> None:
    """Lint on part of a sheet: `count` short fibres."""
    rng = np.random.default_rng(seed + 2)
    height, width = rows.stop - rows.start, columns.stop - columns.start
    alpha = np.zeros((height, width), dtype=np.uint8)
    for _ in range(count):
        at = rng.uniform((0, 0), (width, height))
        heading, bend = rng.uniform(0, 2 * np.pi), rng.normal(0, 0.5)
        steps = np.cumsum([(np.cos(heading + bend * i), np.sin(heading + bend * i)) for i in range(6)], axis=0)
        fibre = at + steps * rng.uniform(0.1, 0.7) * sheet.scale
        thick = max(1, round(0.12 * sheet.scale))
        cv2.polylines(alpha, [np.rint(fibre * 16).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 4)
    sheet.blend(rows, columns, alpha.astype(np.float32) / 255, colour)


def mean_reflectance(table: Array, step: NDArray[np.float32] | None, light: Array, alpha: Array) -> Array:
    """(81,) mean over a film, as painted: rows of `table` at `step`, times `light`, over the sum of `alpha`."""
    if step is None:
        return table[len(table) // 2] * float(light.sum(dtype=float) / alpha.sum(dtype=float))
    low = np.minimum(step.astype(np.int32), len(table) - 2)
    part = (step - low).ravel()
    weight = light.ravel()
    share = np.bincount(low.ravel(), weight * (1 - part), len(table))
    share += np.bincount(low.ravel() + 1, weight * part, len(table))
    return share @ table / alpha.sum(dtype=float)
