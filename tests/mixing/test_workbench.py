"""What lies on the bench: strips of one cloth, state and light, of measured cards, and the shelf as it is today."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import partial

import pytest
from numpy.testing import assert_allclose

from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.changes import remove_record
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, State
from swatchcam.library.shelf.pigments import Lot, Pigment, add_lot, set_pigment
from swatchcam.library.shelf.prices import Cost
from swatchcam.messages.message import flag
from swatchcam.messages.surface import TERMINAL
from swatchcam.mixing import workbench as bench_module
from swatchcam.mixing.known_strip import pot_of_strip, strip_of
from swatchcam.mixing.strip_choice import choose
from swatchcam.mixing.workbench import Bench, set_up
from swatchcam.recipes.arithmetic import filled_up, weighed
from swatchcam.recipes.film_weight import Coat
from tests.worlds.mixing_library import CLOTH, INKS, Shop, studio

TODAY = date.today()
YESTERDAY, TOMORROW = ((TODAY + timedelta(days=days)).isoformat() for days in (-1, 1))


@pytest.fixture
def shop(tmp_path):
    return Shop(open_library(str(tmp_path / "halm.sqlite"), create=True), tmp_path / "shots")


@pytest.fixture(scope="module")
def known():
    """The bench of the usual studio, with nothing on its shelf."""
    return Bench(CLOTH, DRY, studio()[1], {}, {name: name for name in INKS}, True)


def loads(bench):
    """What the known strips hold, in the order of their records."""
    return [known_strip.shares for known_strip in bench.known_strips]


def refused(work, kind=UsageError):
    with pytest.raises(kind) as refusal:
        work()
    assert TERMINAL.problem(refusal.value)
    assert refusal.value.remedy
    return refusal.value


# --- let-down strips, strips by weight ------------------------------------------------------------------------


def test_a_let_down_strip_counts_as_what_is_in_it(shop):
    shop.keep({"blue": 22.0}, "deep blue", true={"blue": 2.0}, let_down=10.0)
    shop.keep({"blue": 22.0}, "deep blue", measured="2026-03-02")
    thin, strong = sorted(set_up(shop.library).known_strips, key=lambda one: one.shares["blue"])
    assert_allclose([thin.shares["blue"], strong.shares["blue"]], [2.0, 22.0], rtol=1e-3)
    assert thin.strip != strong.strip


def test_strips_by_weight_are_told_apart_by_thickness_also_once_they_are_heat_set(shop):
    for grams in (60.0, 75.0, 90.0):
        mark = f"{grams:g}"
        shop.keep({"blue": 1.0}, "blue", mark=mark, coat=Coat(grams, 0.015))
        shop.keep({"blue": 1.0}, "blue", mark=mark, state=State("heat-set"), measured="2026-03-02")
    for state, states in ((DRY, {False}), (State("heat-set"), {False, True})):
        bench = set_up(shop.library, state=state)
        assert {one.later for one in bench.known_strips} == states
        for later in states:
            films = [one.film for one in bench.known_strips if one.later == later]
            assert_allclose(films, [0.8, 1.0, 1.2], rtol=1e-12)


# --- which strips ---------------------------------------------------------------------------------------


def test_a_library_gives_back_what_it_was_taught(place, tmp_path):
    shop = Shop(open_library(place, create=True), tmp_path / "shots")
    shop.all_series()
    bench = set_up(shop.library)
    assert (bench.cloth, bench.state, bench.absolute, bench.flags) == (CLOTH, DRY, True, ())
    assert len(bench.known_strips) == len(studio()[1])
    for found, taught in zip(bench.known_strips, studio()[1], strict=True):
        assert found.shares == pytest.approx(taught.shares, rel=1e-6)
        assert found.colour.lab == pytest.approx(taught.colour.lab)
    assert_allclose(bench.palette.theta, studio()[2].theta, atol=0.01)  # weighed on a scale, not exactly


def test_only_the_cloth_and_the_state_that_are_asked_for(shop):
    shop.keep({"red": 1.0}, "brick")
    shop.keep({"red": 2.0}, "brick", "2", cloth="Linen")
    shop.keep({"red": 3.0}, "brick", "3", state=State("heat-set"))
    shop.keep({"red": 4.0}, "brick", "4", state=State("washed", 1))
    shop.keep({"red": 5.0}, "brick", "5", state=State("washed", 2))
    assert loads(set_up(shop.library, "WHITE  cotton")) == [{"red": pytest.approx(1.0)}]
    assert loads(set_up(shop.library, "linen")) == [{"red": pytest.approx(2.0)}]
    assert set_up(shop.library, "linen").cloth == "Linen"
    dry, heat_set, washed = (
        [(one.shares["red"], one.later) for one in set_up(shop.library, CLOTH, state).known_strips]
        for state in (DRY, State("heat-set", how="150 °C"), State("washed", 2))
    )
    assert dry == [(pytest.approx(1.0), False)]
    # Beside strips in that state those that are dry tell what the pigments do; no others do.
    assert heat_set == [(pytest.approx(1.0), False), (pytest.approx(3.0), True)]
    assert washed == [(pytest.approx(1.0), False), (pytest.approx(5.0), True)]


def test_strips_that_were_heated_clearly_otherwise_count_only_where_others_are_few(shop):
    usual, hot = State("heat-set", how="150 °C, 4 min"), State("heat-set", how="180 °C, 4 min")
    shop.keep({"red": 1.0}, "brick")
    for number in range(7):
        shop.keep({"red": 1.0}, "brick", f"u{number}", state=usual)
    shop.keep({"red": 1.0}, "brick", "hot", state=hot)
    bench = set_up(shop.library, state=usual)
    assert sum(one.later for one in bench.known_strips) == 8
    assert [one.facts["others"] for one in bench.flags if one.code == "pairs-treated-otherwise"] == [1]
    assert "few-in-state" not in {one.code for one in bench.flags}
    shop.keep({"red": 1.0}, "brick", "u7", state=usual)
    assert sum(one.later for one in set_up(shop.library, state=usual).known_strips) == 8
    assert "pairs-treated-otherwise" not in {one.code for one in set_up(shop.library, state=usual).flags}


def test_too_few_strips_in_the_state_of_the_target_are_told(shop):
    shop.keep({"red": 1.0}, "brick")
    assert [one.facts for one in set_up(shop.library, state=State("heat-set")).flags if one.code == "few-in-state"] == [
        {"count": 0, "enough": 8, "state": "heat-set"}
    ]


def test_a_pot_s_strip_in_a_third_state_is_refused(shop):
    shop.keep({"red": 1.0}, "brick")
    told = refused(lambda: set_up(shop.library, state=State("heat-set"), strips=State("washed", 1)))
    assert (told.code, told.facts["target"], told.facts["strip"]) == ("third-state", "heat-set", "washed once")


def test_a_colour_for_another_light_teaches_nothing(shop, monkeypatch):
    shop.keep({"red": 1.0}, "brick")
    usual = shop.world.kept
    monkeypatch.setattr(type(shop.world), "kept", lambda *given: replace(usual(*given[1:]), illuminant="D50"))
    shop.keep({"red": 2.0}, "brick", "2")
    monkeypatch.undo()
    assert loads(set_up(shop.library)) == [{"red": pytest.approx(1.0)}]


def test_what_has_no_recipe_teaches_nothing(shop):
    shop.keep({"red": 1.0}, "brick")
    shop.keep({"red": 2.0}, "brick", "2", recipe=None)
    assert loads(set_up(shop.library)) == [{"red": pytest.approx(1.0)}]


def test_a_record_that_was_taken_out_is_not_used(shop):
    shop.keep({"red": 1.0}, "brick")
    out = shop.keep({"red": 2.0}, "brick", "2")
    assert len(set_up(shop.library).known_strips) == 2
    remove_record(shop.library, out.number)
    assert loads(set_up(shop.library)) == [{"red": pytest.approx(1.0)}]


def test_an_ink_family_is_kept_apart_where_it_is_named(shop):
    shop.keep({"red": 1.0}, "brick", ink="Halm Base")
    shop.keep({"red": 2.0}, "brick", "2", ink="other base")
    assert len(set_up(shop.library).known_strips) == 2
    assert loads(set_up(shop.library, ink="halm base")) == [{"red": pytest.approx(1.0)}]
    assert refused(lambda: set_up(shop.library, ink="third"), LibraryError).code == "no-known-strips"


def test_several_cloths_are_named_where_none_was(shop):
    shop.keep({"red": 1.0}, "brick")
    shop.keep({"red": 2.0}, "brick", "2", cloth="linen")
    shop.keep({"red": 2.0}, "brick", "3", cloth="")
    told = refused(lambda: set_up(shop.library))
    assert (told.code, told.facts) == ("cloth-not-named", {"cloths": sorted(["linen", CLOTH])})
    assert all(name in TERMINAL.problem(told) for name in (CLOTH, "linen"))
    assert "--cloth" in TERMINAL.remedy(told)
    assert len(set_up(shop.library, "linen").known_strips) == 1  # the third may be on either


def test_a_strip_without_a_noted_cloth_blocks_nothing_and_is_taken_to_be_on_the_only_one(shop):
    shop.keep({"red": 1.0}, "brick")
    shop.keep({"red": 2.0}, "brick", "2", cloth="")
    bench = set_up(shop.library)
    assert (bench.cloth, len(bench.known_strips)) == (CLOTH, 2)
    assert flag("cloth-assumed", count=1, cloth=CLOTH) in bench.flags
    assert refused(lambda: set_up(shop.library, "silk"), LibraryError).code == "no-bare-cloth"


def test_of_several_cloths_a_pots_own_strips_are_on_the_one_that_it_is_looked_at_on(shop):
    shop.keep({"red": 1.0}, "brick")
    shop.keep({"red": 2.0}, "brick", "2", cloth="linen")
    shop.keep({"red": 3.0}, "rust", "7", cloth="")
    pot = pot_of_strip(strip_of("rust", "7"))
    assert loads(set_up(shop.library, CLOTH, pot=pot)) == [{"red": pytest.approx(1.0)}, {"red": pytest.approx(3.0)}]


def test_where_no_cloth_was_ever_noted_none_is_missed(shop):
    shop.keep({"red": 1.0}, "brick", cloth="")
    bench = set_up(shop.library)
    assert (bench.cloth, len(bench.known_strips), "cloth-assumed" in {one.code for one in bench.flags}) == (
        "",
        1,
        False,
    )


@pytest.mark.parametrize(("cloth", "words"), [("", "air-dried"), ("silk", "air-dried strip on silk")])
def test_where_nothing_is_known_it_is_said_how_to_begin(shop, cloth, words):
    told = refused(lambda: set_up(shop.library, cloth), LibraryError)
    assert words in TERMINAL.problem(told)
    assert "swatchcam pigment series" in TERMINAL.remedy(told)


def test_binder_alone_is_no_palette(shop):
    shop.keep({}, "binder alone")
    assert refused(lambda: set_up(shop.library).palette).code == "no-pigment-in-strips"


def test_a_studio_that_prints_much_does_not_forget_its_all_series(shop, monkeypatch):
    monkeypatch.setattr(bench_module, "choose", partial(choose, most=6))
    shop.keep({"blue": 1.0}, "series blue")
    for batch in range(7):
        shop.keep({"red": 1.0 + batch / 10}, "brick", f"{batch}")
    bench = set_up(shop.library)
    assert bench.palette.pigments == ("blue", "red")
    assert (len(bench.known_strips), len(bench.all_known)) == (6, 8)
    assert bench.flags == set_up(shop.library).flags
    assert not any(each.code == "strips-left-out" for each in bench.flags)  # nothing that anybody must know of


def test_what_is_asked_about_is_never_left_out(shop, monkeypatch):
    monkeypatch.setattr(bench_module, "choose", partial(choose, most=6))
    kept = [shop.keep({"red": 0.2 + batch / 10, "blue": 0.5}, "brick", f"{batch}") for batch in range(12)]
    for record in kept:
        by_colour = set_up(shop.library, about=[record.colour]).known_strips
        by_pot = set_up(shop.library, pot=pot_of_strip(strip_of(record.shade, record.batch))).known_strips
        assert record.number in {each.record for each in by_colour} & {each.record for each in by_pot}


# --- nominal cards -----------------------------------------------------------------------------------------


def test_beside_a_measured_card_a_nominal_one_teaches_nothing(shop):
    shop.keep({"red": 1.0}, "brick")
    shop.keep({"red": 2.0}, "brick", "2", nominal=True)
    bench = set_up(shop.library)
    assert loads(bench) == [{"red": pytest.approx(1.0)}]
    assert bench.absolute
    assert flag("strips-left-out", count=1, others=False) in bench.flags


def test_of_nominal_cards_only_the_one_with_the_most_teaches_and_that_is_flagged(shop):
    shop.keep({"red": 1.0}, "brick", nominal=True, card="nominal a5")
    shop.keep({"red": 2.0}, "brick", "2", nominal=True, card="nominal a6")
    shop.keep({"red": 3.0}, "brick", "3", nominal=True, card="nominal a6")
    bench = set_up(shop.library)
    assert loads(bench) == [{"red": pytest.approx(2.0)}, {"red": pytest.approx(3.0)}]
    assert not bench.absolute
    assert flag("all-nominal") in bench.flags
    (left_out,) = [each for each in bench.flags if each.code == "strips-left-out"]
    assert left_out.facts == {"count": 1, "others": True}
    assert TERMINAL.flag(left_out).startswith("left out: 1 strip measured with other cards that were never measured")


# --- what is weak ------------------------------------------------------------------------------------------


def test_a_series_of_four_and_binder_alone_need_no_flag(shop):
    shop.all_series((0.1, 0.5, 2.0, 5.0))
    assert set_up(shop.library).flags == ()


def test_bare_cloth_that_nobody_measured_is_flagged(shop):
    shop.all_series(binder=False)
    (weak,) = set_up(shop.library).flags
    assert weak == flag("no-clear-base-strip")


def test_few_series_are_flagged(shop):
    shop.keep({}, "binder alone")
    shop.keep({"red": 1.0}, "series red")
    shop.keep({"red": 1.0, "blue": 0.3, "yellow": 0.1}, "plum")
    none, red = set_up(shop.library).flags
    assert (red.code, red.facts) == ("short-test-series", {"pigment": "red", "count": 1, "enough": 4})
    assert (none.code, none.facts) == ("no-test-series", {"pigments": ["blue", "yellow"], "enough": 4})
    assert TERMINAL.flag(none).startswith("no test series yet for blue and yellow: ")
    assert TERMINAL.flag(red).startswith("only 1 strip of red alone: ")


# --- the shelf ---------------------------------------------------------------------------------------------


def test_names_are_those_that_the_studio_writes(shop):
    shop.keep({"Deep Red": 1.0, "blue": 0.5}, "brick", true={"red": 1.0, "blue": 0.5})
    set_pigment(shop.library, "BLUE")
    bench = set_up(shop.library)
    assert bench.names["deep red"] == "Deep Red"
    assert bench.names["blue"] == "BLUE"
    assert bench.palette.pigments == ("blue", "deep red")


def test_a_lot_in_use_makes_the_share_of_its_strips(shop):
    shop.keep({"red": 1.0}, "brick", "1", measured="2026-03-01")
    shop.keep({"red": 1.0}, "brick", "2", measured="2026-05-01")
    shop.keep({"red": 1.0}, "brick", "3", measured="2026-05-01", mixed="2026-03-31")
    set_pigment(shop.library, "Red")
    add_lot(shop.library, "red", "R-2", "2026-04-01", 1.2, 0.03)
    known_strips = {known_strip.record: known_strip for known_strip in set_up(shop.library).known_strips}
    assert [known_strip.shares["red"] for known_strip in known_strips.values()] == pytest.approx([1.0, 1.2, 1.0])
    stds = [known_strip.shares_std["red"] for known_strip in known_strips.values()]
    assert stds[1] > 0.03
    assert stds[0] == stds[2] < 0.01


def test_a_lot_counts_from_its_first_day_on(known):
    lots = (Lot("old", "2020-01-01", 0.8, 0.0), Lot("new", TOMORROW, 1.4, 0.0))
    bench = replace(known, shelf={"red": Pigment("Red", None, None, None, "", lots)})
    assert bench.strengths() == {"black": 1.0, "blue": 1.0, "red": 0.8, "yellow": 1.0}
    today = replace(lots[1], since=TODAY.isoformat())
    bench = replace(known, shelf={"red": Pigment("Red", None, None, None, "", (lots[0], today))})
    assert bench.strengths(("RED", "blue")) == {"blue": 1.0, "red": 1.4}


def test_a_pigment_that_was_asked_for_and_is_not_known_is_refused(known):
    told = refused(lambda: known.strengths(("red", "ochre")))
    assert (told.code, told.facts["pigment"]) == ("pigment-without-series", "ochre")
    assert set(told.facts["known"]) == set(INKS)
    assert all(name in TERMINAL.remedy(told) for name in INKS)


def test_a_pigment_that_only_stands_on_the_shelf_is_not_known_yet(known):
    bench = replace(known, shelf={"ochre": Pigment("ochre", None, None, 3.0, "", ())})
    assert "ochre" not in bench.strengths()
    assert "'ochre'" in TERMINAL.problem(refused(lambda: bench.strengths(("ochre",))))


def test_each_pigments_own_limits_are_known_where_somebody_said(known):
    shelf = {
        "red": Pigment("Red", 4.0, None, None, "", ()),
        "blue": Pigment("blue", None, 0.5, None, "", ()),
    }
    bench = replace(known, shelf=shelf)
    limits = bench.limits(2, 7.0)
    assert (dict(limits.each), limits.things, limits.most) == ({"red": 4.0}, 2, 7.0)
    assert bench.least_g == {"blue": 0.5}


def test_a_cost_is_known_only_if_all_prices_are(known):
    shelf = {
        "red": Pigment("Red", None, None, 12.0, "", ()),
        "blue": Pigment("blue", None, None, 5.0, "", ()),
        "black": Pigment("black", None, None, None, "", ()),
    }
    bench = replace(known, shelf=shelf)
    assert bench.cost(weighed({"Red": 50.0, "blue": 10.0}, 0.1)) == Cost(pytest.approx(6.5))
    assert bench.cost(weighed({}, 0.1)) == Cost(None, priced=False)
    assert bench.cost(weighed({"red": 1.0, "black": 1.0}, 0.1)) == Cost(None, ("black",))
    assert bench.cost(weighed({"yellow": 1.0}, 0.1)) == Cost(None, ("yellow",), priced=False)
    pot = filled_up({"red": 4.0}, 400.0, 0.1)
    assert bench.cost(pot) == Cost(None, ("clear base",))
    base = Pigment("clear base", None, None, 1.25, "", ())
    assert replace(bench, base=base).cost(pot) == Cost(pytest.approx(4 * 0.12 + 396 * 0.0125))


def test_one_strip_more_is_learned_from(known):
    world = studio()[0]
    pot = world.known_strip({"red": 1.0, "yellow": 1.0}, 900)
    more = known.with_known_strip(pot)
    assert more.known_strips == (*known.known_strips, pot)
    surer = more.palette.predict(pot.shares).radius
    assert surer < 0.8 * known.palette.predict(pot.shares).radius
