"""`swatchcam library`: the whole library: fill it from photos, save it, look after it, hand it on."""

from __future__ import annotations

import click

from .groups import LazyGroup

COMMANDS = {
    "amend": "swatchcam.cli.library_records:amend",
    "backup": "swatchcam.cli.library_care:backup",
    "cards": "swatchcam.cli.library_exports:cards",
    "export": "swatchcam.cli.library_exports:export",
    "fill": "swatchcam.cli.library_fill:fill",
    "log": "swatchcam.cli.library_records:log",
    "page": "swatchcam.cli.library_exports:page",
    "record": "swatchcam.cli.library_records:record",
    "remove": "swatchcam.cli.library_records:remove",
    "restore": "swatchcam.cli.library_records:restore",
    "unpack": "swatchcam.cli.library_care:unpack",
    "upgrade": "swatchcam.cli.library_care:upgrade",
    "verify": "swatchcam.cli.library_care:verify",
    "where": "swatchcam.cli.library_care:where",
}


@click.group(cls=LazyGroup, lazy=COMMANDS)
def library() -> None:
    """Fill the library from photos, back it up, look after it, print it, hand it on.

    \b
    Example:
      swatchcam library fill photos/ --card studio-7
    """
