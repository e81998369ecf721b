"""Windows and loose strips -> mean colour of the ink in scene light, its spread, its flags.

The ink is told from bare cloth by colour; the mean is taken in linear light, as the eye takes it at arm's length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Mask
from ..cards.design import Box
from ..errors import StripError
from ..geometry.rectify import FlatCard, inner, square_on
from ..illumination.light_field import STD_OF_MAD, Field
from ..illumination.solve import Light
from ..messages.message import Flag, flag
from ..photo.photo import Photo
from .blank_check import bare_flags, cloth_around
from .segmentation import (
    SMALL,
    CardPiece,
    ink_in_window,
    lightness,
    loose_strips,
    make_plane,
    reading_order,
    shown,
    stain_in_window,
)
from .specular import mirrored_light
from .strip_names import Where, loose_name

# No number here has a source.
WINDOW_MARGIN = 2.5  # mm: the card's thickness throws a narrow shadow inside its windows
FINEST = 4.0  # px per mm of what lies beside the card: twice SMALL, finer costs time
MIN_AREA, SMALL_AREA = 60.0, 200.0  # mm² of ink: less is refused, less is flagged
LEFT_OUT = 0.1  # of the ink, from which on it is told that threads, lint or glare were left out
FAR, LEAST_SPREAD = 4.5, 0.3  # robust standard deviations from most of the ink: no ink; of one at least so many L*
LOOKED_AT = 2000  # points of the ink of which most is found: for speed
BLOCK = 4.0  # mm; block means show how even a strip is
FEWEST_BLOCKS = 4  # from fewer no unevenness is told
ALIKE_POINTS, FEWEST_LOOKS = 25, 2  # where blocks are too few: points that err together count as one; looks at least
TILE = 14.0  # mm; what varies over so much or more may be a veil of light
BROAD_LOOKS = 6.0  # independent looks at what varies slowly
UNEVEN_WARNING = 1.5  # L*, standard deviation of block means
MAX_UNEVEN = 3.0  # the same; beyond it no single colour can be stated, and a mirrored lamp is likely
MAX_MIRRORED = 3.0  # L* that mirrored light adds
MAX_CLIPPED = 0.05  # of the ink's pixels at full scale
MAX_NEAR_BLACK = 0.2  # of the ink's pixels near zero in one channel
BESIDE = 70.0  # mm around the card in which loose strips are looked for


@dataclass(frozen=True)
class StripSample:
    """Mean of one strip, scene light relative to the card's bare white in the same light."""

    name: str
    rgb: tuple[float, float, float]
    covariance: tuple[tuple[float, float, float], ...]  # of that mean, from noise and unevenness
    cut: tuple[float, float, float]  # fraction of its pixels near zero in each channel: beyond the file's colours?
    light_std: float  # relative standard uncertainty of the light there, common to the three channels
    area_mm2: float
    uneven: float  # L*, standard deviation of 4 mm blocks
    outline: tuple[tuple[tuple[float, float], ...], ...]  # polygons, mm on the card's plane
    flags: tuple[Flag, ...]


def windows_of(card: FlatCard, light: Light, staining: bool = False) -> list[tuple[CardPiece, Mask]]:
    """Each window of the card, and where the ink is in it, or the stain if it shows white cloth.

    Raises
    ------
    StripError
        The middle of a window is not one ink, or part of a stain.
    """
    pieces, found = [], stain_in_window if staining else ink_in_window
    for window in card.pose.design.windows:
        plane = window_piece(window.box, card, light)
        pieces.append((plane, found(window.name, plane)))
    return pieces


def window_piece(box: Box, card: FlatCard, light: Light) -> CardPiece:
    """What a window shows, its rim left out."""
    rows, columns = inner(box, WINDOW_MARGIN, card.px_per_mm)
    area = Box(
        columns.start / card.px_per_mm,
        rows.start / card.px_per_mm,
        (columns.stop - columns.start) / card.px_per_mm,
        (rows.stop - rows.start) / card.px_per_mm,
    )
    coded = np.ascontiguousarray(card.pixels[rows, columns])
    return make_plane(coded, area, card.decode, light.tone, light.field, np.ones(coded.shape[:2], dtype=bool))


def sample_stains(card: FlatCard, light: Light, pieces: Sequence[tuple[CardPiece, Mask]]) -> tuple[StripSample, ...]:
    """The white cloth in each window of the card, in the middle that `windows_of` took.

    Raises
    ------
    StripError
        The cloth is overexposed.
    """
    windows = zip(card.pose.design.windows, pieces, strict=True)
    return tuple(summarise(window.name, "stain", plane, mask, light.field) for window, (plane, mask) in windows)


def sample_windows(card: FlatCard, light: Light, pieces: Sequence[tuple[CardPiece, Mask]]) -> tuple[StripSample, ...]:
    """The strip in each window of the card, which `windows_of` found.

    Raises
    ------
    StripError
        The ink's area is too small, or the ink is overexposed.
    """
    around = cloth_around(card, light)
    strips = []
    for window, (plane, mask) in zip(card.pose.design.windows, pieces, strict=True):
        strip = summarise(window.name, "window", plane, mask, light.field)
        bare = bare_flags(np.array(strip.rgb), around)
        strips.append(replace(strip, flags=(*strip.flags, *bare)))
    return tuple(strips)


def sample_beside(photo: Photo, card: FlatCard, light: Light) -> tuple[StripSample, ...]:
    """Loose strips lying beside the card in its plane, in reading order, named beside-1, beside-2 and so on.

    Raises
    ------
    StripError
        None can be told from what lies around the card, or one is overexposed.
    """
    width, height = card.pose.design.size_mm
    area = Box(-BESIDE, -BESIDE, width + 2 * BESIDE, height + 2 * BESIDE)
    scale = min(card.px_per_mm, FINEST)
    coded = square_on(photo, card.pose, area, scale)
    plane = make_plane(coded, area, card.decode, light.tone, light.wide, shown(photo, card.pose, area, coded.shape))
    found = sorted(loose_strips(plane, width, height), key=reading_order)
    if not found:
        raise StripError("no-loose-strip", "lay-loose-strips-flat")
    return tuple(
        summarise(loose_name(number), "loose", plane, mask, light.wide) for number, mask in enumerate(found, start=1)
    )


def sample_place(name: str, box: Box, margin: float, photo: Photo, card: FlatCard, light: Light) -> StripSample:
    """The strip at a known place in the card's plane, `margin` mm kept clear inside it.

    Raises
    ------
    StripError
        The photo does not show all of the place, or what it shows there is not one ink.
    """
    area = Box(box.x + margin, box.y + margin, box.w - 2 * margin, box.h - 2 * margin)
    coded = square_on(photo, card.pose, area, min(card.px_per_mm, FINEST))
    seen = shown(photo, card.pose, area, coded.shape)
    if not seen.all():
        raise StripError("strip-cut-off", "step-back", strip=name)
    plane = make_plane(coded, area, card.decode, light.tone, light.wide, seen)
    return summarise(name, "row", plane, ink_in_window(name, plane, "row"), light.wide)


def summarise(name: str, where: Where, plane: CardPiece, mask: Mask, field: Field) -> StripSample:
    """What the masked part of a piece is, threads and specks left out.

    Raises
    ------
    StripError
        It is too small, overexposed, or has no single colour.
    """
    clean = mask & _without_threads(plane.light, mask)
    area = float(clean.sum()) / SMALL**2
    if area < MIN_AREA:
        raise StripError("strip-too-small", "make-a-larger-strip", strip=name, where=where, area=area)
    clipped, cut = float(plane.clipped[clean].mean()), plane.cut[clean].mean(axis=0)
    if clipped > MAX_CLIPPED:
        raise StripError("strip-overexposed", "expose-the-ink-lower", strip=name, where=where, share=clipped)
    values = plane.light[clean].astype(np.float64)
    mean = values.mean(axis=0)
    places, blocks = _block_means(plane.light, clean, BLOCK)
    covariance, uneven = _block_spread(plane.light, clean, mean, blocks)
    veil = 0.0 if where == "stain" else mirrored_light(places, blocks)  # cloth has no gloss
    # The darkest place may be veiled as well: the veil found is taken as one standard deviation, in all channels.
    covariance = covariance + np.diag(plane.rounding**2 + (field.tint * mean) ** 2) + veil**2
    too_light = _in_lightness(veil, mean)
    if too_light > MAX_MIRRORED:
        raise StripError("strip-shines", "let-it-dry", strip=name, where=where, too_light=too_light)
    if uneven > MAX_UNEVEN and where != "stain":
        raise StripError("strip-too-uneven", "make-an-even-strip", strip=name, where=where, uneven=uneven)
    rows, columns = np.nonzero(clean)
    centre = np.array([plane.area.x + (columns.mean() + 0.5) / SMALL, plane.area.y + (rows.mean() + 0.5) / SMALL])
    flags = []
    if veil:
        flags.append(flag("looks-wet", too_light=too_light))
    if area < SMALL_AREA and where != "stain":
        flags.append(flag("strip-small", area=area))
    if uneven > UNEVEN_WARNING:
        flags.append(flag("stain-uneven" if where == "stain" else "strip-uneven", uneven=uneven))
    if clean.sum() < (1 - LEFT_OUT) * mask.sum():
        flags.append(flag("threads-left-out"))
    if cut.max() > MAX_NEAR_BLACK:
        flags.append(flag("too-vivid"))
    return StripSample(
        name=name,
        rgb=(float(mean[0]), float(mean[1]), float(mean[2])),
        covariance=tuple((float(a), float(b), float(c)) for a, b, c in covariance),
        cut=(float(cut[0]), float(cut[1]), float(cut[2])),
        light_std=float(field.relative_std(centre)),
        area_mm2=area,
        uneven=uneven,
        outline=_outline(clean, plane.area),
        flags=tuple(flags),
    )


def _without_threads(light: NDArray[np.float32], mask: Mask) -> Mask:
    """Where the ink looks like most of the ink: no thread, lint, speck of glare."""
    tone = lightness(light)
    inside = tone[mask]
    if len(inside) == 0:
        return mask
    some = inside[:: max(len(inside) // LOOKED_AT, 1)]
    middle = np.median(some, axis=0)
    spread = np.maximum(STD_OF_MAD * np.median(np.abs(some - middle), axis=0), LEAST_SPREAD)
    return (np.abs(tone - middle) < FAR * spread).all(axis=-1)


def _block_spread(light: NDArray[np.float32], mask: Mask, mean: Array, blocks: Array) -> tuple[Array, float]:
    """Covariance (3, 3) of the mean, and the scatter of the BLOCK-sized means (n, 3) in L*.

    What varies from block to block averages out over all of them. What varies over TILE and more may be a veil of
    light as well as ink, and one strip holds only a few independent looks at it.
    """
    off = blocks - mean
    if len(off) < FEWEST_BLOCKS:
        values = light[mask].astype(np.float64)
        return np.cov(values.T) / max(len(values) / ALIKE_POINTS, FEWEST_LOOKS), 0.0
    covariance = (off.T @ off) / (len(off) - 1)
    uneven = _in_lightness(float(np.sqrt(np.diag(covariance).mean())), mean)
    broad = _block_means(light, mask, TILE)[1] - mean
    slow = (broad.T @ broad) / max(len(broad) - 1, 1) / BROAD_LOOKS if len(broad) > 1 else covariance / BROAD_LOOKS
    return covariance / len(off) + slow, uneven


def _in_lightness(light: float, mean: Array) -> float:
    """A small amount of light beside a mean (3,), both relative to white -> steps of L*."""
    return float(100 / 3 * np.cbrt(mean.mean()) * light / mean.mean())


def _block_means(light: NDArray[np.float32], mask: Mask, size: float) -> tuple[Array, Array]:
    """Places (n, 2), in blocks, and means (n, 3) of the square blocks of `size` mm that are at least half ink."""
    side = round(size * SMALL)
    height, width = (mask.shape[0] // side * side, mask.shape[1] // side * side)
    shape = (height // side, side, width // side, side)
    weight = mask[:height, :width].astype(np.float64)
    count = weight.reshape(shape).sum(axis=(1, 3))
    total = (light[:height, :width] * weight[..., None]).reshape(*shape, 3).sum(axis=(1, 3))
    full = count > 0.5 * side * side
    return np.argwhere(full).astype(float), np.asarray(total[full] / count[full][:, None])


def _outline(mask: Mask, area: Box) -> tuple[tuple[tuple[float, float], ...], ...]:
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    return tuple(
        tuple((area.x + (float(x) + 0.5) / SMALL, area.y + (float(y) + 0.5) / SMALL) for x, y in contour[:, 0])
        for contour in contours
        if len(contour) > 2
    )
