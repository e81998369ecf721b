"""Whether card, values and phone together measure right: known greys and a known white through the whole road.

The pairs of a grey scale for change in colour (ISO 105-A02) are known differences that anyone can buy. A pair lies in
a window, its dividing line upright in the middle, so that both halves lie in the same light. PTFE tells whether the
stock looks in this light as its values say: not where an instrument read it with more ultraviolet than the lamp has.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from ...arrays import Array
from ...cards.validation import PAPER
from ...colorimetry.cielab import Lab
from ...colorimetry.colour_difference import delta_e_2000
from ...colorimetry.error_covariance import covariance_of_difference
from ...colorimetry.grey_scale import A02_STEPS, GRADES, GreyGrade
from ...colorimetry.intervals import interval_of_difference, radius_of_lab
from ...errors import CardError, StripError, UsageError
from ...messages.message import Flag
from ..card_transfer_fit import fresh_patches
from ..error_budget import Colour, View, colour_of
from ..single_photo import Look, take_look
from ..strip_sample import StripSample
from .known_white import stock_from_white
from .window_parts import sample_halves, window_named

# No source for these.
MOST_UNEVEN = 1.0  # L*, within one half: the dividing line goes through it, or it is worn
GREY = 30.0, 95.0, 10.0  # least and most L* of a grey chip, most C* that a photo may see in it
TWO_SIDED = 1.96  # standard deviations of a normal distribution that hold 95 %
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
class WhiteTest:
    """The card's bare stock, as PTFE shows it in this light, against what its values say."""

    window: str
    lab: Lab
    stated: Lab
    apart: float  # CIEDE2000 between both
    allowed: float  # the same, 95 %: what PTFE, photo and values leave open

    @property
    def outcome(self) -> Outcome:
        """Whether they are one."""
        return Outcome.PASSED if self.apart <= self.allowed else Outcome.FAILED


@dataclass(frozen=True)
class CardTest:
    """What one photo says of its card."""

    look: Look
    pairs: tuple[PairTest, ...]
    white: WhiteTest | None
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
        values = self.look.values
        unsure = codes & DOUBTFUL or not values.absolute or values.uncertainty > TELLING
        return Outcome.CANNOT_TELL if unsure else Outcome.PASSED

    @property
    def parts(self) -> dict[str, Outcome]:
        """What was tested, and how it came out; what counts most comes first."""
        pairs = {"pairs": worst(pair.outcome for pair in self.pairs)} if self.pairs else {}
        white = {"white": self.white.outcome} if self.white else {}
        return pairs | white | {"card": self.card}

    @property
    def outcome(self) -> Outcome:
        """Of all; a card that can't be told from others does not count beside a known white or grey."""
        if Outcome.FAILED in self.parts.values():
            return Outcome.FAILED
        known = [outcome for part, outcome in self.parts.items() if part != "card"]
        return worst(known or [self.card])


def worst(outcomes: Iterable[Outcome]) -> Outcome:
    """Failed if one failed, else not to be told if one is, else passed."""
    return max(outcomes, key=[Outcome.PASSED, Outcome.CANNOT_TELL, Outcome.FAILED].index)


def check_card(
    photo: str, card: str | None = None, *, pairs: Mapping[str, str] | None = None, white: str | None = None
) -> CardTest:
    """Test the card in a photo against its values, and against a grey scale and a white that lie in its windows.

    `pairs` is window -> grade, as "3-4"; `white` is the window with PTFE of at least 0.5 mm.

    Raises
    ------
    UsageError
        There is no such grade or window, or a window is named for both.
    StripError
        What lies in a window is not a pair of greys with its dividing line in the middle.
    CardError
        PTFE is to tell of values that say nothing of the stock, or what lies there can't be PTFE.
    SwatchcamError
        Whatever `take_look` refuses.
    """
    if white in (pairs or {}):
        raise UsageError("white-and-grey", "name-each-window-once", window=white)
    wanted = {window: _step(grade) for window, grade in (pairs or {}).items()}
    look = take_look(photo, card, windows=False)
    tested = tuple(_tested(look, window, step) for window, step in wanted.items())
    return CardTest(look, tested, _white(look, white) if white else None, *_trust(look))


def _white(look: Look, window: str) -> WhiteTest:
    values = look.values
    if not values.absolute:
        raise CardError("card-never-measured", "learn-its-white", values=values.name)
    stock, stated = stock_from_white(look, window), values.lab[PAPER]
    apart = float(delta_e_2000(np.array(stock.lab), np.array(stated)))
    return WhiteTest(window, stock.lab, stated, apart, float(np.hypot(stock.radius, TWO_SIDED * values.uncertainty)))


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
