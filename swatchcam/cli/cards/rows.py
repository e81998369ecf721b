"""Pigment rows by the commands of `swatchcam card`: laid out, read, learned, shown."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...messages.message import Flag
from ...report.said import flag_dicts, flag_lines
from ...text import typed
from ..output import tell
from ..written import check_both_free, write_file

if TYPE_CHECKING:
    from ...cards.design import CardDesign
    from ...measurement.pigment_row import Places
    from ...report.json_types import RowJson, RowPrintJson
    from ...report.json_types.cards import PlaceOnRowJson


def print_row(
    name: str,
    pigments: Sequence[str],
    design: CardDesign,
    paper: str,
    output: Path | None,
    dpi: int | None,
    replace: bool,
    as_json: bool,
) -> None:
    """Give each pigment a place below the card, and draw a sheet to lay them on; a PNG of it where `dpi` is given."""
    from ...cards.print_sheet import sheet_png
    from ...measurement.pigment_row_sheet import lay_row, row_sheet, summary, write_places

    places = lay_row(name, pigments, design)
    pdf_path = output or Path(f"swatchcam-row-{name}.pdf")
    png_path = pdf_path.with_suffix(".png") if dpi else None
    check_both_free(pdf_path, png_path, replace)
    pdf = row_sheet(places, design, paper)
    path = write_places(places, replace)
    write_file(pdf_path, pdf)
    if png_path and dpi:
        write_file(png_path, sheet_png(pdf, dpi))
    facts: RowPrintJson = {
        "row": places.name,
        "card": places.card,
        "places": places_list(places),
        "path": str(path),
        "pdf": str(pdf_path),
        "png": str(png_path) if png_path else None,
    }
    said = typed(name)
    lines = [
        f"Row '{name}' of {len(places.windows)} strips, below card {places.card}:",
        *(f"  {line}" for line in summary(places)),
        "",
        "What to do next:",
        f"  1. Print {pdf_path} at 100 %; the bar must be 100 mm long.",
        "  2. Lay each strip on the square of its name, and the card on the long line.",
        f"  3. Have them read: swatchcam card import readings.csv --card-name {said}",
        f"     or learn them beside a measured card: swatchcam card learn {said} window.jpg --other-light lamp.jpg",
        "",
        f"The row's places are saved in {path}.",
    ]
    tell(facts, lambda _: "\n".join(lines), as_json)


def import_row(name: str, file: str, as_json: bool, **settings: Any) -> None:
    """A spectrophotometer's readings become the values of a row."""
    from ...cards.instrument_readings import read_readings
    from ...measurement.pigment_row import load_places
    from ...measurement.pigment_row_values import take_over

    places = load_places(name)
    take_over(places, read_readings(file, settings["illuminant"], settings["observer"]), **settings)
    show_row(name, as_json)


def learn_row(
    name: str, photos: Sequence[str], card: str | None, other_light: Sequence[str], replace: bool, as_json: bool
) -> None:
    """What the strips of a row measure is learned from photos of it beside a measured card."""
    from ...measurement.pigment_row import load_places
    from ...measurement.pigment_row_values import learn

    learned = learn(load_places(name), photos, card, other_light, replace)
    show_row(name, as_json, learned.flags)


def show_row(name: str, as_json: bool, flags: tuple[Flag, ...] = ()) -> None:
    """The places of a row, and what its strips measure if that is known."""
    from ...measurement.pigment_row import has_values, load_places, load_row

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
    tell(facts, row_text, as_json)


def places_list(places: Places) -> list[PlaceOnRowJson]:
    """A row's places, for programs: millimetres from the card's top-left corner."""
    return [
        {"name": window.name, "x": window.box.x, "y": window.box.y, "w": window.box.w, "h": window.box.h}
        for window in places.windows
    ]


def row_text(facts: RowJson) -> str:
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
