"""What a person writes for a pot, a pre-mix or a pigment is found; where it may be two, one question is asked."""

from __future__ import annotations

import pytest

from swatchcam.errors import UsageError
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import keep_proposal
from swatchcam.library.proposals import PIGMENT, POT, PRE_MIX
from swatchcam.library.shelf.finding import set_drops, thing_called
from swatchcam.library.shelf.ledger import holdings, take, weigh_left
from swatchcam.library.shelf.pigments import pigment, pigments, set_pigment
from swatchcam.library.shelf.pre_mixes import keep_pre_mix, pre_mix_named
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.drops import Drops
from swatchcam.recipes.premix import Making, made_of
from tests.worlds.cheap_measurements import proposal, put

POTS = {"River  blue": ["3", "3.1"], "Øresund": ["2026-01-31"], "rose": ["1", "2"], "blue": ["9"]}


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    """Pots, two pigments of which one is called as a shade is, a pre-mix, and a shade of years without any pot left."""
    folder = tmp_path_factory.mktemp("shelf")
    library = open_library(str(folder / "halm.sqlite"), create=True)
    for shade, batch in ((shade, batch) for shade, batches in POTS.items() for batch in batches):
        keep_proposal(library, proposal(shade=shade, batch=batch))
    for number in range(5):
        put(library, folder / "shots", number, "old grey", batch=f"2019-{number}")
    for name in ("blue", "rouge 17"):
        set_pigment(library, name, price=1.0)
    keep_pre_mix(library, Making(made_of("blue", 1.0, 99.0, 0.01), None, 1.0, 99.0))
    weigh_left(library, next(one for one in holdings(library) if one.name == "2"), 0.0)
    return library


FOUND = {
    "river blue 3": (POT, "River blue", "3"),
    "RIVER BLUE, 3": (POT, "River blue", "3"),
    "river blue: batch 3": (POT, "River blue", "3"),
    "River blue/3.1": (POT, "River blue", "3.1"),
    "pot river blue 3": (POT, "River blue", "3"),
    "øresund 2026-01-31": (POT, "Øresund", "2026-01-31"),
    "Øresund": (POT, "Øresund", "2026-01-31"),
    "rose": (POT, "rose", "1"),  # the other pot of it is empty
    "old grey 2019-4": (POT, "old grey", "2019-4"),
    "blue 1 %": (PRE_MIX, "", "blue 1 %"),
    "blue 1%": (PRE_MIX, "", "blue 1 %"),
    "pre-mix blue 1 %": (PRE_MIX, "", "blue 1 %"),
    "Rouge 17": (PIGMENT, "", "rouge 17"),
    "pigment blue": (PIGMENT, "", "blue"),
    "pot blue": (POT, "blue", "9"),
    "blue 9": (POT, "blue", "9"),
}


@pytest.mark.parametrize("typed", FOUND)
def test_it_is_found_however_it_is_written(library, typed):
    found = thing_called(library, typed)
    assert (found.of, found.shade, found.name) == FOUND[typed]


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("blue", ["pigment blue", "pot blue, 9"]),
        ("river blue", ["pot River blue, 3", "pot River blue, 3.1"]),
        ("old grey", ["pot old grey, 2019-0", "pot old grey, 2019-1", "pot old grey, 2019-2", "pot old grey, 2019-3"]),
    ],
)
def test_where_it_may_be_two_things_one_question_is_asked_and_each_answer_is_found(library, typed, names):
    with pytest.raises(UsageError) as refusal:
        thing_called(library, typed)
    assert refusal.value.code == "several-called-so"
    assert refusal.value.facts["names"] == names
    for name in refusal.value.facts["names"]:
        assert f"'{name}'" in TERMINAL.remedy(refusal.value)
        assert thing_called(library, name)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("rivr blue 3", "Did you mean 'River blue 3'"),
        ("rouge 71", "'rouge 17'"),
        ("", "Write a pot as its shade and batch"),
        ("blue 2 %", "'blue 1 %'"),
        ("x" * 5000, "Write a pot as its shade and batch"),
    ],
)
def test_what_is_not_there_is_told_with_what_is_spelt_alike(library, typed, told):
    with pytest.raises(UsageError) as refusal:
        thing_called(library, typed)
    assert refusal.value.code == "nothing-called-so"
    assert told in TERMINAL.remedy(refusal.value)
    assert len(PAGE.refusal(refusal.value)) < 400


def test_the_clear_base_can_be_weighed_before_anything_is_said_of_it(tmp_path):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    for typed, grams in (("Binder", 900.0), ("clear  base", 850.5)):
        weigh_left(library, thing_called(library, typed), grams)
    take(library, thing_called(library, "clear base"), 50.5)
    assert [(one.name, one.grams) for one in holdings(library)] == [("clear base", 800.0)]
    assert pigments(library) == []


def test_drops_are_noted_of_the_bottle_that_is_meant(tmp_path):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    set_drops(library, "Bleu", Drops(0.05, 0.04))
    keep_pre_mix(library, Making(made_of("Bleu", 1.0, 9.0, 0.01), None, 1.0, 9.0))
    set_drops(library, " bleu 10 % ", Drops(0.06, 0.05))
    assert pigment(library, "bleu").drops == Drops(0.05, 0.04)
    assert pre_mix_named(library, "bleu 10 %").drops == Drops(0.06, 0.05)
    for name, told in (("blue", "'blue' is new: did you mean 'Bleu'"), ("bleu 1 %", r"Did you mean Bleu 10 %\?")):
        with pytest.raises(UsageError, match=told):
            set_drops(library, name, Drops(0.05, 0.04))
