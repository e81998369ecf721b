"""From the colour that is wanted to the pot: a new recipe, an addition to the pot in hand, the same shade again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from ..colorimetry.intervals import unit_metric
from ..errors import UsageError
from ..library.heat_prediction import ENOUGH, LEAST
from ..library.proposals import AGAIN, CORRECTION, RECIPE
from ..library.records import DRY, State
from ..measurement.stored_colour import Kept
from ..recipes.arithmetic import filled_up as filled_with_base
from ..recipes.arithmetic import part_of, together
from ..recipes.recipe import Recipe
from .dosing.choices import WORTH_ONE_MORE, choices
from .dosing.put_in import PutIn, added, filled_up
from .dosing.rounding import dispensed
from .gamut import reach_of
from .known_strip import KnownStrip, pot_of_strip, seen_later, slipped, strip_of
from .order import (
    Choice,
    Order,
    Proposed,
    check_target,
    coarse,
    lights_of,
    refuse_no_room,
    shares_in,
    weighable,
)
from .pigment_model import Content
from .pot_correction import (
    BEYOND,
    PARTS,
    STRIP_NOISE,
    WORTH_A_BOTTLE,
    Addition,
    correct,
    helps_for,
    knocks_back,
    may_be_right,
)
from .search import THINGS, Limits, Mix, Target, Vessel, mixes, new_pot, pot_in_hand, pot_with_rest
from .thinning_choices import thinner_choices
from .workbench import Bench

MOST_THINGS = 4  # pigments, where a recipe before had so many; no source
A_LITTLE = 0.2  # g in 100 g of the pot that may be added drop by drop; no source
UNKNOWN_STD = 0.25  # relative, of the shares in a pot that was only measured; common sense, no source
TOO_STRONG = 0.3  # CIEDE2000 that thinning must come nearer than any addition; from build studios
INSTEAD = 1.2  # of the pigment before that a thinner pot may hold, some of it in place of others; no source
TREATED, MOST_ASKED = 3, 60  # strips that are named to be heat-set next, of so many of the newest; no source
UNKNOWN_POT = pot_of_strip(strip_of("", "the pot"))  # what a pot of unknown recipe is known by; no shade is called so
STANDS_IN = 1.5  # CIEDE2000 within which a mix may stand in for a pot of unknown recipe; no source


def recipe_for(bench: Bench, target: Target, order: Order) -> Proposed:
    """A new pot for a target.

    Raises
    ------
    UsageError
        An order that makes no sense, a target that does not fit the bench, or nothing can be weighed so finely.
    """
    order.check()
    check_target(bench, target)
    vessel, limits = new_pot(bench.palette, bench.strengths(order.pigments)), bench.limits(order.at_most(), order.most)
    return _filled(
        RECIPE, bench, target, vessel, limits, order, WORTH_ONE_MORE, lambda mix: _new(bench, target, mix, order)
    )


def correction_for(
    bench: Bench, target: Target, pot: Recipe, order: Order, mixed: str = "", strips: str = ""
) -> Proposed:
    """What to add to a pot whose strips are among the bench's known strips; `order.grams` is what is in it now.

    Where the pot is too strong for that, a fresh pot of so many grams with a little of it comes first. `mixed` is the
    ISO day from which its lots of pigment are, `strips` what its known strips are known by (`KnownStrip.pot`).
    """
    order.check()
    check_target(bench, target)
    here = part_of(pot, order.grams)
    shares, _ = shares_in(bench, here, mixed)
    limits, strengths = bench.limits(order.at_most(), order.most), bench.strengths(order.pigments)
    vessel = pot_in_hand(bench.palette, shares, strengths, strips)

    tools = replace(bench.tools_for(order.scale_g), make=True)

    def dose(mix: Mix) -> Mix:
        return dispensed(bench.palette, target, vessel, mix, here.grams, tools, limits)

    found = correct(bench.palette, target, shares, limits, strengths, strips, dose)
    done = [_step(bench, target, step, here, order, found.now) for step in found.additions]
    nearest = min([found.now, *(step.whole for step in found.tried)], key=lambda mix: mix.distance)
    # Nothing is made of a pot that nobody could tell from its target.
    good = found.now.distance <= BEYOND
    too_strong = [] if good else _too_strong(bench, target, here, order, mixed, strips, nearest)
    sure = sorted((choice for choice in too_strong if choice.sure), key=lambda choice: choice.mix.expected)[:1]
    reach = None if too_strong else reach_of(bench.palette, target, vessel, limits, nearest)
    thought = [choice.mix for choice in too_strong] + [step.mix for step in found.tried]
    unsure = thought if not (done or sure or good) else []
    return Proposed(
        CORRECTION,
        target,
        found.now,
        tuple(sorted([*sure, *done], key=lambda choice: choice.mix.expected) if sure else done),
        reach,
        bench.warnings,
        nearest=min(mix.distance for mix in [nearest, *(choice.mix for choice in too_strong)]),
        unsure=min((mix.distance for mix in unsure), default=np.inf),
        helps=helps_for(bench.palette, target, found.now, unsure) if unsure else (),
        strips=len({bench.known_strips[at].strip for at in bench.palette.of_pot(strips)}),
        unseen=bench.of_later_state and len(seen_later(bench.known_strips)) < LEAST,
        treat_next=strips_to_treat(bench, found.now),
        right=may_be_right(bench.palette, target, found.now),
    )


def _too_strong(
    bench: Bench, target: Target, here: Recipe, order: Order, mixed: str, strips: str, nearest: Mix
) -> list[Choice]:
    """The thinner pot that comes nearer than any addition, in parts of the way; none where none does."""
    found = thinner_choices(bench, target, here, order, here.grams, mixed, strips, PARTS, INSTEAD)
    whole = next((choice for choice in found if choice.part == 1), None)
    if whole is None or nearest.distance - whole.mix.distance <= TOO_STRONG:
        return []
    return [choice for choice in found if choice.mix.amounts.keys() <= whole.mix.amounts.keys()]


def _step(bench: Bench, target: Target, step: Addition, here: Recipe, order: Order, now: Mix) -> Choice:
    """An addition as it is weighed."""
    choice, opposite = _into(bench, target, step.mix, here, order), _opposite(bench, step.mix, now)
    return replace(choice, opposite=opposite, part=step.part, overshoot=step.overshoot, chances=step.chances)


def again(
    bench: Bench, target: Target, before: Recipe, order: Order, rests: Sequence[tuple[Recipe, float, str]] = ()
) -> Proposed:
    """A shade once more: what is left of old pots first, the rest new, with the pigments of the recipe before.

    `rests` are recipes of old pots, the grams that are left of them, and the ISO days on which they were mixed.

    Raises
    ------
    UsageError
        More is left than is wanted, or a pigment that is in it has no known strip.
    """
    order.check()
    check_target(bench, target)
    left = [part_of(recipe, grams) for recipe, grams, _ in rests]
    rest_g = sum(rest.grams for rest in left)
    if rest_g >= order.grams:
        raise UsageError("more-left-than-wanted", "ask-for-more", left=rest_g, wanted=order.grams)
    own = tuple(shares_in(bench, before)[0])
    vessel = pot_with_rest(
        bench.palette, _mean_shares(bench, left, rests), rest_g / order.grams, bench.strengths(order.pigments or own)
    )
    limits = bench.limits(order.at_most(max(THINGS, min(len(own), MOST_THINGS))), order.most)

    def choice_of(mix: Mix) -> Choice:
        return with_rest(bench, target, mix, left, order)

    return _filled(AGAIN, bench, target, vessel, limits, order, WORTH_A_BOTTLE, choice_of)


def _filled(
    kind: str,
    bench: Bench,
    target: Target,
    vessel: Vessel,
    limits: Limits,
    order: Order,
    worth: float,
    choice_of: Callable[[Mix], Choice],
) -> Proposed:
    """A pot that is filled up with binder to what was ordered; `worth` is what a further pigment must bring."""
    possible = mixes(bench.palette, target, vessel, limits)
    refuse_no_room(possible)
    nearest = min(possible, key=lambda mix: mix.distance)
    reach = reach_of(bench.palette, target, vessel, limits, nearest)
    found = weighable(bench, target, vessel, possible, worth, order, limits)
    flags = (*bench.warnings, *coarse(bench, target, vessel, possible, found[0], order, limits))
    made, treat = tuple(map(choice_of, found)), strips_to_treat(bench, found[0])
    return Proposed(kind, target, None, made, reach, flags, nearest.distance, treat_next=treat)


def strips_to_treat(bench: Bench, mix: Mix) -> tuple[int, ...]:
    """Records of dry strips that would tell most of a mix's later state, were they heat-set or washed too, best first.

    None where the mix is for dry cloth, or enough strips show that state.
    """
    seen = seen_later(bench.known_strips)
    if not bench.of_later_state or len(seen) >= ENOUGH:
        return ()
    dry = {one.strip: one for one in bench.known_strips if one.record and one.strip not in seen}
    strips = list(dry.values())[-MOST_ASKED:]
    joint = bench.palette.predict_all([mix.content, *(Content(one.shares) for one in strips)])
    metric, noise = unit_metric(np.array(mix.predicted.lab)), STRIP_NOISE * np.eye(3)
    gains = []
    for place, one in enumerate(strips, start=1):
        cross = metric @ joint.covariance[0, place]
        gains.append((float(np.trace(cross @ np.linalg.solve(joint.covariance[place, place] + noise, cross.T))), one))
    best = sorted(gains, key=lambda each: -each[0])[:TREATED]
    return tuple(one.record for _, one in best if one.record)


def _mean_shares(bench: Bench, left: Sequence[Recipe], rests: Sequence[tuple[Recipe, float, str]]) -> dict[str, float]:
    """Shares of what is left, poured together; each pot's pigments of the lots of its day."""
    whole = sum(rest.grams for rest in left)
    found: dict[str, float] = {}
    for rest, (_, _, mixed) in zip(left, rests, strict=True):
        for name, share in shares_in(bench, rest, mixed)[0].items():
            found[name] = found.get(name, 0.0) + share * rest.grams / whole
    return found


def stand_in(
    bench: Bench, colour: Kept, grams: float, order: Order, others: Sequence[Kept] = (), state: State = DRY
) -> tuple[Bench, Recipe]:
    """A pot of unknown recipe, known by its strips in that state alone: a recipe that looks like the first stands in.

    Raises
    ------
    UsageError
        Nothing that the pigments give looks the same.
    """
    target = Target(colour.lab, "the pot", colour, colour.reflectance)
    limits = bench.limits(order.at_most(), order.most)
    palette = bench.palette_of(state)
    found = choices(mixes(palette, target, new_pot(palette, bench.strengths(order.pigments)), limits))
    refuse_no_room(found)
    best = found[0]
    if best.distance > STANDS_IN:
        raise UsageError("pot-unlike-any-mix", "give-recipe-or-pigments", off=best.distance)
    strengths = bench.strengths()
    parts = {bench.names.get(n, n): share / strengths[n] * grams / 100 for n, share in best.shares.items()}
    recipe = filled_with_base(parts, grams, 1e-3)
    std = {name: UNKNOWN_STD * share for name, share in best.shares.items()}
    for number, strip in enumerate((colour, *others)):
        name = f"{UNKNOWN_POT}\n{number}"
        own = KnownStrip(dict(best.shares), std, strip, name, later=bench.is_later(state))
        bench = bench.with_known_strip(own)
    return bench, recipe


def known_strip_for(
    bench: Bench, pot: Recipe, colour: Kept, strip: str, mixed: str = "", state: State = DRY
) -> KnownStrip:
    """A pot's strip as a known strip of the bench; `mixed` is the ISO day from which its lots of pigment are."""
    shares, std = shares_in(bench, pot, mixed)
    return KnownStrip(shares, slipped(shares, std), colour, strip, later=bench.is_later(state))


def _new(bench: Bench, target: Target, mix: Mix, order: Order) -> Choice:
    return _choice(bench, target, mix, filled_up(bench, mix, order.grams, order.scale_g))


def _into(bench: Bench, target: Target, mix: Mix, here: Recipe, order: Order) -> Choice:
    return _choice(bench, target, mix, added(bench, mix, order.scale_g), [here])


def with_rest(bench: Bench, target: Target, mix: Mix, left: Sequence[Recipe], order: Order) -> Choice:
    """A pot of what is left of old ones, pigments, and as much clear base as makes what was ordered."""
    fresh = order.grams - sum(rest.grams for rest in left)
    return _choice(bench, target, mix, filled_up(bench, mix, fresh, order.scale_g), left)


def _choice(bench: Bench, target: Target, mix: Mix, put_in: PutIn, there: Sequence[Recipe] = ()) -> Choice:
    """A mix as it is put in, to what is in the pot already."""
    pot = together(*there, put_in.recipe) if there else put_in.recipe
    return Choice(mix, put_in.recipe, pot, lights_of(mix, target), put_in.doses, put_in.makings)


def _opposite(bench: Bench, mix: Mix, now: Mix) -> tuple[str, ...]:
    """Pigments of which a little goes in that lie opposite the colour of the pot, as the studio writes them."""
    return tuple(
        bench.names.get(name, name)
        for name, amount in mix.amounts.items()
        if 100 * amount <= A_LITTLE and knocks_back(bench.palette, name, now.predicted.lab)
    )
