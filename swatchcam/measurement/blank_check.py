"""Is there ink in the window at all? Bare cloth looks like the cloth around the card, paper like the card itself."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..geometry.rectify import FlatCard
from ..illumination.solve import Light
from ..messages.message import Flag, flag
from .segmentation import lightness

ALIKE = 0.5  # steps of L* in each channel; bare windows stay within 0.3, the palest of 440 drawn inks is 0.6 away
SHARE = 25  # percent of the looks around the card: the cloth may be a small piece on a table


def cloth_around(card: FlatCard, light: Light) -> NDArray[np.float32]:
    """(k, 3) lightness of what lies around the card, wherever the photo shows it."""
    return lightness((light.tone.apply(card.around_rgb) / light.wide.at(card.around_at)).astype(np.float32))


def bare_flags(ink: Array, around: NDArray[np.float32]) -> Iterator[Flag]:
    """A flag if a window's mean light (3,), relative to white, is that of the cloth around or of the card's stock."""
    tone = lightness(ink.astype(np.float32))
    if len(around) and np.percentile(np.abs(around - tone).max(axis=1), SHARE) < ALIKE:
        yield flag("bare-cloth")
    elif np.abs(tone - 100).max() < ALIKE:
        yield flag("bare-white")
