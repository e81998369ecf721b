"""`swatchcam library page`, `cards`, `export`: the library is handed on."""

from __future__ import annotations

from pathlib import Path

import click

from .options import library_options
from .output import tell_done


@click.command()
@click.argument("shades", nargs=-1, metavar="[SHADE...]")
@click.option("--output", default="shades.html", show_default=True, type=click.Path(path_type=Path), help="The page.")
@click.option("--replace", is_flag=True, help="Write over a page that is there already.")
@library_options
def page(shades: tuple[str, ...], output: Path, replace: bool, library: str | None, as_json: bool) -> None:
    """Make one web page of a shade, of several, or of all: chips, recipes, plots, history, small photos.

    The page needs no other file and no network, and prints on A4.

    \b
    Examples:
      swatchcam library page
      swatchcam library page "river blue" --output river.html
    """
    from ..library.library import open_library
    from ..report.publish import write_page

    tell_done(f"wrote {write_page(open_library(library), shades, output, replace)}", as_json)


@click.command()
@click.argument("shades", nargs=-1, metavar="[SHADE...]")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="To print on.")
@click.option("--output", default="shades.pdf", show_default=True, type=click.Path(path_type=Path), help="The PDF.")
@click.option("--replace", is_flag=True, help="Write over a PDF that is there already.")
@library_options
def cards(shades: tuple[str, ...], paper: str, output: Path, replace: bool, library: str | None, as_json: bool) -> None:
    """Make a PDF of shade cards for the wall, with recipes, of the shades that are named or of all.

    \b
    Examples:
      swatchcam library cards
      swatchcam library cards "river blue" brick --paper letter
    """
    from ..library.library import open_library
    from ..report.publish import write_cards

    tell_done(f"wrote {write_cards(open_library(library), shades, paper, output, replace)}", as_json)


@click.command()
@click.argument("form", metavar="csv|json|cgats", type=click.Choice(["csv", "json", "cgats"]))
@click.option("--output", type=click.Path(path_type=Path), help="The file. [default: shades.csv, .json or .txt]")
@click.option("--replace", is_flag=True, help="Write over a file that is there already.")
@library_options
def export(form: str, output: Path | None, replace: bool, library: str | None, as_json: bool) -> None:
    """Hand everything on to other programs: as a CSV table, JSON, or CGATS.17 text (ISO 28178).

    \b
    Example:
      swatchcam library export csv --output spring.csv
    """
    from ..library.library import open_library
    from ..report.publish import ENDINGS, write_export

    target = output or Path(f"shades{ENDINGS[form]}")
    tell_done(f"wrote {write_export(open_library(library), form, target, replace)}", as_json)
