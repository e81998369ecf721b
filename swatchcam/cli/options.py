"""Options that `measure` and `check` share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from .lazy import json_option

_OPTIONS: tuple[Callable[..., Any], ...] = (
    click.option(
        "--card",
        metavar="NAME",
        help="The card's values: a name or a file. By default the only ones imported for the card in the photo,"
        " else its nominal values.",
    ),
    click.option(
        "--illuminant",
        type=click.Choice(["D65", "D50", "A", "C"]),
        default="D65",
        show_default=True,
        help="Light that CIELAB is for; D65 is textile practice.",
    ),
    click.option(
        "--observer",
        type=click.Choice(["10", "2"]),
        default="10",
        show_default=True,
        help="CIE standard observer, degrees.",
    ),
    click.option(
        "--other-lamp",
        multiple=True,
        type=click.Path(path_type=Path),
        metavar="PHOTO",
        help="A photo of the same scene under another lamp; say it again for further ones.",
    ),
    click.option("--strip", metavar="NAME", help="The strip of your own pigments, lying beside the card or not."),
    click.option("--beside", is_flag=True, help="Measure loose drawdowns lying beside the card too."),
    click.option(
        "--picture",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="OUT.png",
        help="Draw what was found into a PNG: tags, patches by their error, windows, sampled ink, light.",
    ),
    json_option,
)


def measuring_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options in the order they are listed in the help."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
