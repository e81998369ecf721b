"""`swatchcam shade page`, `cards`: shades on a web page and on the wall."""

from __future__ import annotations

from pathlib import Path

import click

from ..files import check_free
from .options import library_options
from .output import tell_done
from .written import output_options


@click.command()
@click.argument("shades", nargs=-1, metavar="[SHADE...]")
@output_options("FILE.html", "", "shades.html")
@library_options
def page(shades: tuple[str, ...], output: Path, replace: bool, library: str | None, as_json: bool) -> None:
    """Make one web page of a shade, of several, or of all: colours, recipes, plots, history, small photos.

    The page needs no other file and no network, and prints on A4.

    \b
    Examples:
      swatchcam shade page
      swatchcam shade page "river blue" --output river.html
    """
    from ..library.library import open_library
    from ..report.publish import write_page

    check_free(output, replace, "FILE.html")
    tell_done(f"wrote {write_page(open_library(library), shades, output, replace)}", as_json)


@click.command()
@click.argument("shades", nargs=-1, metavar="[SHADE...]")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper to print on."
)
@output_options("FILE.pdf", "", "shades.pdf")
@library_options
def cards(shades: tuple[str, ...], paper: str, output: Path, replace: bool, library: str | None, as_json: bool) -> None:
    """Make a PDF of shade cards for the wall, with recipes: of the shades you name, or of all.

    \b
    Examples:
      swatchcam shade cards
      swatchcam shade cards "river blue" brick --paper letter
    """
    from ..library.library import open_library
    from ..report.publish import write_cards

    check_free(output, replace, "FILE.pdf")
    tell_done(f"wrote {write_cards(open_library(library), shades, paper, output, replace)}", as_json)
