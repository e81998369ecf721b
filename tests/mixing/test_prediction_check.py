"""A proposal is held against the right strip, and what is said of all of them is what they did."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import binomtest, chi2

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.library.records import HEAT_SET, WET, State
from swatchcam.mixing.prediction_check import (
    REGION,
    Showing,
    checked_predictions,
    prediction_rate,
    share_interval,
)
from swatchcam.report.mixing_sentences import prediction_check_words
from tests.worlds.cheap_measurements import proposal
from tests.worlds.studio_records import kept, record, with_lab

COLOUR = kept()
TARGET = (COLOUR.lab[0] + 1, COLOUR.lab[1], COLOUR.lab[2])


def proposed(number=1, **said):
    usual = {"shade": "Mohnrot", "batch": "B1", "made": "2026-02-20T12:00:00Z"}
    return proposal(**(usual | said), number=number)


def one_checked(wanted=None, *records):
    (checked,) = checked_predictions([wanted or proposed()], records or [record(1)])
    return checked


# --- which strip -----------------------------------------------------------------------------------------


def test_the_first_fitting_record_since_then_counts():
    records = [
        record(5, measured="2026-03-03"),
        record(4, measured="2026-03-02"),
        record(3, measured="2026-03-01", state=State(WET)),
        record(2, measured="2026-02-19"),
        record(1, measured="2026-03-01", batch="B2"),
    ]
    assert one_checked(None, *records).record.number == 4
    assert one_checked(proposed(state=State(WET)), *records).record.number == 3
    assert one_checked(proposed(batch="B2"), *records).record.number == 1


UNFIT = (
    {"state": State(HEAT_SET)},
    {"batch": "B2"},
    {"shade": "Salbei"},
    {"measured": "2026-02-18"},
    {"cloth": "linen"},
    {"let_down": 10.0},
    {"colour": replace(COLOUR, absolute=False)},
    {"colour": replace(COLOUR, illuminant="D50")},
    {"colour": replace(COLOUR, observer=2)},
)


@pytest.mark.parametrize("said", UNFIT)
def test_what_was_not_predicted_is_no_miss(said):
    wanted = proposed(cloth="Cotton,  white")
    assert checked_predictions([wanted], [record(1)])
    assert checked_predictions([wanted], [record(1, **said)]) == ()


# --- how far off --------------------------------------------------------------------------------------------


def test_a_hit_says_how_far_the_pot_is_from_prediction_and_target():
    measured = with_lab(record(1), (COLOUR.lab[0] + 2, COLOUR.lab[1], COLOUR.lab[2]))
    checked = one_checked(proposed(target=TARGET), measured)
    assert checked.miss == float(delta_e_2000(measured.colour.lab, COLOUR.lab))
    assert checked.to_target == float(delta_e_2000(measured.colour.lab, TARGET)) < checked.miss
    assert one_checked().to_target is None
    assert one_checked().miss == 0


def test_a_pot_is_as_far_from_its_target_as_says_a_strip_in_the_targets_state_only():
    told = (
        one_checked(proposed(target=TARGET, target_state=state))
        for state in (None, State("heat-set"), State("air-dried"))
    )
    assert [one.to_target is None for one in told] == [False, True, False]


def test_the_region_is_that_of_chi_square():
    """Pearson 1900; scipy's own algorithm, to the digits printed."""
    assert_allclose(REGION, chi2.ppf(0.95, 3), rtol=0, atol=5e-4)


@pytest.mark.parametrize("way", [(1, 0, 0), (0, 1, 0), (1, -2, 0.5)])
def test_the_region_ends_where_the_errors_of_both_say(way):
    """Along any way its edge lies where way' (P + M)^-1 way is the 95 % point."""
    both = np.array(proposed().covariance) + COLOUR.covariance
    edge = np.array(way) * np.sqrt(REGION / (way @ np.linalg.inv(both) @ way))
    for size, within in ((0.999, True), (1.001, False), (-0.999, True), (-1.001, False)):
        measured = with_lab(record(1), tuple(np.array(COLOUR.lab) + size * edge))
        assert one_checked(None, measured).within == within


def test_of_predictions_that_are_as_sure_as_they_say_95_of_100_hold():
    wanted, rng = proposed(), np.random.default_rng(5)
    both = np.array(wanted.covariance) + COLOUR.covariance
    colours = rng.multivariate_normal(COLOUR.lab, both, 400)
    held = sum(one_checked(wanted, with_lab(record(1), tuple(lab))).within for lab in colours)
    low, high = binomtest(380, 400).proportion_ci(0.999, method="exact")
    assert low < held / 400 < high


# --- all of them --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("of", [1, 2, 5, 13, 100, 1000])
def test_the_interval_of_a_share_is_the_exact_one(of):
    """Clopper & Pearson 1934, doi:10.1093/biomet/26.4.404, as scipy computes it from the beta distribution."""
    for held in {0, 1, of // 2, of - 1, of}:
        expected = binomtest(held, of).proportion_ci(0.95, method="exact")
        assert_allclose(share_interval(held, of), expected, rtol=0, atol=1e-9)


def test_of_nothing_any_share_may_hold():
    assert share_interval(0, 0) == (0, 1)
    assert share_interval(0, 20)[1] == pytest.approx(1 - 0.025 ** (1 / 20))  # all 20 failed: (1 - p)^20 = 0.025


def came_out(*missed):
    """Checked predictions of proposals (kind, how much lighter their pot was than predicted)."""
    wanted = [proposed(number, kind=kind, batch=f"B{number}") for number, (kind, _) in enumerate(missed, start=1)]
    records = [
        with_lab(record(number, batch=f"B{number}"), (COLOUR.lab[0] + off, *COLOUR.lab[1:]))
        for number, (_, off) in enumerate(missed, start=1)
    ]
    return checked_predictions(wanted, records)


def test_the_rate_is_told_by_kind():
    found = came_out(*[("recipe", off) for off in (0, 1, 8)], *[("correction", off) for off in (0.2, 0.4, 0.5)])
    rate = prediction_rate(found)
    assert (rate.checked, rate.held) == (found, 5)
    assert (rate.low, rate.high) == share_interval(5, 6)
    misses = [checked.miss for checked in found]
    assert rate.mean == pytest.approx({"recipe": sum(misses[:3]) / 3, "correction": sum(misses[3:]) / 3})
    assert rate.median == {"recipe": misses[1], "correction": misses[4]}
    assert rate.showing == Showing.AS_EXPECTED
    assert prediction_check_words(rate) == (
        "5 of 6 predictions held (95 % expected). On average they missed by"
        f" {rate.mean['recipe']:.1f} CIEDE2000 for first recipes and {rate.mean['correction']:.1f} for corrections."
    )


def test_few_say_nothing_and_many_misses_are_told():
    none, one = prediction_rate(()), prediction_rate(came_out(("again", 0)))
    assert (none.showing, prediction_check_words(none)) == (Showing.NOTHING, "No proposal has been measured yet.")
    assert one.showing == Showing.TOO_FEW
    assert prediction_check_words(one) == (
        "1 of 1 prediction held. That is too few to judge by: at least 5 are needed."
    )
    assert prediction_rate(came_out(*[("again", 0)] * 4)).showing == Showing.TOO_FEW
    bad = prediction_rate(came_out(*[("thinning", 9)] * 3, *[("again", 0)] * 2))
    assert bad.showing == Showing.LESS_SURE
    assert prediction_check_words(bad).startswith("2 of 5 predictions held")
    assert "That is too few: your pots are less certain than predicted." in prediction_check_words(bad)
    good = prediction_rate(came_out(*[("thinning", 0)] * 5))
    assert good.showing == Showing.AS_EXPECTED
    assert "less certain" not in prediction_check_words(good)
