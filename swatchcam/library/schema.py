"""The numbered steps by which the library's tables came to be, and how rows are put into them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Column, Connection, Integer, MetaData, Table, Text, func, inspect, select, text

from ..errors import LibraryError
from .tables import (
    ONLY_ONE,
    batch,
    change,
    lot,
    photo,
    pigment,
    pigment_at_first,
    pre_mix,
    proposal,
    proposal_at_first,
    record,
    record_at_first,
    record_photo,
    shade,
    shade_at_first,
    stock,
    studio,
    tables,
)

__all__ = [
    "ONLY_ONE",
    "batch",
    "change",
    "find_or_insert",
    "insert",
    "lot",
    "now",
    "photo",
    "pigment",
    "pre_mix",
    "proposal",
    "record",
    "record_photo",
    "shade",
    "step",
    "steps_done",
    "stock",
    "studio",
    "tables",
    "tables_after",
    "take_steps",
]

step = Table(
    "schema_step",
    MetaData(),
    Column("number", Integer, primary_key=True),
    *(Column(name, Text, nullable=False) for name in ("words", "done")),
)


# The tables that each step made.
MADE = (
    (shade, batch, photo, record, record_photo, change),
    (pigment, lot, proposal),
    (),
    (),
    (studio, pre_mix, stock),
)


def _first_tables(connection: Connection) -> None:
    # A step goes on making what it made, whatever later ones change.
    shade_at_first.create(connection, checkfirst=False)
    _make(connection, (batch, photo, change))
    record_at_first.create(connection, checkfirst=False)
    _make(connection, (record_photo,))


def _proposals(connection: Connection) -> None:
    pigment_at_first.create(connection, checkfirst=False)
    _make(connection, (lot,))
    proposal_at_first.create(connection, checkfirst=False)


def _coat_and_let_down(connection: Connection) -> None:
    _add(connection, "FLOAT", "record.coat_g_m2", "record.coat_std", "record.let_down")
    _add(connection, "TEXT", "shade.judge")


def _states(connection: Connection) -> None:
    _add(connection, "TEXT", "shade.target_state", "record.how", "record.staining", "proposal.target_state")


def _shelf(connection: Connection) -> None:
    _add(connection, "BOOLEAN", "pigment.ready")
    _add(connection, "FLOAT", "pigment.density", "pigment.drop_g", "pigment.drop_std")
    _make(connection, (studio, pre_mix, stock))


def _add(connection: Connection, kind: str, *columns: str) -> None:
    for table, name in (column.split(".") for column in columns):
        connection.execute(text(f"ALTER TABLE {table} ADD COLUMN {name} {kind}"))


def _make(connection: Connection, made: Sequence[Table]) -> None:
    # A table of that name that is there is somebody else's.
    tables.create_all(connection, tables=made, checkfirst=False)


STEPS: tuple[tuple[str, Callable[[Connection], None]], ...] = (
    ("shades, batches, records, changes", _first_tables),
    ("pigments, lots, proposals", _proposals),
    ("ink on a strip by weight, let-down strips, whose verdict counts", _coat_and_let_down),
    ("states of targets, how a strip was heated or washed, staining", _states),
    ("what the studio has, pre-mixes, what comes and goes", _shelf),
)


def tables_after(steps: int) -> list[Table]:
    """The tables of a library that has gone through so many steps; each after those that it refers to."""
    there = {table for made in MADE[:steps] for table in made}
    return [table for table in tables.sorted_tables if table in there]


def steps_done(connection: Connection) -> int:
    """How many steps this library has gone through.

    Raises
    ------
    LibraryError
        It has gone through more than this version knows.
    """
    if not inspect(connection).has_table(step.name):
        return 0
    done = connection.execute(select(func.coalesce(func.max(step.c.number), 0))).scalar_one()
    if done > len(STEPS):
        raise LibraryError("library-of-a-newer-version", "install-the-newer")
    return int(done)


def take_steps(connection: Connection) -> int:
    """Take the steps that are missing, in the transaction of this connection; how many there were."""
    done = steps_done(connection)
    if not done:
        step.create(connection, checkfirst=True)
    for number, (words, take) in enumerate(STEPS[done:], start=done + 1):
        take(connection)
        connection.execute(step.insert().values(number=number, words=words, done=now()))
    return len(STEPS) - done


def insert(connection: Connection, table: Table, values: dict[str, Any]) -> int:
    """Add a row; its number."""
    new = connection.execute(table.insert().values(values)).inserted_primary_key
    return int(new[0]) if new else 0


def find_or_insert(connection: Connection, table: Table, columns: dict[str, Any]) -> int:
    """The row in use that has these columns, the name apart; made if there is none."""
    known = [table.c[name] == value for name, value in columns.items() if name != "name"]
    found = connection.execute(select(table.c.id).where(*known, table.c.removed.is_(None))).scalar()
    return insert(connection, table, columns | {"made": now()}) if found is None else int(found)


def now() -> str:
    """This moment, ISO 8601 in UTC, so exactly that two commands hardly ever share it."""
    return datetime.now(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
