"""What a database or a disk refuses -> what that means for the person at the press: by its code, never by its words.

Codes: SQLite's result codes, PostgreSQL's SQLSTATE (its documentation, appendix A, "Error Codes") and the system's
errno. A server's words come in its own language; they are shown, and never read.
"""

from __future__ import annotations

import errno
import socket
import sqlite3
import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..errors import LibraryError

if TYPE_CHECKING:
    from psycopg.pq.abc import PGconn

PROTOCOL = 3 << 16  # version 3.0, as a session begins
BEFORE_A_SESSION = b"ERSKNvZ"  # kinds of messages that a server sends before it is ready
ALLOWED = bytes(4)  # in AuthenticationOk
SECONDS = 5.0  # that a server may take to say why it lets nobody in


@dataclass(frozen=True)
class Cause:
    """Why a library cannot be used: what it is refused with, given `place`, the library's, and `said`, the reason."""

    refusal: Callable[..., LibraryError]


FULL = Cause(lambda **facts: LibraryError("library-disk-full", "make-room", **facts))
DISK = Cause(lambda **facts: LibraryError("library-disk-fails", "look-at-the-disk", **facts))
DAMAGED = Cause(lambda **facts: LibraryError("library-damaged", "restore-a-backup", **facts))
READ_ONLY = Cause(lambda **facts: LibraryError("library-read-only", "allow-writing", **facts))
ON_READ_ONLY_DISK = Cause(lambda **facts: LibraryError("library-read-only", "use-another-disk", **facts))
ON_READ_ONLY_SERVER = Cause(lambda **facts: LibraryError("library-read-only", "use-a-writable-server", **facts))
FORBIDDEN = Cause(lambda **facts: LibraryError("library-forbidden", "give-access-to-its-folder", **facts))
NOT_ALLOWED = Cause(lambda **facts: LibraryError("library-not-allowed", "ask-for-the-right", **facts))
CANNOT_OPEN = Cause(lambda **facts: LibraryError("library-not-opened", "look-at-its-folder", **facts))
FOLDER = Cause(lambda **facts: LibraryError("library-is-folder", "name-a-file", **facts))
NO_LIBRARY = Cause(lambda **facts: LibraryError("file-no-library", "use-another-file", **facts))
STRANGE_TABLES = Cause(lambda **facts: LibraryError("library-strange-tables", "use-its-own-database", **facts))
HELD = Cause(lambda **facts: LibraryError("library-held", "close-the-other-program", **facts))
SHUT = Cause(lambda **facts: LibraryError("server-locked-out", "check-name-and-password", **facts))
NO_SUCH = Cause(lambda **facts: LibraryError("server-without-database", "create-it-or-correct-address", **facts))
BUSY = Cause(lambda **facts: LibraryError("server-busy", "wait-and-try-again", **facts))
LOST = Cause(lambda **facts: LibraryError("server-lost", "wait-until-it-runs", **facts))
SILENT = Cause(lambda **facts: LibraryError("server-silent", "start-the-server", **facts))
UNKNOWN = Cause(lambda **facts: LibraryError("server-unknown", "check-the-host", **facts))
UNREACHED = Cause(lambda **facts: LibraryError("server-unreached", "check-the-address", **facts))
AWAY = (BUSY, LOST, SILENT)  # of a server that will come back

# https://www.sqlite.org/rescode.html, primary result codes
SQLITE = {
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_IOERR: DISK,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: CANNOT_OPEN,
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_NOTADB: NO_LIBRARY,
    sqlite3.SQLITE_BUSY: HELD,
    sqlite3.SQLITE_LOCKED: HELD,
}
STARTED, BROKEN_OFF = "00000", "08006"  # SQLSTATE: successful completion, connection failure
STATES = {  # SQLSTATE
    STARTED: BUSY,  # there was no room a moment ago, and now there is
    BROKEN_OFF: LOST,
    "25006": ON_READ_ONLY_SERVER,
    "28000": NO_SUCH,
    "28P01": SHUT,
    "3D000": NO_SUCH,
    "42501": NOT_ALLOWED,
    "42P07": STRANGE_TABLES,
    "53100": FULL,
    "53300": BUSY,
    "57P01": LOST,
    "57P02": LOST,
    "57P03": BUSY,
    "XX001": DAMAGED,
    "XX002": DAMAGED,
}
CONNECTION = "08"  # class of SQLSTATE: connection exception
ERRNO = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EISDIR: FOLDER,
    errno.EACCES: FORBIDDEN,
    errno.EPERM: FORBIDDEN,
    errno.EROFS: ON_READ_ONLY_DISK,
}


def cause_of(error: BaseException | None) -> Cause | None:
    """Why a database or a disk refused; None where its code says nothing that a person could act on.

    `error` is what SQLAlchemy, a driver or the system raised.
    """
    if getattr(error, "connection_invalidated", False):
        return LOST
    error = getattr(error, "orig", error)
    if isinstance(error, UnicodeDecodeError):  # SQLite names in its complaint what it found in a damaged file
        return DAMAGED
    if isinstance(error, sqlite3.Error):
        return SQLITE.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
    if isinstance(error, OSError):
        return ERRNO.get(error.errno or 0)
    state = getattr(error, "sqlstate", None)
    if state:
        return LOST if state.startswith(CONNECTION) else STATES.get(state)
    return _of_no_session(error.pgconn) if error is not None and hasattr(error, "pgconn") else None


def _of_no_session(connection: PGconn | None) -> Cause:
    """Why a server let nobody in, which its client library tells in words only."""
    if connection is None:  # it failed before there was one: at the name of the host
        return UNKNOWN
    if connection.used_password or connection.needs_password:
        return SHUT
    try:
        return STATES.get(startup_state(connection), UNREACHED)
    except ConnectionRefusedError:
        return SILENT
    except OSError as error:
        return LOST if isinstance(error, ConnectionError) else UNREACHED


def startup_state(connection: PGconn) -> str:
    """The SQLSTATE with which a server refuses to begin the session that a failed connection asked for.

    libpq tells of a refused beginning in words only, so it is asked for once more. STARTED where the session begins
    this time, "" where a password is asked for first, or it is no such server.

    Raises
    ------
    OSError
        There is no answer.

    Source
    ------
    PostgreSQL's documentation, "Frontend/Backend Protocol", message formats: StartupMessage, ErrorResponse.
    """
    user, database = (text.encode() if isinstance(text, str) else text for text in (connection.user, connection.db))
    words = b"user\0" + user + b"\0database\0" + database + b"\0\0"
    with _line_to(connection) as line:
        line.sendall(struct.pack("!ii", 8 + len(words), PROTOCOL) + words)
        with line.makefile("rb") as answers:
            while head := answers.read(5):
                kind, body = head[:1], b""
                if kind in BEFORE_A_SESSION:
                    body = answers.read(int.from_bytes(head[1:], "big") - 4)
                if kind == b"E":
                    fields = {field[:1]: field[1:] for field in body.split(b"\0")}
                    return fields.get(b"C", b"").decode("ascii", "replace")
                if kind == b"Z":
                    return STARTED
                if kind not in BEFORE_A_SESSION or (kind == b"R" and body[:4] != ALLOWED):
                    return ""
    return BROKEN_OFF


def _line_to(connection: PGconn) -> socket.socket:
    host, port = connection.host.decode(), connection.port.decode()
    if not host.startswith("/"):
        return socket.create_connection((connection.hostaddr.decode() or host, int(port)), SECONDS)
    line = socket.socket(socket.AF_UNIX)
    line.settimeout(SECONDS)
    line.connect(f"{host}/.s.PGSQL.{port}")
    return line
