"""The grade for staining is that of the standards' steps, as far as public sources tell them."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.grey_scale import GRADES
from swatchcam.colorimetry.intervals import interval_of_difference
from swatchcam.colorimetry.staining import (
    A03_STEPS,
    staining_difference,
    staining_grade,
    staining_grades_within,
    staining_rating,
)
from swatchcam.errors import UsageError
from tests.paths import REFERENCE

sizes = st.floats(0, 80, allow_nan=False)
axes = st.floats(-60, 60, allow_nan=False)

with open(REFERENCE / "staining_iso105.csv", encoding="utf-8", newline="") as _file:
    ROWS = list(csv.DictReader(line for line in _file if not line.startswith("#")))
# Steps of GB/T 251-2008 (ISO 105-A03), limits from code that names EN ISO 105-A04:1999, as the file's head says.
STEPS = [row for row in ROWS if row["status"] == "published"]
# Computed with the formula, not published.
CASES = [row for row in ROWS if row["status"] == "computed here"]


def test_steps_and_tolerances_are_those_of_the_published_table():
    printed = [(row["grade"], float(row["dE"]), float(row["a03_tolerance"].lstrip("+/-"))) for row in STEPS]
    assert [(step.grade, step.nominal, step.tolerance) for step in A03_STEPS] == printed
    assert len(printed) == 9


def test_the_limits_are_those_of_the_published_ratings():
    found = [step.start for step in A03_STEPS]
    assert_allclose(found, [float(row["dE_GS_from"]) for row in STEPS], rtol=0, atol=5.1e-4)
    for row in STEPS[1:]:
        assert_allclose(staining_rating(float(row["dE_GS_from"])), float(row["ssr_below"]), rtol=0, atol=5e-4)


def test_the_formula_gives_the_grade_at_each_nominal_step():
    nominal = np.array([step.nominal for step in A03_STEPS])
    assert_allclose(staining_rating(nominal), [float(row["grade_number"]) for row in STEPS], rtol=0, atol=0.018)
    assert_allclose(staining_rating(nominal), [float(row["ssr"]) for row in STEPS], rtol=0, atol=5.1e-5)
    assert [staining_grade(size) for size in nominal] == [row["grade"] for row in STEPS]


def test_a_printed_scale_within_its_tolerance_is_at_most_one_grade_off():
    for place, step in enumerate(A03_STEPS):
        for size in (max(step.nominal - step.tolerance, 0), step.nominal + step.tolerance):
            assert abs(GRADES.index(staining_grade(size)) - place) <= 1


@pytest.mark.parametrize("row", CASES, ids=lambda row: row["kind"])
def test_cases_computed_elsewhere_come_out(row):
    whole, lightness = float(row["dE"]), float(row["dL"])
    stained = np.array([90 - lightness, np.sqrt(whole**2 - lightness**2), 0])
    found = float(staining_difference([90, 0, 0], stained))
    assert found == pytest.approx(float(row["dE_GS"]), abs=5.1e-5)
    assert float(staining_rating(found)) == pytest.approx(float(row["ssr"]), abs=5.1e-5)
    assert staining_grade(found) == row["grade"]


@given(axes, axes, axes)
def test_the_difference_is_that_of_the_published_formula(lightness, a, b):
    whole = np.sqrt(lightness**2 + a**2 + b**2)
    published = whole - 0.4 * np.sqrt(max(whole**2 - lightness**2, 0))
    one, other = np.array([92.0, 0.5, 3.0]), np.array([92.0 + lightness, 0.5 + a, 3.0 + b])
    assert_allclose(staining_difference(one, other), published, rtol=0, atol=1e-6)
    assert_allclose(staining_difference(other, one), published, rtol=0, atol=1e-6)


@given(sizes, sizes)
def test_a_stronger_stain_never_has_a_better_grade(one, other):
    low, high = sorted((one, other))
    assert staining_rating(low) >= staining_rating(high)
    assert GRADES.index(staining_grade(low)) <= GRADES.index(staining_grade(high))


@given(sizes, sizes, sizes)
def test_an_uncertain_stain_may_have_every_grade_inside_and_no_other(one, other, third):
    low, middle, high = sorted((one, other, third))
    within = staining_grades_within(low, high)
    assert staining_grade(middle) in within
    assert (within[0], within[-1]) == (staining_grade(low), staining_grade(high))


@pytest.mark.parametrize("way", [(0, 0, 0), (-0.5, 0, 0), (-1, 3, 1), (-0.2, 0.3, 5), (-6, 2, -14), (-20, 25, 5)])
def test_intervals_hold_the_true_staining_as_often_as_they_say(way):
    """Invented stains and noise; 95 % of 200 is 190, less three standard deviations: 181 at least."""
    rng = np.random.default_rng(104)
    clean, noise = np.array([92.0, 0.5, 3.0]), 0.4 * np.sqrt([0.5, 1.2, 1.0])
    truth, held = float(staining_difference(clean, clean + way)), 0
    for _ in range(200):
        seen = clean + way + rng.normal(0, noise)
        low, high = interval_of_difference(seen, clean, np.diag(noise**2), formula=staining_difference)
        held += low - 1e-9 <= truth <= high
    assert held >= 181


@pytest.mark.parametrize(("low", "high"), [(2, 1), (-1, 1), (0, float("nan"))])
def test_what_is_no_range_is_refused(low, high):
    with pytest.raises(UsageError):
        staining_grades_within(low, high)
