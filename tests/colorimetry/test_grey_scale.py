"""The grade for change in colour is that of the standard's tables, and says which other grades are as good."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.grey_scale import (
    A02_STEPS,
    GRADES,
    grade,
    grades_within,
    grey_scale_difference,
    grey_scale_rating,
)
from swatchcam.errors import UsageError
from tests.paths import REFERENCE

sizes = st.floats(0, 40, allow_nan=False)


def rows(name):
    with open(REFERENCE / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


# ISO 105-A02:1993, read in two excerpts; ranges of ISO 105-A05:1996 from memory, as the file's head says.
STEPS = rows("grey_scale_iso105.csv")
# Computed with the formula of ISO 105-A05 as remembered, not published.
CASES = rows("grey_scale_a05_cases.csv")
ORIGINAL, TESTED = (np.array([[float(row[f"{axis}_{end}"]) for axis in "Lab"] for row in CASES]) for end in "ot")


def test_every_case_has_its_difference_rating_and_grade():
    found = grey_scale_difference(ORIGINAL, TESTED)
    # The colours are given to four decimals, and so is the result.
    assert_allclose(found, [float(row["dE_F"]) for row in CASES], rtol=0, atol=1e-4)
    assert_allclose(grey_scale_rating(found), [float(row["gsc"]) for row in CASES], rtol=0, atol=5.1e-4)
    assert [grade(float(size)) for size in found] == [row["grade"] for row in CASES]


def test_steps_and_ranges_are_those_of_the_table():
    printed = [(row["grade"], row["a02_dE_nominal"], row["a02_tolerance"], row["a05_from"]) for row in STEPS]
    ours = [(step.grade, step.nominal, step.tolerance, step.start) for step in A02_STEPS]
    assert ours == [(name, *(float(text.removeprefix("+/-")) for text in rest)) for name, *rest in printed]


def test_each_range_runs_from_its_first_difference_to_just_below_the_next():
    for row in STEPS:
        assert grade(float(row["a05_from"])) == row["grade"]
        if row["a05_below"]:
            assert grade(np.nextafter(float(row["a05_below"]), 0)) == row["grade"]


def test_limits_lie_halfway_between_neighbouring_steps():
    nominal = np.array([step.nominal for step in A02_STEPS])
    assert_allclose([step.start for step in A02_STEPS[1:]], (nominal[1:] + nominal[:-1]) / 2, rtol=0, atol=1e-12)


def test_the_rating_of_each_step_is_its_grade_as_a_number():
    ratings = grey_scale_rating([step.nominal for step in A02_STEPS])
    assert_allclose(ratings, [float(row["gsc_formula_at_nominal"]) for row in STEPS], rtol=0, atol=5.1e-5)


def test_of_greys_only_lightness_counts_and_a_colour_is_equal_to_itself():
    rng = np.random.default_rng(105)
    greys = np.pad(rng.uniform(0, 100, (50, 2, 1)), ((0, 0), (0, 0), (0, 2)))
    apart = np.abs(greys[:, 0, 0] - greys[:, 1, 0])
    assert_allclose(grey_scale_difference(greys[:, 0], greys[:, 1]), apart, rtol=1e-12)
    lab = rng.uniform([0, -100, -100], 100, (50, 3))
    assert_allclose(grey_scale_difference(lab, lab), 0, atol=1e-12)


@given(sizes, sizes)
def test_a_larger_difference_never_has_a_better_grade(one, other):
    low, high = sorted((one, other))
    assert grey_scale_rating(low) >= grey_scale_rating(high)
    assert GRADES.index(grade(low)) <= GRADES.index(grade(high))


@given(sizes, sizes, sizes)
def test_an_uncertain_difference_may_have_every_grade_inside_and_no_other(one, other, third):
    low, middle, high = sorted((one, other, third))
    within = grades_within(low, high)
    assert grade(middle) in within
    assert (within[0], within[-1]) == (grade(low), grade(high))
    assert set(grades_within(low, middle)) <= set(within)


def test_near_a_limit_both_grades_are_told():
    assert grades_within(2.8, 3.0) == ("3-4", "3")
    assert grades_within(3.0, 3.0) == ("3",)


@pytest.mark.parametrize(("low", "high"), [(2, 1), (-1, 1), (0, float("nan"))])
def test_what_is_no_range_is_refused(low, high):
    with pytest.raises(UsageError):
        grades_within(low, high)
