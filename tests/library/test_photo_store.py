"""The store of photos: copied whole or not at all, under the digest of their content, and never changed."""

from __future__ import annotations

import errno
import hashlib
import multiprocessing
import os
import stat
import time

import pytest

from swatchcam.errors import LibraryError
from swatchcam.library.photo_store import PhotoStore
from swatchcam.messages.surface import TERMINAL
from swatchcam.photo.photo import read_photo

# FIPS 180-4, SHA-256 of "abc", as in NIST's examples of the secure hash standard.
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.fixture
def store(tmp_path):
    return PhotoStore(tmp_path / "photos")


@pytest.fixture
def abc(tmp_path):
    path = tmp_path / "Brick, 3.JPG"
    path.write_bytes(b"abc")
    return path


def files(store):
    return sorted(path for path in store.folder.rglob("*") if path.is_file())


# --- copied in ----------------------------------------------------------------------------------------------


def test_a_photo_lies_under_its_digest_and_is_read_only(store, abc):
    assert store.add(abc) == (ABC, True)
    assert store.path(ABC) == store.folder / "ba" / f"{ABC}.jpg"
    assert store.path(ABC).read_bytes() == abc.read_bytes() == b"abc"
    assert stat.S_IMODE(store.path(ABC).stat().st_mode) == 0o444
    assert store.digests() == [ABC]
    store.check(ABC)


def test_the_digest_is_the_one_a_measurement_knows_its_photo_by(store, fair):
    digest, _ = store.add(str(fair.path))
    assert digest == read_photo(fair.path).digest == read_photo(store.path(digest)).digest


def test_the_same_photo_is_not_written_again_whatever_it_is_called(store, abc, tmp_path):
    store.add(abc)
    before = store.path(ABC).stat()
    other = tmp_path / "copy.jpeg"
    other.write_bytes(b"abc")
    assert store.add(other) == (ABC, False)
    assert (store.path(ABC).stat().st_mtime_ns, store.path(ABC).stat().st_ino) == (before.st_mtime_ns, before.st_ino)
    assert len(files(store)) == 1


@pytest.mark.parametrize("name", ["photo", "photo.", "photo.jp g", "photo.far-too-long-a-thing", ".hidden"])
def test_an_odd_ending_is_left_out(store, tmp_path, name):
    (tmp_path / name).write_bytes(b"abc")
    store.add(tmp_path / name)
    assert store.path(ABC).name == ABC


def test_a_damaged_copy_is_told_and_mended_by_the_original(store, abc):
    store.add(abc)
    store.path(ABC).chmod(0o644)
    store.path(ABC).write_bytes(b"abd")
    with pytest.raises(LibraryError, match="has changed since it was added"):
        store.check(ABC)
    assert store.add(abc) == (ABC, True)
    store.check(ABC)
    assert len(files(store)) == 1


# --- not there ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("digest", [ABC, "", "ba", "../../etc/passwd", "BA" + ABC[2:], ABC + "\n"])
def test_a_photo_that_is_not_here_is_told(store, digest):
    for ask in (store.path, store.check):
        with pytest.raises(LibraryError, match="is missing in") as refusal:
            ask(digest)
        assert "backup" in TERMINAL.remedy(refusal.value)


def test_an_empty_store_lists_nothing_and_makes_no_folder(store):
    assert store.digests() == []
    assert store.tidy() == 0
    assert not store.folder.exists()


@pytest.mark.parametrize("name", ["gone.jpg", "a\0b.jpg"])
def test_a_source_that_is_gone_is_told(store, tmp_path, name):
    with pytest.raises(LibraryError, match="can't be read"):
        store.add(tmp_path / name)
    assert not store.folder.exists()


def test_a_folder_is_no_photo(store, tmp_path):
    with pytest.raises(LibraryError, match="is not a file"):
        store.add(tmp_path)


# --- when it goes wrong -------------------------------------------------------------------------------------


def test_a_full_disk_leaves_nothing(store, abc, monkeypatch):
    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    store.folder.joinpath("ba").mkdir(parents=True)
    with pytest.raises(LibraryError, match="the disk is full") as refusal:
        store.add(abc)
    assert refusal.value.remedy == "make-room"
    assert files(store) == []
    monkeypatch.undo()
    assert store.add(abc) == (ABC, True)


def test_a_photo_that_the_disk_takes_in_part_leaves_nothing(store, tmp_path):
    resource = pytest.importorskip("resource", reason="limits of a process are POSIX")
    path = tmp_path / "large.jpg"
    path.write_bytes(bytes(300_000))
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, before[1]))
    try:
        with pytest.raises(LibraryError, match=r"large\.jpg could not be copied"):
            store.add(path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert files(store) == []
    assert store.digests() == []


@pytest.mark.parametrize("refusing", [PermissionError(errno.EACCES, "Permission denied"), KeyboardInterrupt()])
def test_a_copy_that_cannot_get_its_name_is_cleared_away(store, abc, monkeypatch, refusing):
    def refuse(*_):
        raise refusing

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises((LibraryError, KeyboardInterrupt)):
        store.add(abc)
    assert files(store) == []


def test_a_store_that_cannot_be_made_is_told(tmp_path, abc):
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(LibraryError, match="could not be copied") as refusal:
        PhotoStore(tmp_path / "file" / "photos").add(abc)
    assert "write access" in str(refusal.value)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write to any folder")
def test_a_read_only_folder_is_told(store, abc):
    store.folder.mkdir()
    store.folder.chmod(0o555)
    with pytest.raises(LibraryError, match="Permission denied"):
        store.add(abc)


def test_a_disk_that_cannot_settle_a_folder_is_well(store, abc, monkeypatch):
    sync = os.fsync

    def only_files(handle):
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "Invalid argument")
        sync(handle)

    monkeypatch.setattr(os, "fsync", only_files)
    assert store.add(abc) == (ABC, True)


def test_a_name_taken_by_another_process_with_the_same_photo_is_well(store, abc, monkeypatch):
    """As on Windows, which does not replace a file that is read-only."""

    def taken(_, target):
        target.write_bytes(b"abc")
        raise PermissionError(errno.EACCES, "Access is denied")

    monkeypatch.setattr(os, "replace", taken)
    assert store.add(abc) == (ABC, True)
    assert [path.name for path in files(store)] == [f"{ABC}.jpg"]


def test_leftovers_are_not_listed_and_go_once_they_are_old(store, abc):
    store.add(abc)
    shelf = store.folder / "ba"
    for name in ("new.part", "old.part", f"{ABC}.part"):
        (shelf / name).write_bytes(b"ab")
    (shelf / "notes.txt").write_text("not ours")
    (store.folder / "cd").mkdir()
    (store.folder / "cd" / f"{ABC}.jpg").write_bytes(b"abc")  # on the wrong shelf
    for name in ("old.part", f"{ABC}.part"):
        os.utime(shelf / name, (time.time() - 3700,) * 2)
    assert store.digests() == [ABC]
    assert store.path(ABC).suffix == ".jpg"
    assert store.tidy() == 2
    assert sorted(path.name for path in shelf.iterdir()) == [f"{ABC}.jpg", "new.part", "notes.txt"]


# --- several at once ----------------------------------------------------------------------------------------


def add_all(folder, paths, gate, answers):
    gate.wait()
    answers.put([PhotoStore(folder).add(path)[0] for path in paths])


def test_two_processes_that_add_the_same_photos_at_once_both_succeed(store, tmp_path):
    paths = []
    for number in range(40):
        paths.append(tmp_path / f"{number}.jpg")
        paths[-1].write_bytes(number.to_bytes(2, "big") * 20_000)
    context = multiprocessing.get_context("spawn")
    gate, answers = context.Barrier(2), context.Queue()
    workers = [context.Process(target=add_all, args=(store.folder, paths, gate, answers)) for _ in range(2)]
    for worker in workers:
        worker.start()
    said = [answers.get(timeout=60) for _ in workers]
    for worker in workers:
        worker.join()
    expected = [hashlib.sha256(path.read_bytes()).hexdigest() for path in paths]
    assert said == [expected, expected]
    assert store.digests() == sorted(expected)
    assert len(files(store)) == len(paths)
    for digest in expected:
        store.check(digest)
