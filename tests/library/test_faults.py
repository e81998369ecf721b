"""The library loses nothing: killed at every step, on a full disk, with two hundred writers, a server that falls."""

from __future__ import annotations

import random
import shutil
import threading
import time
import zipfile
from dataclasses import replace
from functools import partial

import pytest
from sqlalchemy import event

from swatchcam.errors import LibraryError, UsageError
from swatchcam.library import schema
from swatchcam.library.amend import tag_shade
from swatchcam.library.backup import back_up, restore
from swatchcam.library.changes import carry_out_together, log, merge_shades, remove_record, rename_shade, undo
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import keep_proposal, proposals
from swatchcam.library.save import Entry, keep_record
from swatchcam.library.shelf.ledger import holdings
from swatchcam.library.shelf.pigments import pigments, set_pigment
from swatchcam.library.verify import verify
from swatchcam.measurement.stored_colour import keep
from swatchcam.messages.surface import TERMINAL
from tests.library.killing import at_a_moment, every_step, settle_environment, together
from tests.worlds.cheap_measurements import facts, measurement, proposal, put, tables


def _settled(library):
    """Once whatever a killed writer left on the server has ended."""
    library.writing(lambda connection: None)
    return library


def _sound(library):
    """Nothing in it is not as it was, but for photos of a run that was cut off."""
    assert [found for found in verify(library)[1] if not found.harmless] == []


def _seen(library):
    """All that a person sees."""
    with _settled(library).reading() as connection:
        there = library.during(connection)
        return there.shades(), there.batches(), [facts(record) for record in there.records()]


# --- killed at every step -----------------------------------------------------------------------------------


def _kill_keeping(environment, address, folder, stride):
    settle_environment(environment)
    library, step = open_library(address, create=True), 0
    put(library, folder, 0)

    def command():
        put(library, folder, step + 1, f"Shade {step}", batch="1")

    def check(survived):
        nonlocal step
        step += 1
        measured = measurement(folder, step)
        with _settled(library).reading() as connection:
            there = library.during(connection)
            counts, found = there.counts(), there.records(digest=measured.photo.digest)
        if measured.photo.digest in library.photos.digests():
            library.photos.check(measured.photo.digest)  # a photo is whole or absent too
        if found:
            (record,) = found
            assert facts(record) == facts(replace(record, colour=keep(measured.colour("left"), measured)))
            library.photos.check(measured.photo.digest)
        else:
            assert not survived
            put(library, folder, step, f"Shade {step - 1}", batch="1")
        assert counts == (step + bool(found),) * 3
        if survived:
            _sound(library)

    return every_step(command, check, stride)


def _kill_proposing(environment, address, folder, stride):
    settle_environment(environment)
    library, step = open_library(address, create=True), 0

    def check(survived):
        nonlocal step
        step += 1
        _settled(library)
        kept, counts = proposals(library, batch=str(step)), library.counts()
        assert kept or not survived
        assert counts == (step, step, 0) if kept else counts == (step - 1, step - 1, 0)
        assert len(holdings(library)) == counts[1]  # each pot is on the shelf with what is in it, or not at all
        if not kept:
            kept = [_propose(library, step)]
        assert kept == [proposal(shade=f"Shade {step}", batch=str(step), number=kept[0].number, made=kept[0].made)]
        if survived:
            _sound(library)

    return every_step(lambda: _propose(library, step + 1), check, stride)


def _propose(library, number):
    return keep_proposal(library, proposal(shade=f"Shade {number}", batch=str(number)))


def _kill_change(environment, address, folder, stride, make):
    settle_environment(environment)
    library = open_library(address, create=True)
    for number, shade in ((1, "Brick"), (2, "Brick"), (3, "Sage")):
        put(library, folder, number, shade, batch=f"B{number % 2}")
    before = _seen(library)
    make(library)
    after = _seen(library)
    undo(library, log(library)[0].number)

    def check(survived):
        now = _seen(library)
        assert now == after or (now == before and not survived)
        if now == before:
            make(library)
        undo(library, log(library)[0].number)

    steps = every_step(lambda: make(library), check, stride)
    assert _seen(library) == before
    _sound(library)
    return steps


def _rename(library):
    return rename_shade(library, "brick", "Rust")


def _tag(library):
    return tag_shade(library, "brick", ["spring"])


def _merge(library):
    merge_shades(library, "brick", "sage")


def _kill_making(environment, addresses, folder):
    settle_environment(environment)
    number = 0

    def check(survived):
        nonlocal number
        address = addresses[number]
        if survived:
            assert open_library(address).shades() == []
        else:
            _there_or_not(address)
        put(open_library(address, create=True), folder, number)
        assert open_library(address).counts() == (1, 1, 1)
        number += 1

    return every_step(lambda: open_library(addresses[number], create=True), check, 4)


def _there_or_not(address):
    try:
        library = open_library(address)
    except LibraryError as refusal:
        if refusal.code not in ("no-library-yet", "library-of-an-older-version"):
            raise
    else:
        assert library.shades() == []


def _kill_backup(environment, address, folder, stride):
    settle_environment(environment)
    library, number = open_library(address, create=True), 0
    for photo in range(3):
        put(library, folder, photo)
    whole = back_up(library, folder / "whole.zip")

    def check(survived):
        nonlocal number
        target = folder / f"{number}.zip"
        if not target.exists():
            assert not survived
            assert back_up(library, target) == whole
        with zipfile.ZipFile(target) as packed, zipfile.ZipFile(folder / "whole.zip") as expected:
            assert packed.testzip() is None
            assert packed.namelist() == expected.namelist()
        number += 1

    return every_step(lambda: back_up(library, folder / f"{number}.zip"), check, stride)


def _kill_unpacking(environment, address, folder, stride):
    settle_environment(environment)
    source = open_library(str(folder / "source.sqlite"), create=True)
    put(source, folder)
    rename_shade(source, "brick", "Rust")
    backup, expected = folder / "whole.zip", tables(source)
    back_up(source, backup)
    library = open_library(address, create=True)

    def check(survived):
        now = tables(_settled(library))
        assert now == expected or (not survived and not any(now.values()))
        if not any(now.values()):
            restore(backup, library)
        assert tables(library) == expected
        if survived:
            _sound(library)
        with library.engine.begin() as connection:
            for table in reversed(schema.tables.sorted_tables):
                connection.execute(table.delete())
        shutil.rmtree(library.photos.folder)

    return every_step(lambda: restore(backup, library), check, stride)


# Of some commands every second or third step only: they are long, and what lies between is one transaction.
COMMANDS = {
    "keep": (_kill_keeping, 1),
    "propose": (_kill_proposing, 2),
    "rename": (_kill_change, 1, _rename),
    "merge": (_kill_change, 2, _merge),
    "back up": (_kill_backup, 2),
    "unpack": (_kill_unpacking, 3),
}


@pytest.mark.parametrize("what", COMMANDS)
def test_killed_at_every_step_a_write_is_whole_or_absent(apart, place, tmp_path, what):
    work, *how = COMMANDS[what]
    deaths = apart(work, place, tmp_path / "shots", *how)
    print(f"{what}: killed {deaths} times")
    assert deaths >= 10


def test_killed_while_it_is_made_a_library_is_whole_or_absent(apart, tmp_path):
    deaths = apart(_kill_making, [str(tmp_path / f"{number}.sqlite") for number in range(200)], tmp_path / "shots")
    print(f"making a file: killed {deaths} times")
    assert deaths >= 10


def test_killed_while_it_is_made_a_library_on_a_server_is_whole_or_absent(apart, server, tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    deaths = apart(_kill_making, [server.empty() for _ in range(60)], tmp_path / "shots")
    print(f"making on a server: killed {deaths} times")
    assert deaths >= 10


def _kill_at_random(environment, address, folder):
    settle_environment(environment)
    library, chance = open_library(address, create=True), random.Random(7)
    kept = 0

    def keep_many():
        for number in range(kept, kept + 100):
            put(library, folder, number, f"Shade {number % 3}")

    for deaths in range(100):
        if deaths >= 10 and kept > 3:
            break
        # On a busy machine a writer gets nowhere in a tenth of a second: then it is given more.
        at_a_moment(keep_many, chance.uniform(0.01, 0.2) * (1 + deaths / 10))
        _sound(_settled(library))
        photos = sorted(record.photos[0].digest for record in library.records())
        # Those that were kept are the first ones, without a gap.
        assert photos == sorted(measurement(folder, number).photo.digest for number in range(len(photos)))
        assert len(photos) >= kept
        kept = len(photos)
    return kept


def test_killed_at_any_moment_it_holds_all_that_was_kept(apart, place, tmp_path):
    assert apart(_kill_at_random, place, tmp_path / "shots") > 3


# --- many at once -------------------------------------------------------------------------------------------

PROCESSES, THREADS, SHADES = 8, 25, 5


def _many(environment, address, folder):
    settle_environment(environment)
    measured = [measurement(folder, number) for number in range(PROCESSES * THREADS)]

    def thread(library, number):
        entry = Entry(f"Shade {number % SHADES}", batch="1")
        assert keep_record(library, measured[number], "left", entry).number

    def process(first):
        failures, library = [], open_library(address, create=True)
        threads = [
            threading.Thread(target=_noting, args=(failures, thread, library, first + one)) for one in range(THREADS)
        ]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
        assert not failures, failures

    together([partial(process, THREADS * number) for number in range(PROCESSES)])


def _noting(failures, work, *arguments):
    try:
        work(*arguments)
    except BaseException as error:
        failures.append(repr(error))


def test_two_hundred_writers_at_once_lose_nothing(apart, place, tmp_path):
    start = time.monotonic()
    apart(_many, place, tmp_path / "shots")
    print(f"{PROCESSES * THREADS} writers in {time.monotonic() - start:.1f} s")
    library = open_library(place)
    records = library.records()
    assert len(records) == len({record.photos[0].digest for record in records}) == PROCESSES * THREADS
    assert {shade.name: len(library.records(shade.name)) for shade in library.shades()} == {
        f"Shade {number}": PROCESSES * THREADS // SHADES for number in range(SHADES)
    }
    assert len(library.batches()) == SHADES
    assert not list(tmp_path.glob("*.part*"))
    assert verify(library)[1] == []


def _same(environment, address, folder):
    settle_environment(environment)
    library, measured = open_library(address, create=True), measurement(folder)

    def process(number):
        said = "kept"
        try:
            keep_record(library, measured, "left", Entry(f"Shade {number}"))
        except UsageError as refusal:
            said = str(refusal)
        (folder / f"said {number}").write_text(said)

    together([partial(process, number) for number in range(6)])
    return [(folder / f"said {number}").read_text() for number in range(6)]


def test_of_those_that_keep_the_same_strip_at_once_one_does(apart, place, tmp_path):
    said = apart(_same, place, tmp_path / "shots")
    assert sorted("already kept, as record" in one for one in said) == [False] + [True] * 5
    assert said.count("kept") == 1
    assert open_library(place).counts() == (1, 1, 1)


# --- a server that falls and comes back ---------------------------------------------------------------------


@pytest.fixture
def served(server, tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    library = replace(open_library(server.empty(), create=True), waits=(0.05, 0.2, 0.5, 1, 2))
    put(library, tmp_path / "shots", 1)
    yield library
    if not server.runs():
        server.start()


def _restart(server):
    server.stop()
    server.start()


def _once(work):
    """`work` when it is first called, then nothing."""
    calls = []

    def call(*_):
        calls.append(1)
        if len(calls) == 1:
            work()

    return call


WRITES = {
    "keep": lambda library, folder: put(library, folder, 2),
    "rename": lambda library, folder: rename_shade(library, "brick", "Rust"),
    "remove": lambda library, folder: remove_record(library, 1),
    "propose": lambda library, folder: keep_proposal(library, proposal()),
    "pigment": lambda library, folder: set_pigment(library, "Red"),
    "together": lambda library, folder: carry_out_together(library, [_tag, _rename]),
}
LANDED = {"keep": (1, 1, 2), "rename": (1, 1, 1), "remove": (1, 1, 0), "propose": (1, 2, 1), "pigment": (1, 1, 1)}
LANDED |= {"together": (1, 1, 1)}
CHANGES = {"keep": 0, "propose": 0, "together": 2}  # that are noted, where it is not one


def test_between_two_writes_a_server_may_restart(served, server, tmp_path):
    _restart(server)
    put(served, tmp_path / "shots", 2)
    assert served.counts() == (1, 1, 2)


def test_a_write_during_which_the_server_falls_lands_once(served, server, tmp_path):
    event.listen(served.engine, "before_cursor_execute", _once(partial(_restart, server)))
    put(served, tmp_path / "shots", 2)
    assert served.counts() == (1, 1, 2)
    _sound(served)


@pytest.mark.parametrize("what", WRITES)
def test_a_write_that_was_kept_but_not_confirmed_lands_once(served, server, tmp_path, what):
    """The server falls after it kept the transaction, and before it could say so."""
    commit = served.engine.dialect.do_commit
    fall = _once(lambda: _restart(server))

    def commit_and_fall(connection):
        commit(connection)
        fall()
        connection.execute("SELECT 1")  # what waits for the answer finds the server gone

    served.engine.dialect.do_commit = commit_and_fall
    WRITES[what](served, tmp_path / "shots")
    served.engine.dialect.do_commit = commit
    assert served.counts() == LANDED[what]
    assert len(log(served)) == CHANGES.get(what, 1)
    assert (len(proposals(served)), len(pigments(served))) == (what == "propose", what == "pigment")
    if what in ("rename", "together"):
        assert served.shade("rust").number == 1


def test_of_many_writes_while_the_server_restarts_each_lands_once(served, server, tmp_path):
    failures = []

    def write():
        for number in range(2, 42):
            put(served, tmp_path / "shots", number)

    writer = threading.Thread(target=_noting, args=(failures, write))
    writer.start()
    for _ in range(2):
        time.sleep(0.2)
        _restart(server)
    writer.join()
    assert failures == []
    assert served.counts() == (1, 1, 41)


def test_a_server_that_stays_away_is_told_soon(served, server, tmp_path):
    server.stop()
    library = replace(served, waits=(0.05, 0.1))
    for ask in (
        lambda: put(library, tmp_path / "shots", 2),
        library.shades,
        lambda: rename_shade(library, "brick", "x"),
    ):
        start = time.monotonic()
        with pytest.raises(LibraryError, match=r"does not answer|connection to the server was lost") as refusal:
            ask()
        assert time.monotonic() - start < 2
        assert TERMINAL.remedy(refusal.value) != refusal.value.remedy
    server.start()
    assert library.counts() == (1, 1, 1)
    put(library, tmp_path / "shots", 2)


def test_a_server_that_falls_while_a_write_reads_is_asked_again(served, server, tmp_path):
    """What a write looks up in its own transaction fails as the write does, and both are done again."""
    fall = _once(partial(_restart, server))

    def falls_at_the_photos(_connection, _cursor, statement, *_rest):
        if "FROM record_photo" in statement:
            fall()

    event.listen(served.engine, "before_cursor_execute", falls_at_the_photos)
    assert put(served, tmp_path / "shots", 2).number
    assert served.counts() == (1, 1, 2)
