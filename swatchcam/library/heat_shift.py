"""What heat setting, or washing, did to a colour: pairs of records of one strip, and strips heated for rising times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..colorimetry.colour_shift import Shift, shift
from ..colorimetry.coming_to_rest import Course
from ..colorimetry.error_covariance import positive, shared_errors, square
from ..recipes.treatment import settings_in
from .labels import in_order
from .records import AIR_DRIED, HEAT_SET, RUBBED, WASHED, Record, State, light_of

ALIKE = 10.0  # °C: about one temperature; an iron swings by as much; no source
UNLIKE = 0.08  # of its shift: the same where a strip is thinner, or was heated less than was typed; no source
SCATTER = 0.15  # CIELAB: strips of one ink never move quite alike, as in `heat_prediction`; no source


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
    """Air-dried records with the heat-set one of the same strip, heat-set ones with each number of washes
    and with the rubbed one.

    The same strip is the same shade, batch, strip, let-down and cloth, seen under the same illuminant by the same
    observer, and with measured cards or one and the same nominal one. Of several records of a state the latest counts;
    of those before, the latest that is no younger than the one after.
    """
    return [found for strip in _by_strip(records) for found in _pairs_of(strip)]


def pairs_between(records: Sequence[Record], start: State, end: State) -> list[BeforeAfter]:
    """Of each strip that was measured in both states its records in them; what is the same strip, `pair` says.

    Of several records of a state the latest counts, among those that were not treated clearly unlike what `start` and
    `end` say, where there are any; none before is younger than the one after.
    """
    found = (_pair_between(strip, start, end) for strip in _by_strip(records))
    return [one for one in found if one]


def unpaired(records: Sequence[Record], state: State, pairs: Sequence[BeforeAfter]) -> list[Record]:
    """The last record in a state of each strip that no pair is of, the oldest first."""
    paired = {strip_of(one.before) for one in pairs}
    last = {strip_of(record): record for record in in_order(records) if record.state.like(state)}
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


def _by_strip(records: Sequence[Record]) -> list[list[Record]]:
    """The records of each strip, the oldest first."""
    strips: dict[tuple[object, ...], list[Record]] = {}
    for record in in_order(records):
        strips.setdefault(strip_of(record), []).append(record)
    return list(strips.values())


def strip_of(record: Record) -> tuple[object, ...]:
    """What is the same of all records of one strip: shade, batch and so on, with its mark, for one light and card."""
    colour = record.colour
    # What is wrong with a nominal card cancels between two of its own measurements, and nowhere else.
    card = "" if colour.absolute else record.card
    made = record.shade, record.batch, record.mark, record.let_down, record.cloth
    return *made, light_of(record), colour.absolute, card


def _pairs_of(by_date: Sequence[Record]) -> list[BeforeAfter]:
    latest = {record.state.kind: record for record in by_date}
    found = []
    for state, after in sorted(latest.items(), key=lambda item: item[0].order):
        start = {HEAT_SET: AIR_DRIED, WASHED: HEAT_SET, RUBBED: HEAT_SET}.get(state.name)
        earlier = [record for record in by_date if record.state.name == start and record.measured <= after.measured]
        found += [BeforeAfter(earlier[-1], after)] if earlier else []
    return found


# --- strips heated for rising times


@dataclass(frozen=True)
class HeatedFor:
    """The strips that were heated for one time."""

    seconds: float
    pairs: tuple[BeforeAfter, ...]  # dry and heat-set
    tested: tuple[BeforeAfter, ...]  # heat-set and then washed or rubbed
    shift: Shift  # from dry; mean of its strips


@dataclass(frozen=True)
class HeatSeries:
    """Strips of one ink on one cloth, heated for rising times at about one temperature with one tool."""

    celsius: tuple[float, float] | None  # lowest and highest; None if nobody said
    settings: str  # tool and setting: "2 dots, iron"; "" if nobody said
    times: tuple[HeatedFor, ...]  # the shortest first
    course: Course  # each time stands for the mean shift of its strips, each from its own dry colour: films cancel


def heat_series(records: Sequence[Record]) -> list[HeatSeries]:
    """The series among records of one batch or ink: of each that was heated for at least two times.

    A series is of one shade, batch, let-down, cloth, light and card, as a pair is, of one tool, and of about one
    temperature; what nobody said is a group of its own. A strip counts if it was measured dry before. A strip that
    was heated again and again says its whole time each time.
    """
    runs: dict[tuple[object, ...], list[BeforeAfter]] = {}
    for one in _dry_and_heated(records):
        made = strip_of(one.after)
        runs.setdefault((*made[:2], *made[3:], settings_in(one.after.state.how)), []).append(one)
    alike = [group for run in runs.values() for group in _at_one_temperature(run)]
    tested = [one for one in pair(records) if one.after.state.name in (WASHED, RUBBED)]
    return [_series(group, tested) for group in alike if len({one.after.state.seconds for one in group}) > 1]


def _dry_and_heated(records: Sequence[Record]) -> list[BeforeAfter]:
    """Each strip dry and after each time; of several records of one time the latest counts."""
    found: dict[tuple[object, ...], BeforeAfter] = {}
    dry: dict[tuple[object, ...], list[Record]] = {}
    by_date = in_order(records)
    for record in by_date:
        if record.state.name == AIR_DRIED:
            dry.setdefault(strip_of(record), []).append(record)
    for record in by_date:
        before = [one for one in dry.get(strip_of(record), []) if one.measured <= record.measured]
        if record.state.name == HEAT_SET and record.state.seconds and before:
            where = *strip_of(record), settings_in(record.state.how), record.state.celsius, record.state.seconds
            found[where] = BeforeAfter(before[-1], record)
    return list(found.values())


def _at_one_temperature(run: Sequence[BeforeAfter]) -> Iterator[list[BeforeAfter]]:
    unsaid = [one for one in run if one.after.state.celsius is None]
    group: list[BeforeAfter] = []
    lowest = 0.0
    for celsius, one in sorted(
        ((one.after.state.celsius, one) for one in run if one.after.state.celsius is not None),
        key=lambda each: each[0],
    ):
        if group and celsius - lowest > ALIKE:
            yield group
            group = []
        lowest = lowest if group else celsius
        group.append(one)
    yield from (each for each in (group, unsaid) if each)


def _series(group: Sequence[BeforeAfter], tested: Sequence[BeforeAfter]) -> HeatSeries:
    seconds = sorted({one.after.state.seconds or 0.0 for one in group})
    strips = [[one for one in group if one.after.state.seconds == time] for time in seconds]
    shifts, covariance = _shifts(strips)
    lightness, a, b = (float(value) for value in np.mean([one.before.colour.lab for one in group], axis=0))
    course = Course(tuple(seconds), (lightness, a, b), shifts, covariance)
    celsius = [one.after.state.celsius for one in group if one.after.state.celsius is not None]
    times = [
        HeatedFor(
            time,
            tuple(pairs),
            tuple(each for each in tested if each.before.number in {one.after.number for one in pairs}),
            course.from_dry(i),
        )
        for i, (time, pairs) in enumerate(zip(seconds, strips, strict=True))
    ]
    settings = settings_in(group[0].after.state.how)
    return HeatSeries((min(celsius), max(celsius)) if celsius else None, settings, tuple(times), course)


def _shifts(strips: Sequence[Sequence[BeforeAfter]]) -> tuple[Array, Array]:
    """(n, 3) the mean shift of the strips of each of n times, and (3 n, 3 n) its covariance, read-only.

    What their photos share cancels between times as it does between before and after.
    """
    known = {record.number: record for pairs in strips for one in pairs for record in (one.before, one.after)}
    place = {number: i for i, number in enumerate(known)}
    marks = {mark: i for i, mark in enumerate(dict.fromkeys(strip_of(one.after) for each in strips for one in each))}
    weights, shares = np.zeros((len(strips), len(known))), np.zeros((len(strips), len(marks)))
    for row, pairs in enumerate(strips):
        for one in pairs:
            weights[row, place[one.after.number]] += 1 / len(pairs)
            weights[row, place[one.before.number]] -= 1 / len(pairs)
            shares[row, marks[strip_of(one.after)]] += 1 / len(pairs)
    colours = [record.colour for record in known.values()]
    wide = np.kron(weights, np.eye(3))
    covariance = wide @ square(shared_errors(colours, colours)) @ wide.T
    shifts = weights @ np.array([colour.lab for colour in colours])
    own, flat = shares @ shares.T, shifts.ravel()
    covariance += np.kron(own, SCATTER**2 * np.eye(3))
    covariance += np.kron(own, np.ones((3, 3))) * np.outer(flat, flat) * UNLIKE**2
    covariance = positive(covariance, 0.0)
    covariance.setflags(write=False)
    return shifts, covariance
