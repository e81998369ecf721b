"""A strip teaches what its pot's recipe says, in pigment of the strength that counts as 1."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import pytest
from numpy.testing import assert_allclose

from swatchcam.library.shelf.pigments import Lot, Pigment
from swatchcam.mixing.known_strip import (
    POT_STD,
    known_strip_of,
    known_strips_of,
    pot_of_strip,
    shares_of,
    strip_of,
)
from swatchcam.recipes.film_weight import EVENNESS, Coat
from swatchcam.recipes.recipe import parse_recipe
from tests.worlds.studio_records import RECIPE, batch, record

SHELF = {
    "red": Pigment(
        "Red",
        None,
        None,
        None,
        "",
        (Lot("first", "2026-01-01", 1.0, 0.0), Lot("second", "2026-03-01", 1.2, 0.05)),
    )
}


def test_shares_are_those_of_the_whole():
    # 3 g of 100 g, by hand; names in small letters, as pigments are known everywhere.
    shares, std = shares_of(parse_recipe("binder 96 g, Red 3 g, Light  Yellow 1 g", scale_g=0.1))
    assert_allclose([shares["red"], shares["light yellow"]], [3.0, 1.0], rtol=1e-12)
    # JCGM 100:2008, 5.1.2: of 100 m / (m + rest), each weight off by 0.1 / sqrt(6) g.
    each = 0.1 / sqrt(6)
    assert std["red"] == pytest.approx(hypot(0.97 * each, 0.03 * each * sqrt(2)), rel=1e-12)


def test_a_pot_without_recipe_teaches_nothing():
    assert known_strip_of(record(), batch(recipe=None), {}) is None
    assert known_strips_of([record()], [batch(recipe=None)], {}) == []


def test_a_pigment_that_is_on_no_shelf_counts_as_it_was_weighed():
    assert known_strip_of(record(), batch(), {}).shares == shares_of(RECIPE)[0]
    assert known_strip_of(record(), batch(), SHELF).shares["yellow"] == shares_of(RECIPE)[0]["yellow"]


@pytest.mark.parametrize(("mixed", "strength"), [("2025-12-31", 1.0), ("2026-02-28", 1.0), ("2026-03-01", 1.2)])
def test_the_lot_in_use_when_the_pot_was_mixed_counts(mixed, strength):
    shares, std = shares_of(RECIPE)
    found = known_strip_of(record(), batch(mixed=mixed), SHELF)
    assert found.shares["red"] == pytest.approx(strength * shares["red"], rel=1e-12)
    off = 0.05 * shares["red"] if strength > 1 else 0.0
    slipped = POT_STD * strength * shares["red"]  # what else may have gone wrong with a pot
    assert found.shares_std["red"] == pytest.approx(hypot(strength * std["red"], off, slipped), rel=1e-12)


def test_of_a_strip_of_one_pigment_alone_nothing_but_the_scale_is_in_doubt():
    recipe = parse_recipe("binder 99 g, red 1 g")
    found = known_strip_of(record(), batch(recipe=recipe), {})
    assert found.shares_std == shares_of(recipe)[1]


def test_strips_of_one_pot_are_of_one_pot_whatever_their_mark():
    found = [known_strip_of(each, batch(), {}) for each in (record(1), record(2, mark="a"), record(3, mark="b"))]
    assert len({each.pot for each in found}) == 1
    assert found[0].pot == pot_of_strip(strip_of("Mohnrot", "B1"))
    assert known_strip_of(record(batch="B2"), batch(2), {}).pot != found[0].pot
    assert (found[0].film, found[0].film_std) == (1.0, None)


def test_of_a_pot_mixed_nobody_knows_when_the_day_of_its_record_counts():
    late = known_strip_of(record(measured="2026-04-01"), batch(mixed=""), SHELF)
    early = known_strip_of(record(measured="2026-02-01"), batch(mixed=""), SHELF)
    assert late.shares["red"] == pytest.approx(1.2 * early.shares["red"], rel=1e-12)


def test_photos_of_one_strip_are_of_one_strip_however_it_is_written():
    first, again = record(1, mark="a"), record(2, mark="A", shade="mohnrot")
    assert known_strip_of(first, batch(), {}).strip == known_strip_of(again, batch(), {}).strip
    others = record(mark="b"), record(batch="B2", mark="a")
    assert len({known_strip_of(each, batch(), {}).strip for each in (first, *others)}) == 3


def test_each_record_finds_its_own_pot():
    weak = replace(batch(2), recipe=parse_recipe("binder 99 g, red 1 g"))
    strong = replace(batch(3), recipe=parse_recipe("binder 97 g, red 3 g"))
    found = known_strips_of([record(7, batch="b3"), record(8, batch="B2")], [weak, strong], {})
    assert [round(known_strip.shares["red"], 9) for known_strip in found] == [3.0, 1.0]
    assert [known_strip.record for known_strip in found] == [7, 8]


# --- let-down strips, and strips that were weighed ------------------------------------------------------------


@pytest.mark.parametrize("let_down", [0.5, 10.0, 1000.0])
def test_a_let_down_strip_holds_its_part_of_the_pot(let_down):
    ink, pale = (known_strip_of(record(let_down=parts), batch(), SHELF) for parts in (0.0, let_down))
    # By hand: one part of ink in 1 + let_down parts of the whole.
    for name, share in ink.shares.items():
        assert pale.shares[name] == pytest.approx(share / (1 + let_down), rel=1e-12)
        assert pale.shares_std[name] == pytest.approx(ink.shares_std[name] / (1 + let_down), rel=1e-12)


def test_a_let_down_strip_is_another_strip_than_that_of_the_ink():
    strips = {known_strip_of(record(let_down=parts), batch(), {}).strip for parts in (0.0, 10.0, 10.0, 20.0)}
    assert len(strips) == 3


def weighed(*coats):
    """Strips of one pot, each marked, of so many g/m²."""
    strips = [record(n, mark=str(n), coat=coat and Coat(coat, 0.02)) for n, coat in enumerate(coats, start=1)]
    return known_strips_of(strips, [batch()], {})


def test_a_weighed_strip_is_so_many_times_the_usual_one():
    found = weighed(60.0, 90.0, None, 72.0, 84.0)
    assert_allclose([one.film for one in found], [60 / 78, 90 / 78, 1, 72 / 78, 84 / 78], rtol=1e-12)
    assert [one.film_std for one in found] == [hypot(0.02, EVENNESS)] * 2 + [None] + [hypot(0.02, EVENNESS)] * 2


def test_two_weighed_strips_do_not_say_what_is_usual():
    assert [(one.film, one.film_std) for one in weighed(60.0, None, 90.0)] == [(1.0, None)] * 3


def test_a_strip_that_was_photographed_often_counts_once():
    strips = [record(n, mark="A", coat=Coat(60.0, 0.02)) for n in range(1, 5)]
    strips += [record(5, mark="B", coat=Coat(80.0, 0.02)), record(6, mark="C", coat=Coat(90.0, 0.02))]
    found = known_strips_of(strips, [batch()], {})
    assert_allclose([one.film for one in found], [0.75] * 4 + [1.0, 1.125], rtol=1e-12)
