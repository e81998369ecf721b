"""Photo + pose -> the card square-on, and the mean of every patch and every spot of bare white on it.

Values here are still as the phone coded them, in the file's own linear light (`decode`): the light on the card and
the phone's tone curve come off in `illumination.solve`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Mask
from ..cards.design import A5_WIDTH, Box, CardDesign
from ..errors import LightError
from ..messages.message import Flag, flag
from ..photo.photo import Photo, decoded
from .pose import Pose

FINEST = 7.0  # px per mm of the square-on card; finer costs time and adds nothing
MAP_STEP = 16  # px
WHITE_CELL = 4.0  # mm, on an A5 card; a cell's median is one reading of the bare stock
WHITE_POINTS = 30  # points in a cell
WHITE_STEP, FEWEST_WHITE = 0.4, 20  # mm between points, on an A5 card; points of a cell that is read; no source
CLEARANCE = 1.0  # mm of white between a reading and anything printed or cut, on an A5 card; no source
WINDOW_CLEARANCE = 2.5  # the same beside a window, times that; no source
FULL_SCALE = 0.985  # of the coded range: at or above this a channel may be clipped
NEAR_BLACK = 0.00092  # light, code 3 of 255 in sRGB: lower a channel may have been cut off by the file's colour space
MAX_CLIPPED_WHITE = 0.15  # of the white cells; no source
MAX_CLIPPED_CELL = 0.2  # of a white cell's points; no source
MAX_CLIPPED_PATCH = 0.01  # of a patch's pixels; no source
# A patch is read inside a margin: of its width, at least and at most; times the blur. No source.
MARGIN, MOST_MARGIN, BLUR_MARGIN = 0.15, 0.3, 3.0
FAR_OFF = 3.0  # standard deviations of a patch's pixels: a hair, a speck; no source
ALIKE_PIXELS = 9  # neighbours share their noise after demosaicing and JPEG: so many count as one; no source
MAX_SPREAD, DARK, DARKEST = 0.25, 0.05, 0.02  # of a patch (`Sample.spread`): uneven; light, of full scale; no source
AROUND = (3.5, 5.6)  # mm outside the card: beyond the shadow of its edge
AROUND_LENGTH = 20.0  # mm along the edge that one look takes in
DARKEST_WHITE = 0.08  # linear, of full scale: below this shadows drown in noise


@dataclass(frozen=True)
class Sample:
    """Mean of one printed patch in the file's linear light, 1.0 = full scale."""

    name: str
    at: tuple[float, float]  # mm, centre
    rgb: tuple[float, float, float]
    rgb_std: tuple[float, float, float]  # standard error of the mean
    spread: float  # largest standard deviation of a channel over a 6 x 6 grid of the patch, relative to its mean light
    pixels: int
    clipped: float  # fraction of its pixels at full scale, 0..1

    @property
    def overexposed(self) -> bool:
        """Whether too much of it is at full scale."""
        return self.clipped > MAX_CLIPPED_PATCH

    @property
    def spoilt(self) -> bool:
        """Whether it is uneven: covered, dirty or in glare; in the darkest, noise alone is."""
        return self.spread > MAX_SPREAD and max(self.rgb) > DARK


@dataclass(frozen=True)
class FlatCard:
    """The card seen square-on."""

    pose: Pose
    pixels: NDArray[np.uint8]  # (h, w, 3) as coded; read-only
    px_per_mm: float
    decode: NDArray[np.float32]  # (levels, 3) code -> linear light of the file
    to_xyz: Array  # (3, 3) linear light of the file -> XYZ, D65 and 2 degrees
    samples: tuple[Sample, ...]
    white_at: Array  # (n, 2) mm, read-only
    white_rgb: Array  # (n, 3) file's linear light, read-only
    clipped_at: Array  # (k, 2) mm, white readings at full scale, left out above; read-only
    around_at: Array  # (m, 2) mm, looks at what lies just outside the card; read-only
    around_rgb: Array  # (m, 3) file's linear light, read-only
    flags: tuple[Flag, ...]


def flatten(photo: Photo, pose: Pose) -> FlatCard:
    """Look at the card square-on and read its patches and its bare white.

    Raises
    ------
    LightError
        The bare white is overexposed or nearly black.
    """
    scale = min(pose.px_per_mm, FINEST)
    pixels = square_on(photo, pose, Box(0, 0, *pose.design.size_mm), scale)
    pixels.setflags(write=False)
    at, rgb, clipped = _white(pose.design, pixels, scale, photo.decode)
    if clipped.mean() > MAX_CLIPPED_WHITE:
        raise LightError("white-overexposed", "expose-lower", share=clipped.mean())
    good = ~clipped
    if np.median(rgb[good].max(axis=1)) < DARKEST_WHITE:
        raise LightError("photo-too-dark", "bring-more-light")
    clipped_at, at, rgb = at[clipped], at[good], rgb[good]
    around_at, around_rgb = _around(photo, pose)
    for array in (clipped_at, at, rgb, around_at, around_rgb):
        array.setflags(write=False)
    return FlatCard(
        pose=pose,
        pixels=pixels,
        px_per_mm=scale,
        decode=photo.decode,
        to_xyz=photo.to_xyz,
        samples=tuple(
            _sample(patch.name, patch.box, pixels, scale, photo.decode, pose) for patch in pose.design.patches
        ),
        white_at=at,
        white_rgb=rgb,
        clipped_at=clipped_at,
        around_at=around_at,
        around_rgb=around_rgb,
        flags=(flag("white-partly-overexposed", share=clipped.mean()),) if clipped.any() else (),
    )


def square_on(photo: Photo, pose: Pose, area: Box, px_per_mm: float) -> NDArray[np.uint8]:
    """An area of the card's plane as a picture of round(w·s) by round(h·s) pixels, still as coded.

    Pixel (i, j) shows the point area.x + (j + 0.5) / s, area.y + (i + 0.5) / s. What the photo does not show is black.
    """
    columns, rows = round(area.w * px_per_mm), round(area.h * px_per_mm)
    # The map is smooth: solving it on every 16th pixel and interpolating is ten times faster, and right to 0.01 px.
    cells = (rows // MAP_STEP + 3, columns // MAP_STEP + 3)
    x, y = (
        area_start + ((np.arange(count) - 0.5) * MAP_STEP) / px_per_mm
        for area_start, count in ((area.x, cells[1]), (area.y, cells[0]))
    )
    coarse = pose.to_photo(np.stack(np.meshgrid(x, y), axis=-1)).astype(np.float32)
    full = cv2.resize(coarse, (cells[1] * MAP_STEP, cells[0] * MAP_STEP), interpolation=cv2.INTER_LINEAR)
    fine = full[MAP_STEP : MAP_STEP + rows, MAP_STEP : MAP_STEP + columns]
    # The nearest pixel, as it is: mixing coded neighbours would average outside linear light, and takes longer.
    return cv2.remap(photo.pixels, fine, None, cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT)


def inner(box: Box, margin: float, px_per_mm: float) -> tuple[slice, slice]:
    """Rows and columns of the pixels whose centres lie in a box shrunk by `margin` mm."""
    left, right = (box.x + margin) * px_per_mm, (box.x + box.w - margin) * px_per_mm
    top, bottom = (box.y + margin) * px_per_mm, (box.y + box.h - margin) * px_per_mm
    return slice(int(np.ceil(top - 0.5)), int(np.floor(bottom - 0.5)) + 1), slice(
        int(np.ceil(left - 0.5)), int(np.floor(right - 0.5)) + 1
    )


def full_scale(coded: NDArray[np.uint8]) -> Mask:
    """(h, w, 3) coded -> (h, w) whether any channel may be clipped at the top."""
    highest = int(np.ceil(FULL_SCALE * np.iinfo(coded.dtype).max)) - 1
    # Many times faster than numpy's any().
    return np.asarray(cv2.inRange(coded, (0,) * 3, (highest,) * 3) == 0)


def near_zero(coded: NDArray[np.uint8], decode: NDArray[np.float32]) -> NDArray[np.uint8]:
    """(h, w, 3) coded -> the same shape, 1 where a channel may have been cut off at zero."""
    highest = int(np.searchsorted(decode.max(axis=1), NEAR_BLACK, side="right")) - 1
    return cv2.threshold(coded, highest, 1, cv2.THRESH_BINARY_INV)[1]


def _sample(
    name: str, box: Box, pixels: NDArray[np.uint8], scale: float, decode: NDArray[np.float32], pose: Pose
) -> Sample:
    # Blur and sharpening reach over a patch's edge: the margin grows with them.
    margin = min(max(MARGIN * box.w, BLUR_MARGIN * pose.blur_mm), MOST_MARGIN * box.w)
    part = np.ascontiguousarray(pixels[inner(box, margin, scale)])
    light = decoded(part, decode)
    mean, std = (v.ravel() for v in cv2.meanStdDev(light))
    # Once more without what lies far off: a hair, a speck.
    near = cv2.inRange(light, mean - FAR_OFF * std - 1e-9, mean + FAR_OFF * std + 1e-9)
    kept = cv2.countNonZero(near)
    if kept:
        mean, std = (v.ravel() for v in cv2.meanStdDev(light, mask=near))
    # Noise averages out over a sixth of the patch; a finger or a highlight does not.
    coarse = cv2.resize(light, (6, 6), interpolation=cv2.INTER_AREA)
    error = std * np.sqrt(ALIKE_PIXELS / max(kept, ALIKE_PIXELS))
    return Sample(
        name=name,
        at=box.centre,
        rgb=(float(mean[0]), float(mean[1]), float(mean[2])),
        rgb_std=(float(error[0]), float(error[1]), float(error[2])),
        spread=float(coarse.std(axis=(0, 1)).max() / max(float(mean.mean()), DARKEST)),
        pixels=kept,
        clipped=float(full_scale(part).mean()),
    )


def _white(
    design: CardDesign, pixels: NDArray[np.uint8], scale: float, decode: NDArray[np.float32]
) -> tuple[Array, Array, Mask]:
    """Positions (n, 2) mm, medians (n, 3) in linear light and clipping (n,) of the cells of bare stock."""
    points = _white_points(design)
    columns = np.clip((points[..., 0] * scale).astype(int), 0, pixels.shape[1] - 1)
    rows = np.clip((points[..., 1] * scale).astype(int), 0, pixels.shape[0] - 1)
    coded = pixels[rows, columns]
    light = decoded(coded, decode)
    clipped = full_scale(coded).mean(axis=1) > MAX_CLIPPED_CELL
    return points.mean(axis=1), np.median(light, axis=1).astype(np.float64), clipped


@cache
def _white_points(design: CardDesign) -> Array:
    """(cells, WHITE_POINTS, 2) mm: points of bare white inside the frame of tags, by cells of about 4 mm."""
    step = WHITE_STEP * design.size_mm[0] / A5_WIDTH
    xs = [tag.box.x for tag in design.tags] + [tag.box.x + tag.box.w for tag in design.tags]
    ys = [tag.box.y for tag in design.tags] + [tag.box.y + tag.box.h for tag in design.tags]
    x, y = np.meshgrid(np.arange(min(xs), max(xs), step), np.arange(min(ys), max(ys), step))
    free = np.ones(x.shape, dtype=bool)
    clearance = CLEARANCE * design.size_mm[0] / A5_WIDTH
    items = [*(tag.box for tag in design.tags), *(patch.box for patch in design.patches)]
    windows = [(window.box, WINDOW_CLEARANCE * clearance) for window in design.windows]
    for box, gap in [*((box, clearance) for box in items), *windows]:
        free &= ~((x > box.x - gap) & (x < box.x + box.w + gap) & (y > box.y - gap) & (y < box.y + box.h + gap))
    cell = WHITE_CELL * design.size_mm[0] / A5_WIDTH
    key = (np.floor(y / cell).astype(int) * 100_000 + np.floor(x / cell).astype(int))[free]
    points = np.stack([x[free], y[free]], axis=-1)
    order = np.argsort(key, kind="stable")
    key, points = key[order], points[order]
    starts = np.flatnonzero(np.r_[True, np.diff(key) > 0])
    counts = np.diff(np.r_[starts, len(key)])
    chosen = [
        points[start + np.linspace(0, count - 1, WHITE_POINTS).astype(int)]
        for start, count in zip(starts, counts, strict=True)
        if count >= FEWEST_WHITE
    ]
    return np.array(chosen)


def _around(photo: Photo, pose: Pose) -> tuple[Array, Array]:
    """Positions (m, 2) mm and means (m, 3) in linear light of looks at what lies just outside the card."""
    points = _around_points(pose.design)
    px = np.rint(pose.to_photo(points)).astype(int)
    height, width = photo.pixels.shape[:2]
    shown = ((px.min(axis=1) >= 0) & (px.max(axis=1) < (width, height))).all(axis=1)
    columns, rows = np.moveaxis(px[shown], -1, 0)
    light = decoded(photo.pixels[rows, columns], photo.decode)
    return points[shown].mean(axis=1), light.mean(axis=1, dtype=np.float64)


@cache
def _around_points(design: CardDesign) -> Array:
    """(looks, points, 2) mm: strips along the card's four edges, finer than a weave repeats."""
    scale = design.size_mm[0] / A5_WIDTH
    along, out = np.meshgrid(np.linspace(0, AROUND_LENGTH, 14), np.linspace(*AROUND, 4))
    strip = np.stack([along.ravel(), -out.ravel()], axis=-1) * scale
    width, height = design.size_mm
    looks = []
    for start, edge, turn in (
        ((0, 0), width, ((1, 0), (0, 1))),
        ((width, 0), height, ((0, 1), (-1, 0))),
        ((width, height), width, ((-1, 0), (0, -1))),
        ((0, height), height, ((0, -1), (1, 0))),
    ):
        steps = np.arange(int(edge / (AROUND_LENGTH * scale))) * AROUND_LENGTH * scale
        looks += [start + (strip + np.array((step, 0))) @ np.array(turn) for step in steps]
    return np.array(looks)
