"""From what heating time on a colour no longer moves (it rests), and what still longer heat does to it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..messages.message import Message, finding
from .cielab import Lab
from .colour_difference import delta_e_2000, describe_difference
from .colour_shift import Shift, shift_between, stands_out
from .error_covariance import positive
from .intervals import interval_of_difference, unit_metric

RESTS = 1.0  # CIEDE2000: a colour rests if it certainly moves by less, about what an eye can see; no source
LEAST = 3  # times
SPAN = 2.0  # times: a colour rests if it does so from one time to at least so many times that; no source
LEAST_RUN = 3  # times at which it rests, where it moves again later; no source
YELLOWER = np.array([0.0, 0.0, 1.0])  # where too much heat leads
ONE_SIDED, SURE = 1.645, 2.241  # of the normal distribution: 95 % below; 95 % within, of two ways at once


@dataclass(frozen=True)
class Course:
    """How one colour moved, time by time."""

    seconds: tuple[float, ...]  # heated for, the shortest first
    dry: Lab  # before
    shifts: Array  # (n, 3) of Lab from dry
    covariance: Array  # (3 n, 3 n) of these, read-only

    @cached_property
    def rest(self) -> tuple[int, int] | None:
        """Places of the first and last time between which the colour rests; None if that can't be told.

        It rests from the first time on if the colour certainly moves by less than RESTS to every later one.
        """
        last = len(self.seconds) - 1
        for first in range(last if len(self.seconds) >= LEAST else 0):
            end = first
            while end < last and self._high(first, end + 1) < RESTS:
                end += 1
            long = self.seconds[end] >= SPAN * self.seconds[first]
            again = end < last and end - first + 1 >= LEAST_RUN and self.moved(first, end + 1)
            if long and (end == last or again):
                return first, end
        return None

    @cached_property
    def later(self) -> Message | None:
        """How longer heat than it takes to rest moves the colour; None where that is no more than measurement error."""
        last = len(self.seconds) - 1
        if self.rest is None or not self.moved(self.rest[0], last):
            return None
        moved = self.between(self.rest[0], last)
        ways = describe_difference(moved.after, moved.before)
        return finding("moves-with-longer-heat", seconds=self.seconds[last], ways=ways, **_size(moved))

    @cached_property
    def answer(self) -> Message:
        """Whether the colour rests, still moves, or why that cannot be told."""
        seconds, longest = self.seconds, self.seconds[-1]
        if len(self.seconds) < LEAST:
            return finding("heated-too-few-times", times=seconds, least=LEAST, next=self.next_seconds)
        if self.rest:
            start, end = (seconds[place] for place in self.rest)
            return finding("colour-rests", start=start, end=end, limit=RESTS)
        last = len(self.seconds) - 2, len(self.seconds) - 1
        facts = {"start": seconds[last[0]], "end": longest, "next": self.next_seconds}
        if self._high(*last) < RESTS:
            return finding("rests-too-short", **facts, limit=RESTS)
        facts |= _size(self.between(*last))
        return finding("colour-still-moves", **facts) if self.moved(*last) else finding("heat-too-coarse", **facts)

    @cached_property
    def next_seconds(self) -> tuple[float, ...]:
        """How long further strips should be heated; none where that is clear already."""
        if self.rest:
            return ()
        missing = LEAST - len(self.seconds)
        if missing <= 0 and not self.moved(len(self.seconds) - 2, len(self.seconds) - 1) and self._coarse:
            return self.seconds[-2:]
        return tuple(self.seconds[-1] * SPAN**step for step in range(1, max(missing, 1) + 1))

    @property
    def _coarse(self) -> bool:
        return self._high(len(self.seconds) - 2, len(self.seconds) - 1) >= RESTS

    def lab(self, place: int) -> Lab:
        """The colour after a time."""
        lightness, a, b = (float(value) for value in self.dry + self.shifts[place])
        return lightness, a, b

    def from_dry(self, place: int) -> Shift:
        """How far it has moved from dry by then."""
        return shift_between(self.dry, self.lab(place), self._own(place))

    def _own(self, place: int) -> Array:
        at = slice(3 * place, 3 * place + 3)
        return self.covariance[at, at].copy()

    def between(self, first: int, second: int) -> Shift:
        """How the colour moved from one time to another."""
        return shift_between(self.lab(first), self.lab(second), self._covariance(first, second))

    def moved(self, first: int, second: int) -> bool:
        """Whether that is more than measurement error, in any way or along those that heat goes."""
        way = np.subtract(self.lab(second), self.lab(first))
        along = self._along(first, second)
        return stands_out(way, self._covariance(first, second)) or any(abs(far) > SURE * std for far, std in along)

    def _high(self, first: int, second: int) -> float:
        """The most that it may be, CIEDE2000, along the ways that heat goes; in any way where these are not known."""
        here, there = np.array(self.lab(first)), np.array(self.lab(second))
        if not stands_out(self.shifts[second], self._own(second)):
            return interval_of_difference(there, here, self._covariance(first, second))[1]
        most = max(abs(far) + ONE_SIDED * std for far, std in self._along(first, second))
        return max(most, float(delta_e_2000(there, here)))

    def _along(self, first: int, second: int) -> list[tuple[float, float]]:
        """How far it moved yellower, and on in the way it went from dry, with the standard deviation; CIEDE2000."""
        here, there = np.array(self.lab(first)), np.array(self.lab(second))
        metric = unit_metric((here + there) / 2)
        noise = metric @ self._covariance(first, second) @ metric.T
        ways = [YELLOWER, self.shifts[second]]
        units = [metric @ way / np.linalg.norm(metric @ way) for way in ways if way.any()]
        return [(float(unit @ metric @ (there - here)), float(unit @ noise @ unit) ** 0.5) for unit in units]

    def _covariance(self, first: int, second: int) -> Array:
        one, other = slice(3 * first, 3 * first + 3), slice(3 * second, 3 * second + 3)
        whole = self.covariance
        return positive(whole[one, one] + whole[other, other] - whole[one, other] - whole[other, one], 0.0)


def _size(moved: Shift) -> dict[str, float]:
    size = moved.ciede2000
    return {"moved": size.value, "low": size.low, "high": size.high}
