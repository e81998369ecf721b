"""Windows and loose drawdowns -> mean colour of the ink in scene light, its spread, its flags.

The ink is told from bare cloth by colour; the mean is taken in linear light, as the eye takes it at arm's length.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .card import Box
from .errors import DrawdownError
from .find import Pose
from .flatten import FlatCard, decoded, full_scale, inner, square_on
from .light import Field, Light
from .photo import Photo

SMALL = 2.0  # px per mm at which ink is told from cloth: coarser than a weave, finer than a ragged edge
WINDOW_MARGIN = 2.5  # mm: the card's thickness throws a narrow shadow inside its windows
EDGE_MARGIN = 1.5  # mm kept clear of the boundary between ink and cloth
CENTRE = 0.3  # the part of a window, each way, that the ink must own
MIN_AREA = 60.0  # mm²
SMALL_AREA = 200.0
BLOCK = 4.0  # mm; block means show how even a drawdown is
UNEVEN_WARNING = 1.5  # L*, standard deviation of block means
MAX_CLIPPED = 0.05
NEAR_BLACK = (
    3 / 255
)  # of the coded range: a channel this low may have been cut off by the phone's colour space
MAX_NEAR_BLACK = 0.2
BESIDE = 70.0  # mm around the card in which loose drawdowns are looked for
LOOSE_AREA = (200.0, 9000.0)  # mm²


@dataclass(frozen=True)
class Swatch:
    """Mean of one drawdown, scene light relative to the card's bare white in the same light."""

    name: str
    rgb: tuple[float, float, float]
    covariance: tuple[tuple[float, float, float], ...]  # of that mean, from noise and unevenness
    light_std: float  # relative standard uncertainty of the light there, common to the three channels
    area_mm2: float
    uneven: float  # L*, standard deviation of 4 mm blocks
    outline: tuple[tuple[tuple[float, float], ...], ...]  # polygons, mm on the card's plane
    flags: tuple[str, ...]


@dataclass(frozen=True)
class _Plane:
    """A piece of the card's plane at SMALL px per mm."""

    area: Box
    light: NDArray[np.float32]  # (h, w, 3) relative to white
    clipped: NDArray[np.float32]  # (h, w) fraction of full-scale pixels
    dark: NDArray[np.float32]  # (h, w) fraction of pixels with a channel near zero
    valid: NDArray[np.bool_]  # (h, w) shown by the photo


def sample_windows(card: FlatCard, light: Light) -> tuple[Swatch, ...]:
    """The drawdown in each window of the card.

    Raises
    ------
    DrawdownError
        The middle of a window is not one ink, the ink's area is too small, or the ink is overexposed.
    """
    table = light.tone.table(card.decode)
    swatches = []
    for window in card.pose.design.windows:
        rows, columns = inner(window.box, WINDOW_MARGIN, card.px_per_mm)
        area = Box(
            columns.start / card.px_per_mm,
            rows.start / card.px_per_mm,
            (columns.stop - columns.start) / card.px_per_mm,
            (rows.stop - rows.start) / card.px_per_mm,
        )
        coded = np.ascontiguousarray(card.pixels[rows, columns])
        plane = _plane(coded, area, table, light.field, np.ones(coded.shape[:2], dtype=bool))
        swatches.append(
            _summarise(
                f"{window.name} window", window.name, plane, _ink_in_window(window.name, plane), light.field
            )
        )
    return tuple(swatches)


def sample_beside(photo: Photo, card: FlatCard, light: Light) -> tuple[Swatch, ...]:
    """Loose drawdowns lying beside the card in its plane, in reading order, named beside-1, beside-2 and so on.

    Raises
    ------
    DrawdownError
        None can be told from what lies around the card, or one is overexposed.
    """
    width, height = card.pose.design.size_mm
    area = Box(-BESIDE, -BESIDE, width + 2 * BESIDE, height + 2 * BESIDE)
    scale = min(card.px_per_mm, 4.0)
    coded = square_on(photo, card.pose, area, scale)
    plane = _plane(
        coded, area, light.tone.table(card.decode), light.wide, _shown(photo, card.pose, area, coded.shape)
    )
    found = sorted(_loose(plane, width, height), key=lambda mask: _reading_order(mask))
    if not found:
        raise DrawdownError(
            "No loose drawdown can be told from what lies beside the card.",
            "Lay it flat within 6 cm of the card, on plain cloth of another colour, and shoot again.",
        )
    swatches = []
    for number, mask in enumerate(found, start=1):
        swatch = _summarise(f"drawdown {number} beside the card", f"beside-{number}", plane, mask, light.wide)
        swatches.append(swatch)
    return tuple(swatches)


def _plane(
    coded: NDArray[np.uint8], area: Box, table: NDArray[np.float32], field: Field, valid: NDArray[np.bool_]
) -> _Plane:
    size = (round(area.w * SMALL), round(area.h * SMALL))

    def shrink(values: NDArray[np.float32]) -> NDArray[np.float32]:
        return cv2.resize(values, size, interpolation=cv2.INTER_AREA)

    x = area.x + (np.arange(size[0]) + 0.5) * area.w / size[0]
    y = area.y + (np.arange(size[1]) + 0.5) * area.h / size[1]
    white = field.at(np.stack(np.meshgrid(x, y), axis=-1)).astype(np.float32)
    floor = NEAR_BLACK * np.iinfo(coded.dtype).max
    return _Plane(
        area=area,
        # Averaged in linear light first, so that a weave's threads and holes count as they do for the eye.
        light=shrink(decoded(coded, table)) / white,
        clipped=shrink(full_scale(coded).astype(np.float32)),
        dark=shrink((coded <= floor).any(axis=-1).astype(np.float32)),
        valid=shrink(valid.astype(np.float32)) > 0.99,
    )


def _shown(photo: Photo, pose: Pose, area: Box, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    rows, columns = shape[:2]
    x = area.x + np.linspace(0, area.w, 60)
    y = area.y + np.linspace(0, area.h, 60)
    px = pose.to_photo(np.stack(np.meshgrid(x, y), axis=-1))
    height, width = photo.pixels.shape[:2]
    inside = (px >= 1).all(axis=-1) & (px[..., 0] < width - 2) & (px[..., 1] < height - 2)
    return cv2.resize(inside.astype(np.uint8), (columns, rows), interpolation=cv2.INTER_LINEAR) > 0


def _lightness(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Relative light -> 100 times its cube root: steps of about one L* in every channel."""
    return (100 * np.cbrt(np.maximum(light, 1e-4))).astype(np.float32)


def _ink_in_window(name: str, plane: _Plane) -> NDArray[np.bool_]:
    tone = cv2.medianBlur(_lightness(plane.light), 3)
    height, width = tone.shape[:2]
    two, centres, spread = _two_colours(tone.reshape(-1, 3))
    if not _clearly_two(centres, spread, two):
        return np.ones((height, width), dtype=bool)
    label = two.reshape(height, width)
    middle = label[_middle(height), _middle(width)]
    owner = int(middle.mean() > 0.5)
    if (middle == owner).mean() < 0.7:
        raise DrawdownError(
            f"The middle of the {name} window is part ink, part bare cloth.",
            "Move the drawdown so that one ink fills the middle of the window, and shoot again.",
        )
    mask = (label == owner).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    _, parts = cv2.connectedComponents(mask)
    inside = parts[_middle(height), _middle(width)]
    biggest = np.bincount(inside.ravel(), minlength=2)
    biggest[0] = 0
    return _shrunk(parts == int(biggest.argmax()))


def _middle(length: int) -> slice:
    reach = max(int(CENTRE * length / 2), 2)
    return slice(length // 2 - reach, length // 2 + reach)


def _shrunk(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The mask less EDGE_MARGIN at its own border; the border of the picture is already clear."""
    reach = 2 * round(EDGE_MARGIN * SMALL) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    return cv2.erode(mask.astype(np.uint8), kernel, borderType=cv2.BORDER_REPLICATE).astype(bool)


def _two_colours(tone: NDArray[np.float32]) -> tuple[NDArray[np.int64], NDArray[np.float32], float]:
    """Two clusters: label (n,), centres (2, 3), rms distance to the own centre."""
    # Start from the two ends of the main direction: no random start, so the same photo gives the same answer.
    middle = np.median(tone, axis=0)
    _, _, axes = np.linalg.svd(tone[::7] - middle, full_matrices=False)
    along = (tone - middle) @ axes[0]
    label = (along > (np.percentile(along, 2) + np.percentile(along, 98)) / 2).astype(np.int64)
    for _ in range(12):
        if label.all() or not label.any():
            return label, np.stack([middle, middle]), 1.0
        centres = np.stack([np.median(tone[label == k], axis=0) for k in (0, 1)])
        distance = ((tone[:, None, :] - centres) ** 2).sum(axis=-1)
        new = distance.argmin(axis=1)
        if np.array_equal(new, label):
            break
        label = new
    return label, centres, float(np.sqrt(np.median(distance.min(axis=1)) / 0.8))


def _clearly_two(centres: NDArray[np.float32], spread: float, label: NDArray[np.int64]) -> bool:
    share = label.mean()
    apart = float(np.linalg.norm(centres[1] - centres[0]))
    return apart > max(5.0, 4.0 * spread) and 0.03 < share < 0.97


def _loose(plane: _Plane, width: float, height: float) -> list[NDArray[np.bool_]]:
    tone = cv2.medianBlur(_lightness(plane.light), 5)
    rows, columns = tone.shape[:2]
    x = plane.area.x + (np.arange(columns) + 0.5) / SMALL
    y = plane.area.y + (np.arange(rows) + 0.5) / SMALL
    gap = np.hypot(
        np.maximum(np.maximum(-x, x - width), 0)[None, :], np.maximum(np.maximum(-y, y - height), 0)[:, None]
    )
    outside = plane.valid & (gap > 3)
    ring = outside & (gap < 30)
    if ring.sum() < 400:
        return []
    ground = _commonest(tone[ring])
    unlike = (np.linalg.norm(tone - ground, axis=-1) > 8) & outside
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
        # A drawdown is a compact patch; a ruler, a cable or a shadow is not.
        if area * SMALL**2 > 0.7 * (side + 1) * (other + 1) and max(side, other) < 6 * min(side, other):
            found.append(_shrunk(part))
    return found


def _commonest(tone: NDArray[np.float32]) -> NDArray[np.float32]:
    """The colour most points share: the median of the fullest 5-unit cell's neighbourhood."""
    cells, counts = np.unique(np.round(tone / 5).astype(int), axis=0, return_counts=True)
    heart = 5.0 * cells[counts.argmax()]
    return np.median(tone[np.linalg.norm(tone - heart, axis=1) < 8], axis=0)


def _reading_order(mask: NDArray[np.bool_]) -> tuple[int, int]:
    rows, columns = np.nonzero(mask)
    return (int(rows.mean()) // 60, int(columns.mean())) if len(rows) else (0, 0)


def _summarise(what: str, name: str, plane: _Plane, mask: NDArray[np.bool_], field: Field) -> Swatch:
    clean = mask & _without_threads(plane.light, mask)
    area = float(clean.sum()) / SMALL**2
    if area < MIN_AREA:
        raise DrawdownError(
            f"Too little ink can be measured in the {what} ({area:.0f} mm²)."
            if "window" in what
            else f"Too little ink can be measured in {what} ({area:.0f} mm²).",
            "Make the drawdown at least 15 mm each way, lay it flat in the middle, and shoot again.",
        )
    clipped, dark = float(plane.clipped[clean].mean()), float(plane.dark[clean].mean())
    if clipped > MAX_CLIPPED:
        raise DrawdownError(
            f"The {what} is overexposed ({clipped:.0%} of its pixels at full scale).",
            "Avoid the lamp's reflection in the ink, or expose one stop lower, and shoot again.",
        )
    values = plane.light[clean].astype(np.float64)
    mean = values.mean(axis=0)
    covariance, uneven = _block_spread(plane.light, clean, mean)
    rows, columns = np.nonzero(clean)
    centre = np.array(
        [plane.area.x + (columns.mean() + 0.5) / SMALL, plane.area.y + (rows.mean() + 0.5) / SMALL]
    )
    flags = []
    if area < SMALL_AREA:
        flags.append(f"small drawdown ({area:.0f} mm²)")
    if uneven > UNEVEN_WARNING:
        flags.append(f"uneven drawdown (±{uneven:.1f} L* from place to place)")
    if clean.sum() < 0.9 * mask.sum():
        flags.append("threads, lint or glare left out")
    if dark > MAX_NEAR_BLACK:
        flags.append("colour at the edge of what the phone can record: its true depth may be greater")
    return Swatch(
        name=name,
        rgb=(float(mean[0]), float(mean[1]), float(mean[2])),
        covariance=tuple((float(a), float(b), float(c)) for a, b, c in covariance),
        light_std=float(field.relative_std(centre)),
        area_mm2=area,
        uneven=uneven,
        outline=_outline(clean, plane.area),
        flags=tuple(flags),
    )


def _without_threads(light: NDArray[np.float32], mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where the ink looks like most of the ink: no thread, lint, speck of glare."""
    tone = _lightness(light)
    inside = tone[mask]
    if len(inside) == 0:
        return mask
    middle = np.median(inside, axis=0)
    spread = np.maximum(1.4826 * np.median(np.abs(inside - middle), axis=0), 0.3)
    return (np.abs(tone - middle) < 4.5 * spread).all(axis=-1)


def _block_spread(
    light: NDArray[np.float32], mask: NDArray[np.bool_], mean: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """Covariance (3, 3) of the mean, from the scatter of BLOCK-sized means, and that scatter in L*."""
    side = round(BLOCK * SMALL)
    height, width = (mask.shape[0] // side * side, mask.shape[1] // side * side)
    weight = mask[:height, :width].astype(np.float64)
    shape = (height // side, side, width // side, side)
    count = weight.reshape(shape).sum(axis=(1, 3))
    total = (light[:height, :width] * weight[..., None]).reshape(*shape, 3).sum(axis=(1, 3))
    full = count > 0.5 * side * side
    if full.sum() < 4:
        values = light[mask].astype(np.float64)
        return np.cov(values.T) / max(len(values) / 25, 2), 0.0
    means, counts = total[full] / count[full][:, None], count[full]
    off = means - mean
    covariance = (off.T @ off) / (len(means) - 1)
    uneven = float(100 / 3 * np.cbrt(mean.mean()) * np.sqrt(np.diag(covariance).mean()) / mean.mean())
    return covariance / (counts.sum() / (side * side)), uneven


def _outline(mask: NDArray[np.bool_], area: Box) -> tuple[tuple[tuple[float, float], ...], ...]:
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    return tuple(
        tuple(
            (area.x + (float(x) + 0.5) / SMALL, area.y + (float(y) + 0.5) / SMALL) for x, y in contour[:, 0]
        )
        for contour in contours
        if len(contour) > 2
    )
