"""The details of a record, a batch or a shade are corrected: a wrong state, a forgotten recipe, a tag.

All of it can be undone.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection

from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..measurement.staining import kept_staining, staining_as_text
from ..measurement.summary import Sitting
from ..measurement.verdict import check_tolerance
from ..messages.message import change
from ..recipes.film_weight import parse_coat
from ..recipes.let_down import parse_let_down
from ..recipes.measures import NONE, Measures
from ..recipes.recipe import SCALE_G, TIP_G, recipe_json
from ..text import key
from .changes import Change, Plan, carry_out
from .entry import day_of, recipe_of, single_spaced
from .library import Library
from .records import RUBBED, USUAL_LIGHT, WASHED, Record, State, batch_named, clean_name, light_of, parse_state
from .save import coat_values, copy_in, day_taken, note_photo
from .shelf.names import names_known, refuse_slips

STAINING_STATES = RUBBED, WASHED  # of strips that may have stained a cloth
# What a person says -> the column that holds it.
COLUMNS = {"mark": "strip", "state": "stage", "coat": "coat_g_m2", "let-down": "let_down"}


def amend_record(
    library: Library,
    number: int,
    *,
    state: str = "",
    measured: str = "",
    coat: str = "",
    let_down: str = "",
    **said: str,
) -> Change:
    """Correct what a record is of; what is left empty stays. `said`: mark, cloth, mesh, squeegee, light, notes.

    A let-down of "0" says that it is of the ink itself.

    Returns
    -------
    what was done

    Raises
    ------
    UsageError
        No such record, a state, day, coat or let-down that is none, or nothing was said.
    """
    values: dict[str, Any] = {COLUMNS.get(name, name): single_spaced(said[name]) for name in said if said[name].strip()}
    if state:
        found = parse_state(state)
        values |= {"stage": found.name, "washes": found.washes, "how": found.how or None}
    if measured:
        values["measured"] = day_of(measured, "measured")
    if coat.strip():
        values |= coat_values(parse_coat(coat))
    if let_down.strip():
        values["let_down"] = parse_let_down(let_down) or None

    def plan(there: Library) -> Plan:
        record = there.record(number)
        _refuse_nothing(values)
        done = change(
            "record-corrected", record=number, shade=record.shade, batch=record.batch, details=_details(values)
        )
        return done, [("record", number, values)]

    return carry_out(library, plan)


def keep_staining(library: Library, number: int, sitting: Sitting, stained: str = "") -> Change:
    """Keep the grade of a white cloth, and its photos, with the strip that was rubbed or washed with it.

    `stained` is the window with the stained cloth, by default the last. An earlier grade is replaced.

    Returns
    -------
    what was done

    Raises
    ------
    UsageError
        No such record, or its strip was neither rubbed nor washed.
    SwatchcamError
        As `kept_staining`, or the photos cannot be written.
    """
    _refuse_other_states(library.record(number))
    kept = kept_staining(sitting, day_taken(sitting) or date.today().isoformat(), stained)
    for path, photo in sitting.photos:
        copy_in(library, path, photo.digest)

    def plan(there: Library) -> Plan:
        record = there.record(number)
        _refuse_other_states(record)
        done = change("staining-kept", record=number, shade=record.shade, batch=record.batch, grade=kept.grade)
        return done, [("record", number, {"staining": staining_as_text(kept)})]

    def note(connection: Connection, _number: int) -> None:
        for photo in kept.photos:
            note_photo(connection, photo)

    return carry_out(library, plan, note)


def _refuse_other_states(record: Record) -> None:
    if record.state.name not in STAINING_STATES:
        raise UsageError(
            "staining-of-other-state", "correct-the-state-first", record=record.number, state=str(record.state)
        )


def amend_batch(
    library: Library,
    shade: str,
    batch: str,
    *,
    new_name: str = "",
    recipe: str = "",
    scale: float = SCALE_G,
    drop: float | None = None,
    tip: float = TIP_G,
    measures: Measures = NONE,
    mixed: str = "",
    **said: str,
) -> Change:
    """Correct what a batch is, or give it another name; what is left empty stays. `said`: ink, notes.

    Returns
    -------
    what was done

    Raises
    ------
    UsageError
        No such shade or batch, a name that is taken, a recipe or day that cannot be read, a pigment in it that may be
        misspelt, or nothing was said.
    """
    values: dict[str, Any] = {name: single_spaced(text) for name, text in said.items() if text.strip()}
    if mixed:
        values["mixed"] = day_of(mixed, "mixed")
    fresh = recipe_of(recipe, scale, drop, tip, measures=measures) if recipe.strip() else None
    if fresh:
        values["recipe"] = recipe_json(fresh)
    if new_name:
        values |= {"name": clean_name(new_name, "batch"), "key": key(new_name)}

    def plan(there: Library) -> Plan:
        known = there.batches(there.shade(shade).name)
        found = batch_named(known, shade, batch)
        _refuse_nothing(values)
        refuse_slips(names_known(there), fresh.shares() if fresh else ())
        taken = {key(other.name) for other in known if other.number != found.number}
        if values.get("key") in taken:
            raise UsageError("batch-name-taken", "choose-a-free-name", shade=found.shade, batch=new_name, free=None)
        done = change("batch-corrected", batch=found.name, shade=found.shade, details=_details(values))
        return done, [("batch", found.number, values)]

    return carry_out(library, plan)


def tag_shade(library: Library, name: str, tags: Sequence[str], *, remove: bool = False) -> Change:
    """Add tags to a shade, or take them off."""

    def plan(there: Library) -> Plan:
        shade = there.shade(name)
        given = [clean_name(tag, "tag").casefold() for tag in tags]
        kept = [tag for tag in shade.tags if not (remove and tag in given)]
        wanted = kept if remove else list(dict.fromkeys([*kept, *given]))
        done = change("shade-untagged" if remove else "shade-tagged", shade=shade.name, tags=given)
        return done, [("shade", shade.number, {"tags": json.dumps(wanted, ensure_ascii=False)})]

    return carry_out(library, plan)


def note_shade(library: Library, name: str, notes: str) -> Change:
    """Write notes about a shade; they replace the earlier ones."""

    def plan(there: Library) -> Plan:
        shade = there.shade(name)
        return change("shade-noted", shade=shade.name), [("shade", shade.number, {"notes": notes})]

    return carry_out(library, plan)


def judge_shade(library: Library, name: str, judge: str) -> Change:
    """Say whose verdict counts for a shade: that of its strips, or that of the pot behind them (STRIPS or POT)."""

    def plan(there: Library) -> Plan:
        shade = there.shade(name)
        return change("shade-judged", shade=shade.name, judge=judge), [("shade", shade.number, {"judge": judge})]

    return carry_out(library, plan)


def target_meant(
    library: Library, lab: Lab | None, number: int | None, state: State | None, tolerance: float | None
) -> tuple[Lab | None, State | None]:
    """The target that a person gave, as numbers or by a record, and its state; None for what is not to change.

    A record's target is for the record's state; it may be said again, with more of how it was done.

    Raises
    ------
    UsageError
        Both were given, or nothing at all, or the record is of a card that was never measured, for another light or of
        a let-down strip, or in another state than was said; or the tolerance is not a number above zero.
    """
    if lab is not None and number is not None:
        raise UsageError("colour-and-record-given", "give-only-one")
    if lab is None and number is None and state is None and tolerance is None:
        raise UsageError("target-not-given", "give-target-or-tolerance")
    if tolerance is not None:
        check_tolerance(tolerance)
    if number is None:
        return lab, state
    record = library.record(number)
    if light_of(record) != USUAL_LIGHT:
        illuminant, observer = light_of(record)
        raise UsageError(
            "record-for-no-target", "keep-for-the-usual-light", record=number, illuminant=illuminant, observer=observer
        )
    if record.let_down:
        raise UsageError("record-let-down-no-target", "choose-a-record-of-the-ink", record=number, shade=record.shade)
    if not record.colour.absolute:
        raise UsageError("record-of-unmeasured-card", "compare-with-the-record", record=number)
    if state and not state.like(record.state):
        raise UsageError("target-in-other-state", "leave-out-the-state", said=state, known=record.state)
    return record.colour.lab, state or record.state


def _refuse_nothing(values: dict[str, Any]) -> None:
    if not values:
        raise UsageError("nothing-to-change", "say-what-to-change")


def _details(values: dict[str, Any]) -> list[str]:
    """The columns that are set, in the words of the options."""
    words = {column: said for said, column in COLUMNS.items()}
    return [words.get(name, name) for name in values if name not in ("key", "washes", "how", "coat_std")]
