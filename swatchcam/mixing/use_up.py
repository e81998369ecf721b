"""What is left of old pots, of whatever shade, into a new pot: as much of it as still gives the colour that is wanted.

By theory alone all leftovers are looked at first, each with whatever pigments help, then the best of them together: how
much of them could go in before the colour suffers. What promises most is then worked out as any pot is: whole grams of
each leftover, few pigments, what the tools can dose, and how sure it is what is in old ink.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry.colour_difference import delta_e_2000
from ..errors import UsageError
from ..library.proposals import USE_UP
from ..library.records import Batch
from ..recipes.arithmetic import part_of
from ..recipes.recipe import Recipe
from ..recipes.scale_resolution import weighed_std
from .descent import seek
from .dosing.choices import WORTH_ONE_MORE, choices
from .gamut import Reach, reach_of
from .known_strip import pot_of_strip, slipped, strip_of
from .order import Choice, Order, Proposed, Rest, check_target, refuse_no_room, saved_by, shares_in, weighable
from .pot_lookup import recipe_in
from .recommend import strips_to_treat, with_rest
from .search import FAINTEST, Mix, Target, Vessel, aim_of, mixes, new_pot, pot_with_rest
from .workbench import Bench

# No source for these.
POTS = 3  # leftovers that go into one pot
# CIEDE2000 by which a pot may be expected farther off than a fresh one, and by which its predicted colour alone may be.
WORSE, BY_COLOUR = 0.5, 0.5
LEAST, LEAST_OF_ALL = 0.05, 0.25  # of the new pot that must be old ink; and where it is as large as old ink makes it
LOOKED_AT, TRIED = 12, 4  # leftovers that are tried together, and sets of one, two ... of them that are worked out
EAGER = 2.0  # CIEDE2000 that a pot without any old ink counts as much as
STARTS = (0.9, 0.2)  # of the most that could go in
A_LITTLE = 5e-4  # g of each pigment in 1 g, where the search starts
ALL_OF_IT = 0.85  # of what is left: who takes that much takes all
LESS = (1.0, 0.85, 0.7, 0.5, 0.35, 0.2)  # of what theory alone would put in, in turn
# Of the new pot, that must be saved for one more leftover, and for each CIEDE2000 by which it is farther off.
ANOTHER_POT, FARTHER = 0.05, 0.2
TOO_LITTLE = 0.02  # of the new pot: less of a leftover is not worth opening its jar, unless that empties it
SHOWN = 4  # choices at most
THINNED = np.geomspace(LEAST, 1, 12)  # parts of a leftover in clear base, of which the colour is looked at


@dataclass(frozen=True)
class Leftover:
    """What is left of a pot, as it counts on one bench."""

    batch: Batch
    recipe: Recipe
    grams: float
    shares: Mapping[str, float]  # pigment -> % that is in it
    std: Mapping[str, float]  # one standard deviation; {} where its own strips tell how sure it is
    pot: str  # what its strips on this bench are known by; "" without any


def leftover_on(bench: Bench, batch: Batch, grams: float) -> Leftover:
    """What is left of a batch, with what its own strips on this cloth tell of it.

    Raises
    ------
    UsageError
        It has no recipe, more is left than was mixed, or nothing is known of a pigment in it.
    """
    recipe = recipe_in(batch)
    part_of(recipe, grams)
    shares, std = shares_in(bench, recipe, batch.mixed)
    pot = pot_of_strip(strip_of(batch.shade, batch.name))
    if not bench.palette.of_pot(pot):
        return Leftover(batch, recipe, grams, shares, slipped(shares, std), "")
    return Leftover(batch, recipe, grams, bench.palette.in_pot(pot, shares), {}, pot)


def use_up(
    bench: Bench, target: Target, leftovers: Sequence[Leftover], order: Order, all_of_it: bool = False
) -> Proposed:
    """Pots of a colour with as much old ink as it bears, what saves most clear base first.

    With `all_of_it` each pot is as small as uses up all of its leftovers, and `order.grams` says nothing.

    Raises
    ------
    UsageError
        An order that makes no sense, a target that does not fit the bench, or no leftover is of use.
    """
    order = replace(order, grams=math.fsum(one.grams for one in leftovers)) if all_of_it else order
    order.check()
    check_target(bench, target)
    # The same answer in whatever order they are named.
    leftovers = sorted(leftovers, key=lambda one: (one.batch.shade, one.batch.name, one.batch.number, one.grams))
    fresh, reach, nearest = _fresh(bench, target, order)
    table = _Table(bench, target, leftovers, order, fresh, all_of_it)
    found = [choice for thought in _promising(table) if (choice := _most(table, thought))]
    if not found:
        raise UsageError("nothing-to-use-up", "mix-a-fresh-pot", count=len(leftovers), by=WORSE)
    shown = _worth_showing(found)
    treat = strips_to_treat(bench, shown[0].mix)
    return Proposed(USE_UP, target, None, shown, reach, bench.warnings, nearest, treat_next=treat)


def nearest_thinned(bench: Bench, leftovers: Sequence[Leftover], labs: Array) -> Array:
    """(m,) CIEDE2000 from colours (m, 3), CIELAB, to the nearest that a leftover has with more or less clear base."""
    content = np.array([bench.palette.vector(one.shares) for one in leftovers])
    thinned = bench.palette.labs((THINNED[:, None, None] * content).reshape(-1, content.shape[1]))
    return np.array([delta_e_2000(thinned, lab).min() for lab in labs])


@dataclass(frozen=True)
class _Table:
    """All that is needed to work out one pot after another."""

    bench: Bench
    target: Target
    leftovers: Sequence[Leftover]
    order: Order
    fresh: Mix  # the pot of new pigments that the others are compared with
    all_of_it: bool

    @property
    def least(self) -> float:
        """Part of the new pot that must be old ink."""
        return LEAST_OF_ALL if self.all_of_it else LEAST

    @cached_property
    def strengths(self) -> Mapping[str, float]:
        """Pigments that may go in -> how strong they are."""
        return self.bench.strengths(self.order.pigments)

    @cached_property
    def content(self) -> Array:
        """(leftovers, pigments) % of each pigment in each of them."""
        return np.array([self.bench.palette.vector(one.shares) for one in self.leftovers])

    @cached_property
    def grams(self) -> Array:
        """(leftovers,) what is left, g."""
        return np.array([one.grams for one in self.leftovers])


def _fresh(bench: Bench, target: Target, order: Order) -> tuple[Mix, Reach, float]:
    """The recommended pot of new pigments, how near pigments come at all, and the distance of the nearest pot."""
    vessel, limits = new_pot(bench.palette, bench.strengths(order.pigments)), bench.limits(order.at_most(), order.most)
    possible = mixes(bench.palette, target, vessel, limits)
    refuse_no_room(possible)
    nearest, found = min(possible, key=lambda mix: mix.distance), choices(possible)
    with suppress(UsageError):  # what is too pale to be weighed may still be made of old ink
        found = weighable(bench, target, vessel, possible, WORTH_ONE_MORE, order, limits)
    return found[0], reach_of(bench.palette, target, vessel, limits, nearest), nearest.distance


@dataclass(frozen=True)
class _Thought:
    """What theory alone makes of a set of leftovers."""

    which: tuple[int, ...]
    amounts: Array  # g of each in 1 g of the new pot
    cost: float  # CIEDE2000 from the target, together with what new ink counts


def _promising(table: _Table) -> Iterator[_Thought]:
    """Sets of leftovers that are worth working out."""
    alone = _by_theory(table, np.arange(len(table.leftovers), dtype=np.int64)[:, None])
    useful = [one for one in sorted(alone, key=lambda one: one.cost) if one.amounts.sum() >= table.least]
    best = sorted(one.which[0] for one in useful[:LOOKED_AT])
    for count in range(1, min(POTS, len(best)) + 1):
        sets = _by_theory(table, np.array([*combinations(best, count)], dtype=np.int64))
        yield from sorted(sets, key=lambda one: one.cost)[:TRIED]


def _by_theory(table: _Table, sets: NDArray[np.int64]) -> list[_Thought]:
    """How much of each set (m, r) of leftovers goes into a pot of the colour, with whatever pigments help."""
    palette, pure = table.bench.palette, new_pot(table.bench.palette, table.strengths).content
    content, most = table.content[sets], np.minimum(table.grams[sets] / table.order.grams, 1.0)
    parts = np.ones(sets.shape)
    if table.all_of_it:  # poured together they are one ink
        parts = table.grams[sets] / table.grams[sets].sum(axis=1, keepdims=True)
        content, most = np.einsum("mr,mrp->mp", parts, content)[:, None], np.ones((len(sets), 1))
    inks, content = most.shape[1], np.repeat(content, len(STARTS), axis=0)
    high = np.hstack([most, np.full((len(sets), len(pure)), table.order.most / 100)]).repeat(len(STARTS), axis=0)

    def put_in(amounts: Array) -> Array:
        return np.asarray(amounts / np.maximum(amounts.sum(axis=1, keepdims=True), 1.0))

    def to_shares(amounts: Array) -> Array:
        put = put_in(amounts)
        return np.asarray(np.einsum("mr,mrp->mp", put[:, :inks], content) + put[:, inks:] @ pure)

    def new_ink(amounts: Array) -> Array:
        return np.asarray(EAGER * (1 - put_in(amounts)[:, :inks].sum(axis=1, keepdims=True)))

    starts = np.hstack([high[:, :inks] / inks, np.full((len(high), len(pure)), A_LITTLE)])
    starts[:, :inks] *= np.tile(STARTS, len(sets))[:, None]
    aim = aim_of(palette, table.target)
    reached = seek(palette, aim, starts, np.minimum(high, FAINTEST), high, to_shares, new_ink)
    cost = np.hypot(reached.distance, new_ink(reached.amounts)[:, 0]).reshape(len(sets), -1)
    best = np.arange(len(sets)) * len(STARTS) + cost.argmin(axis=1)
    amounts = put_in(reached.amounts)[best, :inks] * parts
    return [_Thought(tuple(s), a, c) for s, a, c in zip(sets.tolist(), amounts, cost.min(axis=1).tolist(), strict=True)]


def _most(table: _Table, thought: _Thought) -> Choice | None:
    """The pot with the most of these leftovers that comes near enough; None where none does."""
    tried = []
    for part in LESS:
        rests, whole = _weights(table, thought, part)
        if not rests or (rests, whole) in tried:
            continue
        tried.append((rests, whole))
        if sum(grams for _, grams in rests) < table.least * whole:
            break
        if found := _pot(table, rests, replace(table.order, grams=whole)):
            return found
    return None


def _near_enough(mix: Mix, fresh: Mix) -> bool:
    """Whether a pot is as good as a fresh one, or nearly: by its colour alone, and by how sure that is as well."""
    return mix.distance <= fresh.distance + BY_COLOUR and mix.expected <= fresh.expected + WORSE


def _weights(table: _Table, thought: _Thought, part: float) -> tuple[list[tuple[int, float]], float]:
    """Leftovers and the g of each that go in, as `part` of what theory would, and the g of the pot."""
    amounts, left = part * thought.amounts, table.grams[list(thought.which)]
    if table.all_of_it:
        return list(zip(thought.which, left.tolist(), strict=True)), max(
            float(round(left.sum() / amounts.sum())), math.fsum(left)
        )
    step = max(1.0, table.order.scale_g)
    wanted = amounts * table.order.grams
    grams = np.where(wanted >= ALL_OF_IT * left, left, np.floor(wanted / step + 1e-9) * step)
    if grams.sum() > table.order.grams:
        grams = np.floor(wanted / step + 1e-9) * step
    grams = np.where((grams < TOO_LITTLE * table.order.grams) & (grams < left), 0.0, grams)
    return [(at, g) for at, g in zip(thought.which, grams.tolist(), strict=True) if g > 0], table.order.grams


def _pot(table: _Table, rests: Sequence[tuple[int, float]], order: Order) -> Choice | None:
    """The pot with so many grams of these leftovers; None where it does not come near enough."""
    bench, limits = table.bench, table.bench.limits(order.at_most(), order.most)
    those = [(table.leftovers[at], grams) for at, grams in rests]
    vessel = _holding(table, those, order)
    possible = choices(mixes(bench.palette, table.target, vessel, limits))
    if not any(_near_enough(mix, table.fresh) for mix in possible):
        return None
    mix = weighable(bench, table.target, vessel, possible, WORTH_ONE_MORE, order, limits)[0]
    if not _near_enough(mix, table.fresh):
        return None
    made = with_rest(bench, table.target, mix, [part_of(one.recipe, grams) for one, grams in those], order)
    rests_now = tuple(Rest(one.batch, grams, one.grams) for one, grams in those)
    return replace(made, saved=saved_by(bench, table.fresh, made.added, rests_now, order.grams))


def _holding(table: _Table, those: Sequence[tuple[Leftover, float]], order: Order) -> Vessel:
    """A new pot in which these grams of leftovers are, and how sure it is what they bring."""
    palette, whole = table.bench.palette, order.grams
    parts = np.array([grams / whole for _, grams in those])
    content = np.array([palette.vector(one.shares) for one, _ in those])
    off = np.array([palette.vector(one.std) for one, _ in those])
    # What the scale is off counts for as much as there is in the ink.
    std = np.sqrt((parts[:, None] * off) ** 2 + (weighed_std(order.scale_g) / whole * content) ** 2)
    names = palette.pigments
    mean = dict(zip(names, (parts @ content / parts.sum()).tolist(), strict=True))
    vessel = pot_with_rest(palette, mean, float(min(parts.sum(), 1.0)), table.strengths)
    return replace(
        vessel,
        rests={one.pot: float(part) for (one, _), part in zip(those, parts, strict=True) if one.pot},
        std=dict(zip(names, np.sqrt((std**2).sum(axis=0)).tolist(), strict=True)),
    )


def _worth_showing(found: Sequence[Choice]) -> tuple[Choice, ...]:
    """What saves most first, one more leftover counting against it; then the nearest, and others of other leftovers."""
    ranked = sorted(found, key=worth, reverse=True)
    nearest = min(ranked, key=lambda choice: choice.mix.expected)
    shown: dict[frozenset[int], Choice] = {}
    for choice in (ranked[0], nearest, *ranked):
        shown.setdefault(frozenset(rest.batch.number for rest in choice.saved.rests), choice)
    return tuple(sorted(list(shown.values())[:SHOWN], key=worth, reverse=True))


def worth(choice: Choice) -> float:
    """Old ink that a pot takes, g, less what each jar that is opened and a colour farther off must bring."""
    must = ANOTHER_POT * len(choice.saved.rests) + FARTHER * choice.mix.expected
    return choice.saved.grams - choice.pot.grams * must
