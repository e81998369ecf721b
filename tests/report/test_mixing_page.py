"""The sheet for the mixing table is whole, safe and short, and what is to be weighed stands on it in full."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.messages.message import flag
from swatchcam.report.mixing_page import mix_page, pigment_page, prediction_check_page
from swatchcam.report.mixing_text import OLD_POT, answer_text, flattening
from swatchcam.report.plots.mixing_plots import lab_of
from swatchcam.report.said import flag_dicts
from swatchcam.text import tidy
from tests.report.html_reader import Read
from tests.worlds import mixing_facts as mixfacts
from tests.worlds import studio_records as studio

MADE = "2026-04-01"
ANSWERS = mixfacts.answers()
CORRECTION = ANSWERS["correction"]
HOSTILE = [f"{name}\u202e\0\x1b" for name in studio.HOSTILE]
PAGES = {
    **{kind: mix_page(facts, MADE) for kind, facts in ANSWERS.items()},
    "second choice": mix_page(CORRECTION, MADE, 2),
    "rather not": mix_page(CORRECTION | {"leave_it": True, "leave_why": "you would not see the difference"}, MADE),
    "pigment": pigment_page(mixfacts.pigment_facts(), MADE),
    **{f"{count} predictions": prediction_check_page(mixfacts.prediction_check_facts(count), MADE) for count in (0, 6)},
    "hostile": mix_page(mixfacts.renamed(ANSWERS["thinning"], HOSTILE[0]), MADE),
    "hostile pigment": pigment_page(mixfacts.renamed(mixfacts.pigment_facts(), HOSTILE[1]), MADE),
    "hostile predictions": prediction_check_page(mixfacts.renamed(mixfacts.prediction_check_facts(), HOSTILE[2]), MADE),
}
every_page = pytest.mark.parametrize("html", PAGES.values(), ids=PAGES)


read = cache(Read)  # many tests look at the same page


def words_of(kind):
    return read(PAGES[kind]).text


# --- structure ----------------------------------------------------------------------------------------------


@every_page
def test_a_page_is_whole_and_says_its_language_and_name(html):
    page = read(html)
    assert page.faults == []
    assert html.startswith("<!DOCTYPE html>")
    assert page.all("html")[0][0]["lang"] == "en"
    assert [words for attrs, words in page.all("title") if words == page.all("h1")[0][1]]
    levels = [int(tag[1]) for tag, _, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


@every_page
def test_tables_have_headers_with_scope_and_rows_of_one_width(html):
    assert all(attrs.get("scope") in ("col", "row") for attrs, _ in read(html).all("th"))
    for table in re.findall("<table.*?</table>", html, re.DOTALL):
        rows = [len(re.findall("<t[hd][ >]", row)) for row in re.findall("<tr>.*?</tr>", table, re.DOTALL)]
        assert len(set(rows)) == 1
        assert "<caption" in table


@every_page
def test_nothing_comes_from_outside_and_nothing_runs(html):
    page = read(html)
    assert not {tag for tag, _, _ in page.elements} & {"script", "link", "iframe", "object", "embed", "form", "base"}
    assert not [name for _, attrs, _ in page.elements for name in attrs if name.startswith("on") or name == "href"]
    assert "url(" not in html
    assert "@import" not in html
    assert all(attrs["role"] == "img" and attrs["aria-label"] for attrs, _ in page.all("svg"))
    assert "size: A4" in html


@every_page
def test_what_turns_or_hides_letters_is_not_shown(html):
    assert not set("\u202e\0\x1b") & set(html)


USUAL = [
    tag
    for tag, _, _ in read(
        prediction_check_page(mixfacts.renamed(mixfacts.prediction_check_facts(1), "x"), MADE)
    ).elements
]


@settings(max_examples=15, deadline=None)
@given(st.text(min_size=1))
def test_no_name_changes_what_a_page_is_made_of(name):
    page = read(prediction_check_page(mixfacts.renamed(mixfacts.prediction_check_facts(1), f"x{name}"), MADE))
    assert page.faults == []
    assert [tag for tag, _, _ in page.elements] == USUAL
    assert tidy(f"x{name}") in page.text


@pytest.mark.parametrize("name", studio.HOSTILE)
def test_a_hostile_name_is_shown_letter_by_letter(name):
    page = read(mix_page(mixfacts.renamed(CORRECTION, name), MADE))
    assert page.faults == []
    assert page.all("h1")[0][1] == f"Correcting this pot towards {tidy(name)}"
    assert [words for attrs, words in page.all("th") if attrs.get("class") == "what" and words.startswith(tidy(name))]


# --- the sheet ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["recipe", "correction", "thinning", "far", "second choice"])
def test_everything_that_is_weighed_has_its_grams_and_a_box_to_tick(kind):
    (weighing,) = ANSWERS.get(kind, CORRECTION)["weighing"]
    page = read(PAGES[kind])
    boxes = [attrs for attrs, _ in page.all("span") if attrs.get("class") == "box"]
    assert len(boxes) == len(weighing["steps"])
    grams = amounts_in(page)
    names = [words for attrs, words in page.all("th") if attrs.get("class") == "what"]
    steps = [step for step in weighing["steps"] if step["grams"]]
    assert [float(each.removesuffix(" g")) for each in grams] == [step["grams"] for step in steps]
    assert len({len(each.partition(".")[2]) for each in grams}) == 1  # the points stand one below the other
    assert names == [step["what"] + step["words"] for step in steps]
    assert all(step["words"] in page.text for step in weighing["steps"])
    assert "measure it before you print" in page.text


def amounts_in(page):
    return [words for attrs, words in page.all("td") if attrs.get("class") == "grams"]


def test_what_to_weigh_is_said_first_and_what_the_tools_cost():
    facts = mixfacts.in_a_kitchen(ANSWERS["recipe"])
    page = read(mix_page(facts, MADE))
    (loud,) = [words.replace("\xa0", " ") for attrs, words in page.all("p") if attrs.get("class") == "loud"]
    assert loud == "Weigh 48 g of clear base, 6 drops of yellow and 4 g of the red 10 % pre-mix."
    text = page.text
    assert "With your scale and drops it lands about 0.4 further off on average." in text
    names = [words for attrs, words in page.all("th") if attrs.get("class") == "what"]
    wanted = ["Make the red 10 % pre-mix", "clear base", "yellow", "red 10 % pre-mix"]
    assert [words[: len(name)] for words, name in zip(names, wanted, strict=True)] == wanted
    assert amounts_in(page) == ["", "48 g", "6 drops", "4 g"]
    helps = flag("tools-coarse", cost=2.4, step=1.0, grams=50.0, finer=0.1, helps=["finer-scale"], larger=150.0)
    coarse = read(mix_page(facts | {"flags": flag_dicts([helps])}, MADE)).text
    assert coarse.count("What would help: a scale with steps of 0.1 g") == 1
    assert coarse.index("What would help") < coarse.index("tick each one")
    assert "it lands about" not in coarse
    assert "Add 2.55 g of yellow" in words_of("correction").replace("\xa0", " ")
    assert "Make a fresh pot: 320.00 g of clear base" in words_of("thinning").replace("\xa0", " ")


def test_what_is_left_of_an_old_pot_goes_in_first_with_a_box_of_its_own():
    page = read(PAGES["again"])
    names = [words for attrs, words in page.all("th") if attrs.get("class") == "what"]
    assert names[0].startswith("left of batch B3Mixed 2026-02-03, ")
    assert OLD_POT in names[0]
    grams = [float(words.removesuffix(" g")) for words in amounts_in(page)]
    assert grams[0] == 80
    assert sum(grams) == pytest.approx(ANSWERS["again"]["choices"][0]["pot_grams"], abs=0.01)
    assert "left of batch" not in words_of("recipe")


def test_a_sheet_says_the_distance_and_how_sure_it_is():
    choice = CORRECTION["choices"][0]
    low, high = choice["interval95"]
    assert f"Predicted: {choice['ciede2000_from_target']:.1f} ({low:.1f} to {high:.1f})" in words_of("correction")
    pot = CORRECTION["pot"]
    assert f"300 g: {pot['ciede2000_from_target']:.1f} (" in words_of("correction")


def test_a_target_that_was_measured_may_lie_elsewhere_than_it_is_drawn():
    facts = ANSWERS["again"]
    choice = facts["choices"][0]
    drawn = float(delta_e_2000(lab_of(choice["predicted"]), lab_of(facts["target"])))
    assert abs(drawn - choice["ciede2000_from_target"]) > 0.1
    assert "shows the target as it was measured" in words_of("again")
    assert "shows the target as it was measured" not in words_of("recipe")


def test_a_step_is_told_to_be_one_with_its_chances():
    choice = CORRECTION["choices"][0] | {"part_of_the_way": 0.7}
    text = read(mix_page(CORRECTION | {"choices": [choice]}, MADE)).text
    assert f"This takes you {100 * choice['part_of_the_way']:.0f} % of the way: measure again" in text
    assert choice["words"][0] in text
    assert "that the pot comes nearer" in choice["words"][0]
    assert "of the way" not in words_of("recipe")
    assert "Add to the 300 g in the pot" in text


def test_a_pot_that_is_good_enough_is_left_as_it_is():
    assert ANSWERS["left"]["leave_it"]
    for kind in ("left", "rather not"):
        assert "Leave it: you would not see the difference." in words_of(kind)
        assert "weighed, g" not in words_of(kind)
    assert all(f"{choice['pot_grams']:g} g" in words_of("rather not") for choice in CORRECTION["choices"])


def test_both_roads_to_a_thinner_pot_stand_side_by_side():
    roads = ANSWERS["thinning"]["choices"][0]["roads"]
    fresh, topped = [words for attrs, words in read(PAGES["thinning"]).all("table") if "strong ink" in words][1:3]
    for road, told in ((roads["fresh_pot"], fresh), (roads["topping_up"], topped)):
        for grams in ("strong_ink_grams", "binder_grams", "left_over_grams"):
            assert f"{road[grams]:g} g" in told
    assert roads["sentence"] in words_of("thinning")


def test_out_of_reach_is_loud_and_says_what_it_would_need():
    reach = ANSWERS["far"]["reach"]
    assert not reach["hit"]
    assert f"Out of reach: the nearest you can get is {reach['ciede2000_of_the_nearest']:.1f}" in words_of("far")
    assert reach["needs"][0]["sentence"] in words_of("far")
    assert "Out of reach" not in words_of("recipe")


def test_the_other_choices_are_all_but_the_one_that_is_weighed():
    def numbers(kind):
        return [words for attrs, words in read(PAGES[kind]).all("th") if attrs["scope"] == "row" and words.isdigit()]

    every = [str(place) for place in range(1, len(CORRECTION["choices"]) + 1)]
    assert len(every) > 1
    assert numbers("correction") == every[1:]
    assert numbers("second choice") == [every[0], *every[2:]]
    assert numbers("rather not") == every


def test_flags_care_and_the_batch_that_is_kept_are_on_the_sheet():
    kept = {"proposal": 7, "shade": "Mohnrot", "batch": "3.1"}
    facts = CORRECTION | {
        "flags": flag_dicts([flag("no-test-series", pigments=["red"], enough=4)]),
        "kept": kept,
    }
    text = read(mix_page(facts, MADE)).text
    assert "! no test series yet for red: make one of 4 strips or more of each" in text
    assert "batch 3.1 of Mohnrot" in text
    assert all(line in text for line in facts["care"])
    assert "batch 3.1" not in words_of("correction")


def test_sheet_and_terminal_say_the_same():
    for kind in ("recipe", "correction", "thinning", "again", "far"):
        told = answer_text(ANSWERS[kind])
        (weighing,) = ANSWERS[kind]["weighing"]
        for sentence in [*ANSWERS[kind]["care"], *(step["words"] for step in weighing["steps"])]:
            assert sentence in told
            assert sentence in words_of(kind)
        assert read(PAGES[kind]).all("h1")[0][1].lower() == told.partition(":")[0].lower()


# --- pigments and predictions --------------------------------------------------------------------------------------


def test_a_pigment_page_tells_every_strip_and_the_shelf():
    facts = mixfacts.pigment_facts()
    page = read(PAGES["pigment"])
    rows = [words for attrs, words in page.all("th") if attrs["scope"] == "row"]
    assert len(rows) == len(facts["curve"]) + len(facts["measured"])
    assert flattening(facts) in page.text
    assert all(strip["name"] in page.text for strip in facts["measured"])
    for words in ("6 %", "0.05 g", "11.50", "Stir well.", "Lot R-2", "0.90 times as strong"):
        assert words in page.text
    bare = pigment_page(
        facts | {"most_percent": None, "least_g": None, "price_per_100g": None, "notes": "", "lots": []}, MADE
    )
    assert "On the shelf" not in read(bare).text


def test_a_page_of_hits_tells_each_of_them_in_words():
    facts = mixfacts.prediction_check_facts()
    page = read(PAGES["6 predictions"])
    rows = [words for _, words in page.all("tr")][1:]
    assert [("not held" in row) for row in rows] == [not each["held"] for each in facts["proposals"]]
    assert facts["sentence"] in page.text
    assert all(f"{each['miss_ciede2000']:.1f}" in row for each, row in zip(facts["proposals"], rows, strict=True))


def test_no_predictions_are_told_in_one_sentence():
    assert "No proposal has been measured yet." in words_of("0 predictions")
    assert not read(PAGES["0 predictions"]).all("svg", "table")
