"""The studio's library: what was kept, found again. Reading here never writes.

A record is a colour with its errors (`stored_colour`), so when two records made months apart are compared, the errors
that their phone and light have in common cancel, as if both photos were measured now. One transaction a record, photos
first: a run that is killed leaves at worst a photo that no record names. One writer at a time in both databases (`BEGIN
IMMEDIATE`; an advisory lock), and readers never wait (WAL); a change reads what it depends on while it holds that lock.
A write whose server was lost is tried again and lands once.
"""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar
from uuid import uuid4

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, Engine, case, func, inspect, select, text
from sqlalchemy.exc import DBAPIError, OperationalError

from ..arrays import Array
from ..errors import LibraryError, UsageError
from ..files import PART, settle
from ..text import key
from . import schema
from .causes import AWAY, BUSY, cause_of
from .connection import LibraryPlace, connect, explained, find_place, reading_options
from .photo_store import PhotoStore
from .records import FINISHED_FIRST, Batch, Record, Shade, by_name
from .row_mapping import DamagedRow, batch_of, decoding, records_in_use, records_of, rows_of, shade_of

Found = TypeVar("Found")
WAITS = (0.25, 0.5, 1, 2, 4, 8)  # s; a server that restarts is back by then
MAGIC = b"SQLite format 3\0"  # SQLite, "Database File Format", 1.3.1
_OF_THE_INK = schema.record.c.let_down.is_(None)  # a let-down strip is never the colour of its shade
LOCK = 7_923_114  # any number: it stands for the right to write to a server's library


@dataclass(frozen=True)
class Library:
    """An open library."""

    place: LibraryPlace
    engine: Engine
    photos: PhotoStore
    waits: tuple[float, ...] = WAITS
    within: Connection | None = None  # the transaction through which all is read, where one is under way

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the library and changes nothing.

        Raises
        ------
        LibraryError
            The database refuses, or what it holds is not what was written.
        """
        # Within a write what the database refuses is told by `writing`, which may try again.
        telling = explained(self.place) if self.within is None else nullcontext()
        try:
            with telling, self._connection() as connection:
                yield connection
        except DamagedRow as error:
            raise LibraryError("library-row-unreadable", "restore-a-backup", place=self.place, said=error) from error

    def writing(self, work: Callable[[Connection], Found]) -> Found:
        """Do `work` in one transaction: all of it is kept, or nothing. Writers wait for each other.

        Within a transaction that is under way it is done as a part of that one.

        It is done again if a server was lost meanwhile, and that may be after the first try was kept: so `work` must
        look whether what it wants is there already.

        Raises
        ------
        LibraryError
            The database refuses.
        """
        if self.within is not None:
            return work(self.within)
        with explained(self.place):
            for wait in self.waits:
                try:
                    return self._written(work)
                except DBAPIError as error:
                    if cause_of(error) not in AWAY:
                        raise
                    time.sleep(wait)
            return self._written(work)

    def during(self, connection: Connection) -> Library:
        """The same library as a transaction that is under way sees it: with what it wrote, through its connection."""
        return replace(self, within=connection)

    @contextmanager
    def _connection(self) -> Iterator[Connection]:
        if self.within is not None:
            yield self.within
            return
        with self._let_in() as connection:
            yield connection.execution_options(**reading_options(self.place))

    def _let_in(self) -> Connection:
        """A connection, as soon as the server has room for one."""
        for wait in self.waits:
            try:
                return self.engine.connect()
            except OperationalError as error:
                if cause_of(error) is not BUSY:
                    raise
                time.sleep(wait)
        return self.engine.connect()

    def _written(self, work: Callable[[Connection], Found]) -> Found:
        with self.engine.begin() as connection:
            if connection.dialect.name == "postgresql":
                # One writer at a time, as in SQLite: what `work` has read stays true until it has written.
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": LOCK})
            return work(connection)

    def shades(self) -> list[Shade]:
        """Every shade in use, by name."""
        query = select(schema.shade).where(schema.shade.c.removed.is_(None)).order_by(schema.shade.c.key)
        with self.reading() as connection:
            return [shade_of(row) for row in rows_of(connection, query)]

    def shade(self, name: str) -> Shade:
        """The shade of that name, small and capital letters alike.

        Raises
        ------
        UsageError
            There is none; the remedy names those that are spelt alike.
        """
        return by_name(
            self.shades(), name, lambda near: UsageError("shade-unknown", "choose-a-shade", name=name, near=near)
        )

    def batches(self, shade: str | None = None) -> list[Batch]:
        """The batches of a shade, or of all, in the order in which they were first kept."""
        query = (
            select(schema.batch, schema.shade.c.name.label("shade_name"))
            .join(schema.shade)
            .where(schema.batch.c.removed.is_(None), schema.shade.c.removed.is_(None))
            .order_by(schema.batch.c.id)
        )
        if shade is not None:
            query = query.where(schema.shade.c.key == key(shade))
        with self.reading() as connection:
            return [batch_of(row) for row in rows_of(connection, query)]

    def records(
        self, shade: str | None = None, batch: str | None = None, state: str | None = None, digest: str | None = None
    ) -> list[Record]:
        """The records in use, oldest first: of a shade, of a batch, in a state, that rest on a photo."""
        query = records_in_use()
        if shade is not None:
            query = query.where(schema.shade.c.key == key(shade))
        if batch is not None:
            query = query.where(schema.batch.c.key == key(batch))
        if state is not None:
            query = query.where(schema.record.c.stage == state)
        if digest is not None:
            with_it = select(schema.record_photo.c.record_id).where(schema.record_photo.c.digest == digest)
            query = query.where(schema.record.c.id.in_(with_it))
        with self.reading() as connection:
            return records_of(connection, query)

    def marked(self, most: int) -> list[Record]:
        """The last records of strips with a mark, oldest first: a pot with several strips has them marked."""
        row = schema.record.c
        last = select(row.id).where(row.strip != "", row.removed.is_(None)).order_by(row.id.desc()).limit(most)
        with self.reading() as connection:
            return records_of(connection, records_in_use().where(row.id.in_(last)))

    def latest(self) -> dict[str, Record]:
        """Of each shade its finished colour, by its name: of the records of the ink itself the last heat-set one ..."""
        row = schema.record.c
        finish = case({state: place for place, state in enumerate(FINISHED_FIRST)}, value=row.stage)
        best_first = (finish, row.measured.desc(), row.id.desc())
        place = func.row_number().over(partition_by=schema.batch.c.shade_id, order_by=best_first).label("place")
        ranked = records_in_use().where(_OF_THE_INK).with_only_columns(row.id, place).order_by(None).subquery()
        last = select(ranked.c.id).where(ranked.c.place == 1)
        with self.reading() as connection:
            found = records_of(connection, records_in_use().where(schema.record.c.id.in_(last)))
        return {record.shade: record for record in found}

    def record(self, number: int) -> Record:
        """The record of that number.

        Raises
        ------
        UsageError
            There is none, or it was removed.
        """
        with self.reading() as connection:
            found = records_of(connection, records_in_use().where(schema.record.c.id == number))
        if not found:
            raise UsageError("record-unknown", "look-at-the-shade", number=number)
        return found[0]

    def settings(self, number: int) -> dict[str, Any]:
        """How a record was measured, to do so again."""
        query = select(schema.record.c.settings).where(schema.record.c.id == number)
        with self.reading() as connection, decoding():
            stored: dict[str, Any] = json.loads(connection.execute(query).scalar_one() or "{}")
        return stored

    def origins(self) -> set[str]:
        """`digest:strip` of every record in use."""
        query = select(schema.record.c.origin).where(schema.record.c.removed.is_(None))
        with self.reading() as connection:
            return {row.origin for row in rows_of(connection, query)}

    def counts(self) -> tuple[int, int, int]:
        """How many shades, batches and records are in use."""
        return len(self.shades()), len(self.batches()), len(self.origins())

    def labs(self) -> tuple[NDArray[np.int64], Array, NDArray[np.int64]]:
        """Of every record in use (n,) its number, (n, 3) CIELAB, (n,) number of its shade.

        Of the ink itself, for D65 and 10 degrees only.
        """
        columns = schema.record.c
        query = (
            select(columns.id, columns.l, columns.a, columns.b, schema.batch.c.shade_id)
            .join_from(schema.record, schema.batch)
            .where(columns.removed.is_(None), columns.illuminant == "D65", columns.observer == 10, _OF_THE_INK)
        )
        with self.reading() as connection:
            table = np.array([tuple(row) for row in rows_of(connection, query)], dtype=float).reshape(-1, 5)
        return table[:, 0].astype(np.int64), table[:, 1:4], table[:, 4].astype(np.int64)


def open_library(given: str | None = None, *, create: bool = False) -> Library:
    """Open the library that was named (`find_place`); `create` makes it, or brings it up to date, where need be.

    Raises
    ------
    LibraryError
        There is none yet, it is of another version, or the database refuses.
    """
    place = find_place(given)
    with explained(place):
        if place.file is not None and not place.file.exists():
            if not create:
                raise LibraryError("no-library-yet", "keep-a-strip-or-name-a-library", place=place)
            _make(place.file)
        if place.file is not None and place.file.exists():
            _refuse_strange(place, place.file)
        library = Library(place, connect(place), PhotoStore(place.photos))
        with library.reading() as connection:
            done = schema.steps_done(connection)
            strange = not done and bool(inspect(connection).get_table_names()) and place.file is not None
        if strange:
            raise LibraryError("database-no-library", "use-another-file", place=place)
        if done < len(schema.STEPS):
            _bring_up_to_date(library, create)
    return library


def _refuse_strange(place: LibraryPlace, file: Path) -> None:
    """A file that is no database; one of a few bytes SQLite would take for an empty one, and write over it."""
    with file.open("rb") as opened:
        start = opened.read(len(MAGIC))
    if start not in (b"", MAGIC):
        raise LibraryError("file-no-library", "use-another-file", place=place, said=ascii(start))


def _make(file: Path) -> None:
    """A new library appears whole or not at all; who is second uses that of the first."""
    file.parent.mkdir(parents=True, exist_ok=True)
    draft = file.with_name(f"{file.name}.{uuid4().hex}{PART}")
    try:
        with closing(sqlite3.connect(draft)) as plain:
            plain.execute("PRAGMA journal_mode=WAL")  # readers and a writer do not wait for each other
        with connect(LibraryPlace(str(draft), file.parent, draft)).begin() as connection:
            schema.take_steps(connection)
        # Another may have been quicker; and a disk may know no links: then SQLite makes the file where it shall be.
        with suppress(OSError):
            os.link(draft, file)
            settle(file.parent)
    finally:
        for leftover in draft.parent.glob(f"{draft.name}*"):
            leftover.unlink(missing_ok=True)


def _bring_up_to_date(library: Library, allowed: bool) -> None:
    if not allowed:
        raise LibraryError("library-of-an-older-version", "upgrade-the-library", place=library.place)

    library.writing(schema.take_steps)
