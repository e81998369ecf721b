"""A tolerance about a target, and the uncertainty of a colour, as outlines in the planes that people draw.

The planes are a*b* at the target's lightness, and L*C* at the target's hue.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..arrays import Array, Mask
from .cielab import Lab
from .colour_difference import delta_e_2000

RAYS = 180
FARTHEST = 1000.0  # CIELAB; on a ray where the difference is not reached before, it never is
HALVINGS = 60  # of a bracket: far below the rounding of the colours themselves
REACH_95 = float(np.sqrt(-2 * np.log(0.05)))  # standard deviations; an ellipse of two normal errors holds 95 in 100


def tolerance_in_ab(target: Lab, tolerance: float, rays: int = RAYS) -> Array:
    """(n, 3) CIELAB of the target's lightness whose CIEDE2000 from the target is the tolerance, once around.

    Searched along rays, not approximated. A ray on which no colour is so far away has no point.
    """
    return _crossings(np.array(target), tolerance, _ways(target, rays) @ np.array([_hue_way(target), _across(target)]))


def tolerance_in_lc(target: Lab, tolerance: float, rays: int = RAYS) -> Array:
    """(n, 3) CIELAB of the target's hue whose CIEDE2000 from the target is the tolerance.

    Where the tolerance takes in greys the outline is open: it ends on both sides of the grey axis.
    """
    lightness = np.array([1.0, 0.0, 0.0])
    # Beginning at the grey axis, so that the gap, if there is one, lies at the ends.
    points = _crossings(np.array(target), tolerance, _ways(target, rays) @ np.array([-_hue_way(target), lightness]))
    return points[points[:, 1:] @ _hue_way(target)[1:] >= 0]


def chroma_plane(lab: Array) -> Array:
    """(..., 3) CIELAB -> (..., 2) C*, L*."""
    return np.stack([np.hypot(lab[..., 1], lab[..., 2]), lab[..., 0]], axis=-1)


def uncertainty_in_ab(lab: Lab, covariance: Array) -> Array:
    """(RAYS, 2) a*, b* of the ellipse that holds the true colour in 95 of 100 cases."""
    return np.array(lab[1:]) + _ellipse(covariance[1:, 1:])


def uncertainty_in_lc(lab: Lab, covariance: Array) -> Array:
    """(RAYS, 2) C*, L* of the ellipse that holds the true colour in 95 of 100 cases; first order in C*."""
    to_plane = np.array([_hue_way(lab), [1.0, 0.0, 0.0]])
    return chroma_plane(np.array(lab)) + _ellipse(to_plane @ covariance @ to_plane.T)


def _hue_way(lab: Lab) -> Array:
    """(3,) where more chroma lies; of a grey, along a*."""
    chroma = float(np.hypot(lab[1], lab[2]))
    return np.array([0.0, lab[1] / chroma, lab[2] / chroma]) if chroma > 0 else np.array([0.0, 1.0, 0.0])


def _across(lab: Lab) -> Array:
    _, a, b = _hue_way(lab)
    return np.array([0.0, -b, a])


def _ways(target: Lab, rays: int) -> Array:
    """(rays, 2) unit vectors, once around."""
    # Half a step off: on the ray straight through the grey axis the hue jumps, and rounding decides on which side.
    turn = 2 * np.pi * (np.arange(rays) + 0.5) / rays
    return np.stack([np.cos(turn), np.sin(turn)], axis=-1)


def _crossings(target: Array, tolerance: float, ways: Array) -> Array:
    def short(distance: Array) -> Mask:
        return delta_e_2000(target + distance[:, None] * ways, target) < tolerance

    high = _beyond(short, tolerance, len(ways))
    low = np.zeros_like(high)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        inside = short(middle)
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    points: Array = target + high[:, None] * ways
    return points[high <= FARTHEST]


def _beyond(short: Callable[[Array], Mask], start: float, rays: int) -> Array:
    """(rays,) how far along each ray the tolerance is certainly passed; beyond FARTHEST where it never is."""
    high = np.full(rays, start / 4)
    while (near := short(high) & (high <= FARTHEST)).any():
        high = np.where(near, 1.5 * high, high)
    return high


def _ellipse(covariance: Array) -> Array:
    values, axes = np.linalg.eigh(covariance)
    turn = 2 * np.pi * np.arange(RAYS) / RAYS
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    ellipse: Array = REACH_95 * circle @ (axes * np.sqrt(np.maximum(values, 0))).T
    return ellipse
