"""What commands print: one object for programs or words for a person on stdout, progress on stderr."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

import click
from click.core import ParameterSource

from ..text import json_text

if TYPE_CHECKING:
    from ..library.changes import Change
    from ..report.json_types import ChangesJson, DoneJson

Printed = TypeVar("Printed", bound=Mapping[str, object])  # one of `report.json_types`


def tell(facts: Printed, text: Callable[[Printed], str], as_json: bool) -> None:
    """Print the facts themselves, or as `text` says them."""
    click.echo(json_text(facts) if as_json else text(facts))


def tell_done(done: str, as_json: bool) -> None:
    """Say what was done."""
    facts: DoneJson = {"done": done}
    tell(facts, lambda _: f"{done[:1].upper()}{done[1:]}.", as_json)


def tell_change(done: Change, as_json: bool) -> None:
    """Say what a change did to the library."""
    from ..report.library_care import done_dict
    from ..report.library_text import done_text

    tell(done_dict(done), done_text, as_json)


def tell_changes(done: Sequence[Change], as_json: bool) -> None:
    """Say what several changes did, one a line."""
    from ..report.library_care import done_dict
    from ..report.library_text import done_text

    facts: ChangesJson = {"changes": [done_dict(each) for each in done]}
    tell(facts, lambda _: "\n".join(done_text(each) for each in facts["changes"]), as_json)


def said_options(context: click.Context, names: Iterable[str]) -> bool:
    """Whether a person gave any of these options, and not only its default stands there."""
    return any(context.get_parameter_source(name) is not ParameterSource.DEFAULT for name in names)


@contextmanager
def progress(label: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on stderr that is told how much of how much is done."""
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def reached(done: int, steps: int) -> None:
            bar.length = max(steps, 1)
            bar.update(done - bar.pos)

        yield reached
