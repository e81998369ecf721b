"""What a correction adds to the pot so that it becomes the target: first, it must do no harm.

Pigment cannot be taken out again. So an addition is proposed only if it very likely brings the pot nearer, and hardly
ever makes it worse by what an eye sees; of a long way only so much is gone at first, and then a new strip tells more
than any theory. The chances are those of all that is not known together: the ink now and after the addition share
what is not known of the pot, so that whether it moves the right way is surer than where it ends. What was measured of
the pot is among the palette's known strips. One strip cannot tell a strong ink from a thick film, and pots are often
right: where all that is seen may be film, strength is left alone, and shade is mended as far as it shows.
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
from ..colorimetry.error_covariance import blocks_of, positive, square
from ..colorimetry.intervals import unit_metric
from .dosing.choices import choices
from .pigment_model import Content, Palette
from .search import STRONG, USUAL_LIMITS, Limits, Mix, Shelf, Target, Vessel, aim_of, mixes, pot_in_hand, weighed

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
# How often a pot is right and only looks off by the films of its strips; how far it is off in strength else, and what
# nobody sees, CIEDE2000, one standard deviation. Common sense, no source; checked on build studios.
RIGHT, USUALLY_OFF, UNSEEN = 0.25, 2.0, 0.3
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
    return _drawn(_known(palette, target, [now.content, *(mix.content for mix in then)]))


def may_be_right(palette: Palette, target: Target, now: Mix) -> float:
    """How likely it is, 0..1, that the pot is right and only its strips look off, by their films."""
    return sum(one.likely * _right(one) for one in _known(palette, target, [now.content]))


@dataclass(frozen=True)
class _Known:
    """The pot now and some mixes made of it, as they are predicted where films are so unlike."""

    likely: float  # 0..1
    aim: Array  # (3,) CIELAB
    labs: Array  # (m, 3), the pot now first
    covariance: Array  # (m, m, 3, 3) of how far they are from the target
    film: Array  # (3, 3) of a strip of the pot now


def _known(palette: Palette, target: Target, contents: Sequence[Content]) -> list[_Known]:
    found = []
    for likely, one in palette.by_scatter:
        joint = one.predict_all(contents, target.measured)
        labs = np.array([each.lab for each in joint.each])
        found.append(_Known(likely, aim_of(one, target), labs, joint.covariance, joint.each[0].film))
    return found


def _drawn(known: Sequence[_Known]) -> list[Chances]:
    """The chances of all mixes but the first, which is the pot now."""
    found = np.zeros((len(known[0].labs) - 1, 2))
    for one in known:
        right = _right(one)
        for then in range(1, len(one.labs)):
            pair = [0, then]
            flat = square(one.covariance[np.ix_(pair, pair)])
            values, axes = np.linalg.eigh(flat)
            noise = (_normal() @ (axes * np.sqrt(np.maximum(values, 0))).T).reshape(-1, 2, 3)
            off = one.labs[pair] - one.aim + noise
            # If the pot is right, what is after the addition follows from what was thought of the pot.
            moved = off[:, 1] - off[:, 0] @ np.linalg.pinv(flat[:3, :3]) @ flat[:3, 3:]
            if_right = np.stack([np.zeros_like(moved), moved], axis=1)
            for likely, those in ((one.likely * (1 - right), off), (one.likely * right, if_right)):
                before, after = np.moveaxis(delta_e_2000(one.aim + those, one.aim), 1, 0)
                found[then - 1] += likely * np.array([np.mean(after < before), np.mean(after > before + BEYOND)])
    return [Chances(float(nearer), float(worse)) for nearer, worse in found]


def _right(known: _Known) -> float:
    """How likely it is that the pot is right, and that all that is seen is the film of its strips.

    Strength alone is held against it: where the shade is off, the pot is surely not right.

    Source
    ------
    The ratio of the densities, afterwards and beforehand, of what is off being nothing: Dickey 1971,
    doi:10.1214/aoms/1177693507.
    """
    metric = unit_metric(known.aim)
    off = metric @ (known.labs[0] - known.aim)
    spread = positive(metric @ known.covariance[0, 0] @ metric.T, 0.0) + UNSEEN**2 * np.eye(3)
    way = np.linalg.eigh(metric @ known.film @ metric.T)[1][:, -1]
    ratio = np.sqrt(1 + USUALLY_OFF**2 / (way @ spread @ way)) * np.exp(-(off @ np.linalg.solve(spread, off)) / 2)
    odds = RIGHT / (1 - RIGHT) * ratio
    return float(odds / (1 + odds))


@cache
def _normal() -> Array:
    """(DRAWS, 6) points of the unit normal distribution, the same at every call."""
    half = np.random.default_rng(2026).normal(size=(DRAWS // 2, 6))
    return np.concatenate([half, -half])


def helps_for(palette: Palette, target: Target, now: Mix, then: Sequence[Mix]) -> tuple[Help, ...]:
    """What would make one of these mixes sure enough, the cheapest first."""
    contents = [now.content, *(mix.content for mix in then)]
    known = _known(palette, target, contents)
    found = [Help(Means.WHOLE_COLOUR)] if is_cut_off(palette, target, now) else []
    own = [palette.known_strips[at] for pot in now.content.parts for at in palette.of_pot(pot)]
    seen = [one.colour.lab for one in own if one.later == palette.later]  # in the state of the target
    for count in MORE_STRIPS:
        if _any_good([_with_strips(one, target, seen, count) for one in known]):
            found.append(Help(Means.MORE_STRIPS, count))
            break
    if _any_good(_known(palette, target, [replace(content, std={}) for content in contents])):
        found.append(Help(Means.FINER_SCALE))
    doubt = (1 - LONGER_SERIES) * palette.doubt_of_pigments(contents)
    if _any_good([replace(one, covariance=one.covariance - doubt) for one in known]):
        names = sorted({name for mix in then for name in mix.amounts if name != STRONG})
        found.append(Help(Means.LONGER_SERIES, pigments=tuple(names or now.shares)))
    return tuple(found)


def _any_good(known: Sequence[_Known]) -> bool:
    return any(chance.good for chance in _drawn(known))


def _with_strips(known: _Known, target: Target, seen: Sequence[Sequence[float]], count: int) -> _Known:
    """What would be known if so many more strips of the pot looked like those that were seen."""
    # What target and strip share of the camera's error cancels.
    apart = np.mean(seen, axis=0) - np.array(target.lab) - (known.labs[0] - known.aim) if seen else np.zeros(3)
    flat = square(known.covariance)
    gain = flat[:, :3] @ np.linalg.inv(flat[:3, :3] + known.film / count + STRIP_NOISE * np.eye(3))
    labs, covariance = known.labs + (gain @ apart).reshape(-1, 3), blocks_of(flat - gain @ flat[:3])
    return replace(known, labs=labs, covariance=covariance)


def is_cut_off(palette: Palette, target: Target, now: Mix) -> bool:
    """Whether the camera left so much open of the pot's colour, or the target's, that it was cut off."""
    own = [palette.known_strips[at].colour for pot in now.content.parts for at in palette.of_pot(pot)]
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
