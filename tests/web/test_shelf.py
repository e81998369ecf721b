"""The shelf on the phone: what is weighed or taken is noted once, by whoever says it, and nothing of it is lost."""

from __future__ import annotations

import re
import time
from concurrent.futures import ThreadPoolExecutor
from html import escape

import pytest

from swatchcam.library import schema
from swatchcam.library.library import open_library
from swatchcam.library.shelf.ledger import holdings, row_of
from swatchcam.library.shelf.pigments import add_lot, set_pigment
from swatchcam.library.shelf.pre_mixes import keep_pre_mix
from swatchcam.recipes.premix import making
from swatchcam.web.inbox import Tray
from tests.web.test_pot import Phone, form_in, plain
from tests.web.visitor import studio_in
from tests.worlds.studio_records import HOSTILE

TODAY = "2026-04-01"


class Shop:
    """A library beside the tray."""

    def __init__(self, place):
        self.place = place

    @property
    def library(self):
        return open_library(self.place, create=True)


@pytest.fixture
def phone(tmp_path):
    """A phone in a studio with nothing on its shelf."""
    place = str(tmp_path / "halm.sqlite")
    studio = studio_in(tmp_path, tray=Tray(tmp_path / "tray"), library=place, today=lambda: TODAY)
    return Phone(studio, Shop(place))


def pot(phone, grams=None, shade="moss", batch="1", mixed=""):
    """A pot, with so much in it; the address of its page."""

    def write(connection):
        made = schema.now()
        shade_id = schema.find_or_insert(connection, schema.shade, {"name": shade, "key": shade.casefold()})
        values = {"shade_id": shade_id, "name": batch, "key": batch.casefold(), "mixed": mixed, "made": made}
        number = schema.insert(connection, schema.batch, values)
        if grams is not None:
            schema.insert(connection, schema.stock, row_of("pot", number, grams, "mixed") | {"made": made})
        return f"/shelf/pot/{number}"

    return phone.library.writing(write)


def left(phone, name="1"):
    return next(one.grams for one in holdings(phone.library) if one.name == name)


def test_the_shelf_tells_what_is_left_how_old_it_is_and_its_lot(phone):
    assert "No pots yet" in plain(phone.go("/shelf"))
    pot(phone, 120.5, mixed="2026-03-02")
    set_pigment(phone.library, "blue", price=3)
    add_lot(phone.library, "blue", "B-7", "2026-01-05")
    keep_pre_mix(phone.library, making("blue", 0.1, 1.0), mixed="2026-03-31")
    page = plain(phone.go("/shelf"))
    assert "moss, batch 1 : 120.5 g left mixed 2026-03-02, 30 days old" in page
    assert "blue 10 % : 200 g left mixed 2026-03-31, 1 day old lot B-7" in page
    assert "blue : not weighed yet lot B-7" in page


def test_what_is_left_or_taken_is_noted_and_can_be_undone(phone):
    place = pot(phone, 120)
    assert phone.send(place, grams="20,5 g", how="taken") == f"{place}?done=1"
    assert "99.5 g left" in plain(phone.go(place))
    told = phone.send(place, grams="95", how="left")
    assert left(phone) == 95
    page = phone.go(told)
    assert "noted that 95 g are left of batch '1' of 'moss'" in plain(page)
    assert phone.post("/changes/2/undo", form_in(page, "/changes/2/undo")).startswith(place)
    assert left(phone) == 99.5
    phone.send(place, grams="150", how="taken")
    assert "ore was taken than was known to be there, so weigh it" in plain(phone.go(place))
    phone.send(place, grams="0", how="left")
    assert place not in phone.go("/shelf")


def test_a_form_that_arrives_twice_counts_once_and_of_two_people_at_once_nothing_is_lost(phone):
    place = pot(phone, 120)
    form = form_in(phone.go(place), place)
    said = {"grams": "10", "how": "taken"}
    assert {phone.post(place, form, 303, said) for _ in range(3)} == {f"{place}?done=1"}
    assert left(phone) == 110
    forms = [form_in(phone.go(place), place) for _ in range(4)]
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda form: phone.post(place, form, 303, said), forms))
    assert left(phone) == 70


def test_another_weight_from_a_page_gone_back_to_counts(phone):
    place, other = pot(phone, 120), pot(phone, 50, batch="2")
    form = form_in(phone.go(place), place)
    phone.post(place, form, 303, {"grams": "10", "how": "left"})
    phone.post(place, form, 303, {"grams": "100", "how": "left"})
    phone.post(other, form, 303, {"grams": "100", "how": "left"})
    assert (left(phone), left(phone, "2")) == (100, 100)


@pytest.mark.parametrize(
    ("typed", "how", "words"),
    [
        ("", "left", "is empty"),
        ("-5", "left", "can't be read"),
        ("1e9", "taken", "can't be read"),
        ("9999999999", "taken", "can't be right"),
        ("0", "taken", "can't be right"),
        ("<b>5</b>", "left", "can't be read"),
        ("12", "stolen", "not one of the choices"),
    ],
)
def test_what_cannot_be_is_told_beside_the_field_and_stays_there(phone, typed, how, words):
    place = pot(phone, 120)
    page = phone.send(place, status=422, grams=typed, how=how)
    assert words in plain("<p" + page.partition('id="grams-problem"')[2].partition("</p>")[0])
    assert dict(form_in(page, place))["grams"] == typed
    assert left(phone) == 120


@pytest.mark.parametrize("path", ["/shelf/pot/99", "/shelf/pigment/1", "/shelf/pot/x", "/shelf/jar/1", "/shelf?of=jar"])
def test_what_is_not_there_is_told(phone, path):
    pot(phone, 120)
    assert phone.client.get(path).status_code in (404, 422)


def test_names_stay_words_and_a_day_to_come_is_told_as_it_stands(phone):
    for number, name in enumerate(HOSTILE):
        place = pot(phone, 10, shade=name, batch=f"{number}", mixed="2031-01-01")
        assert name not in phone.go(place) or name == escape(name)
        assert "Mixed 2031-01-01." in plain(phone.go(place))
    for path in ("/shelf", "/shelf?text=%3Cscript%3E", f"/shelf?text={'x' * 5000}"):
        assert not re.search("<script>|<img", phone.go(path).partition("<main")[2])


def test_thousands_of_pots_are_searched_and_paged_through_fast(phone):
    def write(connection):
        shade = schema.insert(connection, schema.shade, {"name": "moss", "key": "moss", "made": ""})
        rows = [{"shade_id": shade, "name": f"{n:04}", "key": f"{n:04}", "mixed": "", "made": ""} for n in range(5000)]
        connection.execute(schema.batch.insert(), rows)
        rows = [row_of("pot", n, 100, "mixed") | {"made": ""} for n in range(1, 5001)]
        connection.execute(schema.stock.insert(), rows)

    phone.library.writing(write)
    phone.go("/shelf")
    start = time.perf_counter()
    page = phone.go("/shelf")
    assert time.perf_counter() - start < 2  # s, of a slow computer
    assert "Pots (5000)" in page
    assert page.count('href="/shelf/pot/') == 20
    seen, path = [], "/shelf?of=pot&after=4960"
    while path:
        page = phone.go(path)
        seen += re.findall('href="(/shelf/pot/[0-9]+)"', page)
        path = next(iter(re.findall(r'href="([^"]+)">The next ones', page)), "").replace("&amp;", "&")
    assert seen == [f"/shelf/pot/{n}" for n in range(4961, 5001)]
    assert "moss, batch 4711" in plain(phone.go("/shelf?text=MOSS+4711"))
    assert "Nothing on the shelf fits" in plain(phone.go("/shelf?text=peach"))
    assert "There are no more" in plain(phone.go("/shelf?of=pot&after=99999999"))
