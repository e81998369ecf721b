"""How so much of a pigment gets into the pot with the tools that are there: weighed, counted, or from a pre-mix.

Each way has two errors: its own, and one that all doses from the same bottle or jar share (its calibration, its
making). Which way lands the colour surest is decided in `mixing.dosing`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ..text import key
from .drops import DROP_SCATTER, Drops
from .parser import DROPS, GRAMS
from .premix import STRENGTHS, PreMix, making
from .recipe import SCALE_G, Part
from .scale_resolution import tidied, weighed_std

LIKE = 0.2  # a pre-mix whose share is so near to that of another, relative, stands in for it; no source
MOST_DROPS = 40  # more nobody counts; common sense, no source


@dataclass(frozen=True)
class Tools:
    """What the studio doses with."""

    scale_g: float = SCALE_G  # the scale's step
    drops: Mapping[str, Drops] = field(default_factory=dict)  # pigment, in small letters -> its bottle's
    pre_mixes: Mapping[str, tuple[PreMix, ...]] = field(default_factory=dict)  # the same -> its, on the shelf
    least_g: Mapping[str, float] = field(default_factory=dict)  # the same -> the smallest amount that can be dispensed
    make: bool = False  # whether pre-mixes that are not there may be made
    left: Mapping[str, float] = field(default_factory=dict)  # pigment, or the clear base -> g on the shelf, if known

    def pre_mixes_for(self, pigment: str, grams: float) -> tuple[PreMix, ...]:
        """Those on the shelf, and those that could be made for so much pigment, which have no number."""
        there = self.pre_mixes.get(key(pigment), ())
        return (*there, *_makeable(pigment, grams, self.scale_g, there)) if self.make else there


@dataclass(frozen=True)
class Dose:
    """One thing that is put in, in one way."""

    what: str  # pigment, as the studio writes it
    amount: float  # as the scale shows it, g, or how many drops
    unit: str  # GRAMS or DROPS
    grams: float  # that go in; of a pre-mix, of all of it
    own: float  # relative standard deviation of this dose alone
    common: float = 0.0  # relative standard deviation that all doses from this bottle or jar share
    pre_mix: PreMix | None = None

    @property
    def share(self) -> float:
        """Part of pigment in what goes in."""
        return self.pre_mix.share if self.pre_mix else 1.0

    @property
    def pigment_g(self) -> float:
        """Pigment that goes in, g."""
        return self.grams * self.share

    @property
    def binder_g(self) -> float:
        """Clear base that a pre-mix brings along, g."""
        return self.grams - self.pigment_g

    @property
    def std(self) -> float:
        """Relative standard deviation of the pigment that goes in."""
        return math.hypot(self.own, self.common)

    @property
    def source(self) -> str:
        """The bottle or jar whose error all its doses share; "" for what is weighed as it is."""
        drops = f"drops of {self.pre_mix.name if self.pre_mix else self.what}"
        return drops if self.unit == DROPS else self.pre_mix.name if self.pre_mix else ""

    @property
    def to_make(self) -> int:
        """How many pre-mixes are still to be made for it."""
        return self.pre_mix.makings if self.pre_mix else 0

    def part(self) -> Part:
        """As a part of a recipe."""
        grams, common = self.pigment_g, self.pigment_g * self.common
        plain = self.unit == DROPS and self.pre_mix is None
        amount, unit = (self.amount, DROPS) if plain else (grams, GRAMS)
        return Part(self.what, amount, unit, grams, grams * self.std, source=self.source, common=common)


def doses_near(what: str, grams: float, tools: Tools) -> list[Dose]:
    """Every way to put in about so many grams of a pigment: just below it, and just above; none of nothing."""
    return list(_ways(what, grams, tools))


def weighed_dose(what: str, grams: float, scale_g: float, pre_mix: PreMix | None = None) -> Dose:
    """So many grams, as the scale shows them, of a pigment or of its pre-mix."""
    return Dose(what, grams, GRAMS, grams, weighed_std(scale_g) / grams, pre_mix.std if pre_mix else 0.0, pre_mix)


def counted_dose(what: str, count: int, drops: Drops, pre_mix: PreMix | None = None) -> Dose:
    """So many drops."""
    common = math.hypot(drops.std, pre_mix.std if pre_mix else 0.0)
    return Dose(what, float(count), DROPS, count * drops.grams, DROP_SCATTER / math.sqrt(count), common, pre_mix)


def _ways(what: str, grams: float, tools: Tools) -> Iterator[Dose]:
    """The doses near a weight of pigment, for each way there is."""
    least = tools.least_g.get(key(what), 0.0)
    yield from _weighings(what, grams, tools.scale_g, least)
    if own := tools.drops.get(key(what)):
        yield from _countings(what, grams, own)
    for one in tools.pre_mixes_for(what, grams):
        yield from _weighings(what, grams / one.share, tools.scale_g, least, one)
        if one.drops:
            yield from _countings(what, grams / one.share, one.drops, one)


def _weighings(what: str, wanted: float, scale_g: float, least: float, pre_mix: PreMix | None = None) -> Iterator[Dose]:
    smallest = math.ceil(max(least, scale_g) / scale_g - 1e-9) * scale_g
    below = math.floor(wanted / scale_g + 1e-9) * scale_g
    for grams in (below, below + scale_g) if below >= smallest else (smallest,):
        if pre_mix is None or pre_mix.makings or pre_mix.holds(grams):
            yield weighed_dose(what, tidied(grams, scale_g), scale_g, pre_mix)


def _countings(what: str, wanted: float, drops: Drops, pre_mix: PreMix | None = None) -> Iterator[Dose]:
    below = math.floor(wanted / drops.grams)
    for count in (below, below + 1):
        if 1 <= count <= MOST_DROPS and (pre_mix is None or pre_mix.holds(count * drops.grams)):
            yield counted_dose(what, count, drops, pre_mix)


def _makeable(pigment: str, grams: float, scale_g: float, there: Sequence[PreMix]) -> Iterator[PreMix]:
    """The pre-mixes that could be made: the strong one of the pigment, the weak one of the strong one.

    One that holds too little of the pigment is in the way of none.
    """
    enough, strong = [one for one in there if one.holds(grams / one.share)], None
    for share in STRENGTHS:
        known = next((one for one in enough if abs(one.share / share - 1) < LIKE), None)
        strong = known or making(pigment, share, scale_g, of=strong).made
        if known is None:
            yield strong
