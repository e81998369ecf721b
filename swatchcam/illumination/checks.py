"""Faults of the light on the card and of the phone's rendering: what is refused, what is flagged."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..arrays import Mask
from ..cards.design import A5_WIDTH
from ..errors import LightError
from ..geometry.rectify import FlatCard
from ..messages.message import Flag, flag

# No number here has a source but where one is named.
MAX_UNEVEN_WHITE = 0.03  # rms of the white off the smooth light field, relative
UNEVEN_WHITE_WARNING = 0.012  # the same, that is flagged
MIN_TRUSTED_WHITE = 0.6  # of the bare white, that can be used
MAX_GREY_SPREAD = 1.0  # L* between prints of one grey; more where the card's values are less certain
GREY_SPREAD_WARNING = 0.6  # the same, that is flagged
WINDOW_SURROUND = 10.0  # mm around a window, on an A5 card
MAX_SPOILT_SURROUND = 0.12  # of the bare white around a window
MAX_FALL = 3.0  # brightest over darkest light on the card
MIXED_WARNING = 0.06  # change of the light's colour across the card, relative
LOCAL_TONE_WARNING = -0.21  # correlation of the white with its surroundings; drawn photos without it stay above -0.19
WARM_WHITE = 0.75  # blue over green, linear; what phones leave of daylight and cool lamps stays above 0.85


def refuse_uneven(white_residual: float, trusted: float) -> None:
    """Refuse light that is not smooth: `trusted` is the share of the bare white that can be used.

    Raises
    ------
    LightError
        A shadow edge, glare or dirt crosses the card.
    """
    if white_residual > MAX_UNEVEN_WHITE or trusted < MIN_TRUSTED_WHITE:
        raise LightError("light-not-smooth", "even-the-light", varies=white_residual, lost=1 - trusted)


def refuse_spoilt_windows(card: FlatCard, trusted: Mask) -> None:
    """Refuse a window beside which the bare white does not follow the light field: the ink in it lies in glare too.

    Raises
    ------
    LightError
        Such a window.
    """
    at = np.concatenate([card.white_at, card.clipped_at])
    good = np.concatenate([trusted, np.zeros(len(card.clipped_at), dtype=bool)])
    scale = card.pose.design.size_mm[0] / A5_WIDTH
    for window in card.pose.design.windows:
        box = window.box
        centre, half = np.array(box.centre), np.array([box.w, box.h]) / 2
        gap = np.linalg.norm(np.maximum(np.abs(at - centre) - half, 0), axis=1)
        beside = gap < WINDOW_SURROUND * scale
        spoilt = 1 - float(good[beside].mean()) if beside.any() else 1.0
        if spoilt > MAX_SPOILT_SURROUND:
            raise LightError("window-in-glare", "clear-the-window", window=window.name, spoilt=spoilt)


def refuse_steep(fall: float, grey_spread: float, print_spread: float) -> None:
    """Refuse what a smooth field and one tone curve cannot undo; `print_spread` (L*) is how alike greys print.

    Raises
    ------
    LightError
        The light falls off too steeply, or prints of one grey disagree.
    """
    if fall > MAX_FALL:
        raise LightError("light-too-steep", "move-the-lamp-away", fall=fall)
    if grey_spread > MAX_GREY_SPREAD * print_spread:
        raise LightError("greys-disagree", "turn-off-brightening", spread=grey_spread)


def light_flags(
    white_residual: float, grey_spread: float, print_spread: float, colour_change: float, surround: float, warmth: float
) -> Iterator[Flag]:
    """What is weak: `surround` from `follows_surround`, `warmth` the white's blue over green in the file."""
    if white_residual > UNEVEN_WHITE_WARNING:
        yield flag("light-uneven", varies=white_residual)
    if grey_spread > GREY_SPREAD_WARNING * print_spread:
        yield flag("greys-differ", spread=grey_spread)
    if colour_change > MIXED_WARNING:
        yield flag("light-mixed", change=colour_change)
    if surround < LOCAL_TONE_WARNING:
        yield flag("parts-brightened")
    if warmth < WARM_WHITE:
        yield flag("light-warm", warmth=warmth)
