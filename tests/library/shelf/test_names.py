"""A new pigment that is spelt like a known one is asked about; other things keep their names."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.library.changes import undo
from swatchcam.library.library import open_library
from swatchcam.library.shelf.names import names_known, refuse_slips, slips, spelt_alike
from swatchcam.library.shelf.pigments import remove_pigment, set_pigment
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.recipe import parse_recipe
from tests.worlds.cheap_measurements import put

letters = st.text("abcde ", max_size=8)


@pytest.mark.parametrize(
    ("typed", "known"),
    [
        ("bleu", "blue"),
        ("rde", "red"),
        ("violett", "violet"),
        ("gray", "grey"),
        ("warmred", "warm red"),
        ("blue1", "blue 1"),
        ("ultramrine bleu", "ultramarine blue"),
        ("turqiouse", "turquoise"),
        ("clear bas", "clear base"),
    ],
)
def test_a_slip_of_the_hand_is_seen(typed, known):
    assert spelt_alike(typed, known)
    assert spelt_alike(known, typed)


@pytest.mark.parametrize(
    ("typed", "known"),
    [
        ("blue 2", "blue 1"),
        ("k", "c"),
        ("pr 1", "pb 1"),
        ("赤", "黒"),
        ("blue 1 %", "blue 10 %"),
        ("blue 1 %", "blue"),
        ("dark red", "dark green"),
        ("warm grey", "warm green"),
        ("light yellow", "yellow"),
        ("golden", "green"),
        ("black", "blue"),
        ("ochre", "orange"),
    ],
)
def test_other_things_are_not_asked_about(typed, known):
    assert not spelt_alike(typed, known)


def test_the_slips_are_those_of_the_source():
    # Damerau 1964, the four kinds of slip: one letter wrong, left out, added, or two next to each other swapped.
    assert [slips(typed, "golden") for typed in ("goldin", "goden", "goldern", "godlen", "golden")] == [1, 1, 1, 1, 0]


@given(letters, letters)
def test_slips_count_alike_from_both_sides_and_never_more_than_the_letters(one, other):
    found = slips(one, other)
    assert found == slips(other, one)
    assert abs(len(one) - len(other)) <= found <= max(len(one), len(other))
    assert (found == 0) == (one == other)


def test_what_is_known_is_what_is_on_the_shelf_and_in_any_recipe(tmp_path):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    put(library, tmp_path / "shots", 1, recipe=parse_recipe("binder 99 g, Warm  Red 1 g"))
    done = set_pigment(library, "Ochre")
    assert {*names_known(library)} == {"warm red", "ochre", "clear base"}
    refuse_slips(names_known(library), ["WARM RED", "blue", "binder"])
    with pytest.raises(UsageError) as refusal:
        refuse_slips(names_known(library), ["blue", "Ohcre"])
    assert TERMINAL.problem(refusal.value) == "'Ohcre' is new: did you mean 'Ochre'?"
    assert 'swatchcam pigment set "Ohcre"' in TERMINAL.remedy(refusal.value)
    assert "swatchcam" not in PAGE.remedy(refusal.value)
    set_pigment(library, "Ohcre")
    refuse_slips(names_known(library), ["Ohcre"])
    undo(library, done.number)
    remove_pigment(library, "Ohcre")
    assert {*names_known(library)} == {"warm red", "clear base"}


def test_a_pre_mix_in_a_recipe_is_no_new_pigment(tmp_path):
    """Its clear base would count as pigment, and every later prediction would be ten times too pale."""
    library = open_library(str(tmp_path / "library"), create=True)
    set_pigment(library, "blue")
    recipe = parse_recipe("clear base 90 g, blue 10 % 10 g")
    with pytest.raises(UsageError, match="name of a pre-mix") as refused:
        refuse_slips(names_known(library), recipe.shares())
    assert "how much of it is blue" in PAGE.remedy(refused.value)
    set_pigment(library, "blue 10 %")  # a pigment may be called so
    refuse_slips(names_known(library), recipe.shares())
