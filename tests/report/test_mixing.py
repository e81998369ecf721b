"""What was proposed, for programs and in words: every number is there, finite, and the same in both."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from swatchcam.errors import UsageError
from swatchcam.library.records import DRY, parse_state
from swatchcam.library.shelf.pigments import Lot, Pigment
from swatchcam.messages.message import SAID_BEFORE, Flag, flag
from swatchcam.messages.mixing import film_words, odds, odds_words
from swatchcam.messages.surface import TERMINAL
from swatchcam.mixing.order import Order
from swatchcam.mixing.pot_correction import Help, Means
from swatchcam.mixing.prediction_check import prediction_rate
from swatchcam.mixing.recommend import again, correction_for, recipe_for
from swatchcam.mixing.requests import Answer
from swatchcam.mixing.search import Target
from swatchcam.mixing.thinning_choices import thinning_for
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.dosing import weighed_dose
from swatchcam.recipes.safety import DISPOSAL, FIXER, HEAT, INK, LINES, POWDER, WHITE, subjects_of
from swatchcam.report import mixing, mixing_text
from swatchcam.report.mixing_parts import dose_words
from swatchcam.report.said import flag_dicts
from swatchcam.text import key
from tests.worlds import studio_records
from tests.worlds.inkworld import made_by
from tests.worlds.mixing_library import CLOTH, INKS, pot_of, studio
from tests.worlds.studio_records import HOSTILE, batch, record

WEAK = flag("no-clear-base-strip")

ORANGE = {"red": 1.0, "yellow": 1.0}
ORDER = Order(400, 0.01, ("red", "yellow"))
RED = Pigment("Red", 6.0, 0.05, 11.5, "Stir well.", (Lot("R-2", "2020-01-01", 1.0, 0.02),))
PLAIN = Pigment("yellow", None, None, 4.0, "", ())
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")


@pytest.fixture(scope="module")
def bench():
    """The studio with a pot of orange drawn down, two pigments on its shelf, and something to flag."""
    known_strips = (*studio()[1], studio()[0].known_strip(ORANGE, 900))
    names = {name: name for name in INKS} | {"red": "Red"}
    return Bench(CLOTH, DRY, known_strips, {"red": RED, "yellow": PLAIN}, names, True, (WEAK,))


@pytest.fixture(scope="module")
def answers(bench):
    """One answer of each kind."""

    def wanted(**shares):
        return made_by(bench.palette, shares)

    def told_of(proposed, **more):
        return Answer(proposed, bench, None, **more)

    old = batch(3, name="3", mixed=(date.today() - timedelta(days=40)).isoformat(), recipe=pot_of(ORANGE))
    pot, strip = pot_of(ORANGE), studio()[0].kept({"red": 0.8, "yellow": 0.8}, 910)
    measured = Target(strip.lab, "wanted.jpg:left", strip, strip.reflectance)
    return {
        "recipe": told_of(recipe_for(bench, measured, ORDER)),
        "far": told_of(recipe_for(bench, Target((60.0, -60.0, 40.0), "a leaf"), ORDER)),
        "correction": told_of(
            correction_for(bench, wanted(red=1.4, yellow=1.6), pot, ORDER), pot=old, records=(record(17),)
        ),
        "left": told_of(correction_for(bench, wanted(red=1.01, yellow=1.0), pot, ORDER), pot=old),
        "thinning": told_of(thinning_for(bench, wanted(red=0.5, yellow=0.5), pot, ORDER, 300), pot=old),
        "again": told_of(
            again(bench, wanted(red=1.1, yellow=1.1), pot, ORDER, [(pot, 150.0, "")]), pot=old, rests=((old, 150.0),)
        ),
    }


KINDS = "recipe", "far", "correction", "left", "thinning", "again"


def facts_of(answers, kind):
    return mixing.answer_dict(answers[kind], ORDER)


def leaves(facts):
    if isinstance(facts, dict):
        for each in facts.values():
            yield from leaves(each)
    elif isinstance(facts, list):
        for each in facts:
            yield from leaves(each)
    else:
        yield facts


def check_plain(facts):
    """Nothing but what JSON knows, and no number that is none."""
    assert json.loads(json.dumps(facts, allow_nan=False)) == facts
    for leaf in leaves(facts):
        assert leaf is None or isinstance(leaf, (str, int, float, bool))
        assert not isinstance(leaf, float) or math.isfinite(leaf)


def numbers_in(text):
    return [float(number) for number in NUMBER.findall(text)]


def said(text, value, decimals):
    """Whether a number stands in the text, rounded to so many decimals."""
    return any(abs(number - value) <= 0.5000001 * 10**-decimals for number in numbers_in(text))


# --- for programs ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_an_answer_is_plain_json(answers, kind):
    facts = facts_of(answers, kind)
    check_plain(facts)
    assert (facts["cloth"], facts["state"], facts["known_strips"]) == (CLOTH, "air-dried", 14)
    assert facts["flags"] == flag_dicts([WEAK])
    marks = [choice["recommended"] for choice in facts["choices"]]
    assert marks == [place == 0 for place in range(len(marks))]
    for choice in facts["choices"]:
        low, high = choice["interval95"]
        assert 0 <= low <= choice["ciede2000_from_target"] + 0.01 <= high + 0.02
        assert choice["pot_grams"] == pytest.approx(sum(part["grams"] for part in choice["pot"]), abs=0.002)
        assert re.fullmatch("#[0-9a-f]{6}", choice["predicted"]["srgb_approx"])


def test_what_is_weighed_is_what_is_put_in(answers):
    for kind in ("recipe", "correction", "again"):
        facts = facts_of(answers, kind)
        (weighing,) = facts["weighing"]
        weighed = {step["what"]: step["grams"] for step in weighing["steps"] if step["what"]}
        assert weighed == pytest.approx({part["what"]: part["grams"] for part in facts["choices"][0]["put_in"]})


def test_of_a_thinner_pot_the_strong_ink_is_weighed_too(answers):
    facts = facts_of(answers, "thinning")
    fresh = facts["choices"][0]["roads"]["fresh_pot"]
    weighed = {step["what"]: step["grams"] for step in facts["weighing"][0]["steps"] if step["what"]}
    assert weighed["batch 3"] == pytest.approx(fresh["strong_ink_grams"])
    assert weighed["clear base"] == pytest.approx(fresh["binder_grams"])


def test_the_pot_in_hand_is_there_where_there_is_one(answers):
    pot = facts_of(answers, "correction")["pot"]
    assert (pot["batch"], pot["record"], pot["grams"]) == ("3", 17, 400)
    assert facts_of(answers, "recipe")["pot"] is None
    assert facts_of(answers, "left")["pot"]["record"] is None


def test_old_pots_are_named_with_their_age(answers):
    (rest,) = facts_of(answers, "again")["rests"]
    assert (rest["batch"], rest["grams"], rest["days_old"]) == ("3", 150.0, 40)
    undated = replace(answers["again"], rests=((batch(4, name="4", mixed=""), 20.0),))
    assert mixing.answer_dict(undated, ORDER)["rests"][0]["days_old"] is None


def test_the_choice_that_was_asked_for_is_weighed(answers):
    facts = facts_of(answers, "far")
    number = len(facts["choices"])
    assert number >= 1
    other = mixing.answer_dict(answers["far"], ORDER, None, number)
    weighed = {step["what"]: step["grams"] for step in other["weighing"][0]["steps"] if step["what"]}
    assert weighed == pytest.approx({part["what"]: part["grams"] for part in facts["choices"][number - 1]["put_in"]})


def test_what_the_maker_allows_and_the_care_that_is_asked_for(bench, answers):
    correction, recipe = facts_of(answers, "correction"), facts_of(answers, "recipe")
    assert subjects_of(correction["care"]) == subjects_of(recipe["care"]) == (INK, DISPOSAL)
    assert not any("beyond the most" in line for line in recipe["care"])
    strict = replace(bench, shelf={"red": replace(RED, most=0.2)})
    over = mixing.answer_dict(replace(answers["recipe"], bench=strict), ORDER)
    assert any(line.startswith("Red is beyond the most") for line in over["care"])


def with_part(answer, name):
    """The same, with 1 % of something else in the recommended choice."""
    best = answer.proposed.choices[0]
    mix = replace(best.mix, content=replace(best.mix.content, shares=best.mix.shares | {name: 1.0}))
    return replace(answer, proposed=replace(answer.proposed, choices=(replace(best, mix=mix),)))


@pytest.mark.parametrize(
    ("name", "subject"),
    [
        ("cover white", WHITE),
        ("Fixer", FIXER),
        ("cross-linker x", FIXER),
        ("red powder", POWDER),
        ("dry black", POWDER),
    ],
)
def test_white_fixer_and_powder_are_known_by_their_names(answers, name, subject):
    """Nobody here has one of them."""
    assert subject not in subjects_of(mixing.answer_dict(answers["recipe"], ORDER)["care"])
    assert subject in subjects_of(mixing.answer_dict(with_part(answers["recipe"], name), ORDER)["care"])


@pytest.mark.parametrize("kind", ["correction", "thinning", "again"])
def test_what_an_old_pot_brings_along_counts_too(answers, kind):
    fixed = replace(answers[kind].pot, recipe=pot_of(ORANGE | {"fixer": 2.0}))
    rests = tuple((fixed, grams) for _, grams in answers[kind].rests)
    with_it = replace(answers[kind], pot=fixed, rests=rests)
    assert FIXER not in subjects_of(facts_of(answers, kind)["care"])
    assert FIXER in subjects_of(mixing.answer_dict(with_it, ORDER)["care"])


@pytest.mark.parametrize(
    ("state", "target", "hot"),
    [
        ("air-dried", None, False),
        ("heat-set, 150 °C, 4 min, press", None, True),
        ("washed 3 times, 40 °C", None, True),
        ("air-dried", "heat-set", True),
        ("air-dried", "wet", False),
    ],
)
def test_heat_comes_in_where_the_finished_colour_is_aimed_at(answers, state, target, hot):
    """At the bench or by the shade's target; in the terminal in one line once somebody has kept a heat-set strip."""
    answer = answers["recipe"]
    aim = studio_records.shade(target_state=parse_state(target)) if target else None
    facts = mixing.answer_dict(replace(answer, bench=replace(answer.bench, state=parse_state(state)), shade=aim), ORDER)
    assert (HEAT in subjects_of(facts["care"])) == hot
    first, later = mixing_text.answer_text(facts), mixing_text.answer_text(facts, known={HEAT})
    assert all((line in first) == hot for line in LINES[HEAT])
    assert not any(line in later for line in LINES[HEAT])
    assert ("Take care with heat: swatchcam handbook heat" in later) == hot
    assert all(line in later for line in (*LINES[INK], *LINES[DISPOSAL]))


def test_a_cost_is_that_of_all_that_is_weighed(bench):
    """400 g of a pot: by hand from the prices on the shelf."""
    base = Pigment("clear base", None, None, 1.2, "", ())
    proposed = recipe_for(bench, made_by(bench.palette, ORANGE), ORDER)
    choice = mixing.answer_dict(Answer(proposed, replace(bench, base=base), None), ORDER)["choices"][0]
    grams = {part["what"]: part["grams"] for part in choice["put_in"]}
    cost = (11.5 * grams["Red"] + 4 * grams["yellow"] + 1.2 * grams["clear base"]) / 100
    assert choice["price"] == choice["pot_price"] == pytest.approx(cost, abs=0.006)
    assert choice["words"] == [f"Costs about {choice['price']:.2f}."]
    assert choice["without_price"] == []
    assert choice["pigment_grams"] == pytest.approx(grams["Red"] + grams["yellow"])
    assert choice["pigment_percent"] == pytest.approx(choice["pigment_grams"] / 4, abs=0.001)


def test_what_has_no_price_yet_is_named(bench, answers):
    choice = facts_of(answers, "recipe")["choices"][0]
    assert (choice["price"], choice["pot_price"], choice["without_price"]) == (None, None, ["clear base"])
    assert "The cost isn't known yet: no price for clear base." in choice["words"]
    bare = mixing.answer_dict(Answer(recipe_for(replace(bench, shelf={}), made_by(bench.palette, ORANGE), ORDER),
                                     replace(bench, shelf={}), None), ORDER)["choices"][0]  # fmt: skip
    assert bare["words"] == []


def test_the_load_of_a_stronger_lot_is_what_is_weighed(bench):
    strong = replace(bench, shelf={"red": replace(RED, lots=(Lot("R-2", "2020-01-01", 1.5, 0.0),))})
    facts = mixing.answer_dict(Answer(recipe_for(strong, made_by(bench.palette, ORANGE), ORDER), strong, None), ORDER)
    choice = facts["choices"][0]
    assert choice["pigment_percent"] == pytest.approx(choice["pigment_grams"] / 4, abs=0.002)


# --- in words ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "left"])
def test_words_mention_every_number_of_what_is_recommended(answers, kind):
    facts = facts_of(answers, kind)
    text, best = mixing_text.answer_text(facts), facts["choices"][0]
    assert all(said(text, facts["target"][axis], 2) for axis in "Lab")
    assert all(said(text, part["grams"], 2) for part in best["put_in"])
    assert said(text, best["ciede2000_from_target"], 1)
    assert all(said(text, bound, 1) for bound in best["interval95"])
    assert all(flag["sentence"] in text for flag in facts["flags"])
    assert facts["film"]["sentence"] in text
    assert all(words in text for words in best["words"])
    assert said(text, best["pot_grams"], 2)
    assert said(text, best["pigment_percent"], 1)
    assert best["price"] is None or f"{best['price']:.2f}" in text
    assert all(said(text, value, 1) for value in best["other_lights_ciede2000"].values())
    assert best["part_of_the_way"] == 1 or f"{100 * best['part_of_the_way']:.0f} % of the way" in text
    assert all(step["words"] in text for step in facts["weighing"][0]["steps"])
    assert all(line in text for line in facts["care"])
    if best["roads"]:
        assert all(best["roads"][road]["words"] in text for road in ("fresh_pot", "topping_up"))
        assert best["roads"]["sentence"] in text


def test_both_chances_of_a_correction_are_told_in_one_sentence(answers):
    best = facts_of(answers, "correction")["choices"][0]
    assert best["nearer_probability"] >= 0.8
    assert best["worse_probability"] <= 0.02
    said_of_it = odds_words(best["nearer_probability"], best["worse_probability"], 0.5)
    assert best["words"][0] == said_of_it
    assert facts_of(answers, "recipe")["choices"][0]["nearer_probability"] is None


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.9, "9 in 10"),
        (0.81, "81 in 100"),
        (0.01, "1 in 100"),
        (0.001, "less than 1 in 100"),
        (0.999, "more than 99 in 100"),
    ],
)
def test_chances_are_told_as_printers_say_them(chance, words):
    assert odds(chance) == words


def test_a_pot_that_is_not_sure_enough_is_left_and_what_would_help_is_told(bench, answers):
    helps = (Help(Means.WHOLE_COLOUR), Help(Means.MORE_STRIPS, 2), Help(Means.LONGER_SERIES, pigments=("red",)))
    proposed = replace(answers["correction"].proposed, choices=(), unsure=0.2, nearest=0.1, helps=helps, right=0.6)
    facts = mixing.answer_dict(Answer(proposed, bench, None), ORDER)
    assert (facts["leave_it"], facts["leave_code"]) == (True, "not-sure-enough")
    assert [(each["code"], each["strips"]) for each in facts["helps"]] == [
        ("whole-colour", 0),
        ("more-strips", 2),
        ("longer-series", 0),
    ]
    text = mixing_text.answer_text(facts)
    assert all(each["sentence"] in text for each in facts["helps"])
    assert "6 in 10 that the pot is right" in text
    assert "2 more strips" in text
    none = mixing_text.answer_text(facts | {"helps": []})
    assert "Even two more strips" in none


def test_how_unlike_films_are_is_told():
    assert film_words(12.2, 8.1, 19.4, 23) == (
        "Your films vary by 12 % (8 to 19 %) from strip to strip, judging from 23 strips."
    )
    assert (
        film_words(19.0, 3.0, 47.0, 2)
        == "Your films vary by something between 3 and 47 % from strip to strip, judging from 2 strips."
    )
    assert film_words(19.0, 3.0, 47.0, 0) == ""


def test_what_the_shelf_does_not_hold_is_told(answers):
    answer = answers["recipe"]
    dose = next(dose for dose in answer.proposed.choices[0].doses if key(dose.what) == "red")

    def flags_with(**left):
        tools = replace(answer.bench.tools, left=left)
        facts = mixing.answer_dict(replace(answer, bench=replace(answer.bench, tools=tools)), ORDER)
        return [flag for flag in facts["flags"] if flag["code"] == "not-enough-left"]

    (short,) = flags_with(red=dose.grams / 2)
    assert short["facts"] == {"what": dose.what, "needed": dose.grams, "left": dose.grams / 2}
    assert f"only {dose.grams / 2:.3g} g of {dose.what} left on your shelf" in short["sentence"]
    assert flags_with(red=dose.grams) == flags_with(green=0.0) == []
    assert [flag["facts"]["what"] for flag in flags_with(**{"clear base": 1.0})] == ["clear base"]


def test_of_a_large_order_no_digit_is_lost(answers):
    facts = facts_of(answers, "recipe")
    facts["choices"][0]["put_in"][0]["words"] = dose_words(weighed_dose("red", 12345.67, 0.01))
    assert "12345.67" in mixing_text.answer_text(facts)


def test_only_what_shall_be_done_is_called_recommended(answers):
    assert mixing_text.answer_text(facts_of(answers, "recipe")).count("(recommended)") == 1
    left = mixing_text.answer_text(facts_of(answers, "left"))
    assert "Leave it: you would not see the difference." in left
    assert "(recommended)" not in left
    assert "What to weigh" not in left
    assert "Take care:" not in left


def test_where_nothing_can_be_added_it_is_only_said_to_leave_the_pot(answers):
    bare = replace(answers["left"], proposed=replace(answers["left"].proposed, choices=()))
    facts = mixing.answer_dict(bare, ORDER)
    check_plain(facts)
    text = mixing_text.answer_text(facts)
    assert facts["leave_code"] == "no-visible-difference"
    assert f"Leave it: {facts['leave_why']}." in text
    assert "go on anyway" not in text


def test_what_is_out_of_reach_is_said_with_what_would_be_needed(answers):
    facts = facts_of(answers, "far")
    text = mixing_text.answer_text(facts)
    assert "Out of reach" in text
    assert said(text, facts["reach"]["ciede2000_of_the_nearest"], 1)
    assert "another-pigment" in [need["code"] for need in facts["reach"]["needs"]]
    assert all(f"  - {need['sentence']}" in text for need in facts["reach"]["needs"])
    assert "Out of reach" not in mixing_text.answer_text(facts_of(answers, "recipe"))


def test_old_pots_are_to_be_smelt_at(answers):
    text = mixing_text.answer_text(facts_of(answers, "again"))
    assert "1. Put the 150 g left of batch 3" in text
    assert "40 days old" in text
    assert "smell" in text


def test_a_second_old_pot_goes_into_the_same_pot(answers):
    facts = facts_of(answers, "again")
    text = mixing_text.answer_text(facts | {"rests": facts["rests"] * 2})
    assert text.count("into a clean pot") == 1
    assert "2. Add the 150 g left of batch 3" in text


def test_how_old_a_rest_is_is_said_as_a_person_would():
    assert mixing_text.age_words({"batch": "3", "grams": 1.0, "mixed": "", "days_old": None}) == ""
    assert mixing_text.age_words({"batch": "3", "grams": 1.0, "mixed": "2026-01-31", "days_old": 0}) == "mixed today"
    told = mixing_text.age_words({"batch": "3", "grams": 1.0, "mixed": "2026-01-31", "days_old": 1})
    assert told == "mixed 2026-01-31, 1 day old"


def test_what_was_kept_is_said(answers):
    facts = facts_of(answers, "recipe") | {"kept": {"proposal": 3, "shade": "brick", "batch": "7"}}
    assert "\nKept as batch 7 of brick.\n" in mixing_text.answer_text(facts)
    assert 'swatchcam shade set "brick" --target ' in mixing_text.answer_text(facts)


# --- pigments and predictions -------------------------------------------------------------------------------------


def test_the_list_of_pigments(bench):
    more = replace(
        bench,
        shelf={**bench.shelf, "ochre": Pigment("Ochre", 3.0, None, None, "new", ())},
        names=bench.names | {"ochre": "Ochre"},
    )
    more.__dict__["palette"] = bench.palette
    facts = mixing.palette_dict(more)
    check_plain(facts)
    by_name = {each["pigment"]: each for each in facts["pigments"]}
    assert sorted(by_name) == sorted(["Ochre", "Red", "black", "blue", "yellow"])
    assert (by_name["Red"]["known_strips_alone"], by_name["Red"]["known_strips_in_mixes"]) == (3, 1)
    assert by_name["Ochre"]["strength"] is None
    assert max(each["strength"] or 0 for each in facts["pigments"]) == 1
    text = mixing_text.palette_text(facts)
    lines = text.splitlines()
    assert lines[0] == f"5 pigments on {CLOTH}, 14 known strips (air-dried):"
    (red,) = [line for line in lines if line.startswith("  Red ")]
    for words in ("3 series strips, 1 mix", "at most 6 %", "smallest amount 0.05 g", "11.5 for 100 g", "Stir well."):
        assert words in red
    assert "lot R-2, in use since 2020-01-01: 1.00 ±0.04 times as strong (no more than measurement error)" in red
    assert lines[-1] == f"! {TERMINAL.flag(WEAK)}"


def test_what_one_pigment_does(bench):
    facts = mixing.pigment_dict(bench, "RED")
    check_plain(facts)
    text = mixing_text.pigment_text(facts)
    assert text.startswith(f"Red on {CLOTH}, air-dried")
    for strip in facts["curve"]:
        assert f"{strip['percent']:g} %" in text
        assert strip["srgb_approx"] in text
        assert said(text, strip["L"], 2)
        assert said(text, strip["interval95_ciede2000"], 1)
    assert [known_strip["percent"] for known_strip in facts["measured"]] == pytest.approx([0.2, 0.8, 3.2])
    assert all(known_strip["name"] in text for known_strip in facts["measured"])
    low, high = facts["half_strength_percent"]["interval95"]
    assert "Too few strips to tell when more pigment stops helping" in text
    assert f"between {low:.0f} and {high:.0f} %" in text
    assert f"acts like {facts['curve'][0]['working_percent']:.2g} %" in text
    with pytest.raises(UsageError):
        mixing.pigment_dict(bench, "ochre")


def test_a_series_that_was_kept(bench):
    rung = record(
        5,
        studio()[0].kept({"red": 0.4}, 920),
        shade="series red",
        batch="0.4 %",
        flags=(flag("looks-wet", too_light=1.5),),
    )
    facts = mixing.series_dict([rung], "halm.sqlite")
    check_plain(facts)
    text = mixing_text.series_text(facts)
    assert text.startswith("Kept as record 5: series red, 0.4 %")
    assert said(text, facts["series"][0]["L"], 2)
    assert "! looks wet or glossy" in text


def test_without_predictions_there_is_a_sentence_all_the_same():
    facts = mixing.prediction_check_dict(prediction_rate(()))
    check_plain(facts)
    assert mixing_text.prediction_check_text(facts) == facts["sentence"] == "No proposal has been measured yet."
    assert facts["code"] == "none-measured"


# --- names -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_breaks_anything(bench, answers, name):
    def renamed(shares):
        return {key(f"{name} {each}"): share for each, share in shares.items()}

    known_strips = [
        replace(known_strip, shares=renamed(known_strip.shares), shares_std=renamed(known_strip.shares_std))
        for known_strip in bench.known_strips
        if known_strip.shares.keys() <= ORANGE.keys()
    ]
    names = {key(f"{name} {each}"): f"{name} {each}" for each in ORANGE}
    red = key(f"{name} red")
    shelf = {red: replace(RED, name=names[red], notes=name, lots=(Lot(name, "2020-01-01", 1.0, 0.0),))}
    odd = Bench(name, DRY, tuple(known_strips), shelf, names, True, (Flag(SAID_BEFORE, {"sentence": name}),))
    target, order = replace(answers["correction"].proposed.target, words=name), Order(400, 0.01)
    pot = pot_of({f"{name} {each}": share for each, share in ORANGE.items()})
    facts = mixing.answer_dict(
        Answer(correction_for(odd, target, pot, order), odd, None, pot=batch(1, name=name)), order
    )
    check_plain(facts)
    text = mixing_text.answer_text(facts)
    assert text.startswith(f"Correcting this pot towards {name}:")
    assert all(part["what"] in text for part in facts["choices"][0]["put_in"])
    listing, showing = mixing.palette_dict(odd), mixing.pigment_dict(odd, red)
    for made in (listing, showing):
        check_plain(made)
    assert f"{name} red" in mixing_text.palette_text(listing)
    assert mixing_text.pigment_text(showing).startswith(f"{name} red on {name}")


def test_a_pot_that_nobody_measured_yet_is_told_as_it_is_read():
    waiting = {
        "proposal": 2, "shade": "rust", "batch": "1", "state": "air-dried",
        "pot": [{"what": "clear base", "grams": 48.4397}, {"what": "blue", "grams": 0.0294}],
    }  # fmt: skip
    facts = {"sentence": "No proposal has been measured yet.", "proposals": [], "waiting": [waiting]}
    assert mixing_text.prediction_check_text(facts).endswith(
        "rust, batch 1 (air-dried): clear base 48.44 g, blue 0.029 g"
    )
