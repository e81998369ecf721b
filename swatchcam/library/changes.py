"""Whatever is changed in the library after it was kept: renamed, merged, tagged, removed, and all of it undone.

Nothing is ever overwritten without a trace. Every change notes the columns it touched, before and after, so that
`undo` can put them back; a row that is removed stays where it is and is marked.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..messages.message import Message, change, message_from_json
from ..text import key
from . import schema
from .library import Library
from .records import WET, State, clean_name
from .row_mapping import decoding, rows_of

# Table, row, the columns as they shall be; row None for a new one, which says "removed": None.
ColumnChange = tuple[str, int | None, dict[str, Any]]
Plan = tuple[Message, list[ColumnChange]]  # what is done, to be said and in rows
NEW = object()  # as a value: the number of the row that the plan made last
TABLES = {name: schema.tables.tables[name] for name in (*schema.ONLY_ONE, schema.stock.name)}


@dataclass(frozen=True)
class Change:
    """One thing that was done to the library."""

    number: int
    made: str  # ISO 8601, UTC
    what: Message
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
        rows = rows_of(connection, query)
        return [Change(row.id, row.made, _said(row.words), row.undone_by is not None) for row in rows]


def _said(stored: str) -> Message:
    """What the column `words` holds: a code and its facts as JSON, or a sentence of version 0.1."""
    with decoding():
        return message_from_json(json.loads(stored) if stored.startswith("{") else stored)


def rename_shade(library: Library, name: str, new: str) -> Change:
    """Give a shade another name.

    Raises
    ------
    UsageError
        There is no such shade, or the new name is none or taken.
    """

    def plan(there: Library) -> Plan:
        shade, fresh = there.shade(name), clean_name(new, "shade")
        if key(fresh) != key(shade.name) and key(fresh) in {key(other.name) for other in there.shades()}:
            raise UsageError("shade-name-taken", "merge-or-choose-another-name", shade=shade.name, name=fresh)
        values = {"name": fresh, "key": key(fresh)}
        return change("shade-renamed", old=shade.name, new=fresh), [("shade", shade.number, values)]

    return carry_out(library, plan)


def set_target(
    library: Library, name: str, target: Lab | None, tolerance: float | None = None, state: State | None = None
) -> Change:
    """Give a shade its target, what it is for, and the tolerance that counts as the same; None leaves that as it is."""

    def plan(there: Library) -> Plan:
        shade, values = there.shade(name), dict[str, Any]()
        if state is not None and state.name == WET:
            raise UsageError("target-wet", "choose-a-dry-state")
        if target is not None:
            values |= dict(zip(("target_l", "target_a", "target_b"), target, strict=True))
        if tolerance is not None:
            values["tolerance"] = tolerance
        if state is not None:
            if target is None and shade.target is None:
                raise UsageError("state-without-target", "give-it-a-target", shade=shade.name)
            values["target_state"] = str(state)
        kept = shade.target_state if target is not None else None  # what the target before was for
        done = change("target-set", shade=shade.name, target=target, tolerance=tolerance, state=state or kept)
        return done, [("shade", shade.number, values)]

    return carry_out(library, plan)


def merge_shades(library: Library, name: str, into: str) -> Change:
    """Move all batches of one shade to another and remove the first one; a name both have is told apart by its shade.

    Raises
    ------
    UsageError
        One of the two is not there, or they are the same.
    """

    def plan(there: Library) -> Plan:
        source, destination = there.shade(name), there.shade(into)
        if source.number == destination.number:
            raise UsageError("same-shade-twice", "choose-two-shades", shade=name, into=into)
        taken = {key(batch.name) for batch in there.batches(destination.name)}
        touches: list[ColumnChange] = []
        for batch in there.batches(source.name):
            fresh = _free(batch.name, source.name, taken)
            taken.add(key(fresh))
            touches.append(("batch", batch.number, {"shade_id": destination.number, "name": fresh, "key": key(fresh)}))
        touches.append(("shade", source.number, {"removed": schema.now()}))
        targets = {"gone": source.target_for, "counts": destination.target_for}
        return change("shades-merged", shade=source.name, into=destination.name, **targets), touches

    return carry_out(library, plan)


def remove_record(library: Library, number: int) -> Change:
    """Remove a record; that can be undone."""

    def plan(there: Library) -> Plan:
        record = there.record(number)
        done = change("record-removed", record=number, shade=record.shade, batch=record.batch)
        return done, [("record", number, {"removed": schema.now()})]

    return carry_out(library, plan)


def remove_shade(library: Library, name: str) -> Change:
    """Remove a shade with all its batches and records; that can be undone."""

    def plan(there: Library) -> Plan:
        shade, out = there.shade(name), {"removed": schema.now()}
        # Its records are marked too: a strip that is in use nowhere may be kept again.
        touches: list[ColumnChange] = [("shade", shade.number, out)]
        touches += [("batch", batch.number, out) for batch in there.batches(name)]
        touches += [("record", record.number, out) for record in there.records(name)]
        return change("shade-removed", shade=shade.name), touches

    return carry_out(library, plan)


def undo(library: Library, number: int) -> Change:
    """Undo a change, if nothing was built on it since.

    Raises
    ------
    UsageError
        There is no such change, it is undone already, or what it changed was changed again.
    """

    def plan(there: Library) -> Plan:
        with there.reading() as connection:
            what, touches = _to_undo(connection, number)
            _refuse_built_upon(connection, number, what, touches)
            _refuse_taken(connection, touches)
        done = change("change-undone", number=number, what=what)
        return done, [(touch.table, touch.row, touch.before) for touch in touches]

    def note(connection: Connection, undoing: int) -> None:
        where = schema.change.c.id == number
        connection.execute(schema.change.update().where(where).values(undone_by=undoing))

    return carry_out(library, plan, note)


def _to_undo(connection: Connection, number: int) -> tuple[Message, list[_Touch]]:
    row = connection.execute(select(schema.change).where(schema.change.c.id == number)).first()
    if row is None:
        raise UsageError("change-unknown", "look-at-the-changes", number=number)
    if row.undone_by is not None:
        raise UsageError("change-undone-already", "look-at-that-change", number=number, by=row.undone_by)
    with decoding():
        return _said(row.words), [_Touch(**touch) for touch in json.loads(row.rows)]


def _refuse_built_upon(connection: Connection, number: int, what: Message, touches: Sequence[_Touch]) -> None:
    for touch in touches:
        if _values(connection, touch.table, touch.row, touch.after) != touch.after:
            raise UsageError("change-built-upon", "undo-later-changes-first", number=number, what=what)


def carry_out(
    library: Library,
    plan: Callable[[Library], Plan],
    note: Callable[[Connection, int], None] = lambda _connection, _number: None,
) -> Change:
    """Plan and carry out a change while nobody else may write; `note` is told its number."""
    made, tried = schema.now(), list[Message]()

    def work(connection: Connection) -> Change:
        for what in tried:  # a server that was lost may have kept it
            if (number := _noted(connection, made, what)) is not None:
                return Change(number, made, what, False)
        what, touches = plan(library.during(connection))
        tried.append(what)
        number = _apply(connection, made, what, touches)
        note(connection, number)
        return Change(number, made, what, False)

    return library.writing(work)


def _words(what: Message) -> str:
    return json.dumps(what.as_json(), ensure_ascii=False)


def carry_out_together(library: Library, steps: Sequence[Callable[[Library], Change]]) -> list[Change]:
    """Make several changes in one transaction: all of them, each with a number of its own, or none.

    `steps` are changes such as `rename_shade`, each given the library as the earlier ones left it.

    Raises
    ------
    UsageError
        One of them cannot be carried out; then none is.
    """
    tried = list[list[Change]]()

    def work(connection: Connection) -> list[Change]:
        for done in tried:  # a server that was lost may have kept them
            if all(_noted(connection, each.made, each.what) is not None for each in done):
                return done
        there = library.during(connection)
        tried.append([step(there) for step in steps])
        return tried[-1]

    return library.writing(work)


def _noted(connection: Connection, made: str, what: Message) -> int | None:
    same = (schema.change.c.made == made, schema.change.c.words == _words(what))
    return connection.execute(select(schema.change.c.id).where(*same)).scalar()


def _apply(connection: Connection, made: str, what: Message, touches: Sequence[ColumnChange]) -> int:
    """Set the columns and note what they were; the number of the change."""
    notes, made_last = [], 0
    for table, known, columns in touches:
        after = {name: made_last if value is NEW else value for name, value in columns.items()}
        # A new row is out of use until the change takes it in: so undoing the change takes it out again.
        row = known or schema.insert(connection, TABLES[table], after | {"made": made, "removed": made})
        made_last = made_last if known else row
        before = _values(connection, table, row, after)
        connection.execute(TABLES[table].update().where(TABLES[table].c.id == row).values(after))
        notes.append({"table": table, "row": row, "before": before, "after": after})
    rows = json.dumps(notes, ensure_ascii=False)
    return schema.insert(connection, schema.change, {"made": made, "words": _words(what), "rows": rows})


def _values(connection: Connection, table: str, row: int, columns: dict[str, Any]) -> dict[str, Any]:
    chosen = [TABLES[table].c[name] for name in columns]
    return dict(connection.execute(select(*chosen).where(TABLES[table].c.id == row)).one()._mapping)


def _refuse_taken(connection: Connection, touches: Sequence[_Touch]) -> None:
    """A name or a photo may have been given to another row since this one was removed or renamed."""
    for touch in touches:
        table = TABLES[touch.table]
        now = connection.execute(select(table).where(table.c.id == touch.row)).one()._mapping
        then = {**now, **touch.before}
        if then["removed"] is not None or touch.table not in schema.ONLY_ONE:
            continue
        alike = [table.c[name] == then[name] for name in schema.ONLY_ONE[touch.table]]
        other = select(table.c.id).where(*alike, table.c.removed.is_(None), table.c.id != touch.row)
        if found := connection.execute(other).first():
            raise _taken(touch.table, then.get("name"), found.id)


def _taken(table: str, name: str | None, other: int) -> UsageError:
    """A record and a proposal have a number, and no name that could be another."""
    again = UsageError("kept-again-since", "remove-that-first", kind=table, number=other)
    return again if name is None else UsageError("name-used-since", "rename-or-remove-that", kind=table, name=name)


def _free(name: str, addition: str, taken: set[str]) -> str:
    fresh, count = name, 1
    while key(fresh) in taken:
        fresh = f"{name} ({addition}{f' {count}' if count > 1 else ''})"
        count += 1
    return fresh
