"""Parts of a window that are measured as they lie, with no look for ink: its middle, or two halves side by side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...cards.design import Window
from ...errors import UsageError
from ...geometry.rectify import FlatCard
from ...illumination.solve import Light
from ..segmentation import SMALL, middle_disc
from ..single_photo import Look
from ..strip_sample import StripSample, summarise, window_piece

# Of two halves: kept clear of their dividing line, width and height of what is measured, mm.
HALF_GAP, HALF_WIDTH, HALF_HEIGHT = 2.0, 7.0, 12.0


def window_named(name: str, look: Look) -> Window:
    """The window of that name.

    Raises
    ------
    UsageError
        The card has none of that name.
    """
    windows = look.pose.design.windows
    found = next((window for window in windows if window.name == name), None)
    if found is None:
        there = [window.name for window in windows]
        raise UsageError("strip-not-there", "choose-a-strip", photo=look.photo.path, strip=name, strips=there)
    return found


def sample_middle(window: Window, card: FlatCard, light: Light) -> StripSample:
    """What lies in the middle of a window, 12 mm across, whatever is round it.

    Raises
    ------
    StripError
        It is overexposed.
    """
    plane = window_piece(window.box, card, light)
    return summarise(window.name, "stain", plane, middle_disc(plane), light.field)


def sample_halves(window: Window, card: FlatCard, light: Light) -> tuple[StripSample, StripSample]:
    """What lies left and right of the upright middle line of a window, such as a pair of a grey scale.

    So near to each other the light errs alike in both: `light_std` is half, in variance, of what it may differ by.

    Raises
    ------
    StripError
        One of them is overexposed.
    """
    plane = window_piece(window.box, card, light)
    height, width = plane.light.shape[:2]
    rows, columns = np.ogrid[:height, :width]
    across, down = (columns - (width - 1) / 2) / SMALL, np.abs(rows - (height - 1) / 2) / SMALL
    halves = [
        (side * across > HALF_GAP) & (side * across < HALF_GAP + HALF_WIDTH) & (down < HALF_HEIGHT / 2)
        for side in (-1, 1)
    ]
    middle, reach = np.array(window.box.centre), np.array([HALF_GAP + HALF_WIDTH / 2, 0.0])
    apart = light.field.std_between(middle - reach, middle + reach) / np.sqrt(2)
    one, other = (
        replace(summarise(window.name, "stain", plane, half, light.field), light_std=float(apart)) for half in halves
    )
    return one, other
