"""Whether card, values and phone together measure right: a known grey scale read through the whole road.

The pairs of a grey scale for change in colour (ISO 105-A02) are known differences that anyone can buy. A pair lies in
a window, its dividing line upright in the middle, so that both halves lie in the same light.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from ...arrays import Array
from ...colorimetry.error_covariance import covariance_of_difference
from ...colorimetry.grey_scale import A02_STEPS, GRADES, GreyGrade
from ...colorimetry.intervals import interval_of_difference, radius_of_lab
from ...errors import StripError, UsageError
from ...messages.message import Flag
from ..card_transfer_fit import fresh_patches
from ..error_budget import Colour, View, colour_of
from ..single_photo import Look, take_look
from ..strip_sample import StripSample
from .window_parts import sample_halves, window_named

# No source for these.
MOST_UNEVEN = 1.0  # L*, within one half: the dividing line goes through it, or it is worn
GREY = 30.0, 95.0, 10.0  # least and most L* of a grey chip, most C* that a photo may see in it
TELLING = 2.0  # CIEDE2000; values less sure than this fit almost any print
EVERY = 6  # patches, of which one is measured as a strip would be: for speed
UNFIT, DOUBTFUL = {"card-unlike-values", "card-faded", "patches-stained"}, {"card-fits-poorly", "patches-left-out"}


class Outcome(StrEnum):
    """What a test says."""

    PASSED = "passed"
    FAILED = "failed"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class PairTest:
    """One pair of the grey scale, as measured."""

    window: str
    step: GreyGrade
    difference: float  # CIELAB, as the standard's
    low: float  # 95 % interval of the true one
    high: float
    lightness: tuple[float, float]  # L* of the left half and of the right one

    @property
    def outcome(self) -> Outcome:
        """Whether the interval meets what the standard allows; it can't be told if it holds the next pairs' too."""
        if not self._meets(self.step):
            return Outcome.FAILED
        place = A02_STEPS.index(self.step)
        neighbours = (*A02_STEPS[max(place - 1, 0) : place], *A02_STEPS[place + 1 : place + 2])
        as_well = all(self.low <= step.nominal <= self.high for step in neighbours)
        return Outcome.CANNOT_TELL if as_well else Outcome.PASSED

    def _meets(self, step: GreyGrade) -> bool:
        return self.low <= step.nominal + step.tolerance and self.high >= step.nominal - step.tolerance


@dataclass(frozen=True)
class CardTest:
    """What one photo says of its card."""

    look: Look
    pairs: tuple[PairTest, ...]
    own: float  # CIEDE2000, 95 %: how far a colour's own numbers may be off, typically
    between: float  # the same of the difference of two like strips in this photo

    @property
    def flags(self) -> tuple[Flag, ...]:
        """What is weak about photo and card."""
        return tuple(dict.fromkeys(self.look.flags))

    @property
    def card(self) -> Outcome:
        """Whether the card fits its values; those that were never measured can't tell."""
        codes = {flag.code for flag in self.flags}
        if codes & UNFIT:
            return Outcome.FAILED
        unsure = codes & DOUBTFUL or self.look.values.uncertainty > TELLING
        return Outcome.CANNOT_TELL if unsure else Outcome.PASSED

    @property
    def outcome(self) -> Outcome:
        """Of the pairs, where there are any, and of the card."""
        found = [pair.outcome for pair in self.pairs]
        if Outcome.FAILED in (*found, self.card):
            return Outcome.FAILED
        if not found:
            return self.card
        return Outcome.CANNOT_TELL if Outcome.CANNOT_TELL in found else Outcome.PASSED


def check_card(photo: str, card: str | None = None, *, pairs: Mapping[str, str] | None = None) -> CardTest:
    """Test the card in a photo against its values, and against pairs of a grey scale, where some lie in its windows.

    `pairs` is window -> grade, as "3-4".

    Raises
    ------
    UsageError
        There is no such grade or window.
    StripError
        What lies in a window is not a pair of greys with its dividing line in the middle.
    SwatchcamError
        Whatever `take_look` refuses.
    """
    wanted = {window: _step(grade) for window, grade in (pairs or {}).items()}
    look = take_look(photo, card, windows=False)
    tested = tuple(_tested(look, window, step) for window, step in wanted.items())
    return CardTest(look, tested, *_trust(look))


def _step(grade: str) -> GreyGrade:
    if grade not in GRADES:
        raise UsageError("grade-unknown", "choose-a-grade", grade=grade, grades=list(GRADES))
    return A02_STEPS[GRADES.index(grade)]


def _tested(look: Look, window: str, step: GreyGrade) -> PairTest:
    left, right = (_colour(look, half) for half in _halves(look, window))
    for colour in (left, right):
        _refuse_coloured(window, np.array(colour.lab))
    low, high = interval_of_difference(
        np.array(right.lab), np.array(left.lab), covariance_of_difference(right, left), formula=_apart
    )
    size = float(_apart(np.array(right.lab), np.array(left.lab)))
    return PairTest(window, step, size, low, high, (left.lab[0], right.lab[0]))


def _halves(look: Look, window: str) -> tuple[StripSample, StripSample]:
    place = window_named(window, look)
    try:
        halves = sample_halves(place, look.card, look.light)
    except StripError as error:
        if error.code != "strip-too-small":
            raise
        halves = None  # two colours in one half: what is not of its main one was left out
    if halves is None or max(half.uneven for half in halves) > MOST_UNEVEN:
        raise StripError("pair-off-middle", "lay-the-pair-in-the-middle", strip=window)
    return halves


def _refuse_coloured(window: str, lab: Array) -> None:
    darkest, lightest, coloured = GREY
    if not darkest < lab[0] < lightest or np.hypot(lab[1], lab[2]) > coloured:
        raise StripError("pair-not-grey", "lay-the-pair-in-the-middle", strip=window, lab=lab.tolist())


def _colour(look: Look, strip: StripSample) -> Colour:
    return colour_of([View(look.photo.digest, strip, look.balance, look.response)])


def _apart(lab: Any, other: Any) -> Any:
    """CIELAB difference, which the standard's pairs are told in."""
    return np.linalg.norm(np.asarray(lab) - np.asarray(other), axis=-1)


def _trust(look: Look) -> tuple[float, float]:
    """How sure a colour's own numbers are in this photo, and a difference of two like strips: as of its patches."""
    patches = list(fresh_patches(look.card, look.card, look.light).values())[::EVERY]
    colours = [_colour(look, patch) for patch in patches]
    alone = [2 * colour.errors.of("noise", "light") for colour in colours]
    between = [radius_of_lab(np.array(each.lab), own) for each, own in zip(colours, alone, strict=True)]
    return float(np.median([colour.radius for colour in colours])), float(np.median(between))
