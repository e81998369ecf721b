"""The bare cloth, where it shows in the card's windows: round the ink, or in an empty window.

What shows through a film is its cloth, so strength can be told from shade only where the cloth is known. What lies
around the card is not taken for it: it may be the table.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from ..arrays import Array, Mask
from ..cards.design import Box
from ..illumination.light_field import STD_OF_MAD, Field
from .segmentation import EDGE_MARGIN, SMALL, CardPiece, disc, lightness
from .strip_sample import StripSample

CLOTH = "cloth"
# No source for these.
LEAST_AREA = 12.0  # mm² of bare cloth, all windows together
CLEAR = 0.5  # mm more than the edge of the ink is kept clear of
FAR, LEAST_SPREAD = 3.0, 0.5  # robust standard deviations from most of the cloth: lint, a smear; at least so many L*
ALIKE_POINTS, MOST_LOOKS = 25, 20  # points that err together; independent looks at the cloth, at most


def bare_cloth(
    pieces: Sequence[tuple[CardPiece, Mask]], strips: Sequence[StripSample], field: Field
) -> StripSample | None:
    """The cloth as a strip of its own; None where no window shows it.

    `pieces` are the windows and where the ink lies in each, `strips` what was read there.
    """
    bare = [(piece, _without_ink(mask)) for piece, mask in pieces]
    seen = np.concatenate([piece.light[mask] for piece, mask in bare]).astype(float)
    if len(seen) < LEAST_AREA * SMALL**2:
        empty = (strip for strip in strips if any(found.code == "bare-cloth" for found in strip.flags))
        return next(empty, None)
    cut = np.concatenate([piece.cut[mask] for piece, mask in bare]).mean(axis=0)
    return _sample(_most_of(seen), cut, pieces[0][0].area, len(seen) / SMALL**2, field)


def _without_ink(mask: Mask) -> Mask:
    """Where a window surely shows no ink; `mask` is the ink less its own edge."""
    return ~cv2.dilate(mask.astype(np.uint8), disc(2 * EDGE_MARGIN + CLEAR)).astype(bool)


def _most_of(seen: Array) -> Array:
    tone = lightness(seen.astype(np.float32))
    middle = np.median(tone, axis=0)
    spread = np.maximum(STD_OF_MAD * np.median(np.abs(tone - middle), axis=0), LEAST_SPREAD)
    return seen[(np.abs(tone - middle) < FAR * spread).all(axis=1)]


def _sample(seen: Array, cut: Array, at: Box, area: float, field: Field) -> StripSample:
    mean = seen.mean(axis=0)
    noise = np.cov(seen.T) / np.clip(len(seen) / ALIKE_POINTS, 2, MOST_LOOKS)
    return StripSample(
        name=CLOTH,
        rgb=(float(mean[0]), float(mean[1]), float(mean[2])),
        covariance=tuple((float(a), float(b), float(c)) for a, b, c in noise),
        cut=(float(cut[0]), float(cut[1]), float(cut[2])),
        light_std=float(field.relative_std(np.array([at.x + at.w / 2, at.y + at.h / 2]))),
        area_mm2=area,
        uneven=0.0,
        outline=(),
        flags=(),
    )
