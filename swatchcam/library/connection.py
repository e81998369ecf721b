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

if TYPE_CHECKING:
    from sqlalchemy import Engine

# SQLAlchemy logs what it also raises, such as Ctrl-C while a connection is closed; a person needs it once, in words.
logging.getLogger("sqlalchemy").addHandler(logging.NullHandler())

LIBRARY, PHOTOS = "SWATCHCAM_LIBRARY", "SWATCHCAM_PHOTOS"
PATIENCE = 60  # s; so long a writer waits for the others; no source
NO_SERVER = 10  # s without an answer, after which a server counts as not there; no source
# What a server says that is there but lets nobody in at this moment.
BUSY = ("too many clients", "connection slots", "starting up", "shutting down", "recovery mode", "not yet accepting")
# What the two databases say, and what that means for the person at the press.
MEANINGS = (
    ("disk is full", "the disk is full", "Make room on the disk and try again; nothing was half written."),
    ("No space left", "the disk is full", "Make room on the disk and try again; nothing was half written."),
    ("disk I/O error", "the disk cannot be written to or read", "Look for room and access on the disk, and try again."),
    ("readonly", "it may be read but not written", "Give yourself the right to write to its folder, and try again."),
    ("unable to open", "its file cannot be opened", "Look whether the folder is there and open to you."),
    ("malformed", "its file is damaged", "Bring back a backup: swatchcam library unpack BACKUP --library NEW-FILE"),
    ("not a database", "that file is no library", "Name another file with --library, or move this one away."),
    ("locked", "another program holds it", "Close the other program, or wait a minute, and try again."),
    ("Is a directory", "it is a folder", "Name a file, such as library.sqlite in that folder."),
    ("Permission denied", "you have no right to it", "Give yourself access to its folder, and try again."),
    ("permission denied", "you may not do that there", "Ask whoever looks after the server for the right to do it."),
    ("Read-only", "it may be read but not written", "Name a library on another disk."),
    ("read-only", "it may be read but not written", "Name the server that may be written to."),
    ("already exists", "tables of something else are there", "Give the library a database of its own, and name that."),
    *((said, "the server is busy", "Wait a minute, and try again.") for said in BUSY),
    ("password", "the server does not let you in", "Check name and password in the address."),
    ("does not exist", "the server has no such database or user", "Create it there, or correct the address."),
    ("resolve host", "there is no such server", "Check the host in the address, and the network."),
    ("refused", "the server does not answer", "Start it, or check host and port in the address."),
    ("connection", "the server was lost", "Wait until it runs again, and try again."),
)


@dataclass(frozen=True)
class Place:
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


def find_place(given: str | None = None) -> Place:
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
        return Place(_server(text), Path(own) if own else data_folder() / "photos", None)
    file = Path(text).expanduser().absolute()
    return Place(str(file), Path(own) if own else file.with_name(f"{file.stem}.photos"), file)


def _server(text: str) -> str:
    from sqlalchemy import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        url = None
    if url is None or url.get_backend_name() != "postgresql":
        kind = text.partition("://")[0]
        raise UsageError(
            f"'{kind}://...' is no address of a library.",
            "Write postgresql://user@host/database, or the name of a file.",
        )
    return url.set(drivername="postgresql+psycopg").render_as_string(hide_password=False)


def connect(place: Place) -> Engine:
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


def reading_options(place: Place) -> dict[str, Any]:
    """How a transaction that only reads is begun: it sees one state of the library from its first word to its last."""
    return {"reading": True} if place.file else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}


def _read_only(file: Path) -> str:
    """Where nothing may be written SQLite cannot make the files by which readers and writers know of each other.

    It must then be told that there are no writers; unless one left its log, which only a reader of the usual kind sees.
    """
    alone = "" if file.with_name(f"{file.name}-wal").exists() else "&immutable=1"
    return f"sqlite:///file:{quote(str(file))}?mode=ro{alone}&uri=true"


@contextmanager
def explained(place: Place) -> Iterator[None]:
    """Turn what a database or a disk refuses into one sentence and a remedy.

    Raises
    ------
    LibraryError
        In place of what SQLAlchemy, its drivers and the operating system raise.
    """
    from sqlalchemy.exc import SQLAlchemyError

    try:
        yield
    except SQLAlchemyError as error:
        raise _meaning(place, str(getattr(error, "orig", None) or error)) from error
    except (sqlite3.Error, OSError) as error:
        raise _meaning(place, str(error)) from error
    except UnicodeEncodeError as error:
        letter = ascii(error.object[error.start])
        raise LibraryError(
            f"The library {place} cannot hold the sign {letter}.", "Leave it out of names and notes, and try again."
        ) from error


def _meaning(place: Place, said: str) -> LibraryError:
    first = said.strip().splitlines()[0] if said.strip() else "no reason was given"
    for sign, problem, remedy in MEANINGS:
        if sign in said:
            return LibraryError(f"The library {place} cannot be used: {problem} ({first}).", remedy)
    return LibraryError(
        f"The library {place} cannot be used: {first}.", "Look at 'swatchcam library verify', or bring back a backup."
    )
