"""What was done to a strip is tapped once, how it was done is taken over only in sight, and each page says it."""

from __future__ import annotations

import json
import re
import shutil
from html import unescape

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.library.entry import entry_of
from swatchcam.library.library import open_library
from swatchcam.library.records import State
from swatchcam.library.save import keep_record
from swatchcam.library.search import last_treated
from tests.web.browser import CARD, DESK, PHONE, SAMPLES, served, watched
from tests.web.test_photos import FILE, PHOTO, answer, phone, words  # noqa: F401 - fixtures
from tests.web.test_shades import BLUE, Page, filled, two, two_shades  # noqa: F401 - fixtures
from tests.worlds.cheap_measurements import measurement

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
        ({"state": "heat-set", "heat_how": "900 C"}, "it must be between 60 and 260 °C"),
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


# --- what a target is for ----------------------------------------------------------------------------------------


TARGET = {"name": "Brick", "lab": "40, 41, 25"}


def taps(page):
    return {attrs["value"]: words for attrs, words in page.all("button") if attrs.get("name") == "state"}


def test_an_old_target_asks_once_what_it_is_for_and_that_can_be_undone(two):  # noqa: F811
    assert not taps(two.get("/shade?name=Brick"))  # no target, nothing to ask
    page = two.sent("/shade/target", **TARGET)
    assert [*taps(page)] == ["air-dried", "heat-set", "washed 1", "rubbed"]  # a wet colour is no target
    page = two.sent("/shade/target", name="Brick", state="heat-set")
    assert not taps(page)
    assert two.library.shade("Brick").target_state == State("heat-set")
    assert two.library.shade("Brick").target == (40.0, 41.0, 25.0)
    (undo,) = [attrs["action"] for attrs, _ in page.all("form") if attrs["action"].startswith("/changes/")]
    assert taps(two.sent(undo, shade="Brick"))
    assert two.library.shade("Brick").target_state is None


def test_the_last_treatment_is_one_tap_too(two):  # noqa: F811
    two.taken = 2
    two.keep("Brick", BLUE, batch="1", state="heat-set 150 C 4 min press")
    tapped = taps(two.sent("/shade/target", **TARGET))
    assert [*tapped][:3] == ["air-dried", "heat-set, 150 °C, 4 min, press", "heat-set"]
    assert tapped["heat-set, 150 °C, 4 min, press"] == "heat-set, 150 °C, 4 min, press, as last time"
    page = two.sent("/shade/target", name="Brick", state="heat-set, 150 °C, 4 min, press")
    assert two.library.shade("Brick").target_state == State("heat-set", how="150 °C, 4 min, press")
    assert "target heat-set, 150 °C, 4 min, press" in page.text


def test_numbers_and_their_state_are_set_in_one_form(two):  # noqa: F811
    two.sent("/shade/target", **TARGET, state="washed", washes="3", wash_how="40")
    assert str(two.library.shade("Brick").target_state) == "washed 3 times, 40 °C"
    form = filled(two.get("/shade?name=Brick"))
    assert (form["state"], form["washes"], form["wash_how"]) == ("washed", "3", "40 °C")
    two.sent("/shade/target", name="Brick", tolerance="1.2", **{key: form[key] for key in ("state", "washes")})
    assert two.library.shade("Brick").tolerance == 1.2


def test_a_record_s_state_is_the_target_s_whatever_is_tapped(two):  # noqa: F811
    two.taken = 2
    two.keep("Brick", BLUE, batch="1", state="heat-set 150 C")
    two.sent("/shade/target", name="Brick", record="3", state="air-dried")
    assert str(two.library.shade("Brick").target_state) == "heat-set, 150 °C"


@pytest.mark.parametrize(
    ("fields", "words"),
    [({"state": "burnt"}, "not one of the choices"), ({"state": "heat-set", "heat_how": "hot"}, "I can't read 'hot'")],
)
def test_a_target_s_state_that_cannot_be_read_changes_nothing(two, fields, words):  # noqa: F811
    answered = two.post("/shade/target", **TARGET, **fields)
    assert (answered.status_code, words in Page(answered.text).text) == (422, True)
    assert two.library.shade("Brick").target is None


def test_a_state_without_a_target_is_refused(two):  # noqa: F811
    assert "has no target" in Page(two.post("/shade/target", name="Brick", state="rubbed").text).text
    assert "be a target" in Page(two.post("/shade/target", **TARGET, state="wet").text).text


# --- compared across states --------------------------------------------------------------------------------------


@pytest.fixture
def compared(phone):  # noqa: F811
    """Brick has a heat-set target, and a strip of another day that is heat-set."""
    assert phone.post(f"{phone.place}/keep", **STRIP, state="heat-set").status_code == 303
    phone.typed("shade", "set", "Brick", "--target", "50,30,20", "--target-state", "heat-set 150 C")
    phone.later = later(phone, "f", shade="")
    return phone


def links(visit, address):
    page = Page(visit.client.get(address).text)
    return page, {words: unescape(href) for href, words in page.links.items()}


def test_both_states_stand_beside_the_colours(compared):
    page, _ = links(compared, f"{compared.later}?to=target&shade=Brick&state=heat-set+140+C")
    assert "the right strip heat-set, 140 °C" in page.text
    assert "the target of Brick heat-set, 150 °C" in page.text
    assert "The strip is heat-set, 140 °C." in page.text


def test_across_states_the_page_tells_the_command_s_numbers_and_that_they_are_predicted(compared, tmp_path):
    library = open_library(compared.library)
    for number, lab in enumerate(((41, 42, 25), (52, 30, 34), (60, 10, 50)), start=1):
        for state, day, colour in (("air-dried", 1, lab), ("heat-set 150 C", 2, (lab[0] - 3, lab[1] + 1, lab[2]))):
            said = entry_of("Test", state, batch=str(number), measured=f"2026-03-0{day}")
            keep_record(library, measurement(tmp_path / "pairs", 10 * number + day, colour), "left", said)
    page, _ = links(compared, f"{compared.later}?to=target&shade=Brick&state=air-dried")
    words = ["--card", CARD, "--shade", "Brick", "--against-target", "--state", "air-dried"]
    facts = compared.typed("check", str(PHOTO), *words)
    low, high = facts["difference"]["interval95"]
    assert facts["states"]["carried_over"] == "strip"
    assert f"CIEDE2000 {facts['difference']['ciede2000']:.2f}, in 95 of 100 cases {low:.2f} to {high:.2f}" in page.text
    assert "the right strip predicted once heat-set; now air-dried" in page.text
    assert "The right strip once heat-set is" in page.text


def test_what_nobody_said_is_taken_to_be_dry_and_said(compared):
    compared.typed("shade", "set", "Brick", "--target-state", "air-dried")
    page, _ = links(compared, f"{compared.later}?to=target&shade=Brick")
    assert "The strip is taken to be air-dried." in page.text
    assert "state" not in form_of(compared, compared.later)[0]


def test_a_refusal_across_states_offers_what_can_be_compared(compared):
    page, there = links(compared, f"{compared.later}?to=target&shade=Brick&state=air-dried")
    assert "One colour is air-dried, the other heat-set." in page.text
    assert "This strip is heat-set" in there
    page, _ = links(compared, compared.later + there["This strip is heat-set"])
    assert "the right strip heat-set" in page.text


def test_a_dry_strip_of_a_shade_of_heat_set_ones_is_led_to_the_last_of_them(compared):
    page, there = links(compared, f"{compared.later}?to=shade&shade=Brick&state=air-dried")
    assert "no other record that is air-dried" in page.text
    way = there["Compare with the last heat-set strip, as this one will be"]
    assert "after_heat=yes" in way
    page, there = links(compared, compared.later + way)
    assert "was measured in both states, and 3 are needed" in page.text
    assert "Compare with the last heat-set strip, as this one will be" not in there  # it leads here


def test_a_result_with_a_target_whose_state_nobody_said_leads_to_where_it_is_said(phone):  # noqa: F811
    assert phone.post(f"{phone.place}/keep", **STRIP, state="heat-set").status_code == 303
    phone.typed("shade", "set", "Brick", "--target", "50,30,20")
    page, there = links(phone, f"{phone.place}?to=target&shade=Brick")
    assert "nobody said what was done to it" in page.text
    assert there["Say what the target is for"] == "/shade?name=Brick#target-state"
    assert "target-state" in [
        attrs.get("id") for attrs, _ in Page(phone.client.get("/shade?name=Brick").text).all("div")
    ]


def test_a_question_keeps_its_state_in_every_field(compared):
    said = "state=washed&washes=2&wash_how=40&heat_how=150+C"
    page, _ = links(compared, f"{compared.later}?to=target&shade=Brick&{said}")
    form = filled(page)
    assert (form["state"], form["washes"], form["wash_how"]) == ("washed", "2", "40 °C")


# --- the wall ----------------------------------------------------------------------------------------------------


def test_the_wall_shows_the_finished_colour_and_names_its_state(two):  # noqa: F811
    two.taken = 2
    two.keep("Brick", BLUE, batch="1", state="heat-set 150 C", measured="2026-02-01")
    two.keep("Brick", batch="2", state="washed 3", measured="2026-02-02")
    page = two.get("/shades")
    assert "Brick 2 batches heat-set, 150 °C 2026-02-01" in page.text
    assert re.search(r"Blue 1 batch air-dried \S+", page.text)
    page = two.get("/shade?name=Brick")
    assert "The last strip, heat-set, 150 °C" in page.text
    assert re.search(r"Newer than this strip: record \d, batch 1, air-dried", page.text)


# --- looked at by a browser --------------------------------------------------------------------------------------

# Words that are torn apart: a word without its hyphens lies on one line.
TORN = """() => {
  const torn = [], walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const around = node.parentElement;
    if (!around.checkVisibility() || around.closest("svg, option, textarea")) continue;
    for (const word of node.data.matchAll(/[^\\s-]+/g)) {
      if (/[0-9_]|\\w[.]\\w/.test(word[0])) continue;  // names of files, digests
      const range = document.createRange();
      range.setStart(node, word.index);
      range.setEnd(node, word.index + word[0].length);
      const boxes = [...range.getClientRects()].filter(each => each.width > 0);
      const lines = new Set(boxes.map(each => Math.round(each.top)));
      if (lines.size > 1) torn.push(word[0]);
    }
  }
  return torn;
}"""
TWICE = "addEventListener('DOMContentLoaded', () => document.documentElement.style.fontSize = '200%')"


def checked(eye, path=""):
    """The page is in order for everyone, and no word of it is torn."""
    if path:
        eye.go(path)
    assert eye.check().page.evaluate(TORN) == []
    return eye


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """A studio whose Brick was dry and heat-set, with a target that says nothing of its state."""
    folder = tmp_path_factory.mktemp("season")
    library = str(folder / "halm.sqlite")
    for photo, state in (("before_heat", "air-dried"), ("after_heat", "heat-set 150 C 4 min press")):
        words = [str(SAMPLES / f"{photo}.jpg"), "--card", CARD, "--shade", "Brick", "--batch", "1", "--state", state]
        assert CliRunner().invoke(main, ["keep", *words, "--library", library]).exit_code == 0
    words = ["shade", "set", "Brick", "--target", "50,30,20", "--library", library]
    assert CliRunner().invoke(main, words).exit_code == 0
    return folder / "halm.sqlite"


@pytest.mark.parametrize("look", ["large letters", "desk"])
def test_pages_of_states_are_open_to_everyone(chromium, season, tmp_path, look):
    library = tmp_path / "halm.sqlite"
    shutil.copytree(season.parent, tmp_path, dirs_exist_ok=True)
    settings = DESK | {"color_scheme": "dark"} if look == "desk" else PHONE
    with served(library) as shop, watched(chromium, shop, **settings) as eye:
        if look == "large letters":
            eye.page.add_init_script(TWICE)
        for path in ("/shades", "/shade?name=Brick", "/record/2", "/shades?record=2", "/?shade=Brick"):
            checked(eye, path)
        if look == "desk":  # the rest is the same page in other light
            return
        told = eye.page.get_by_label("How it was heat-set")
        assert not told.is_visible()
        eye.page.get_by_label("heat-set", exact=True).check()
        assert told.input_value() == "150 °C, 4 min, press"
        checked(eye).send("one_more")
        assert "heat-set, 150 °C, 4 min, press" in checked(eye).text()
        place = eye.page.url.partition("?")[0].removeprefix(eye.base)
        checked(eye, f"{place}?to=target&shade=Brick").press("Say what the target is for")
        eye.press("heat-set, 150 °C, 4 min, press, as last time")
        assert "target\nheat-set, 150 °C, 4 min, press" in checked(eye).text()
        checked(eye, place).press("Keep the right strip")
        assert eye.page.get_by_label("heat-set", exact=True).is_checked()
        for state in ("washed", "rubbed", "heat-set"):
            eye.page.get_by_label(state, exact=True).check()
            checked(eye)
        eye.page.fill("#batch", "2")
        assert "heat-set, 150 °C, 4 min, press" in checked(eye.press("Keep it")).text()
        eye.go(f"{place}?to=target&shade=Brick&state=air-dried")
        eye.faults.clear()  # the browser tells of a refusal by its status
        checked(eye)
        assert "One colour is air-dried, the other heat-set." in eye.text()
        eye.press("Compare with the last air-dried strip of Brick")
        assert "batch 1 of Brick\nair-dried" in checked(eye).text()
