"""A piece of the card's plane -> where on it the ink is.

Ink is told from bare cloth by colour, at half a millimetre: coarser than a weave, finer than a ragged edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Mask
from ..cards.design import Box
from ..errors import StripError
from ..geometry.pose import Pose
from ..geometry.rectify import full_scale, near_zero
from ..illumination.light_field import Field
from ..illumination.tone_curve import Tone
from ..photo.photo import Photo, decoded
from .strip_names import Where

# No number here has a source but where one is named. Steps of lightness are those of `lightness`: about one L*.
SMALL = 2.0  # px per mm: coarser than a weave, finer than a ragged edge
SHOWN = 0.99  # of a point of the plane, that the photo must show
EDGE_MARGIN = 1.5  # mm kept clear of the boundary between ink and cloth
SMALLEST_SHARE = 0.01  # of a window, below which another colour is lint
PURE_MIDDLE = 0.85  # of the middle must be of one colour
STAIN_REACH = 6.0  # mm: the finger that rubs is 16 mm across (ISO 105-X12); 2 mm of its rim are left out
SHARP_BOUNDARY, BOUNDARY_REACH = 0.6, 1.5  # of ink's difference from cloth, within so many mm of their boundary
FEWEST_POINTS = 8  # of a region beside a boundary, whose median can be told
CENTRE = 0.3  # the part of a window, each way, that the ink must own
EVERY = 16  # points of a window, of which one is looked at to find its two colours: for speed
ENDS = 2, 98  # percentiles of the points that count as the ends of their main direction
ROUNDS = 12  # in which the two colours are found, at most
RMS_OF_MEDIAN = 1.12  # rms distance over median distance, in three equal normal channels: sqrt(3 / 2.37) = 1.13
APART, APART_SPREADS = 5.0, 5.5  # from where on two colours are two: steps of lightness, and so many rms spreads
SIDES_APART = 0.7  # of that reach, between the centres of both sides: two halves of a disc are 0.85 apart
# Loose strips.
CARD_EDGE, RING = 3.0, 30.0  # mm from the card: what lies nearer is not looked at; the ground is told up to the other
FEWEST_OF_GROUND = 400  # points of the ring, 1 cm²
UNLIKE_GROUND = 8.0  # steps of lightness, all channels together
LOOSE_AREA = (200.0, 9000.0)  # mm²
# A strip is a compact patch; a ruler, a cable or a shadow is not.
FULL, SLENDER = 0.7, 6.0  # least share of the rectangle around it; at most, that one's longer side over the shorter
CELL, CELL_REACH = 5, 8.0  # steps of lightness: colours are counted in cells, and belong to the fullest within reach
BAND = 30.0  # mm; loose strips that lie less far up or down may be one row


@dataclass(frozen=True)
class CardPiece:
    """A piece of the card's plane at SMALL px per mm."""

    area: Box
    light: NDArray[np.float32]  # (h, w, 3) relative to white
    clipped: NDArray[np.float32]  # (h, w) fraction of full-scale pixels
    cut: NDArray[np.float32]  # (h, w, 3) fraction of pixels near zero in each channel
    rounding: Array  # (3,) rms error of a mean, relative to white, from the coding's steps
    valid: Mask  # (h, w) shown by the photo


def make_plane(
    coded: NDArray[np.uint8],
    area: Box,
    decode: NDArray[np.float32],
    tone: Tone,
    field: Field,
    valid: Mask,
) -> CardPiece:
    """A coded piece of the plane -> light relative to white at SMALL px per mm, with what is doubtful in it."""
    table = tone.table(decode)
    size = (round(area.w * SMALL), round(area.h * SMALL))

    def shrink(values: NDArray[np.floating]) -> NDArray[np.float32]:
        return cv2.resize(values, size, interpolation=cv2.INTER_AREA)

    x = area.x + (np.arange(size[0]) + 0.5) * area.w / size[0]
    y = area.y + (np.arange(size[1]) + 0.5) * area.h / size[1]
    white = field.at(np.stack(np.meshgrid(x, y), axis=-1)).astype(np.float32)
    return CardPiece(
        area=area,
        # Averaged in linear light first, so that a weave's threads and holes count as they do for the eye.
        light=shrink(decoded(coded, table)) / white,
        clipped=shrink(full_scale(coded).astype(np.float32)),
        cut=shrink(near_zero(coded, decode).astype(np.float32)),
        rounding=_rounding(coded, table) / white[size[1] // 2, size[0] // 2],
        valid=shrink(valid.astype(np.float32)) > SHOWN,
    )


def _rounding(coded: NDArray[np.uint8], table: NDArray[np.float32]) -> Array:
    """(3,) rms error, in light, that the steps of the code leave in the mean of the middle of a region.

    Noise of σ steps smooths the staircase: what is left of it has the amplitude exp(-2 π² σ²) / π steps (first
    harmonic of the error of a dithered quantiser; Widrow & Kollar, Quantization Noise, 2008, from memory).
    """
    heart = np.ascontiguousarray(coded[_middle(coded.shape[0]), _middle(coded.shape[1])])
    mean, std = (v.ravel() for v in cv2.meanStdDev(heart))
    code = np.clip(np.round(mean).astype(int), 1, len(table) - 2)
    step = (table[code + 1, range(3)] - table[code - 1, range(3)]) / 2
    return np.asarray(step * np.exp(-2 * np.pi**2 * std**2) / (np.pi * np.sqrt(2)), dtype=float)


def shown(photo: Photo, pose: Pose, area: Box, shape: tuple[int, ...]) -> Mask:
    """(rows, columns) mask of the part of `area` that the photo shows."""
    rows, columns = shape[:2]
    x = area.x + np.linspace(0, area.w, 60)
    y = area.y + np.linspace(0, area.h, 60)
    px = pose.to_photo(np.stack(np.meshgrid(x, y), axis=-1))
    height, width = photo.pixels.shape[:2]
    inside = (px >= 1).all(axis=-1) & (px[..., 0] < width - 2) & (px[..., 1] < height - 2)
    return cv2.resize(inside.astype(np.uint8), (columns, rows), interpolation=cv2.INTER_LINEAR) > 0


def lightness(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Relative light -> 100 times its cube root: steps of about one L* in every channel."""
    return (100 * np.cbrt(np.maximum(light, 1e-4))).astype(np.float32)


def ink_in_window(name: str, plane: CardPiece, where: Where = "window") -> Mask:
    """Mask of the ink that owns the middle of a window, or all of it if the window shows one colour only.

    Raises
    ------
    StripError
        The middle is part ink, part bare cloth, or the colour fades from one into another.
    """
    tone = cv2.medianBlur(lightness(plane.light), 3)
    height, width = tone.shape[:2]
    two, centres, spread = _two_colours(tone.reshape(-1, 3))
    if not _clearly_two(centres, spread, two):
        return np.ones((height, width), dtype=bool)
    label = two.reshape(height, width)
    middle = label[_middle(height), _middle(width)]
    owner = bool(middle.mean() > 0.5)
    if _boundary_step(tone, label == owner) < SHARP_BOUNDARY:
        raise StripError("ink-changes-gradually", "even-the-strip", strip=name, where=where)
    if (middle == owner).mean() < PURE_MIDDLE:
        raise StripError("strip-part-bare", "fill-the-middle", strip=name, where=where)
    mask = (label == owner).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    _, parts = cv2.connectedComponents(mask)
    inside = parts[_middle(height), _middle(width)]
    biggest = np.bincount(inside.ravel(), minlength=2)
    biggest[0] = 0
    return _shrunk(parts == int(biggest.argmax()))


def stain_in_window(name: str, plane: CardPiece) -> Mask:
    """Mask of the middle of a window of white cloth: what a rubbing finger stains, less its rim.

    A faint stain can't be told from the clean cloth round it, and one that fades towards its rim has no edge. So the
    same disc in the middle is taken of a clean cloth, of a rubbed one and of one that was washed and is stained all
    over; where the stain lies is up to the person.

    Raises
    ------
    StripError
        The edge of a clear stain goes through the disc.
    """
    tone = cv2.medianBlur(lightness(plane.light), 3)
    mask = middle_disc(plane)
    two, centres, spread = _two_colours(tone[mask])
    if (
        _clearly_two(centres, spread, two)
        and 1 - PURE_MIDDLE < two.mean() < PURE_MIDDLE
        and _one_sided(np.argwhere(mask), two)
    ):
        raise StripError("stain-off-middle", "move-the-stain", strip=name)
    return mask


def middle_disc(plane: CardPiece) -> Mask:
    """Mask of the disc of STAIN_REACH in the middle of a piece."""
    height, width = plane.valid.shape
    rows, columns = np.ogrid[:height, :width]
    return np.asarray(np.hypot(rows - (height - 1) / 2, columns - (width - 1) / 2) <= STAIN_REACH * SMALL)


def _one_sided(places: NDArray[np.intp], two: Mask) -> bool:
    """Whether two colours lie on either side of a disc and not in patches: the edge of a stain, no uneven one."""
    way = places[two].mean(axis=0) - places[~two].mean(axis=0)
    return float(np.hypot(*way)) > SIDES_APART * STAIN_REACH * SMALL


def _boundary_step(tone: NDArray[np.float32], mask: Mask) -> float:
    """How much of the difference between two regions lies at their boundary: 1 for the edge of a film.

    A lamp's reflection fades; the edge of ink does not, however ragged.
    """
    kernel = disc(BOUNDARY_REACH)
    inner, outer = (cv2.erode(part.astype(np.uint8), kernel).astype(bool) for part in (mask, ~mask))
    bands = mask & ~inner, ~mask & ~outer
    if min(region.sum() for region in (inner, outer, *bands)) < FEWEST_POINTS:
        return 1.0
    far = np.median(tone[inner], axis=0) - np.median(tone[outer], axis=0)
    near = np.median(tone[bands[0]], axis=0) - np.median(tone[bands[1]], axis=0)
    return float(near @ far / (far @ far))


def _middle(length: int) -> slice:
    reach = max(int(CENTRE * length / 2), 2)
    return slice(length // 2 - reach, length // 2 + reach)


def _shrunk(mask: Mask) -> Mask:
    """The mask less EDGE_MARGIN at its own border; the border of the picture is already clear."""
    return cv2.erode(mask.astype(np.uint8), disc(EDGE_MARGIN), borderType=cv2.BORDER_REPLICATE).astype(bool)


def disc(reach: float) -> NDArray[np.uint8]:
    """A disc of so many mm in all directions, as a kernel of points."""
    across = 2 * round(reach * SMALL) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))


def _two_colours(tone: NDArray[np.float32]) -> tuple[Mask, NDArray[np.float32], float]:
    """Two clusters: which points (n,) are of the second, centres (2, 3), spread around the own centre."""
    # Start from the two ends of the main direction: no random start, so the same photo gives the same answer.
    some = tone[::EVERY]
    middle = np.median(some, axis=0)
    _, _, axes = np.linalg.svd(some - middle, full_matrices=False)
    along = (some - middle) @ axes[0]
    second = along > sum(np.percentile(along, end) for end in ENDS) / 2
    for _ in range(ROUNDS):
        if second.all() or not second.any():
            return np.zeros(len(tone), dtype=bool), np.stack([middle, middle]), 1.0
        centres = np.stack([np.median(some[second == k], axis=0) for k in (False, True)])
        before, second = second, _nearer_second(some, centres)
        if np.array_equal(before, second):
            break
    off = np.linalg.norm(some - centres[second.astype(int)], axis=1)
    return _nearer_second(tone, centres), centres, float(RMS_OF_MEDIAN * np.median(off))


def _nearer_second(tone: NDArray[np.float32], centres: NDArray[np.float32]) -> Mask:
    return (tone - centres.mean(axis=0)) @ (centres[1] - centres[0]) > 0


def _clearly_two(centres: NDArray[np.float32], spread: float, label: Mask) -> bool:
    share = label.mean()
    apart = float(np.linalg.norm(centres[1] - centres[0]))
    return apart > max(APART, APART_SPREADS * spread) and SMALLEST_SHARE < share < 1 - SMALLEST_SHARE


def loose_strips(plane: CardPiece, width: float, height: float) -> list[Mask]:
    """Masks of compact patches of ink outside a card of that size, unlike the ground around it."""
    tone = cv2.medianBlur(lightness(plane.light), 5)
    rows, columns = tone.shape[:2]
    x = plane.area.x + (np.arange(columns) + 0.5) / SMALL
    y = plane.area.y + (np.arange(rows) + 0.5) / SMALL
    gap = np.hypot(
        np.maximum(np.maximum(-x, x - width), 0)[None, :], np.maximum(np.maximum(-y, y - height), 0)[:, None]
    )
    outside = plane.valid & (gap > CARD_EDGE)
    ring = outside & (gap < RING)
    if ring.sum() < FEWEST_OF_GROUND:
        return []
    ground = _commonest(tone[ring])
    unlike = (np.linalg.norm(tone - ground, axis=-1) > UNLIKE_GROUND) & outside
    mask = cv2.morphologyEx(unlike.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    count, parts, stats, _ = cv2.connectedComponentsWithStats(mask)
    edge = cv2.dilate((~plane.valid).astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    edge[[0, -1]] = edge[:, [0, -1]] = True
    found = []
    for number in range(1, count):
        part = parts == number
        area = stats[number, cv2.CC_STAT_AREA] / SMALL**2
        if not LOOSE_AREA[0] < area < LOOSE_AREA[1] or (part & edge).any():
            continue
        points = cv2.findNonZero(part.astype(np.uint8))
        _, (side, other), _ = cv2.minAreaRect(points)
        full = area * SMALL**2 > FULL * (side + 1) * (other + 1)
        if full and max(side, other) < SLENDER * min(side, other):
            found.append(_shrunk(part))
    return found


def _commonest(tone: NDArray[np.float32]) -> NDArray[np.float32]:
    """The colour most points share: the median of the fullest cell's neighbourhood."""
    cells, counts = np.unique(np.round(tone / CELL).astype(int), axis=0, return_counts=True)
    heart = float(CELL) * cells[counts.argmax()]
    return np.median(tone[np.linalg.norm(tone - heart, axis=1) < CELL_REACH], axis=0)


def reading_order(mask: Mask) -> tuple[int, int]:
    """Sort key: top to bottom in bands, then left to right."""
    rows, columns = np.nonzero(mask)
    return (int(rows.mean()) // round(BAND * SMALL), int(columns.mean())) if len(rows) else (0, 0)
