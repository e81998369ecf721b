"""`swatchcam handbook`: the book, chapter by chapter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from ..handbook.chapters import CHAPTERS, Chapter
from ..handbook.chapters import chapter as chapter_called
from .groups import json_option
from .output import tell

if TYPE_CHECKING:
    from ..report.json_types import ChapterJson, HandbookJson
    from ..report.json_types.handbook import ChapterNameJson


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
        listed: HandbookJson = {"chapters": [_named(each) for each in CHAPTERS]}
        tell(listed, _contents, as_json)
    else:
        found = chapter_called(chapter)
        shown: ChapterJson = {**_named(found), "text": found.text}
        tell(shown, lambda facts: facts["text"].rstrip("\n"), as_json)


def _named(chapter: Chapter) -> ChapterNameJson:
    return {"name": chapter.name, "title": chapter.title}


def _contents(facts: HandbookJson) -> str:
    """The chapters in reading order, a line each."""
    width = max(len(each["name"]) for each in facts["chapters"])
    lines = [f"  {each['name']:{width}}  {each['title']}" for each in facts["chapters"]]
    return "\n".join(["Chapters of the handbook:", *lines, "", "To read one: swatchcam handbook photo"])
