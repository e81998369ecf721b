"""Leftovers of any shade become a new pot on the phone, as on the command line; or one sees what they could become."""

from __future__ import annotations

import json
from urllib.parse import parse_qsl, urlsplit

import pytest

from swatchcam.errors import UsageError
from swatchcam.library.proposal_store import keep_proposal
from swatchcam.library.records import DRY
from swatchcam.library.shelf.ledger import holding, weigh_left
from swatchcam.library.shelf.studio import set_studio
from swatchcam.mixing.fresh_pot import new_recipe, shades_from_leftovers, used_up
from swatchcam.mixing.keep_choice import proposal_for
from swatchcam.mixing.order import Order
from swatchcam.mixing.requests import PrintConditions
from swatchcam.mixing.target import TargetRequest
from swatchcam.report.shelf.leftovers import leftovers_dict
from tests.web.test_pot import form_in, phone_in, plain, told
from tests.worlds.mixing_library import CLOTH, ORANGE

pytestmark = pytest.mark.usefixtures("remembered_palettes")

PATH = "/pot/use-up"


@pytest.fixture
def phone(finished_stock, tmp_path):
    """A phone in a studio with two pots of orange on its shelf."""
    found = phone_in(finished_stock, tmp_path, heats=True)
    for batch in mixed(found)[:2]:
        weigh_left(found.library, holding(found.library, "pot", batch.number), 180)
    return found


def mixed(phone):
    return [batch for batch in phone.library.batches("orange") if batch.recipe]


def given(batch):
    return f"orange {batch.name}=180"


def test_a_pot_of_leftovers_is_the_command_line_s(phone):
    first = mixed(phone)[0]
    item = phone.asked(f"{PATH}?pots={first.number}&shade=orange", grams="300,0", scale="0.1")
    order = Order(300, 0.1)
    answer = used_up(phone.library, TargetRequest(shade="orange"), order, PrintConditions(), [given(first)])
    assert item.answer["answers"] == told(answer, order)
    page = plain(phone.go(f"/mix/{item.id}"))
    assert f"left of orange, batch {first.name}" in page or f"left of batch {first.name} of orange" in page
    assert answer.proposed.choices[0].saved.base_g > 0
    assert f"saves {answer.proposed.choices[0].saved.base_g:.0f} g of clear base" in page
    phone.send(f"/mix/{item.id}", f"/mix/{item.id}/keep", shade="orange", batch="9")
    left = holding(phone.library, "pot", first.number).grams
    assert left == pytest.approx(180 - answer.proposed.choices[0].saved.grams)


def test_a_shade_that_was_made_for_a_colour_is_found_before_it_has_a_strip(phone):
    wanted, place = TargetRequest(target="52,38,30"), PrintConditions(CLOTH)
    answer = new_recipe(phone.library, wanted, Order(300, 0.1), place)
    keep_proposal(phone.library, proposal_for(answer, answer.proposed.choices[0], "peach", "1"))
    found = shades_from_leftovers(phone.library, DRY, Order(300, 0.1), place, ["peach 1=150"])
    assert "peach" in {one.shade.name for one in found}


@pytest.mark.parametrize(
    ("order", "grams", "code"),
    [(Order(300, pigments=("nosuch",)), 180, "pigment-without-series"), (Order(300), 0.4, "number-out-of-range")],
)
def test_an_order_that_makes_no_sense_is_no_lack_of_use(phone, order, grams, code):
    given = [f"orange {mixed(phone)[0].name}={grams}"]
    with pytest.raises(UsageError) as refused:
        shades_from_leftovers(phone.library, DRY, order, PrintConditions(), given, all_of_it=True)
    assert refused.value.code == code


def test_the_usual_cloth_is_that_of_a_pot_of_leftovers_too(phone):
    phone.shop.keep(ORANGE, "peach", cloth="linen")
    set_studio(phone.library, cloth=CLOTH)
    order = Order(300, 0.1)
    numbers = used_up(phone.library, TargetRequest(target="50,20,10"), order, PrintConditions())
    assert numbers.bench.cloth == CLOTH
    shades = shades_from_leftovers(phone.library, DRY, order, PrintConditions(), all_of_it=True)
    assert {one.bench.cloth for one in shades} <= {CLOTH}


def test_without_a_colour_the_shades_are_told_that_they_come_nearest_to(phone):
    assert f'href="{PATH}?pots=' in phone.go(f"/shelf/pot/{mixed(phone)[0].number}")
    item = phone.asked(PATH, scale="0.1")
    order = Order(1.0, 0.1)
    same = shades_from_leftovers(phone.library, DRY, order, PrintConditions(), all_of_it=True)
    assert item.answer["leftovers"] == json.loads(json.dumps(leftovers_dict(same, order)))
    assert [facts["shade"] for facts in item.answer["leftovers"]["shades"]] == ["orange"]
    page = phone.go(f"/mix/{item.id}")
    assert "Your leftovers come nearest to this shade" in plain(page)
    place = next(link for link in page.split('"') if link.startswith(f"{PATH}?") and "shade=orange" in link)
    said = dict(parse_qsl(urlsplit(place.replace("&amp;", "&")).query))
    assert said.items() >= {"shade": "orange", "scale": "0.1"}.items()
    assert "1 shade found" in plain(phone.go("/pot"))
    assert phone.client.get(f"/?mix={item.id}").status_code == 200
    assert phone.post(f"/mix/{item.id}/keep", form_in(phone.go(PATH), PATH), 422, {"choice": "1", "shade": "x"})


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"pots": "99999"}, "no longer in the library"),
        ({"pots": "<b>"}, "no longer in the library"),
        ({"shade": "orange", "numbers": "50, 20, 10"}, "more than one colour"),
        ({"grams": "1e9", "shade": "orange"}, "can't be read"),
        ({"grams": "-3", "shade": "orange"}, "can't be read"),
        ({"numbers": "blue"}, "not three numbers"),
    ],
)
def test_what_cannot_be_is_told_and_stays(phone, said, words):
    page = phone.send(PATH, status=422, **said)
    assert words in plain(page)
    kept = {name: value for name, value in said.items() if name != "pots"}
    assert kept.items() <= dict(form_in(page, PATH)).items()


def test_with_nothing_left_the_page_says_where_to_say_it(finished_stock, tmp_path):
    assert "Nothing is left on the shelf" in plain(phone_in(finished_stock, tmp_path, heats=True).go(PATH))
