"""The pot behind the strips: is its shade the same, is it stronger, and would another strip tell?

A strip is not the ink: films differ from one to the next. What two pots' strips show is split into shade, and strength
or film (`strength_split`); only several strips, or films that were weighed, tell strength from film.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import exp, hypot, log

import numpy as np

from ..colorimetry.film_scatter import FilmScatter, film_scatter
from ..colorimetry.strength_curve import TURN, TURN_UNMEASURED, StrengthCurve, curve_over_cloth, place_on
from ..colorimetry.strength_split import Film, Split, split
from ..messages.message import Flag, flag
from ..recipes.film_weight import EVENNESS
from .stored_colour import Kept
from .verdict import Outcome

# Of the tolerance for the whole colour. A thinner film or another strip can put strength right, nothing but pigment
# puts a shade right: so it may be off by a third only, 0.7 of the usual 2, which a trained eye does not see side by
# side. Strength may be off as far as it moves the colour by the tolerance. Common sense, no source.
SHADE_SHARE = 0.35
# Below these nothing can be split; no source.
LEAST_SENSITIVITY = 2.0  # CIEDE2000 for one of ln strength: a film that hides its cloth
DARKEST = 12.0  # L*: what is nearly black tells neither shade nor strength
ODD = 0.05  # how often a fair strip among three or more is called odd, at most
SURE = 1.959964  # standard deviations: 95 % of a normal distribution
OTHER_SHADE = 1.5  # CIEDE2000 off the curve of strength, from where on a strip is hardly of that pot; no source
MOST_MORE = 6  # strips: nobody makes more


STRIPS, POT = "strips", "pot"  # whose verdict counts


class PotOutcome(StrEnum):
    """What the strips say of two pots."""

    SAME = "same ink"
    PROPORTIONS = "same proportions"  # strength cannot be told from film yet
    SHADE = "different shade"
    STRENGTH = "different strength"
    OPEN = "too close to call"


@dataclass(frozen=True)
class PotStrip:
    """One strip of a pot."""

    colour: Kept
    vivid: bool = False  # its colours were cut off by the file's colour space
    coat: tuple[float, float] | None = None  # g/m² of ink, and its relative standard deviation
    record: int | None = None  # its number in the library, where it is kept

    @classmethod
    def of(
        cls,
        colour: Kept,
        flags: Iterable[Flag],
        coat: tuple[float, float] | None = None,
        record: int | None = None,
    ) -> PotStrip:
        """A strip with what was found weak about it."""
        return cls(colour, any(found.code == "too-vivid" for found in flags), coat, record)

    @property
    def name(self) -> str:
        """What it is called where a pot's strips are told apart."""
        return self.colour.name if self.record is None else f"record {self.record}"


@dataclass(frozen=True)
class PotVerdict:
    """The second pot against the first; where it cannot be split, why."""

    split: Split | None
    why_not: Flag | None
    outcome: PotOutcome | None
    shade_tolerance: float  # CIEDE2000
    strength_tolerance: float  # natural logarithm
    scatter: FilmScatter
    counts: tuple[int, int]  # strips of the first pot and of the second
    odd: tuple[str, ...]  # strips that do not fit the others of their pot
    more: int | None  # further strips of the second pot that would tell strength from film; None if none would
    sample: str = ""  # the first strip of the second pot, by its name in the photo

    def judged(self, strips: Outcome) -> Outcome:
        """The pot's verdict as one of OUTCOMES; that of the strips where their difference cannot be split."""
        return strips if self.outcome is None else as_outcome(self.outcome)


def as_outcome(outcome: PotOutcome) -> Outcome:
    """A pot's verdict as one of three."""
    if outcome in (PotOutcome.SHADE, PotOutcome.STRENGTH):
        return Outcome.DIFFERENT
    return Outcome.SAME if outcome is PotOutcome.SAME else Outcome.TOO_CLOSE


def judge_pots(
    first: Sequence[PotStrip],
    second: Sequence[PotStrip],
    tolerance: float,
    scatter: FilmScatter | None = None,
    cloth: Sequence[float] | None = None,
) -> PotVerdict:
    """Judge the second pot by its strips against the first.

    Parameters
    ----------
    tolerance : for the whole colour, CIEDE2000
    scatter : of this studio's films; by default what is taken for granted before it is known
    cloth : (81,) reflectance of the bare cloth, by default what the strips' own photos show of it
    """
    known = scatter or film_scatter()
    counts, sample = (len(first), len(second)), second[0].colour.name
    empty = PotVerdict(None, None, None, SHADE_SHARE * tolerance, 0.0, known, counts, (), None, sample)
    seen = [strip.colour.cloth for strip in (*second, *first) if strip.colour.cloth]
    ground = cloth or (seen[0] if seen else None)
    why_not = _why_not([*first, *second], ground)
    if why_not or ground is None:
        return replace(empty, why_not=why_not)
    curve = curve_of([strip.colour for strip in first], ground)
    found = split(
        [strip.colour for strip in first],
        [strip.colour for strip in second],
        curve,
        _films([*first, *second], known.std),
    )
    if found.sensitivity < LEAST_SENSITIVITY:
        return replace(empty, why_not=flag("ink-hides-cloth"))
    told = replace(empty, split=found, strength_tolerance=tolerance / found.sensitivity, odd=_odd(first, second, found))
    outcome = _outcome(found, told)
    more = _more_strips(found, told) if outcome is PotOutcome.PROPORTIONS else None
    return replace(told, outcome=outcome, more=more)


def films_of(strips: Sequence[PotStrip], cloth: Sequence[float] | None) -> list[float]:
    """The natural logarithms of the films of one pot's strips, about their mean; none where they cannot be told."""
    if cloth is None or _why_not(strips, cloth):
        return []
    curve = curve_of([strip.colour for strip in strips], cloth)
    found = [place_on(curve, np.array(strip.colour.lab)) for strip in strips]
    if max(left for _, left in found) > OTHER_SHADE or np.linalg.norm(curve.slope(0.0)) < LEAST_SENSITIVITY:
        return []
    return [film for film, _ in found]


def curve_of(strips: Sequence[Kept], cloth: Sequence[float]) -> StrengthCurve:
    """The curve of strength of the ink that these strips show."""
    turn = TURN if all(strip.absolute for strip in strips) else TURN_UNMEASURED
    return curve_over_cloth(np.mean([strip.reflectance for strip in strips], axis=0), np.array(cloth), turn)


def _why_not(strips: Sequence[PotStrip], cloth: Sequence[float] | None) -> Flag | None:
    """Why shade and strength cannot be told apart, if so."""
    if any((strip.colour.illuminant, strip.colour.observer) != ("D65", 10) for strip in strips):
        return flag("split-for-other-light")
    if any(strip.vivid for strip in strips):
        return flag("split-of-cut-off-colour")
    if min(strip.colour.lab[0] for strip in strips) < DARKEST:
        return flag("split-of-black")
    return flag("cloth-not-seen") if cloth is None else None


def _films(strips: Sequence[PotStrip], scatter: float) -> list[Film]:
    """What is known of each film beforehand; weights count where every strip was weighed."""
    coats = [strip.coat for strip in strips if strip.coat]
    if len(coats) < len(strips):
        return [Film(scatter)] * len(strips)
    middle = sum(log(coat) for coat, _ in coats) / len(coats)
    return [Film(hypot(std, EVENNESS), log(coat) - middle) for coat, std in coats]


def _odd(first: Sequence[PotStrip], second: Sequence[PotStrip], found: Split) -> tuple[str, ...]:
    """Strips that three or more of one pot outvote."""
    places = range(len(first)), range(len(first), len(first) + len(second))
    strips = [*first, *second]
    return tuple(
        strips[place].name
        for pot in places
        if len(pot) > 2
        for place in (min(pot, key=lambda each: found.doubt[each]),)
        if found.doubt[place] < ODD / len(pot)
    )


def _outcome(found: Split, told: PotVerdict) -> PotOutcome:
    if found.low > told.shade_tolerance:
        return PotOutcome.SHADE
    strength = _strength(found.pots.value, found.pots.std, told.strength_tolerance)
    if strength is Outcome.DIFFERENT:
        return PotOutcome.STRENGTH
    if found.high > told.shade_tolerance:
        return PotOutcome.OPEN
    return PotOutcome.SAME if strength is Outcome.SAME else PotOutcome.PROPORTIONS


def _strength(value: float, std: float, tolerance: float) -> Outcome:
    if abs(value) + SURE * std <= tolerance:
        return Outcome.SAME
    return Outcome.DIFFERENT if abs(value) - SURE * std > tolerance else Outcome.TOO_CLOSE


def _more_strips(found: Split, told: PotVerdict) -> int | None:
    """How many more strips of the second pot would tell strength from film, if they agree with those there are."""
    first, second = told.counts
    films = told.scatter.std**2
    for more in range(1, MOST_MORE + 1):
        std = hypot(found.strips.std, (films / first + films / (second + more)) ** 0.5)
        if _strength(found.strips.value, std, told.strength_tolerance) is not Outcome.TOO_CLOSE:
            return more
    return None


def percent(strength: float) -> float:
    """Natural logarithm of a relative strength -> % more; below 0 less."""
    return 100 * (exp(strength) - 1)
