"""`swatchcam card`: print a card, see what it holds, import readings of it."""

from __future__ import annotations

from typing import Any

import click

from ..cards.validation import ILLUMINANTS
from ..messages.surface import TERMINAL
from .cards.profile import printed_through, profile_options, refuse_options
from .cards.shown import card_dict, card_text, find_design
from .groups import LazyGroup, json_option
from .options import DEGREES, reading_options
from .output import tell

COMMANDS = {
    "print": "swatchcam.cli.card_print:print_card",
    "learn": "swatchcam.cli.cards.learn:learn",
    "list": "swatchcam.cli.cards.kept:list_cards",
    "use": "swatchcam.cli.cards.kept:use",
    "remove": "swatchcam.cli.cards.kept:remove",
    "test": "swatchcam.cli.cards.test:test",
}


@click.group(cls=LazyGroup, lazy=COMMANDS)
def card() -> None:
    """Print a card or a pigment row, import or learn its colours, and say which card you use.

    \b
    Example:
      swatchcam card show
    """


@card.command()
@click.argument("card_name", metavar="[NAME]", required=False)
@click.option(
    "--design", default="a5", show_default=True, metavar="NAME", help="Without NAME: the size of card to show."
)
@click.option(
    "--illuminant", type=click.Choice(ILLUMINANTS), default="D65", show_default=True, help="Light the colours are for."
)
@click.option(
    "--observer", type=click.Choice(DEGREES), default="10", show_default=True, help="Standard observer, degrees."
)
@json_option
def show(card_name: str | None, design: str, illuminant: str, observer: str, as_json: bool) -> None:
    """List the patches of a card, as sent and as measured, or the strips of a pigment row.

    NAME is the name of a card or a pigment row, or a card's values file. Without it, you see the colours
    that are used for a card without a number.

    \b
    Examples:
      swatchcam card show
      swatchcam card show studio-7
    """
    from ..cards.choice import choose_values
    from ..cards.values import load_values
    from ..cards.values_folder import NOMINAL
    from ..measurement.pigment_row import is_row_name
    from .cards.rows import show_row

    if card_name and is_row_name(card_name):
        show_row(card_name, as_json)
        return
    if card_name and card_name != NOMINAL:
        values = load_values(card_name, illuminant, int(observer))
        found = find_design(values.design)
    else:
        found = find_design(design)
        values = choose_values(found, card_name, illuminant, int(observer))
    tell(card_dict(found, values), lambda _: card_text(found, values), as_json)


@card.command("import")
@click.argument("file", type=click.Path())
@click.option(
    "--card-name",
    required=True,
    metavar="NAME",
    help="A name for this print, for example studio-7; or the name of a pigment row.",
)
@click.option("--design", default="a5", show_default=True, metavar="NAME", help="Size of the card that was read.")
@click.option("--print", "numbers", multiple=True, metavar="NUMBER", help="The 8 digits on the print that was read.")
@reading_options
@profile_options
@click.option(
    "--average", is_flag=True, help="Average several readings of the same patch; of a pigment row they always are."
)
@click.option("--replace", is_flag=True, help="Replace a card or row of this name; its old values are kept.")
@json_option
@click.pass_context
def import_readings(
    context: click.Context,
    file: str,
    card_name: str,
    design: str,
    numbers: tuple[str, ...],
    average: bool,
    observer: str | None,
    intent: str,
    black_point: bool,
    as_json: bool,
    **settings: Any,
) -> None:
    """Import a spectrophotometer's readings of a card or a pigment row, or a printer's profile.

    FILE is what the instrument's software exports: a CSV table, or CGATS text (ISO 28178), with spectra, L a b or
    X Y Z. Name the patches as on the card's map and the bare white stock 'paper', or number the rows in the map's
    order; for a pigment row, use the names of its places. A print shop or a college can read a card in a quarter of
    an hour.

    Without an instrument, FILE may be the ICC profile of the printer and paper that the card was printed on.

    \b
    Examples:
      swatchcam card import readings.csv --card-name studio-7 --print 04821093 --geometry 45/0 --date 2026-01-31
      swatchcam card import readings.txt --card-name studio-7 --average
      swatchcam card import press-matt.icc --card-name studio-9 --intent relative
    """
    from ..cards.instrument_import import import_values
    from ..cards.instrument_readings import read_readings
    from ..cards.printer_profile import is_profile
    from ..measurement.pigment_row import is_row_name
    from .cards.rows import import_row

    if is_profile(file):
        values, lines = printed_through(context, file, find_design(design), card_name, numbers)
        tell(card_dict(find_design(design), values), lambda _: "\n".join(lines), as_json)
        return
    refuse_options(context, profile=False)
    settings["observer"] = int(observer) if observer else None
    if is_row_name(card_name):
        import_row(card_name, file, as_json, **settings)
        return
    found = find_design(design)
    readings = read_readings(file, settings["illuminant"], settings["observer"])
    result = import_values(readings, found, name=card_name, numbers=numbers, average=average, **settings)
    lines = [
        f"Imported {len(result.lab)} colours for card '{result.name}' (design {result.design}).",
        f"They are for {result.illuminant}/{result.observer}° and are saved in {result.path}.",
        *map(TERMINAL.flag, result.flags),
    ]
    if not readings.spectra:
        lines.append("The file holds no spectra: for another light or observer these colours can only be estimated.")
    if readings.spectra and not result.condition:
        lines.append(
            "Nobody said which light it was read in (M0 to M3): if you find out, import it again with --condition."
        )
    tell(card_dict(found, result), lambda _: "\n".join(lines), as_json)
