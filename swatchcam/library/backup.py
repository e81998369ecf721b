"""A backup of the whole library in one file, and back.

A backup is a ZIP file: `library.json` (format, schema, digests), each table as `tables/NAME.jsonl`, one row a line,
the photos, and the user's own cards and pigment rows (`card_files`). It is the same for both kinds of database, so it
also moves a library from one to the other.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, func, select, text

from ..errors import LibraryError
from ..files import OWNER_ONLY, disk_cause, whole_file
from . import schema
from .card_files import CARDS, NUMBERS, bring_cards, pack_cards, unpack_cards
from .connection import explained
from .library import Library
from .row_mapping import rows_of

FORMAT = "swatchcam-backup-1"
HEAD = "library.json"
ROWS = 1000  # at a time


# What reading a file raises that is no backup, or no longer one.
DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    EOFError,
    RuntimeError,  # marked as encrypted, or packed in a way that there is not
    MemoryError,
)


@dataclass(frozen=True)
class Count:
    """What was saved, brought back or looked at."""

    records: int
    photos: int
    cards: int = 0  # files of cards, pigment rows and designs
    # Each file of the user's that stayed, and where the backup's file of that name is now.
    aside: tuple[tuple[Path, Path], ...] = ()


def back_up(library: Library, target: Path, replace: bool = False) -> Count:
    """Write everything into one file, which is there whole or not at all; `replace` says that one may be there already.

    Raises
    ------
    LibraryError
        A photo is missing or damaged, the file is there already, or it cannot be written.
    """
    if target.exists() and not replace:
        raise LibraryError("file-exists", "name-it-by-its-date", path=target)
    try:
        with whole_file(target.absolute(), OWNER_ONLY) as file:
            return _write(library, file)
    except OSError as error:
        cause = disk_cause(error)
        raise LibraryError(
            "file-not-written",
            "make-room" if cause.code == "disk-full" else "save-it-elsewhere",
            path=target,
            cause=cause,
        ) from error


def restore(source: Path, library: Library) -> Count:
    """Bring a backup back into a library that is still empty.

    Raises
    ------
    LibraryError
        The file is no backup or is damaged, the library holds something, or it cannot be written.
    """
    with library.reading() as connection:
        _refuse_full(library, connection)
    with explained(library.place), _opened(source) as packed:
        head = _head(source, packed)
        photos, rows = head["photos"], _tables(packed, head["schema"])
        cards = unpack_cards(packed, head)
        for digest, name in photos.items():
            _bring_photo(library, packed, digest, name)
        aside = bring_cards(cards, head.get(NUMBERS, ()))
        tried = list[bool]()

        def fill(connection: Connection) -> None:
            # A server that was lost may have kept it at the first try.
            if tried and _numbers(connection) == {name: len(those) for name, those in rows.items()}:
                return
            _refuse_full(library, connection)
            tried.append(True)
            for table in schema.tables.sorted_tables:
                _fill(connection, table, rows[table.name])

        library.writing(fill)
    return Count(len(rows[schema.record.name]), len(photos), len(cards), tuple(aside))


def _write(library: Library, file: Any) -> Count:
    with library.reading() as connection:
        rows = {table.name: rows_of(connection, select(table)) for table in schema.tables.sorted_tables}
    # Photos are never changed or taken away, so those of these rows stay while they are packed.
    photos = {row.digest: library.photos.path(row.digest) for row in rows[schema.photo.name]}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False) as packed:
        for name, those in rows.items():
            lines = (json.dumps(dict(row._mapping), ensure_ascii=False) + "\n" for row in those)
            packed.writestr(f"tables/{name}.jsonl", "".join(lines))
        for digest, path in photos.items():
            library.photos.check(digest)
            packed.write(path, f"photos/{path.name}", zipfile.ZIP_STORED)  # photos are packed already
        names = {digest: path.name for digest, path in photos.items()}
        head: dict[str, Any] = {"format": FORMAT, "schema": len(schema.STEPS), "made": schema.now(), "photos": names}
        head |= pack_cards(packed)
        packed.writestr(HEAD, json.dumps(head))
    return Count(len(rows[schema.record.name]), len(photos), len(head[CARDS]))


def _numbers(connection: Connection) -> dict[str, int]:
    """How many rows each table has."""
    every = schema.tables.sorted_tables
    return {table.name: connection.execute(select(func.count()).select_from(table)).scalar_one() for table in every}


def _refuse_full(library: Library, connection: Connection) -> None:
    if any(_numbers(connection).values()):
        raise LibraryError("library-not-empty", "restore-into-a-new-file", place=library.place)


@contextlib.contextmanager
def _opened(source: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(source) as packed:
            yield packed
    except OSError as error:
        raise LibraryError("file-not-read", "check-the-file", path=source, cause=disk_cause(error)) from error
    except DAMAGED as error:
        raise LibraryError("backup-damaged", "use-another-backup", path=source, said=error) from error


def _head(source: Path, packed: zipfile.ZipFile) -> dict[str, Any]:
    head: dict[str, Any] = json.loads(packed.read(HEAD))
    if not str(head["format"]).startswith(FORMAT[:-1]):
        raise ValueError(f"format {head['format']}")
    if head["format"] != FORMAT or head["schema"] > len(schema.STEPS):
        raise LibraryError("backup-newer", "install-the-newer", path=source)
    return head


def _bring_photo(library: Library, packed: zipfile.ZipFile, digest: str, name: str) -> None:
    data = packed.read(f"photos/{name}")
    if hashlib.sha256(data).hexdigest() != digest:
        raise ValueError(f"photo {digest[:12]} is not what it was")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / Path(name).name
        copy.write_bytes(data)
        library.photos.add(copy)


def _tables(packed: zipfile.ZipFile, steps: int) -> dict[str, list[dict[str, Any]]]:
    """Every table's rows; a backup of an older library knows nothing of those that came later."""
    known = schema.tables_after(steps)
    if {name for name in packed.namelist() if name.startswith("tables/")} != {
        f"tables/{one.name}.jsonl" for one in known
    }:
        raise ValueError(f"not the tables of schema {steps}")
    return {table.name: _rows(packed, table) if table in known else [] for table in schema.tables.sorted_tables}


def _rows(packed: zipfile.ZipFile, table: Table) -> list[dict[str, Any]]:
    """A table's rows, each with the same columns."""
    with packed.open(f"tables/{table.name}.jsonl") as lines:
        rows: list[dict[str, Any]] = [json.loads(line) for line in lines]
    columns = set(rows[0]) if rows else set()
    if any(set(row) != columns for row in rows) or not columns <= set(table.c.keys()):
        raise ValueError(f"table {table.name}")
    return rows


def _fill(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    for start in range(0, len(rows), ROWS):
        connection.execute(table.insert(), rows[start : start + ROWS])
    if connection.dialect.name == "postgresql" and "id" in table.c and rows:
        # Rows that bring their own numbers leave the counter where it was.
        counter = text(f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), :highest)")
        connection.execute(counter, {"highest": max(row["id"] for row in rows)})
