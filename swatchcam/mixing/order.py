"""What is ordered, what is proposed for it, and what all proposals have in common: limits, rounding, refusals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from ..errors import UsageError
from ..library.proposals import CORRECTION
from ..messages.message import Flag, flag
from ..recipes.arithmetic import DIGITS
from ..recipes.numbers import check_number
from ..recipes.recipe import Recipe
from ..recipes.thinning import Thinning
from .gamut import LIGHTS, Reach, metameric_shift
from .known_strip import shares_of
from .pot_correction import BEYOND, GAIN, Chances, Help
from .rounding import dispensed
from .search import MOST, STRONG, THINGS, WORTH_ONE_MORE, Limits, Mix, Target, Vessel, choices
from .workbench import Bench

TOO_COARSE = 1.0  # CIEDE2000 that the steps of the scale may cost before it is told; no source


@dataclass(frozen=True)
class Order:
    """How much is wanted, and with what it is weighed."""

    grams: float
    scale_g: float = 0.1
    pigments: tuple[str, ...] = ()  # only these
    things: int | None = None  # pigments at most; by default 3, or as many as the recipe before
    most: float = MOST  # % of all pigments together

    def check(self) -> None:
        """Refuse what makes no sense.

        Raises
        ------
        UsageError
            An amount, a scale or a limit that is none.
        """
        check_number(self.grams, "ink-grams", 1, 1e6)
        check_number(self.scale_g, "scale-step", 1e-4, 10)
        check_number(self.most, "pigment-limit", 0.01, 50)
        check_number(self.at_most(), "pigment-count", 1, 4)

    def at_most(self, usual: int = THINGS) -> int:
        """So many pigments at most."""
        return usual if self.things is None else self.things


class Leave(StrEnum):
    """Why a pot in hand is best left as it is."""

    NO_VISIBLE_DIFFERENCE = "no-visible-difference"  # from the target
    TOO_FINE = "too-fine-to-weigh"  # what would help is less than the scale can weigh
    NOT_SURE = "not-sure-enough"  # that what would help does not make it worse
    NOTHING_HELPS = "nothing-helps"  # by as much as an eye sees
    STATE_UNSEEN = "state-unseen"  # hardly a strip shows what the target's state does to a colour


@dataclass(frozen=True)
class Choice:
    """One way to get there, as it can be weighed."""

    mix: Mix
    added: Recipe  # what is weighed now; without binder where something is added to a pot
    pot: Recipe  # all that is in the pot then
    lights: Mapping[str, float]  # light -> CIEDE2000 that it will differ from the target there; {} without a spectrum
    opposite: tuple[str, ...] = ()  # pigments that lie opposite the colour: a little makes it greyer
    part: float = 1.0  # of the whole way, where it is a step
    overshoot: float = 0.0  # probability that it ends beyond the target
    chances: Chances | None = None  # of a pot in hand, that this helps
    roads: Thinning | None = None  # where it is a thinner pot

    @property
    def sure(self) -> bool:
        """Whether it is sure enough to help to be done with a pot in hand."""
        return self.chances is not None and self.chances.good


@dataclass(frozen=True)
class Proposed:
    """What is proposed; the recommended choice first."""

    kind: str
    target: Target
    now: Mix | None  # the pot as it is, where there is one
    choices: tuple[Choice, ...]
    reach: Reach | None
    flags: tuple[Flag, ...]
    nearest: float = np.inf  # CIEDE2000 that would be come to if any amount could be weighed
    unsure: float = np.inf  # CIEDE2000 that would be come to by what is not sure enough to be proposed
    helps: tuple[Help, ...] = ()  # what would make it so
    strips: int = 0  # of the pot in hand, on which this rests
    unseen: bool = False  # fewer strips show the target's state than tell anything about it
    treat_next: tuple[int, ...] = ()  # records of dry strips that would tell most of the target's state, best first
    right: float = 0.0  # chance that the pot in hand is right and only its strips look off, by their films

    @property
    def leave(self) -> Leave | None:
        """Why the pot in hand is best left as it is; None where that is not so."""
        if self.kind != CORRECTION or self.now is None:
            return None
        if self.unseen and not self.choices:
            return Leave.STATE_UNSEEN
        if self.now.distance <= BEYOND:
            return Leave.NO_VISIBLE_DIFFERENCE
        if self.choices and self.now.distance - self.choices[0].mix.distance >= GAIN:
            return None
        if not self.choices and self.now.distance - self.unsure >= GAIN:
            return Leave.NOT_SURE
        return Leave.TOO_FINE if self.now.distance - self.nearest >= GAIN else Leave.NOTHING_HELPS


def check_target(bench: Bench, target: Target) -> None:
    """Refuse a target that does not go with the known strips.

    Raises
    ------
    UsageError
        Numbers for a nominal card, or a nominal card beside measured ones.
    """
    if target.measured is None and not bench.absolute:
        raise UsageError("numbers-need-measured-card", "measure-target-with-this-card")
    if target.measured is not None and target.measured.absolute != bench.absolute:
        raise UsageError("cards-unlike", "use-values-of-that-card", known_measured=bench.absolute)


def shares_in(bench: Bench, pot: Recipe, mixed: str = "") -> tuple[dict[str, float], dict[str, float]]:
    """As `shares_of`, a stronger lot of the day on which it was mixed counting as more pigment."""
    shares, std = shares_of(pot)
    strengths = bench.strengths(tuple(shares), mixed) if shares else {}
    return {n: s * strengths[n] for n, s in shares.items()}, {n: s * strengths[n] for n, s in std.items()}


def refuse_no_room(found: Sequence[Mix]) -> None:
    """Raise UsageError where the limits leave no room for anything."""
    if not found:
        raise UsageError("no-room-for-pigment", "loosen-limits")


def weighable(
    bench: Bench, target: Target, vessel: Vessel, found: Sequence[Mix], order: Order, limits: Limits
) -> list[Mix]:
    """The mixes as they can be weighed, what is recommended first; the same one only once."""
    done: dict[frozenset[tuple[str, float]], Mix] = {}
    for mix in found:
        rounded = dispensed(bench.palette, target, vessel, mix, order.grams, order.scale_g, bench.least_g, limits)
        if rounded.amounts or vessel.base.any():
            done.setdefault(frozenset((name, round(amount, 9)) for name, amount in rounded.amounts.items()), rounded)
    if not done:
        raise UsageError("too-pale-to-weigh", "mix-more-or-finer-scale", grams=order.grams)
    return choices(list(done.values()), WORTH_ONE_MORE)


def coarse(nearest: Mix, weighed: Mix, order: Order) -> tuple[Flag, ...]:
    """A flag where the steps of the scale cost much."""
    if weighed.distance - nearest.distance <= TOO_COARSE:
        return ()
    return (flag("scale-coarse", step=order.scale_g, grams=order.grams, possible=nearest.distance),)


def grams_of(bench: Bench, mix: Mix, whole_g: float) -> dict[str, float]:
    """Name as the studio writes it -> g of what is put in."""
    return {
        bench.names.get(name, name): round(amount * whole_g, DIGITS)
        for name, amount in mix.amounts.items()
        if name != STRONG
    }


def lights_of(mix: Mix, target: Target) -> dict[str, float]:
    """light -> CIEDE2000 that a mix will differ from its target there; {} for a target without a spectrum."""
    if target.reflectance is None:
        return {}
    return {light: metameric_shift(mix.predicted.reflectance, np.array(target.reflectance), light) for light in LIGHTS}
