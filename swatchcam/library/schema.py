"""The tables of the library, and the numbered steps by which they came to be.

Dates and times are ISO 8601 text: the same in both databases, and readable in a hundred years. A row is never
deleted: `removed` says since when it is out of use.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    func,
    inspect,
    select,
    text,
)

from ..errors import LibraryError

tables = MetaData()


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False, default="", server_default="")


def _removed() -> Column[str]:
    return Column("removed", Text)


def _first_of_shade() -> tuple[Column[Any], ...]:
    """The columns of a shade as the first step made them; they stay as they are."""
    return (
        Column("id", Integer, primary_key=True),
        Column("name", Text, nullable=False),
        Column("key", Text, nullable=False),  # the name in small letters: 'Brick' and 'brick' are one shade
        *(Column(name, Float) for name in ("target_l", "target_a", "target_b", "tolerance")),
        _text("tags"),  # JSON list
        _text("notes"),
        Column("made", Text, nullable=False),
        _removed(),
    )


# Whose verdict counts, the pot's or the strips'; null for the strips'.
shade = Table("shade", tables, *_first_of_shade(), Column("judge", Text))
batch = Table(
    "batch",
    tables,
    Column("id", Integer, primary_key=True),
    Column("shade_id", ForeignKey("shade.id"), nullable=False, index=True),
    Column("name", Text, nullable=False),
    Column("key", Text, nullable=False),
    _text("mixed"),
    _text("ink"),
    _text("recipe"),  # JSON, or empty
    _text("notes"),
    Column("made", Text, nullable=False),
    _removed(),
)
photo = Table(
    "photo",
    tables,
    Column("digest", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("made", Text, nullable=False),
)


def _first_of_record() -> tuple[Column[Any], ...]:
    """The columns of a record as the first step made them; they stay as they are."""
    return (
        Column("id", Integer, primary_key=True),
        Column("batch_id", ForeignKey(batch.c.id), nullable=False, index=True),
        Column("origin", Text, nullable=False),  # first photo and drawdown: what was kept once is not kept again
        _text("strip"),
        Column("stage", Text, nullable=False),
        Column("washes", Integer, nullable=False),
        *map(_text, ("cloth", "mesh", "squeegee")),
        Column("measured", Text, nullable=False),
        *map(_text, ("card", "grade", "phone", "light")),
        Column("drawdown", Text, nullable=False),
        Column("illuminant", Text, nullable=False),
        Column("observer", Integer, nullable=False),
        *(Column(name, Float, nullable=False) for name in ("l", "a", "b", "radius")),
        Column("absolute", Boolean, nullable=False),
        Column("errors", Text, nullable=False),  # JSON of `measurement.stored_colour`
        _text("settings"),  # JSON: how it was measured, to do so again
        _text("flags"),  # JSON list
        _text("notes"),
        Column("made", Text, nullable=False),
        _removed(),
    )


record = Table(
    "record",
    tables,
    *_first_of_record(),
    Column("coat_g_m2", Float),  # wet ink by weight; null where nobody weighed it
    Column("coat_std", Float),  # as a part of it
    Column("let_down", Float),  # parts of clear base to one part of ink; null for the ink itself
)
record_photo = Table(
    "record_photo",
    tables,
    Column("record_id", ForeignKey("record.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("digest", ForeignKey("photo.digest"), nullable=False, index=True),
    Column("lamp", Integer, nullable=False),
)
change = Table(
    "change",
    tables,
    Column("id", Integer, primary_key=True),
    Column("made", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("rows", Text, nullable=False),  # JSON: table, id, before, after of every row
    Column("undone_by", Integer),
)
# Amounts and prices are the studio's own; what nobody said is null.
pigment = Table(
    "pigment",
    tables,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("most", Float),  # g in 100 g of the whole: the maker's limit
    Column("least_g", Float),  # the smallest amount that can be dispensed, g
    Column("price", Float),  # of 100 g
    _text("notes"),
    Column("made", Text, nullable=False),
    _removed(),
)
lot = Table(
    "lot",
    tables,
    Column("id", Integer, primary_key=True),
    Column("pigment_id", ForeignKey("pigment.id"), nullable=False, index=True),
    Column("name", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("since", Text, nullable=False),
    Column("strength", Float, nullable=False),  # of colouring, relative to the lot of the test series
    Column("strength_std", Float, nullable=False),
    Column("made", Text, nullable=False),
    _removed(),
)
proposal = Table(
    "proposal",
    tables,
    Column("id", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("batch_id", ForeignKey("batch.id"), nullable=False, index=True),  # the batch that it makes
    Column("from_batch_id", ForeignKey("batch.id"), index=True),  # the pot that was corrected
    Column("recipe", Text, nullable=False),  # JSON: everything in the pot once it is carried out
    Column("target_l", Float),
    Column("target_a", Float),
    Column("target_b", Float),
    _text("target_words"),
    Column("l", Float, nullable=False),
    Column("a", Float, nullable=False),
    Column("b", Float, nullable=False),
    Column("covariance", Text, nullable=False),  # JSON, 3 x 3, of Lab
    Column("radius", Float, nullable=False),
    Column("reflectance", Text, nullable=False),  # JSON list
    _text("cloth"),
    Column("stage", Text, nullable=False),
    _text("words"),
    _text("facts"),  # JSON: whatever else was weighed
    Column("made", Text, nullable=False),
    _removed(),
)
# Only one row with these columns may be in use; those that were removed may be many.
ONLY_ONE = {
    "shade": ("key",),
    "batch": ("shade_id", "key"),
    "record": ("origin",),
    "pigment": ("key",),
    "lot": ("pigment_id", "key"),
    "proposal": ("batch_id",),
}
shade_at_first = Table("shade", MetaData(), *_first_of_shade())
record_at_first = Table("record", MetaData(), *_first_of_record())
for table in (*(tables.tables[name] for name in ONLY_ONE), shade_at_first, record_at_first):
    only, in_use = [table.c[name] for name in ONLY_ONE[table.name]], table.c.removed.is_(None)
    Index(f"one_{table.name}", *only, unique=True, sqlite_where=in_use, postgresql_where=in_use)

step = Table(
    "schema_step",
    MetaData(),
    Column("number", Integer, primary_key=True),
    Column("words", Text, nullable=False),
    Column("done", Text, nullable=False),
)


# The tables that each step made.
MADE = ((shade, batch, photo, record, record_photo, change), (pigment, lot, proposal))


def _first_tables(connection: Connection) -> None:
    # When a later step changes a table, its first shape is made here: this step must go on making what it made.
    shade_at_first.create(connection, checkfirst=False)
    _make(connection, (batch, photo, change))
    record_at_first.create(connection, checkfirst=False)
    _make(connection, (record_photo,))


def _proposals(connection: Connection) -> None:
    _make(connection, MADE[1])


def _coat_and_let_down(connection: Connection) -> None:
    for name in ("coat_g_m2", "coat_std", "let_down"):
        connection.execute(text(f"ALTER TABLE record ADD COLUMN {name} FLOAT"))
    connection.execute(text("ALTER TABLE shade ADD COLUMN judge TEXT"))


def _make(connection: Connection, made: Sequence[Table]) -> None:
    # A table of that name that is there is somebody else's.
    tables.create_all(connection, tables=made, checkfirst=False)


STEPS: tuple[tuple[str, Callable[[Connection], None]], ...] = (
    ("shades, batches, records, changes", _first_tables),
    ("pigments, lots, proposals", _proposals),
    ("ink on a strip by weight, let-down strips, whose verdict counts", _coat_and_let_down),
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
