"""Where the library lies: a file of one's own, or a PostgreSQL server that several machines share."""

from __future__ import annotations

import logging
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from ..errors import LibraryError, UsageError
from ..resources import data_folder
from .causes import cause_of

if TYPE_CHECKING:
    from sqlalchemy import Engine

# SQLAlchemy logs what it also raises, such as Ctrl-C while a connection is closed; a person needs it once, in words.
logging.getLogger("sqlalchemy").addHandler(logging.NullHandler())

LIBRARY, PHOTOS = "SWATCHCAM_LIBRARY", "SWATCHCAM_PHOTOS"
PATIENCE = 60  # s; so long a writer waits for the others; no source
NO_SERVER = 10  # s without an answer, after which a server counts as not there; no source


@dataclass(frozen=True)
class LibraryPlace:
    """A library's address, and the folder of its photos."""

    address: str = field(repr=False)  # a server's for SQLAlchemy, perhaps with a password; else the file's name
    photos: Path
    file: Path | None  # None for a server

    def __str__(self) -> str:
        if self.file:
            return str(self.file)
        from sqlalchemy import make_url

        url = make_url(self.address)
        secrets = [name for name in url.query if "password" in name]
        shown = url.set(drivername="postgresql").difference_update_query(secrets)
        return shown.render_as_string(hide_password=True)


def find_place(given: str | None = None) -> LibraryPlace:
    """The library that was named, else that of SWATCHCAM_LIBRARY, else the one in the user's data folder.

    A PostgreSQL address begins with postgresql://. Photos lie in SWATCHCAM_PHOTOS, else beside the library's file,
    else in the user's data folder.

    Raises
    ------
    UsageError
        An address of another kind of server, or one that cannot be read.
    """
    own = os.environ.get(PHOTOS)
    text = given or os.environ.get(LIBRARY) or str(data_folder() / "library.sqlite")
    if "://" in text:
        return LibraryPlace(_server(text), Path(own) if own else data_folder() / "photos", None)
    file = Path(text).expanduser().absolute()
    return LibraryPlace(str(file), Path(own) if own else file.with_name(f"{file.stem}.photos"), file)


def _server(text: str) -> str:
    from sqlalchemy import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        url = None
    if url is None or url.get_backend_name() != "postgresql":
        kind = text.partition("://")[0]
        raise UsageError("address-unreadable", "write-an-address", kind=kind)
    return url.set(drivername="postgresql+psycopg").render_as_string(hide_password=False)


def connect(place: LibraryPlace) -> Engine:
    """An engine whose transactions take the writer's lock at once, unless they say that they only read."""
    from sqlalchemy import URL, create_engine, event
    from sqlalchemy.pool import NullPool

    if place.file is None:
        return create_engine(place.address, poolclass=NullPool, connect_args={"connect_timeout": NO_SERVER})
    file = place.file.resolve()  # its log lies beside the file itself, not beside a link to it
    address = URL.create("sqlite", database=str(file)) if os.access(file.parent, os.W_OK) else _read_only(file)
    engine = create_engine(address, poolclass=NullPool, connect_args={"timeout": PATIENCE})

    @event.listens_for(engine, "connect")
    def _set_up(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # SQLAlchemy's own BEGIN below, not the driver's late one
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("PRAGMA foreign_keys=ON")

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        if connection.get_execution_options().get("reading"):
            connection.exec_driver_sql("PRAGMA query_only=ON")
            connection.exec_driver_sql("BEGIN")
        else:
            connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def reading_options(place: LibraryPlace) -> dict[str, Any]:
    """How a transaction that only reads is begun: it sees one state of the library from its first word to its last."""
    return {"reading": True} if place.file else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}


def _read_only(file: Path) -> str:
    """Where nothing may be written SQLite cannot make the files by which readers and writers know of each other.

    It must then be told that there are no writers; unless one left its log, which only a reader of the usual kind sees.
    """
    alone = "" if file.with_name(f"{file.name}-wal").exists() else "&immutable=1"
    return f"sqlite:///file:{quote(str(file))}?mode=ro{alone}&uri=true"


@contextmanager
def explained(place: LibraryPlace) -> Iterator[None]:
    """Turn what a database or a disk refuses into a refusal of ours.

    Raises
    ------
    LibraryError
        In place of what SQLAlchemy, its drivers and the operating system raise.
    """
    from sqlalchemy.exc import DBAPIError

    try:
        yield
    except DBAPIError as error:
        raise _refusal(place, error) from error
    except (sqlite3.Error, UnicodeDecodeError, OSError) as error:
        raise _refusal(place, error) from error
    except UnicodeEncodeError as error:
        letter = ascii(error.object[error.start])
        raise LibraryError("library-without-letter", "leave-the-letter-out", place=place, letter=letter) from error


def _refusal(place: LibraryPlace, error: BaseException) -> LibraryError:
    cause, said = cause_of(error), str(getattr(error, "orig", None) or error).strip()
    first = said.splitlines()[0] if said else type(error).__name__
    if cause is None:
        return LibraryError("library-unusable", "verify-or-restore", place=place, said=first)
    return cause.refusal(place=place, said=first)
