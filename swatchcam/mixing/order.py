"""What is ordered, what is proposed for it, and what all proposals have in common: limits, rounding, refusals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from ..errors import UsageError
from ..library.proposals import CORRECTION
from ..library.records import Batch
from ..messages.message import Flag, flag
from ..recipes.dosing import Dose, Tools
from ..recipes.drops import Drops
from ..recipes.numbers import check_number
from ..recipes.premix import Making
from ..recipes.recipe import BINDER, DROP_G, Recipe, called
from ..recipes.thinning import Thinning
from ..text import key
from .dosing.choices import WORTH_ONE_MORE, choices
from .dosing.rounding import WORTH_MAKING, dispensed
from .gamut import LIGHTS, Reach, metameric_shift
from .known_strip import shares_of
from .pot_correction import BEYOND, GAIN, Chances, Help
from .search import MOST, THINGS, Limits, Mix, Target, Vessel
from .workbench import Bench

# CIEDE2000 that the tools may cost before it is told, and part of it that a thing must leave to be named; no source.
TOLD, ENOUGH_BETTER = 0.3, 0.6
FINER, LARGER = (0.1, 0.01), 3  # scales, and times a larger pot, that are tried to see whether they would help
COUNTED = 0.06  # how well drops are known that somebody counted; from `recipes.drops`, on a scale of 0.1 g
WIDER = 24  # mixes that are tried where the tools are coarse; no source


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
class Rest:
    """What goes into a pot of what is left of an old one."""

    batch: Batch
    grams: float
    left: float  # g, before it is taken


@dataclass(frozen=True)
class Saved:
    """What old ink goes into a pot, and what it saves of what a fresh pot of that colour takes."""

    rests: tuple[Rest, ...] = ()
    base_g: float = 0.0  # of clear base
    pigment_g: float = 0.0  # of pigments; below 0 where more is weighed than for a fresh pot
    ready_g: float = 0.0  # the same, of ready-mixed inks

    @property
    def grams(self) -> float:
        """Old ink in all."""
        return sum(rest.grams for rest in self.rests)


@dataclass(frozen=True)
class Choice:
    """One way to get there, as it can be weighed."""

    mix: Mix
    added: Recipe  # what is put in now; what pre-mixes bring along counts as binder
    pot: Recipe  # all that is in the pot then
    lights: Mapping[str, float]  # light -> CIEDE2000 that it will differ from the target there; {} without a spectrum
    doses: tuple[Dose, ...] = ()  # what is put in, and how, in order
    makings: tuple[Making, ...] = ()  # pre-mixes that are made first
    opposite: tuple[str, ...] = ()  # pigments that lie opposite the colour: a little makes it greyer
    part: float = 1.0  # of the whole way, where it is a step
    overshoot: float = 0.0  # probability that it ends beyond the target
    chances: Chances | None = None  # of a pot in hand, that this helps
    roads: Thinning | None = None  # where it is a thinner pot
    saved: Saved = Saved()  # where it uses up what is left of old pots

    @property
    def tools_cost(self) -> float:
        """CIEDE2000 by which it is to be expected further off than if its amounts could be put in exactly."""
        return float(np.nan_to_num(max(self.mix.expected - self.mix.exact, 0.0)))

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
    bench: Bench, target: Target, vessel: Vessel, possible: Sequence[Mix], worth: float, order: Order, limits: Limits
) -> list[Mix]:
    """The mixes as they can be put in, what is recommended first; the same one only once.

    Where the tools cost too much of a colour, more mixes are tried, and pre-mixes that are still to be made.
    """
    tools = bench.tools_for(order.scale_g)
    done = _dosed(bench, target, vessel, choices(possible, worth), order, tools, limits)
    if not done or tools_cost(done[0], possible) > WORTH_MAKING:
        more = _dosed(bench, target, vessel, possible[:WIDER], order, replace(tools, make=True), limits)
        done = choices(_each_once([*done, *more]), WORTH_ONE_MORE) if done or more else []
    if not done:
        raise UsageError("too-pale-to-weigh", "mix-more-or-finer-scale", grams=order.grams)
    return done


def _dosed(
    bench: Bench, target: Target, vessel: Vessel, found: Sequence[Mix], order: Order, tools: Tools, limits: Limits
) -> list[Mix]:
    dosed = (dispensed(bench.palette, target, vessel, mix, order.grams, tools, limits) for mix in found)
    return choices(_each_once([mix for mix in dosed if mix.amounts or vessel.base.any()]), WORTH_ONE_MORE)


def _each_once(found: Sequence[Mix]) -> list[Mix]:
    """Of mixes that are put in alike the first."""
    once: dict[frozenset[tuple[str, str, float]], Mix] = {}
    for mix in found:
        once.setdefault(frozenset((dose.what, dose.source, dose.amount) for dose in mix.doses), mix)
    return list(once.values())


def coarse(
    bench: Bench, target: Target, vessel: Vessel, possible: Sequence[Mix], best: Mix, order: Order, limits: Limits
) -> tuple[Flag, ...]:
    """A flag where the tools cost much, with what would help."""
    cost = tools_cost(best, possible)
    if cost <= TOLD:
        return ()

    def cost_with(tools: Tools, grams: float = order.grams) -> float:
        ordered = replace(order, grams=grams)
        done = _dosed(bench, target, vessel, possible[:WIDER], ordered, replace(tools, make=True), limits)
        return tools_cost(done[0], possible) if done else np.inf

    tools = bench.tools_for(order.scale_g)
    finer = next((step for step in FINER if step < order.scale_g), None)
    counted = {name: Drops(DROP_G, COUNTED) for name in bench.palette.pigments} | dict(tools.drops)
    would = {
        "finer-scale": cost_with(replace(tools, scale_g=finer)) if finer else np.inf,
        "counted-drops": cost_with(replace(tools, drops=counted)) if counted != tools.drops else np.inf,
        "larger-pot": cost_with(tools, LARGER * order.grams),
    }
    helps = [name for name, left in would.items() if left <= ENOUGH_BETTER * cost]
    return (flag("tools-coarse", cost=cost, step=order.scale_g, grams=order.grams, finer=finer, helps=helps,
                 larger=LARGER * order.grams),)  # fmt: skip


def running_out(bench: Bench, choice: Choice) -> tuple[Flag, ...]:
    """A flag for each pigment, ready-mixed ink or clear base of which there is less on the shelf than goes in."""
    needed = {called(dose.what): dose.grams for dose in choice.doses if dose.pre_mix is None}
    short = [(what, g, left) for what, g in needed.items() if (left := bench.tools.left.get(key(what), np.inf)) < g]
    return tuple(flag("not-enough-left", what=what, needed=g, left=max(left, 0.0)) for what, g, left in short)


def tools_cost(mix: Mix, possible: Sequence[Mix]) -> float:
    """CIEDE2000 by which a mix is to be expected further off than the best if any amount could be put in exactly."""
    return max(mix.expected - min(one.expected for one in possible), 0.0)


def lights_of(mix: Mix, target: Target) -> dict[str, float]:
    """light -> CIEDE2000 that a mix will differ from its target there; {} for a target without a spectrum."""
    if target.reflectance is None:
        return {}
    return {light: metameric_shift(mix.predicted.reflectance, np.array(target.reflectance), light) for light in LIGHTS}


def saved_by(bench: Bench, fresh: Mix, added: Recipe, rests: tuple[Rest, ...], grams: float) -> Saved:
    """What a pot of old ink saves of what a fresh one takes: clear base, pigment, ready-mixed ink."""
    takes = {name: grams * amount for name, amount in fresh.amounts.items()}
    now = {key(part.what): part.grams for part in added.parts}
    more = {name: takes.get(name, 0.0) - now.get(name, 0.0) for name in {*takes, *now} - {BINDER}}
    ready = sum(saved for name, saved in more.items() if name in bench.ready)
    base = grams - sum(takes.values()) - now.get(BINDER, 0.0)
    return Saved(rests, base, sum(more.values()) - ready, ready)
