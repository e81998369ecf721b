"""`swatchcam card learn`: a new print's values from photos that show it beside a measured card."""

from __future__ import annotations

import click

from ..messages.surface import TERMINAL
from .groups import json_option
from .output import tell


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam card learn studio-8 both.jpg --card studio-7 --measured-side left\n"
    "  swatchcam card learn studio-8 both.jpg --card studio-7 --measured-side left --other-light lamp.jpg",
)
@click.argument("new_name", metavar="NEW-NAME")
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path())
@click.option("--card", required=True, metavar="NAME", help="Values of the measured card: a name or a file.")
@click.option(
    "--measured-side",
    "measured",
    type=click.Choice(["left", "right", "top", "bottom"]),
    help="Where the measured card lies in the upright photo. [default: told by its size, if the other's differs]",
)
@click.option(
    "--other-light", metavar="PHOTO", multiple=True, type=click.Path(), help="The same two cards under another light."
)
@click.option("--replace", "overwrite", is_flag=True, help="Replace a card of this name; its old values are kept.")
@json_option
def learn(
    new_name: str,
    photos: tuple[str, ...],
    card: str,
    measured: str | None,
    other_light: tuple[str, ...],
    overwrite: bool,
    as_json: bool,
) -> None:
    """Learn the colours of a new print from photos of it beside a measured card.

    Lay both flat, side by side, a little apart, in the same even light; best, both from one printer and on one
    stock. The new print may be of another size. NEW-NAME is what it will be called.
    """
    from ..measurement.card_transfer import learn_card
    from .card import as_dict, find_design

    values = learn_card(new_name, photos, card, other_light=other_light, measured=measured, overwrite=overwrite)
    lines = [
        f"Learned {len(values.lab)} colours for card '{values.name}' (design {values.design}).",
        f"One value is good to {values.uncertainty:.2g} CIEDE2000 (one standard deviation).",
        f"They are for {values.illuminant}/{values.observer}° and are saved in {values.path}.",
        *map(TERMINAL.flag, values.flags),
    ]
    tell(as_dict(find_design(values.design), values), lambda _: "\n".join(lines), as_json)
