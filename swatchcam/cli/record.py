"""`swatchcam record`: one record, shown or corrected."""

from __future__ import annotations

from typing import Any

import click

from .options import NUMBER, library_options
from .output import said_options, tell, tell_done


@click.command(
    epilog="\b\nExamples:\n  swatchcam record 12\n  swatchcam record 12 --state heat-set --cloth linen",
)
@click.argument("number", type=NUMBER)
@click.option("--state", default="", help="What was done to the strip: wet, air-dried, heat-set, or 'washed 3'.")
@click.option("--mark", default="", help="What you wrote on the strip.")
@click.option("--cloth", default="", help="The cloth.")
@click.option("--mesh", default="", metavar="MESH", help="The screen's mesh.")
@click.option("--squeegee", default="", help="Squeegee, number of pulls and the like.")
@click.option("--light", default="", help="The light, such as 'north window'.")
@click.option("--measured", default="", metavar="DATE", help="The day of the photo.")
@click.option("--notes", default="", help="Anything else about this strip.")
@library_options
@click.pass_context
def record(context: click.Context, number: int, library: str | None, as_json: bool, **said: Any) -> None:
    """Show a record with all its details. With options, correct these; its colour stays as it was measured.

    A correction can be undone: swatchcam undo.
    """
    from ..library.amend import amend_record
    from ..library.library import open_library
    from ..report.library_records import record_dict
    from ..report.library_text import details_text

    opened = open_library(library)
    if said_options(context, said):
        tell_done(amend_record(opened, number, **said), as_json)
    else:
        tell(record_dict(opened.record(number)), details_text, as_json)
