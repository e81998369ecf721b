"""No page speaks of options and commands that a phone does not have: every sentence of the program is looked at."""

from __future__ import annotations

import ast
import re

import pytest

from swatchcam.errors import FileError
from swatchcam.messages.surface import PAGE
from swatchcam.messages.surface import TERMINAL as TERMINAL_SAYS
from swatchcam.web.wording import on_page
from tests.paths import HOME

PACKAGE = HOME / "swatchcam"
# These speak to the terminal only: no page leads to them.
TERMINAL = (
    "cards/instrument_columns", "cards/instrument_import", "cards/instrument_table", "cards/paper",
    "cards/print_guide", "cards/print_sheet", "files", "library/backup", "library/batch_import", "library/photo_names",
    "library/photo_table", "measurement/card_transfer", "measurement/pigment_row_sheet",
    "measurement/pigment_row_values", "report/exporters", "report/library_text", "report/mixing_text", "report/publish",
)  # fmt: skip


def sentences():
    """Every text of the modules behind the pages that names an option or a command; values stand as 7."""
    for path in sorted(PACKAGE.rglob("*.py")):
        module = path.relative_to(PACKAGE).with_suffix("").as_posix()
        if module in TERMINAL or module.startswith(("cli", "web", "messages")):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
        written = {
            id(node.body[0].value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef) and isinstance(node.body[0], ast.Expr)
        }
        for node in ast.walk(tree):
            if id(node) in inside | written:
                continue
            text = _text(node)
            if re.search(r"--[a-z]|swatchcam [a-z]", text):
                yield text


def _text(node):
    if isinstance(node, ast.JoinedStr):
        return "".join(part.value if isinstance(part, ast.Constant) else "7" for part in node.values)
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


FOUND = sorted(set(sentences()))


def test_there_are_sentences_to_be_reworded():
    assert len(FOUND) > 20


@pytest.mark.parametrize("sentence", FOUND)
def test_a_page_names_fields_and_pages_only(sentence):
    found = on_page(sentence)
    there = re.sub(r"'[^']*' on the studio's computer", "", found)  # what only the computer can do is said to be
    assert not re.search(r"--[a-z]|swatchcam (?:[a-z]+ )*[A-Z\"]|'swatchcam", there), found
    assert found[:1] == found[:1].upper()


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("'swatchcam shade list' shows those that there are.", "The page 'Shades' shows those that there are."),
        ('Keep one first: swatchcam keep PHOTO --shade "River blue"', "Keep one first on the page 'Photo'."),
        (
            "Bring it up to date once with 'swatchcam library upgrade'.",
            "Bring it up to date once with 'swatchcam library upgrade' on the studio's computer.",
        ),
        ("Turn the card away from the light.", "Turn the card away from the light."),
        ("The library was written by a newer swatchcam than this one.",) * 2,
        ("bad_no_card.jpg: There is no card.",) * 2,
        ("'red.txt' is twice in the recipe.",) * 2,
        ("the pot is as it should be", "The pot is as it should be"),
        ("Name each photo once.", "Choose each photo once."),
    ],
)
def test_sentences_read_as_people_speak(said, shown):
    assert on_page(said) == shown


@pytest.mark.parametrize(
    "name", ["send-photo-again", "save-as-rgb", "develop-raw", "set-camera-to-srgb", "save-as-srgb"]
)
def test_what_is_to_be_done_with_a_photo_can_be_done_on_a_phone(name):
    error = FileError("file-damaged", name)
    assert PAGE.remedy(error) != TERMINAL_SAYS.remedy(error)
    assert not re.search(r"[Cc]opy|folder|name|export|editor", PAGE.remedy(error))


def test_a_file_to_look_at_is_looked_at_on_the_phone():
    assert on_page("Check its name, folder and permissions.") == "Look at it, and send it once more."
    assert PAGE.remedy(FileError("photo-missing", "check-the-photo")) == (
        "See whether it opens on the phone, and send it again."
    )
