"""The chapters of the handbook."""

from __future__ import annotations

from typing import Annotated, TypedDict


class ChapterNameJson(TypedDict):
    """Which chapter."""

    name: Annotated[str, "what it is asked for by"]
    title: Annotated[str, "what it is about"]


class ContentsJson(TypedDict):
    """What `swatchcam handbook --json` prints without a name: the chapters."""

    chapters: Annotated[list[ChapterNameJson], "each chapter, in reading order"]


class ChapterJson(ChapterNameJson):
    """What `swatchcam handbook --json` prints with a chapter's name: that chapter."""

    text: Annotated[str, "the chapter with its title, as Markdown"]
