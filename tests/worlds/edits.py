"""What people do to a picture before it is measured: an editor's filters, and a screenshot instead of the photo.

All of it is done to the finished 8-bit picture, as an app on the phone does it.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.worlds.spectra import Array

Picture = NDArray[np.uint8]
LUMA = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
SEPIA = np.array([[0.393, 0.769, 0.189], [0.349, 0.686, 0.168], [0.272, 0.534, 0.131]])  # from memory, much copied
BAR = 0.04  # of the screen's height, for clock and battery


def mixed(picture: Picture, matrix: Array) -> Picture:
    """Coded colours (h, w, 3) through a (3, 3) matrix."""
    return cv2.transform(picture, matrix.astype(np.float32))


def saturated(picture: Picture, strength: float) -> Picture:
    """Colours made more vivid by the share `strength`."""
    return mixed(picture, (1 + strength) * np.eye(3) - strength * np.outer(np.ones(3), LUMA))


def sepia(picture: Picture, strength: float) -> Picture:
    """Drawn towards brown."""
    return mixed(picture, (1 - strength) * np.eye(3) + strength * SEPIA)


def posterised(picture: Picture, strength: float) -> Picture:
    """Few levels: code values in steps of 4 to 20."""
    step = 4 + 16 * strength
    codes = np.arange(256)
    return cv2.LUT(picture, np.clip(np.rint(np.rint(codes / step) * step), 0, 255).astype(np.uint8))


def stretched(picture: Picture, strength: float) -> Picture:
    """Levels pulled apart, so that some code values are never used and highlights are cut off."""
    codes = np.arange(256) * (1 + 0.3 * strength) - 16 * strength
    return cv2.LUT(picture, np.clip(np.rint(codes), 0, 255).astype(np.uint8))


def vignetted(picture: Picture, strength: float) -> Picture:
    """Corners darkened for effect, in code values."""
    height, width = picture.shape[:2]
    ys, xs = np.linspace(-1, 1, height), np.linspace(-1, 1, width)
    shade = (1 - strength * ((ys**2)[:, None] + xs**2) / 2).astype(np.float32)
    return np.clip(picture * shade[..., None] + 0.5, 0, 255).astype(np.uint8)


EDITS = {
    "saturated": saturated,
    "sepia": sepia,
    "posterised": posterised,
    "stretched": stretched,
    "vignetted": vignetted,
}


def screenshot(picture: Picture, places: dict[str, Array], share: float) -> tuple[Picture, dict[str, Array]]:
    """The picture shown on a dark screen of the same size, `share` as wide, below a status bar; and its corners."""
    height, width = picture.shape[:2]
    inner = round(share * width), round(share * height)
    left, top = (width - inner[0]) // 2, (height - inner[1]) // 2
    screen = np.full_like(picture, 12)
    screen[top : top + inner[1], left : left + inner[0]] = cv2.resize(picture, inner, interpolation=cv2.INTER_AREA)
    bar = round(BAR * height)
    for number in (1, 2, 3, width // bar - 3, width // bar - 2):
        screen[bar // 4 : bar // 2, number * bar : number * bar + bar // 2] = 230
    scale = np.array(inner) / (width, height)
    return screen, {name: (four + 0.5) * scale - 0.5 + (left, top) for name, four in places.items()}
