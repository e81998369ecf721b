"""`swatchcam shade`: the shades of the library, one by one and on paper."""

from __future__ import annotations

import click

from .groups import LazyGroup

COMMANDS = {
    "list": "swatchcam.cli.shade_show:list_shades",
    "show": "swatchcam.cli.shade_show:show",
    "set": "swatchcam.cli.shade_set:set_of",
    "page": "swatchcam.cli.shade_print:page",
    "cards": "swatchcam.cli.shade_print:cards",
}


@click.group(cls=LazyGroup, lazy=COMMANDS)
def shade() -> None:
    """List and show shades, set their targets and names, print them.

    \b
    Example:
      swatchcam shade show "river blue"
    """
