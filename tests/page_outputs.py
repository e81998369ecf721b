"""What README and the handbook print, run again. `python -m tests.page_outputs` writes today's output into them.

A block that starts with `$ swatchcam` is run, and so are the newcomer's first line and each Python example, each
followed by a block of its output. A last line `...` stands for whatever more is printed; as many lines as are there now
stay. The reference chapters are written too, from the commands and the types of the JSON.
"""

from __future__ import annotations

import io
import os
import re
import shlex
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner

from swatchcam.cards import print_register
from swatchcam.cli import main
from swatchcam.handbook.chapters import CHAPTERS
from swatchcam.handbook.reference import commands_reference, keys_reference
from swatchcam.report.json_types import JSON_OBJECTS
from tests.paths import HOME

FOLDER = HOME / "swatchcam" / "handbook" / "chapters"
PAGES = {"README": HOME / "README.md"} | {each.name: FOLDER / f"{each.name}.md" for each in CHAPTERS}
# The commands of these chapters build on each other, from the first chapter to the last.
SHARED = (
    ("card", "row"),
    ("first_day",),
    ("keep", "heat", "shades", "safe"),
    ("pigments", "recipe", "pot", "scripts"),
    ("kitchen",),
)
CONSOLE = re.compile(r"```console\n\$ swatchcam ([^\n]*)\n(.*?)```", re.S)
NEWCOMER = re.compile(r"```sh newcomer\n[^\n]*bin/swatchcam ([^\n]*)\n```\n\nIt prints:\n\n```text\n(.*?)```", re.S)
PYTHON = re.compile(r"```python\n(.*?)```\n\n```text\n(.*?)```", re.S)


@dataclass(frozen=True)
class Told:
    """One thing that a page runs, the output it prints below it, and where (start, end) in the page that stands."""

    page: str  # "README", or a chapter's name
    kind: str  # "swatchcam" or "python"
    words: str
    output: str
    place: tuple[int, int]


def text(page: str) -> str:
    """The page as it is now."""
    return PAGES[page].read_text(encoding="utf-8")


def told(page: str) -> list[Told]:
    """Everything that a page runs, in order."""
    found = [
        Told(page, kind, match[1], match[2], match.span(2))
        for kind, pattern in (("swatchcam", CONSOLE), ("swatchcam", NEWCOMER), ("python", PYTHON))
        for match in pattern.finditer(text(page))
    ]
    return sorted(found, key=lambda thing: thing.place)


def sittings() -> Iterator[tuple[Told, ...]]:
    """What is run in one workplace, from the first to the last: a group of chapters, or one thing alone."""
    for pages in SHARED:
        yield tuple(thing for page in pages for thing in told(page))
    alone = [page for page in PAGES if not any(page in pages for pages in SHARED)]
    yield from ((thing,) for page in alone for thing in told(page))


@contextmanager
def workplace() -> Iterator[None]:
    """A folder with the sample photos, a readings file, no cards and no library of one's own."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as name, pytest.MonkeyPatch.context() as patch:
        folder = Path(name)
        (folder / "sample_images").symlink_to(HOME / "sample_images", target_is_directory=True)
        lines = (HOME / "calibration" / "sample-card.csv").read_text(encoding="utf-8").splitlines()
        rows = [line for line in lines if not line.startswith("#")]
        readings = ["Illuminant,D65", "Observer,10", *rows]
        (folder / "readings.csv").write_text("\n".join(readings), encoding="utf-8")
        patch.setenv("SWATCHCAM_CARDS", str(folder / "cards"))
        patch.setenv("SWATCHCAM_LIBRARY", str(folder / "library.sqlite"))
        chance = Random(18)  # the numbers of printed cards, the same each time
        patch.setattr(print_register, "SystemRandom", lambda: chance)
        os.chdir(folder)
        try:
            yield
        finally:
            os.chdir(before)


def run(sitting: tuple[Told, ...]) -> list[str]:
    """What each thing of a sitting prints now, with what goes to the error stream."""
    with workplace():
        return [printed(thing) for thing in sitting]


def printed(thing: Told) -> str:
    """What it prints in the workplace as it is."""
    if thing.kind == "python":
        with redirect_stdout(io.StringIO()) as output:
            exec(compile(thing.words, f"{thing.page}.md", "exec"), {"__name__": "__main__"})
        return output.getvalue()
    result = CliRunner().invoke(main, shlex.split(thing.words))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


def shown(thing: Told, output: str) -> str:
    """As much of the output as the page shows."""
    if not thing.output.endswith("...\n"):
        return output
    count = thing.output.count("\n") - 1
    if output.count("\n") <= count:
        return output
    return "\n".join(output.split("\n")[:count]) + "\n...\n"


def references() -> dict[str, str]:
    """The chapters that are written from what they describe: name -> all that stands below their first words."""
    return {"commands": commands_reference(main), "json": keys_reference(JSON_OBJECTS)}


def with_reference(page: str, reference: str) -> str:
    """A chapter's first words as they are, with the reference below them."""
    return text(page).partition("\n## ")[0].rstrip("\n") + "\n\n" + reference


def write() -> None:
    """Write today's outputs and references into the pages."""
    outputs = {
        thing: shown(thing, output)
        for sitting in sittings()
        for thing, output in zip(sitting, run(sitting), strict=True)
    }
    for page, path in PAGES.items():
        now = text(page)
        for thing in reversed(told(page)):
            now = now[: thing.place[0]] + outputs[thing] + now[thing.place[1] :]
        path.write_text(now, encoding="utf-8")
    for page, reference in references().items():
        PAGES[page].write_text(with_reference(page, reference), encoding="utf-8")


if __name__ == "__main__":
    write()
