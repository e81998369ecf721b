"""The chapters of the handbook, in the order in which they are read; the text of each is `chapters/NAME.md`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
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


CHAPTERS: Sequence[Chapter] = (
    Chapter("first_day", "Your card on the first day"),
    Chapter("photo", "Take the photo"),
    Chapter("strip", "A strip you can trust"),
    Chapter("card", "Print a card, and have it measured or not"),
    Chapter("sure", "What the number means, and how sure it is"),
    Chapter("checks", "More ways to check"),
    Chapter("row", "A row of your own pigments"),
    Chapter("keep", "Keep strips in the library"),
    Chapter("heat", "Heat setting and washing"),
    Chapter("shades", "Your shades: how they held, which is nearest, on paper"),
    Chapter("safe", "Nothing is lost: undo, backup, several computers"),
    Chapter("pigments", "What your pigments do: the test series"),
    Chapter("recipe", "A recipe for a colour"),
    Chapter("kitchen", "With a kitchen scale"),
    Chapter("pot", "Correct a pot, thin it, mix it again"),
    Chapter("amount", "How much ink to mix, and whether it is opaque"),
    Chapter("phone", "The page for your phone"),
    Chapter("scripts", "Python scripts and notebooks"),
    Chapter("commands", "All commands and their options"),
    Chapter("json", "What --json prints"),
)


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
    raise UsageError("chapter-unknown", "choose-a-chapter", chapter=name, chapters=[each.name for each in CHAPTERS])
