"""What a pull lays: the studio's own weighings go first, figures of the mesh come with their wide range."""

from __future__ import annotations

import math

import numpy as np
import pytest

from swatchcam.errors import UsageError
from swatchcam.messages.message import flag
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.ink_deposit import STUDENT, laid_by_mesh, laid_by_volume, laid_by_weighing, laid_meant
from swatchcam.recipes.mesh import Mesh
from swatchcam.recipes.print_run import Run, Weighing

RUN = Run(area_cm2=30 * 40, coverage=0.35, pieces=60)


def refused(action, *given, **named):
    with pytest.raises(UsageError) as refusal:
        action(*given, **named)
    assert TERMINAL.remedy(refusal.value).endswith(".")
    assert PAGE.remedy(refusal.value).endswith(".")
    return str(refusal.value)


def test_figures_of_the_mesh_are_flagged_with_their_range_and_reach_what_cloth_is_said_to_take():
    # print_area_facts.csv: 20 to 60 cm³/m² for 43/cm to 77/cm, from memory: a sanity check, no limit.
    fine, coarse = laid_by_mesh(Mesh(77, 48), density=1), laid_by_mesh(Mesh(43, 80), density=1)
    for laid in (fine, coarse):
        assert laid.low < laid.best < laid.high
        assert laid.flags == (flag("deposit-from-mesh-alone", low=laid.low, high=laid.high),)
        assert f"{laid.low:.0f} to {laid.high:.0f} g/m²" in TERMINAL.flag(laid.flags[0])
    assert fine.low < 20 < fine.best < coarse.best < 60 < coarse.high


def test_weighings_give_their_mean_and_standard_error():
    grams = [40.0, 44.0, 48.0]
    laid = laid_by_weighing([Weighing(each, Run(10_000, 0.5, 2)) for each in grams])  # one square metre of ink
    assert laid.best == pytest.approx(44)
    assert laid.std_error == pytest.approx(4 / math.sqrt(3))
    assert laid.flags == ()


def test_the_range_holds_the_next_run_as_often_as_it_says():
    rng = np.random.default_rng(4)
    one, held = Run(10_000, 1, 1), 0
    for *known, future in rng.normal(40, 4, (2000, 5)):
        laid = laid_by_weighing([Weighing(grams, one) for grams in known])
        held += laid.low <= future <= laid.high
    assert held / 2000 == pytest.approx(0.95, abs=3 * math.sqrt(0.95 * 0.05 / 2000))


def test_the_factors_are_those_of_student():
    from scipy.stats import t

    assert pytest.approx([t.ppf(0.975, k) for k in range(2, 2 + len(STUDENT))], abs=5e-4) == STUDENT


def test_one_or_two_weighings_are_flagged_and_have_a_wide_range():
    one = laid_by_weighing([Weighing(40, Run(10_000, 1, 1))])
    assert (one.low, one.best, one.high, one.std_error) == (30, 40, 50, None)
    assert one.flags == (flag("few-weighed-runs", count=1),)
    assert TERMINAL.flag(one.flags[0]).startswith("Only 1 weighed run: ")
    two = laid_by_weighing([Weighing(grams, Run(10_000, 1, 1)) for grams in (20, 60)])
    assert (two.low, two.best, two.high) == (0, 40, 80)


def test_kilograms_taken_for_grams_are_noticed():
    flags = laid_by_weighing([Weighing(g, RUN) for g in (100, 0.1, 98)]).flags
    assert [(flag.code, flag.facts["number"]) for flag in flags] == [("weighing-unusual", 2)]
    assert TERMINAL.flag(flags[0]).startswith("Weighing 2 gives 0 g/m², which is unusual")


@pytest.mark.parametrize("grams", [0, -1, math.nan, math.inf])
def test_a_weighing_that_is_no_weight_is_refused(grams):
    assert "Ink used:" in refused(laid_by_weighing, [Weighing(grams, RUN)])


def test_no_weighing_at_all_is_refused():
    assert "before and after a run" in refused(laid_by_weighing, [])


# --- what a person said -------------------------------------------------------------------------------------


def test_weighings_go_before_any_figure_of_the_mesh():
    known = laid_meant(RUN, ["120 g for 40"], mesh="77/cm", volume_cm3_m2=25.0)
    assert known == laid_by_weighing([Weighing(120, Run(1200, 0.35, 40))])


def test_a_volume_and_a_mesh_are_taken_as_they_are():
    assert laid_meant(RUN, volume_cm3_m2=25.0, density=1.1) == laid_by_volume(25, 1.1)
    assert laid_meant(RUN, mesh="77-48") == laid_meant(RUN, mesh="77/cm", thread_um=48) == laid_by_mesh(Mesh(77, 48))
    assert laid_meant(RUN, mesh="77-48", thread_um=48) == laid_by_mesh(Mesh(77, 48))


def test_what_stayed_on_the_screen_is_never_in_what_a_pull_lays():
    known = laid_meant(RUN, ["120 g for 40"])
    assert laid_meant(RUN, ["170 g for 40 with the screen"]) == known
    assert laid_meant(RUN, ["150 g for 40 with the screen"], setup_g=30) == known
    assert known.words.endswith("without what stayed on the screen")


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({}, "It isn't known how much ink one pull lays down"),
        ({"mesh": "77-48", "volume_cm3_m2": 25.0}, "both given"),
        ({"mesh": "77-48", "thread_um": 55.0}, "Two thread diameters were given: 48 and 55"),
        ({"mesh": "77/cm"}, "The thread diameter of the mesh with 77 threads/cm is missing"),
        ({"used": ["a lot"]}, "'a lot' can't be read as what a run used"),
    ],
)
def test_what_contradicts_itself_or_says_nothing_is_refused(said, words):
    assert words in refused(laid_meant, RUN, **said)
