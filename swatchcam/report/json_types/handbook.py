"""The chapters of the handbook."""

from __future__ import annotations

from typing import Annotated, TypedDict


class ChapterNameJson(TypedDict):
    """Which chapter."""

    name: Annotated[str, "the chapter's name, for `handbook NAME`"]
    title: Annotated[str, "its title"]


class HandbookJson(TypedDict):
    """What `swatchcam handbook --json` prints: the chapters."""

    chapters: Annotated[list[ChapterNameJson], "in reading order"]


class ChapterJson(ChapterNameJson):
    """What `swatchcam handbook NAME --json` prints: one chapter."""

    text: Annotated[str, "the whole chapter, as Markdown"]
