"""`swatchcam library record`, `amend`, `remove`, `log`, `restore`: one record, and what was changed."""

from __future__ import annotations

import click

from .options import NUMBER, library_options
from .output import tell, tell_change


@click.command()
@click.argument("number", type=NUMBER)
@library_options
def record(number: int, library: str | None, as_json: bool) -> None:
    """Show one record with all that was said of it.

    \b
    Example:
      swatchcam library record 12
    """
    from ..library.library import open_library
    from ..report.library_records import record_dict
    from ..report.library_text import details_text

    tell(record_dict(open_library(library).record(number)), details_text, as_json)


@click.command()
@click.argument("number", type=NUMBER)
@click.option("--state", default="", help="What was done to the strip: wet, air-dried, heat-set, or 'washed 3'.")
@click.option("--mark", default="", help="What you wrote on the strip.")
@click.option("--cloth", default="", help="The cloth.")
@click.option("--mesh", default="", help="The screen's mesh.")
@click.option("--squeegee", default="", help="Squeegee, number of pulls and the like.")
@click.option("--light", default="", help="The light.")
@click.option("--measured", default="", metavar="DATE", help="The day of the photo.")
@click.option("--notes", default="", help="Anything else.")
@library_options
def amend(
    number: int,
    state: str,
    mark: str,
    cloth: str,
    mesh: str,
    squeegee: str,
    light: str,
    measured: str,
    notes: str,
    library: str | None,
    as_json: bool,
) -> None:
    """Say anew what a record is of. Its colour stays as it was measured.

    \b
    Example:
      swatchcam library amend 12 --state heat-set --cloth linen
    """
    from ..library.amend import amend_record
    from ..library.library import open_library

    said = {"mark": mark, "cloth": cloth, "mesh": mesh, "squeegee": squeegee, "light": light, "notes": notes}
    tell_change(amend_record(open_library(library), number, state=state, measured=measured, **said), as_json)


@click.command()
@click.argument("number", type=NUMBER)
@library_options
def remove(number: int, library: str | None, as_json: bool) -> None:
    """Take a record out. It stays where it is, marked; 'library restore' brings it back.

    \b
    Example:
      swatchcam library remove 12
    """
    from ..library.changes import remove_record
    from ..library.library import open_library

    tell_change(remove_record(open_library(library), number), as_json)


@click.command()
@library_options
def log(library: str | None, as_json: bool) -> None:
    """List what was renamed, merged, tagged or taken out, the newest first.

    \b
    Example:
      swatchcam library log
    """
    from ..library.library import open_library
    from ..report.library_records import log_dict
    from ..report.library_text import log_text

    tell(log_dict(open_library(library)), log_text, as_json)


@click.command()
@click.argument("number", type=NUMBER)
@library_options
def restore(number: int, library: str | None, as_json: bool) -> None:
    """Undo the change with this NUMBER in the log: bring back what was taken out, the old name, the old target.

    \b
    Example:
      swatchcam library restore 4
    """
    from ..library.changes import undo
    from ..library.library import open_library

    tell_change(undo(open_library(library), number), as_json)
