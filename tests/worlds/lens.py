"""Where the camera stands: from millimetres on the card to pixels and back.

Card coordinates are millimetres from the card's top-left corner, x right, y down; pixel centres are integers.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.worlds.spectra import Array

GRID = 8  # px between the points where a view is computed; it is smooth in between


@dataclass(frozen=True)
class Pose:
    """How the card lies in the frame. Angles in degrees; lengths as fractions of the frame."""

    rotation: float = 0.0  # turn in the plane, clockwise in the picture
    tilt_x: float = 0.0  # the card's top edge away from the camera
    tilt_y: float = 0.0  # the card's right edge away from the camera
    fraction: float = 0.8  # the card's bounding box over the frame's width or height, whichever is fuller
    offset: tuple[float, float] = (0.0, 0.0)  # of the box's middle from the frame's middle
    focal: float = 0.75  # focal length over the frame's long side; 0.75 is a phone's main camera
    k1: float = 0.0  # radial distortion, radius 1 at the frame's corner
    k2: float = 0.0
    curl: float = 0.0  # mm the short edges of the card stand up


@dataclass(frozen=True)
class View:
    """A pose made ready for one frame size; made by `look`."""

    pose: Pose
    card: tuple[float, float]  # mm
    size: tuple[int, int]  # px, width and height
    turn: Array  # (3, 3)
    shift: Array  # (3,) mm

    def project(self, points: Array) -> Array:
        """(..., 2) mm on the card -> (..., 2) px."""
        return self._distort(self._pinhole(self._rise(np.asarray(points, dtype=float))))

    def unproject(self, pixels: Array) -> Array:
        """(..., 2) px -> (..., 2) mm on the card, or on its plane beyond the card's edge."""
        ray = np.dstack(
            [self._straighten(np.asarray(pixels, dtype=float)).reshape(1, -1, 2), np.ones(pixels.size // 2)]
        )
        direction = (ray[0] - np.array([*self._middle, 0])) / np.array([self._focal, self._focal, 1]) @ self.turn
        eye = -self.shift @ self.turn
        height = np.zeros(len(direction))
        for _ in range(12 if self.pose.curl else 1):
            far = (height - eye[2]) / direction[:, 2]
            flat = eye[:2] + direction[:, :2] * far[:, None]
            length, height = self._flatten(flat[:, 0])
        middle = np.array(self.card) / 2
        return (np.column_stack([length, flat[:, 1]]) + middle).reshape(pixels.shape)

    def scale(self, point: Array) -> float:
        """The larger of the two local scales at a point, px per mm."""
        ends = self.project(np.asarray(point) + np.array([[0, 0], [0.5, 0], [0, 0.5]]))
        return float(np.linalg.svd((ends[1:] - ends[0]) * 2, compute_uv=False)[0])

    def maps(self, origin: tuple[float, float], scale: float) -> NDArray[np.float32]:
        """(h, w, 2) the point of the card seen by every pixel, on a sheet that starts at `origin` mm."""
        width, height = self.size
        # Two cells more on every side: the interpolation is wrong at the border of its grid.
        xs = (np.arange(-2, -(-width // GRID) + 2) + 0.5) * GRID - 0.5
        ys = (np.arange(-2, -(-height // GRID) + 2) + 0.5) * GRID - 0.5
        grid = np.stack(np.meshgrid(xs, ys), axis=-1)
        seen = ((self.unproject(grid) - origin) * scale - 0.5).astype(np.float32)
        # OpenCV's cubic kernel bends even a straight line, by 5 % of a cell; the linear one is exact there.
        full = cv2.resize(seen, None, fx=GRID, fy=GRID, interpolation=cv2.INTER_LINEAR)
        return full[2 * GRID : 2 * GRID + height, 2 * GRID : 2 * GRID + width]

    @property
    def _middle(self) -> Array:
        return (np.array(self.size, dtype=float) - 1) / 2

    @property
    def _focal(self) -> float:
        return self.pose.focal * max(self.size)

    def _pinhole(self, points: Array) -> Array:
        seen = points @ self.turn.T + self.shift
        return seen[..., :2] / seen[..., 2:] * self._focal + self._middle

    def _distort(self, pixels: Array) -> Array:
        away = pixels - self._middle
        square = (away**2).sum(axis=-1, keepdims=True) / (self._middle**2).sum()
        return self._middle + away * (1 + self.pose.k1 * square + self.pose.k2 * square**2)

    def _straighten(self, pixels: Array) -> Array:
        guess = pixels.copy()
        for _ in range(15 if self.pose.k1 or self.pose.k2 else 0):
            guess = guess + pixels - self._distort(guess)
        return guess

    def _radius(self) -> float:
        return (self.card[0] / 2) ** 2 / (2 * self.pose.curl)

    def _rise(self, points: Array) -> Array:
        """Millimetres along the card -> (..., 3) mm in space, from the card's middle; z away from the camera."""
        centred = points - np.array(self.card) / 2
        if not self.pose.curl:
            return np.concatenate([centred, np.zeros_like(centred[..., :1])], axis=-1)
        radius, half = self._radius(), self.card[0] / 2
        side, along = np.sign(centred[..., 0]), np.abs(centred[..., 0])
        angle, beyond = np.minimum(along, half) / radius, np.maximum(along - half, 0)
        x = side * (radius * np.sin(angle) + beyond * np.cos(angle))
        z = -(radius * (1 - np.cos(angle)) + beyond * np.sin(angle))
        return np.stack([x, centred[..., 1], z], axis=-1)

    def _flatten(self, x: Array) -> tuple[Array, Array]:
        """mm in space -> mm along the card, and the height z there."""
        if not self.pose.curl:
            return x, np.zeros_like(x)
        radius, half = self._radius(), self.card[0] / 2
        last = half / radius
        inner = np.minimum(np.abs(x), radius * np.sin(last))
        beyond = (np.abs(x) - inner) / np.cos(last)
        along = radius * np.arcsin(inner / radius) + beyond
        z = -(radius * (1 - np.cos(np.minimum(along, half) / radius)) + beyond * np.sin(last))
        return np.sign(x) * along, z


def look(pose: Pose, card: tuple[float, float], size: tuple[int, int]) -> View:
    """Stand where the card fills the wanted part of the frame."""
    turn = _rotation(pose)
    frame = np.array(size, dtype=float)
    corners = np.array([[0, 0], [card[0], 0], [card[0], card[1]], [0, card[1]]], dtype=float)
    shift = np.array([0.0, 0.0, pose.focal * max(size) * card[0] / (pose.fraction * size[0])])
    for _ in range(40):
        view = View(pose, card, size, turn, shift)
        seen = view.project(corners)
        low, high = seen.min(axis=0), seen.max(axis=0)
        filled = ((high - low) / frame).max()
        miss = (np.array(pose.offset) + 0.5) * frame - 0.5 - (low + high) / 2
        shift = shift + np.array([*(miss * shift[2] / (pose.focal * max(size))), 0.0])
        shift = shift * (filled / pose.fraction)
    return View(pose, card, size, turn, shift)


def _rotation(pose: Pose) -> Array:
    turn, x, y = (np.deg2rad(angle) for angle in (pose.rotation, pose.tilt_x, pose.tilt_y))
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, np.cos(x), np.sin(x)], [0, -np.sin(x), np.cos(x)]])
    about_y = np.array([[np.cos(y), 0, -np.sin(y)], [0, 1, 0], [np.sin(y), 0, np.cos(y)]])
    return about_x @ about_y @ about_z
