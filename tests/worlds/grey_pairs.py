"""Pairs of a grey scale for change in colour, laid in the windows of a card.

The standard (ISO 105-A02, not at hand) gives each pair a darker half of luminous reflectance 12 (from memory) and the
difference that `swatchcam.colorimetry.grey_scale` copies; the greys' spectra and sizes are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tests.worlds.scene import Ink, Loose, Scene
from tests.worlds.spectra import WAVELENGTHS, Array, reflectance_lab

DARK = 0.12
HALF = 11.0, 20.0  # mm


def greys(apart: float, slope: float = 0.02) -> tuple[Array, Array]:
    """(81,) reflectance of the darker half and of one that many CIELAB units lighter; `slope` from end to end."""
    dark = DARK * (1 + slope * (WAVELENGTHS - 560) / 200)
    low, high = 1.0, 3.0
    for _ in range(50):
        middle = (low + high) / 2
        found = float(np.linalg.norm(reflectance_lab(middle * dark) - reflectance_lab(dark)))
        low, high = (middle, high) if found < apart else (low, middle)
    return dark, low * dark


def laid(scene: Scene, apart: Mapping[str, float], off: Mapping[str, float] | None = None, slope: float = 0.02):
    """The scene with a pair in each of these windows, its dividing line `off` mm right of the middle."""
    pieces = []
    for window in scene.card.design.windows:
        if window.name not in apart:
            continue
        width, height = HALF
        x = window.box.x + window.box.w / 2 + (off or {}).get(window.name, 0.0)
        y = window.box.y + (window.box.h - height) / 2
        for side, grey in zip((-width, 0.0), greys(apart[window.name], slope), strict=True):
            pieces.append(Loose(f"{window.name} {side:g}", (x + side, y, width, height), Ink(grey)))
    windows = {name: content for name, content in scene.windows.items() if name not in apart}
    return replace(scene, windows=windows, loose=(*scene.loose, *pieces))
