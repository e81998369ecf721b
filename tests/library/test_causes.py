"""Why a library cannot be used is known by codes, whatever language a server speaks; a mistake of ours is no damage.

SQLite's result codes and PostgreSQL's SQLSTATE are raised by the databases themselves.
"""

from __future__ import annotations

import errno
import os
import socket
import sqlite3
import subprocess
import threading
from contextlib import closing, contextmanager

import psycopg
import pytest

from swatchcam.errors import LibraryError
from swatchcam.library import causes
from swatchcam.library import library as module
from swatchcam.library.causes import cause_of, startup_state
from swatchcam.library.library import open_library
from swatchcam.messages.surface import PAGE, TERMINAL
from tests.library.postgres_server import programs, running

GERMAN = "de_DE.UTF-8"
BRICK = "INSERT INTO shade (name, key, tags, notes, made) VALUES ('Brick', 'brick', '{}', '', '2026-03-01')"


# --- a file -------------------------------------------------------------------------------------------------


def failing(work):
    with pytest.raises(sqlite3.Error) as caught:
        work()
    return cause_of(caught.value)


def test_a_file_that_is_none_or_damaged(tmp_path):
    (tmp_path / "letter").write_bytes(b"Dear Halm, " * 200)
    assert (
        failing(lambda: sqlite3.connect(tmp_path / "letter").execute("SELECT * FROM sqlite_master"))
        == (causes.SQLITE[sqlite3.SQLITE_NOTADB])
    )
    assert failing(lambda: sqlite3.connect(tmp_path / "none" / "there")) is causes.CANNOT_OPEN


def test_a_file_that_may_not_grow_or_be_written(tmp_path):
    with closing(sqlite3.connect(tmp_path / "full")) as full:
        full.execute("CREATE TABLE shade (name TEXT)")
        full.execute("PRAGMA max_page_count = 2")
        assert failing(lambda: full.execute("INSERT INTO shade VALUES (?)", ["x" * 100_000])) is causes.FULL
        full.rollback()
        full.execute("PRAGMA query_only = ON")
        assert failing(lambda: full.execute("DELETE FROM shade")) is causes.READ_ONLY


def test_a_file_that_is_held(tmp_path):
    with closing(sqlite3.connect(tmp_path / "held")) as one, closing(sqlite3.connect(tmp_path / "held")) as other:
        one.execute("BEGIN EXCLUSIVE")
        other.execute("PRAGMA busy_timeout = 0")
        assert failing(lambda: other.execute("BEGIN IMMEDIATE")) is causes.HELD


@pytest.mark.parametrize(
    ("code", "problem"),
    [(errno.ENOSPC, "the disk is full"), (errno.EISDIR, "it is a folder"), (errno.EROFS, "it can be read but")],
)
def test_what_the_system_says(code, problem):
    refusal = cause_of(OSError(code, "in whatever words")).refusal(place="/halm.sqlite", said="in whatever words")
    assert f"The library /halm.sqlite can't be used: {problem}" in TERMINAL.problem(refusal)
    assert "(in whatever words)" in TERMINAL.problem(refusal)
    assert problem in PAGE.problem(refusal)
    assert "halm" not in PAGE.problem(refusal)  # where the library lies is no phone's business


def test_what_says_nothing_has_no_cause():
    assert cause_of(OSError(errno.EXDEV, "disk is full")) is None
    assert cause_of(sqlite3.OperationalError("database is locked")) is None  # words without a code are not read


# --- a server that speaks German ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def german():
    """A server whose every word is German; its documents know no other names for codes."""
    found, needed = programs(), os.environ.get("SWATCHCAM_NEEDS_SERVER")
    known = subprocess.run(["locale", "-a"], capture_output=True, text=True, check=False).stdout.casefold().split()
    if found is None or "de_de.utf8" not in known:
        why = f"no PostgreSQL ({found}), or the system does not know {GERMAN}: {known}"
        if needed:
            pytest.fail(why)
        pytest.skip(why)
    with running(found, GERMAN) as server:
        with psycopg.connect(server.address(), autocommit=True) as connection:
            for line in (
                "CREATE ROLE guest LOGIN",
                "CREATE ROLE crowd LOGIN CONNECTION LIMIT 0",
                "CREATE SCHEMA AUTHORIZATION guest",
                "CREATE TABLE private (one INTEGER)",
            ):
                connection.execute(line)
        yield server


def told(address, words="SELECT 1"):
    """What the server says, and the cause."""
    with pytest.raises(psycopg.Error) as caught, psycopg.connect(address) as connection:
        connection.execute(words)
    return str(caught.value), cause_of(caught.value)


def test_no_such_database_or_user(german):
    for address in (german.address("nirgends"), german.address(user="niemand")):
        said, cause = told(address)
        assert "existiert nicht" in said
        assert cause is causes.NO_SUCH


def test_a_server_that_is_full_is_busy_and_comes_back(german):
    said, cause = told(german.address(user="crowd"))
    assert "zu viele Verbindungen" in said
    assert cause is causes.BUSY
    assert cause in causes.AWAY


def test_what_may_not_be_done(german):
    said, cause = told(german.address(user="guest"), "SELECT * FROM private")
    assert "keine Berechtigung" in said
    assert cause is causes.NOT_ALLOWED
    said, cause = told(german.address(), "SET TRANSACTION READ ONLY; CREATE TABLE more (one INTEGER)")
    assert "kann nicht" in said
    assert cause is causes.ON_READ_ONLY_SERVER


def test_a_session_that_is_ended(german):
    with psycopg.connect(german.address()) as one, psycopg.connect(german.address(), autocommit=True) as other:
        other.execute("SELECT pg_terminate_backend(%s)", [one.info.backend_pid])
        with pytest.raises(psycopg.Error) as caught:
            one.execute("SELECT 1")
    assert cause_of(caught.value) is causes.LOST


def test_a_library_on_it_is_refused_in_our_words_with_its_own_beside_them(german):
    with pytest.raises(LibraryError) as caught:
        open_library(german.address("nirgends"))
    assert "the server has no such database or user (" in TERMINAL.problem(caught.value)
    assert "existiert nicht" in TERMINAL.problem(caught.value)


def test_where_nobody_listens():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    _, cause = told(f"postgresql://halm@127.0.0.1:{port}/studio")
    assert cause is causes.SILENT


def test_a_host_that_is_not_there():
    _, cause = told("postgresql://halm@no-such-host.invalid/studio")
    assert cause is causes.UNKNOWN


@contextmanager
def answering(answer):
    """The address of whoever answers in place of a server: with these bytes, then it hangs up."""

    def serve():
        for _ in range(2):  # libpq first, then the question for the code
            line, _ = listening.accept()
            with line:
                line.recv(4096)
                line.sendall(answer)

    with socket.create_server(("127.0.0.1", 0)) as listening:
        serving = threading.Thread(target=serve, daemon=True)
        serving.start()
        port = listening.getsockname()[1]
        yield f"postgresql://halm@127.0.0.1:{port}/studio?sslmode=disable&gssencmode=disable"
        serving.join(10)
        assert not serving.is_alive()


def refusal(state):
    fields = b"SFATAL\0VFATAL\0C" + state + b"\0Mwas auch immer\0\0"
    return b"E" + (4 + len(fields)).to_bytes(4, "big") + fields


@pytest.mark.parametrize(
    ("answer", "cause"),
    [
        (refusal(b"57P03"), causes.BUSY),  # starting up
        (refusal(b"53300"), causes.BUSY),
        (refusal(b"28P01"), causes.SHUT),
        (refusal(b"XXXXX"), causes.UNREACHED),
        (b"", causes.LOST),
        (b"HTTP/1.1 400 Bad Request\r\n\r\n", causes.UNREACHED),
    ],
)
def test_whatever_answers_has_a_cause(answer, cause):
    with answering(answer) as address:
        _, found = told(address)
    assert found is cause


def test_the_code_is_asked_for_as_the_protocol_says(german):
    with pytest.raises(psycopg.Error) as caught:
        psycopg.connect(german.address("nirgends"))
    assert startup_state(caught.value.pgconn) == "3D000"


# --- damage and mistakes ------------------------------------------------------------------------------------


def test_a_programming_mistake_is_not_called_damage(tmp_path, monkeypatch):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    with library.engine.begin() as connection:
        connection.exec_driver_sql(BRICK.format("[]"))
    assert [shade.name for shade in library.shades()] == ["Brick"]
    monkeypatch.setattr(module, "shade_of", lambda row: row.no_such_column)
    with pytest.raises(AttributeError):
        library.shades()


def test_a_row_that_is_not_what_was_written_is_called_damage(tmp_path):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    with library.engine.begin() as connection:
        connection.exec_driver_sql(BRICK.format("["))
    with pytest.raises(LibraryError, match="is damaged: something in it can't be read") as caught:
        library.shades()
    assert "Bring back a backup" in TERMINAL.remedy(caught.value)
