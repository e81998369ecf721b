"""`swatchcam batch`, `record`, `remove`, `undo`: what was kept is shown, corrected, removed, brought back."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from ..errors import UsageError
from .options import COAT, LET_DOWN, NUMBER, WEIGHING, library_options, numbers_option, with_options
from .output import said_options, tell, tell_change


@click.command(
    epilog="\b\nExamples:\n"
    '  swatchcam batch "river blue" 3\n'
    '  swatchcam batch "river blue" 3 --recipe "clear base 500 g, blue 3.4 g, black 4 drops"',
)
@click.argument("shade")
@click.argument("name", metavar="BATCH")
@click.option("--rename", "new_name", default="", metavar="NEW", help="Give it another name.")
@click.option("--recipe", default="", metavar="TEXT|FILE", help="What went in, in full, as for 'keep'.")
@lambda command: with_options(WEIGHING, command)
@click.option("--mixed", default="", metavar="DATE", help="The day the pot was mixed, such as 2026-01-31.")
@click.option("--ink", default="", help="The ink's family: the clear base or the maker's series.")
@click.option("--notes", default="", help="Anything else about this batch.")
@numbers_option
@library_options
@click.pass_context
def batch(
    context: click.Context, shade: str, name: str, numbers: bool, library: str | None, as_json: bool, **said: Any
) -> None:
    """Show a batch: its recipe, ink, day and records. With options, correct these instead.

    A correction can be undone: swatchcam undo.
    """
    from ..library.amend import amend_batch
    from ..library.library import open_library
    from ..library.shelf.tools import measures_of
    from ..report.library_records import batch_account
    from ..report.library_text import batch_text

    opened = open_library(library)
    if said_options(context, said):
        tell_change(amend_batch(opened, shade, name, measures=measures_of(opened), **said), as_json)
    else:
        tell(batch_account(opened, shade, name), partial(batch_text, numbers=numbers), as_json)


@click.command(
    epilog="\b\nExamples:\n  swatchcam record 12\n"
    "  swatchcam record 12 --state 'heat-set 150 C 4 min press' --cloth linen\n"
    "  swatchcam record 12 --stained sample_images/stained.jpg",
)
@click.argument("number", type=NUMBER)
@click.option(
    "--state",
    default="",
    help="What was done to the strip: wet, air-dried, 'heat-set 150 C 4 min press', 'washed 3', rubbed.",
)
@click.option("--mark", default="", help="What you wrote on the strip.")
@click.option("--cloth", default="", help="The cloth.")
@click.option("--mesh", default="", metavar="MESH", help="The screen's mesh.")
@click.option("--squeegee", default="", help="Squeegee, number of pulls and the like.")
@COAT
@LET_DOWN(help="So many parts of clear base to one part of ink, such as 10; 0 for the ink itself.")
@click.option("--light", default="", help="The light, such as 'north window'.")
@click.option("--measured", default="", metavar="DATE", help="The day of the photo.")
@click.option("--notes", default="", help="Anything else about this strip.")
@click.option(
    "--stained",
    type=click.Path(path_type=Path),
    metavar="PHOTO",
    help="Keep the grade of a white cloth that was rubbed or washed with this strip: clean cloth in the left window,"
    " the stained one in the right.",
)
@click.option("--card", metavar="NAME", help="With --stained: the values of the card in that photo.")
@numbers_option
@library_options
@click.pass_context
def record(
    context: click.Context,
    number: int,
    stained: Path | None,
    card: str | None,
    numbers: bool,
    library: str | None,
    as_json: bool,
    **said: Any,
) -> None:
    """Show a record with all its details. With options, correct these; its colour stays as it was measured.

    A correction can be undone: swatchcam undo.
    """
    from ..library.amend import amend_record, keep_staining
    from ..library.library import open_library
    from ..measurement.measure import measure
    from ..measurement.summary import sitting_of
    from ..report.library_records import record_dict
    from ..report.library_text import details_text

    corrected = said_options(context, said)
    if (stained and corrected) or (card and not stained):
        raise UsageError("staining-with-corrections", "name-photo-and-card")
    opened = open_library(library)
    if stained:
        sitting = sitting_of(measure(str(stained), card, staining=True))
        tell_change(keep_staining(opened, number, sitting), as_json)
    elif corrected:
        tell_change(amend_record(opened, number, **said), as_json)
    else:
        tell(record_dict(opened.record(number)), partial(details_text, numbers=numbers), as_json)


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam remove --record 12\n"
    '  swatchcam remove --shade "river blue"\n'
    "  swatchcam remove --proposal 4\n"
    "  swatchcam remove --pigment ochre",
)
@click.option("--record", type=NUMBER, metavar="N", help="Remove this record.")
@click.option("--shade", metavar="NAME", help="Remove this shade with all its batches and records.")
@click.option(
    "--proposal", type=NUMBER, metavar="N", help="Remove this proposal of a recipe or correction that you kept."
)
@click.option("--pigment", metavar="NAME", help="Take this pigment off the shelf; strips with it stay.")
@library_options
def remove(
    record: int | None,
    shade: str | None,
    proposal: int | None,
    pigment: str | None,
    library: str | None,
    as_json: bool,
) -> None:
    """Remove a record, a shade, a proposal or a pigment from the library.

    Nothing is deleted: you are told how to undo it.
    """
    from ..library.changes import remove_record, remove_shade
    from ..library.library import open_library
    from ..library.proposal_store import remove_proposal
    from ..library.shelf.pigments import remove_pigment
    from ..report.library_care import done_dict
    from ..report.library_text import done_text

    if sum(each is not None for each in (record, shade, proposal, pigment)) != 1:
        raise UsageError("not-one-thing-to-remove", "name-one-thing-to-remove")
    opened = open_library(library)
    if record is not None:
        done = remove_record(opened, record)
    elif shade is not None:
        done = remove_shade(opened, shade)
    elif pigment is not None:
        done = remove_pigment(opened, pigment)
    else:
        done = remove_proposal(opened, proposal or 0)
    facts = done_dict(done)
    tell(facts, lambda _: f"{done_text(facts)}\nTo undo this: swatchcam undo {done.number}", as_json)


@click.command(epilog="\b\nExamples:\n  swatchcam undo\n  swatchcam undo 4")
@click.argument("number", type=NUMBER, required=False)
@library_options
def undo(number: int | None, library: str | None, as_json: bool) -> None:
    """List what was changed or removed, the newest first. With a NUMBER of that list, undo that change.

    Undoing brings back what was removed, the old name, the old target, the old recipe; and it can be undone in turn.
    """
    from ..library.changes import undo as undone
    from ..library.library import open_library
    from ..report.library_care import log_dict
    from ..report.library_text import log_text

    opened = open_library(library)
    if number is None:
        tell(log_dict(opened), log_text, as_json)
    else:
        tell_change(undone(opened, number), as_json)
