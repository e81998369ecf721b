"""Drawings of proposals show what the dicts say, where they say it, without colour too, and nothing is cut off."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.report.plots.colour_plots import screen_colour
from swatchcam.report.plots.mixing_plots import chip_row, distance_bar, lab_of, prediction_plot
from swatchcam.report.plots.pigment_plots import strength_plot
from swatchcam.report.plots.prediction_plots import prediction_check_plot
from swatchcam.report.plots.svg import INK, SIZE
from tests.worlds import mixing_facts as mixfacts
from tests.worlds import studio_records as studio

SVG = "{http://www.w3.org/2000/svg}"
ANSWERS = mixfacts.answers()
LEAVE = ANSWERS["correction"] | {"leave_it": True}
MIXES = {kind: (facts["choices"] or [facts["pot"]])[0] for kind, facts in ANSWERS.items()}
GREY_DRAWINGS = {
    **{f"predicted {kind}": prediction_plot(facts) for kind, facts in ANSWERS.items()},
    **{f"bar {kind}": distance_bar(mix) for kind, mix in MIXES.items()},
    **{f"{count} predictions": prediction_check_plot(mixfacts.prediction_check_facts(count)) for count in (0, 1, 6)},
}
DRAWINGS = GREY_DRAWINGS | {
    **{f"row {kind}": chip_row(facts) for kind, facts in ANSWERS.items()},
    "row leave": chip_row(LEAVE),
    "strength": strength_plot(mixfacts.pigment_facts()),
    "nothing measured": strength_plot(mixfacts.pigment_facts() | {"measured": []}),
}
every_drawing = pytest.mark.parametrize("svg", DRAWINGS.values(), ids=DRAWINGS)


def parsed(svg):
    return ElementTree.fromstring(svg)


def texts(svg):
    return [element.text for element in parsed(svg).iter(f"{SVG}text")]


def told(svg):
    return parsed(svg).find(f"{SVG}desc").text


def discs(svg, *, filled):
    """Places of the round marks."""
    fill = INK if filled else "#ffffff"
    return [(float(e.get("cx")), float(e.get("cy"))) for e in parsed(svg).iter(f"{SVG}circle") if e.get("fill") == fill]


def corners(element):
    return np.array([[float(v) for v in pair] for pair in re.findall(r"(-?[\d.]+),(-?[\d.]+)", element.get("d"))])


# --- all of them --------------------------------------------------------------------------------------------


@every_drawing
def test_a_drawing_is_whole_and_has_words_for_those_who_do_not_see_it(svg):
    root = parsed(svg)
    assert root.get("role") == "img"
    assert root.get("aria-label") == root.find(f"{SVG}title").text
    assert told(svg)
    assert "nan" not in svg


@every_drawing
def test_nothing_is_cut_off(svg):
    root = parsed(svg)
    width, height = float(root.get("width")), float(root.get("height"))
    for text in root.findall(f"{SVG}text"):
        if text.get("transform"):
            continue
        # Half its size is about how wide a letter is in the narrow faces that stand in for any sans-serif.
        wide, x = 0.5 * SIZE * len(text.text), float(text.get("x"))
        left = x - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor")]
        assert left >= 0, text.text
        assert left + wide <= width, text.text
        assert SIZE <= float(text.get("y")) + 0.1 * SIZE <= height, text.text
    for shape in root.findall(f"{SVG}path"):
        points = corners(shape)
        assert points.min() >= 0
        assert (points <= [width, height]).all()


@pytest.mark.parametrize("svg", GREY_DRAWINGS.values(), ids=GREY_DRAWINGS)
def test_a_drawing_without_chips_is_in_greys_alone(svg):
    codes = re.findall("#[0-9a-f]{6}", svg)
    assert codes
    assert all(code[1:3] == code[3:5] == code[5:7] for code in codes)


@pytest.mark.parametrize("name", [studio.HOSTILE[0], studio.HOSTILE[1], studio.HOSTILE[-1]])
def test_names_cannot_break_out_of_a_drawing(name):
    for drawn, draw, facts in (
        ("6 predictions", prediction_check_plot, mixfacts.prediction_check_facts()),
        ("strength", strength_plot, mixfacts.pigment_facts()),
    ):
        root = parsed(draw(mixfacts.renamed(facts, f"{name}\0\x1b")))
        assert [element.tag for element in root.iter()] == [element.tag for element in parsed(DRAWINGS[drawn]).iter()]
        assert name in root.get("aria-label") + root.find(f"{SVG}desc").text


# --- chips and the bar -----------------------------------------------------------------------------------


def test_chips_are_of_the_target_the_pot_and_what_is_predicted_in_this_order():
    facts = ANSWERS["correction"]
    seen = [facts["target"], facts["pot"]["predicted"], facts["choices"][0]["predicted"]]
    codes = re.findall("<desc>Screen colour (#.{6})", chip_row(facts))
    assert codes == [screen_colour(lab_of(colour))[0] for colour in seen]
    assert texts(chip_row(facts)) == ["target", "pot now", "predicted"]
    assert texts(chip_row(ANSWERS["recipe"])) == ["target", "predicted"]


def test_a_pot_that_is_left_as_it_is_has_no_predicted_chip():
    assert texts(chip_row(LEAVE)) == ["target", "pot now"]


def test_the_chip_predicted_is_that_of_the_choice_that_is_weighed():
    facts = ANSWERS["correction"]
    second = screen_colour(lab_of(facts["choices"][1]["predicted"]))[0]
    assert re.findall("<desc>Screen colour (#.{6})", chip_row(facts, 2))[-1] == second


@pytest.mark.parametrize("tolerance", [0.5, 2.0, 7.0])
@pytest.mark.parametrize("mix", MIXES.values(), ids=MIXES)
def test_the_bar_lies_where_the_axis_says(mix, tolerance):
    svg = distance_bar(mix, tolerance)
    ticks = {float(e.text): float(e.get("x")) for e in parsed(svg).iter(f"{SVG}text") if e.get("fill") != INK}
    (zero, start), (one, end) = min(ticks.items()), max(ticks.items())
    (box,) = [e for e in parsed(svg).iter(f"{SVG}path") if e.get("fill") != "none"]
    values = (corners(box)[:2, 0] - start) / (end - start) * (one - zero) + zero
    assert_allclose(values, mix["interval95"], atol=0.01 * one)
    (dashed,) = [e for e in parsed(svg).iter(f"{SVG}path") if e.get("stroke-dasharray")]
    assert (corners(dashed)[0, 0] - start) / (end - start) * (one - zero) == pytest.approx(tolerance, abs=0.01 * one)


# --- where the colours lie ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ANSWERS)
def test_each_choice_is_marked_in_both_planes_and_the_one_taken_by_its_shape(kind):
    facts, svg = ANSWERS[kind], prediction_plot(ANSWERS[kind])
    count = len(facts["choices"])
    others = max(count - 1, 0)
    assert len(discs(svg, filled=True)) == 3 * bool(count)  # both planes and the legend
    assert len(discs(svg, filled=False)) == 2 * others + bool(others)
    assert ("the pot now" in texts(svg)) == bool(facts["pot"])
    for place, choice in enumerate(facts["choices"], start=1):
        assert f"choice {place} L* {choice['predicted']['L']:.1f}" in " ".join(told(svg).split())


def test_another_choice_can_be_the_one_taken():
    facts = ANSWERS["correction"]
    first, second = discs(prediction_plot(facts), filled=True), discs(prediction_plot(facts, number=2), filled=True)
    assert first[:2] == discs(prediction_plot(facts, number=2), filled=False)[:2]
    assert second[:2] == discs(prediction_plot(facts), filled=False)[:2]
    assert "choice 2" in texts(prediction_plot(facts, number=2))


def test_choices_in_one_place_share_their_number():
    facts = ANSWERS["recipe"]
    thrice = facts | {"choices": facts["choices"][:1] * 3}
    assert texts(prediction_plot(thrice)).count("1, 2, 3") == 2


def test_a_grey_and_a_colour_without_doubt_can_be_drawn():
    grey = {"L": 50.0, "a": 0.0, "b": 0.0, "interval95_ciede2000": 0.0}
    choice = ANSWERS["recipe"]["choices"][0] | {"predicted": grey}
    svg = prediction_plot(ANSWERS["recipe"] | {"target": grey, "choices": [choice]})
    assert "nan" not in svg
    assert len(discs(svg, filled=True)) == 3


def test_where_nothing_can_be_done_the_target_is_drawn_alone():
    svg = prediction_plot(ANSWERS["recipe"] | {"choices": []})
    assert not discs(svg, filled=True)
    assert "0 choices" in parsed(svg).get("aria-label")


# --- strength -----------------------------------------------------------------------------------------------


def test_equal_factors_of_load_are_equally_far_apart():
    svg = strength_plot(mixfacts.pigment_facts() | {"measured": []})
    left = {e.text: float(e.get("x")) for e in reversed(parsed(svg).findall(f"{SVG}text")) if e.get("fill") != INK}
    assert left["0.5"] - left["0.05"] == pytest.approx(left["5"] - left["0.5"], abs=0.02)
    assert (left["0.1"] - left["0.05"]) / (left["0.5"] - left["0.05"]) == pytest.approx(math.log10(2), abs=1e-3)


def test_every_strip_is_marked_in_both_panels_and_told():
    facts = mixfacts.pigment_facts()
    svg = strength_plot(facts)
    assert len(discs(svg, filled=True)) == 2 * len(facts["measured"]) + 1
    assert len(re.findall("<desc>Screen colour", svg)) == len(facts["curve"])
    assert "Measured: nothing." in told(DRAWINGS["nothing measured"])
    for strip in facts["curve"]:
        assert f"{strip['percent']:g} %" in texts(svg)


def test_the_band_reaches_as_far_in_lightness_as_the_radius_says():
    facts = mixfacts.pigment_facts()
    left = parsed(strength_plot(facts | {"measured": []}))
    band = corners(next(e for e in left.findall(f"{SVG}path") if "fill-opacity" in e.attrib))
    count = len(facts["curve"])
    assert len(band) == 2 * count
    ticks = [e for e in left.findall(f"{SVG}text") if e.get("text-anchor") == "end" and float(e.get("x")) < 62]
    (one, here), *_, (other, there) = [(float(e.text), float(e.get("y"))) for e in ticks]
    scale = (there - here) / (other - one)
    upper, lower = band[:count, 1], band[count:, 1][::-1]
    for strip, top, bottom in zip(facts["curve"], upper, lower, strict=True):
        lab = np.array(lab_of(strip))
        half = np.array([(bottom - top) / -scale / 2, 0.0, 0.0])
        assert delta_e_2000(lab + half, lab) == pytest.approx(strip["interval95_ciede2000"], rel=0.03)


# --- predictions ---------------------------------------------------------------------------------------------------


def test_what_held_and_what_did_not_differ_by_shape():
    facts = mixfacts.prediction_check_facts()
    svg = prediction_check_plot(facts)
    assert [each["held"] for each in facts["proposals"]].count(False) == 2
    crosses = [e for e in parsed(svg).iter(f"{SVG}path") if e.get("stroke-width") == "2.2"]
    assert len(crosses) == 2 * (3 * 2 + 1)  # strokes, in three panels and the legend
    assert len(discs(svg, filled=True)) == 3 * 4 + 1


def test_a_miss_is_drawn_as_high_as_it_is():
    facts = mixfacts.prediction_check_facts()
    svg = prediction_check_plot(facts)
    held = [each["miss_ciede2000"] for each in facts["proposals"] if each["held"]]
    heights = [y for _, y in discs(svg, filled=True)[: len(held)]]
    assert_allclose(np.polyval(np.polyfit(held, heights, 1), held), heights, atol=0.05)
    assert heights[0] < heights[-1]  # 0.13 lies above 0.04


def test_arrows_lead_from_what_was_predicted_to_what_was_measured():
    arrows = [
        corners(e)
        for e in parsed(prediction_check_plot(mixfacts.prediction_check_facts())).iter(f"{SVG}path")
        if "Z" not in e.get("d")
    ]
    last = [line for line, wings in pairwise(arrows) if len(wings) == 3][-1]
    assert last[1, 0] < last[0, 0] - 20  # the last proposal came out far less red than was predicted
    assert last[1, 1] == pytest.approx(last[0, 1], abs=0.1)  # and no bluer


def test_nobody_is_told_of_predictions_where_nothing_was_measured():
    assert told(prediction_check_plot(mixfacts.prediction_check_facts(0))) == "None was measured yet."
