"""A pot that is too strong for its target: a fresh pot of binder with a little of it, and pigment if need be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import product

from ..errors import UsageError
from ..library.proposals import THINNING
from ..recipes.arithmetic import part_of, together
from ..recipes.dosing import weighed_dose
from ..recipes.numbers import check_number
from ..recipes.recipe import Recipe
from ..recipes.thinning import thin
from .dosing.choices import choices
from .dosing.put_in import added
from .dosing.rounding import likeliest, share_std
from .order import Choice, Order, Proposed, check_target, lights_of, shares_in
from .pot_correction import WORTH_A_BOTTLE, chances
from .search import STRONG, Mix, Target, Vessel, fresh_pot_for, mixes, pot_in_hand, weighed
from .workbench import Bench

THINNED_WITH = 2  # pigments that a thinner pot may take beside the strong ink; no source
LEAST_STRONG, MOST_STRONG = 0.02, 0.99  # of a thinner pot: with less or more of the strong ink it is none; no source


def thinning_for(
    bench: Bench, target: Target, pot: Recipe, order: Order, wanted_g: float, mixed: str = "", strips: str = ""
) -> Proposed:
    """A fresh pot of binder with a little of a strong one, `order.grams` of it, for `wanted_g` of ink.

    `mixed` is the ISO day from which the lots of pigment in it are, `strips` what its known strips are known by.

    Raises
    ------
    UsageError
        The pot is not too strong, or an amount makes no sense.
    """
    order.check()
    check_target(bench, target)
    check_number(wanted_g, "wanted-grams", 1, 1e6)
    strong = part_of(pot, order.grams)
    now = weighed(bench.palette, target, pot_in_hand(bench.palette, shares_in(bench, strong, mixed)[0], pot=strips), {})
    found = thinner_choices(bench, target, strong, order, wanted_g, mixed, strips)
    if not found:
        raise UsageError("pot-not-too-strong", "add-to-pot-instead")
    count = len({bench.known_strips[at].strip for at in bench.palette.of_pot(strips)})
    return Proposed(THINNING, target, now, tuple(found), None, bench.warnings, strips=count)


def thinner_choices(
    bench: Bench,
    target: Target,
    strong: Recipe,
    order: Order,
    wanted_g: float,
    mixed: str,
    strips: str = "",
    parts: Sequence[float] = (1.0,),
    load: float = MOST_STRONG,
) -> list[Choice]:
    """Thinner pots for a target, the recommended one first, each in parts of the way; none of one not too strong.

    `load` is how much pigment may be in them, as part of that before: with more it is no thinner pot, whatever binder
    goes in.
    """
    shares = shares_in(bench, strong, mixed)[0]
    vessel = fresh_pot_for(bench.palette, shares, bench.strengths(order.pigments), strips)
    limits = bench.limits(min(order.at_most(), THINNED_WITH), order.most)
    best = choices(mixes(bench.palette, target, vessel, limits, always=STRONG), WORTH_A_BOTTLE)
    now = weighed(bench.palette, target, pot_in_hand(bench.palette, shares, pot=strips), {})
    thinner = [mix for mix in best if LEAST_STRONG < mix.amounts[STRONG] < MOST_STRONG and mix.load < load * now.load]
    found = []
    for mix, part in product(thinner, parts):
        # What the scale cannot weigh of one is no reason to refuse the others, nor a correction.
        with suppress(UsageError):
            step = replace(mix, amounts=_part_of(mix.amounts, part))
            found.append(replace(_thinner(bench, target, vessel, step, strong, order, wanted_g), part=part))
    likely = chances(bench.palette, target, now, [choice.mix for choice in found]) if found else []
    return [replace(choice, chances=chance) for choice, chance in zip(found, likely, strict=True)]


def _part_of(amounts: Mapping[str, float], part: float) -> dict[str, float]:
    """A part of the way from the strong pot to a thinner one."""
    return {thing: part * amount for thing, amount in amounts.items()} | {STRONG: 1 - part * (1 - amounts[STRONG])}


def _thinner(
    bench: Bench, target: Target, vessel: Vessel, mix: Mix, strong: Recipe, order: Order, wanted_g: float
) -> Choice:
    more = {name: amount for name, amount in mix.amounts.items() if name != STRONG}
    roads = thin(strong, mix.amounts[STRONG], wanted_g, order.scale_g)
    made = roads.fresh.ink_g + roads.fresh.binder_g
    tools = bench.tools_for(order.scale_g)
    found = [dose for name, amount in more.items() if (dose := likeliest(name, amount * made, tools))]
    put_in = added(bench, replace(mix, doses=tuple(found)), order.scale_g)
    pot = together(roads.fresh.pot, put_in.recipe) if found else roads.fresh.pot
    whole = pot.grams
    amounts = {STRONG: roads.fresh.ink_g / whole} | {dose.what: dose.pigment_g / whole for dose in found}
    doses = {STRONG: weighed_dose(STRONG, roads.fresh.ink_g, order.scale_g)} | {dose.what: dose for dose in found}
    final = weighed(bench.palette, target, vessel, amounts, share_std(bench.palette, vessel, doses, whole))
    return Choice(final, put_in.recipe, pot, lights_of(final, target), put_in.doses, roads=roads)
