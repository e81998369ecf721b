"""Strips of one ink heated for rising times: from when on the colour rests, and what still longer heat does to it.

Each time stands for the shift of its strips, each from its own dry colour: so unlike films cancel. It may be several
strips or one that was heated again and again. That the colour rests says nothing of how fast the ink is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import Lab
from ..colorimetry.colour_difference import delta_e_2000, describe_difference
from ..colorimetry.error_covariance import positive, shared_errors, square
from ..colorimetry.intervals import interval_of_difference, unit_metric
from ..messages.message import Message, finding
from ..recipes.treatment import settings_in
from .heat_shift import BeforeAfter, Shift, pair, shift_between, stands_out, strip_of
from .labels import in_order
from .records import AIR_DRIED, HEAT_SET, RUBBED, WASHED, Record

RESTS = 1.0  # CIEDE2000: a colour that certainly moves by less rests, for it is about what an eye sees; no source
LEAST = 3  # times
SPAN = 2.0  # times: a colour rests if it does so from one time to at least so many times that; no source
LEAST_RUN = 3  # times at which it rests, where it moves again later; no source
ALIKE = 10.0  # °C: about one temperature; an iron swings by as much; no source
YELLOWER = np.array([0.0, 0.0, 1.0])  # where too much heat leads
ONE_SIDED, SURE = 1.645, 2.241  # of the normal distribution: 95 % below; 95 % within, of two ways at once
UNLIKE = 0.08  # of its shift: the same where a strip is thinner, or was heated less than was typed; no source
SCATTER = 0.15  # CIELAB: strips of one ink never move quite alike, as in `heat_prediction`; no source


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
    covariance: Array  # (3 n, 3 n) of the shifts of Lab from dry, read-only

    @cached_property
    def rest(self) -> tuple[int, int] | None:
        """The first and the last of `times` between which the colour rests; None where it does not, or none can tell.

        It rests where every later shift differs from that of the first by certainly less than RESTS.
        """
        last = len(self.times) - 1
        for first in range(last if len(self.times) >= LEAST else 0):
            end = first
            while end < last and self._high(first, end + 1) < RESTS:
                end += 1
            long = self.times[end].seconds >= SPAN * self.times[first].seconds
            again = end < last and end - first + 1 >= LEAST_RUN and self.moved(first, end + 1)
            if long and (end == last or again):
                return first, end
        return None

    @cached_property
    def later(self) -> Message | None:
        """How longer heat than it takes to rest moves the colour; None where that is no more than measurement error."""
        last = len(self.times) - 1
        if self.rest is None or not self.moved(self.rest[0], last):
            return None
        moved = self.between(self.rest[0], last)
        ways = describe_difference(moved.after, moved.before)
        return finding("moves-with-longer-heat", seconds=self.times[last].seconds, ways=ways, **_size(moved))

    @cached_property
    def answer(self) -> Message:
        """Whether the colour rests, still moves, or why that cannot be told."""
        seconds = [time.seconds for time in self.times]
        longest = seconds[-1]
        if len(self.times) < LEAST:
            return finding("heated-too-few-times", times=seconds, least=LEAST, next=self.next_seconds)
        if self.rest:
            start, end = (seconds[place] for place in self.rest)
            return finding("colour-rests", start=start, end=end, limit=RESTS)
        last = len(self.times) - 2, len(self.times) - 1
        facts = {"start": seconds[last[0]], "end": longest, "next": self.next_seconds}
        if self._high(*last) < RESTS:
            return finding("rests-too-short", **facts, limit=RESTS)
        facts |= _size(self.between(*last))
        return finding("colour-still-moves", **facts) if self.moved(*last) else finding("heat-too-coarse", **facts)

    @cached_property
    def next_seconds(self) -> tuple[float, ...]:
        """How long further strips should be heated; none where that is clear already."""
        longest = self.times[-1].seconds
        if self.rest:
            return ()
        missing = LEAST - len(self.times)
        if missing <= 0 and not self.moved(len(self.times) - 2, len(self.times) - 1) and self._coarse:
            return tuple(time.seconds for time in self.times[-2:])
        return tuple(longest * SPAN**step for step in range(1, max(missing, 1) + 1))

    @property
    def _coarse(self) -> bool:
        return self._high(len(self.times) - 2, len(self.times) - 1) >= RESTS

    def lab(self, place: int) -> Lab:
        """The colour after one of `times`, of a strip as they are on average when dry."""
        lightness, a, b = (float(value) for value in self.times[place].shift.after)
        return lightness, a, b

    def between(self, first: int, second: int) -> Shift:
        """How the colour moved from one of `times` to another."""
        return shift_between(self.lab(first), self.lab(second), self._covariance(first, second))

    def moved(self, first: int, second: int) -> bool:
        """Whether that is more than measurement error, in any way or along those that heat goes."""
        way = np.subtract(self.lab(second), self.lab(first))
        along = self._along(first, second)
        return stands_out(way, self._covariance(first, second)) or any(abs(far) > SURE * std for far, std in along)

    def _high(self, first: int, second: int) -> float:
        """The most that it may be, CIEDE2000, along the ways that heat goes; in any way where these are not known."""
        here, there = np.array(self.lab(first)), np.array(self.lab(second))
        if not self.times[second].shift.real:
            return interval_of_difference(there, here, self._covariance(first, second))[1]
        most = max(abs(far) + ONE_SIDED * std for far, std in self._along(first, second))
        return max(most, float(delta_e_2000(there, here)))

    def _along(self, first: int, second: int) -> list[tuple[float, float]]:
        """How far it moved yellower, and on in the way it went from dry, with the standard deviation; CIEDE2000."""
        here, there = np.array(self.lab(first)), np.array(self.lab(second))
        metric = unit_metric((here + there) / 2)
        noise = metric @ self._covariance(first, second) @ metric.T
        ways = [YELLOWER, there - self.times[second].shift.before]
        units = [metric @ way / np.linalg.norm(metric @ way) for way in ways if way.any()]
        return [(float(unit @ metric @ (there - here)), float(unit @ noise @ unit) ** 0.5) for unit in units]

    def _covariance(self, first: int, second: int) -> Array:
        one, other = slice(3 * first, 3 * first + 3), slice(3 * second, 3 * second + 3)
        whole = self.covariance
        return positive(whole[one, one] + whole[other, other] - whole[one, other] - whole[other, one], 0.0)


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
    dry = np.mean([one.before.colour.lab for one in group], axis=0)
    celsius = [one.after.state.celsius for one in group if one.after.state.celsius is not None]
    times = [
        HeatedFor(
            time,
            tuple(pairs),
            tuple(each for each in tested if each.before.number in {one.after.number for one in pairs}),
            shift_between(_lab(dry), _lab(dry + shifts[i]), covariance[3 * i : 3 * i + 3, 3 * i : 3 * i + 3].copy()),
        )
        for i, (time, pairs) in enumerate(zip(seconds, strips, strict=True))
    ]
    settings = settings_in(group[0].after.state.how)
    return HeatSeries((min(celsius), max(celsius)) if celsius else None, settings, tuple(times), covariance)


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


def _size(moved: Shift) -> dict[str, float]:
    size = moved.ciede2000
    return {"moved": size.value, "low": size.low, "high": size.high}


def _lab(values: Array) -> Lab:
    lightness, a, b = (float(value) for value in values)
    return lightness, a, b
