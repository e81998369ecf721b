"""What was said of a record or a batch can be said better, and that can be undone."""

from __future__ import annotations

import pytest

from swatchcam.errors import UsageError
from swatchcam.library.amend import amend_batch, amend_record
from swatchcam.library.changes import log, undo
from swatchcam.library.entry import recipe_of
from swatchcam.library.records import State
from swatchcam.messages.message import Message
from swatchcam.messages.surface import TERMINAL
from swatchcam.recipes.film_weight import parse_coat
from swatchcam.recipes.recipe import parse_recipe
from tests.worlds.cheap_measurements import put


def test_a_record_is_amended_and_its_colour_stays(library, tmp_path):
    before = put(library, tmp_path)
    done = amend_record(
        library, before.number, state="washed 2", cloth=" linen  cloth ", measured="2026-02-28", notes="a slip"
    )
    after = library.record(before.number)
    facts = {"record": before.number, "shade": before.shade, "batch": before.batch}
    details = ["cloth", "notes", "state", "measured"]
    assert done.what == Message("record-corrected", facts | {"details": details})
    assert log(library) == [done]
    assert (after.state, after.cloth, after.measured, after.notes) == (
        State("washed", 2),
        "linen cloth",
        "2026-02-28",
        "a slip",
    )
    assert (after.colour.lab, after.mesh, after.mark) == (before.colour.lab, before.mesh, before.mark)
    undo(library, log(library)[0].number)
    again = library.record(before.number)
    assert (again.state, again.cloth, again.measured, again.notes) == (
        before.state,
        before.cloth,
        before.measured,
        before.notes,
    )


def test_what_was_weighed_and_let_down_is_amended_and_undone(library, tmp_path):
    number = put(library, tmp_path).number
    done = amend_record(library, number, coat="0,72 g on 10x10 cm", let_down="1:10")
    assert done.what.facts["details"] == ["coat", "let-down"]
    record = library.record(number)
    assert (record.coat, record.let_down) == (parse_coat("0.72 g on 10x10 cm"), 10.0)
    amend_record(library, number, let_down="0")
    assert (library.record(number).coat, library.record(number).let_down) == (record.coat, 0.0)
    undo(library, 2)
    assert library.record(number).let_down == 10.0
    undo(library, 1)
    assert (library.record(number).coat, library.record(number).let_down) == (None, 0.0)


def test_a_batch_is_amended_and_renamed(library, tmp_path):
    record = put(library, tmp_path)
    recipe = "binder 300 g, red 2 drops"
    amend_batch(
        library, record.shade, record.batch, new_name="B  2", recipe=recipe, ink="halm base", mixed="2026-02-01"
    )
    (batch,) = library.batches(record.shade)
    assert (batch.name, batch.ink, batch.mixed) == ("B 2", "halm base", "2026-02-01")
    assert batch.recipe == parse_recipe(recipe)
    assert library.record(record.number).batch == "B 2"
    undo(library, log(library)[0].number)
    assert library.batches(record.shade)[0].name == record.batch


def test_what_cannot_be_amended_is_told(library, tmp_path):
    record = put(library, tmp_path)
    for amend, problem in (
        (lambda: amend_record(library, 99, cloth="linen"), "There is no record 99."),
        (lambda: amend_record(library, record.number), "You have not said what to change."),
        (lambda: amend_record(library, record.number, state="ironed"), "There is no state 'ironed'."),
        (lambda: amend_record(library, record.number, measured="yesterday"), "'yesterday' is not a date."),
        (lambda: amend_record(library, record.number, coat="72"), "'72' can't be read as a weight"),
        (lambda: amend_record(library, record.number, let_down="a lot"), "'a lot' does not say how far"),
        (lambda: amend_batch(library, record.shade, "none", ink="x"), "has no batch called 'none'"),
        (lambda: amend_batch(library, record.shade, record.batch, recipe="red"), "red"),
    ):
        with pytest.raises(UsageError) as refusal:
            amend()
        assert problem in TERMINAL.problem(refusal.value)
        assert TERMINAL.remedy(refusal.value) != refusal.value.remedy
    assert log(library) == []


def test_a_recipe_is_typed_or_lies_in_a_file_and_one_that_is_not_there_is_told(tmp_path):
    written = tmp_path / "mix.txt"
    written.write_text("binder 300 g\nred 2 drops\n", encoding="utf-8")
    assert (
        recipe_of(str(written)) == recipe_of("binder 300 g, red 2 drops") == parse_recipe("binder 300 g, red 2 drops")
    )
    with pytest.raises(UsageError, match="There is no recipe file"):
        recipe_of(str(tmp_path / "gone.txt"))


def test_a_name_is_the_same_however_its_letters_are_composed(library, tmp_path):
    put(library, tmp_path, 1, "Gr\u00fcn")
    put(library, tmp_path, 2, "gru\u0308n")
    assert library.counts()[0] == 1
