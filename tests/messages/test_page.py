"""What the page says in its own words: on a phone there is no folder and no editor."""

from __future__ import annotations

import re

import pytest

from swatchcam.errors import FileError
from swatchcam.files import disk_cause
from swatchcam.messages.surface import PAGE, TERMINAL


@pytest.mark.parametrize(
    "name", ["send-photo-again", "save-as-rgb", "develop-raw", "set-camera-to-srgb", "save-as-srgb"]
)
def test_what_is_to_be_done_with_a_photo_can_be_done_on_a_phone(name):
    error = FileError("file-damaged", name)
    assert PAGE.remedy(error) != TERMINAL.remedy(error)
    assert not re.search(r"[Cc]opy|folder|name|export|editor", PAGE.remedy(error))


def test_a_file_to_look_at_is_looked_at_on_the_phone():
    assert PAGE.remedy(FileError("photo-missing", "check-the-photo")) == (
        "See whether it opens on the phone, and send it again."
    )


def test_the_page_names_a_file_and_not_where_it_lies(tmp_path):
    error = FileError("file-not-read", "check-the-file", path=tmp_path / "photo.jpg", cause=disk_cause(OSError(28, "")))
    assert str(tmp_path / "photo.jpg") in TERMINAL.problem(error)
    assert str(tmp_path) not in PAGE.problem(error)
    assert "photo.jpg" in PAGE.problem(error)
