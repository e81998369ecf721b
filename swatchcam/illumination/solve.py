"""Flat card + card values -> the light on the card and the phone's tone curve, found together.

Neither can be found alone: the fall of light is read from the bare white, which the phone has coded through its tone
curve; the tone curve is read from greys that lie in different light. So the curve is solved for, and for each trial
curve the light field follows by linear least squares (variable projection, Golub & Pereyra 1973,
doi:10.1137/0710036).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..cards.values import CardValues
from ..colorimetry.least_squares import least_squares
from ..geometry.rectify import FlatCard
from ..messages.message import Flag
from .checks import LOCAL_TONE_WARNING, light_flags, refuse_spoilt_windows, refuse_steep, refuse_uneven
from .grey_patches import MIN_LEVELS, Greys, PredictedLight, cube_root, grey_spread, usable_greys
from .light_field import Field, fit_field, terms, trusted_white
from .local_tone_mapping import follows_surround
from .tone_curve import CURVE_PRIOR, Tone, waves

__all__ = ["Field", "Light", "Tone", "solve_light"]

FLARE_PRIOR = 0.006  # of white; a clean lens scatters a fraction of a percent (common practice, no source)
# No source for these but where one is named.
CAST_PRIOR = (0.03, 0.03)  # of the cube root, red and blue against green
HUBER = 3.0  # standard deviations beyond which a grey's misfit counts in proportion, not squared
STRAY_GREY, STRAY_TIMES = 5.0, 3.0  # L* off its card value: covered, stained or in glare; so many uncertainties of it
MAX_STRAYS = 4  # greys that may be passed over
ALIKE_GREYS, CARD_SHARE = 1.0, 0.5  # how alike a card prints one grey, L*; at least so much of its values' uncertainty
BRIGHTENED = 0.03  # relative; how far a phone that tone-maps locally may have changed the ink
TINT = 0.06  # of the light's change of colour over the card: how far that changes a channel in the ink


@dataclass(frozen=True)
class Light:
    """Tone curve and light field of one photo."""

    tone: Tone
    field: Field
    wide: Field  # of second order at most: safe to follow a little beyond the card
    white_residual: float  # rms of the bare white off the field, relative
    grey_spread: float  # L*, rms disagreement between prints of one grey
    fall: float  # brightest over darkest light inside the frame
    colour_change: float  # largest relative change of red/green or blue/green across the card
    flags: tuple[Flag, ...]


def solve_light(
    card: FlatCard, values: CardValues, predicted: PredictedLight | None = None, start: Tone | None = None
) -> Light:
    """Find the tone curve and the light field from the greys and the bare white.

    What the camera sees of a grey is not quite what an eye does: `predicted` tells it once the camera is known,
    and `start` where to begin.

    Raises
    ------
    LightError
        A shadow edge or glare crosses the card, the light falls off too steeply, too few greys are usable, or the
        phone has brightened parts of the picture separately (local tone mapping).
    """
    rows, order = trusted_white(card)
    tone, spread = _trusted_tone(usable_greys(card, values, predicted), card, values, rows, order, start)
    size, at = card.pose.design.size_mm, card.white_at[rows]
    log_white = np.log(tone.apply(card.white_rgb[rows]))
    field = fit_field(at, log_white, order, size)
    trusted = np.isin(np.arange(len(card.white_at)), rows)
    residual = float(np.sqrt(np.mean((log_white - np.log(field.at(at))) ** 2)))
    fall, colour_change = _changes(field.at(card.white_at))
    print_spread = max(ALIKE_GREYS, CARD_SHARE * values.uncertainty)
    refuse_uneven(residual, float(trusted.mean()))
    refuse_spoilt_windows(card, trusted)
    refuse_steep(fall, spread, print_spread)
    _, green, blue = np.median(card.white_rgb, axis=0)
    surround = follows_surround(card, tone, at, log_white)
    doubt, tint = (BRIGHTENED if surround < LOCAL_TONE_WARNING else 0.0), TINT * colour_change
    return Light(
        tone=tone,
        field=replace(field, doubt=doubt, tint=tint),
        wide=replace(fit_field(at, log_white, min(order, 2), size), doubt=doubt, tint=tint),
        white_residual=residual,
        grey_spread=spread,
        fall=fall,
        colour_change=colour_change,
        flags=(*card.flags, *light_flags(residual, spread, print_spread, colour_change, surround, blue / green)),
    )


def _changes(white: Array) -> tuple[float, float]:
    """Light on white (n, 3) -> brightest over darkest, and the largest relative change of its colour."""
    tint = white[:, [0, 2]] / white[:, [1]]
    fall = float(np.max(white.max(axis=0) / white.min(axis=0)))
    return fall, float(np.max(tint.max(axis=0) / tint.min(axis=0)) - 1)


def _trusted_tone(
    greys: Greys, card: FlatCard, values: CardValues, rows: NDArray[np.int64], order: int, start: Tone | None
) -> tuple[Tone, float]:
    """The tone curve, without the greys that stray from it; and how much (L*) prints of one grey disagree."""
    at, white, size = card.white_at[rows], card.white_rgb[rows], card.pose.design.size_mm
    fewest = len(greys.level) - MAX_STRAYS
    tone, lightness_off = _solve_tone(greys, at, white, order, size, start)
    while True:
        good = np.abs(lightness_off) <= max(STRAY_GREY, STRAY_TIMES * values.uncertainty)
        if good.all() or good.sum() < fewest or len(set(greys.level[good])) < MIN_LEVELS:
            return tone, grey_spread(greys, lightness_off)
        greys = greys.some(good)
        tone, lightness_off = _solve_tone(greys, at, white, order, size, tone)


def _solve_tone(
    greys: Greys,
    at: Array,
    white: Array,
    order: int,
    size: tuple[float, float],
    start: Tone | None,
) -> tuple[Tone, Array]:
    """Tone curve, and how far (L*) each grey (n,) then is from its card value."""
    solve, grey_terms = np.linalg.pinv(terms(at, order, size)), terms(greys.at, order, size)
    white_waves, grey_waves = waves(white), waves(greys.rgb)

    def grey_residuals(p: Array) -> Array:
        tone = _tone(p)
        field = solve @ np.log(np.maximum(tone.unbend(white_waves), 1e-3))
        seen = tone.unbend(grey_waves) / np.exp(grey_terms @ field)
        # The camera sees printed greys with a cast of its own against the stock, the same for all of them.
        cast = 1 + np.array([p[-2], 0.0, p[-1]])
        return (cube_root(seen) - greys.expected * cast) / greys.std

    prior = np.concatenate([CURVE_PRIOR, [FLARE_PRIOR * float(np.median(white))], CAST_PRIOR])

    def residuals(p: Array) -> Array:
        r = grey_residuals(p).ravel()
        # Pseudo-Huber: one stained grey must not bend the curve, and the slope stays smooth.
        r = np.sign(r) * HUBER * np.sqrt(2 * (np.sqrt(1 + (r / HUBER) ** 2) - 1))
        return np.append(r, p / prior)

    begin = np.zeros(len(prior)) if start is None else np.array([*start.terms, start.flare, 0.0, 0.0])
    fit = least_squares(residuals, begin, tolerance=1e-4)
    return _tone(fit.x), 116 * (grey_residuals(fit.x) * greys.std).mean(axis=1)


def _tone(p: Array) -> Tone:
    """The tone curve among the numbers solved for: its terms, the flare, then the greys' cast in red and blue."""
    return Tone(tuple(float(v) for v in p[:-3]), float(p[-3]))
