"""What README prints, run again. `python -m tests.readme_outputs` writes README's output anew.

A block that starts with `$ swatchcam` is run, and so are the newcomer's first line and the Python example, each
followed by a block of its output. A last line `...` stands for whatever more is printed.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from tests.paths import HOME

README = HOME / "README.md"
# The commands of each of these build on each other.
CHAPTERS = ("6. Keep it: the studio's library", "7. The pot: from the colour to what is weighed")
LINES = {
    "mix recipe": 0,
    "card show": 9,
    "good_pair.jpg --target": 4,
    "--shade rust --card": 4,
    "--after-heat": 6,
    "--against": 4,
    "card import": 1,
    "differs": 4,
    "row print": 10,
    "pigment show": 8,
}  # how much of long output is shown
CONSOLE = re.compile(r"```console\n\$ swatchcam ([^\n]*)\n(.*?)```", re.S)
NEWCOMER = re.compile(r"```sh newcomer\n[^\n]*bin/swatchcam ([^\n]*)\n```\n\nIt prints:\n\n```text\n(.*?)```", re.S)
PYTHON = re.compile(r"```python\n(.*?)```\n\n```text\n(.*?)```", re.S)


@dataclass(frozen=True)
class Told:
    """One thing that README runs, the output it prints below it, and where (start, end) in README that stands."""

    kind: str  # "swatchcam" or "python"
    words: str
    output: str
    place: tuple[int, int]
    chapter: str  # the heading it stands under


def told(readme: str) -> Iterator[Told]:
    """Everything that README runs, in order."""
    for kind, pattern in (("swatchcam", CONSOLE), ("swatchcam", NEWCOMER), ("python", PYTHON)):
        for found in pattern.finditer(readme):
            chapter = readme[: found.start()].rpartition("\n## ")[2].partition("\n")[0]
            yield Told(kind, found[1], found[2], found.span(2), chapter)


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
        os.chdir(folder)
        try:
            yield
        finally:
            os.chdir(before)


def run(thing: Told) -> str:
    """What it prints now, with what goes to the error stream."""
    if thing.chapter in CHAPTERS:
        return chapter(thing.chapter)[thing.words]
    with workplace():
        return printed(thing)


@cache
def chapter(heading: str) -> dict[str, str]:
    """What each command of a chapter prints, in one library from the first to the last."""
    things = [thing for thing in told(README.read_text(encoding="utf-8")) if thing.chapter == heading]
    with workplace():
        return {thing.words: printed(thing) for thing in things}


def printed(thing: Told) -> str:
    """What it prints in the workplace as it is."""
    if thing.kind == "python":
        path = os.pathsep.join([str(HOME), os.environ.get("PYTHONPATH", "")])
        done = subprocess.run(
            [sys.executable, "-c", thing.words], capture_output=True, text=True, check=True,
            env=os.environ | {"PYTHONPATH": path, "PYTHONIOENCODING": "utf-8"}, encoding="utf-8",
        )  # fmt: skip
        return done.stdout
    result = CliRunner().invoke(main, shlex.split(thing.words))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


def shown(thing: Told, output: str) -> str:
    """As much of the output as README shows."""
    if not thing.output.endswith("\n...\n"):
        return output
    count = thing.output.count("\n") - 1
    return "\n".join(output.split("\n")[:count]) + "\n...\n"


def rewritten(readme: str) -> str:
    """README with today's output."""
    for thing in sorted(told(readme), key=lambda thing: -thing.place[0]):
        output = run(thing)
        count = next((count for word, count in LINES.items() if word in thing.words), 0)
        kept = "\n".join(output.split("\n")[:count]) + "\n...\n" if count else output
        readme = readme[: thing.place[0]] + kept + readme[thing.place[1] :]
    return readme


if __name__ == "__main__":
    README.write_text(rewritten(README.read_text(encoding="utf-8")), encoding="utf-8")
