"""`swatchcam handbook`: the book, chapter by chapter."""

from __future__ import annotations

from typing import Any

import click

from ..handbook.chapters import CHAPTERS, Chapter
from ..handbook.chapters import chapter as chapter_called
from .groups import json_option
from .output import tell


@click.command()
@click.argument("chapter", required=False)
@json_option
def handbook(chapter: str | None, as_json: bool) -> None:
    """Read the handbook: the chapter of that name, or without one the list of chapters.

    \b
    Examples:
      swatchcam handbook
      swatchcam handbook photo
    """
    if chapter is None:
        tell({"chapters": [_named(each) for each in CHAPTERS]}, _contents, as_json)
    else:
        found = chapter_called(chapter)
        tell(_named(found) | {"text": found.text}, lambda facts: facts["text"].rstrip("\n"), as_json)


def _named(chapter: Chapter) -> dict[str, Any]:
    return {"name": chapter.name, "title": chapter.title}


def _contents(facts: dict[str, Any]) -> str:
    """The chapters in reading order, a line each."""
    width = max(len(each["name"]) for each in facts["chapters"])
    lines = [f"  {each['name']:{width}}  {each['title']}" for each in facts["chapters"]]
    return "\n".join(["Chapters of the handbook:", *lines, "", "To read one: swatchcam handbook photo"])
