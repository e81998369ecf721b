"""From the card's plane to the photo: a plane in perspective, seen through a lens that bends straight lines."""

from __future__ import annotations

import numpy as np

from ..arrays import Array
from ..cards.design import Box


def corners_of(box: Box) -> Array:
    """(4, 2) mm, in the order OpenCV reports a tag's corners: top-left first, clockwise as printed."""
    return np.array([[box.x, box.y], [box.x + box.w, box.y], [box.x + box.w, box.y + box.h], [box.x, box.y + box.h]])


def project(
    h: Array,
    distortion: Array,
    points: Array,
    centre: tuple[float, float],
    radius: float,
) -> Array:
    """(..., 2) mm on the card's plane -> (..., 2) px in the photo, as `Pose` says; `h` is its homography (3, 3)."""
    x, y = points[..., 0], points[..., 1]
    w = h[2, 0] * x + h[2, 1] * y + h[2, 2]
    ux = (h[0, 0] * x + h[0, 1] * y + h[0, 2]) / w
    uy = (h[1, 0] * x + h[1, 1] * y + h[1, 2]) / w
    r2 = ux * ux + uy * uy
    stretch = radius * (1 + r2 * (distortion[0] + r2 * distortion[1]))
    return np.stack([centre[0] + ux * stretch, centre[1] + uy * stretch], axis=-1)


def scale_at(
    h: Array,
    distortion: Array,
    point: Array,
    centre: tuple[float, float],
    radius: float,
) -> tuple[float, float]:
    """Px per mm in the longest and the shortest direction at a point of the card."""
    steps = np.array([[0.5, 0], [-0.5, 0], [0, 0.5], [0, -0.5]])
    p = project(h, distortion, point + steps, centre, radius)
    long, short = np.linalg.svd(np.stack([p[0] - p[1], p[2] - p[3]], axis=1), compute_uv=False)
    return float(long), float(short)
