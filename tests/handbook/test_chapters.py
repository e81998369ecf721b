"""The handbook is read chapter by chapter on the terminal; its reference is written from what it describes."""

from __future__ import annotations

import re
from typing import Annotated, TypedDict

import click
import numpy as np
import pytest

from swatchcam.errors import UsageError
from swatchcam.handbook.chapters import CHAPTERS, chapter
from swatchcam.handbook.reference import commands_reference, keys_reference
from tests.cli.keyboard import answer, refused, type_in
from tests.worlds.inks import BUILD_PIGMENTS, random_recipe, strip_reflectance
from tests.worlds.spectra import difference, reflectance_lab

NAMES = [each.name for each in CHAPTERS]


def test_without_a_name_the_chapters_are_listed_in_reading_order():
    listed = [line.split(maxsplit=1) for line in type_in("handbook").stdout.splitlines() if line.startswith("  ")]
    assert listed == [[each.name, each.title] for each in CHAPTERS]
    assert answer("handbook") == {"chapters": [{"name": each.name, "title": each.title} for each in CHAPTERS]}


@pytest.mark.parametrize("name", NAMES)
def test_a_chapter_is_shown_as_it_is_written(name):
    found = chapter(name)
    assert found.text.startswith(f"# {found.title}\n\nFor ")
    assert type_in(f"handbook {name}").stdout.strip() == found.text.strip()
    assert answer(f"handbook {name}") == {"name": name, "title": found.title, "text": found.text}


def test_a_name_is_read_however_it_is_typed():
    assert chapter(" Photo").name == "photo"


@pytest.mark.parametrize(("typed", "meant"), [("foto", "photo"), ("pigment", "pigments"), ("recipes", "recipe")])
def test_a_mistyped_name_is_answered_with_the_nearest(typed, meant):
    problem, remedy = refused(f"handbook {typed}")
    assert typed in problem
    assert remedy.startswith("Did you mean ")
    assert meant in remedy


def test_a_name_like_none_is_answered_with_all():
    with pytest.raises(UsageError) as refusal:
        chapter("zzz")
    assert refusal.value.facts["chapters"] == NAMES
    assert refused("handbook zzz")[1] == f"Choose one of {', '.join(NAMES)}."


def test_the_drawings_of_a_strip_fit_any_terminal():
    drawings = re.findall(r"```text\n(.*?)```", chapter("strip").text, re.S)
    assert len(drawings) == 3
    assert "".join(drawings).isascii()
    assert max(len(line) for drawing in drawings for line in drawing.splitlines()) <= 76


def test_the_chapter_on_strips_says_what_a_thicker_film_does():
    # Kubelka-Munk films (Kubelka 1948) with Saunderson's surface, which share no code with the package.
    text = " ".join(chapter("strip").text.split())
    low, high, most = map(int, re.findall(r"more film .* by (\d) to (\d) CIEDE2000, a few by nearly (\d)", text)[0])
    rng = np.random.default_rng(3)
    recipes = [random_recipe(rng, BUILD_PIGMENTS) for _ in range(300)]
    thin, thick = (
        np.array([reflectance_lab(strip_reflectance(recipe, film)) for recipe in recipes]) for film in (0.05, 0.055)
    )
    shifts = difference(thin, thick)
    assert np.mean((low <= shifts) & (shifts <= high)) > 0.5
    assert most - 0.5 < shifts.max() < most


def test_the_reference_of_commands_tells_each_option_and_escapes_what_a_table_cannot_hold():
    @click.command()
    @click.argument("photo")
    @click.option("--light", type=click.Choice(["A", "B"]), default="A", show_default=True, help="What shines.")
    def look(photo, light):
        """Look at PHOTO.

        \b
        Example:
          look a.jpg
        """

    written = commands_reference(click.Group("swatchcam", {"look": look}))
    assert written.startswith("## `swatchcam look [OPTIONS] PHOTO`\n\nLook at PHOTO.\n\n| option | what it is for |\n")
    assert "| `--light [A\\|B]` | What shines. [default: A] |" in written
    assert "Example" not in written


class Place(TypedDict):
    x: Annotated[float, "from the left, mm"]


class Found(TypedDict):
    """What was found."""

    name: Annotated[str, "of the strip"]
    at: Annotated[Place, "where it lies"]
    more: Annotated[list[Place], "further places"]


def test_the_reference_of_keys_follows_what_lies_inside():
    rows = keys_reference([Found]).splitlines()
    assert rows[0] == "## What was found."
    assert rows[-5:] == [
        "| `name` | of the strip |",
        "| `at` | where it lies |",
        "| `at.x` | from the left, mm |",
        "| `more` | further places |",
        "| `more[].x` | from the left, mm |",
    ]


def test_an_object_with_a_table_of_its_own_is_only_named_in_another():
    inside, _, apart = keys_reference([Found, Place]).partition("## ")[2].partition("## ")
    assert "at.x" not in inside
    assert "| `at` | where it lies |" in inside
    assert "| `x` | from the left, mm |" in apart
