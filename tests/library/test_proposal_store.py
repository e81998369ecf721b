"""What the tool proposed and what is on the pigment shelf come back as they were kept; every change can be undone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from numpy.testing import assert_allclose
from sqlalchemy import text

from swatchcam.colorimetry.error_covariance import covariance_of_difference
from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.changes import log, merge_shades, remove_shade, rename_shade, undo
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import keep_proposal, next_name, proposals, remove_proposal
from swatchcam.library.records import State
from swatchcam.library.shelf.pigments import Lot, Pigment, add_lot, pigment, pigments, remove_pigment, set_pigment
from swatchcam.library.verify import verify
from swatchcam.measurement.verdict import between
from swatchcam.messages.surface import TERMINAL
from swatchcam.recipes.recipe import parse_recipe
from tests.worlds.cheap_measurements import proposal, put, tables

TODAY = date.today().isoformat()
RECIPE = parse_recipe("binder 500 g, red 3.2 g, black 2 drops")


@pytest.fixture
def file(tmp_path):
    """A library in a file, for what does not depend on the database."""
    return open_library(str(tmp_path / "halm.sqlite"), create=True)


@pytest.fixture
def photos(tmp_path):
    return tmp_path / "shots"


def refused(work, kind=UsageError):
    with pytest.raises(kind) as refusal:
        work()
    assert TERMINAL.remedy(refusal.value) != refusal.value.remedy
    return refusal.value


# --- proposals ----------------------------------------------------------------------------------------------


def test_a_proposal_comes_back_as_it_was_kept(library, photos):
    put(library, photos, 1, batch="3", ink="water-based", recipe=RECIPE)
    said = {
        "kind": "correction",
        "from_batch": "3",
        "target": (50.125, -1 / 3, 1e-17),
        "target_words": "das Rot der Wand; „Öl“",
        "cloth": "Leinen, weiß",
        "state": State("washed", 3),
        "words": "two\nlines",
        "facts": {"added": [{"what": "black", "grams": 0.15}], "cost": None},
    }
    kept = keep_proposal(library, proposal(**said))
    assert kept == proposal(**said, number=kept.number, batch="3.1", made=kept.made)
    assert proposals(library) == [kept]
    (batch,) = [one for one in library.batches("brick") if one.name == "3.1"]
    assert (batch.recipe, batch.ink, batch.mixed) == (kept.recipe, "water-based", TODAY)
    assert kept.day == TODAY
    assert verify(library)[1] == []


def test_a_proposal_makes_its_shade_and_a_batch_of_the_day(file):
    names = [keep_proposal(file, proposal(shade=name)).batch for name in ("Brick", "brick ", "Sage")]
    assert names == [TODAY, f"{TODAY}.1", TODAY]
    assert [shade.name for shade in file.shades()] == ["Brick", "Sage"]
    assert keep_proposal(file, proposal(batch=" pot  7"), ink="opaque").batch == "pot 7"
    assert {batch.name: batch.ink for batch in file.batches()}["pot 7"] == "opaque"


def test_a_strip_without_a_cloth_is_on_that_of_its_pot_else_on_the_shades(file, photos):
    keep_proposal(file, proposal(shade="brick", batch="7", cloth="linen"))
    assert put(file, photos, 1, batch="7").cloth == "linen"
    assert put(file, photos, 2, batch="7", cloth="silk").cloth == "silk"
    assert put(file, photos, 3, batch="7").cloth == "silk"  # what was noted of the pot is newer than its proposal
    assert put(file, photos, 4, batch="8").cloth == "silk"
    assert put(file, photos, 5, batch="9", take_over=False).cloth == ""
    assert put(file, photos, 6, batch="8", measured="2030-01-01").cloth == "silk"


def test_proposals_are_found_by_shade_and_batch(file):
    for shade, batch in (("Brick", "1"), ("Brick", "2"), ("Sage", "1")):
        keep_proposal(file, proposal(shade=shade, batch=batch))
    assert [one.number for one in proposals(file)] == [1, 2, 3]
    assert [one.number for one in proposals(file, "BRICK")] == [1, 2]
    assert [one.number for one in proposals(file, batch="1")] == [1, 3]
    assert [one.number for one in proposals(file, "sage", "2")] == []


def test_a_batch_that_was_mixed_is_not_mixed_anew(file, photos):
    put(file, photos, 1, batch="measured")
    put(file, photos, 2, batch="told", recipe=RECIPE)
    keep_proposal(file, proposal(batch="told.1"))
    before = tables(file)
    for batch, free in (("measured", "measured.1"), ("TOLD", "told.2"), ("told.1", "told.2")):
        refusal = refused(lambda batch=batch: keep_proposal(file, proposal(batch=batch)))
        assert (refusal.code, refusal.facts["free"]) == ("batch-name-taken", free)
        assert f"'{free}'" in TERMINAL.remedy(refusal)
    assert tables(file) == before


def test_a_batch_that_is_only_a_name_takes_the_recipe(file, photos):
    put(file, photos, 1, batch="B 7", ink="water-based")
    with file.engine.begin() as connection:
        connection.execute(text("UPDATE record SET removed = 'today'"))
    assert keep_proposal(file, proposal(batch="b 7")).batch == "B 7"
    (batch,) = file.batches()
    assert batch.recipe == proposal().recipe


def test_what_cannot_be_kept_is_refused_and_leaves_nothing(file):
    for said in ({"shade": " "}, {"batch": "a\x07"}, {"from_batch": "3"}, {"shade": "x" * 121}):
        refused(lambda said=said: keep_proposal(file, proposal(**said)))
    assert not any(tables(file).values())
    keep_proposal(file, proposal(batch="3"))
    assert TERMINAL.remedy(refused(lambda: keep_proposal(file, proposal(from_batch="3.5")))) == "Did you mean 3?"


def test_a_proposal_that_is_none_is_not_kept(library):
    short = proposal(reflectance=(0.5,) * 80)
    assert refused(lambda: keep_proposal(library, short), LibraryError).code == "proposal-unreadable"
    assert not any(tables(library).values())


@pytest.mark.parametrize(
    ("taken", "name", "expected"),
    [
        ((), "3", "3.1"),
        (("3", "3.1"), "3.1", "3.2"),
        (("3.1", "3.2"), "3", "3.3"),
        (("B 7.1",), "b 7", "b 7.2"),
        ((), "2026-02-03", "2026-02-03.1"),
        ((), "3.", "3..1"),
        ((), "v1.2019", "v1.2019.1"),
        ((), "x" * 120, "x" * 118 + ".1"),
    ],
)
def test_the_next_pot_is_called_after_the_one_that_it_goes_on_from(taken, name, expected):
    assert next_name(taken, name) == expected


def test_a_proposal_follows_its_batch_through_renaming_merging_and_removing(library):
    keep_proposal(library, proposal(batch="1"))
    keep_proposal(library, proposal(kind="correction", from_batch="1"))
    keep_proposal(library, proposal(shade="Sage", batch="1"))

    def told():
        return [(one.shade, one.batch, one.from_batch) for one in proposals(library)]

    rename_shade(library, "brick", "Rust")
    assert told() == [("Rust", "1", None), ("Rust", "1.1", "1"), ("Sage", "1", None)]
    merge_shades(library, "rust", "sage")
    assert told() == [("Sage", "1 (Rust)", None), ("Sage", "1.1", "1 (Rust)"), ("Sage", "1", None)]
    remove_shade(library, "sage")
    assert told() == []
    for change in (3, 2, 1):
        undo(library, change)
    assert told() == [("Brick", "1", None), ("Brick", "1.1", "1"), ("Sage", "1", None)]


def test_a_proposal_that_was_taken_out_goes_with_its_batch_unless_that_was_measured(file, photos):
    keep_proposal(file, proposal(batch="1"))
    keep_proposal(file, proposal(batch="2"))
    put(file, photos, 1, batch="2")
    remove_proposal(file, 1)
    remove_proposal(file, 2)
    assert proposals(file) == []
    assert [batch.name for batch in file.batches()] == ["2"]
    assert keep_proposal(file, proposal(batch="1")).batch == "1"
    assert refused(lambda: undo(file, 1)).facts == {"kind": "batch", "name": "1"}
    undo(file, 2)
    assert [one.batch for one in proposals(file)] == ["2", "1"]
    assert refused(lambda: remove_proposal(file, 1)).code == "proposal-unknown"


def test_a_proposal_compares_with_a_measured_colour(file, photos):
    kept, record = keep_proposal(file, proposal()), put(file, photos)
    both = np.array(kept.covariance) + record.colour.covariance
    assert_allclose(covariance_of_difference(kept, record.colour), both, rtol=0, atol=1e-12)
    difference = between(record.colour, kept)
    assert (difference.reference, difference.low < difference.delta_e < difference.high) == ("proposal 1", True)


DAMAGES = (
    "recipe = '{}'",
    "covariance = '[[1, 0, 0], [0, 1, 0]]'",
    "covariance = '[[NaN, 0, 0], [0, 1, 0], [0, 0, 1]]'",
    "reflectance = '[0.5]'",
    "stage = 'ironed'",
    "facts = '[1]'",
    "kind = 'guess'",
    "l = 9e999",
    "target_a = NULL",
)


def test_damaged_proposals_are_named_and_not_read(file):
    for _ in (*DAMAGES, "and one that stays whole"):
        keep_proposal(file, proposal(target=(50.0, 0.0, 0.0)))
    with file.engine.begin() as connection:
        for number, damage in enumerate(DAMAGES, start=1):
            connection.execute(text(f"UPDATE proposal SET {damage} WHERE id = {number}"))
    found = verify(file)[1]
    assert [one.what.facts["number"] for one in found] == list(range(1, len(DAMAGES) + 1))
    assert {one.what.code for one in found} == {"proposal-unreadable"}
    assert not any(one.harmless for one in found)
    assert "Proposal 1 can't be read" in TERMINAL.problem(refused(lambda: proposals(file), LibraryError))


# --- pigments -----------------------------------------------------------------------------------------------


def test_a_pigment_comes_back_with_its_lots_as_it_was_said(library):
    set_pigment(library, "Red", most=5.0, least_g=0.01, price=12.5, notes="keeps\nwell")
    add_lot(library, "red", "L2", "2026-03-01", 1.07, 0.02)
    add_lot(library, "RED", "L1", "2026-01-01")
    set_pigment(library, "Blau")
    lots = (Lot("L1", "2026-01-01", 1.0, 0.0), Lot("L2", "2026-03-01", 1.07, 0.02))
    red = Pigment("Red", 5.0, 0.01, 12.5, "keeps\nwell", lots)
    assert pigments(library) == [Pigment("Blau", None, None, None, "", ()), red]
    assert pigment(library, "rED") == red
    refusal = refused(lambda: pigment(library, "Redd"))
    assert (TERMINAL.problem(refusal), TERMINAL.remedy(refusal)) == (
        "There is no pigment called 'Redd'.",
        "Did you mean Red?",
    )


def test_the_strength_is_that_of_the_lot_in_use_on_the_day():
    lots = (Lot("L1", "2026-01-01", 0.9, 0.01), Lot("L2", "2026-03-01", 1.07, 0.02))
    red = Pigment("Red", None, None, None, "", lots)
    days = ("2025-12-31", "2026-01-01", "2026-02-28", "2026-03-01", "2027-01-01")
    assert [red.strength(day)[0] for day in days] == [1.0, 0.9, 0.9, 1.07, 1.07]
    assert red.strength("2025-12-31") == (1.0, 0.0)
    assert red.strength("2026-03-01") == (1.07, 0.02)


CHANGES = {
    "add": lambda library: set_pigment(library, "Blue", most=3.0),
    "say": lambda library: set_pigment(library, "red", price=1 / 3, notes=""),
    "lot": lambda library: add_lot(library, "red", "L2", "2026-03-01", 1.07, 0.02),
    "remove": lambda library: remove_pigment(library, "red"),
}


def test_every_change_of_the_shelf_is_undone_and_the_undoing_too(library):
    set_pigment(library, "Red", most=5.0, notes="keeps well")
    add_lot(library, "red", "L1", "2026-01-01")
    before = pigments(library)
    for name, change in CHANGES.items():
        done = change(library)
        after, newest = pigments(library), log(library)[0]
        assert after != before, name
        assert newest == done
        for number, expected in enumerate((before, after, before), start=newest.number):
            undo(library, number)
            assert pigments(library) == expected, name


def test_a_pigment_that_was_said_more_of_is_undone_last_in_first_out(file):
    set_pigment(file, "Red")
    set_pigment(file, "Red", most=5.0)
    remove_pigment(file, "red")
    set_pigment(file, "red")
    assert refused(lambda: undo(file, 3)).facts == {"kind": "pigment", "name": "Red"}
    remove_pigment(file, "red")
    undo(file, 3)
    set_pigment(file, "red", most=6.0)
    assert refused(lambda: undo(file, 2)).code == "change-built-upon"


REFUSED = (
    (lambda library: set_pigment(library, " "), "has no name"),
    (lambda library: set_pigment(library, "Binder"), "Clear base is not a pigment"),
    (lambda library: set_pigment(library, "Clear  base"), "Clear base is not a pigment"),
    (lambda library: set_pigment(library, "red"), "already a pigment called 'red'"),
    (
        lambda library: set_pigment(library, "red", most=0.0),
        "Maximum load of the pigment: 0 g in 100 g of ink can't be right",
    ),
    (lambda library: set_pigment(library, "red", most=101.0), "Maximum load of the pigment: 101 g"),
    (lambda library: set_pigment(library, "red", least_g=float("nan")), "Smallest amount of the pigment: nan g"),
    (lambda library: set_pigment(library, "red", price=-1.0), "Price of 100 g: -1 can't be right"),
    (lambda library: add_lot(library, "reed", "L2", "2026-01-01"), "no pigment called 'reed'"),
    (lambda library: add_lot(library, "red", "l1", "2026-01-01"), "already has a lot called 'l1'"),
    (lambda library: add_lot(library, "red", "L2", ""), "The first day of lot 'L2' is missing"),
    (lambda library: add_lot(library, "red", "L2", "1.2.2026"), "'1.2.2026' is not a date"),
    (lambda library: add_lot(library, "red", "L2", "2026-01-01", 0.0), "Strength of the lot: 0 can't be right"),
    (lambda library: add_lot(library, "red", "L2", "2026-01-01", 1.0, -0.1), "error of the lot's strength: -0.1 can't"),
    (lambda library: remove_pigment(library, "x"), "no pigment called 'x'"),
)


def test_what_cannot_be_said_of_a_pigment_changes_nothing(file):
    set_pigment(file, "Red")
    add_lot(file, "red", "L1", "2026-01-01")
    before = tables(file)
    for ask, problem in REFUSED:
        assert problem in TERMINAL.problem(refused(lambda ask=ask: ask(file)))
    assert tables(file) == before


def test_a_proposal_keeps_the_numbers_of_the_search(file):
    """Arrays and their numbers may be handed over as they are."""
    given = proposal(covariance=np.eye(3), lab=tuple(np.array([50.0, 1.0, 2.0])), radius=np.float64(1.5))
    kept = keep_proposal(file, replace(given, reflectance=tuple(np.linspace(1 / 3, 2 / 3, 81))))
    assert (kept.covariance, kept.lab, kept.radius) == (((1, 0, 0), (0, 1, 0), (0, 0, 1)), (50, 1, 2), 1.5)
    assert kept.reflectance[0] == 0.33333
