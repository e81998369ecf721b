"""`swatchcam shade set`: a shade's target, tolerance, verdict, tags, notes and name."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from ..errors import UsageError
from ..text import key
from .options import DECIMAL, NUMBER, judge_option, library_options
from .output import tell_changes

if TYPE_CHECKING:
    from ..library.changes import Change
    from ..library.library import Library

    Step = Callable[[Library], Change]


@click.command("set")
@click.argument("name", metavar="SHADE")
@click.option("--target", metavar="L,a,b", help="The colour that it should have.")
@click.option("--from-record", type=NUMBER, metavar="N", help="Take the colour of this record as the target.")
@click.option(
    "--target-state",
    metavar="STATE",
    help="What was done to the cloth that has the target colour: air-dried, 'heat-set 150 C 4 min press', 'washed 3'."
    " [default: with --from-record, the record's]",
)
@click.option("--tolerance", type=DECIMAL, help="Largest difference that counts as the same for this shade, CIEDE2000.")
@judge_option("What counts when this shade is checked")
@click.option("--tag", "tags", multiple=True, help="Add this tag; you may repeat it.")
@click.option("--untag", "off", multiple=True, help="Take this tag off; you may repeat it.")
@click.option("--notes", help="Anything else about the shade; replaces what was there.")
@click.option("--rename", "new_name", metavar="NEW", help="Give it another name.")
@click.option(
    "--merge-into", metavar="SHADE", help="Move all its batches to another shade, for one colour kept under two names."
)
@library_options
def set_of(name: str, merge_into: str | None, library: str | None, as_json: bool, **said: Any) -> None:
    """Set a shade's target, tolerance, tags, notes or name, and what counts; or merge it into another shade.

    Of several changes all are made, or none if one of them can't be. Each can be undone: swatchcam undo.

    \b
    Examples:
      swatchcam shade set "river blue" --target 41.2,-8.0,-32.5 --tolerance 1.5
      swatchcam shade set "river blue" --judge pot
      swatchcam shade set "river blue" --from-record 12 --tag spring --tag linen
      swatchcam shade set "rivr blue" --rename "river blue"
      swatchcam shade set "old river blue" --merge-into "river blue"
    """
    from ..library.changes import carry_out_together, merge_shades
    from ..library.library import open_library

    changes = {option: value for option, value in said.items() if value not in (None, ())}
    if merge_into is not None and changes:
        raise UsageError("merge-with-other-changes", "merge-alone")
    if merge_into is None and not changes:
        raise UsageError("nothing-to-change", "name-a-change")
    opened = open_library(library)
    steps = [lambda there: merge_shades(there, name, merge_into)] if merge_into is not None else _steps(name, **said)
    tell_changes(carry_out_together(opened, steps), as_json)


def _steps(
    name: str,
    target: str | None,
    from_record: int | None,
    target_state: str | None,
    tolerance: float | None,
    judge: str | None,
    tags: tuple[str, ...],
    off: tuple[str, ...],
    notes: str | None,
    new_name: str | None,
) -> list[Step]:
    """The changes in order; the name is the last one, for all others are of the shade as it was called."""
    from ..library.amend import judge_shade, note_shade, tag_shade
    from ..library.changes import rename_shade

    if both := {key(tag) for tag in tags} & {key(tag) for tag in off}:
        raise UsageError("tag-on-and-off", "name-tag-once", tag=min(both))
    steps: list[Step] = []
    if any(said is not None for said in (target, from_record, target_state, tolerance)):
        steps.append(lambda there: _set_target(there, name, target, from_record, target_state, tolerance))
    if judge is not None:
        steps.append(lambda there: judge_shade(there, name, judge))
    if tags:
        steps.append(lambda there: tag_shade(there, name, tags))
    if off:
        steps.append(lambda there: tag_shade(there, name, off, remove=True))
    if notes is not None:
        steps.append(lambda there: note_shade(there, name, notes))
    if new_name is not None:
        steps.append(lambda there: rename_shade(there, name, new_name))
    return steps


def _set_target(
    there: Library,
    name: str,
    target: str | None,
    from_record: int | None,
    target_state: str | None,
    tolerance: float | None,
) -> Change:
    from ..colorimetry.lab_text import parse_lab
    from ..library.amend import target_meant
    from ..library.changes import set_target
    from ..library.records import parse_state

    lab = parse_lab(target) if target is not None else None
    said = parse_state(target_state) if target_state is not None else None
    colour, state = target_meant(there, lab, from_record, said, tolerance)
    return set_target(there, name, colour, tolerance, state)
