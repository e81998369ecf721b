"""A pre-mix is kept as it really was weighed, with its lot; what it was made of came off the shelf."""

from __future__ import annotations

from datetime import date

import pytest

from swatchcam.errors import UsageError
from swatchcam.library.changes import log, undo
from swatchcam.library.proposal_store import keep_proposal, remove_proposal
from swatchcam.library.proposals import PIGMENT, PRE_MIX, Used
from swatchcam.library.shelf.ledger import holdings, take, weigh_left
from swatchcam.library.shelf.pigments import add_lot, pigment, pigments, set_pigment
from swatchcam.library.shelf.pre_mixes import keep_pre_mix, pre_mix_named, pre_mixes, set_pre_mix_drops
from swatchcam.library.shelf.studio import set_studio
from swatchcam.library.shelf.tools import tools_of
from swatchcam.messages.surface import TERMINAL
from swatchcam.recipes.drops import Drops
from swatchcam.recipes.premix import Making, PreMix, made_of, makings
from swatchcam.recipes.recipe import CLEAR_BASE
from tests.worlds.cheap_measurements import proposal

SCALE = 0.1
TODAY = date.today().isoformat()


def making(name="blue", ink=2.0, base=18.0, of=None):
    return Making(made_of(name, ink, base, SCALE, of), of, ink, base)


def grams_of(library):
    return {one.name: one.grams for one in holdings(library)}


@pytest.fixture
def stocked(library):
    """Blue and clear base are weighed; blue has two lots."""
    for name in ("blue", CLEAR_BASE):
        set_pigment(library, name, price=2.0)
    add_lot(library, "blue", "B-1", "2026-01-01")
    add_lot(library, "blue", "B-2", "2026-03-01")
    for one in holdings(library):
        weigh_left(library, one, 400.0)
    return library


def test_a_pre_mix_comes_back_as_it_was_weighed(stocked):
    done = keep_pre_mix(stocked, making(ink=2.03, base=18.1), mixed="2026-02-10")
    (jar,) = pre_mixes(stocked)
    expected = made_of("blue", 2.03, 18.1, SCALE)
    assert (jar.name, jar.share, jar.std) == ("blue 10 %", pytest.approx(2.03 / 20.13), expected.std)
    assert (jar.grams, jar.lot, jar.mixed, jar.drops) == (20.13, "B-1", "2026-02-10", None)
    assert grams_of(stocked) == {"blue 10 %": 20.13, "blue": 397.97, CLEAR_BASE: 381.9}
    assert pre_mix_named(stocked, "BLUE 10%") == jar
    undo(stocked, done.number)
    assert pre_mixes(stocked) == []
    assert grams_of(stocked) == {"blue": 400.0, CLEAR_BASE: 400.0}
    undo(stocked, log(stocked)[0].number)
    assert pre_mixes(stocked) == [jar]


def test_a_weak_one_is_made_of_the_strong_one_and_has_its_lot(stocked):
    keep_pre_mix(stocked, making(ink=5.0, base=45.0), mixed="2026-02-10")
    strong = pre_mix_named(stocked, "blue 10 %")
    keep_pre_mix(stocked, making(ink=4.0, base=36.0, of=strong))
    weak = pre_mix_named(stocked, "blue 1 %")
    assert (weak.share, weak.lot, weak.mixed, weak.grams) == (pytest.approx(0.01), "B-1", TODAY, 40.0)
    assert weak.std > strong.std  # both weighings, and those of the strong one
    assert grams_of(stocked) == {"blue 1 %": 40.0, "blue 10 %": 46.0, "blue": 395.0, CLEAR_BASE: 319.0}


def test_a_jar_is_filled_anew_and_its_bottle_stays(stocked):
    keep_pre_mix(stocked, making(), mixed="2026-02-10", lot="an old one")
    set_pre_mix_drops(stocked, "blue 10 %", Drops(0.05, 0.04))
    (before,) = pre_mixes(stocked)
    assert (before.drops, before.lot) == (Drops(0.05, 0.04), "an old one")
    done = keep_pre_mix(stocked, making(ink=3.0, base=27.2))
    (after,) = pre_mixes(stocked)
    assert (after.number, after.drops, after.grams, after.lot) == (before.number, before.drops, 30.2, "B-2")
    assert "the 20 g left of the old one no longer count" in TERMINAL.change(done.what)
    undo(stocked, done.number)
    assert pre_mixes(stocked) == [before]


def test_drops_counted_into_it_tell_of_the_bottle_they_came_from(library):
    drops = Drops(0.051, 0.05)
    keep_pre_mix(library, making("bleu d'été"), drops=drops)
    assert pigment(library, "bleu d'été").drops == drops  # a pigment that was not on the shelf before
    strong = pre_mix_named(library, "bleu d'été 10 %")
    assert strong.drops is None
    keep_pre_mix(library, making("BLEU D'ÉTÉ", 4.0, 36.0, strong), drops=Drops(0.04, 0.06))
    assert {jar.name: jar.drops for jar in pre_mixes(library)} == {
        "bleu d'été 1 %": None,
        "bleu d'été 10 %": Drops(0.04, 0.06),
    }
    undo(library, log(library)[1].number)
    assert pigments(library) == []


def test_a_pigment_that_is_not_on_the_shelf_can_have_a_pre_mix(library):
    keep_pre_mix(library, making("黒"))
    assert [(jar.name, jar.lot) for jar in pre_mixes(library)] == [("黒 10 %", "")]
    assert grams_of(library) == {"黒 10 %": 20.0}


REFUSED = (
    (lambda library: keep_pre_mix(library, making(ink=0.0)), "Amount of pigment"),
    (lambda library: keep_pre_mix(library, making(base=1.0)), "Pigment in the pre-mix: 66.6667 %"),
    (lambda library: keep_pre_mix(library, making("binder")), "Clear base is not a pigment"),
    (lambda library: keep_pre_mix(library, making(" ")), "has no name"),
    (lambda library: keep_pre_mix(library, making(), mixed="yesterday"), "not a date"),
    (
        lambda library: keep_pre_mix(library, making(of=PreMix("blue", 0.1, 0.01, number=7))),
        "no pre-mix called 'blue 10 %' on the shelf. Put it on the shelf first.",
    ),
    (lambda library: pre_mix_named(library, "blue 2 %"), "no pre-mix called 'blue 2 %'"),
    (lambda library: set_pre_mix_drops(library, "red 1 %", Drops(0.05, 0.1)), "no pre-mix called 'red 1 %'"),
)


@pytest.mark.parametrize(("ask", "told"), REFUSED)
def test_what_cannot_be_is_refused_and_changes_nothing(stocked, ask, told):
    before = log(stocked), pre_mixes(stocked)
    with pytest.raises(UsageError) as refusal:
        ask(stocked)
    assert told in TERMINAL.refusal(refusal.value)
    assert (log(stocked), pre_mixes(stocked)) == before


def test_a_name_that_is_nearly_one_is_asked_about(stocked):
    keep_pre_mix(stocked, making())
    with pytest.raises(UsageError, match=r"Did you mean blue 10 %\?"):
        pre_mix_named(stocked, "bleu 10 %")


def test_the_tools_are_what_the_studio_has(stocked):
    assert tools_of(stocked).scale_g == 0.1  # common practice, until somebody says
    set_studio(stocked, scale_g=1.0)
    set_pigment(stocked, "Blue", drops=Drops(0.05, 0.04), least_g=0.5)
    keep_pre_mix(stocked, making(ink=5.0, base=45.0))
    keep_pre_mix(stocked, making(ink=4.0, base=36.0, of=pre_mix_named(stocked, "blue 10 %")))
    tools = tools_of(stocked)
    assert (tools.scale_g, tools_of(stocked, 0.01).scale_g, tools.make) == (1.0, 0.01, False)
    assert (tools.drops, tools.least_g) == ({"blue": Drops(0.05, 0.04)}, {"blue": 0.5})
    assert [jar.name for jar in tools.pre_mixes_for("BLUE", 0.1)] == ["blue 10 %", "blue 1 %"]
    weak = next(one for one in holdings(stocked) if one.name == "blue 1 %")
    take(stocked, weak, 40.0)
    assert [jar.name for jar in tools_of(stocked).pre_mixes_for("blue", 0.1)] == ["blue 10 %"]
    assert all(one.of == PIGMENT or one.name == "blue 10 %" for one in holdings(stocked))


def test_what_is_made_for_a_pot_is_on_the_shelf_with_it_and_gone_with_it(stocked):
    before = grams_of(stocked)
    used = (Used(PRE_MIX, "blue 1 %", 2.0), Used(PIGMENT, CLEAR_BASE, 30.0))
    kept = keep_proposal(stocked, proposal(used=used, makings=makings("blue", 0.01, 1.0, 2.0)))
    left = grams_of(stocked)
    assert (left["blue 10 %"], left["blue 1 %"]) == (180.0, 198.0)
    assert (left["blue"], left[CLEAR_BASE]) == (380.0, 10.0)
    assert pre_mix_named(stocked, "blue 1 %").lot == "B-2"
    again = keep_proposal(stocked, proposal(batch="", used=used, makings=makings("blue", 0.1, 1.0)))
    assert grams_of(stocked)["blue 10 %"] == 200.0  # filled anew
    assert grams_of(stocked)["blue 1 %"] == 196.0
    remove_proposal(stocked, again.number)
    assert grams_of(stocked) == left
    remove_proposal(stocked, kept.number)
    assert grams_of(stocked) == before


@pytest.mark.parametrize("name", ["red", "blue"])  # a new jar, and one that is there and filled anew
def test_a_jar_that_somebody_went_on_with_outlives_the_proposal_that_it_was_made_for(stocked, name):
    made, jar_name = makings(name, 0.1, 1.0), f"{name} 10 %"
    first = keep_proposal(stocked, proposal(makings=made, used=(Used(PRE_MIX, jar_name, 3.0),)))
    jar = pre_mix_named(stocked, jar_name)
    keep_proposal(stocked, proposal(batch="another", used=(Used(PRE_MIX, jar.name, 1.0, jar.number),)))
    done = remove_proposal(stocked, first.number)
    assert grams_of(stocked)[jar_name] == 199.0
    undo(stocked, done.number)
    assert grams_of(stocked)[jar_name] == 196.0
