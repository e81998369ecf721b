"""`swatchcam card`: print a card, see what it holds, import readings of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from ..cards.print_number import spoken
from ..cards.validation import ILLUMINANTS
from ..errors import UsageError
from ..messages.surface import TERMINAL
from ..report.said import flag_dicts
from ..text import listed
from .cards.profile import printed_through, profile_options, refuse_options
from .groups import LazyGroup, json_option
from .options import DEGREES, reading_options
from .output import tell

if TYPE_CHECKING:
    from ..cards.design import CardDesign
    from ..cards.values import CardValues
    from ..report.json_types import CardJson


COMMANDS = {
    "print": "swatchcam.cli.card_print:print_card",
    "list": "swatchcam.cli.cards.kept:list_cards",
    "use": "swatchcam.cli.cards.kept:use",
    "remove": "swatchcam.cli.cards.kept:remove",
    "test": "swatchcam.cli.card_test:test",
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

    NAME is the name of a card or a pigment row, or a card's values file. Without it, the colours are those that
    would be used now for a card without a number.

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
    tell(as_dict(found, values), lambda _: as_text(found, values), as_json)


@card.command("import")
@click.argument("file", type=click.Path())
@click.option(
    "--card-name",
    required=True,
    metavar="NAME",
    help="Name for this printed card, for example the number written on it; or the name of a pigment row.",
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
    order; name those of a pigment row like its places. A print shop or a college can read a card in a quarter of an
    hour.

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
        tell(as_dict(find_design(design), values), lambda _: "\n".join(lines), as_json)
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
    tell(as_dict(found, result), lambda _: "\n".join(lines), as_json)


@card.command(
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
    help="Values of the measured card: a name or a file. [for a pigment row the default is as for a measurement]",
)
@click.option(
    "--white",
    metavar="WINDOW",
    help="Without a measured card: the window in which PTFE of at least 0.5 mm lies; its white tells the card's.",
)
@click.option(
    "--measured-side",
    "measured",
    type=click.Choice(["left", "right", "top", "bottom"]),
    help="Where the measured card lies in the upright photo. [default: told by its number, or its size]",
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
    """Learn the colours of a new print, or of a pigment row, from photos of it beside a measured card.

    Lay both flat, side by side, a little apart, in the same even light; best, both from one printer and on one
    stock. The new print may be of another size. NAME is what it will be called. A pigment row lies on its sheet
    below the card, and NAME is the row's.

    With --white, photograph the new print with PTFE of at least 0.5 mm in that window, on white paper: nothing else
    is as white for sure. If a black line shows through, it is too thin. Thread seal tape will do if it is wound about 8
    layers thick. Never heat PTFE: the fumes are poisonous. Only the print's white is learned; its other colours move
    along with it.
    """
    from ..measurement.card_transfer import learn_card
    from ..measurement.pigment_row import is_row_name
    from .cards.rows import learn_row

    if white is not None:
        refuse_with_white(photos, card, measured, other_light)
        tell_white(new_name, photos[0], white, overwrite, as_json)
        return
    if is_row_name(new_name):
        learn_row(new_name, photos, card, other_light, overwrite, as_json)
        return
    if card is None:
        raise UsageError("measured-card-unsaid", "say-the-measured-card", name=new_name)
    values = learn_card(new_name, photos, card, other_light=other_light, measured=measured, overwrite=overwrite)
    lines = [
        f"Learned {len(values.lab)} colours for card '{values.name}' (design {values.design}).",
        f"One value is good to {values.uncertainty:.2g} CIEDE2000 (one standard deviation).",
        f"They are for {values.illuminant}/{values.observer}° and are saved in {values.path}.",
        *map(TERMINAL.flag, values.flags),
    ]
    tell(as_dict(find_design(values.design), values), lambda _: "\n".join(lines), as_json)


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
    from ..measurement.prints.known_white import learn_stock

    values, stock = learn_stock(name, photo, window, overwrite=overwrite)
    white = " ".join(
        f"{axis} {round(value, 1) + 0:.1f}" for axis, value in zip(("L*", "a*", "b*"), stock.lab, strict=True)
    )
    lines = [
        f"The white of card '{name}' is {white}, give or take {stock.radius:.1f} (CIEDE2000).",
        f"Its other colours are those sent to the printer, on that white. They are saved in {values.path}.",
        *map(TERMINAL.flag, (*stock.flags, *values.flags)),
    ]
    facts = as_dict(find_design(values.design), values)
    facts["flags"] = flag_dicts((*stock.flags, *values.flags))
    facts["white"] = {"lab": [round(value, 2) for value in stock.lab], "interval95_ciede2000": round(stock.radius, 2)}
    tell(facts, lambda _: "\n".join(lines), as_json)


def find_design(name: str) -> CardDesign:
    """The design of this name; a refusal lists those there are."""
    from ..cards.design import designs

    found = designs().get(name)
    if found is None:
        raise UsageError("no-such-design", "choose-a-design", name=name, designs=sorted(designs()))
    return found


def as_dict(design: CardDesign, values: CardValues) -> CardJson:
    """Everything about a card's colours, for programs."""
    sent = {patch.name: list(patch.srgb) for patch in design.patches}
    return {
        "card": values.name,
        "design": values.design,
        "grade": values.grade,
        "illuminant": values.illuminant,
        "observer": values.observer,
        "geometry": values.geometry,
        "date": values.date,
        "source": values.source,
        "uncertainty": {"value": values.uncertainty, "unit": "CIEDE2000", "meaning": "one standard deviation"},
        "numbers": list(values.numbers),
        "path": values.path,
        "flags": flag_dicts(values.flags),
        "patches": [
            {"name": name, "srgb": sent.get(name), "lab": [round(value, 4) for value in lab]}
            for name, lab in values.lab.items()
        ],
    }


def as_text(design: CardDesign, values: CardValues) -> str:
    """The same for a person."""
    sent = {patch.name: patch.srgb for patch in design.patches}
    done = "made" if values.grade == "profile" else "read"
    read = f", {done} on {values.date}" if values.date else ""
    head = [
        f"Card '{values.name}', design {design.name} ({design.title})",
        f"Values {values.grade}{read}; from {values.source}",
        *([f"Of print {listed([*map(spoken, values.numbers)])}"] if values.numbers else []),
        f"For {values.illuminant}/{values.observer}°; "
        f"one value is good to {values.uncertainty:.2g} CIEDE2000 (one standard deviation)",
        *map(TERMINAL.flag, values.flags),
        "",
        f"{'patch':<8}{'sent (sRGB)':<16}{'L':>8}{'a':>8}{'b':>8}",
    ]
    rows = [f"{name:<8}{_sent(sent.get(name)):<16}{_columns(lab)}" for name, lab in values.lab.items()]
    return "\n".join(head + rows)


def _sent(codes: tuple[int, int, int] | None) -> str:
    return " ".join(map(str, codes)) if codes else "bare stock"


def _columns(lab: tuple[float, float, float]) -> str:
    # Adding zero turns -0.00 into 0.00.
    return "".join(f"{round(value, 2) + 0:8.2f}" for value in lab)
