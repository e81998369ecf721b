"""A full disk, a folder that may not be written to, a damaged file: told in a sentence, and nothing is lost by it."""

from __future__ import annotations

import os
import random
import shutil
import stat
import subprocess
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import event

from swatchcam.errors import LibraryError, SwatchcamError
from swatchcam.library.backup import back_up
from swatchcam.library.changes import log, rename_shade
from swatchcam.library.library import open_library
from swatchcam.library.search import nearest_shades
from swatchcam.library.verify import verify
from swatchcam.messages.surface import TERMINAL
from tests.library.killing import settle_environment
from tests.worlds.cheap_measurements import facts, files, put

NOBODY = 65534
FLIPS, CUTS = 60, 15


@contextmanager
def mounted(folder):
    """A disk of a megabyte, where the system lets one be made."""
    folder.mkdir()
    try:
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)], capture_output=True, text=True, check=False
        )
    except OSError as error:
        pytest.skip(f"no small disk can be made: {error}")
    if done.returncode:
        pytest.skip(f"no small disk can be made: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def small_disk(tmp_path):
    with mounted(tmp_path / "disk") as folder:
        yield folder


@pytest.fixture
def on_small_disk(server):
    """The address of an empty place on the server whose tables lie on a small disk, and that disk."""
    with mounted(server.folder / "disk") as folder:
        shutil.chown(folder, "postgres")
        address = server.empty()
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(f"CREATE TABLESPACE small LOCATION '{folder}'")
            (name,) = connection.execute("SELECT current_schema()").fetchone()
        yield f"{address}%20-cdefault_tablespace%3Dsmall", folder
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(f"DROP SCHEMA {name} CASCADE")
            connection.execute("DROP TABLESPACE small")


def fill_up(folder):
    """A file that takes all the room there is."""
    filler = folder / "filler"
    with suppress(OSError), filler.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(1024))
    return filler


def seen(library):
    return library.shades(), [facts(record) for record in library.records()], log(library)


def refused(work):
    with pytest.raises(LibraryError) as refusal:
        work()
    assert TERMINAL.remedy(refusal.value) != refusal.value.remedy
    return str(refusal.value)


# --- a full disk --------------------------------------------------------------------------------------------


def test_a_full_disk_keeps_what_is_there_and_takes_more_once_there_is_room(small_disk, tmp_path, monkeypatch):
    monkeypatch.delenv("SWATCHCAM_PHOTOS", raising=False)
    library = open_library(str(small_disk / "halm.sqlite"), create=True)
    put(library, tmp_path / "shots", 1)
    before = seen(library)
    filler = fill_up(small_disk)
    words = refused(lambda: put(library, tmp_path / "shots", 2))
    assert "full" in words or "No space left" in words
    assert "ake room" in words
    refused(lambda: back_up(library, small_disk / "backup.zip"))
    assert not (small_disk / "backup.zip").exists()
    filler.unlink()  # as long as there is no room at all SQLite cannot even read: its readers need a file to meet in
    assert seen(library) == before
    put(library, tmp_path / "shots", 2)
    assert len(library.records()) == 2
    assert verify(library)[1] == []
    assert not list(small_disk.rglob("*.part"))


def test_a_full_disk_under_the_database_alone(small_disk, tmp_path, monkeypatch):
    """The photo is copied in, the record cannot be written: the photo is a stranger until it is kept."""
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    library = open_library(str(small_disk / "halm.sqlite"), create=True)
    put(library, tmp_path / "shots", 1)
    before = seen(library)
    filler = fill_up(small_disk)
    words = refused(lambda: put(library, tmp_path / "shots", 2))
    assert "disk" in words
    filler.unlink()
    assert seen(library) == before
    assert [found.harmless for found in verify(library)[1]] == [True]
    put(library, tmp_path / "shots", 2)
    assert verify(library)[1] == []


def test_a_full_disk_under_a_server(on_small_disk, tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    address, disk = on_small_disk
    library = open_library(address, create=True)
    filler = fill_up(disk)

    def keep_on():  # its tables have room for a few
        for number in range(100):
            put(library, tmp_path / "shots", number)

    assert "the disk is full" in refused(keep_on)
    kept = [record.photos[0].name for record in library.records()]
    assert kept == [f"photo {number}.jpg" for number in range(len(kept))]
    assert library.counts() == (bool(kept), bool(kept), len(kept))
    filler.unlink()
    put(library, tmp_path / "shots", len(kept))
    assert len(library.records()) == len(kept) + 1
    assert verify(library)[1] == []


def test_a_library_cannot_be_made_on_a_full_disk(small_disk):
    filler = fill_up(small_disk)
    refused(lambda: open_library(str(small_disk / "halm.sqlite"), create=True))
    filler.unlink()
    assert not (small_disk / "halm.sqlite").exists() or open_library(str(small_disk / "halm.sqlite")).shades() == []
    assert open_library(str(small_disk / "halm.sqlite"), create=True).shades() == []


def test_a_database_that_may_not_grow_is_told_as_a_full_disk(tmp_path, monkeypatch):
    """SQLite's own limit stands for the disk where none can be made."""
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    put(library, tmp_path / "shots", 1)

    @event.listens_for(library.engine, "connect")
    def limit(connection, _record):
        connection.execute("PRAGMA max_page_count=1")  # SQLite takes as many as there are already

    refusals = []
    for number in range(2, 40):
        before = seen(library)
        try:
            put(library, tmp_path / "shots", number, f"Shade {number}")
        except LibraryError as refusal:
            refusals.append(TERMINAL.problem(refusal))
            assert seen(library) == before
    assert refusals
    assert all("the disk is full" in problem for problem in refusals)


# --- a folder that may not be written to --------------------------------------------------------------------


def _as_nobody(environment, address, folder):
    """What somebody without rights is told, from a fork that gave its own away."""
    settle_environment(environment)
    read, write = os.pipe()
    if child := os.fork():
        os.close(write)
        with os.fdopen(read) as told:
            words = told.read()
        assert os.waitpid(child, 0)[1] == 0, words
        return words
    with os.fdopen(write, "w") as out:
        if os.getuid() == 0:
            os.setgid(NOBODY)
            os.setuid(NOBODY)
        library = open_library(address)
        out.write(f"{[shade.name for shade in library.shades()]} {len(library.records())} {len(log(library))}\n")
        for work in (
            lambda: put(library, folder, 1, "Sage"),
            lambda: rename_shade(library, "brick", "Sage"),
            lambda: open_library(str(Path(address).with_name("new.sqlite")), create=True),
        ):
            try:
                work()
                out.write("done\n")
            except SwatchcamError as error:
                out.write(f"{error}\n")
    os._exit(0)


@pytest.mark.parametrize("open_at_the_same_time", [False, True])
def test_who_may_only_read_can_list_and_is_told_why_he_cannot_keep(apart, tmp_path, monkeypatch, open_at_the_same_time):
    # Not in tmp_path, which nobody else may look into.
    with tempfile.TemporaryDirectory() as name:
        folder, shots = Path(name), Path(name) / "shots"
        monkeypatch.setenv("SWATCHCAM_PHOTOS", str(folder / "photos"))
        library = open_library(str(folder / "halm.sqlite"), create=True)
        put(library, shots, 2, "Brick")
        (shots / "photo 1.jpg").write_bytes(b"drawn 1")
        for path in [folder, *folder.rglob("*")]:
            path.chmod(0o555 if path.is_dir() else 0o444)
        before = files(folder)
        if open_at_the_same_time:
            with library.reading():
                words = apart(_as_nobody, str(folder / "halm.sqlite"), shots).splitlines()
        else:
            words = apart(_as_nobody, str(folder / "halm.sqlite"), shots).splitlines()
        for path in [folder, *folder.rglob("*")]:
            path.chmod(stat.S_IRWXU)
        assert words[0] == "['Brick'] 1 0"
        assert len(words) == 4
        for line in words[1:]:
            assert any(word in line for word in ("write access", "that you may open it")), line
        if not open_at_the_same_time:
            assert files(folder) == before


# --- a damaged file -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A library of three shades, and everything it says of itself."""
    folder = tmp_path_factory.mktemp("whole")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATCHCAM_PHOTOS", str(folder / "halm.photos"))
        library = open_library(str(folder / "halm.sqlite"), create=True)
        for number, shade in enumerate(("Brick", "Brick", "Sage", "Slate"), start=1):
            put(library, folder / "shots", number, shade, batch=str(number))
        rename_shade(library, "slate", "Sea")
    return folder


def everything(address, shots):
    """Every way to ask the library, one after the other."""
    library = open_library(address, create=True)
    yield library.shades
    yield library.batches
    yield library.records
    yield library.latest
    yield lambda: library.record(1)
    yield lambda: library.settings(1)
    yield lambda: log(library)
    yield lambda: nearest_shades(library, (50, 30, 30), 2)
    yield lambda: verify(library)
    yield lambda: back_up(library, Path(address).with_suffix(".zip"))
    yield lambda: put(library, shots, 9, "Fresh")
    yield lambda: rename_shade(library, "sage", "Moss")


def told_or_done(address, shots):
    """How many ways work; each other one is refused in a sentence."""
    count = 0
    with suppress(SwatchcamError):
        for work in everything(address, shots):
            with suppress(SwatchcamError):
                work()
                count += 1
    return count


def damaged(content, number):
    random.seed(number)
    if number < FLIPS:
        content = bytearray(content)
        for _ in range(random.choice((1, 20, 400))):
            content[random.randrange(len(content))] ^= 1 << random.randrange(8)
        return bytes(content)
    return content[: random.randrange(len(content))]


def test_a_damaged_database_is_told_and_never_crashes(whole, tmp_path):
    content = (whole / "halm.sqlite").read_bytes()
    worked = []
    for number in range(FLIPS + CUTS):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / "halm.sqlite").write_bytes(damaged(content, number))
        shutil.copytree(whole / "halm.photos", folder / "halm.photos")
        worked.append(told_or_done(str(folder / "halm.sqlite"), folder / "shots"))
        shutil.rmtree(folder)
    assert max(worked) > 6  # where nothing was hit that is asked for
    assert min(worked) < 3


def test_a_page_of_zeros_is_found_by_verify(whole, tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(whole / "halm.photos"))
    content = bytearray((whole / "halm.sqlite").read_bytes())
    page = 4096
    told = 0
    for start in range(page, len(content), page):
        hit = bytearray(content)
        hit[start : start + page] = bytes(page)
        if hit == content:
            continue
        path = tmp_path / f"{start}.sqlite"
        path.write_bytes(hit)
        try:
            found = verify(open_library(str(path)))[1]
        except LibraryError:
            told += 1
        else:
            assert any(not each.harmless for each in found), start
            told += 1
    assert told > 5
