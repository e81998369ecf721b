"""A recipe in grams -> what to weigh, in order, on the scale that is there.

Clear base first, all of it; then the pigments, the weakest first: the strongest is added last, bit by bit, when all
else is in and every bit shows. A scale rounds, and so the whole is rounded to where the pigments' ratios suffer least.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from ..errors import UsageError
from ..text import counted, key
from .numbers import check_number
from .premix import LetDown, let_down_of
from .recipe import BINDER, GRAMS, SCALE_G, Part, Recipe, called
from .scale_resolution import on_scale, shown, tidied, weighed_std

POURED = 50.0  # g, from which on nobody uses a spoon
GROW = 0.05  # the pot may become so much larger, as part, to lie well on the scale's steps
NEAR_ENOUGH = 0.005  # relative error of a share that is not worth a larger pot
GROWTH_FOR_ERROR = 10  # so many hundredths a pot may grow for each by which the worst share gets better; no source
WORTH_A_NOTE = 0.02  # relative change of a share by rounding, above which it is told; common practice, no source
DROPS = 20  # more drops than these nobody counts


@dataclass(frozen=True)
class WeighingStep:
    """One thing to do; `grams` is 0 where nothing is weighed."""

    grams: float
    what: str  # the recipe's name for it, or "" where nothing is weighed
    words: str
    drops: int | None = None  # about so many; None for a number that nobody counts


@dataclass(frozen=True)
class WeighingList:
    """What to do, and what will be in the pot."""

    steps: tuple[WeighingStep, ...]
    recipe: Recipe  # as it will really be weighed
    changes: dict[str, float]  # pigment -> relative change of its share by rounding; of its grams without clear base
    notes: tuple[str, ...]


def weighing_list(
    recipe: Recipe,
    scale_g: float = SCALE_G,
    *,
    least_g: float = 0.0,
    strengths: Mapping[str, float] | None = None,
    let_down: Collection[str] = (),
    drop_g: float | None = None,
    grow: float = GROW,
    into: str = "a clean pot",
) -> WeighingList:
    """What to weigh, step by step.

    Parameters
    ----------
    recipe : grams that are wanted; without clear base it is an addition to a pot
    scale_g : the scale's step
    least_g : the smallest amount that can be dispensed
    strengths : pigment -> tinting strength, in any unit; those without one come after the others, the smallest last:
        nobody knows what a little of them does
    let_down : pigments to weigh from a pre-mix
    drop_g : weight of one drop, where pigments are also counted in drops
    grow : part by which the whole may grow so that ratios suffer less; 0 for an addition to a pot
    into : what the clear base goes into, in words

    Raises
    ------
    UsageError
        A part is less than can be weighed, or a number makes no sense.
    """
    check_number(scale_g, "scale-step", 1e-4, 100)
    check_number(least_g, "least-grams", 0, 1000)
    check_number(grow, "growth", 0, 1)
    recipe = Recipe(tuple(part for part in recipe.parts if part.grams or part.what != BINDER))
    wanted = {part.what: part.grams for part in recipe.parts}
    for what, grams in wanted.items():
        check_number(grams, "ingredient-grams", 1e-6, 1e6, called(what))
    mixes = _pre_mixes(wanted, let_down, scale_g, least_g)
    for what in wanted.keys() - mixes.keys():
        _check_weighable(what, wanted[what], scale_g, least_g, grow)
    steps = {what: scale_g * (mixes[what].share if what in mixes else 1.0) for what in wanted}
    on_the_scale = {what: tidied(count * scale_g, scale_g) for what, count in _counts(wanted, steps, grow).items()}
    brought = sum(on_the_scale[what] * (1 - mix.share) for what, mix in mixes.items())
    if BINDER in wanted:
        on_the_scale[BINDER] = _own_binder(on_the_scale[BINDER], brought, scale_g)
    weighed = _weighed(recipe, on_the_scale, mixes, brought, scale_g)
    order = _in_order(recipe, {key(what): strength for what, strength in (strengths or {}).items()})
    todo = [
        _step(what, on_the_scale[what], mixes.get(what), what == order[-1], scale_g, drop_g, into) for what in order
    ]
    close = WeighingStep(0.0, "", "Close the pot with an airtight lid, and write name and date on it.")
    changes = _changes(recipe, weighed)
    made = (_making(what, mix, scale_g) for what, mix in mixes.items())
    return WeighingList((*made, *todo, close), weighed, changes, _notes(recipe, weighed, changes, scale_g))


def _pre_mixes(
    wanted: Mapping[str, float], let_down: Collection[str], scale_g: float, least_g: float
) -> dict[str, LetDown]:
    """The pre-mix of each pigment that is to be weighed from one, large enough for a pot that grows."""
    names = {key(what) for what in let_down}
    return {
        what: let_down_of(grams, scale_g, least_g)
        for what, grams in wanted.items()
        if what != BINDER and key(what) in names
    }


def _own_binder(binder_g: float, brought_g: float, scale_g: float) -> float:
    """What is weighed as clear base, when pre-mixes bring some of it."""
    left = on_scale(binder_g - brought_g, scale_g)
    if left <= 0:
        raise UsageError("pre-mix-brings-all-clear-base", "fewer-from-pre-mix", grams=brought_g)
    return left


def _check_weighable(what: str, grams: float, scale_g: float, least_g: float, grow: float) -> None:
    least = max(least_g, scale_g / 2)
    if grams >= least:
        return
    raise UsageError(
        "part-below-scale",
        "make-it-weighable",
        what=called(what),
        grams=grams,
        least=least,
        # What is added to a pot cannot be made more.
        times=math.ceil(10 * least / grams) / 10 if grow > 0 else None,
        pre_mix=None if what == BINDER else _pre_mix_facts(let_down_of(grams, scale_g, least_g), scale_g),
    )


def _pre_mix_facts(mix: LetDown, scale_g: float) -> dict[str, float]:
    return {
        "grams": mix.grams,
        "parts": 1 / mix.share,
        "make_pigment": mix.make_pigment_g,
        "make_clear_base": mix.make_binder_g,
        "clear_base": on_scale(mix.binder_g, scale_g),
    }


def _counts(wanted: Mapping[str, float], steps: Mapping[str, float], grow: float) -> dict[str, int]:
    """Whole steps of the scale for each part, at the size of the pot where shares suffer least.

    Of all sizes at which one pigment lies exactly on a step the first that is near enough is taken, or the best: there
    growing must make the worst share better in proportion (GROWTH_FOR_ERROR).
    """

    def rounded(factor: float) -> dict[str, int]:
        return {what: max(round(factor * grams / steps[what]), 1) for what, grams in wanted.items()}

    def error(factor: float) -> float:
        return max(abs(count * steps[what] / (factor * wanted[what]) - 1) for what, count in rounded(factor).items())

    sizes = sorted({1.0, *(size for what in wanted for size in _sizes(wanted[what] / steps[what], grow))})
    near = (size for size in sizes if error(size) <= NEAR_ENOUGH)
    return rounded(next(near, None) or min(sizes, key=lambda size: error(size) + (size - 1) / GROWTH_FOR_ERROR))


def _sizes(steps: float, grow: float) -> Iterator[float]:
    """Factors from 1 to 1 + grow that bring a part of so many steps of the scale onto a whole one."""
    # A part of more steps is near enough at any size.
    if steps < 0.5 / NEAR_ENOUGH:
        yield from (count / steps for count in range(max(math.ceil(steps), 1), math.floor(steps * (1 + grow)) + 1))


def _in_order(recipe: Recipe, strengths: Mapping[str, float]) -> list[str]:
    """Clear base, pigments of known strength from the weakest, the others from the largest amount."""
    pigments = [part for part in recipe.parts if part.what != BINDER]
    known = sorted(
        (part for part in pigments if key(part.what) in strengths), key=lambda part: strengths[key(part.what)]
    )
    unknown = sorted((part for part in pigments if key(part.what) not in strengths), key=lambda part: -part.grams)
    binder = [part for part in recipe.parts if part.what == BINDER]
    return [part.what for part in (*binder, *known, *unknown)]


def _weighed(
    recipe: Recipe, on_the_scale: Mapping[str, float], mixes: Mapping[str, LetDown], brought_g: float, scale_g: float
) -> Recipe:
    """What will be in the pot; the clear base of a pre-mix counts as clear base."""
    std = weighed_std(scale_g)
    parts = []
    for part in recipe.parts:
        grams, error = on_the_scale[part.what], std
        if mix := mixes.get(part.what):
            grams *= mix.share
            # The pre-mix was weighed too.
            error = math.hypot(mix.share * std, grams / mix.make_pigment_g * std)
        elif part.what == BINDER:
            grams += brought_g
        parts.append(Part(part.what, grams, GRAMS, grams, error, part.number))
    if brought_g and all(part.what != BINDER for part in parts):
        parts.insert(0, Part(BINDER, brought_g, GRAMS, brought_g, std))
    return Recipe(tuple(parts))


def _making(what: str, mix: LetDown, scale_g: float) -> WeighingStep:
    return WeighingStep(
        0.0,
        "",
        f"Make a pre-mix of {shown(mix.make_pigment_g, scale_g)} g of {what} and {shown(mix.make_binder_g, scale_g)} g"
        f" of clear base: mix until no streak is seen, and label it '{what} {100 * mix.share:g} %'.",
    )


def _step(
    what: str, grams: float, mix: LetDown | None, last: bool, scale_g: float, drop_g: float | None, into: str
) -> WeighingStep:
    amount = f"{shown(grams, scale_g)} g"
    if what == BINDER:
        return WeighingStep(grams, what, f"Weigh {amount} of clear base into {into}.")
    name = f"the {100 * mix.share:g} % pre-mix of {what}" if mix else what
    drops = round(grams / drop_g) if drop_g and 1 <= round(grams / drop_g) <= DROPS else None
    about = f" (about {counted(drops, 'drop')})" if drops else ""
    how = "bit by bit, and mix after each bit" if last else "and mix"
    add = "Add" if grams >= POURED else "With a clean spoon add"
    return WeighingStep(grams, what, f"{add} {amount} of {name}{about}, {how} until no streak is seen.", drops)


def _changes(before: Recipe, after: Recipe) -> dict[str, float]:
    """Relative change of each pigment's share; of its grams where there is no clear base."""
    whole = after.grams / before.grams if any(part.what == BINDER for part in before.parts) else 1.0
    grams = {part.what: part.grams for part in after.parts}
    return {part.what: grams[part.what] / (whole * part.grams) - 1 for part in before.parts if part.what != BINDER}


def _notes(before: Recipe, after: Recipe, changes: Mapping[str, float], scale_g: float) -> tuple[str, ...]:
    notes = [
        f"The scale's steps change the share of {what} by {100 * change:+.0f} %: weigh it from a pre-mix, mix a larger"
        " pot, or use a finer scale."
        for what, change in changes.items()
        if abs(change) > WORTH_A_NOTE
    ]
    if abs(after.grams - before.grams) > scale_g:
        notes.append(
            f"The whole becomes {shown(after.grams, scale_g)} g instead of {shown(before.grams, scale_g)} g, so that"
            " the pigments lie on steps of the scale."
        )
    return tuple(notes)
