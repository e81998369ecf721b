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


def _named() -> tuple[Column[str], Column[str]]:
    """A name, and its key in small letters: 'Brick' and 'brick' are one shade."""
    return Column("name", Text, nullable=False), Column("key", Text, nullable=False)


def _ending() -> tuple[Column[str], ...]:
    """What most tables end with."""
    return _text("notes"), Column("made", Text, nullable=False), Column("removed", Text)


def _first_of_shade() -> tuple[Column[Any], ...]:
    """As the first step made them; they stay as they are."""
    return (
        Column("id", Integer, primary_key=True),
        *_named(),
        *(Column(name, Float) for name in ("target_l", "target_a", "target_b", "tolerance")),
        _text("tags"),  # JSON list
        *_ending(),
    )


# Whose verdict counts, the pot's or the strips'; null for the strips'. What the target is for; null if nobody said.
shade = Table("shade", tables, *_first_of_shade(), *(Column(name, Text) for name in ("judge", "target_state")))
batch = Table(
    "batch",
    tables,
    Column("id", Integer, primary_key=True),
    Column("shade_id", ForeignKey("shade.id"), nullable=False, index=True),
    *_named(),
    _text("mixed"),
    _text("ink"),
    _text("recipe"),  # JSON, or empty
    *_ending(),
)
photo = Table(
    "photo",
    tables,
    Column("digest", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("made", Text, nullable=False),
)


def _first_of_record() -> tuple[Column[Any], ...]:
    """As the first step made them; they stay as they are."""
    return (
        Column("id", Integer, primary_key=True),
        Column("batch_id", ForeignKey(batch.c.id), nullable=False, index=True),
        Column("origin", Text, nullable=False),  # first photo and drawdown: what was kept once is not kept again
        _text("strip"),
        Column("stage", Text, nullable=False),  # the state's name
        Column("washes", Integer, nullable=False),
        *map(_text, ("cloth", "mesh", "squeegee")),
        Column("measured", Text, nullable=False),
        *map(_text, ("card", "grade", "phone", "light")),
        Column("drawdown", Text, nullable=False),
        Column("illuminant", Text, nullable=False),
        Column("observer", Integer, nullable=False),
        *(Column(name, Float, nullable=False) for name in (*"lab", "radius")),
        Column("absolute", Boolean, nullable=False),
        Column("errors", Text, nullable=False),  # JSON of `measurement.stored_colour`
        _text("settings"),  # JSON: how it was measured, to do so again
        _text("flags"),  # JSON list
        *_ending(),
    )


record = Table(
    "record",
    tables,
    *_first_of_record(),
    Column("coat_g_m2", Float),  # wet ink by weight; null where nobody weighed it
    Column("coat_std", Float),  # as a part of it
    Column("let_down", Float),  # parts of clear base to one part of ink; null for the ink itself
    Column("how", Text),  # how it was heated, washed or rubbed; null if nobody said
    Column("staining", Text),  # JSON: the grade of a white cloth that was rubbed or washed with it
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
    *_named(),
    Column("most", Float),  # g in 100 g of the whole: the maker's limit
    Column("least_g", Float),  # the smallest amount that can be dispensed, g
    Column("price", Float),  # of 100 g
    *_ending(),
)
lot = Table(
    "lot",
    tables,
    Column("id", Integer, primary_key=True),
    Column("pigment_id", ForeignKey("pigment.id"), nullable=False, index=True),
    *_named(),
    Column("since", Text, nullable=False),
    Column("strength", Float, nullable=False),  # of colouring, relative to the lot of the test series
    Column("strength_std", Float, nullable=False),
    Column("made", Text, nullable=False),
    Column("removed", Text),
)


def _first_of_proposal() -> tuple[Column[Any], ...]:
    """As the second step made them; they stay as they are."""
    return (
        Column("id", Integer, primary_key=True),
        Column("kind", Text, nullable=False),
        Column("batch_id", ForeignKey(batch.c.id), nullable=False, index=True),  # the batch that it makes
        Column("from_batch_id", ForeignKey(batch.c.id), index=True),  # the pot that was corrected
        Column("recipe", Text, nullable=False),  # JSON: everything in the pot once it is carried out
        *(Column(name, Float) for name in ("target_l", "target_a", "target_b")),
        _text("target_words"),
        *(Column(name, Float, nullable=False) for name in "lab"),
        Column("covariance", Text, nullable=False),  # JSON, 3 x 3, of Lab
        Column("radius", Float, nullable=False),
        Column("reflectance", Text, nullable=False),  # JSON list
        _text("cloth"),
        Column("stage", Text, nullable=False),
        _text("words"),
        _text("facts"),  # JSON: whatever else was weighed
        Column("made", Text, nullable=False),
        Column("removed", Text),
    )


proposal = Table("proposal", tables, *_first_of_proposal(), Column("target_state", Text))
# Only one row with these columns may be in use; those that were removed may be many.
ONLY_ONE = {
    "shade": ("key",),
    "batch": ("shade_id", "key"),
    "record": ("origin",),
    "pigment": ("key",),
    "lot": ("pigment_id", "key"),
    "proposal": ("batch_id",),
}
shade_at_first, record_at_first, proposal_at_first = at_first = (
    Table("shade", MetaData(), *_first_of_shade()),
    Table("record", MetaData(), *_first_of_record()),
    Table("proposal", MetaData(), *_first_of_proposal()),
)
for table in (*(tables.tables[name] for name in ONLY_ONE), *at_first):
    only, in_use = [table.c[name] for name in ONLY_ONE[table.name]], table.c.removed.is_(None)
    Index(f"one_{table.name}", *only, unique=True, sqlite_where=in_use, postgresql_where=in_use)

step = Table(
    "schema_step",
    MetaData(),
    Column("number", Integer, primary_key=True),
    *(Column(name, Text, nullable=False) for name in ("words", "done")),
)


# The tables that each step made.
MADE = (shade, batch, photo, record, record_photo, change), (pigment, lot, proposal)


def _first_tables(connection: Connection) -> None:
    # A step goes on making what it made, whatever later ones change.
    shade_at_first.create(connection, checkfirst=False)
    _make(connection, (batch, photo, change))
    record_at_first.create(connection, checkfirst=False)
    _make(connection, (record_photo,))


def _proposals(connection: Connection) -> None:
    _make(connection, (pigment, lot))
    proposal_at_first.create(connection, checkfirst=False)


def _coat_and_let_down(connection: Connection) -> None:
    _add(connection, "FLOAT", "record.coat_g_m2", "record.coat_std", "record.let_down")
    _add(connection, "TEXT", "shade.judge")


def _states(connection: Connection) -> None:
    _add(connection, "TEXT", "shade.target_state", "record.how", "record.staining", "proposal.target_state")


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
