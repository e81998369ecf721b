"""What commands print: one object for programs or words for a person on stdout, progress on stderr."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from ..library.changes import Change


def tell(facts: dict[str, Any], text: Callable[[dict[str, Any]], str], as_json: bool) -> None:
    """Print the facts themselves, or as `text` says them."""
    click.echo(json.dumps(facts, ensure_ascii=False, indent=2) if as_json else text(facts))


def tell_done(done: str, as_json: bool) -> None:
    """Say what was done."""
    tell({"done": done}, lambda _: f"{done[:1].upper()}{done[1:]}.", as_json)


def tell_change(done: Change, as_json: bool) -> None:
    """Say what a change did to the library."""
    from ..report.library_records import done_dict
    from ..report.library_text import done_text

    tell(done_dict(done), done_text, as_json)


@contextmanager
def progress(label: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on stderr that is told how much of how much is done."""
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def reached(done: int, steps: int) -> None:
            bar.length = max(steps, 1)
            bar.update(done - bar.pos)

        yield reached
