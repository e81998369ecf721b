"""Leftovers in a new pot: nothing is made or lost, nobody pours more than is left, and the colour stays."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.library.library import open_library
from swatchcam.library.proposals import POT, USE_UP
from swatchcam.library.records import DRY, Batch
from swatchcam.library.shelf.ledger import holding, holdings, weigh_left
from swatchcam.mixing.fresh_pot import shades_from_leftovers, used_up
from swatchcam.mixing.keep_choice import keep_choice, used_by
from swatchcam.mixing.known_strip import POT_STD, strip_of
from swatchcam.mixing.order import Order, Rest, saved_by
from swatchcam.mixing.pot_lookup import left_over_of_any
from swatchcam.mixing.recommend import known_strip_for, recipe_for
from swatchcam.mixing.requests import Answer, PrintConditions
from swatchcam.mixing.target import TargetRequest
from swatchcam.mixing.use_up import BY_COLOUR, WORSE, leftover_on, use_up
from swatchcam.mixing.workbench import Bench
from swatchcam.recipes.arithmetic import part_of, together, weighed
from swatchcam.recipes.recipe import BINDER, recipe_from_json, recipe_json
from swatchcam.report.mixing_sentences import saved_words
from tests.worlds.inkworld import made_by, off
from tests.worlds.mixing_library import CLOTH, INKS, Shop, pot_of, remember_palettes, studio

ORANGE, MOSS, SLATE, PLUM = (
    {"red": 1.0, "yellow": 1.0},
    {"blue": 0.8, "yellow": 0.5},
    {"black": 1.2},
    {"red": 0.3, "blue": 0.2},
)
OLD = (ORANGE, MOSS, SLATE, PLUM)
GRAMS = 120.0, 200.0, 75.5, 80.0
WANTED = {"paler orange": {"red": 0.6, "yellow": 0.7}, "brown": {"red": 0.5, "yellow": 0.6, "black": 0.1}, "plum": PLUM}
ORDER = Order(300, 0.01)


@cache
def bench():
    names = {name: name.capitalize() for name in INKS}
    found = Bench(CLOTH, DRY, studio()[1], {}, names, True)
    found.__dict__["palette"] = studio()[2]  # learned already
    return found


def left(number, grams, on=None, **said):
    usual = {
        "shade": f"shade {number}",
        "name": "1",
        "mixed": "",
        "ink": "",
        "recipe": pot_of(OLD[number]),
        "notes": "",
    }
    return leftover_on(on or bench(), Batch(number, **(usual | said)), grams)


def some(*grams):
    return [left(number, grams) for number, grams in enumerate(grams) if grams]


def wanted(shares):
    return made_by(bench().palette, shares)


@cache
def proposed(name, all_of_it=False):
    return use_up(bench(), wanted(WANTED[name]), some(*GRAMS), ORDER, all_of_it)


def contents(recipe):
    return {part.what.casefold(): part.grams for part in recipe.parts}


def shares(recipe):
    return {name.casefold(): share.percent for name, share in recipe.shares().items()}


def refused(work):
    with pytest.raises(UsageError) as refusal:
        work()
    return refusal.value.code


def holds_together(choice, grams):
    """Nothing is made or lost, and no more is taken than is left."""
    old = [part_of(rest.batch.recipe, rest.grams) for rest in choice.saved.rests]
    assert contents(choice.pot) == pytest.approx(contents(together(*old, choice.added)), abs=1e-9)
    assert choice.pot.grams == pytest.approx(grams, abs=0.011)
    assert shares(choice.pot) == pytest.approx(choice.mix.shares, rel=0.005, abs=1e-4)
    assert recipe_from_json(recipe_json(choice.pot)) == choice.pot
    assert choice.saved.base_g + choice.saved.pigment_g == pytest.approx(choice.saved.grams, abs=0.011)
    assert len({rest.batch.number for rest in choice.saved.rests}) == len(choice.saved.rests) >= 1
    for rest in choice.saved.rests:
        assert 0 < rest.grams <= rest.left == GRAMS[rest.batch.number]
        assert rest.grams in (rest.left, round(rest.grams))


@pytest.mark.parametrize("name", WANTED)
def test_a_pot_of_leftovers_holds_what_was_poured_into_it(name):
    assert proposed(name).kind == USE_UP
    for choice in proposed(name).choices:
        holds_together(choice, ORDER.grams)


@pytest.mark.parametrize("name", WANTED)
def test_it_is_nearly_as_near_as_a_fresh_pot_and_saves_clear_base(name):
    fresh = recipe_for(bench(), wanted(WANTED[name]), ORDER).choices[0].mix
    for choice in proposed(name).choices:
        assert choice.mix.distance <= fresh.distance + BY_COLOUR + 1e-9
        assert choice.mix.expected <= fresh.expected + WORSE + 1e-9
        base = {part.what: part.grams for part in choice.added.parts}.get(BINDER, 0.0)
        without = ORDER.grams * (1 - sum(fresh.amounts.values()))
        assert choice.saved.base_g == pytest.approx(without - base, abs=0.02)
    assert proposed(name).choices[0].saved.grams >= 0.2 * ORDER.grams


@pytest.mark.parametrize("name", WANTED)
def test_it_looks_as_wanted_by_the_truth_as_well(name):
    """The pigments are the world's, not the palette's."""
    world, best = studio()[0], proposed(name).choices[0]
    assert off(world.lab(shares(best.pot)), world.lab(WANTED[name])) <= best.mix.predicted.radius


def test_the_order_in_which_leftovers_are_named_does_not_matter():
    those, told = some(*GRAMS)[:3], set()
    for order in (those, [those[place] for place in (2, 0, 1)]):
        best = use_up(bench(), wanted(WANTED["brown"]), order, ORDER).choices
        told.add(tuple((choice.saved, choice.pot) for choice in best))
    assert len(told) == 1


def test_of_the_same_colour_all_goes_in_and_hardly_anything_is_weighed():
    best = use_up(bench(), wanted(ORANGE), some(120), Order(130, 0.01)).choices[0]
    assert best.saved.grams == 120
    assert best.saved.base_g == pytest.approx(120 * 0.98, abs=2)
    holds_together(best, 130)


@pytest.mark.parametrize("name", WANTED)
def test_as_much_as_leftovers_make_takes_all_of_them(name):
    for choice in proposed(name, True).choices:
        assert all(rest.grams == rest.left for rest in choice.saved.rests)
        assert choice.saved.grams >= 0.25 * choice.pot.grams
        holds_together(choice, choice.pot.grams)


@settings(max_examples=4, deadline=None, derandomize=True)
@given(
    st.lists(st.integers(1, 4000), min_size=4, max_size=4),
    st.sampled_from(list(WANTED.values())),
    st.sampled_from([0.01, 0.1, 1.0]),
    st.integers(40, 900),
)
def test_whatever_is_left_nothing_is_made_or_lost(tenths, aim, scale, whole):
    those = [left(number, min(grams / 10, 400.0)) for number, grams in enumerate(tenths)]
    found = ()
    with suppress(UsageError):  # nothing may be of use
        found = use_up(bench(), wanted(aim), those, Order(whole, scale)).choices
    for choice in found:
        old = [part_of(rest.batch.recipe, rest.grams) for rest in choice.saved.rests]
        assert contents(choice.pot) == pytest.approx(contents(together(*old, choice.added)), abs=1e-9)
        assert choice.pot.grams == pytest.approx(whole, abs=scale)
        assert all(0 < rest.grams <= rest.left for rest in choice.saved.rests)
        assert choice.saved.grams <= whole + 1e-9


def test_limits_hold_for_old_and_new_together():
    strong = left(0, 300, recipe=pot_of({"red": 3.0, "yellow": 3.0}))
    aim = wanted({"red": 2.6, "yellow": 2.8})
    for choice in use_up(bench(), aim, [strong], Order(300, 0.01, most=5.0)).choices:
        assert sum(choice.mix.shares.values()) <= 5 + 1e-9
    for choice in use_up(bench(), aim, [strong], Order(300, 0.01, ("red",))).choices:
        assert set(choice.mix.amounts) <= {"red"}


def test_what_cannot_become_the_colour_is_refused():
    assert refused(lambda: use_up(bench(), wanted({"yellow": 0.3}), some(0, 0, 75), ORDER)) == "nothing-to-use-up"


def test_what_nobody_knows_the_content_of_is_refused():
    assert refused(lambda: left(0, 50, recipe=None)) == "batch-without-recipe"
    assert refused(lambda: left(0, 50, recipe=pot_of({"gold": 1.0}))) == "pigment-without-series"
    assert refused(lambda: left(0, 501)) == "pot-heavier-than-recipe"


# --- how sure it is what is in old ink ----------------------------------------------------------------------


def test_a_pot_of_old_ink_is_less_sure_than_one_of_new_ink():
    """As far as its pigments may be off: the same content as a mix whose shares are off by `POT_STD`, by the model."""
    best = use_up(bench(), wanted(ORANGE), some(299.5), Order(300, 0.01)).choices[0].mix
    std = {name: POT_STD * share for name, share in best.shares.items()}
    same = bench().palette.predict(best.shares, std=std)
    assert np.trace(best.predicted.ink) == pytest.approx(np.trace(same.ink), rel=0.02)
    assert np.trace(best.predicted.ink) > np.trace(bench().palette.predict(best.shares).ink) + 0.1


@pytest.fixture(scope="module")
def measured():
    """The bench once a strip of the pot of orange was measured; there is less yellow in it than was written."""
    colour = studio()[0].kept({"red": 1.0, "yellow": 0.6}, 905)
    return bench().with_known_strip(known_strip_for(bench(), pot_of(ORANGE), colour, strip_of("shade 0", "1")))


def test_a_strip_of_the_old_pot_says_what_is_in_it_and_makes_it_surer(measured):
    known, unknown = left(0, 200, measured), left(0, 200)
    assert known.shares["yellow"] < unknown.shares["yellow"] == pytest.approx(1.0)
    target = made_by(measured.palette, {"red": 0.95, "yellow": 0.9})
    with_strip = use_up(measured, target, [known], Order(210, 0.01)).choices[0].mix
    without = use_up(measured, target, [replace(unknown, shares=known.shares)], Order(210, 0.01)).choices[0].mix
    assert set(with_strip.content.parts) == {known.pot}
    assert np.trace(with_strip.predicted.ink) < np.trace(without.predicted.ink)


# --- from the library ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("leftovers")
    shop = Shop(open_library(str(folder / "halm.sqlite"), create=True), folder / "shots")
    shop.all_series()
    shop.keep(ORANGE, "orange", "1")
    shop.keep(MOSS, "moss green", "1", ink="soft base")
    shop.keep(PLUM, "plum", "1", ink="hard base")
    with pytest.MonkeyPatch.context() as patch:
        remember_palettes(patch)
        yield shop


@pytest.fixture
def shelf(shop):
    """The same with 120 g of orange on the shelf; empty again afterwards."""
    batch = next(one for one in shop.library.batches() if one.shade == "orange")
    weigh_left(shop.library, holding(shop.library, POT, batch.number), 120.0)
    yield batch
    weigh_left(shop.library, holding(shop.library, POT, batch.number), 0.0)


ASKED, PLACE = TargetRequest(shade="orange"), PrintConditions()


def test_a_leftover_is_named_by_shade_and_batch(shop):
    batch, grams = left_over_of_any(shop.library, "Moss Green 1=12,5 g")
    assert (batch.shade, batch.name, grams) == ("moss green", "1", 12.5)
    assert left_over_of_any(shop.library, "orange 1=3")[0].shade == "orange"
    for text, code in {
        "orange=3": "left-over-unreadable",
        "orange 1": "left-over-unreadable",
        "orang 1=3": "shade-unknown",
        "orange 7=3": "batch-unknown",
    }.items():
        assert refused(lambda text=text: left_over_of_any(shop.library, text)) == code


def test_what_is_on_the_shelf_is_used_up_and_comes_off_it(shop, shelf):
    order = Order(200, 0.01, ("red", "yellow"))
    answer = used_up(shop.library, ASKED, order, PLACE)
    assert answer.rests == ((shelf, 120.0),)
    (old, *_) = used_by(answer, answer.proposed.choices[0])
    assert (old.of, old.number, old.grams, old.emptied) == (POT, shelf.number, 120.0, True)
    kept = keep_choice(shop.library, answer, "", "2")
    assert (kept.kind, kept.shade) == (USE_UP, "orange")
    assert holding(shop.library, POT, shelf.number).grams == 0


def test_of_a_pot_that_is_not_emptied_the_rest_stays_on_the_shelf():
    choice = use_up(bench(), wanted(ORANGE), some(400), Order(100, 0.01)).choices[0]
    (old, *_) = used_by(Answer(proposed("plum"), bench(), None), choice)
    assert (old.grams, old.emptied) == (choice.saved.grams, False)


def test_an_empty_shelf_is_refused(shop):
    for one in holdings(shop.library):
        if one.of == POT:
            weigh_left(shop.library, one, 0.0)
    assert refused(lambda: used_up(shop.library, ASKED, Order(200, 0.01), PLACE)) == "nothing-left"


def test_a_leftover_named_twice_and_different_inks_are_refused(shop):
    def using(*given):
        return lambda: used_up(shop.library, ASKED, Order(200, 0.01), PLACE, given)

    assert refused(using("orange 1=20", "orange 1=20")) == "leftover-named-twice"
    assert refused(using("moss green 1=20", "plum 1=20")) == "inks-mixed"


def test_without_a_colour_the_shades_come_that_are_nearest(shop):
    given = ["orange 1=120", "moss green 1=100"]
    answers = shades_from_leftovers(shop.library, DRY, Order(1, 0.01), PLACE, given, all_of_it=True)
    assert {answer.shade.name for answer in answers} >= {"orange", "moss green"}
    assert len(answers) <= 5
    assert all(answer.proposed.choices[0].saved.grams > 0 for answer in answers)


def test_ready_mixed_ink_that_is_saved_is_told_apart_from_pigment():
    bench, fresh = SimpleNamespace(ready=frozenset({"white"})), SimpleNamespace(amounts={"white": 0.5, "blue": 0.01})
    rest = Rest(SimpleNamespace(), 70.0, 70.0)
    saved = saved_by(bench, fresh, weighed({"binder": 10.0, "White": 20.0}, 0.1), (rest,), 100.0)
    assert (saved.base_g, saved.pigment_g, saved.ready_g) == pytest.approx((39.0, 1.0, 30.0))
    assert saved_words(saved) == [
        "Uses up 70 g of old ink and saves 39 g of clear base, 1.0 g of pigment and 30.0 g of ready-mixed ink."
    ]
    more = saved_by(bench, fresh, weighed({"White": 24.0, "blue": 6.0}, 0.1), (rest,), 100.0)
    assert saved_words(more)[0].endswith("26.0 g of ready-mixed ink, but takes 5.0 g more pigment than a fresh pot.")
