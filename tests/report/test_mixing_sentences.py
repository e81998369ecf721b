"""What the mixing table found is said in whole sentences, with the numbers that it found."""

from __future__ import annotations

import pytest

from swatchcam.library.proposals import KINDS
from swatchcam.messages.mixing import BETTER_LEFT, better_left
from swatchcam.mixing.gamut import Means, Need
from swatchcam.mixing.known_strip import KnownStrip
from swatchcam.mixing.opacity import Contrast, Opacity, Outcome
from swatchcam.mixing.order import Leave
from swatchcam.recipes.recipe import GRAMS, Part, Recipe
from swatchcam.recipes.thinning import thin
from swatchcam.report.mixing_sentences import (
    MANY_OF_KIND,
    advice_words,
    fresh_pot_words,
    known_strip_name,
    need_dict,
    need_words,
    opacity_words,
    topping_up_words,
)
from tests.worlds.studio_records import kept

POT = Recipe(tuple(Part(what, g, GRAMS, g, 0.04) for what, g in (("binder", 480.0), ("red", 15.0), ("black", 5.0))))
NEEDS = {
    Means.STRONGER_LOAD: Need(Means.STRONGER_LOAD, 0.42, 8.04),
    Means.MORE_PIGMENTS: Need(Means.MORE_PIGMENTS, 0.31, pigments=("blue", "red", "yellow")),
    Means.READY_BLACK: Need(Means.READY_BLACK),
    Means.ANOTHER_PIGMENT: Need(Means.ANOTHER_PIGMENT, direction=("lighter", "more vivid")),
}
EXACTLY = Contrast(0.9, 0.89, 0.91)


def opaque(outcome, contrast=EXACTLY, **passes):
    return Opacity(contrast, {int(name[1:]): each for name, each in passes.items()}, 0.98, outcome, ())


def test_each_reason_to_leave_a_pot_is_said():
    assert set(BETTER_LEFT) == {str(why) for why in Leave}
    assert better_left(Leave.NO_VISIBLE_DIFFERENCE, 0.3) == "you would not see the difference"
    assert "to bring it to 0.9 you would have to add less than you can weigh or dispense" in better_left(
        Leave.TOO_FINE, 0.91
    )


@pytest.mark.parametrize(
    ("means", "words"),
    [
        (
            Means.STRONGER_LOAD,
            "a stronger load: about 8 % of pigment would come to 0.4, but that is more",
        ),
        (Means.MORE_PIGMENTS, "3 pigments: Blue, red and yellow would come to 0.3"),
        (Means.READY_BLACK, "a ready-mixed black: "),
        (Means.ANOTHER_PIGMENT, "another pigment: the target is lighter and more vivid than anything these give"),
    ],
)
def test_each_way_to_come_nearer_is_said(means, words):
    assert need_words(NEEDS[means], {"blue": "Blue"}).startswith(words)


def test_a_pigment_beyond_its_own_limit_is_named():
    need = Need(Means.STRONGER_LOAD, 0.4, 8.0, {"blue": 5.04})
    assert need_words(need, {"blue": "Blue"}).startswith("a stronger load: 5 % of Blue would come to 0.4")
    assert need_dict(need, {"blue": "Blue"})["over_limit_percent"] == {"Blue": 5.04}


def test_every_way_to_come_nearer_has_a_code_and_a_sentence():
    assert set(NEEDS) == set(Means)
    for means, need in NEEDS.items():
        facts = need_dict(need, {})
        assert (facts["code"], facts["sentence"]) == (str(means), need_words(need, {}))


def test_both_ways_to_thin_are_told_with_what_they_leave():
    both = thin(POT, 0.8, 250)
    assert fresh_pot_words(both) == (
        "Fresh pot: 50.0 g of clear base and 200.0 g of the strong ink make 250.0 g, with 300.0 g of strong ink"
        " left over."
    )
    assert topping_up_words(both) == (
        "Topping up: 125.0 g of clear base into the strong pot makes 625.0 g, 375.0 g more than you want."
    )
    assert advice_words(both).startswith("Take the fresh pot: it needs 50 g of clear base instead of 125 g")
    assert "keeps 300 g of the strong ink for other shades" in advice_words(both)
    assert "375 g of thinned ink that nobody asked for" in advice_words(both)


def test_where_all_of_the_strong_ink_is_needed_both_ways_are_one():
    both = thin(POT, 0.8, 625)
    assert fresh_pot_words(both).endswith("make 625.0 g, with no strong ink left over.")
    assert topping_up_words(both).endswith("makes 625.0 g.")
    assert "both ways come to the same" in advice_words(both)


def test_a_pot_that_does_not_reach_says_how_much_it_makes_at_most():
    assert advice_words(thin(POT, 0.8, 1000)).startswith("This pot makes at most 625 g, 375 g less than you want")


def test_opacity_is_said_first_and_then_its_numbers():
    sure, low = Contrast(0.99, 0.985, 0.995), Contrast(0.93, 0.92, 0.94)
    assert opacity_words(opaque(Outcome.COVERS, sure)).startswith("Opaque in one pass: contrast ratio 0.990 (0.985 to")
    assert opacity_words(opaque(Outcome.SECOND_PASS, _2=sure, _3=sure)).startswith("Opaque in two passes: ")
    base = opacity_words(opaque(Outcome.NEEDS_BASE, _2=low, _3=sure))
    assert base.startswith("Not opaque, even in two passes: contrast ratio 0.900 (0.890 to 0.910), 0.98 wanted")
    assert base.endswith("Three passes would be opaque too: 0.990 (0.985 to 0.995).")
    assert "Three passes" not in opacity_words(opaque(Outcome.NEEDS_BASE, _2=low, _3=low))
    wide = Contrast(0.98, 0.96, 1.0)
    assert opacity_words(opaque(Outcome.CANNOT_TELL, wide)).startswith("Too close to tell for one pass")


def test_every_kind_has_its_words():
    assert set(MANY_OF_KIND) == set(KINDS)


def test_a_known_strip_is_called_by_its_record():
    strip = KnownStrip({}, {}, kept(), "orange")
    assert known_strip_name(strip) == "the pot"
    assert known_strip_name(KnownStrip({}, {}, kept(), "orange", 12)) == "record 12"
