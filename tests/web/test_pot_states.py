"""The pages of the pot ask what was done to the cloth that is matched, and show the dry colour by the finished one."""

from __future__ import annotations

import re
import shutil
from dataclasses import asdict

import pytest

from swatchcam.library.changes import set_target
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import proposals
from swatchcam.library.records import DRY, HEAT_SET, State
from swatchcam.mixing.fresh_pot import new_recipe, repeated
from swatchcam.mixing.order import Order
from swatchcam.mixing.pot_in_hand import correct_sitting
from swatchcam.mixing.requests import CorrectionRequest, Hand, PrintConditions
from swatchcam.mixing.target import TargetRequest
from swatchcam.web.inbox import Tray
from swatchcam.web.older_words import WORDS, in_todays_words
from tests.web.browser import PHONE, served, watched
from tests.web.test_pot import AtOnce, Phone, form_in, phone_in, plain, told
from tests.web.test_states import TWICE, checked
from tests.web.visitor import studio_in
from tests.worlds.mixing_library import FINISHED, ORANGE, WANTED, Camera, finished_shop

pytestmark = pytest.mark.usefixtures("remembered_palettes")

NUMBERS = "55,40,30"
ORDER = Order(480, 0.01)
SAID = {"grams": "480", "scale": "0.01"}
NOBODY_SAID = "nobody has said what was done to the cloth with this colour"


@pytest.fixture
def phone(finished_stock, tmp_path):
    return phone_in(finished_stock, tmp_path, heats=True)


@pytest.fixture
def today(phone, monkeypatch, tmp_path):
    """The strip that is wanted in the left window, that of the pot in the right one: (photo, sitting)."""
    return phone.photo(Camera(phone.shop.world, monkeypatch), tmp_path / "today.jpg", left=WANTED, right=ORANGE)


def aim(phone, state=FINISHED):
    set_target(phone.library, "orange", (50.0, 45.0, 40.0), state=state)


def read(html):
    """What is read on a page, its stops where they belong."""
    return plain(html).replace(" .", ".").replace(" ,", ",")


def answers(item):
    return item.answer["answers"]


def recipe(phone, *asked, **said):
    return told(new_recipe(phone.library, TargetRequest(*asked, **said), ORDER, PrintConditions()), ORDER)


def offered(html):
    """What may be tapped as the target's state, and what is."""
    inputs = re.findall(r'<input type="radio" name="target_state" value="([^"]*)"( checked)?', html)
    return [value for value, _ in inputs], [value for value, checked in inputs if checked]


# --- what was done to the cloth that has this colour -----------------------------------------------------------


def test_of_numbers_it_is_asked_with_one_tap_and_never_guessed(phone):
    html = phone.go("/pot/recipe")
    assert offered(html) == (["", "air-dried", "heat-set"], [""])
    assert "What was done to the cloth that has this colour?" in read(html)
    unsaid = phone.asked("/pot/recipe", numbers=NUMBERS, **SAID)
    assert answers(unsaid) == recipe(phone, NUMBERS)
    page = read(phone.go(f"/mix/{unsaid.id}"))
    assert f"{NOBODY_SAID}, so this is for air-dried ink" in page
    tapped = phone.asked("/pot/recipe", numbers=NUMBERS, target_state="heat-set", **SAID)
    assert answers(tapped) == recipe(phone, NUMBERS, state=State(HEAT_SET))
    assert NOBODY_SAID not in read(phone.go(f"/mix/{tapped.id}"))
    again = phone.go(f"/pot/recipe?like_mix={tapped.id}")
    assert offered(again)[1] == ["heat-set"]


def test_where_the_library_knows_it_the_state_stands_there(phone):
    aim(phone)
    html = phone.go("/pot/recipe?shade=orange")
    assert re.search(r'<option value="orange" selected data-known>orange, heat-set</option>', html)
    assert f"The colour of orange is for cloth that is {FINISHED}." in read(html)
    assert '<fieldset class="unsaid">' in html  # which is out of sight while what is chosen is known
    again = phone.go("/pot/again?shade=orange")
    assert f"The colour of orange is for cloth that is {FINISHED}." in read(again)
    assert offered(again) == ([], [])
    for path, words in (("/pot/recipe?shade=orange", {}), ("/pot/again?shade=orange", {})):
        item = phone.asked(path, **SAID | words)
        assert (answers(item)[0]["state"], answers(item)[0]["target"]["state"]) == (str(FINISHED), str(FINISHED))
        assert not [one for one in answers(item)[0]["flags"] if one["code"] == "target-state-unsaid"]


def test_of_a_target_without_a_state_it_is_asked(phone):
    set_target(phone.library, "orange", (50.0, 45.0, 40.0))
    for path in ("/pot/recipe?shade=orange", "/pot/again?shade=orange"):
        html = phone.go(path)
        assert "data-known" not in html
        assert offered(html) == (["", "air-dried", "heat-set"], [""])
    item = phone.asked("/pot/again?shade=orange", target_state="heat-set", **SAID)
    asked = TargetRequest(shade="orange", state=State(HEAT_SET))
    assert answers(item) == told(repeated(phone.library, asked, ORDER, PrintConditions()), ORDER)


def test_a_record_brings_its_own(phone):
    html = phone.go("/pot/recipe?record=14")
    assert re.search(r'<option value="record:14" selected data-known>record 14: .*, heat-set</option>', html)
    item = phone.asked("/pot/recipe?record=14", **SAID)
    assert answers(item) == recipe(phone, record=14)
    assert answers(item)[0]["target"]["state"] == str(FINISHED)


def test_of_a_strip_in_a_photo_what_was_said_when_it_was_sent_is_taken_over_in_sight(phone, today):
    photo, _ = today
    path = f"/pot/recipe?photo={photo}&strip=left"
    assert offered(phone.go(path))[1] == [""]
    assert offered(phone.go(f"{path}&target_state=heat-set"))[1] == ["heat-set"]
    item = phone.tray.item(photo)
    sent = phone.tray.put("sent heat-set", "photo", {"shade": "", "state": "heat-set"}, [(item.files[0], "today.jpg")])
    phone.tray.answer(sent.id, item.answer)
    assert offered(phone.go(f"/pot/recipe?photo={sent.id}&strip=left"))[1] == ["heat-set"]
    said = dict(form_in(phone.go(f"/pot/correct?photo={sent.id}&strip=right"), "/pot/correct"))
    assert (said["state"], said["target_state"]) == ("heat-set", "")
    said = dict(form_in(phone.go(f"/pot/correct?photo={photo}&strip=right"), "/pot/correct"))
    assert (said["state"], said["target_state"]) == ("air-dried", "")
    # How it was heated the last time stands ready, for whoever taps that.
    assert said["heat_how"] == "150 °C, 4 min, press"


def test_what_contradicts_the_library_is_refused_and_can_be_tapped_again(phone):
    aim(phone)
    item = phone.asked("/pot/recipe?shade=orange", target_state="air-dried", **SAID)
    page = read(phone.go(f"/mix/{item.id}"))
    assert f"You said that the target is air-dried, but it is kept as {FINISHED}." in page
    assert "Leave the target's state empty" in page
    refused = phone.send("/pot/recipe?shade=orange", status=422, target_state="cured", **SAID)
    assert "What was done to the cloth that has this colour?: There is no state 'cured'." in read(refused)
    assert '<fieldset class="unsaid">' not in refused
    assert offered(refused)[1] == ["cured"]


# --- the pot's strip and what it is held against ----------------------------------------------------------------


def test_a_dry_strip_of_the_pot_is_held_against_the_finished_colour(phone, today):
    aim(phone)
    photo, sitting = today
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", pot=pot(phone), target="shade", **SAID)
    same = CorrectionRequest(TargetRequest(shade="orange"), ORDER, Hand("1", "right"))
    assert answers(item) == told(correct_sitting(phone.library, sitting, same), ORDER)
    assert answers(item)[0]["state"] == str(FINISHED)
    phone.go(f"/mix/{item.id}")
    (kept,) = phone.library.records(digest=sitting.digest)
    assert kept.state == DRY
    assert "pot now, finished" in read(phone.go(f"/mix/{item.id}"))


def test_the_wanted_strip_may_be_finished_while_the_pots_is_dry(phone, today):
    photo, sitting = today
    said = {"pot": pot(phone), "target": "strip:left", "target_state": "heat-set"}
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", **said, **SAID)
    asked = TargetRequest(shade="orange", state=State(HEAT_SET))
    same = CorrectionRequest(asked, ORDER, Hand("1", "right", "left"))
    assert answers(item) == told(correct_sitting(phone.library, sitting, same), ORDER)


def test_how_the_pots_strip_was_heated_is_kept_with_it(phone, today):
    photo, sitting = today
    said = {"pot": pot(phone), "target": "strip:left", "state": "heat-set", "heat_how": "at 160 C for 3 min"}
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", **said, **SAID)
    phone.go(f"/mix/{item.id}")
    (kept,) = phone.library.records(digest=sitting.digest)
    assert str(kept.state) == "heat-set, 160 °C, 3 min"
    html = phone.go(f"/pot/correct?like_mix={item.id}")
    assert 'value="at 160 C for 3 min"' in html or "heat-set, 160 °C, 3 min" in read(html)


def test_the_form_says_of_which_targets_the_state_is_known(phone):
    aim(phone)
    html = phone.go("/pot/correct?record=22")
    assert f"the colour of the shade, {FINISHED}" in read(html)
    assert html.count("data-known") == 1
    assert 'name="state"' not in html  # the record says it
    assert "record 22: orange, batch 1, air-dried." in read(html)


def pot(phone):
    return str(next(one.number for one in phone.library.batches("orange")))


# --- the answer ------------------------------------------------------------------------------------------------


def test_the_dry_colour_stands_beside_the_finished_one(phone):
    aim(phone)
    item = phone.asked("/pot/recipe?shade=orange", **SAID)
    html = phone.go(f"/mix/{item.id}")
    dry = answers(item)[0]["choices"][0]["when_dry"]
    page = read(html)
    assert f"For the finished colour: {FINISHED}." in page
    assert f"When dry, it must look like the right-hand colour, give or take {dry['interval95_ciede2000']:.1f}." in page
    assert html.count(dry["srgb_approx"]) >= 1
    assert "Heat-set" not in page  # enough strips show what heat does


def test_where_dry_is_what_is_wanted_nothing_new_appears(phone):
    item = phone.asked("/pot/recipe", numbers=NUMBERS, target_state="air-dried", **SAID)
    page = read(phone.go(f"/mix/{item.id}"))
    for words in ("finished", "When dry", "Heat-set"):
        assert words not in page
    assert "air-dried" in page


def test_the_strips_to_heat_set_next_are_one_tap_away(tmp_path):
    shop = finished_shop(str(tmp_path / "few.sqlite"), tmp_path, pairs=1)
    tray = Tray(tmp_path / "tray")
    place = str(tmp_path / "few.sqlite")
    few = Phone(studio_in(tmp_path, tray=tray, crew=AtOnce(tray, place), library=place), shop)
    item = few.asked("/pot/recipe", numbers=NUMBERS, target_state="heat-set", **SAID)
    html = few.go(f"/mix/{item.id}")
    asked = answers(item)[0]["treat_next"]
    assert len(asked) > 1
    assert answers(item)[0]["treat_words"] in read(html)
    for number in asked:
        assert f'<a href="/record/{number}">{number}</a>' in html
        few.go(f"/record/{number}")


# --- what is kept ----------------------------------------------------------------------------------------------


def test_a_choice_is_kept_with_its_targets_state_which_the_shade_may_take_over(phone):
    item = phone.asked("/pot/recipe", numbers=NUMBERS, target_state="heat-set", **SAID)
    place = f"/mix/{item.id}"
    phone.send(place, f"{place}/keep", shade="brick")
    (made,) = proposals(phone.library)
    assert made.state == made.target_state == State(HEAT_SET)
    assert "The colour of brick is for cloth that is heat-set." in read(phone.go("/pot/again?shade=brick"))
    assert "1 of" not in read(phone.go("/pot/predictions"))
    assert re.search(r"brick, batch \S+ \(recipe\), \S+( \S+)?, heat-set:", read(phone.go("/pot/predictions")))
    assert phone.send(place, "/shade/target").startswith("/shade?name=brick")
    assert phone.library.shade("brick").target_state == State(HEAT_SET)
    phone.shop.keep({"red": 1.0}, "brick", made.batch, recipe=None, measured="2099-01-01")
    assert "No proposal has been measured yet" in read(phone.go("/pot/predictions"))  # that strip was dry
    phone.shop.keep({"red": 1.0}, "brick", made.batch, recipe=None, measured="2099-01-01", state=State(HEAT_SET))
    assert re.search(r"brick, batch \S+ \(recipe\), heat-set: ", read(phone.go("/pot/predictions")))


# --- addresses and forms of an earlier version -------------------------------------------------------------------


def test_a_state_in_an_older_form_for_a_fresh_pot_is_the_targets(phone):
    assert offered(phone.go("/pot/recipe?state=heat-set"))[1] == ["heat-set"]
    assert offered(phone.go("/pot/recipe?state=air-dried"))[1] == [""]  # it stood there whoever looked at it
    older = [("numbers", NUMBERS), ("grams", "480"), ("scale", "0.01"), ("state", "heat-set")]
    token = [field for field in form_in(phone.go("/pot/recipe"), "/pot/recipe") if field[0] in ("token", "key")]
    place = phone.post("/pot/recipe", token + older)
    item = phone.tray.item(place.rpartition("/")[2])
    assert answers(item) == recipe(phone, NUMBERS, state=State(HEAT_SET))


@pytest.mark.parametrize(("chosen", "now"), [("heat-set", "heat-set"), ("air-dried", "")])
def test_a_question_that_waited_since_an_earlier_version_is_answered(phone, chosen, now):
    order = asdict(ORDER) | {"pigments": []}
    place = {"cloth": "", "ink": "", "state": chosen}
    typed = [["numbers", NUMBERS], ["state", chosen]]
    then = {"kind": "recipe", "order": order, "place": place, "typed": typed, "asked": {"target": NUMBERS}, WORDS: 2}
    asked = in_todays_words(then)
    assert asked["asked"] == {"target": NUMBERS, "state": now}
    assert asked["place"]["state"] == ""
    assert asked["typed"] == [["numbers", NUMBERS], *([["target_state", now]] if now else [])]
    of_a_pot = {"kind": "correction", "place": place, "typed": typed, "asked": {}, WORDS: 2}
    assert in_todays_words(of_a_pot) == {name: value for name, value in of_a_pot.items() if name != WORDS}


# --- looked at by a browser --------------------------------------------------------------------------------------


def test_the_pages_of_the_pot_are_open_to_everyone(chromium, finished_stock, tmp_path):
    shutil.copytree(finished_stock, tmp_path / "shop")
    place = tmp_path / "shop" / "halm.sqlite"
    set_target(open_library(str(place)), "orange", (50.0, 45.0, 40.0), state=FINISHED)
    with served(place) as shop, watched(chromium, shop, **PHONE) as eye:
        eye.page.add_init_script(TWICE)  # in large letters, on a phone: where a word is torn first
        asked = eye.page.locator("fieldset.unsaid")
        checked(eye, "/pot/correct?record=22")
        assert not asked.is_visible()  # the shade's target says it
        eye.page.get_by_label("numbers", exact=True).check()
        assert asked.is_visible()
        checked(eye, "/pot/again?shade=orange")
        checked(eye, "/pot/recipe")
        assert asked.is_visible()
        eye.page.select_option("#shade", value="orange")
        assert not asked.is_visible()
        eye.page.fill("#grams", "300")
        checked(eye.press("Work it out").wait())
        assert "When dry, it must look like the right-hand colour" in eye.text()
        eye.page.fill("#batch", "2")
        eye.press("Keep choice 1")
        assert "not measured yet" in checked(eye, "/pot/predictions").text().lower()
