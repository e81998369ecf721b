"""`swatchcam library`: the whole library: fill it from photos, save it, look after it, hand it on."""

from __future__ import annotations

import click

from .groups import LazyGroup

COMMANDS = {
    "where": "swatchcam.cli.library_care:where",
    "fill": "swatchcam.cli.library_fill:fill",
    "export": "swatchcam.cli.library_care:export",
    "backup": "swatchcam.cli.library_care:backup",
    "restore": "swatchcam.cli.library_care:restore",
    "verify": "swatchcam.cli.library_care:verify",
    "upgrade": "swatchcam.cli.library_care:upgrade",
}


@click.group(cls=LazyGroup, lazy=COMMANDS)
def library() -> None:
    """Fill the library from photos, back it up, look after it, export it.

    \b
    Example:
      swatchcam library fill photos/ --card studio-7
    """
