"""What heat setting, or washing, did to a colour: pairs of records of one strip, and the shift between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array
from ..colorimetry.cielab import Lab
from ..colorimetry.colour_difference import NEAR_NEUTRAL, delta_e_2000
from ..colorimetry.error_covariance import Measured, covariance_of_difference, interval
from ..colorimetry.grey_scale import grade, grades_within, grey_scale_difference
from ..colorimetry.intervals import interval_of_difference, quantile, scatter
from .labels import in_order
from .records import AIR_DRIED, HEAT_SET, WASHED, Record, State, light_of

BEYOND_CHANCE = 7.815  # 95 % of chi-square with three degrees of freedom (Pearson 1900)
TAILS = 0.025, 0.975
DRAWS = 2000  # pairs of colours before and after; no source


@dataclass(frozen=True)
class Range:
    """A number and the 95 % interval of the true one."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Shift:
    """How one colour moved; after minus before."""

    before: Lab
    after: Lab
    covariance: Array  # (3, 3) of the shift of Lab, read-only
    lightness: Range  # ΔL*
    chroma: Range  # ΔC*
    hue: Range | None  # degrees, above 0 if the hue angle rises; None where a colour is too near grey to have a hue
    ciede2000: Range
    real: bool  # more than chance explains, at 95 %
    grade: str  # grey scale for change in colour, ISO 105-A05
    grades: tuple[str, ...]  # those that it may be, the best first


@dataclass(frozen=True)
class BeforeAfter:
    """One strip before and after."""

    before: Record
    after: Record

    @cached_property
    def shift(self) -> Shift:
        """How its colour moved."""
        return shift(self.before.colour, self.after.colour)


def pair(records: Sequence[Record]) -> list[BeforeAfter]:
    """Air-dried records with the heat-set one of the same strip, heat-set ones with each number of washes.

    The same strip is the same shade, batch, strip, let-down and cloth, seen under the same illuminant by the same
    observer, and with measured cards or one and the same nominal one. Of several records of a state the latest counts;
    of those before, the latest that is no younger than the one after.
    """
    strips: dict[tuple[object, ...], list[Record]] = {}
    for record in records:
        strips.setdefault(_strip(record), []).append(record)
    return [found for strip in strips.values() for found in _pairs_of(strip)]


def pairs_between(records: Sequence[Record], start: State, end: State) -> list[BeforeAfter]:
    """Of each strip that was measured in both states its records in them; what is the same strip, `pair` says.

    Of several records of a state the latest counts, among those that were not treated clearly unlike what `start` and
    `end` say, where there are any; none before is younger than the one after.
    """
    strips: dict[tuple[object, ...], list[Record]] = {}
    for record in in_order(records):
        strips.setdefault(_strip(record), []).append(record)
    found = (_pair_between(strip, start, end) for strip in strips.values())
    return [one for one in found if one]


def unpaired(records: Sequence[Record], state: State, pairs: Sequence[BeforeAfter]) -> list[Record]:
    """The last record in a state of each strip that no pair is of, the oldest first."""
    paired = {_strip(one.before) for one in pairs}
    last = {_strip(record): record for record in in_order(records) if record.state.like(state)}
    return list(in_order(record for strip, record in last.items() if strip not in paired))


def _pair_between(by_date: Sequence[Record], start: State, end: State) -> BeforeAfter | None:
    for after in _fittest_first(by_date, end):
        for before in _fittest_first(by_date, start):
            if before.measured <= after.measured:
                return BeforeAfter(before, after)
    return None


def _fittest_first(by_date: Sequence[Record], state: State) -> list[Record]:
    latest = [record for record in reversed(by_date) if record.state.like(state)]
    return sorted(latest, key=lambda record: record.state.treated_unlike(state))


def _strip(record: Record) -> tuple[object, ...]:
    colour = record.colour
    # What is wrong with a nominal card cancels between two of its own measurements, and nowhere else.
    card = "" if colour.absolute else record.card
    made = record.shade, record.batch, record.mark, record.let_down, record.cloth
    return *made, light_of(record), colour.absolute, card


def _pairs_of(strip: Sequence[Record]) -> list[BeforeAfter]:
    by_date = in_order(strip)
    latest = {record.state.kind: record for record in by_date}
    found = []
    for state, after in sorted(latest.items(), key=lambda item: item[0].order):
        start = {HEAT_SET: AIR_DRIED, WASHED: HEAT_SET}.get(state.name)
        earlier = [record for record in by_date if record.state.name == start and record.measured <= after.measured]
        found += [BeforeAfter(earlier[-1], after)] if earlier else []
    return found


def shift(before: Measured, after: Measured) -> Shift:
    """How a colour moved from one measurement to another, and how sure that is."""
    covariance = covariance_of_difference(after, before)
    covariance.setflags(write=False)
    start, end = np.array(before.lab), np.array(after.lab)
    ends = end + scatter(covariance, DRAWS)
    low, high = interval(after, before)
    distance = Range(float(delta_e_2000(end, start)), low, high)
    best, worst = interval_of_difference(end, start, covariance, formula=_faded)
    return Shift(
        before=before.lab,
        after=after.lab,
        covariance=covariance,
        lightness=_range(end[0] - start[0], ends[:, 0] - start[0]),
        chroma=_range(_chroma(end) - _chroma(start), _chroma(ends) - _chroma(start)),
        hue=_turn(start, end, ends),
        ciede2000=distance,
        real=_stands_out(end - start, covariance),
        grade=grade(float(_faded(end, start))),
        grades=grades_within(best, worst),
    )


def _range(value: float | Array, draws: Array) -> Range:
    low, high = (quantile(draws, tail) for tail in TAILS)
    return Range(float(value), low, high)


def _chroma(lab: Array) -> Array:
    return np.asarray(np.hypot(lab[..., 1], lab[..., 2]))


def _turn(start: Array, end: Array, ends: Array) -> Range | None:
    """Degrees from one hue to the other, the short way round."""
    if min(_chroma(start), _chroma(end)) < NEAR_NEUTRAL:
        return None
    way = _plane(end) * _plane(start).conj()
    angle = float(np.degrees(np.angle(way)))
    # Draws are told from the measured angle, so that none is torn off at 180 degrees.
    return _range(angle, angle + np.degrees(np.angle(_plane(ends) * _plane(start).conj() * way.conj())))


def _plane(lab: Array) -> NDArray[np.complex128]:
    return np.asarray(lab[..., 1] + 1j * lab[..., 2])


def _stands_out(delta: Array, covariance: Array) -> bool:
    """Whether no shift at all lies outside the 95 % ellipsoid of the shift."""
    variances, axes = np.linalg.eigh(covariance)
    along = axes.T @ delta
    # Without any noise the smallest shift is real, and none is not.
    return bool((along**2 / np.maximum(variances, 1e-12)).sum() > BEYOND_CHANCE)


def _faded(after: ArrayLike, before: ArrayLike) -> Array:
    """dE_F of ISO 105-A05, its arguments in the order of the other formulas."""
    return grey_scale_difference(before, after)
