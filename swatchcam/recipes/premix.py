"""A pre-mix: pigment thinned with clear base, so that a coarse scale can weigh a little of it.

A strong one is made of the pigment, a weak one of the strong one: so neither takes more pigment, nor a larger jar, than
a studio has. What its making is off is shared by all that is ever dosed from it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .drops import Drops
from .numbers import check_number
from .recipe import CLEAR_BASE
from .scale_resolution import on_scale, tidied, weighed_std

STRENGTHS = (0.1, 0.01)  # part of pigment in a pre-mix
WEAK, STRONGER = 0.03, 3.0  # a share up to which a pre-mix is made of one that is so many times as strong; no source
STEP_DOWN = 0.1  # how weak a pre-mix is made of a stronger one, as part of that; common practice, no source
BATCH_STEPS = 20  # of the scale, that the pigment fills of which a pre-mix is made; no source
LEAST_G, MOST_G = 1e-4, 1e5  # that go into one; no source
ROUND_FIGURE = 0.05  # as near, as a part of it, 10 or 1 %; no source
SPARE = 1.2  # so many times of what is needed is made of a pre-mix; common practice, no source


@dataclass(frozen=True)
class PreMix:
    """A pigment thinned with clear base, in one jar or bottle."""

    pigment: str  # as the studio writes it
    share: float  # part of pigment in it, 0..1
    std: float  # relative standard deviation of that share: all doses of it share that
    grams: float | None = None  # left of it; None if nobody knows, or where it is still to be made
    drops: Drops | None = None  # where it is in a bottle whose drops were counted
    lot: str = ""  # of the pigment
    mixed: str = ""  # ISO date
    number: int | None = None  # in the library; None where it is still to be made
    makings: int = 0  # how many pre-mixes must be made before there is this one

    @property
    def name(self) -> str:
        """What is written on it: "blue 10 %" of what is 9.93 %, so that a jar filled anew keeps its name."""
        percent = 100 * self.share
        round_figure = float(f"{percent:.1g}")
        near = abs(percent / round_figure - 1) <= ROUND_FIGURE
        return f"{self.pigment} {round_figure if near else float(f'{percent:.2g}'):g} %"

    def holds(self, grams: float) -> bool:
        """Whether so much can be taken out of it, as far as anybody knows."""
        return self.grams is None or grams <= self.grams


@dataclass(frozen=True)
class Making:
    """How a pre-mix is made: so much of a stronger ink, filled up with clear base."""

    made: PreMix
    of: PreMix | None  # None: of the pigment itself
    ink_g: float
    binder_g: float

    @property
    def grams(self) -> float:
        """All of it."""
        return self.ink_g + self.binder_g


def making(pigment: str, share: float, scale_g: float, needed_g: float = 0.0, of: PreMix | None = None) -> Making:
    """How to make a pre-mix of that share, at least `needed_g` of it and some more, on a scale with that step.

    `of` is a stronger pre-mix of which it is made. What is put in fills at least BATCH_STEPS of the scale.

    Raises
    ------
    UsageError
        A number makes no sense.
    """
    check_number(scale_g, "scale-step", 1e-4, 100)
    check_number(100 * share, "pre-mix-percent", 0.01, 50)
    part = share / (of.share if of else 1.0)
    # Some more than is needed: the pot may grow, and not all of a pre-mix leaves its jar.
    least = max(BATCH_STEPS * scale_g, SPARE * needed_g * part)
    ink = tidied(math.ceil(least / scale_g - 1e-9) * scale_g, scale_g)
    binder = on_scale(ink * (1 / part - 1), scale_g)
    return Making(made_of(pigment, ink, binder, scale_g, of), of, ink, binder)


def made_of(pigment: str, ink_g: float, binder_g: float, scale_g: float, of: PreMix | None = None) -> PreMix:
    """The pre-mix that comes of so much ink and clear base, and how sure its share is.

    Raises
    ------
    UsageError
        A number makes no sense.

    Source
    ------
    JCGM 100:2008, 5.1.2, of share = ink / (ink + clear base); both were weighed.
    """
    check_number(scale_g, "scale-step", 1e-4, 100)
    check_number(ink_g, "pigment-grams", LEAST_G, MOST_G)
    check_number(binder_g, "ingredient-grams", LEAST_G, MOST_G, CLEAR_BASE)
    whole, error = ink_g + binder_g, weighed_std(scale_g)
    own = math.hypot(error / ink_g * binder_g / whole, error / whole)
    share, std = ink_g / whole * (of.share if of else 1.0), math.hypot(own, of.std if of else 0.0)
    return PreMix(pigment, share, std, whole, makings=1 + (of.makings if of else 0))


def makings(
    pigment: str, share: float, scale_g: float, needed_g: float = 0.0, jars: Sequence[PreMix] = ()
) -> tuple[Making, ...]:
    """How to make a pre-mix of what stands on the shelf: the last one is it, a stronger one is made first.

    A weak one is made of the strongest of `jars` that is clearly stronger and holds enough, else of a fresh one of the
    first of STRENGTHS; a strong one of the pigment itself.

    Raises
    ------
    UsageError
        A number makes no sense.
    """
    check_number(100 * share, "pre-mix-percent", 0.01, 50)
    if share > WEAK:
        return (making(pigment, share, scale_g, needed_g),)
    for jar in sorted(jars, key=lambda jar: -jar.share):
        made = making(pigment, share, scale_g, needed_g, jar) if jar.share >= STRONGER * share else None
        if made and jar.holds(made.ink_g):
            return (made,)
    # A very weak one is made in as many steps as need be.
    stronger = min(STRENGTHS[0], share / STEP_DOWN)
    made = making(pigment, share, scale_g, needed_g, makings(pigment, stronger, scale_g, jars=jars)[-1].made)
    return (*makings(pigment, stronger, scale_g, made.ink_g, jars), made)


def as_weighed(told: Making, ink_g: float | None, binder_g: float | None, scale_g: float) -> Making:
    """A pre-mix as it really was weighed, where that is not as it was told; raises as `made_of`."""
    ink = told.ink_g if ink_g is None else ink_g
    binder = told.binder_g if binder_g is None else binder_g
    return Making(made_of(told.made.pigment, ink, binder, scale_g, told.of), told.of, ink, binder)
