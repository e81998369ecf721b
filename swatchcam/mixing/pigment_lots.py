"""New lots of pigment, and how strong they are against the one that the test series was made with."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from ..errors import UsageError
from ..library.changes import Change
from ..library.entry import day_of
from ..library.library import Library
from ..library.proposal_store import Known, add_lot, pigments, set_pigment
from ..recipes.recipe import is_clear_base
from ..text import key
from .known_strip import known_strip_of
from .test_series import ASSUMED_STD, lot_strength
from .workbench import set_up


def new_lot(
    library: Library, pigment: str, lot: str, since: str, test: int | None = None, strength: float | None = None
) -> Change:
    """Note a new lot of a pigment, its strength from the record of a small test mix with it.

    Raises
    ------
    UsageError
        A test and a strength were both given, no such record, or the pigment is not in it.
    """
    if test is not None and strength is not None:
        raise UsageError("lot-strength-given-twice", "name-one-of-the-two")
    since = day_of(since, "first used")
    if since > date.today().isoformat():
        raise UsageError("day-in-future", "note-lot-when-used", day=since)
    if test is None:
        _on_the_shelf(library, pigment)
        value = 1.0 if strength is None else strength
        known: Known = "assumed" if strength is None else "said"
        return add_lot(library, pigment, lot, since, value, ASSUMED_STD * value, known)
    record = library.record(test)
    bench = set_up(library, record.cloth, record.state, about=[record.colour])
    own = {each.number for each in library.records(record.shade, record.batch)}
    (pot,) = [batch for batch in library.batches(record.shade) if key(batch.name) == key(record.batch)]
    known_strip = known_strip_of(
        record, pot, {shelf: one for shelf, one in bench.shelf.items() if shelf != key(pigment)}
    )
    if known_strip is None:
        raise UsageError(
            "test-mix-without-recipe", "say-what-is-in-test-mix", shade=pot.shade, batch=pot.name, pigment=pigment
        )
    mixed = pot.mixed or record.measured
    if mixed < since:
        raise UsageError("test-mix-before-lot", "give-day-of-use", mixed=mixed, since=since)
    rest = replace(bench, known_strips=tuple(one for one in bench.known_strips if one.record not in own))
    found, std = lot_strength(rest, known_strip, pigment)
    _on_the_shelf(library, pigment)
    return add_lot(library, pigment, lot, since, round(found, 4), round(std, 4), "tested")


def _on_the_shelf(library: Library, pigment: str) -> None:
    """A pigment that is in some recipe stands on the shelf, even if nobody put it there yet."""
    if key(pigment) in {key(one.name) for one in pigments(library)}:
        return
    used = {key(part.what): part.what for batch in library.batches() if batch.recipe for part in batch.recipe.parts}
    if key(pigment) in used and not is_clear_base(pigment):
        set_pigment(library, used[key(pigment)])
