"""`swatchcam card learn`: the colours of a print or a pigment row, learned from photos."""

from __future__ import annotations

from collections.abc import Sequence

import click

from ...errors import UsageError
from ...messages.surface import TERMINAL
from ...report.said import flag_dicts
from ..groups import json_option
from ..output import tell
from .shown import card_dict, find_design


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam card learn studio-8 both.jpg --card studio-7 --measured-side left\n"
    "  swatchcam card learn studio-8 both.jpg --card studio-7 --measured-side left --other-light lamp.jpg\n"
    "  swatchcam card learn halm window.jpg --other-light bulb.jpg --card studio-7\n"
    "  swatchcam card learn studio-9 ptfe.jpg --white left",
)
@click.argument("new_name", metavar="NAME")
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path())
@click.option(
    "--card",
    metavar="NAME",
    help="Values of the measured card: a name or a file. [default, for a pigment row only: as for a measurement]",
)
@click.option(
    "--white",
    metavar="WINDOW",
    help="Without a measured card: the window in which PTFE of at least 0.5 mm lies, to learn the card's white from.",
)
@click.option(
    "--measured-side",
    "measured",
    type=click.Choice(["left", "right", "top", "bottom"]),
    help="Where the measured card lies in the upright photo. [default: found by its number or its size]",
)
@click.option(
    "--other-light", metavar="PHOTO", multiple=True, type=click.Path(), help="The same scene under another light."
)
@click.option(
    "--replace", "overwrite", is_flag=True, help="Replace a card or row of this name; its old values are kept."
)
@json_option
def learn(
    new_name: str,
    photos: tuple[str, ...],
    card: str | None,
    white: str | None,
    measured: str | None,
    other_light: tuple[str, ...],
    overwrite: bool,
    as_json: bool,
) -> None:
    """Learn a new print or a pigment row beside a measured card, or a print's white from PTFE.

    Lay both flat, side by side, a little apart, in the same even light, ideally both from one printer and on one
    stock. The new print may be of another size. NAME is what it will be called. A pigment row lies on its sheet
    below the card, and NAME is the row's.

    With --white, photograph the new print with PTFE of at least 0.5 mm in that window, on white paper: PTFE is
    a white that you can rely on. If a black line shows through, it is too thin. Thread seal tape (plumber's tape) will
    do if you wind about 8 layers. Never heat PTFE: the fumes are poisonous. Only the print's white is learned; its
    other colours are adjusted to it.
    """
    from ...measurement.card_transfer import learn_card
    from ...measurement.pigment_row import is_row_name
    from .rows import learn_row

    if white is not None:
        refuse_with_white(photos, card, measured, other_light)
        tell_white(new_name, photos[0], white, overwrite, as_json)
        return
    if is_row_name(new_name):
        learn_row(new_name, photos, card, other_light, overwrite, as_json)
        return
    if card is None:
        raise UsageError("card-or-white", "give-card-or-white")
    values = learn_card(new_name, photos, card, other_light=other_light, measured=measured, overwrite=overwrite)
    lines = [
        f"Learned {len(values.lab)} colours for card '{values.name}' (design {values.design}).",
        f"One value is good to {values.uncertainty:.2g} CIEDE2000 (one standard deviation).",
        f"They are for {values.illuminant}/{values.observer}° and are saved in {values.path}.",
        *(f"! {TERMINAL.flag(each)}" for each in values.flags),
    ]
    tell(card_dict(find_design(values.design), values), lambda _: "\n".join(lines), as_json)


def refuse_with_white(
    photos: Sequence[str], card: str | None, measured: str | None, other_light: Sequence[str]
) -> None:
    """Refuse what a white has no use for."""
    if card or measured or other_light:
        raise UsageError("card-or-white", "give-card-or-white")
    if len(photos) > 1:
        raise UsageError("one-white-photo", "give-one-photo", count=len(photos))


def tell_white(name: str, photo: str, window: str, overwrite: bool, as_json: bool) -> None:
    """Learn a print's white from PTFE, and say what it is."""
    from ...measurement.prints.known_white import learn_stock

    values, stock = learn_stock(name, photo, window, overwrite=overwrite)
    white = " ".join(
        f"{axis} {round(value, 1) + 0:.1f}" for axis, value in zip(("L*", "a*", "b*"), stock.lab, strict=True)
    )
    lines = [
        f"The white of card '{name}' is {white}, give or take {stock.radius:.1f} (CIEDE2000).",
        f"Its other colours are worked out from this photo and that white. They are saved in {values.path}.",
        *(f"! {TERMINAL.flag(each)}" for each in (*stock.flags, *values.flags)),
    ]
    facts = card_dict(find_design(values.design), values)
    facts["flags"] = flag_dicts((*stock.flags, *values.flags))
    facts["white"] = {"lab": [round(value, 2) for value in stock.lab], "interval95_ciede2000": round(stock.radius, 2)}
    tell(facts, lambda _: "\n".join(lines), as_json)
