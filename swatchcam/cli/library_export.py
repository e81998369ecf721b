"""`swatchcam library export`: the library for other programs."""

from __future__ import annotations

from pathlib import Path

import click

from ..files import check_free
from .options import library_options
from .output import tell_done
from .written import output_options


@click.command()
@click.argument("form", metavar="csv|json|cgats", type=click.Choice(["csv", "json", "cgats"]))
@output_options("FILE", "shades.csv, .json or .txt")
@library_options
def export(form: str, output: Path | None, replace: bool, library: str | None, as_json: bool) -> None:
    """Write everything for other programs: as a CSV table, JSON, or CGATS.17 text (ISO 28178).

    \b
    Example:
      swatchcam library export csv --output spring.csv
    """
    from ..library.library import open_library
    from ..report.publish import ENDINGS, write_export

    target = output or Path(f"shades{ENDINGS[form]}")
    check_free(target, replace, f"FILE{ENDINGS[form]}")
    tell_done(f"wrote {write_export(open_library(library), form, target, replace)}", as_json)
