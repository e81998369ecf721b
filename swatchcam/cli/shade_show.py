"""`swatchcam shade list`, `show`: what shades there are, and how one was matched."""

from __future__ import annotations

import click

from .options import library_options
from .output import tell


@click.command("list")
@click.option("--tag", help="Only shades with this tag.")
@click.option("--text", help="Only shades with this in their name, notes, cloth, ink or recipe.")
@library_options
def list_shades(tag: str | None, text: str | None, library: str | None, as_json: bool) -> None:
    """List the shades of the library, each with its last record.

    \b
    Examples:
      swatchcam shade list
      swatchcam shade list --tag spring --text linen
    """
    from ..library.library import open_library
    from ..report.library_records import shades_dict
    from ..report.library_text import shades_text

    facts = shades_dict(open_library(library), tag, text)
    tell(facts, lambda _: shades_text(facts["shades"]), as_json)


@click.command()
@click.argument("name", metavar="SHADE")
@library_options
def show(name: str, library: str | None, as_json: bool) -> None:
    """Show a shade: target, batches with recipes, how well it was matched, what heat setting and washing did.

    The history is a control chart of single values and moving ranges (ISO 7870-2): a batch that differs by more than
    chance explains is named, with the rule that it broke.

    \b
    Example:
      swatchcam shade show "river blue"
    """
    from ..library.library import open_library
    from ..report.library_records import shade_account
    from ..report.library_text import shade_text

    tell(shade_account(open_library(library), name), shade_text, as_json)
