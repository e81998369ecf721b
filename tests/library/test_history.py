"""How a shade held: a point for each batch, against its target or first record, and what chance does not explain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.colour_difference import delta_e_2000, delta_lch
from swatchcam.library.history import CHARTED, history, states
from swatchcam.library.records import DRY, State
from swatchcam.measurement.verdict import against_target, between
from tests.worlds.studio_records import kept, record, with_lab

BRICK = (50.0, 30.0, 30.0)
HEAT_SET = State("heat-set")


def moved(lightness=0.0, a=0.0, b=0.0):
    return BRICK[0] + lightness, BRICK[1] + a, BRICK[2] + b


def batch(number, lab=BRICK, **changes):
    """The record of batch NUMBER, measured on day NUMBER."""
    usual = {"batch": f"B{number}", "measured": f"2026-03-{number:02d}"} | changes
    return with_lab(record(number, **usual), lab)


def otherwise(one, **changes):
    """The same record with another light or another kind of card."""
    return replace(one, colour=replace(one.colour, **changes))


def numbers(past):
    return [point.record.number for point in past.points]


# --- which records ------------------------------------------------------------------------------------------


def test_a_batch_and_strip_counts_once_by_its_last_record():
    again = batch(7, batch="B1", measured="2026-03-01")  # the same day, kept later
    strips = [batch(4, batch="B2", mark="1"), batch(5, batch="B2", mark="2"), batch(6, batch="B2", mark="1")]
    records = [batch(1), again, *strips]
    for given in (records, records[::-1]):
        assert numbers(history(BRICK, given, DRY)) == [7, 5, 6]


def test_a_let_down_strip_is_no_point_of_its_shade():
    pale = batch(2, moved(20, -15, -15), batch="B1", let_down=10.0)
    records = [batch(1), pale, batch(3), replace(pale, number=4, state=HEAT_SET)]
    assert numbers(history(BRICK, records, DRY)) == [1, 3]
    assert numbers(history(None, records[1:3], DRY)) == [3]
    assert states(records) == [DRY]


def test_cloths_of_a_batch_are_two_points():
    assert numbers(history(BRICK, [batch(1), batch(2, batch="B1", cloth="linen")], DRY)) == [1, 2]


def test_points_stand_in_the_order_in_which_they_were_measured():
    assert numbers(history(BRICK, [batch(3), batch(1), batch(2)], DRY)) == [1, 2, 3]


def test_states_are_told_apart_and_every_number_of_washes():
    records = [
        batch(number, state=state)
        for number, state in enumerate((DRY, HEAT_SET, State("washed", 3), State("washed", 1), State("wet")), start=1)
    ]
    assert states(records) == [State("wet"), DRY, HEAT_SET, State("washed", 1), State("washed", 3)]
    assert [numbers(history(BRICK, records, state)) for state in states(records)] == [[5], [1], [2], [4], [3]]


def test_a_card_that_was_never_measured_is_left_out_and_hides_no_other_record():
    nominal = batch(3, batch="B1", grade="nominal", card="nominal")
    records = [batch(1), batch(2), otherwise(nominal, absolute=False)]
    for target in (BRICK, None):
        assert numbers(history(target, records, DRY)) == [1, 2]


def test_another_light_is_left_out_and_hides_no_other_record():
    records = [batch(1), batch(2), otherwise(batch(3, batch="B2"), illuminant="A"), otherwise(batch(4), observer=2)]
    for target in (BRICK, None):
        assert numbers(history(target, records, DRY)) == [1, 2]


def test_a_target_is_never_compared_with_another_light_but_such_records_among_themselves_are():
    records = [otherwise(batch(number), illuminant="D50") for number in (1, 2)]
    assert history(BRICK, records, DRY).points == ()
    assert numbers(history(None, records, DRY)) == [1, 2]


def test_a_target_for_another_state_does_not_count():
    records = [
        batch(1),
        batch(2, moved(1)),
        batch(3, moved(3), state=HEAT_SET),
        batch(4, state=State("heat-set", how="150 °C")),
    ]
    dry, heat_set = (history(BRICK, records, state, HEAT_SET) for state in states(records))
    assert (dry.reference, heat_set.reference) == ("record 1", "the target")
    assert numbers(heat_set) == [3, 4]  # however they were heated
    assert history(BRICK, records, DRY).reference == "the target (state not said)"


def test_where_there_is_nothing_there_is_an_empty_history():
    for target in (BRICK, None):
        past = history(target, [batch(1)], HEAT_SET)
        assert (past.points, past.charts) == ((), {})


# --- what a point says --------------------------------------------------------------------------------------


def test_against_a_target_a_point_is_what_a_check_says():
    one = batch(1, moved(-2, 1, 3))
    past = history(BRICK, [one], DRY, DRY)
    (point,) = past.points
    said = against_target(one.colour, BRICK)
    assert past.reference == "the target"
    assert (point.ciede2000, point.low, point.high) == (said.delta_e, said.low, said.high)
    assert (point.delta_l, point.delta_c, point.delta_h) == (said.delta_l, said.delta_c, said.delta_h)
    assert point.delta_l == pytest.approx(-2)


def test_without_a_target_the_first_record_stands_for_it():
    records = [batch(1), batch(2, moved(1)), batch(3, moved(-2, 2))]
    past = history(None, records, DRY)
    assert past.reference == "record 1"
    first, second, third = past.points
    assert (first.ciede2000, first.low, first.high) == (0, 0, 0)
    assert (first.delta_l, first.delta_c, first.delta_h) == (0, 0, 0)
    for point, one in ((second, records[1]), (third, records[2])):
        said = between(one.colour, records[0].colour)
        assert (point.ciede2000, point.low, point.high) == (said.delta_e, said.low, said.high)
        assert point.ciede2000 == pytest.approx(float(delta_e_2000(one.colour.lab, BRICK)))
        assert point.low < point.ciede2000 < point.high


# --- what chance does not explain ---------------------------------------------------------------------------


def test_charts_hold_the_differences_in_order():
    rng = np.random.default_rng(3)
    labs = [moved(*rng.normal(0, 0.3, 3)) for _ in range(12)]
    past = history(BRICK, [batch(number, lab) for number, lab in enumerate(labs, start=1)], DRY)
    assert tuple(past.charts) == CHARTED
    apart = delta_lch(np.array(labs), np.array(BRICK))
    assert_allclose(np.transpose([chart.values for chart in past.charts.values()]), apart, atol=1e-12)


def test_a_batch_that_jumps_out_is_a_signal():
    steps = [0.1, -0.1, 0.2, -0.2, 0.1, 0.0, -0.1, 0.1, 6.0, 0.0, 0.1, -0.1]
    past = history(BRICK, [batch(number, moved(step)) for number, step in enumerate(steps, start=1)], DRY)
    (beyond,) = [signal for signal in past.charts["ΔL*"].signals if signal.what.code == "point-beyond-limit"]
    assert past.points[beyond.index].record.batch == "B9"
    assert past.charts["ΔC*"].signals == past.charts["ΔH*"].signals == ()


def test_a_slow_drift_is_a_signal():
    steps = [0.1, -0.1, 0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.1, 1.3]
    grey = (50.0, 20.0, 0.0)
    records = [batch(number, (50.0, 20.0 + step, 0.0)) for number, step in enumerate(steps, start=1)]
    chart = history(grey, records, DRY).charts["ΔC*"]
    (drift,) = [signal for signal in chart.signals if signal.what.code == "points-in-a-row"]
    assert drift.what.facts == {"first": 2, "last": 10, "rising": True}


def test_few_batches_have_no_limits():
    past = history(kept().lab, [record(number) for number in (1, 2)], DRY)
    assert all(chart.lower is None for chart in past.charts.values())
