"""Uneven light on the plane: slopes, a shadow's edge, a mirrored lamp, a second lamp.

Light is smooth, so it is computed for every COARSE-th pixel only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.worlds.spectra import Array

if TYPE_CHECKING:
    from tests.worlds.scene import Scene

COARSE = 8  # px


@dataclass(frozen=True)
class Shadow:
    """The edge of a shadow: a line through `point` mm, the dark side at `angle` degrees (0 is right, 90 down)."""

    point: tuple[float, float]
    angle: float
    depth: float  # share of the light that is missing
    soft: float = 4.0  # mm from light to dark


@dataclass(frozen=True)
class Glare:
    """The lamp mirrored in the card: `strength` times what the perfect diffuser sends, over `radius` mm."""

    point: tuple[float, float]
    radius: float
    strength: float


def smooth(coarse: Array, size: tuple[int, int]) -> NDArray[np.float32]:
    """A field on the coarse grid -> (h, w)."""
    height, width = coarse.shape
    full = cv2.resize(coarse.astype(np.float32), (width * COARSE, height * COARSE), interpolation=cv2.INTER_LINEAR)
    pad = ((0, max(size[1] - full.shape[0], 0)), (0, max(size[0] - full.shape[1], 0)))
    return np.pad(full, pad, mode="edge")[: size[1], : size[0]]


def light_field(scene: Scene, points: Array) -> Array | None:
    """Relative light at points (h, w, 2) mm; 1 at the card's middle but for a shadow. None if it is even."""
    if not (scene.slope or scene.bow or scene.shadow):
        return None
    size = np.array(scene.card.design.size_mm)
    angle = np.deg2rad(scene.slope_angle)
    away = points - size / 2
    along = away @ np.array([np.cos(angle), np.sin(angle)]) / size[0]
    # Past the card the light goes on changing ever more gently, and is never negative.
    lit = 1 + np.tanh(scene.slope * along) - scene.bow * np.tanh((away**2).sum(axis=-1) / (size**2).sum() * 4)
    if scene.shadow is not None:
        angle = np.deg2rad(scene.shadow.angle)
        depth = (points - np.array(scene.shadow.point)) @ np.array([np.cos(angle), np.sin(angle)])
        lit = lit * (1 - scene.shadow.depth / (1 + np.exp(-np.clip(4 * depth / scene.shadow.soft, -50, 50))))
    return np.maximum(lit, 0.02)


def other_share(scene: Scene, points: Array) -> Array:
    """The second lamp's share of the light at points (h, w, 2) mm."""
    left, right = scene.other_share
    return np.clip(left + (right - left) * points[..., 0] / scene.card.design.size_mm[0], 0, 1)


def glare_field(glare: Glare, points: Array) -> Array:
    """The mirrored lamp's light at points (h, w, 2) mm."""
    square = ((points - np.array(glare.point)) ** 2).sum(axis=-1) / glare.radius**2
    return glare.strength * np.exp(-0.5 * square)
