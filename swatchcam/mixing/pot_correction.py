"""What a correction adds to the pot so that it becomes the target, in steps that do not overshoot.

Pigment cannot be taken out again, so only additions are thought of, and of a long way only so much is gone at first
that the pot hardly ends up beyond the target; then a new strip tells more than any theory. What was measured of
the pot is among the palette's known strips: so whatever the theory is off there is known already.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import erfc, sqrt

import numpy as np

from ..colorimetry.cielab import lab_to_lch
from ..colorimetry.colour_difference import NEAR_NEUTRAL
from ..colorimetry.intervals import unit_metric
from .pigment_model import Palette
from .search import USUAL_LIMITS, Limits, Mix, Shelf, Target, Vessel, aim_of, choices, mixes, pot_in_hand, weighed

BEYOND = 0.5  # CIEDE2000; past the target by less than this nobody sees it; common practice, no source
RISK = 0.25  # of ending up beyond the target by more than that, which a step may have; common sense, no source
GAIN = 0.2  # CIEDE2000 that an addition must bring the pot nearer; else it is left as it is; from build studios
PARTS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)  # of the way; smaller steps would never end; no source
WORTH_A_BOTTLE = 0.1  # CIEDE2000 that a further pigment must bring to a correction; common sense, no source
OPPOSITE = 150.0  # degrees of hue from which on a pigment knocks a colour back; no source
NO_WAY = 1e-6  # CIEDE2000; a pot that moves less does not move


@dataclass(frozen=True)
class Addition:
    """What to add to a pot now."""

    part: float  # of the whole way
    mix: Mix  # after this step; amounts in g for 1 g of the pot
    whole: Mix  # at the end of the way
    overshoot: float  # probability that this step ends beyond the target by more than BEYOND


@dataclass(frozen=True)
class Correction:
    """The pot as it is, and what may be done about it."""

    now: Mix  # nothing added
    additions: tuple[Addition, ...]  # the recommended one first; none where the limits leave no room


def correct(
    palette: Palette,
    target: Target,
    shares: Mapping[str, float],
    limits: Limits = USUAL_LIMITS,
    shelf: Shelf | None = None,
    parts: Sequence[float] = PARTS,
) -> Correction:
    """What to add to a pot of known shares, %, whose strip is among the palette's known strips."""
    vessel = pot_in_hand(palette, shares, shelf)
    now = weighed(palette, target, vessel, {})
    best = choices(mixes(palette, target, vessel, limits), WORTH_A_BOTTLE)
    return Correction(now, tuple(step_towards(palette, target, vessel, now, mix, parts) for mix in best))


def step_towards(
    palette: Palette, target: Target, vessel: Vessel, now: Mix, whole: Mix, parts: Sequence[float] = PARTS
) -> Addition:
    """The longest step on the way to a mix that hardly overshoots; at least the last of `parts`."""
    for part in parts:
        mix = weighed(palette, target, vessel, {thing: part * amount for thing, amount in whole.amounts.items()})
        risk = overshoot(palette, target, now, mix)
        if risk <= RISK:
            break
    return Addition(part, mix, whole, risk)


def overshoot(palette: Palette, target: Target, now: Mix, then: Mix) -> float:
    """Probability that the pot ends up beyond the target, by more than BEYOND, along the way that it moves."""
    aim = aim_of(palette, target)
    metric = unit_metric(aim)
    way = metric @ (np.array(then.predicted.lab) - np.array(now.predicted.lab))
    length = float(np.linalg.norm(way))
    if length < NO_WAY:
        return 0.0
    # Of the ink itself: a thick or thin strip does not spoil the pot.
    beyond = float(way @ metric @ (np.array(then.predicted.lab) - aim)) / length
    std = sqrt(max(float(way @ metric @ then.predicted.ink @ metric.T @ way), 1e-12)) / length
    return erfc((BEYOND - beyond) / (std * sqrt(2))) / 2


def knocks_back(palette: Palette, pigment: str, lab: Sequence[float]) -> bool:
    """Whether a pigment lies opposite a colour, (3,) CIELAB: a little of it makes the colour greyer."""
    own = lab_to_lch(palette.labs(palette.vector({pigment: 1.0})[None])[0])
    here = lab_to_lch(np.array(lab))
    turn = abs((own[2] - here[2] + 180) % 360 - 180)
    return bool(min(own[1], here[1]) > NEAR_NEUTRAL and turn >= OPPOSITE)
