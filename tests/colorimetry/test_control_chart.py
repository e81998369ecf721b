"""The control chart has the limits of a published example, and tells what chance does not explain."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.control_chart import D2, D3, D4, LEAST, SETTLED, TO_LIMIT, chart
from swatchcam.errors import UsageError
from swatchcam.messages.message import Message
from swatchcam.messages.surface import TERMINAL

BEYOND, SIDE, TREND, JUMP = "point-beyond-limit", "points-on-one-side", "points-in-a-row", "point-far-from-last"

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; from memory, its arithmetic checked.
FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
PRINTED = {"centre": 50.81, "range": 1.8778, "upper": 55.8041, "lower": 45.8159}
THEIR_D2 = 1.128  # rounded, as tables print it


def rules(values):
    return {(signal.index, signal.what.code) for signal in chart(values).signals}


def said(signal):
    return TERMINAL.finding(signal.what)


def test_limits_are_those_of_the_published_example():
    flow = chart(FLOW)
    assert flow.centre == pytest.approx(PRINTED["centre"], abs=5e-3)
    assert flow.range_centre == pytest.approx(PRINTED["range"], abs=5.1e-5)
    rounded = D2 / THEIR_D2
    assert flow.centre + (flow.upper - flow.centre) * rounded == pytest.approx(PRINTED["upper"], abs=1e-4)
    assert flow.centre + (flow.lower - flow.centre) * rounded == pytest.approx(PRINTED["lower"], abs=1e-4)
    assert flow.range_upper == pytest.approx(3.267 * PRINTED["range"], rel=2e-4)
    assert flow.provisional
    assert flow.signals == ()


def test_constants_are_those_of_the_tables():
    # Tables of control chart constants for ranges of two: d2 1.128, d3 0.853, 3/d2 2.66, D4 3.267 (from memory).
    assert [round(D2, 3), round(D3, 3), round(TO_LIMIT, 2), round(D4, 3)] == [1.128, 0.853, 2.66, 3.267]


def test_constants_are_those_of_normal_numbers():
    ranges = np.abs(np.diff(np.random.default_rng(2).standard_normal((2, 400_000)), axis=0))
    assert_allclose([ranges.mean(), ranges.std()], [D2, D3], rtol=0.005)


def test_a_point_beyond_a_limit_is_told_and_so_is_the_jump_to_it():
    # 24 values of range 1 about 10, and one of 20: mean range 1.76, limits 10.38 ± 4.69, ranges up to 5.76.
    values = [9.5, 10.5] * 12 + [20.0]
    assert rules(values) == {(24, BEYOND), (24, JUMP)}
    assert "Point 25 lies above the upper limit." in [said(signal) for signal in chart(values).signals]
    assert (24, BEYOND) in rules([-value for value in values])


def test_seven_on_one_side_are_told_and_six_are_not():
    low, high = [9.5, 10.5, 9.4], [10.5, 10.3, 10.6, 10.4, 10.5, 10.3]
    assert rules([*low, *high, *low]) == set()
    values = [*low, *high, 10.5, 9.0, 9.4, 10.4, 9.2]
    assert rules(values) == {(9, SIDE)}
    assert said(chart(values).signals[0]) == "Points 4 to 10 all lie above the centre line."


def test_seven_falling_are_told_and_six_are_not():
    around = [0.0, 2.0, -2.0, 1.5]
    assert rules([*around, 1.2, 0.8, 0.3, -0.4, 1.0, -1.0]) == set()
    values = [*around, 1.2, 0.8, 0.3, -0.4, -0.9, -1.3, 1.0, -1.0]
    assert rules(values) == {(9, TREND)}
    assert said(chart(values).signals[0]) == "Points 4 to 10 fall one after the other."


def test_too_few_points_have_no_limits_and_say_so():
    few = chart(FLOW[: LEAST - 1])
    assert (few.lower, few.upper, few.range_upper, few.signals) == (None, None, None, ())
    assert few.basis == Message("points-too-few", {"count": 4, "least": 5})
    assert TERMINAL.finding(few.basis) == "4 points: too few for limits; at least 5 are needed."
    assert chart([3.0]).ranges == ()
    assert "provisional" in TERMINAL.finding(chart(FLOW[:LEAST]).basis)
    assert TERMINAL.finding(chart(FLOW * 2).basis) == f"The limits rest on {SETTLED} points."


@given(st.floats(-100, 100), st.integers(1, 40))
def test_equal_values_are_in_control(value, count):
    assert chart([value] * count).signals == ()


def test_a_process_in_control_rarely_breaks_the_limits():
    # Normal: 0.27 % of points beyond three standard deviations; limits from 100 points are themselves a little off.
    rng = np.random.default_rng(7870)
    beyond = sum(rule == BEYOND for _ in range(200) for _, rule in rules(rng.normal(50, 3, 100)))
    assert 0.001 < beyond / 20_000 < 0.006


@pytest.mark.parametrize("values", [(), (1.0, math.nan), (math.inf,)])
def test_what_is_no_series_is_refused(values):
    with pytest.raises(UsageError):
        chart(values)
