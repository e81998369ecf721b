"""How much ink a run needs: what lies on the cloth, what clings to screen and pot, and a reserve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import UsageError
from ..messages.message import Flag, flag
from ..text import counted
from .ink_deposit import DENSITY, Laid
from .numbers import Quantity, check_number
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
    flags: tuple[Flag, ...]


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
    check_number(losses.setup_g, "setup-grams", 0, 1e5)
    check_number(losses.rest, "rest-part", 0, 0.5)
    check_number(losses.reserve, "reserve-part", 0, 2)
    check_number(density, "density", 0.5, 3)
    low, best, high = (_lines(run, each, losses) for each in (laid.low, laid.best, laid.high))
    grams, most = _total(best), _total(high)
    # What is needed at most, without the reserve.
    bare = most / (1 + losses.reserve)
    short = (flag("reserve-may-run-out", needed=bare, safe=most),) if bare > grams else ()
    flags = laid.flags + short
    return Amount(grams, _total(low), most, grams / density, _pots(grams / density, pot_ml), pot_ml, laid, best, flags)


def losses_of(setup_g: float, rest_percent: float, reserve_percent: float) -> Losses:
    """Losses as people say them, in grams and percent.

    Raises
    ------
    UsageError
        A number makes no sense, or a percentage looks like a part already.
    """
    _check_percent(rest_percent, "rest-percent", 50)
    _check_percent(reserve_percent, "reserve-percent", 200)
    return Losses(setup_g, rest_percent / 100, reserve_percent / 100)


def _check_percent(percent: float, quantity: Quantity, most: float) -> None:
    if 0 < percent < 1:
        raise UsageError(
            "percent-like-a-part", "type-in-percent", quantity=quantity, percent=percent, as_percent=100 * percent
        )
    check_number(percent, quantity, 0, most)


def _lines(run: Run, laid: float, losses: Losses) -> tuple[QuantityLine, ...]:
    """The addends, when a pull lays so many g/m²."""
    on_cloth, on_screen = laid * inked_m2(run), losses.setup_g * run.setups
    in_pot = (on_cloth + on_screen) * losses.rest / (1 - losses.rest)
    reserve = (on_cloth + on_screen + in_pot) * losses.reserve
    cloth = (
        f"on the cloth: {counted(run.pieces, 'piece')} × {run.area_cm2:g} cm² × {100 * run.coverage:g} % ink"
        f" × {counted(run.passes, 'pass', 'passes')} × {laid:.0f} g/m²"
    )
    return (
        QuantityLine(cloth, on_cloth),
        QuantityLine(f"on screen and squeegee: {counted(run.setups, 'set-up')} × {losses.setup_g:g} g", on_screen),
        QuantityLine(f"left in the pot: {100 * losses.rest:g} % of the whole", in_pot),
        QuantityLine(f"reserve of {100 * losses.reserve:g} %, so that you need no second batch", reserve),
    )


def _total(lines: Sequence[QuantityLine]) -> float:
    return sum(line.grams for line in lines)


def _pots(millilitres: float, pot_ml: float | None) -> int | None:
    if pot_ml is None:
        return None
    check_number(pot_ml, "pot-size", 1, 1e6)
    return math.ceil(millilitres / pot_ml)
