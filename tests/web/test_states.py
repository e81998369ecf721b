"""What was done to a strip is tapped once, how it was done is taken over only in sight, and each page says it."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest

from swatchcam.library.library import open_library
from swatchcam.library.records import State
from swatchcam.library.search import last_treated
from tests.web.test_photos import FILE, answer, phone, words  # noqa: F401 - fixtures
from tests.web.test_shades import BLUE, Page, filled, two, two_shades  # noqa: F401 - fixtures

STRIP = {"strip": "left", "shade": "Brick", "batch": "1"}


def state_of(visit, number=1):
    return str(open_library(visit.library).record(number).state)


def form_of(visit, place, asked=""):
    """What the form of a strip is filled with, and its words."""
    page = Page(visit.client.get(f"{place}/keep?strip=right{asked}").text)
    return filled(page), page.text


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ({"state": "air-dried", "heat_how": "150 C"}, "air-dried"),  # what stands in the other fields is not meant
        ({"state": "heat-set", "heat_how": "at 150C for 4 min, heat press"}, "heat-set, 150 °C, 4 min, press"),
        ({"state": "heat-set", "heat_how": ""}, "heat-set"),
        ({"state": "heat-set"}, "heat-set"),  # a form of an earlier version
        ({"state": "washed", "washes": "3", "wash_how": "40"}, "washed 3 times, 40 °C"),
        ({"state": "washed", "washes": "1", "wash_how": "104 F"}, "washed once, 104 °F"),
        ({"state": "rubbed", "rub_how": "wet"}, "rubbed, wet"),
        ({"state": "rubbed"}, "rubbed"),
        ({"state": "wet"}, "wet"),
        ({"state": "washed 2"}, "washed 2 times"),
    ],
)
def test_a_strip_is_kept_in_the_state_that_was_tapped_and_with_how_it_was_done(phone, said, kept):  # noqa: F811
    assert phone.post(f"{phone.place}/keep", **STRIP, **said).status_code == 303
    assert state_of(phone) == kept


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ({"state": "heat-set", "heat_how": "until it smells"}, "How it was heat-set: I can't read"),
        ({"state": "heat-set", "heat_how": "900 C"}, "between 60 and 260 °C is possible"),
        ({"state": "washed", "washes": "3", "wash_how": "boiling"}, "How hot it was washed: I can't read 'boiling'"),
        ({"state": "rubbed", "rub_how": "hard"}, "How it was rubbed"),
    ],
)
def test_a_treatment_that_cannot_be_read_is_told_and_stays_typed(phone, said, problem):  # noqa: F811
    answered = phone.post(f"{phone.place}/keep", **STRIP, **said)
    assert answered.status_code == 422
    assert problem in words(answered.text)
    fields = filled(Page(answered.text))
    assert {name: fields[name] for name in said if name != "rub_how"} == {
        name: value for name, value in said.items() if name != "rub_how"
    }


def later(visit, key, **said):
    """The same strips in a photo of another day."""
    sent = visit.post("/photo", FILE, key=key, **said)
    place = sent.headers["location"]
    worked = json.dumps(visit.worked).replace(visit.worked["sitting"]["photos"][0]["digest"], key * 64)
    visit.studio.tray.answer(place.rpartition("/")[2], json.loads(worked))
    return place


def test_nothing_is_guessed_of_a_strip_that_was_dry_when_it_was_kept_last(phone):  # noqa: F811
    assert "state" not in form_of(phone, phone.place)[0]
    assert phone.post(f"{phone.place}/keep", **STRIP, state="air-dried", measured="2026-03-03").status_code == 303
    said, told = form_of(phone, later(phone, "b", shade="Brick"))
    assert "state" not in said
    assert "Last kept of Brick, batch 1: air-dried, 2026-03-03." in told
    said, told = form_of(phone, later(phone, "c", shade=""))
    assert "Last kept" not in told


def test_the_form_asks_for_one_tap(phone):  # noqa: F811
    taps = re.findall(r'<input type="radio" name="state"[^>]*>', phone.client.get(f"{phone.place}/keep").text)
    assert len(taps) == 5
    assert all("required" in tap and "checked" not in tap for tap in taps)


def test_how_it_was_heated_is_taken_over_from_the_last_time_and_marked(phone):  # noqa: F811
    how = {"state": "heat-set", "heat_how": "150 °C, 4 min, press"}
    phone.post(f"{phone.place}/keep", **STRIP, **how, measured="2026-03-03")
    said, told = form_of(phone, later(phone, "b", shade="Brick"))
    assert (said["heat_how"], "state" in said) == ("150 °C, 4 min, press", False)
    assert "As last time: Brick, batch 1, 2026-03-03. Type over it if it was done otherwise." in told
    second = STRIP | {"strip": "right", "batch": "2"}
    kept = phone.post(f"{phone.place}/keep", **second, **how | {"heat_how": "160 °C, 3 min"})
    assert kept.status_code == 303, words(kept.text)
    assert form_of(phone, later(phone, "c", shade="Brick"))[0]["heat_how"] == "160 °C, 3 min"
    refused = phone.post(f"{later(phone, 'c', shade='Brick')}/keep", **STRIP, state="heat-set", heat_how="x y z")
    assert "As last time" not in words(refused.text)


def test_the_state_is_chosen_once_when_the_photo_is_sent(phone):  # noqa: F811
    place = later(phone, "d", shade="Brick", state="heat-set", heat_how="140 C 5 min iron")
    assert phone.studio.tray.item(place.rpartition("/")[2]).asked["state"] == "heat-set, 140 °C, 5 min, iron"
    said, _ = form_of(phone, place)
    assert (said["state"], said["heat_how"]) == ("heat-set", "140 °C, 5 min, iron")
    link = re.search(r'href="(/photo/[^"]*/keep[^"]*)"', phone.client.get(f"{place}?strip=left").text)[1]
    said = filled(Page(phone.client.get(unescape(link)).text))
    assert (said["state"], said["heat_how"]) == ("heat-set", "140 °C, 5 min, iron")


def test_an_earlier_version_s_form_sends_its_state_in_one_word(phone):  # noqa: F811
    place = later(phone, "e", shade="Brick", state="washed 1")
    said, _ = form_of(phone, place)
    assert (said["state"], said["washes"]) == ("washed", "1")


# --- corrected ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ({"heat_how": "150 C 4 min"}, "heat-set, 150 °C, 4 min"),
        ({"heat_how": ""}, "heat-set"),
        ({}, "heat-set, 140 °C"),  # a form of an earlier version
        ({"state": "air-dried", "heat_how": "140 °C"}, "air-dried"),
        ({"state": "washed", "washes": "", "wash_how": "40"}, "washed once, 40 °C"),
        ({"washes": "2", "wash_how": ""}, "washed 2 times"),
        ({"state": "rubbed", "rub_how": "dry"}, "rubbed, dry"),
    ],
)
def test_a_state_is_corrected_with_how_it_was_done(two, said, kept):  # noqa: F811
    two.sent("/record/1/amend", state="heat-set", heat_how="140 C")
    two.sent("/record/1/amend", **{"state": "heat-set", "mark": "x"} | said)
    assert str(two.library.record(1).state) == kept
    assert kept in two.get("/record/1").text


@pytest.mark.parametrize("state", ["heat-set 150 C 4 min press", "washed 3 times 40 C", "rubbed wet 20 strokes", "wet"])
def test_a_correction_of_something_else_leaves_the_state_as_it_is(two, state):  # noqa: F811
    two.taken = 2
    two.keep("Brick", BLUE, batch="9", state=state)
    number = two.library.records()[-1].number
    before = two.library.record(number).state
    two.sent(f"/record/{number}/amend", **filled(two.get(f"/record/{number}")) | {"cloth": "linen"})
    assert (two.library.record(number).state, two.library.record(number).cloth) == (before, "linen")


def test_the_last_strip_of_which_somebody_said_how_it_was_heated(two):  # noqa: F811
    two.taken = 2
    assert last_treated(two.library, "heat-set") is None
    two.keep("Brick", batch="1", state="heat-set 150 C")
    two.keep("Brick", batch="1", state="heat-set")
    two.keep("Blue", BLUE, batch="1", state="heat-set 160 C")
    assert last_treated(two.library, "heat-set", "brick").state == State("heat-set", how="150 °C")
    assert last_treated(two.library, "heat-set").state == State("heat-set", how="160 °C")
    assert last_treated(two.library, "heat-set", "no such") is None
    assert last_treated(two.library, "washed") is None
