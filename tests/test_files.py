"""A file that a command writes is whole or not there, and never takes the place of another unasked."""

from __future__ import annotations

import errno
import os
import stat

import pytest

from swatchcam.errors import UsageError
from swatchcam.files import OWNER_ONLY, READ_ONLY, check_free, disk_cause, write_output, write_whole
from swatchcam.messages.message import finding
from swatchcam.messages.surface import PAGE, TERMINAL


@pytest.fixture
def page(tmp_path):
    path = tmp_path / "shades.html"
    path.write_bytes(b"as it was")
    return path


def only(path):
    """Whether nothing else lies beside it, not even half of a file."""
    return list(path.parent.iterdir()) == [path]


def refused(*given):
    with pytest.raises(UsageError) as caught:
        check_free(*given, "FILE.html")
    return TERMINAL.problem(caught.value), TERMINAL.remedy(caught.value)


def test_a_new_name_is_free_in_large_letters_too(tmp_path):
    check_free(tmp_path / "new.html", False, "FILE.html")
    check_free(tmp_path / "NEW.HTML", False, "FILE.html")
    check_free(tmp_path / "two.dots.html", False, "FILE.html")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_is_only_replaced_if_that_is_said(page):
    problem, remedy = refused(page, False)
    assert problem == f"The file {page} is already there."
    assert remedy == "Use --replace to write over it, or choose another name with --output FILE.html."
    check_free(page, True, "FILE.html")
    assert page.read_bytes() == b"as it was"


@pytest.mark.parametrize("name", ["shades.pdf", "shades", "html", ".html", "shades.html.exe", "shades.htm"])
def test_another_ending_is_refused(tmp_path, name):
    problem, remedy = refused(tmp_path / name, False)
    assert problem.endswith("does not end in .html.")
    assert remedy == "Give it a name that ends in .html."


@pytest.mark.parametrize("replace", [False, True])
def test_what_is_no_place_for_a_file_is_refused(tmp_path, page, replace):
    (tmp_path / "folder.html").mkdir()
    for path, problem in (
        (tmp_path / "folder.html", "There is a folder called"),
        (tmp_path / "nowhere" / "a.html", "There is no folder"),
        (page / "a.html", "There is no folder"),
    ):
        told = refused(path, replace)
        assert problem in told[0]
        assert "--output" in told[1]


def test_it_is_written_and_nothing_is_left_beside_it(page):
    write_output(page, b"new")
    assert page.read_bytes() == b"new"
    assert only(page)


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_file_and_no_half_of_the_new(page, monkeypatch, step):
    def fail(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, step, fail)
    with pytest.raises(UsageError) as caught:
        write_output(page, b"new")
    assert TERMINAL.problem(caught.value) == f"The file {page} can't be written: the disk is full."
    assert caught.value.remedy == "make-room"
    assert page.read_bytes() == b"as it was"
    assert only(page)


def test_a_hand_on_the_keyboard_leaves_the_old_file_and_no_half_of_the_new(page, monkeypatch):
    def stop(_):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(KeyboardInterrupt):
        write_output(page, b"new")
    assert page.read_bytes() == b"as it was"
    assert only(page)


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights in another way than in a file's mode")
@pytest.mark.parametrize(("rights", "mode"), [(None, 0o640), (OWNER_ONLY, 0o600), (READ_ONLY, 0o444)])
def test_a_file_has_the_rights_that_were_said_else_those_of_the_users_new_files(page, rights, mode):
    before = os.umask(0o027)
    try:
        write_whole(page, b"new", rights)
    finally:
        os.umask(before)
    assert stat.S_IMODE(page.stat().st_mode) == mode


def test_a_name_that_the_disk_refuses_is_told(tmp_path):
    with pytest.raises(UsageError, match=r"can't be written: its name is too long\..*--output FOLDER/a"):
        write_output(tmp_path / f"{'a' * 300}.html", b"new")
    assert list(tmp_path.iterdir()) == []


def test_a_disk_is_told_by_the_number_of_its_error_and_never_by_its_words():
    assert disk_cause(OSError(errno.ENOSPC, "Aucun espace disponible")) == finding("disk-full")
    assert disk_cause(PermissionError(errno.EACCES, "Zugriff verweigert")) == finding("access-denied")
    assert disk_cause(OSError(errno.EIO, "Input/output error")) == finding(
        "as-the-system-says", words="Input/output error"
    )


def test_the_page_sends_for_a_full_disk_to_the_computer(page, monkeypatch):
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
    with pytest.raises(UsageError) as caught:
        write_output(page, b"new")
    assert PAGE.remedy(caught.value).startswith("Make room on the disk of the studio's computer, and try again.")
