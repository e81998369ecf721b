"""`swatchcam batch`: one pot of a shade, shown or corrected."""

from __future__ import annotations

from typing import Any

import click

from .options import WEIGHING, library_options, with_options
from .output import said_options, tell, tell_done


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
@click.option("--ink", default="", help="The ink's family: the binder or the maker's series.")
@click.option("--notes", default="", help="Anything else about this batch.")
@library_options
@click.pass_context
def batch(context: click.Context, shade: str, name: str, library: str | None, as_json: bool, **said: Any) -> None:
    """Show a batch: its recipe, ink, day and records. With options, correct these instead.

    A correction can be undone: swatchcam undo.
    """
    from ..library.amend import amend_batch
    from ..library.library import open_library
    from ..report.library_records import batch_account
    from ..report.library_text import batch_text

    opened = open_library(library)
    if said_options(context, said):
        tell_done(amend_batch(opened, shade, name, **said), as_json)
    else:
        tell(batch_account(opened, shade, name), batch_text, as_json)
