"""From the colour that is wanted to the pot: a new recipe, an addition, a thinner pot, the same shade again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .bench import Bench
from .bounds import check_number
from .correcting import BEYOND, GAIN, WORTH_A_BOTTLE, correct, knocks_back
from .dispense import dispensed, on_steps
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

THINGS, MOST_THINGS = 3, 4  # pigments at most, and where a recipe before had more
A_LITTLE = 0.2  # g in 100 g of the pot that may be added drop by drop
TOO_COARSE = 1.0  # CIEDE2000 that the steps of the scale may cost before it is told
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
    things: int | None = None  # pigments at most; by default 3, or as many as the recipe before
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
        check_number(self.at_most(), "The number of pigments", 1, 4, "3")

    def at_most(self, usual: int = THINGS) -> int:
        """So many pigments at most."""
        return usual if self.things is None else self.things


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
    nearest: float = np.inf  # CIEDE2000 that would be come to if any amount could be weighed

    @property
    def leave(self) -> str:
        """Why the pot in hand had better be left as it is, in words; "" where that is not so."""
        if self.kind != CORRECTION or self.now is None:
            return ""
        if self.now.distance <= BEYOND:
            return "it is as near to the target as an eye sees"
        if self.choices and self.now.distance - self.choices[0].mix.distance >= GAIN:
            return ""
        if self.now.distance - self.nearest >= GAIN:
            return (
                f"what would bring it to {self.nearest:.1f} is less than your scale can weigh or you can dispense:"
                " use a finer scale, or weigh from a pre-mix"
            )
        return "nothing that may be added would bring it nearer by as much as an eye sees"


def recipe_for(bench: Bench, target: Target, order: Order) -> Proposed:
    """A new pot for a target.

    Raises
    ------
    UsageError
        An order that makes no sense, a target that does not fit the bench, or nothing can be weighed so finely.
    """
    order.check()
    _check_target(bench, target)
    vessel, limits = new_pot(bench.palette, bench.strengths(order.pigments)), bench.limits(order.at_most(), order.most)
    possible = mixes(bench.palette, target, vessel, limits)
    _refuse_no_room(possible)
    nearest = min(possible, key=lambda mix: mix.distance)
    reach = reach_of(bench.palette, target, vessel, limits, nearest)
    found = _weighable(bench, target, vessel, choices(possible), order, limits)
    done = tuple(_new(bench, target, mix, order) for mix in found)
    flags = (*bench.warnings, *_coarse(nearest, found[0], order))
    return Proposed(RECIPE, target, None, done, reach, flags, nearest.distance)


def correction_for(bench: Bench, target: Target, pot: Recipe, order: Order, mixed: str = "") -> Proposed:
    """What to add to a pot whose drawdown is among the bench's tints; `order.grams` is what is in it now.

    Where the pot is too strong for that, a fresh pot of so many grams with a little of it comes first. `mixed` is the
    ISO day from which its lots of pigment are.
    """
    order.check()
    _check_target(bench, target)
    here = part_of(pot, order.grams)
    shares, _ = _shares(bench, here, mixed)
    limits, strengths = bench.limits(order.at_most(), order.most), bench.strengths(order.pigments)
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
    thinner = _thinner_choices(bench, target, here, order, here.grams, mixed)[:1]
    wholes = [addition.whole for addition in found.additions]
    nearest = min([found.now, *wholes], key=lambda mix: mix.distance)
    too_strong = [choice for choice in thinner if nearest.distance - choice.mix.distance > TOO_STRONG]
    reach = None if too_strong else reach_of(bench.palette, target, vessel, limits, nearest)
    best = min([nearest.distance, *(choice.mix.distance for choice in too_strong)])
    return Proposed(CORRECTION, target, found.now, (*too_strong, *done.values()), reach, bench.warnings, nearest=best)


def thinning_for(bench: Bench, target: Target, pot: Recipe, order: Order, wanted_g: float, mixed: str = "") -> Proposed:
    """A fresh pot of binder with a little of a strong one, `order.grams` of it, for `wanted_g` of ink.

    `mixed` is the ISO day from which the lots of pigment in it are.

    Raises
    ------
    UsageError
        The pot is not too strong, or an amount makes no sense.
    """
    order.check()
    _check_target(bench, target)
    check_number(wanted_g, "The wanted amount (g)", 1, 1e6, "500")
    strong = part_of(pot, order.grams)
    now = weighed(bench.palette, target, pot_in_hand(bench.palette, _shares(bench, strong, mixed)[0]), {})
    found = _thinner_choices(bench, target, strong, order, wanted_g, mixed)
    if not found:
        raise UsageError(
            "This pot is not too strong: no thinner ink would come nearer to the target.",
            "Ask what to add instead, with 'swatchcam mix correct'.",
        )
    return Proposed(THINNING, target, now, tuple(found), None, bench.warnings)


def _thinner_choices(
    bench: Bench, target: Target, strong: Recipe, order: Order, wanted_g: float, mixed: str
) -> list[Choice]:
    shares = _shares(bench, strong, mixed)[0]
    vessel = fresh_pot_for(bench.palette, shares, bench.strengths(order.pigments))
    limits = bench.limits(min(order.at_most(), THINNED_WITH), order.most)
    best = choices(mixes(bench.palette, target, vessel, limits, always=STRONG), WORTH_A_BOTTLE)
    # With more pigment in it than before it is no thinner pot, whatever binder goes in.
    thinner = [
        mix
        for mix in best
        if LEAST_STRONG < mix.amounts[STRONG] < MOST_STRONG and mix.load < MOST_STRONG * sum(shares.values())
    ]
    return [_thinner(bench, target, vessel, mix, strong, order, wanted_g) for mix in thinner]


def again(
    bench: Bench, target: Target, before: Recipe, order: Order, rests: Sequence[tuple[Recipe, float, str]] = ()
) -> Proposed:
    """A shade once more: what is left of old pots first, the rest new, with the pigments of the recipe before.

    `rests` are recipes of old pots, the grams that are left of them, and the ISO days on which they were mixed.

    Raises
    ------
    UsageError
        More is left than is wanted, or a pigment that is in it has no tint.
    """
    order.check()
    _check_target(bench, target)
    left = [part_of(recipe, grams) for recipe, grams, _ in rests]
    rest_g = sum(rest.grams for rest in left)
    if rest_g >= order.grams:
        raise UsageError(
            f"{rest_g:g} g are left, and {order.grams:g} g are wanted.",
            "Measure what is left and correct it with 'swatchcam mix correct', or ask for more.",
        )
    own = tuple(_shares(bench, before)[0])
    vessel = pot_with_rest(
        bench.palette, _mean_shares(bench, left, rests), rest_g / order.grams, bench.strengths(order.pigments or own)
    )
    limits = bench.limits(order.at_most(max(THINGS, min(len(own), MOST_THINGS))), order.most)
    possible = mixes(bench.palette, target, vessel, limits)
    _refuse_no_room(possible)
    nearest = min(possible, key=lambda mix: mix.distance)
    found = _weighable(bench, target, vessel, choices(possible, WORTH_A_BOTTLE), order, limits)
    done = tuple(_with_rest(bench, target, mix, left, order) for mix in found)
    reach = reach_of(bench.palette, target, vessel, limits, nearest)
    flags = (*bench.warnings, *_coarse(nearest, found[0], order))
    return Proposed(AGAIN, target, None, done, reach, flags, nearest.distance)


def _mean_shares(bench: Bench, left: Sequence[Recipe], rests: Sequence[tuple[Recipe, float, str]]) -> dict[str, float]:
    """Shares of what is left, poured together; each pot's pigments of the lots of its day."""
    whole = sum(rest.grams for rest in left)
    found: dict[str, float] = {}
    for rest, (_, _, mixed) in zip(left, rests, strict=True):
        for name, share in _shares(bench, rest, mixed)[0].items():
            found[name] = found.get(name, 0.0) + share * rest.grams / whole
    return found


def stand_in(bench: Bench, colour: Kept, grams: float, order: Order) -> tuple[Bench, Recipe]:
    """A pot of unknown recipe, known by its drawdown alone: a recipe that looks the same stands in for it.

    Raises
    ------
    UsageError
        Nothing that the pigments give looks the same.
    """
    target = Target(colour.lab, "the pot", colour, colour.reflectance)
    limits = bench.limits(order.at_most(), order.most)
    found = choices(mixes(bench.palette, target, new_pot(bench.palette, bench.strengths(order.pigments)), limits))
    _refuse_no_room(found)
    best = found[0]
    if best.distance > STANDS_IN:
        raise UsageError(
            f"Nothing that these pigments give looks like this pot (the nearest is {best.distance:.2f} CIEDE2000 off).",
            "Give its recipe, or name all pigments that may be in it.",
        )
    recipe = filled_up({bench.names.get(n, n): share * grams / 100 for n, share in best.shares.items()}, grams, 1e-3)
    std = {name: UNKNOWN_STD * share for name, share in best.shares.items()}
    return bench.with_tint(Tint(best.shares, std, colour, "the pot", "the pot")), recipe


def tint_for(bench: Bench, pot: Recipe, colour: Kept, strip: str, mixed: str = "") -> Tint:
    """A pot's drawdown as a tint of the bench; `mixed` is the ISO day from which its lots of pigment are."""
    shares, std = _shares(bench, pot, mixed)
    return Tint(shares, std, colour, strip, strip)


def _check_target(bench: Bench, target: Target) -> None:
    if target.measured is None and not bench.absolute:
        raise UsageError(
            "A nominal card cannot tell where these numbers are: its own colours are only what was sent to a printer.",
            "Measure the target with the same card, or have the card read (README says how).",
        )
    if target.measured is not None and target.measured.absolute != bench.absolute:
        one, other = ("a measured card", "a nominal one") if bench.absolute else ("a nominal card", "a measured one")
        raise UsageError(
            f"The drawdowns that this rests on are of {one}, the target is of {other}: they do not go together.",
            "Say with --card the values that the others were measured with.",
        )


def _shares(bench: Bench, pot: Recipe, mixed: str = "") -> tuple[dict[str, float], dict[str, float]]:
    """As `shares_of`, a stronger lot of the day on which it was mixed counting as more pigment."""
    shares, std = shares_of(pot)
    strengths = bench.strengths(tuple(shares), mixed) if shares else {}
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
            done.setdefault(frozenset((name, round(amount, 9)) for name, amount in rounded.amounts.items()), rounded)
    if not done:
        raise UsageError(
            f"So pale a colour takes less pigment than can be weighed for {order.grams:g} g.",
            "Mix more, use a finer scale, or look at the target: no pigment makes it lighter than the bare cloth.",
        )
    return choices(list(done.values()), WORTH_ONE_MORE)


def _coarse(nearest: Mix, weighed: Mix, order: Order) -> tuple[str, ...]:
    if weighed.distance - nearest.distance <= TOO_COARSE:
        return ()
    return (
        f"Steps of {order.scale_g:g} g are too coarse for {order.grams:g} g: {nearest.distance:.1f} would be possible."
        " Mix more, or use a finer scale.",
    )


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
    weights = {
        name: on_steps(amount * made, order.scale_g, bench.least_g.get(name, 0)) for name, amount in more.items()
    }
    pigments = {bench.names.get(name, name): weight for name, weight in weights.items() if weight}
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
        for name, amount in mix.amounts.items()
        if 100 * amount <= A_LITTLE and knocks_back(bench.palette, name, now.foreseen.lab)
    )
