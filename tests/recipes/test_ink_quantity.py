"""How much ink a run needs: a sum that adds up, and a warning where the reserve may not do."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.messages.message import flag
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.ink_deposit import DRAW, laid_by_volume, laid_by_weighing
from swatchcam.recipes.ink_quantity import LEAST_RESERVE, Losses, amount, losses_of
from swatchcam.recipes.print_run import Run, Weighing

RUN = Run(area_cm2=30 * 40, coverage=0.35, pieces=60)
NO_LOSS = Losses(setup_g=0, rest=0, reserve=0)


def refused(action, *given, **named):
    with pytest.raises(UsageError) as refusal:
        action(*given, **named)
    assert TERMINAL.remedy(refusal.value).endswith(".")
    assert PAGE.remedy(refusal.value).endswith(".")
    return str(refusal.value)


def test_a_run_worked_out_by_hand():
    laid = laid_by_weighing([Weighing(40, Run(10_000, 1, 1))] * 3)
    whole = amount(RUN, laid, Losses(50, 0.04, 0.1), density=1, pot_ml=500)
    # 60 x 0.12 m2 x 0.35 = 2.52 m2 of ink, 100.8 g on the cloth and 50 g on the screen are 96 % of 157.08 g.
    assert [line.grams for line in whole.lines] == pytest.approx([100.8, 50, 6.2833333, 15.7083333])
    assert whole.grams == whole.millilitres == pytest.approx(172.7916667)
    assert whole.low == whole.high == pytest.approx(157.0833333)
    # Of 172.79 g 96 % leave the pot, 50 g stay on the screen: 115.88 g on 2.52 m2.
    assert whole.covers == pytest.approx(45.9841270)
    assert whole.pots == 1
    assert whole.flags == ()


def test_two_passes_and_twice_the_pieces_need_as_much_more():
    laid = laid_by_volume(25)
    once = amount(RUN, laid, NO_LOSS).grams
    assert amount(Run(1200, 0.35, 60, passes=2), laid, NO_LOSS).grams == pytest.approx(2 * once)
    assert amount(Run(1200, 0.35, 120), laid, NO_LOSS).grams == pytest.approx(2 * once)


def test_the_amount_lasts_whatever_a_pull_may_lay_and_has_a_reserve_at_least():
    unsure = amount(RUN, laid_by_volume(25))
    assert unsure.grams == pytest.approx(unsure.high)
    assert unsure.covers == pytest.approx(unsure.laid.high)
    sure = amount(RUN, laid_by_weighing([Weighing(40, Run(10_000, 1, 1))] * 3))
    assert sure.grams == pytest.approx((1 + LEAST_RESERVE) * sure.high)
    assert "reserve-may-run-out" not in {flag.code for flag in (*unsure.flags, *sure.flags)}


def test_a_smaller_reserve_that_was_wanted_is_flagged_without_a_second_amount():
    whole = amount(RUN, laid_by_volume(25), Losses(reserve=0.1))
    assert whole.flags[-1] == flag("reserve-may-run-out", covers=whole.covers, most=whole.laid.high)
    assert " g." not in TERMINAL.flag(whole.flags[-1])
    assert amount(RUN, laid_by_volume(25), Losses(reserve=0)).lines[-1].words == "no reserve"


@given(
    area=st.floats(1, 1e4),
    coverage=st.floats(0.01, 1),
    pieces=st.integers(1, 1000),
    passes=st.integers(1, 4),
    volume=st.floats(5, 60),
    rest=st.floats(0, 0.3),
    density=st.floats(0.9, 1.3),
    pot=st.floats(50, 5000),
)
def test_the_lines_add_up_and_the_pots_hold_it(area, coverage, pieces, passes, volume, rest, density, pot):
    laid = laid_by_volume(volume, density)
    whole = amount(Run(area, coverage, pieces, passes), laid, Losses(rest=rest), density=density, pot_ml=pot)
    assert sum(line.grams for line in whole.lines) == pytest.approx(whole.grams)
    assert whole.low < whole.high <= whole.grams * (1 + 1e-9)
    assert (whole.pots - 1) * pot <= whole.millilitres <= whole.pots * pot * (1 + 1e-12)
    solid = area * 1e-4 * coverage * pieces * passes
    assert whole.lines[0].grams == pytest.approx(solid * DRAW[1] * volume * density)
    # What stays in the pot is that part of all but the reserve.
    assert whole.lines[2].grams == pytest.approx(rest * sum(line.grams for line in whole.lines[:3]))


@pytest.mark.parametrize(
    ("run", "words"),
    [
        (Run(1200, 35, 60), "If you meant 35 %, give 0.35"),
        (Run(1200, 0, 60), "Coverage: 0 can't be right"),
        (Run(1200, math.nan, 60), "Coverage: nan can't be right"),
        (Run(-5, 0.3, 60), "Area of the motif: -5 cm² can't be right"),
        (Run(math.inf, 0.3, 60), "Area of the motif: inf cm² can't be right"),
        (Run(1200, 0.3, 0), "pieces: 0 can't"),
        (Run(1200, 0.3, 2.5), "'2.5' is not a whole number"),
        (Run(1200, 0.3, 60, passes=0), "passes: 0 can't"),
        (Run(1200, 0.3, 60, setups=-1), "set-ups: -1 can't"),
    ],
)
def test_a_run_that_makes_no_sense_is_refused(run, words):
    assert words in refused(amount, run, laid_by_volume(25))


@pytest.mark.parametrize(
    "named",
    [
        {"losses": Losses(setup_g=-1)},
        {"losses": Losses(rest=1)},
        {"losses": Losses(reserve=15)},
        {"density": 0},
        {"density": math.nan},
        {"pot_ml": 0},
    ],
)
def test_losses_densities_and_pots_that_make_no_sense_are_refused(named):
    assert "can't be right" in refused(amount, RUN, laid_by_volume(25), **named)


def test_losses_are_said_in_percent_and_a_part_is_noticed():
    assert losses_of(50, 3) == Losses()
    assert losses_of(50, 3, 15) == Losses(reserve=0.15)
    assert losses_of(0, 0, 0) == NO_LOSS
    assert "Type it in percent: 15 if you mean 0.15" in refused(losses_of, 50, 3, 0.15)
    assert "Reserve: 300 % can't be right" in refused(losses_of, 50, 3, 300)
    assert "Ink left in the pot: 60 % can't be right" in refused(losses_of, 50, 60, 15)
