"""How sharp a photo is, read from the edges of the card's tags."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..cards.design import Tag
from ..photo.photo import Photo
from .projection import project


def edge_spread(
    photo: Photo,
    tags: list[Tag],
    h: Array,
    distortion: Array,
    centre: tuple[float, float],
    radius: float,
) -> float:
    """Standard deviation, mm, of the blur across the tags' outer edges, the worst direction.

    An edge blurred by a Gaussian is its integral: from 20 % to 80 % of the step it takes 1.683 standard deviations.
    """
    module = tags[0].box.w / 8
    across = np.linspace(-0.7, 0.7, 39) * module  # the border and the white around it, one module each
    a, c = np.meshgrid(np.linspace(0.15, 0.85, 24) * tags[0].box.w, across, indexing="ij")
    side = tags[0].box.w
    outlines = np.stack([np.stack(xy, -1) for xy in ((a, -c), (side + c, a), (a, side + c), (-c, a))])
    corners = np.array([[tag.box.x, tag.box.y] for tag in tags])
    px = project(h, distortion, outlines + corners[:, None, None, None, :], centre, radius).astype(np.float32)
    worst = []
    for one in px:
        values = _sample_green(photo, one.reshape(-1, 39, 2)).reshape(4, 24, 39).mean(axis=1)
        spread = [_step_width(profile, across) for profile in values]
        # Edges across y and edges across x apart: shaking blurs one of them only.
        worst.append(((spread[0] + spread[2]) / 2, (spread[1] + spread[3]) / 2))
    return float(np.median(np.array(worst), axis=0).max())


def _step_width(profile: Array, across: Array) -> float:
    """Standard deviation of the blur of one step, same unit as `across`; wide if it is no step."""
    outer, inner = profile[-6:].mean(), profile[:6].mean()
    if abs(outer - inner) < 8:
        return float(across[-1])
    rise = np.maximum.accumulate((profile - inner) / (outer - inner))
    low, high = np.interp([0.2, 0.8], rise, across)
    return float(high - low) / 1.683


def _sample_green(photo: Photo, px: NDArray[np.float32]) -> Array:
    low = np.maximum(np.floor(px.reshape(-1, 2).min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(px.reshape(-1, 2).max(axis=0)).astype(int) + 3
    part = photo.pixels[low[1] : high[1], low[0] : high[0], 1]
    local = px - low.astype(np.float32)
    sampled = cv2.remap(part, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return sampled.astype(np.float64)
