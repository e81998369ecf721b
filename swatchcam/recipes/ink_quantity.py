"""How much ink a run needs: what lies on the cloth, what clings to screen and pot, and a reserve.

One amount is told, and what it covers: enough for the most that a pull may lay, so that nobody needs a second batch.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import UsageError
from ..messages.message import Flag, flag
from ..text import counted
from .ink_deposit import DENSITY, Laid
from .numbers import Quantity, check_number
from .print_run import SETUP_LOSS_G, Run, inked_m2

REST_IN_POT, LEAST_RESERVE = 0.03, 0.15  # common practice, no source


@dataclass(frozen=True)
class Losses:
    """What does not get onto the cloth."""

    setup_g: float = SETUP_LOSS_G  # on screen and squeegee, each set-up
    rest: float = REST_IN_POT  # part of the whole that stays in the pot
    reserve: float | None = None  # part of all else; None: for the most that a pull may lay, at least LEAST_RESERVE


@dataclass(frozen=True)
class QuantityLine:
    """One addend of an amount."""

    words: str
    grams: float


@dataclass(frozen=True)
class Amount:
    """How much to mix."""

    grams: float  # the sum of the lines
    covers: float  # g/m² that a pull may lay, and the ink still lasts
    low: float  # what the run takes if a pull lays as little, or as much, as it may; without the reserve
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
    check_number(density, "density", 0.5, 3)
    taken = _lines(run, laid.best, losses)
    low, best, high = (_total(_lines(run, each, losses)) for each in (laid.low, laid.best, laid.high))
    lines = (*taken, _reserve(best, high, laid, losses.reserve))
    grams = _total(lines)
    covers = (grams * (1 - losses.rest) - losses.setup_g * run.setups) / inked_m2(run)
    flags = laid.flags + _short(covers, laid)
    return Amount(grams, covers, low, high, grams / density, _pots(grams / density, pot_ml), pot_ml, laid, lines, flags)


def losses_of(setup_g: float, rest_percent: float, reserve_percent: float | None = None) -> Losses:
    """Losses as people say them, in grams and percent.

    Raises
    ------
    UsageError
        A number makes no sense, or a percentage looks like a part already.
    """
    _check_percent(rest_percent, "rest-percent", 50)
    if reserve_percent is None:
        return Losses(setup_g, rest_percent / 100)
    _check_percent(reserve_percent, "reserve-percent", 200)
    return Losses(setup_g, rest_percent / 100, reserve_percent / 100)


def _check_percent(percent: float, quantity: Quantity, most: float) -> None:
    if 0 < percent < 1:
        raise UsageError(
            "percent-like-a-part", "type-in-percent", quantity=quantity, percent=percent, as_percent=100 * percent
        )
    check_number(percent, quantity, 0, most)


def _lines(run: Run, laid: float, losses: Losses) -> tuple[QuantityLine, ...]:
    """What the run takes, when a pull lays so many g/m²."""
    on_cloth, on_screen = laid * inked_m2(run), losses.setup_g * run.setups
    cloth = (
        f"on the cloth: {counted(run.pieces, 'piece')} × {run.area_cm2:g} cm² × {100 * run.coverage:g} % ink"
        f" × {counted(run.passes, 'pass', 'passes')} × {laid:.0f} g/m²"
    )
    return (
        QuantityLine(cloth, on_cloth),
        QuantityLine(f"on screen and squeegee: {counted(run.setups, 'set-up')} × {losses.setup_g:g} g", on_screen),
        QuantityLine(
            f"left in the pot: {100 * losses.rest:g} % of the whole",
            (on_cloth + on_screen) * losses.rest / (1 - losses.rest),
        ),
    )


def _reserve(best: float, high: float, laid: Laid, wanted: float | None) -> QuantityLine:
    """As much as was wanted; else for the most that a pull may lay, at least LEAST_RESERVE of all else."""
    part = LEAST_RESERVE if wanted is None else wanted
    check_number(part, "reserve-part", 0, 2)
    if wanted is None and high > best * (1 + part):
        return QuantityLine(f"reserve, because a pull may lay up to {laid.high:.0f} g/m²", high - best)
    words = f"reserve of {100 * part:g} %, so that you need no second batch" if part else "no reserve"
    return QuantityLine(words, best * part)


def _short(covers: float, laid: Laid) -> tuple[Flag, ...]:
    """That a reserve which somebody wanted may not do."""
    enough = covers >= laid.high * (1 - 1e-9)  # the dust of floats must not decide
    return () if enough else (flag("reserve-may-run-out", covers=covers, most=laid.high),)


def _total(lines: Sequence[QuantityLine]) -> float:
    return sum(line.grams for line in lines)


def _pots(millilitres: float, pot_ml: float | None) -> int | None:
    if pot_ml is None:
        return None
    check_number(pot_ml, "pot-size", 1, 1e6)
    return math.ceil(millilitres / pot_ml)
