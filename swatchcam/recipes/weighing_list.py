"""What to do at the scale, a line a step: pre-mixes that are still to be made, then all that goes into the pot.

The order is given: clear base first, all of it, then what changes the colour least per gram. What changes it most comes
last, bit by bit, when all else is in and every bit shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from ..text import counted
from .dosing import Dose
from .parser import DROPS
from .premix import Making
from .recipe import BINDER, SCALE_G, Recipe, called
from .scale_resolution import shown

EMPTY = "a clean pot"
POURED = 50.0  # g, from which on nobody uses a spoon


class Way(StrEnum):
    """How a step is done."""

    MAKE = "make"  # a pre-mix
    WEIGH = "weigh"
    COUNT = "count"  # drops
    CLOSE = "close"  # the pot


@dataclass(frozen=True)
class WeighingStep:
    """One thing to do."""

    way: Way
    words: str
    dose: Dose | None = None  # what is weighed or counted
    making: Making | None = None


@dataclass(frozen=True)
class WeighingList:
    """What to do, and what will be in the pot."""

    steps: tuple[WeighingStep, ...]
    recipe: Recipe  # as it will really be weighed


def weighing_list(
    doses: Sequence[Dose],
    recipe: Recipe,
    makings: Sequence[Making] = (),
    scale_g: float = SCALE_G,
    into: str = EMPTY,
) -> WeighingList:
    """What to do, step by step.

    Parameters
    ----------
    doses : what is put in, in order
    recipe : all that they make together
    makings : pre-mixes that are made first, in order
    scale_g : the scale's step
    into : what the first of it goes into, in words; "" for a pot that is there
    """
    last = len(doses) - 1
    todo = [_step(dose, place == last, scale_g, "" if place else into) for place, dose in enumerate(doses)]
    close = WeighingStep(Way.CLOSE, "Close the pot with an airtight lid, and write its name and the date on it.")
    return WeighingList((*(_making(one, scale_g) for one in makings), *todo, close), recipe)


def _making(making: Making, scale_g: float) -> WeighingStep:
    name, ink = making.made.name, f"the {making.of.name} pre-mix" if making.of else making.made.pigment
    words = (
        f"Make the {name} pre-mix: {shown(making.ink_g, scale_g)} g of {ink} and {shown(making.binder_g, scale_g)} g of"
        f" clear base. Mix until there are no streaks, and write '{name}' and the date on it."
    )
    return WeighingStep(Way.MAKE, words, making=making)


def _step(dose: Dose, last: bool, scale_g: float, into: str) -> WeighingStep:
    slowly = last and into != EMPTY and (not into or dose.what != BINDER)
    how = "bit by bit, and mix after each bit" if slowly else "and mix"
    what = f"{_much(dose, scale_g)} of {_name(dose)}"
    if dose.unit == DROPS:
        count = f"Count {what} into {into}" if into else f"Count in {what}"
        return WeighingStep(Way.COUNT, f"{count}, {how} until there are no streaks.", dose)
    if into:
        mixed = "" if into == EMPTY else f", {how} until there are no streaks"
        return WeighingStep(Way.WEIGH, f"Weigh {what} into {into}{mixed}.", dose)
    add = "Add" if dose.grams >= POURED else "With a clean spoon add"
    return WeighingStep(Way.WEIGH, f"{add} {what}, {how} until there are no streaks.", dose)


def _much(dose: Dose, scale_g: float) -> str:
    return counted(round(dose.amount), "drop") if dose.unit == DROPS else f"{shown(dose.amount, scale_g)} g"


def _name(dose: Dose) -> str:
    return f"the {dose.pre_mix.name} pre-mix" if dose.pre_mix else called(dose.what)
