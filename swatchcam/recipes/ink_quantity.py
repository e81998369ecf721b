"""How much ink a run needs: what lies on the cloth, what clings to screen and pot, and a reserve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import UsageError
from ..text import counted
from .ink_deposit import DENSITY, Laid
from .numbers import check_number
from .print_run import Run, inked_m2

SETUP_LOSS_G, REST_IN_POT, RESERVE = 50.0, 0.03, 0.15  # common practice, no source


@dataclass(frozen=True)
class Losses:
    """What does not get onto the cloth."""

    setup_g: float = SETUP_LOSS_G  # on screen and squeegee, each set-up
    rest: float = REST_IN_POT  # part of the whole that stays in the pot
    reserve: float = RESERVE  # part of all else, so that nobody needs a second batch


@dataclass(frozen=True)
class QuantityLine:
    """One addend of an amount."""

    words: str
    grams: float


@dataclass(frozen=True)
class Amount:
    """How much to mix."""

    grams: float  # the sum of the lines
    low: float  # the same sum, if a pull lays as little, or as much, as it may
    high: float
    millilitres: float
    pots: int | None  # None if no size of a pot was given
    pot_ml: float | None
    laid: Laid
    lines: tuple[QuantityLine, ...]
    flags: tuple[str, ...]


def amount(
    run: Run, laid: Laid, losses: Losses | None = None, *, density: float = DENSITY, pot_ml: float | None = None
) -> Amount:
    """How much ink a run needs.

    Parameters
    ----------
    laid : what one pull lays; see `laid_by_weighing`, `laid_by_volume` and `laid_by_mesh`
    density : of the ink, g/ml
    pot_ml : what one pot holds

    Raises
    ------
    UsageError
        A number makes no sense.
    """
    losses = losses or Losses()
    check_number(losses.setup_g, "A loss per set-up (g)", 0, 1e5, "50")
    check_number(losses.rest, "A rest in the pot (part of the whole)", 0, 0.5, "0.03 for 3 %")
    check_number(losses.reserve, "A reserve (part of the whole)", 0, 2, "0.15 for 15 %")
    check_number(density, "A density (g/ml)", 0.5, 3, f"{DENSITY:g}")
    low, best, high = (_lines(run, each, losses) for each in (laid.low, laid.best, laid.high))
    grams, most = _total(best), _total(high)
    # What is needed at most, without the reserve.
    bare = most / (1 + losses.reserve)
    short = (f"The reserve does not cover all that the cloth may take: {bare:.0f} g. Mix {most:.0f} g to be safe.",)
    flags = laid.flags + (short if bare > grams else ())
    return Amount(grams, _total(low), most, grams / density, _pots(grams / density, pot_ml), pot_ml, laid, best, flags)


def losses_of(setup_g: float, rest_percent: float, reserve_percent: float) -> Losses:
    """Losses as people say them, in grams and percent.

    Raises
    ------
    UsageError
        A number makes no sense, or a percentage looks like a part already.
    """
    for percent, what, most, example in (
        (rest_percent, "A rest in the pot (%)", 50, "3"),
        (reserve_percent, "A reserve (%)", 200, "15"),
    ):
        if 0 < percent < 1:
            raise UsageError(
                f"{what} of {percent:g} is hardly anything.",
                f"Give it in percent: {100 * percent:g} if you mean {percent:g} of the whole, or 0.",
            )
        check_number(percent, what, 0, most, example)
    return Losses(setup_g, rest_percent / 100, reserve_percent / 100)


def _lines(run: Run, laid: float, losses: Losses) -> tuple[QuantityLine, ...]:
    """The addends, when a pull lays so many g/m2."""
    on_cloth, on_screen = laid * inked_m2(run), losses.setup_g * run.setups
    in_pot = (on_cloth + on_screen) * losses.rest / (1 - losses.rest)
    reserve = (on_cloth + on_screen + in_pot) * losses.reserve
    cloth = (
        f"on the cloth: {counted(run.pieces, 'piece')} x {run.area_cm2:g} cm2 x {100 * run.coverage:g} % ink"
        f" x {counted(run.passes, 'pass', 'passes')} x {laid:.0f} g/m2"
    )
    return (
        QuantityLine(cloth, on_cloth),
        QuantityLine(f"on screen and squeegee: {counted(run.setups, 'set-up')} x {losses.setup_g:g} g", on_screen),
        QuantityLine(f"rest in the pot: {100 * losses.rest:g} % of the whole", in_pot),
        QuantityLine(f"reserve of {100 * losses.reserve:g} %, so that nobody needs a second batch", reserve),
    )


def _total(lines: Sequence[QuantityLine]) -> float:
    return sum(line.grams for line in lines)


def _pots(millilitres: float, pot_ml: float | None) -> int | None:
    if pot_ml is None:
        return None
    check_number(pot_ml, "A pot (ml)", 1, 1e6, "500")
    return math.ceil(millilitres / pot_ml)
