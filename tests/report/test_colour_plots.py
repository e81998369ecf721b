"""Plots draw what they say: the tolerance is where CIEDE2000 puts it, marks differ by shape, words are escaped."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.cielab import lab_to_lch
from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.colorimetry.tolerance_outline import (
    RAYS,
    chroma_plane,
    tolerance_in_ab,
    tolerance_in_lc,
    uncertainty_in_ab,
    uncertainty_in_lc,
)
from swatchcam.library.records import STATES, State
from swatchcam.report.plots.colour_plots import ab_plot, chip, lc_plot, screen_colour
from swatchcam.report.plots.control_chart_plot import history_chart, series
from swatchcam.report.plots.svg import Frame, Labels, drawing, ticks, words
from tests.worlds import studio_records as studio

SVG = "{http://www.w3.org/2000/svg}"
# Vivid, pale, nearly grey, grey, the blue where CIEDE2000 turns its ellipses, white and black.
TARGETS = [(50, 52, 44), (85, 3, 9), (60, 0.4, -0.3), (50, 0, 0), (35, 25, -60), (100, 0, 0), (0, 0, 0), (40, -50, 20)]
BATCHES, RECORDS = studio.three_batches()
TARGET = studio.shade().target


def parsed(svg):
    return ElementTree.fromstring(svg)


def texts(svg):
    return [element.text for element in parsed(svg).iter(f"{SVG}text")]


def history_records(values):
    """Records whose L* lies this far above the target."""
    lab = np.array(TARGET)
    return [
        studio.with_lab(studio.record(i, batch=str(i), measured=f"2026-05-{i:02d}"), (lab[0] + value, lab[1], lab[2]))
        for i, value in enumerate(values, start=1)
    ]


# --- outlines -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("tolerance", [0.3, 1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("target", TARGETS)
def test_every_point_of_the_tolerance_is_as_far_from_the_target_as_it_says(target, tolerance):
    ab, lc = tolerance_in_ab(target, tolerance), tolerance_in_lc(target, tolerance)
    assert_allclose(delta_e_2000(ab, target), tolerance, rtol=0, atol=1e-9)
    assert_allclose(delta_e_2000(lc, target), tolerance, rtol=0, atol=1e-9)
    assert len(ab) == RAYS
    assert_allclose(ab[:, 0], target[0])


@pytest.mark.parametrize("target", [(50, 52, 44), (40, -50, 20), (35, 25, -60)])
def test_the_lc_outline_keeps_the_hue_and_closes(target):
    points = tolerance_in_lc(target, 2.0)
    assert len(points) == RAYS
    assert_allclose(lab_to_lch(points)[:, 2], lab_to_lch(target)[2], atol=1e-9)
    assert points[:, 0].min() < target[0] < points[:, 0].max()


def test_the_lc_outline_of_a_grey_is_open_at_the_grey_axis():
    points = chroma_plane(tolerance_in_lc((50, 0, 0), 2.0))
    assert 0.4 * RAYS < len(points) < 0.6 * RAYS
    assert abs(points[0, 1] - points[-1, 1]) > 3  # its ends lie above and below
    assert points[[0, -1], 0].max() < 0.1


def test_inside_the_outline_is_within_the_tolerance_and_outside_is_not():
    rim = tolerance_in_ab(TARGET, 1.5) - np.array(TARGET)
    assert (delta_e_2000(TARGET + 0.95 * rim, TARGET) < 1.5).all()
    assert (delta_e_2000(TARGET + 1.05 * rim, TARGET) > 1.5).all()


def test_a_tolerance_that_nothing_reaches_has_no_outline():
    # ΔL'/S_L of black stays below 2 / 0.015, eq. 8 of Sharma, Wu & Dalal 2005.
    assert len(tolerance_in_ab((50, 0, 0), 500.0)) == 0
    assert len(tolerance_in_lc((50, 0, 0), 500.0)) == 0


@pytest.mark.parametrize(
    ("ellipse", "place"), [(uncertainty_in_ab, lambda lab: lab[:, 1:]), (uncertainty_in_lc, chroma_plane)]
)
def test_uncertainty_ellipses_hold_95_of_100_draws(ellipse, place):
    covariance = np.array([[0.5, 0.1, 0.0], [0.1, 0.8, 0.3], [0.0, 0.3, 0.4]])
    ring = ellipse(TARGET, covariance)
    drawn = place(np.random.default_rng(7).multivariate_normal(TARGET, covariance, 20_000))
    way, edge = drawn - ring.mean(axis=0), ring - ring.mean(axis=0)
    turn, order = np.arctan2(way[:, 1], way[:, 0]), np.argsort(np.arctan2(edge[:, 1], edge[:, 0]))
    size = np.hypot(*edge[order].T)
    reach = np.interp(turn, np.arctan2(edge[order, 1], edge[order, 0]), size, period=2 * np.pi)
    assert np.mean(np.hypot(*way.T) < reach) == pytest.approx(0.95, abs=0.006)


# --- plots of colours ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("plot", [ab_plot, lc_plot])
def test_a_plot_says_what_it_shows(plot):
    root = parsed(plot(RECORDS, TARGET, 1.5))
    assert root.get("role") == "img"
    assert root.get("aria-label") == root.find(f"{SVG}title").text
    assert "7 records" in root.get("aria-label")
    assert "tolerance 1.5" in root.find(f"{SVG}desc").text


@pytest.mark.parametrize("plot", [ab_plot, lc_plot])
def test_every_state_and_the_target_are_in_the_legend(plot):
    found = texts(plot([*RECORDS, replace(RECORDS[0], number=8, state=State("rubbed"))], TARGET, 1.5))
    assert set(STATES) <= set(found)
    assert any(text.startswith("target") for text in found)
    assert {str(record.number) for record in RECORDS} <= set(found)


def test_each_state_has_a_shape_of_its_own():
    def shapes(state):
        root = parsed(ab_plot([replace(RECORDS[0], state=state)], None, 2.0))
        found = Counter(
            (e.tag, len(re.findall("[ML]", e.get("d", ""))), e.get("fill")) for e in root if e.get("fill") != "none"
        )
        return frozenset((key, count) for key, count in found.items() if key[0] != f"{SVG}text")

    assert len({shapes(State(name)) for name in STATES}) == len(STATES)


def test_a_plot_is_drawn_in_greys_alone():
    for colour in re.findall("#[0-9a-f]{6}", ab_plot(RECORDS, TARGET, 1.5)):
        assert colour[1:3] == colour[3:5] == colour[5:7]


@pytest.mark.parametrize("plot", [ab_plot, lc_plot])
@pytest.mark.parametrize("count", [0, 1, 200])
@pytest.mark.parametrize("target", [TARGET, None, (50.0, 0.0, 0.0)])
def test_any_number_of_records_can_be_drawn(plot, count, target):
    root = parsed(plot([replace(RECORDS[i % 7], number=i) for i in range(count)], target, 2.0))
    numbers = [value for e in root.iter(f"{SVG}path") for value in map(float, re.findall(r"-?\d+\.\d+", e.get("d")))]
    assert min(numbers) >= 0
    assert max(numbers) <= float(root.get("height"))


def test_a_colour_without_doubt_and_a_grey_can_be_drawn():
    zero = replace(RECORDS[0].colour.errors, parts={"noise": np.zeros((3, 3))})
    grey = replace(RECORDS[0], colour=replace(RECORDS[0].colour, lab=(50.0, 0.0, 0.0), errors=zero))
    assert "nan" not in ab_plot([grey], None, 2.0) + lc_plot([grey], None, 2.0)


# --- chips -----------------------------------------------------------------------------------------------


def test_a_chip_has_the_colour_of_the_screen():
    # IEC 61966-2-1: white is 255 255 255 whatever the light, for a screen adapts.
    assert screen_colour((100.0, 0.0, 0.0)) == ("#ffffff", True)
    assert screen_colour((0.0, 0.0, 0.0), "D50", 2) == ("#000000", True)
    assert screen_colour((50.0, 52.0, 44.0))[0] in chip((50.0, 52.0, 44.0), "x")


def test_what_a_screen_cannot_show_has_its_corner_cut_and_says_so():
    inside, outside = chip((50.0, 20.0, 10.0), "pale"), chip((60.0, 110.0, 90.0), "vivid")
    assert [parsed(svg).find(f"{SVG}path").get("d").count("L") for svg in (inside, outside)] == [3, 4]
    assert "more vivid than a screen shows" in outside
    assert "more vivid" not in inside


@pytest.mark.parametrize("name", studio.HOSTILE)
def test_names_cannot_break_out_of_a_drawing(name):
    root = parsed(chip((50.0, 20.0, 10.0), f"{name}\0\x1b\n"))
    assert " ".join(name.split()) in root.get("aria-label")
    assert [element.tag for element in root] == [f"{SVG}title", f"{SVG}desc", f"{SVG}path"]


# --- histories ----------------------------------------------------------------------------------------------


def test_a_history_follows_the_state_with_most_records_of_measured_cards():
    for found, way in zip(series(RECORDS, TARGET, State("heat-set")), ("ΔL*", "ΔC*", "ΔH*"), strict=True):
        assert found.name == f"{way} from the target, heat-set"  # of two states with as many records the later
        assert found.labels == ("3", "6")
    assert series(RECORDS, TARGET)[0].name == "ΔL* from the target (state not said), heat-set"
    lightness = series(RECORDS, TARGET)[0].chart.values
    assert_allclose(lightness, [RECORDS[i].colour.lab[0] - TARGET[0] for i in (2, 5)])


def test_without_a_target_a_history_starts_from_the_first_record():
    found = series(RECORDS, None)
    assert found[0].name == "ΔL* from record 3, heat-set"
    assert found[0].chart.values[0] == 0


def test_too_few_records_make_no_history():
    assert series([], TARGET) == series(RECORDS[:1], TARGET) == series(RECORDS[-1:], None) == ()


def test_records_for_another_light_are_left_out_of_a_history():
    other = replace(RECORDS[4], colour=replace(RECORDS[4].colour, illuminant="D50", observer=2))
    assert series([RECORDS[1], other], TARGET) == ()


def test_a_chart_rings_each_signal_and_says_its_number():
    records = history_records([0.1, -0.1, 0.05, 0.0, 0.1, -0.05, 0.0, 3.0, 0.1, 0.0, -0.1, 0.05])
    history = series(records, TARGET)[0]
    where = {(signal.of_ranges, signal.index) for signal in history.chart.signals}
    assert {(False, 7), (True, 7), (True, 8)} <= where
    svg = history_chart(history)
    root = parsed(svg)
    assert [circle.get("r") for circle in root.iter(f"{SVG}circle")].count("7") == len(where)
    assert "no. 8" in texts(svg)
    assert "Point 8 lies above the upper limit." in root.find(f"{SVG}desc").text
    assert sum(text.startswith("upper limit") for text in texts(svg)) == 2


@pytest.mark.parametrize("count", [2, 5, 200])
def test_charts_of_any_length_stay_inside(count):
    records = [replace(RECORDS[4 * (i % 2)], number=i, batch=str(i), state=State("wet")) for i in range(1, count + 1)]
    root = parsed(history_chart(series(records, TARGET)[0]))
    assert len(list(root.iter(f"{SVG}circle"))) >= 2 * count - 1
    at = [(float(c.get("cx")), float(c.get("cy"))) for c in root.iter(f"{SVG}circle")]
    assert all(0 < x < float(root.get("width")) and 0 < y < float(root.get("height")) for x, y in at)


def test_few_points_have_no_limits_and_say_so():
    svg = history_chart(series(history_records([0.1, 0.2]), TARGET)[0])
    assert "too few for limits" in svg
    assert not any("limit" in text for text in texts(svg))


# --- shapes -------------------------------------------------------------------------------------------------


def test_a_frame_turns_values_into_places():
    frame = Frame(10, 20, 100, 50, (0, 4), (-1, 1))
    assert frame.at(0, -1) == (10, 70)
    assert frame.at(4, 1) == (110, 20)
    assert frame.at(2, 0) == (60, 45)


@pytest.mark.parametrize(("low", "high"), [(0, 1), (-3.2, 4.1), (49.99, 50.01), (0, 1000), (-0.0001, 0.0001)])
def test_ticks_are_round_and_inside(low, high):
    found = ticks(low, high)
    assert 2 <= len(found) <= 8
    assert low - 1e-9 <= found[0] < found[-1] <= high + 1e-9
    step = found[1] - found[0]
    assert round(step / 10 ** np.floor(np.log10(step * 1.001)), 6) in (1, 2, 5)


def test_labels_never_cover_each_other_and_give_way():
    labels = Labels([])
    found = [labels.beside((50, 50), "12345") for _ in range(6)]
    assert all(found[:2])
    assert found[-1] == ""
    assert len(set(filter(None, found))) == len(list(filter(None, found)))


def test_words_are_escaped():
    assert "&lt;b&gt; &amp;" in words((0, 0), "<b> &")
    assert parsed(drawing(1, 1, 'a "b" <c>', "", [])).get("aria-label") == 'a "b" <c>'
