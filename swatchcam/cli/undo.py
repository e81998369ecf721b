"""`swatchcam remove`, `undo`: what is taken out of use, and brought back."""

from __future__ import annotations

import click

from ..errors import UsageError
from .options import NUMBER, library_options
from .output import tell, tell_done


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam remove --record 12\n"
    '  swatchcam remove --shade "river blue"\n'
    "  swatchcam remove --proposal 4",
)
@click.option("--record", type=NUMBER, metavar="N", help="Remove this record.")
@click.option("--shade", metavar="NAME", help="Remove this shade with all its batches and records.")
@click.option(
    "--proposal", type=NUMBER, metavar="N", help="Remove this proposal of a recipe or correction that you kept."
)
@library_options
def remove(record: int | None, shade: str | None, proposal: int | None, library: str | None, as_json: bool) -> None:
    """Remove a record, a shade or a proposal from the library.

    Nothing is deleted: you are told how to undo it.
    """
    from ..library.changes import number_of, remove_record, remove_shade
    from ..library.library import open_library
    from ..library.proposal_store import remove_proposal

    if sum(each is not None for each in (record, shade, proposal)) != 1:
        raise UsageError("not-one-thing-to-remove", "name-one-thing-to-remove")
    opened = open_library(library)
    if record is not None:
        done = remove_record(opened, record)
    elif shade is not None:
        done = remove_shade(opened, shade)
    else:
        done = remove_proposal(opened, proposal or 0)
    facts = {"done": done, "undo": number_of(opened, done)}
    tell(facts, lambda _: f"{done[:1].upper()}{done[1:]}.\nTo undo this: swatchcam undo {facts['undo']}", as_json)


@click.command(epilog="\b\nExamples:\n  swatchcam undo\n  swatchcam undo 4")
@click.argument("number", type=NUMBER, required=False)
@library_options
def undo(number: int | None, library: str | None, as_json: bool) -> None:
    """List what was changed or removed, the newest first. With a NUMBER of that list, undo that change.

    Undoing brings back what was removed, the old name, the old target, the old recipe; and it can be undone in turn.
    """
    from ..library.changes import restore
    from ..library.library import open_library
    from ..report.library_records import log_dict
    from ..report.library_text import log_text

    opened = open_library(library)
    if number is None:
        tell(log_dict(opened), log_text, as_json)
    else:
        tell_done(restore(opened, number), as_json)
