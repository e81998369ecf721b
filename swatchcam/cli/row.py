"""`swatchcam row`: lay out a row of own pigments, say what it measures, look at it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..messages.message import Flag
from ..report.said import flag_dicts, flag_lines
from .card_print import check_both_free, write_file
from .groups import LazyGroup, json_option
from .options import reading_options
from .output import tell
from .written import output_options

if TYPE_CHECKING:
    from ..measurement.pigment_row import Places
    from ..report.json_types import RowJson, RowPrintJson
    from ..report.json_types.cards import PlaceOnRowJson


@click.group(cls=LazyGroup)
def row() -> None:
    """Your own pigments: strips of known colour that teach the tool what your inks are like.

    \b
    Example:
      swatchcam row print halm yellow red blue black
    """


@row.command("print")
@click.argument("name")
@click.argument("pigments", metavar="PIGMENT...", nargs=-1, required=True)
@click.option("--design", default="a5", show_default=True, metavar="NAME", help="Size of the card the row lies below.")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper in the printer."
)
@output_options(
    "FILE.pdf",
    "swatchcam-row-NAME.pdf; its PNG goes beside it",
    replacing="Replace a row and files of this name; the old row is kept.",
)
@click.option("--png/--no-png", default=True, show_default=True, help="Draw the sheet as a PNG too.")
@json_option
def print_row(
    name: str,
    pigments: tuple[str, ...],
    design: str,
    paper: str,
    output: Path | None,
    png: bool,
    replace: bool,
    as_json: bool,
) -> None:
    """Give each PIGMENT a place below the card, and draw a sheet to lay them on.

    One strip of each, 18 mm square. Write a pigment twice for two places: a weak and a strong load.

    \b
    Examples:
      swatchcam row print halm yellow red blue black
      swatchcam row print halm yellow yellow red red blue blue black
    """
    from ..cards.print_sheet import sheet_png
    from ..measurement.pigment_row_sheet import lay_row, row_sheet, summary, write_places
    from .card import find_design

    found = find_design(design)
    places = lay_row(name, pigments, found)
    pdf_path = output or Path(f"swatchcam-row-{name}.pdf")
    png_path = pdf_path.with_suffix(".png") if png else None
    check_both_free(pdf_path, png_path, replace)
    pdf = row_sheet(places, found, paper)
    path = write_places(places, replace)
    write_file(pdf_path, pdf)
    if png_path:
        write_file(png_path, sheet_png(pdf, 150))
    facts: RowPrintJson = {
        "row": places.name,
        "card": places.card,
        "places": places_list(places),
        "path": str(path),
        "pdf": str(pdf_path),
        "png": str(png_path) if png_path else None,
    }
    lines = [
        f"Row '{name}' of {len(places.windows)} strips, below card {places.card}:",
        *(f"  {line}" for line in summary(places)),
        "",
        "What to do next:",
        f"  1. Print {pdf_path} at 100 %; the bar must be 100 mm long.",
        "  2. Lay each strip on the square of its name, and the card on the long line.",
        f"  3. Have them read: swatchcam row import {name} readings.csv",
        f"     or learn them beside a measured card: swatchcam row learn {name} window.jpg --other-light lamp.jpg",
        "",
        f"The row's places are saved in {path}.",
    ]
    tell(facts, lambda _: "\n".join(lines), as_json)


@row.command("import")
@click.argument("name")
@click.argument("file", type=click.Path())
@reading_options
@click.option("--replace", is_flag=True, help="Replace the row's values; the old ones are kept.")
@json_option
def import_readings(
    name: str, file: str, illuminant: str | None, observer: str | None, as_json: bool, **settings: Any
) -> None:
    """Import a spectrophotometer's readings of the row NAME.

    FILE is what the instrument's software exports: a CSV table, or CGATS text (ISO 28178). Name the rows like the
    row's places; several readings of one place are averaged. Spectra are worth far more here than Lab values.

    \b
    Example:
      swatchcam row import halm readings.csv --geometry 45/0 --date 2026-01-31
    """
    from ..cards.instrument_readings import read_readings
    from ..measurement.pigment_row import load_places
    from ..measurement.pigment_row_values import take_over

    places = load_places(name)
    degrees = int(observer) if observer else None
    take_over(places, read_readings(file, illuminant, degrees), illuminant=illuminant, observer=degrees, **settings)
    _tell(name, as_json)


@row.command()
@click.argument("name")
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--other-light",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="PHOTO",
    help="A photo of the same scene under another light; you may repeat it.",
)
@click.option("--card", metavar="NAME", help="The measured card's values: a name or a file. [default: the only ones]")
@click.option("--replace", is_flag=True, help="Replace the row's values; the old ones are kept.")
@json_option
def learn(
    name: str, photos: tuple[Path, ...], other_light: tuple[Path, ...], card: str | None, replace: bool, as_json: bool
) -> None:
    """Learn what the strips of the row NAME measure, from photos of it beside a measured card.

    Several photos, and photos under a second light, make it surer.

    \b
    Example:
      swatchcam row learn halm window.jpg --other-light bulb.jpg --card studio-7
    """
    from ..measurement.pigment_row import load_places
    from ..measurement.pigment_row_values import learn as learn_row

    learned = learn_row(
        load_places(name), [str(path) for path in photos], card, [str(path) for path in other_light], replace
    )
    _tell(name, as_json, learned.flags)


@row.command()
@click.argument("name")
@json_option
def show(name: str, as_json: bool) -> None:
    """List the places of the row NAME, and what its strips measure if that is known.

    \b
    Example:
      swatchcam row show halm
    """
    _tell(name, as_json)


def _tell(name: str, as_json: bool, flags: tuple[Flag, ...] = ()) -> None:
    from ..measurement.pigment_row import has_values, load_places, load_row

    places = load_places(name)
    facts: RowJson = {
        "row": places.name,
        "card": places.card,
        "places": [{**place} for place in places_list(places)],
        "grade": None,
        "uncertainty": None,
        "flags": flag_dicts(flags),
    }
    if has_values(name):
        known = load_row(name)
        facts["grade"] = known.grade
        facts["uncertainty"] = {"value": known.uncertainty, "unit": "CIEDE2000"}
        for place in facts["places"]:
            lab = known.lab(place["name"], "D65", 10)
            place["lab"] = [round(float(value), 2) for value in lab]
    tell(facts, as_text, as_json)


def places_list(places: Places) -> list[PlaceOnRowJson]:
    """A row's places, for programs: millimetres from the card's top-left corner."""
    return [
        {"name": window.name, "x": window.box.x, "y": window.box.y, "w": window.box.w, "h": window.box.h}
        for window in places.windows
    ]


def as_text(facts: RowJson) -> str:
    """The same for a person."""
    doubt = facts["uncertainty"]
    known = f"{facts['grade']}, good to {doubt['value']:.2g} CIEDE2000 (one standard deviation)" if doubt else "unknown"
    head = [
        f"Row '{facts['row']}' below card {facts['card']}; its colours are {known}",
        *flag_lines(facts["flags"], ""),
        "",
        f"{'strip':<16}{'x mm':>8}{'y mm':>8}" + (f"{'L*':>8}{'a*':>8}{'b*':>8}" if doubt else ""),
    ]
    rows = [
        f"{place['name']:<16}{place['x']:8.1f}{place['y']:8.1f}" + "".join(f"{v:8.2f}" for v in place.get("lab", ()))
        for place in facts["places"]
    ]
    return "\n".join(head + rows)
