"""`swatchcam card`: print a card, see what it holds, import readings of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from ..cards.validation import ILLUMINANTS
from ..errors import UsageError
from ..messages.surface import TERMINAL
from ..report.said import flag_dicts
from .groups import LazyGroup, json_option
from .options import DEGREES, reading_options
from .output import tell

if TYPE_CHECKING:
    from ..cards.design import CardDesign
    from ..cards.values import CardValues
    from ..report.json_types import CardJson


COMMANDS = {"print": "swatchcam.cli.card_print:print_card"}


@click.group(cls=LazyGroup, lazy=COMMANDS)
def card() -> None:
    """Print a card, list its colours, import readings of it, learn the colours of a new print.

    \b
    Example:
      swatchcam card show
    """


@card.command()
@click.argument("card_name", metavar="[CARD]", required=False)
@click.option(
    "--design", default="a5", show_default=True, metavar="NAME", help="Without CARD: the size of card to show."
)
@click.option(
    "--illuminant", type=click.Choice(ILLUMINANTS), default="D65", show_default=True, help="Light the colours are for."
)
@click.option(
    "--observer", type=click.Choice(DEGREES), default="10", show_default=True, help="Standard observer, degrees."
)
@json_option
def show(card_name: str | None, design: str, illuminant: str, observer: str, as_json: bool) -> None:
    """List the patches of a card, as sent and as measured.

    CARD is the name of a card whose readings you imported, or a values file. Without it, the colours are those
    that a measurement would use now.

    \b
    Examples:
      swatchcam card show
      swatchcam card show studio-7
    """
    from ..cards.choice import choose_values
    from ..cards.values import load_values
    from ..cards.values_folder import NOMINAL

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
    help="Name for this printed card, for example the number written on it.",
)
@click.option("--design", default="a5", show_default=True, metavar="NAME", help="Size of the card that was read.")
@reading_options
@click.option("--average", is_flag=True, help="Average several readings of the same patch.")
@click.option("--replace", is_flag=True, help="Replace a card of this name; its old values are kept.")
@json_option
def import_readings(
    file: str,
    card_name: str,
    design: str,
    illuminant: str | None,
    observer: str | None,
    as_json: bool,
    **settings: Any,
) -> None:
    """Import a spectrophotometer's readings of a card.

    FILE is what the instrument's software exports: a CSV table, or CGATS text (ISO 28178), with spectra, L a b or
    X Y Z. Name the patches as on the card's map, and the bare white stock 'paper'. A print shop or a college can
    read a card in a quarter of an hour.

    \b
    Examples:
      swatchcam card import readings.csv --card-name studio-7 --geometry 45/0 --date 2026-01-31
      swatchcam card import readings.txt --card-name studio-7 --average
    """
    from ..cards.instrument_import import import_values, read_readings

    found = find_design(design)
    readings = read_readings(file)
    result = import_values(
        readings,
        found,
        name=card_name,
        illuminant=illuminant,
        observer=int(observer) if observer else None,
        **settings,
    )
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

    values = learn_card(new_name, photos, card, other_light=other_light, measured=measured, overwrite=overwrite)
    lines = [
        f"Learned {len(values.lab)} colours for card '{values.name}' (design {values.design}).",
        f"One value is good to {values.uncertainty:.2g} CIEDE2000 (one standard deviation).",
        f"They are for {values.illuminant}/{values.observer}° and are saved in {values.path}.",
        *map(TERMINAL.flag, values.flags),
    ]
    tell(as_dict(find_design(values.design), values), lambda _: "\n".join(lines), as_json)


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
    read = f", read on {values.date}" if values.date else ""
    head = [
        f"Card '{values.name}', design {design.name} ({design.title})",
        f"Values {values.grade}{read}; from {values.source}",
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
