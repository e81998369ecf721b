"""The chapters of the handbook, in the order in which they are read; the text of each is `chapters/NAME.md`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from importlib.resources import files

from ..errors import UsageError


@dataclass(frozen=True)
class Chapter:
    """One chapter: what it is called for, and what it tells in a line."""

    name: str
    title: str

    @property
    def text(self) -> str:
        """Markdown, with the title as its heading."""
        body = files(__package__).joinpath("chapters", f"{self.name}.md").read_text(encoding="utf-8")
        return f"# {self.title}\n\n{body}"


CHAPTERS: Sequence[Chapter] = ()


def chapter(name: str) -> Chapter:
    """The chapter of that name.

    Raises
    ------
    UsageError
        There is none.
    """
    for found in CHAPTERS:
        if found.name == name.strip().lower():
            return found
    names = [each.name for each in CHAPTERS]
    raise UsageError(
        "chapter-unknown", "choose-a-chapter", chapter=name, chapters=get_close_matches(name, names) or names
    )
