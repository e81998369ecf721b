"""The tables of the library.

Dates and times are ISO 8601 text: the same in both databases, and readable in a hundred years. A row is never
deleted: `removed` says since when it is out of use. Columns that a later step added stand behind those of the first.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Boolean, Column, Float, ForeignKey, Index, Integer, MetaData, Table, Text

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


def _first_of_pigment() -> tuple[Column[Any], ...]:
    """As the second step made them; they stay as they are."""
    return (
        Column("id", Integer, primary_key=True),
        *_named(),
        Column("most", Float),  # g in 100 g of the whole: the maker's limit
        Column("least_g", Float),  # the smallest amount that can be dispensed, g
        Column("price", Float),  # of 100 g
        *_ending(),
    )


# Amounts and prices are the studio's own; what nobody said is null.
pigment = Table(
    "pigment",
    tables,
    *_first_of_pigment(),
    Column("ready", Boolean),  # a ready-mixed ink, not a concentrate
    *(Column(name, Float) for name in ("density", "drop_g", "drop_std")),  # g/ml; of one drop, g, and as a part of it
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
# What the studio has, by name; the values are JSON.
studio = Table(
    "studio",
    tables,
    Column("id", Integer, primary_key=True),
    *(Column(name, Text, nullable=False) for name in ("name", "value", "made")),
    Column("removed", Text),
)
# A pigment thinned with clear base, in a jar or a bottle on the shelf.
pre_mix = Table(
    "pre_mix",
    tables,
    Column("id", Integer, primary_key=True),
    *_named(),
    Column("pigment", Text, nullable=False),
    *(Column(name, Float, nullable=False) for name in ("percent", "std")),  # of pigment in it; of that, as a part
    *(Column(name, Float) for name in ("drop_g", "drop_std")),
    *map(_text, ("lot", "mixed")),
    *_ending(),
)
# What came into a pot, a pre-mix or a bottle, or went out of it (below 0); or what was left of it when it was weighed.
stock = Table(
    "stock",
    tables,
    Column("id", Integer, primary_key=True),
    *(Column(f"{of}_id", ForeignKey(f"{of}.id"), index=True) for of in ("batch", "pre_mix", "pigment")),  # one of them
    Column("grams", Float, nullable=False),
    Column("weighed", Boolean, nullable=False),
    *map(_text, ("why", "day")),
    Column("made", Text, nullable=False),
    Column("removed", Text),
)
# Only one row with these columns may be in use; those that were removed may be many.
ONLY_ONE = {
    "shade": ("key",),
    "batch": ("shade_id", "key"),
    "record": ("origin",),
    "pigment": ("key",),
    "lot": ("pigment_id", "key"),
    "proposal": ("batch_id",),
    "studio": ("name",),
    "pre_mix": ("key",),
}
shade_at_first, record_at_first, pigment_at_first, proposal_at_first = at_first = (
    Table("shade", MetaData(), *_first_of_shade()),
    Table("record", MetaData(), *_first_of_record()),
    Table("pigment", MetaData(), *_first_of_pigment()),
    Table("proposal", MetaData(), *_first_of_proposal()),
)
for table in (*(tables.tables[name] for name in ONLY_ONE), *at_first):
    only, in_use = [table.c[name] for name in ONLY_ONE[table.name]], table.c.removed.is_(None)
    Index(f"one_{table.name}", *only, unique=True, sqlite_where=in_use, postgresql_where=in_use)
