"""What a correction adds to the pot so that it becomes the target: first, it must do no harm.

Pigment cannot be taken out again. So an addition is proposed only if it very likely brings the pot nearer, and hardly
ever makes it worse by what an eye sees; of a long way only so much is gone at first, and then a new strip tells more
than any theory. The chances are those of all that is not known together: the ink now and after the addition share
what is not known of the pot, so that whether it moves the right way is surer than where it ends. What was measured of
the pot is among the palette's known strips. One strip cannot tell a strong ink from a thick film: then strength is left
alone, and shade is mended as far as it shows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from math import erfc, sqrt

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import lab_to_lch
from ..colorimetry.colour_difference import NEAR_NEUTRAL, delta_e_2000
from ..colorimetry.intervals import unit_metric
from .pigment_model import Palette, blocks_of, square
from .search import USUAL_LIMITS, Limits, Mix, Shelf, Target, Vessel, aim_of, choices, mixes, pot_in_hand, weighed

BEYOND = 0.5  # CIEDE2000; past the target by less than this nobody sees it; common practice, no source
GAIN = 0.2  # CIEDE2000 that an addition must bring the pot nearer; else it is left as it is; from build studios
# An addition must bring the pot nearer with this chance, and may with that one make it worse by more than BEYOND:
# what a printer who cannot take it out again would ask for; common sense, no source.
SURE_ENOUGH, HARM = 0.8, 0.02
PARTS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)  # of the way; smaller steps would never end; no source
WORTH_A_BOTTLE = 0.1  # CIEDE2000 that a further pigment must bring to a correction; common sense, no source
OPPOSITE = 150.0  # degrees of hue from which on a pigment knocks a colour back; no source
NO_WAY = 1e-6  # CIEDE2000; a pot that moves less does not move
DRAWS = 4000  # of what may be true: a chance of 2 % is told to 0.2 %
MORE_STRIPS = (1, 2)  # further strips of the pot whose help is worked out; more nobody makes; no source
STRIP_NOISE = 0.1  # CIELAB squared, of a further strip beside the target in one photo; from build studios
LONGER_SERIES = 0.5  # of the doubt of pigments that is left with twice the strips, as variance
CUT_OFF = 1.5  # CIEDE2000, one standard deviation: a colour of which the camera leaves so much open is cut off


@dataclass(frozen=True)
class Chances:
    """What may come of an addition to a pot, all that is not known drawn."""

    nearer: float  # 0..1, that the ink is truly nearer to the target then
    worse: float  # 0..1, that it is further from it by more than BEYOND

    @property
    def good(self) -> bool:
        """Whether it may be proposed."""
        return self.nearer >= SURE_ENOUGH and self.worse <= HARM


@dataclass(frozen=True)
class Addition:
    """What to add to a pot now."""

    part: float  # of the whole way
    mix: Mix  # after this step; amounts in g for 1 g of the pot
    whole: Mix  # at the end of the way
    overshoot: float  # probability that this step ends beyond the target by more than BEYOND
    chances: Chances


class Means(StrEnum):
    """What would make a correction surer."""

    WHOLE_COLOUR = "whole-colour"  # a Display P3 or DNG photo, or a let-down strip: the colour was cut off
    MORE_STRIPS = "more-strips"  # of the pot
    FINER_SCALE = "finer-scale"
    LONGER_SERIES = "longer-series"


@dataclass(frozen=True)
class Help:
    """One way to be sure enough."""

    means: Means
    strips: int = 0  # so many more, if they look like those that there are
    pigments: tuple[str, ...] = ()  # whose series


@dataclass(frozen=True)
class Correction:
    """The pot as it is, and what may be done about it."""

    now: Mix  # nothing added
    additions: tuple[Addition, ...]  # that are sure enough, the recommended one first
    tried: tuple[Addition, ...]  # all that were thought of; none where the limits leave no room


def correct(
    palette: Palette,
    target: Target,
    shares: Mapping[str, float],
    limits: Limits = USUAL_LIMITS,
    shelf: Shelf | None = None,
    pot: str = "",
    dose: Callable[[Mix], Mix] = lambda mix: mix,
) -> Correction:
    """What to add to a pot of known shares, %, whose strips are among the palette's known strips, as those of `pot`.

    `dose` makes of a mix what can be weighed of it.
    """
    vessel = pot_in_hand(palette, shares, shelf, pot)
    now = weighed(palette, target, vessel, {})
    steps = [
        Addition(part, mix, whole, overshoot(palette, target, now, mix), Chances(0, 1))
        for whole in choices(mixes(palette, target, vessel, limits), WORTH_A_BOTTLE)
        for part in PARTS
        if (mix := dose(_part_of(palette, target, vessel, whole, part))).amounts
    ]
    found = chances(palette, target, now, [step.mix for step in steps])
    tried = tuple(replace(step, chances=chance) for step, chance in zip(steps, found, strict=True))
    good = [step for step in tried if step.chances.good]
    ranked = choices([step.mix for step in good], WORTH_A_BOTTLE)
    additions = _once([next(step for step in good if step.mix is mix) for mix in ranked])
    return Correction(now, additions, tried)


def _part_of(palette: Palette, target: Target, vessel: Vessel, whole: Mix, part: float) -> Mix:
    return weighed(palette, target, vessel, {thing: part * amount for thing, amount in whole.amounts.items()})


def _once(steps: Sequence[Addition]) -> tuple[Addition, ...]:
    """Of the same things only the best step."""
    first: dict[frozenset[str], Addition] = {}
    for step in steps:
        first.setdefault(frozenset(step.mix.amounts), step)
    return tuple(first.values())


def chances(palette: Palette, target: Target, now: Mix, then: Sequence[Mix]) -> list[Chances]:
    """What may come of each of some mixes, made of the pot as it is now."""
    return _drawn(*_known(palette, target, [now, *then]))


def _known(palette: Palette, target: Target, each: Sequence[Mix]) -> tuple[Array, Array, Array]:
    """(3,) CIELAB aimed at; (m, 3) of some mixes, and the covariance (m, m, 3, 3) of how far they are from it."""
    joint = palette.predict_all([mix.content for mix in each], target.measured)
    return aim_of(palette, target), np.array([one.lab for one in joint.each]), joint.covariance


def _drawn(aim: Array, labs: Array, covariance: Array) -> list[Chances]:
    """The chances of all mixes but the first, which is the pot now."""
    found = []
    for then in range(1, len(labs)):
        pair = [0, then]
        values, axes = np.linalg.eigh(square(covariance[np.ix_(pair, pair)]))
        noise = (_normal() @ (axes * np.sqrt(np.maximum(values, 0))).T).reshape(-1, 2, 3)
        before, after = np.moveaxis(delta_e_2000(labs[pair] + noise, aim), 1, 0)
        found.append(Chances(float(np.mean(after < before)), float(np.mean(after > before + BEYOND))))
    return found


@cache
def _normal() -> Array:
    """(DRAWS, 6) points of the unit normal distribution, the same at every call."""
    half = np.random.default_rng(2026).normal(size=(DRAWS // 2, 6))
    return np.concatenate([half, -half])


def helps_for(palette: Palette, target: Target, now: Mix, then: Sequence[Mix]) -> tuple[Help, ...]:
    """What would make one of these mixes sure enough, the cheapest first."""
    aim, labs, covariance = _known(palette, target, [now, *then])
    found = [Help(Means.WHOLE_COLOUR)] if is_cut_off(palette, target, now) else []
    for count in MORE_STRIPS:
        if _any_good(aim, *_with_strips(palette, target, now, (aim, labs, covariance), count)):
            found.append(Help(Means.MORE_STRIPS, count))
            break
    exact = palette.predict_all([replace(mix.content, std={}) for mix in (now, *then)], target.measured)
    if _any_good(aim, labs, exact.covariance):
        found.append(Help(Means.FINER_SCALE))
    doubt = palette.doubt_of_pigments([mix.content for mix in (now, *then)])
    if _any_good(aim, labs, covariance - (1 - LONGER_SERIES) * doubt):
        names = sorted({name for mix in then for name in mix.amounts})
        found.append(Help(Means.LONGER_SERIES, pigments=tuple(names)))
    return tuple(found)


def _any_good(aim: Array, labs: Array, covariance: Array) -> bool:
    return any(chance.good for chance in _drawn(aim, labs, covariance))


def _with_strips(
    palette: Palette, target: Target, now: Mix, known: tuple[Array, Array, Array], count: int
) -> tuple[Array, Array]:
    """Colours and their covariance if so many more strips of the pot looked like those that there are."""
    aim, labs, covariance = known
    own = palette.of_pot(now.content.pot)
    seen = np.mean([palette.known_strips[at].colour.lab for at in own], axis=0) if own else labs[0]
    # What target and strip share of the camera's error cancels.
    apart = seen - np.array(target.lab) - (labs[0] - aim) if own else np.zeros(3)
    noise = now.predicted.film / count + STRIP_NOISE * np.eye(3)
    flat = square(covariance)
    gain = flat[:, :3] @ np.linalg.inv(flat[:3, :3] + noise)
    return labs + (gain @ apart).reshape(-1, 3), blocks_of(flat - gain @ flat[:3])


def is_cut_off(palette: Palette, target: Target, now: Mix) -> bool:
    """Whether the camera left so much open of the pot's colour, or the target's, that it was cut off."""
    own = [palette.known_strips[at].colour for at in palette.of_pot(now.content.pot)]
    for colour in [*own, *([target.measured] if target.measured else [])]:
        metric = unit_metric(np.array(colour.lab))
        if np.sqrt(np.linalg.eigvalsh(metric @ colour.errors.of("ink") @ metric.T)[-1]) > CUT_OFF:
            return True
    return False


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
