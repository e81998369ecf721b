"""`swatchcam shade`: the shades of the library, one by one and on paper."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from ..files import check_free
from .groups import LazyGroup
from .options import library_options, numbers_option
from .output import tell, tell_done
from .written import output_options

COMMANDS = {"set": "swatchcam.cli.shade_set:set_of"}


@click.group(cls=LazyGroup, lazy=COMMANDS)
def shade() -> None:
    """List and show shades, set their targets and names, print them.

    \b
    Example:
      swatchcam shade show "river blue"
    """


@shade.command("list")
@click.option("--tag", help="Only shades with this tag.")
@click.option("--text", help="Only shades with this in their name, notes, cloth, ink or recipe.")
@numbers_option
@library_options
def list_shades(tag: str | None, text: str | None, numbers: bool, library: str | None, as_json: bool) -> None:
    """List the shades of the library, each in its finished colour: that of its last heat-set strip, if there is one.

    \b
    Examples:
      swatchcam shade list
      swatchcam shade list --tag spring --text linen
    """
    from ..library.library import open_library
    from ..report.library_records import shades_dict
    from ..report.library_text import shades_text

    facts = shades_dict(open_library(library), tag, text)
    tell(facts, lambda _: shades_text(facts["shades"], numbers), as_json)


@shade.command()
@click.argument("name", metavar="SHADE")
@numbers_option
@library_options
def show(name: str, numbers: bool, library: str | None, as_json: bool) -> None:
    """Show a shade: target, batches with recipes, how well it was matched, what heat setting and washing did.

    The history is a control chart of single values and moving ranges (ISO 7870-2): a batch that is
    further off than your batches usually vary is named, with the rule that it broke.

    \b
    Example:
      swatchcam shade show "river blue"
    """
    from ..library.library import open_library
    from ..report.library_records import shade_account
    from ..report.library_text import shade_text

    tell(shade_account(open_library(library), name), partial(shade_text, numbers=numbers), as_json)


@shade.command()
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


@shade.command()
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
