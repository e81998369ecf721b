"""From when on heat no longer moves a colour: against time courses that are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.colorimetry.coming_to_rest import RESTS
from swatchcam.library.heat_shift import heat_series
from swatchcam.library.records import DRY, State
from swatchcam.measurement.staining import KeptStaining
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.report.heat_series import heat_series_dict, heat_series_lines
from swatchcam.report.json_types import HeatSeriesJson
from swatchcam.report.plots.heat_plot import heat_plot
from tests.report.typed import faults
from tests.worlds.heat_series import AGAIN, TOGETHER, movement, series_of
from tests.worlds.hidden_studios import hidden_studio
from tests.worlds.studio_records import kept, record

DRY_LAB = np.array([48.0, 40.0, 25.0])
WAY = np.array([-3.0, 3.0, 1.0])  # what heat does in full: about 3.4 CIEDE2000
YELLOWS = np.array([0.0, -2.0, 6.0])
FADED = np.array([4.0, -6.0, -4.0])
PRESS = "150 °C, {}, press"


def strips(course, how=PRESS, again=False, films=(), noise=0.02, **said):
    """Records of strips after each time of a course, {"4 min": shift of Lab}: dry and heat-set."""
    found, colour = [], kept(noise=noise)
    for number, (time, shift) in enumerate(course.items()):
        mark, dry = ("A" if again else "ABCDEFGH"[number]), DRY_LAB + (films[number] if films else 0.0)
        for lab, state, photo in ((dry, DRY, "dry"), (dry + shift, State("heat-set", how=how.format(time)), "set")):
            seen = replace(colour, lab=tuple(map(float, lab)), errors=replace(colour.errors, photos=(photo,)))
            day = "2026-03-01" if state == DRY else "2026-03-02"
            found.append(record(len(found) + 1, seen, mark=mark, state=state, measured=day, **said))
    return found


def again(course, **said):
    """One strip, measured dry once and after each time."""
    return [each for each in strips(course, again=True, **said) if each.state != DRY or each.number == 1]


def exponential(*minutes, rest=1.0, yellow=0.0):
    """A course that comes to rest with this time constant, min, and yellows for ever, share of YELLOWS a minute."""
    return {f"{t:g} min": WAY * (1 - np.exp(-t / rest)) + YELLOWS * yellow * t for t in minutes}


def answer_of(records):
    (series,) = heat_series(records)
    return series.course.answer


def said(records):
    return TERMINAL.finding(answer_of(records))


# --- the three answers --------------------------------------------------------------------------------------


def test_it_rests_from_where_all_later_shifts_are_alike():
    """What is left to come after 2 min is 0.14 of 3.4 CIEDE2000, after 1 min 0.37 of it: 1.2."""
    (series,) = heat_series(again(exponential(0.5, 1, 2, 4, 8, 16, rest=1.0)))
    assert [len(time.pairs) for time in series.times] == [1] * 6
    assert series.course.rest == (2, 5)
    assert TERMINAL.finding(series.course.answer) == (
        "From 2 min on the colour rests: up to 16 min it moves by less than 1 CIEDE2000."
    )
    assert series.course.next_seconds == ()


def test_several_strips_tell_the_same_or_a_little_later():
    """Strips of one ink never move quite alike, so they are a little less sure than one strip heated on."""
    (series,) = heat_series(strips(exponential(0.5, 1, 2, 4, 8, 16, rest=1.0)))
    assert series.course.rest in ((2, 5), (3, 5))


def test_unlike_films_cancel():
    course = exponential(0.5, 1, 2, 4, 8, 16, rest=1.0)
    films = [
        np.array([5.0, -4, -3]),
        np.zeros(3),
        np.array([-4.0, 3, 2]),
        np.zeros(3),
        np.array([2.0, -2, 1]),
        np.zeros(3),
    ]
    (series,) = heat_series(strips(course, films=films))
    assert series.course.rest
    assert series.course.rest[1] == 5


def test_a_colour_that_still_moves_is_told_how_long_to_go_on():
    records = strips(exponential(1, 2, 4, 8, rest=12.0))
    (series,) = heat_series(records)
    assert series.course.answer.code == "colour-still-moves"
    assert series.course.next_seconds == (16 * 60,)
    assert said(records).startswith("The colour still moves: by CIEDE2000 ")
    assert said(records).endswith(" from 4 min to 8 min. Heat strips for 16 min too.")


def test_too_few_times_are_told_which_to_add():
    assert said(strips(exponential(2, 4))) == (
        "Too few times to tell when the colour rests: 2 so far, at least 3 are needed. Heat strips for 8 min too."
    )
    assert heat_series(strips(exponential(4))) == []


def test_a_measurement_that_is_too_coarse_says_what_to_do():
    records = strips(exponential(1, 2, 4, rest=0.3), noise=1.0)
    (series,) = heat_series(records)
    assert series.course.answer.code == "heat-too-coarse"
    assert series.course.next_seconds == (120.0, 240.0)
    told = said(records)
    assert told.startswith(
        "Can't tell yet whether the colour rests: from 2 min to 4 min it seems to move by CIEDE2000 "
    )
    assert "Heat more strips, for 2 min and 4 min, and photograph" in told


def test_times_that_are_close_together_show_no_rest():
    records = strips(exponential(1, 4, 5, rest=1.5))
    (series,) = heat_series(records)
    assert (series.course.answer.code, series.course.rest) == ("rests-too-short", None)
    assert "too close together" in said(records)


def test_yellowing_after_it_rests_is_named():
    """Little of it beside the rest, more of it as what ends the rest."""
    (little,) = heat_series(strips(exponential(2, 4, 8, 16, rest=0.5, yellow=0.01)))
    assert little.course.rest == (0, 3)
    assert little.course.later is not None
    assert "yellower" in little.course.later.facts["ways"]
    (much,) = heat_series(strips(exponential(1, 2, 4, 32, rest=0.25, yellow=0.02)))
    assert much.course.rest == (0, 2)
    assert TERMINAL.finding(much.course.answer).startswith("From 1 min on the colour rests: up to 4 min")
    told = TERMINAL.finding(much.course.later)
    assert told.startswith("Longer heat moves it: after 32 min it is ")
    assert "yellower" in told
    (never,) = heat_series(strips(exponential(2, 4, 8, 16, rest=0.4)))
    assert never.course.later is None


def test_more_strips_for_a_time_are_averaged():
    course = exponential(1, 2, 4, rest=0.3)
    first = strips(course, noise=0.3)
    second = [replace(one, number=one.number + 100, mark=f"{one.mark}2") for one in strips(course, noise=0.3)]
    (one,), (two,) = heat_series(first), heat_series([*first, *second])
    assert [len(time.pairs) for time in two.times] == [2, 2, 2]
    assert np.trace(two.course.covariance) < np.trace(one.course.covariance)


# --- which strips belong together ---------------------------------------------------------------------------


def test_tools_and_temperatures_are_told_apart():
    course = exponential(1, 2, 4)
    press, iron = strips(course), strips(course, "2 dots, {}, iron")
    hot, near, unsaid = strips(course, "180 °C, {}, press"), strips(course, "155 °C, {}, press"), strips(course, "{}")
    every = [
        replace(each, number=each.number + 100 * way, mark=f"{each.mark}{way}")
        for way, records in enumerate((press, iron, hot, near, unsaid))
        for each in records
    ]
    found = {(series.celsius, series.settings, len(series.times[0].pairs)) for series in heat_series(every)}
    assert found == {
        ((150.0, 155.0), "press", 2),
        ((180.0, 180.0), "press", 1),
        (None, "2 dots, iron", 1),
        (None, "", 1),
    }
    heated = {heat_series_dict(series)["heated"] for series in heat_series(every)}
    assert heated == {"at 150 to 155 °C, press", "at 180 °C, press", "2 dots, iron", "(nobody said how hot)"}


@pytest.mark.parametrize("other", [{"cloth": "linen"}, {"batch": "B2"}, {"let_down": 4.0}, {"shade": "Salbei"}])
def test_strips_of_another_ink_or_cloth_are_told_apart(other):
    course = exponential(1, 2, 4)
    more = [replace(each, number=each.number + 100) for each in strips(course, **other)]
    assert len(heat_series([*strips(course), *more])) == 2


def test_without_the_dry_colour_or_the_time_a_strip_does_not_count():
    records = strips(exponential(1, 2, 4))
    assert heat_series([one for one in records if one.state != DRY]) == []
    assert heat_series(strips({"": WAY, "iron": WAY}, "150 °C, {}")) == []
    later = [replace(one, measured="2026-03-09") if one.state == DRY else one for one in records]
    assert heat_series(later) == []


def test_what_was_washed_or_rubbed_stands_beside_the_time():
    records = strips(exponential(1, 2, 4, rest=0.3))
    pale = replace(records[5].colour, lab=tuple(map(float, np.array(records[5].colour.lab) + FADED)))
    washed = replace(records[5], number=50, state=State("washed", 3, "40 °C"), measured="2026-03-04", colour=pale)
    cloth = KeptStaining(4.3, 3.9, 4.7, (), "2026-03-05")
    rubbed = replace(records[3], number=51, state=State("rubbed", how="wet"), measured="2026-03-05", staining=cloth)
    facts = heat_series_dict(heat_series([*records, washed, rubbed])[0])
    assert [[test["record"] for test in time["tested"]] for time in facts["times"]] == [[], [51], [50]]
    (rub,), (wash,) = facts["times"][1]["tested"], facts["times"][2]["tested"]
    assert (wash["state"], wash["staining"]) == ("washed 3 times, 40 °C", None)
    assert wash["grey_scale_grade"] in ("2", "2-3", "3")
    assert (rub["state"], rub["grey_scale_grade"], rub["staining"]) == ("rubbed, wet", "5", cloth.grade)
    assert faults(facts, HeatSeriesJson) == []
    lines = heat_series_lines(facts)
    assert any(line.endswith(f"; washed 3 times, 40 °C: grade {wash['grey_scale_grade']}") for line in lines)
    assert any(line.endswith(f"; rubbed, wet: grade 5, white cloth {cloth.grade}") for line in lines)


# --- how it is said -----------------------------------------------------------------------------------------

COURSES = {
    "rests": exponential(0.5, 1, 2, 4, 8),
    "moves": exponential(1, 2, 4, 8, rest=12.0),
    "few": exponential(1, 2),
    "short": exponential(1, 4, 5, rest=1.5),
    "yellows": exponential(1, 2, 4, 32, rest=0.25, yellow=0.02),
    "none": {"1 min": np.zeros(3), "2 min": np.zeros(3), "4 min": np.zeros(3)},
}


@pytest.mark.parametrize("course", COURSES.values(), ids=COURSES)
def test_every_answer_has_its_keys_its_lines_and_its_plot(course):
    (series,) = heat_series(strips(course))
    facts = heat_series_dict(series)
    assert faults(facts, HeatSeriesJson) == []
    lines = heat_series_lines(facts)
    assert lines[0] == f"Heated at 150 °C, press: {facts['sentence']}"
    assert lines[-1].startswith(
        "A colour that rests doesn't mean that the ink is fast: wash one strip and rub another."
    )
    drawn = heat_plot(facts)
    assert drawn.startswith("<svg ")
    assert drawn.count("<circle") == len(course)
    assert ("rests</text>" in drawn) == (series.course.rest is not None)
    for word in ("cured", "fixed", "enough", "fixation"):
        assert word not in " ".join(lines).lower()
    assert PAGE.finding(series.course.answer) == facts["sentence"]


# --- over drawn studios -------------------------------------------------------------------------------------


def outcomes(way, tool, noise, count=40, strips=1):
    """The true movement, CIEDE2000, while each colour was said to rest; and how many were said to."""
    found = []
    for number in range(count):
        studio, rng = hidden_studio("build", number), np.random.default_rng([2026, 611, number])
        recipe = studio.target(rng)
        (series,) = heat_series(series_of(studio, recipe, rng, way, tool=tool, strips=strips, noise=noise))
        if series.course.rest:
            first, last = series.course.rest
            found.append(movement(studio, recipe)[first, first : last + 1].max())
    return np.array(found)


# Noise: what photos are stated to have at most, and what drawn photos have.
@pytest.mark.parametrize(
    ("way", "tool", "noise"), [(AGAIN, "press", 1.0), (TOGETHER, "press", 0.4), (TOGETHER, "iron", 1.0)]
)
def test_a_colour_that_moves_on_is_rarely_said_to_rest(way, tool, noise):
    """Where nearly all colours come to rest within the times, most are told so, and hardly one that moves by more."""
    found = outcomes(way, tool, noise)
    assert (found > RESTS).mean() <= 0.1
    assert found.max() < 2 * RESTS
    assert len(found) >= 12
