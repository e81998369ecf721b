"""Whatever is changed in the library after it was kept: renamed, merged, tagged, taken out, and all of it undone.

Nothing is ever overwritten without a trace. Every change notes the columns it touched, before and after, so that
`restore` can put them back; a row that is taken out stays where it is and is marked.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..text import key
from . import schema
from .library import Library
from .records import clean_name
from .row_mapping import decoding, rows_of

# Table, row, the columns as they shall be; row None for a new one, which says "removed": None.
ColumnChange = tuple[str, int | None, dict[str, Any]]
Plan = tuple[str, list[ColumnChange]]  # what is done, in words and in rows
TABLES = {name: schema.tables.tables[name] for name in schema.ONLY_ONE}


@dataclass(frozen=True)
class Change:
    """One thing that was done to the library."""

    number: int
    made: str  # ISO 8601, UTC
    words: str
    undone: bool


@dataclass(frozen=True)
class _Touch:
    """The columns of one row that a change set."""

    table: str
    row: int
    before: dict[str, Any]
    after: dict[str, Any]


def log(library: Library) -> list[Change]:
    """Every change, the newest first."""
    query = select(schema.change).order_by(schema.change.c.id.desc())
    with library.reading() as connection:
        return [Change(row.id, row.made, row.words, row.undone_by is not None) for row in rows_of(connection, query)]


def rename_shade(library: Library, name: str, new: str) -> str:
    """Give a shade another name; what was done, in words.

    Raises
    ------
    UsageError
        There is no such shade, or the new name is none or taken.
    """

    def plan(there: Library) -> Plan:
        shade, fresh = there.shade(name), clean_name(new, "shade")
        if key(fresh) != key(shade.name) and key(fresh) in {key(other.name) for other in there.shades()}:
            raise UsageError(
                f"There is a shade called '{fresh}' already.",
                f'To make them one: swatchcam shade merge "{shade.name}" "{fresh}"',
            )
        values = {"name": fresh, "key": key(fresh)}
        return f"renamed shade '{shade.name}' to '{fresh}'", [("shade", shade.number, values)]

    return carry_out(library, plan)


def set_target(library: Library, name: str, target: Lab | None, tolerance: float | None = None) -> str:
    """Give a shade the colour it shall have, and how far off is the same; None leaves that as it is."""

    def plan(there: Library) -> Plan:
        shade, values = there.shade(name), dict[str, Any]()
        lab = ", ".join(f"{value:g}" for value in target) if target else "left as it was"
        if target is not None:
            values |= dict(zip(("target_l", "target_a", "target_b"), target, strict=True))
        if tolerance is not None:
            values["tolerance"] = tolerance
        words = f"target of shade '{shade.name}': {lab}" + (f"; tolerance {tolerance:g}" if tolerance else "")
        return words, [("shade", shade.number, values)]

    return carry_out(library, plan)


def tag_shade(library: Library, name: str, tags: Sequence[str], *, remove: bool = False) -> str:
    """Add tags to a shade, or take them off."""

    def plan(there: Library) -> Plan:
        shade = there.shade(name)
        given = [clean_name(tag, "tag").casefold() for tag in tags]
        kept = [tag for tag in shade.tags if not (remove and tag in given)]
        wanted = kept if remove else list(dict.fromkeys([*kept, *given]))
        words = f"{'took tags off' if remove else 'tagged'} shade '{shade.name}': {', '.join(given)}"
        return words, [("shade", shade.number, {"tags": json.dumps(wanted, ensure_ascii=False)})]

    return carry_out(library, plan)


def note_shade(library: Library, name: str, notes: str) -> str:
    """Write down something about a shade; it takes the place of what stood there."""

    def plan(there: Library) -> Plan:
        shade = there.shade(name)
        return f"noted something about shade '{shade.name}'", [("shade", shade.number, {"notes": notes})]

    return carry_out(library, plan)


def merge_shades(library: Library, name: str, into: str) -> str:
    """Move all batches of one shade to another and take the first one out.

    A batch whose name the other shade has too gets the first shade's name behind its own.

    Raises
    ------
    UsageError
        One of the two is not there, or they are the same.
    """

    def plan(there: Library) -> Plan:
        source, destination = there.shade(name), there.shade(into)
        if source.number == destination.number:
            raise UsageError(f"'{name}' and '{into}' are the same shade.", "Name two shades.")
        taken = {key(batch.name) for batch in there.batches(destination.name)}
        touches: list[ColumnChange] = []
        for batch in there.batches(source.name):
            fresh = _free(batch.name, source.name, taken)
            taken.add(key(fresh))
            touches.append(("batch", batch.number, {"shade_id": destination.number, "name": fresh, "key": key(fresh)}))
        touches.append(("shade", source.number, {"removed": schema.now()}))
        return f"merged shade '{source.name}' into '{destination.name}'", touches

    return carry_out(library, plan)


def remove_record(library: Library, number: int) -> str:
    """Take a record out; it can be restored."""

    def plan(there: Library) -> Plan:
        record = there.record(number)
        words = f"took out record {number} of shade '{record.shade}', batch '{record.batch}'"
        return words, [("record", number, {"removed": schema.now()})]

    return carry_out(library, plan)


def remove_shade(library: Library, name: str) -> str:
    """Take a shade out, with all its batches and records; it can be restored."""

    def plan(there: Library) -> Plan:
        shade, out = there.shade(name), {"removed": schema.now()}
        # Its records are marked too: a strip that is in use nowhere may be kept again.
        touches: list[ColumnChange] = [("shade", shade.number, out)]
        touches += [("batch", batch.number, out) for batch in there.batches(name)]
        touches += [("record", record.number, out) for record in there.records(name)]
        return f"took out shade '{shade.name}'", touches

    return carry_out(library, plan)


def restore(library: Library, number: int) -> str:
    """Undo a change, if nothing was built on it since.

    Raises
    ------
    UsageError
        There is no such change, it is undone already, or what it changed was changed again.
    """

    def plan(there: Library) -> Plan:
        with there.reading() as connection:
            words, touches = _to_undo(connection, number)
            _refuse_built_upon(connection, number, words, touches)
            _refuse_taken(connection, touches)
        return f"undid change {number}: {words}", [(touch.table, touch.row, touch.before) for touch in touches]

    def note(connection: Connection, undoing: int) -> None:
        where = schema.change.c.id == number
        connection.execute(schema.change.update().where(where).values(undone_by=undoing))

    return carry_out(library, plan, note)


def _to_undo(connection: Connection, number: int) -> tuple[str, list[_Touch]]:
    row = connection.execute(select(schema.change).where(schema.change.c.id == number)).first()
    if row is None:
        raise UsageError(f"There is no change {number}.", "'swatchcam library log' lists them.")
    if row.undone_by is not None:
        raise UsageError(f"Change {number} is undone already.", f"See change {row.undone_by} in the log.")
    with decoding():
        return row.words, [_Touch(**touch) for touch in json.loads(row.rows)]


def _refuse_built_upon(connection: Connection, number: int, words: str, touches: Sequence[_Touch]) -> None:
    for touch in touches:
        if _values(connection, touch.table, touch.row, touch.after) != touch.after:
            raise UsageError(
                f"Change {number} ({words}) was built upon: it cannot be undone by itself.",
                "Undo the later changes first; 'swatchcam library log' lists them.",
            )


def carry_out(
    library: Library,
    plan: Callable[[Library], Plan],
    note: Callable[[Connection, int], None] = lambda _connection, _number: None,
) -> str:
    """Plan and carry out a change while nobody else may write; `note` is told its number."""
    made, tried = schema.now(), list[str]()

    def work(connection: Connection) -> str:
        for words in tried:  # a server that was lost may have kept it
            if is_noted(connection, made, words):
                return words
        words, touches = plan(library.during(connection))
        tried.append(words)
        note(connection, _apply(connection, made, words, touches))
        return words

    return library.writing(work)


def is_noted(connection: Connection, made: str, words: str) -> bool:
    """Whether such a change was made at that moment or later."""
    same = select(schema.change.c.id).where(schema.change.c.made >= made, schema.change.c.words == words)
    return connection.execute(same).first() is not None


def _apply(connection: Connection, made: str, words: str, touches: Sequence[ColumnChange]) -> int:
    """Set the columns and note what they were; the number of the change."""
    notes = []
    for table, known, after in touches:
        # A new row is out of use until the change takes it in: so undoing the change takes it out again.
        row = known or schema.insert(connection, TABLES[table], after | {"made": made, "removed": made})
        before = _values(connection, table, row, after)
        connection.execute(TABLES[table].update().where(TABLES[table].c.id == row).values(after))
        notes.append({"table": table, "row": row, "before": before, "after": after})
    rows = json.dumps(notes, ensure_ascii=False)
    return schema.insert(connection, schema.change, {"made": made, "words": words, "rows": rows})


def _values(connection: Connection, table: str, row: int, columns: dict[str, Any]) -> dict[str, Any]:
    chosen = [TABLES[table].c[name] for name in columns]
    return dict(connection.execute(select(*chosen).where(TABLES[table].c.id == row)).one()._mapping)


def _refuse_taken(connection: Connection, touches: Sequence[_Touch]) -> None:
    """A name or a photo may have been given to another row since this one was taken out or renamed."""
    for touch in touches:
        table = TABLES[touch.table]
        now = connection.execute(select(table).where(table.c.id == touch.row)).one()._mapping
        then = {**now, **touch.before}
        if then["removed"] is not None:
            continue
        alike = [table.c[name] == then[name] for name in schema.ONLY_ONE[touch.table]]
        other = select(table.c.id).where(*alike, table.c.removed.is_(None), table.c.id != touch.row)
        if found := connection.execute(other).first():
            raise _taken(touch.table, then.get("name"), found.id)


def _taken(table: str, name: str | None, other: int) -> UsageError:
    """A record and a proposal have a number, and no name that could be another."""
    there = f"The {table} that this would bring back is there anew"
    if name is None:
        return UsageError(f"{there}, as {table} {other}.", "Take that one out first, and try again.")
    return UsageError(f"{there}: '{name}'.", "Rename that one, or take it out, and try again.")


def _free(name: str, addition: str, taken: set[str]) -> str:
    fresh, count = name, 1
    while key(fresh) in taken:
        fresh = f"{name} ({addition}{f' {count}' if count > 1 else ''})"
        count += 1
    return fresh
