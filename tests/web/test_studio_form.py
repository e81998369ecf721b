"""What the studio has is asked once: what is typed is saved, begins the forms of the pot, and is never lost."""

from __future__ import annotations

from html import unescape
from urllib.parse import quote

import pytest

from swatchcam.library.changes import set_target
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, parse_state
from swatchcam.library.shelf.pigments import pigment, set_pigment
from swatchcam.library.shelf.studio import Studio as Said
from swatchcam.library.shelf.studio import set_studio, studio_of
from swatchcam.recipes.scale_resolution import weighed_std
from swatchcam.web.inbox import Tray
from tests.web.test_pot import Phone, form_in, phone_in, plain
from tests.web.visitor import studio_in
from tests.worlds.mixing_library import CLOTH, FINISHED, ORANGE

pytestmark = pytest.mark.usefixtures("remembered_palettes")

SAID = {
    "scale": "1",
    "spoon": "5 ml",
    "pot": "50",
    "cloth": "white cotton",
    "state": "heat-set",
    "heat_how": "150 °C 4 min",
    "tolerance": "1,5",
}


@pytest.fixture
def phone(tmp_path):
    """A phone in a studio that keeps nothing yet."""
    place = str(tmp_path / "halm.sqlite")
    studio = studio_in(tmp_path, tray=Tray(tmp_path / "tray"), library=place)
    return Phone(studio, type("Shop", (), {"library": property(lambda _: open_library(place, create=True))})())


def now(phone):
    return studio_of(phone.library)


def send(phone, status=303, **said):
    return phone.send("/studio", status=status, **said)


def test_what_is_said_once_is_saved_and_stands_in_the_form(phone):
    assert send(phone, **SAID) == "/studio?saved=yes"
    state = parse_state("heat-set 150 °C, 4 min")
    assert now(phone) == Said(1.0, 5.0, 50.0, "", "white cotton", state, 1.5)
    fields = dict(form_in(phone.go("/studio"), "/studio"))
    assert fields.items() >= {"scale": "1", "pot": "50", "state": "heat-set", "heat_how": "150 °C, 4 min"}.items()
    assert "Saved." in plain(phone.go("/studio?saved=yes"))
    send(phone, scale="", spoon="10 spoons of water = 48 g")
    assert (now(phone).scale_g, now(phone).spoon_ml) == (None, pytest.approx(4.8))
    assert now(phone).pot_g == 50


def test_nothing_has_to_be_said(phone):
    assert send(phone) == "/studio?saved=yes"
    assert now(phone) == Said()


def test_drops_are_those_of_their_bottle(phone):
    set_pigment(phone.library, "blue", price=3)
    assert send(phone, scale="0,1", bottle=["blue", "red"], drops=["200 drops = 10,2 g", "20 drops = 1 g"])
    assert pigment(phone.library, "Blue").drops.grams == pytest.approx(0.051)
    assert pigment(phone.library, "red").drops.std > pigment(phone.library, "blue").drops.std
    assert "one drop weighs 0.051 g" in plain(phone.go("/studio"))


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("scale", "-1", "can't be read"),
        ("scale", "1e999", "can't be read"),
        ("pot", "999999999999999", "can't be right"),
        ("spoon", "<b>5</b>", "can't be read"),
        ("spoon", "1 spoon = 5 g", "1 spoon weighed 5 g"),
        ("tolerance", "0", "can't be right"),
        ("cloth", "x" * 121, "too long"),
        ("drops", "<i>many</i>", "can't be read as drops"),
        ("drops", "20 drops = 1 g", "too little to go by on a scale"),
        ("drops", "9" * 300 + " drops = 1 g", "can't be read as drops"),
        ("bottle", "clear base", "not counted in drops"),
        ("bottle", "violett", "did you mean"),
        ("bottle", "blue 3 %", "no pre-mix called"),
        ("card", "no such card", "not one of the choices"),
        ("state", "wettish", "not one of the choices"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field_and_nothing_is_lost_or_saved(phone, field, typed, words):
    set_pigment(phone.library, "violet")
    own = {"bottle": "blue", "drops": "200 drops = 10.2 g"}
    said = SAID | own | {field: typed}
    sent = said | {name: [first, said[name]] for name, first in (("bottle", "violet"), ("drops", ""))}
    page = send(phone, 422, **sent)
    assert words in plain(page)
    place = {"drops": "drops-2", "bottle": "drops-2"}.get(field, field)
    beside = page.partition(f'id="{place}-problem"')[2].partition("</p>")[0]
    assert words in plain(f"<p {beside}")
    assert "One field needs another look" in plain(page)
    kept = {name: value for name, value in said.items() if name not in ("card", "state")}
    assert kept.items() <= dict(form_in(page, "/studio")).items()
    assert typed == unescape(typed) or typed not in page
    assert now(phone) == Said()
    assert send(phone, **SAID) == "/studio?saved=yes"


def test_a_new_bottle_that_is_spelt_like_a_known_one_is_asked_about(phone):
    set_pigment(phone.library, "violet")
    said = {"scale": "1", "bottle": ["violet", "violett"], "drops": ["", "300 drops = 15 g"]}
    page = send(phone, 422, **said)
    assert "violett really is another pigment" in plain(page)
    phone.post("/studio", form_in(page, "/studio"), 303, {"sure": "violett"})
    assert pigment(phone.library, "violett").drops.grams == pytest.approx(0.05)
    assert pigment(phone.library, "violet").drops is None


def test_drops_without_a_scale_say_what_is_missing(phone):
    assert "Fill in the step of your scale too." in plain(send(phone, 422, bottle="blue", drops="200 drops = 10.2 g"))


def test_of_two_who_change_different_things_at_once_neither_undoes_the_other(phone):
    first, second = (form_in(phone.go("/studio"), "/studio") for _ in range(2))
    phone.post("/studio", first, 303, {"scale": "0.1"})
    phone.post("/studio", second, 303, {"pot": "250"})
    assert (now(phone).scale_g, now(phone).pot_g) == (0.1, 250)


def test_two_may_empty_the_same_field_at_once(phone):
    set_studio(phone.library, pot_g=50)
    for form in [form_in(phone.go("/studio"), "/studio") for _ in range(2)]:
        assert phone.post("/studio", form, 303, {"pot": ""}) == "/studio?saved=yes"
    assert now(phone) == Said()


@pytest.mark.parametrize("sure", ["", "blue 1 %"])
def test_drops_of_a_pre_mix_that_is_not_there_are_refused_before_anything_is_saved(phone, sure):
    page = send(phone, 422, scale="1", bottle="blue 1 %", drops="300 drops = 15 g", sure=sure)
    assert "no pre-mix called" in plain(page)
    assert "Nothing is saved yet" in plain(page)
    assert now(phone) == Said()


def test_a_scale_as_fine_as_a_command_takes_stands_in_the_form(phone):
    set_studio(phone.library, scale_g=0.0005)
    send(phone, pot="50")
    assert (now(phone).scale_g, now(phone).pot_g) == (0.0005, 50)
    send(phone, scale="0,0001")
    assert now(phone).scale_g == 1e-4


def test_names_stay_words_and_no_address_leads_elsewhere(phone):
    name = "<script>alert(1)</script>"
    set_pigment(phone.library, name, price=3)
    assert name not in phone.go("/studio")
    for back in ("//evil.example", "https://evil.example", "/pot/..//evil", "/shades", "/pot\\evil"):
        page = phone.client.get("/studio", params={"back": back}).text
        assert phone.post("/studio", form_in(page, "/studio"), 303, {"scale": "1"}) == "/studio?saved=yes"
        assert phone.post("/studio", form_in(page, "/studio"), 303, {"back": back}) == "/studio?saved=yes"
    page = phone.client.get("/studio", params={"back": "/pot/recipe?shade=moss"}).text
    assert phone.post("/studio", form_in(page, "/studio")) == "/pot/recipe?shade=moss"


# --- what it is good for ------------------------------------------------------------------------------------


@pytest.fixture
def shop(finished_stock, tmp_path):
    """A phone in a studio that knows its pigments, and that a shade is heat-set."""
    return phone_in(finished_stock, tmp_path, heats=True)


ASKED = "Say once what you weigh with"


def test_the_forms_of_the_pot_ask_for_it_until_it_is_said_and_begin_with_it(shop):
    paths = ["/pot", "/pot/recipe", "/pot/again?shade=orange"]
    assert all(ASKED in shop.go(path) for path in paths)
    page = shop.go(f"/studio?back={quote('/pot/again?shade=orange')}")
    assert shop.post("/studio", form_in(page, "/studio"), 303, SAID | {"scale": "0,5"}) == "/pot/again?shade=orange"
    assert not any(ASKED in shop.go(path) for path in paths)
    for path in paths[1:]:
        fields = dict(form_in(shop.go(path), path.partition("?")[0]))
        assert (fields["scale"], fields["grams"]) == ("0.5", "50")
    assert "as usual: heat-set, 150 °C, 4 min" in shop.go("/pot/recipe")
    assert dict(form_in(shop.go("/pot/recipe?grams=326"), "/pot/recipe"))["grams"] == "326"
    shop.studio.crew.hand_over = shop.studio.crew.asked.append  # what is asked is enough
    item = shop.asked("/pot/recipe", numbers="50, 20, 10")
    assert item.asked["order"].items() >= {"scale_g": 0.5, "grams": 50}.items()
    assert item.asked["asked"]["state"] == ""  # whoever works it out takes the usual one
    item = shop.asked("/pot/recipe", numbers="50, 20, 10", scale="0.01", grams="480", target_state="air-dried")
    assert item.asked["order"].items() >= {"scale_g": 0.01, "grams": 480}.items()
    assert item.asked["asked"]["state"] == "air-dried"
    assert dict(form_in(shop.go("/pot/recipe"), "/pot/recipe"))["scale"] == "0.5"  # what was said, not the last mix


def test_the_usual_cloth_and_state_are_those_of_the_answer_where_nothing_else_is_known(shop):
    shop.shop.keep(ORANGE, "peach", cloth="linen")
    send(shop, cloth=CLOTH, state="heat-set", heat_how="150 °C 4 min press")
    assert f"that of the shade or record, else {CLOTH}" in shop.go("/pot/recipe")
    facts = shop.asked("/pot/recipe", grams="300", numbers="50, 20, 10").answer["answers"][0]
    assert (facts["cloth"], facts["state"]) == (CLOTH, str(FINISHED))
    set_target(shop.library, "orange", (50.0, 45.0, 40.0), state=DRY)
    assert shop.asked("/pot/recipe", grams="300", shade="orange").answer["answers"][0]["state"] == "air-dried"


def test_the_usual_card_is_for_photos_without_a_number_and_the_number_is_the_first_choice(phone):
    first = phone.go("/")
    assert dict(form_in(first, "/photo"))["card"] == ""
    assert "as its number says; without a number, your only one" in first
    assert '<option value="nominal">colours as sent to the printer</option>' in first
    for card, told in (("sample-card", "sample-card"), ("nominal", "colours as sent to the printer")):
        send(phone, card=card)
        assert dict(form_in(phone.go("/"), "/photo"))["card"] == ""
        assert f"as its number says; without a number, {told}</option>" in phone.go("/")


def test_a_recipe_that_is_typed_is_read_by_the_studio_s_scale_and_bottles(shop):
    send(shop, scale="1", spoon="5", bottle=["red"], drops=["300 drops = 15 g"])
    name = shop.library.batches("orange")[0].name
    shop.send(f"/batch?shade=orange&batch={name}", recipe="clear base 500 g, red 12 drops, yellow 5 g")
    (recipe,) = [batch.recipe for batch in shop.library.batches("orange") if batch.name == name]
    grams = {part.what: (part.grams, part.grams_std) for part in recipe.parts}
    assert grams["red"][0] == pytest.approx(12 * 0.05)
    assert grams["yellow"][1] == pytest.approx(weighed_std(1.0))
