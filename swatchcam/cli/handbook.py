"""`swatchcam handbook`: the book, chapter by chapter."""

from __future__ import annotations

import click

from ..handbook.chapters import CHAPTERS, Chapter
from ..handbook.chapters import chapter as chapter_called
from ..report.json_types import ChapterJson, ContentsJson
from ..report.json_types.handbook import ChapterNameJson
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
        tell(ContentsJson(chapters=[_named(each) for each in CHAPTERS]), _contents, as_json)
    else:
        found = chapter_called(chapter)
        facts = ChapterJson(name=found.name, title=found.title, text=found.text)
        tell(facts, lambda facts: facts["text"].rstrip("\n"), as_json)


def _named(chapter: Chapter) -> ChapterNameJson:
    return ChapterNameJson(name=chapter.name, title=chapter.title)


def _contents(facts: ContentsJson) -> str:
    """The chapters in reading order, a line each."""
    width = max(len(each["name"]) for each in facts["chapters"])
    lines = [f"  {each['name']:{width}}  {each['title']}" for each in facts["chapters"]]
    return "\n".join(["Chapters of the handbook:", *lines, "", "To read one: swatchcam handbook photo"])
