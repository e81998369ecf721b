"""From the colour that is wanted to the pot: a new recipe, an addition, a thinner pot, the same shade again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .bench import Bench
from .bounds import check_number
from .correcting import BEYOND, GAIN, WORTH_A_BOTTLE, correct, knocks_back
from .dispense import dispensed
from .errors import UsageError
from .kept import Kept
from .mixing import (
    MOST,
    STRONG,
    WORTH_ONE_MORE,
    Limits,
    Mix,
    Target,
    Vessel,
    choices,
    fresh_pot_for,
    mixes,
    new_pot,
    pot_in_hand,
    pot_with_rest,
    weighed,
)
from .pour import filled_up, part_of, together
from .pour import weighed as on_the_scale
from .proposal import AGAIN, CORRECTION, RECIPE, THINNING
from .reach import LIGHTS, Reach, metameric_shift, reach_of
from .recipe import Recipe
from .record import key
from .thinning import Thinning, thin
from .tint import Tint, shares_of

UNKNOWN_STD = 0.25  # relative, of the shares in a pot that was only measured; common sense, no source
TOO_STRONG = 0.3  # CIEDE2000 that thinning must come nearer than any addition; from build studios
THINNED_WITH = 2  # pigments that a thinner pot may take beside the strong ink
LEAST_STRONG, MOST_STRONG = 0.02, 0.99  # of a thinner pot: with less or more of the strong ink it is none
STANDS_IN = 1.5  # CIEDE2000 within which a mix may stand in for a pot of unknown recipe


@dataclass(frozen=True)
class Order:
    """How much is wanted, and with what it is weighed."""

    grams: float
    scale_g: float = 0.1
    pigments: tuple[str, ...] = ()  # only these
    things: int = 3  # pigments at most
    most: float = MOST  # % of all pigments together

    def check(self) -> None:
        """Refuse what makes no sense.

        Raises
        ------
        UsageError
            An amount, a scale or a limit that is none.
        """
        check_number(self.grams, "The amount (g)", 1, 1e6, "500")
        check_number(self.scale_g, "The scale's step (g)", 1e-4, 10, "0.1")
        check_number(self.most, "The limit of all pigments together (%)", 0.01, 50, "8")
        check_number(self.things, "The number of pigments", 1, 4, "3")


@dataclass(frozen=True)
class Choice:
    """One way to get there, as it can be weighed."""

    mix: Mix
    added: Recipe  # what is weighed now; without binder where something is added to a pot
    pot: Recipe  # all that is in the pot then
    price: float | None  # of the pigments weighed now, in the studio's money
    lights: Mapping[str, float]  # light -> CIEDE2000 that it will differ from the target there; {} without a spectrum
    words: tuple[str, ...] = ()
    part: float = 1.0  # of the whole way, where it is a step
    overshoot: float = 0.0  # probability that it ends beyond the target
    roads: Thinning | None = None  # where it is a thinner pot


@dataclass(frozen=True)
class Proposed:
    """What is proposed; the recommended choice first."""

    kind: str
    target: Target
    now: Mix | None  # the pot as it is, where there is one
    choices: tuple[Choice, ...]
    reach: Reach | None
    flags: tuple[str, ...]

    @property
    def leave(self) -> bool:
        """Whether nothing that could be done is expected to make the pot better."""
        if self.now is None:
            return False
        near = self.now.distance <= BEYOND
        return near or not self.choices or self.now.distance - self.choices[0].mix.distance < GAIN


def recipe_for(bench: Bench, target: Target, order: Order) -> Proposed:
    """A new pot for a target.

    Raises
    ------
    UsageError
        An order that makes no sense, a target that does not fit the bench, or nothing can be weighed so finely.
    """
    order.check()
    _check_target(bench, target)
    vessel, limits = new_pot(bench.palette, bench.strengths(order.pigments)), bench.limits(order.things, order.most)
    best = choices(mixes(bench.palette, target, vessel, limits))
    _refuse_no_room(best)
    reach = reach_of(bench.palette, target, vessel, limits, min(best, key=lambda mix: mix.distance))
    found = _weighable(bench, target, vessel, best, order, limits)
    done = tuple(_new(bench, target, mix, order) for mix in found)
    return Proposed(RECIPE, target, None, done, reach, bench.warnings)


def correction_for(bench: Bench, target: Target, pot: Recipe, order: Order) -> Proposed:
    """What to add to a pot whose drawdown is among the bench's tints; `order.grams` is what is in it now.

    Where the pot is too strong for that, a fresh pot of so many grams with a little of it comes first.
    """
    order.check()
    _check_target(bench, target)
    here = part_of(pot, order.grams)
    shares, _ = _shares(bench, here)
    limits, strengths = bench.limits(order.things, order.most), bench.strengths(order.pigments)
    found = correct(bench.palette, target, shares, limits, strengths)
    vessel = pot_in_hand(bench.palette, shares, strengths)
    done: dict[frozenset[str], Choice] = {}
    for step in found.additions:
        mix = dispensed(bench.palette, target, vessel, step.mix, here.grams, order.scale_g, bench.least_g, limits)
        if mix.amounts:
            choice = _into(bench, target, mix, here, order)
            words = _knocked(bench, mix, found.now)
            stepped = replace(choice, words=words, part=step.part, overshoot=step.overshoot)
            done.setdefault(frozenset(mix.amounts), stepped)
    thinner = _thinner_choices(bench, target, here, order, here.grams)[:1]
    nearest = min((addition.whole.distance for addition in found.additions), default=found.now.distance)
    too_strong = [choice for choice in thinner if nearest - choice.mix.distance > TOO_STRONG]
    return Proposed(CORRECTION, target, found.now, (*too_strong, *done.values()), None, bench.warnings)


def thinning_for(bench: Bench, target: Target, pot: Recipe, order: Order, wanted_g: float) -> Proposed:
    """A fresh pot of binder with a little of a strong one, `order.grams` of it, for `wanted_g` of ink.

    Raises
    ------
    UsageError
        The pot is not too strong, or an amount makes no sense.
    """
    order.check()
    _check_target(bench, target)
    check_number(wanted_g, "The wanted amount (g)", 1, 1e6, "500")
    strong = part_of(pot, order.grams)
    now = weighed(bench.palette, target, pot_in_hand(bench.palette, _shares(bench, strong)[0]), {})
    found = _thinner_choices(bench, target, strong, order, wanted_g)
    if not found:
        raise UsageError(
            "This pot is not too strong: no thinner ink would come nearer to the target.",
            "Ask what to add instead, with 'swatchcam mix correct'.",
        )
    return Proposed(THINNING, target, now, tuple(found), None, bench.warnings)


def _thinner_choices(bench: Bench, target: Target, strong: Recipe, order: Order, wanted_g: float) -> list[Choice]:
    vessel = fresh_pot_for(bench.palette, _shares(bench, strong)[0], bench.strengths(order.pigments))
    limits = bench.limits(min(order.things, THINNED_WITH), order.most)
    best = choices(mixes(bench.palette, target, vessel, limits, always=STRONG), WORTH_A_BOTTLE)
    weighable = [mix for mix in best if LEAST_STRONG < mix.amounts[STRONG] < MOST_STRONG]
    return [_thinner(bench, target, vessel, mix, strong, order, wanted_g) for mix in weighable]


def again(
    bench: Bench, target: Target, before: Recipe, order: Order, rests: Sequence[tuple[Recipe, float]] = ()
) -> Proposed:
    """A shade once more: what is left of old pots first, the rest new, with the pigments of the recipe before.

    Raises
    ------
    UsageError
        More is left than is wanted, or a pigment that is in it has no tint.
    """
    order.check()
    _check_target(bench, target)
    left = [part_of(recipe, grams) for recipe, grams in rests]
    rest_g = sum(rest.grams for rest in left)
    if rest_g >= order.grams:
        raise UsageError(
            f"{rest_g:g} g are left, and {order.grams:g} g are wanted.",
            "Measure what is left and correct it with 'swatchcam mix correct', or ask for more.",
        )
    base = _shares(bench, together(*left))[0] if left else {}
    own = tuple(_shares(bench, before)[0])
    strengths = bench.strengths(order.pigments or own)
    vessel = pot_with_rest(bench.palette, base, rest_g / order.grams, strengths)
    limits = bench.limits(max(order.things, min(len(own), 4)), order.most)
    found = choices(mixes(bench.palette, target, vessel, limits), WORTH_A_BOTTLE)
    _refuse_no_room(found)
    weighable = _weighable(bench, target, vessel, found, order, limits)
    done = tuple(_with_rest(bench, target, mix, left, order) for mix in weighable)
    return Proposed(AGAIN, target, None, done, None, bench.warnings)


def stand_in(bench: Bench, colour: Kept, grams: float, order: Order) -> tuple[Bench, Recipe]:
    """A pot of unknown recipe, known by its drawdown alone: a recipe that looks the same stands in for it.

    Raises
    ------
    UsageError
        Nothing that the pigments give looks the same.
    """
    target = Target(colour.lab, "the pot", colour, colour.reflectance)
    limits = bench.limits(order.things, order.most)
    found = choices(mixes(bench.palette, target, new_pot(bench.palette, bench.strengths(order.pigments)), limits))
    _refuse_no_room(found)
    best = found[0]
    if best.distance > STANDS_IN:
        raise UsageError(
            f"Nothing that these pigments give looks like this pot (the nearest is {best.distance:.1f} CIEDE2000 off).",
            "Give its recipe, or name all pigments that may be in it.",
        )
    recipe = filled_up({bench.names.get(n, n): share * grams / 100 for n, share in best.shares.items()}, grams, 1e-3)
    std = {name: UNKNOWN_STD * share for name, share in best.shares.items()}
    return bench.with_tint(Tint(best.shares, std, colour, "the pot", "the pot")), recipe


def tint_for(bench: Bench, pot: Recipe, colour: Kept, strip: str) -> Tint:
    """A pot's drawdown as a tint of the bench."""
    shares, std = _shares(bench, pot)
    return Tint(shares, std, colour, strip, strip)


def _check_target(bench: Bench, target: Target) -> None:
    if target.measured is None and not bench.absolute:
        raise UsageError(
            "A nominal card cannot tell where these numbers are: its own colours are only what was sent to a printer.",
            "Measure the target with the same card, or have the card read (README says how).",
        )


def _shares(bench: Bench, pot: Recipe) -> tuple[dict[str, float], dict[str, float]]:
    """As `shares_of`, a stronger lot counting as more pigment."""
    shares, std = shares_of(pot)
    strengths = bench.strengths(tuple(shares)) if shares else {}
    return {n: s * strengths[n] for n, s in shares.items()}, {n: s * strengths[n] for n, s in std.items()}


def _refuse_no_room(found: Sequence[Mix]) -> None:
    if not found:
        raise UsageError("The limits leave no room for any pigment.", "Give a larger --most, or name other pigments.")


def _weighable(
    bench: Bench, target: Target, vessel: Vessel, found: Sequence[Mix], order: Order, limits: Limits
) -> list[Mix]:
    """The mixes as they can be weighed, what is recommended first; the same one only once."""
    done: dict[frozenset[tuple[str, float]], Mix] = {}
    for mix in found:
        rounded = dispensed(bench.palette, target, vessel, mix, order.grams, order.scale_g, bench.least_g, limits)
        if rounded.amounts:
            done.setdefault(frozenset(rounded.amounts.items()), rounded)
    if not done:
        raise UsageError(
            f"All pigments are less than can be weighed for {order.grams:g} g.", "Mix more, or use a finer scale."
        )
    return choices(list(done.values()), WORTH_ONE_MORE)


def _grams(bench: Bench, mix: Mix, whole_g: float) -> dict[str, float]:
    """Name as the studio writes it -> g of what is put in."""
    return {bench.names.get(name, name): amount * whole_g for name, amount in mix.amounts.items() if name != STRONG}


def _new(bench: Bench, target: Target, mix: Mix, order: Order) -> Choice:
    pigments = _grams(bench, mix, order.grams)
    pot = filled_up(pigments, order.grams, order.scale_g)
    return Choice(mix, pot, pot, bench.price(pigments), _lights(mix, target))


def _into(bench: Bench, target: Target, mix: Mix, here: Recipe, order: Order) -> Choice:
    pigments = _grams(bench, mix, here.grams)
    added = on_the_scale(pigments, order.scale_g)
    return Choice(mix, added, together(here, added), bench.price(pigments), _lights(mix, target))


def _thinner(
    bench: Bench, target: Target, vessel: Vessel, mix: Mix, strong: Recipe, order: Order, wanted_g: float
) -> Choice:
    more = {name: amount for name, amount in mix.amounts.items() if name != STRONG}
    roads = thin(strong, mix.amounts[STRONG], wanted_g, order.scale_g)
    made = roads.fresh.ink_g + roads.fresh.binder_g
    pigments = {bench.names.get(n, n): max(round(a * made / order.scale_g), 1) * order.scale_g for n, a in more.items()}
    added = on_the_scale(pigments, order.scale_g)
    pot = together(roads.fresh.pot, added) if pigments else roads.fresh.pot
    final = weighed(
        bench.palette, target, vessel, {STRONG: roads.fresh.factor, **{key(n): g / made for n, g in pigments.items()}}
    )
    return Choice(final, added, pot, bench.price(pigments), _lights(final, target), roads=roads)


def _with_rest(bench: Bench, target: Target, mix: Mix, left: Sequence[Recipe], order: Order) -> Choice:
    pigments = _grams(bench, mix, order.grams)
    added = filled_up(pigments, order.grams - sum(rest.grams for rest in left), order.scale_g)
    return Choice(mix, added, together(*left, added), bench.price(pigments), _lights(mix, target))


def _lights(mix: Mix, target: Target) -> dict[str, float]:
    if target.reflectance is None:
        return {}
    return {light: metameric_shift(mix.foreseen.reflectance, np.array(target.reflectance), light) for light in LIGHTS}


def _knocked(bench: Bench, mix: Mix, now: Mix) -> tuple[str, ...]:
    return tuple(
        f"A little {bench.names.get(name, name)} lies opposite this colour and makes it greyer: add it drop by drop."
        for name in mix.amounts
        if knocks_back(bench.palette, name, now.foreseen.lab)
    )
