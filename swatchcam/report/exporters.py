"""Shades, batches and records -> files for other programs: CSV and CGATS.17 text (ISO 28178).

A spreadsheet takes a cell that begins with =, +, - or @ for a formula and runs it. Text that begins so gets an
apostrophe before it in these files, which spreadsheets take for "this is text"; numbers stay numbers.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence

from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.spectra import tables
from ..errors import UsageError
from ..library.labels import in_order, recipe_words, record_label
from ..library.records import Batch, Record, Shade, light_of
from ..measurement.stored_colour import DIGITS
from ..messages.surface import TERMINAL
from ..text import tidy

FORMULA_SIGNS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")  # the wide ones are taken alike in East Asian settings
CAMERA = "phone camera, strip beside a printed reference card"

Cell = str | int | float | None
# A record with its shade and batch -> what stands in the column; the names carry the units.
ExportColumn = Callable[[Record, Shade | None, Batch | None], Cell]
COLUMNS: dict[str, ExportColumn] = {
    "record": lambda record, shade, batch: record.number,
    "sample_name": lambda record, shade, batch: record_label(record),
    "shade": lambda record, shade, batch: record.shade,
    "batch": lambda record, shade, batch: record.batch,
    "mark": lambda record, shade, batch: record.mark,
    "state": lambda record, shade, batch: record.state.name,
    "washes": lambda record, shade, batch: record.state.washes,
    "treatment": lambda record, shade, batch: record.state.how,
    "measured_date": lambda record, shade, batch: record.measured,
    "mixed_date": lambda record, shade, batch: batch.mixed if batch else "",
    "illuminant": lambda record, shade, batch: record.colour.illuminant,
    "observer_deg": lambda record, shade, batch: record.colour.observer,
    "Lab_L": lambda record, shade, batch: record.colour.lab[0],
    "Lab_a": lambda record, shade, batch: record.colour.lab[1],
    "Lab_b": lambda record, shade, batch: record.colour.lab[2],
    "standard_uncertainty_L": lambda record, shade, batch: float(record.colour.covariance[0, 0]) ** 0.5,
    "standard_uncertainty_a": lambda record, shade, batch: float(record.colour.covariance[1, 1]) ** 0.5,
    "standard_uncertainty_b": lambda record, shade, batch: float(record.colour.covariance[2, 2]) ** 0.5,
    "interval95_ciede2000": lambda record, shade, batch: record.colour.radius,
    "absolute": lambda record, shade, batch: "yes" if record.colour.absolute else "no",
    "target_L": lambda record, shade, batch: _target(shade, 0),
    "target_a": lambda record, shade, batch: _target(shade, 1),
    "target_b": lambda record, shade, batch: _target(shade, 2),
    "target_state": lambda record, shade, batch: str(shade.target_state or "") if shade else "",
    "to_target_ciede2000": lambda record, shade, batch: _to_target(record, shade),
    "tolerance_ciede2000": lambda record, shade, batch: shade.tolerance if shade else None,
    "ink": lambda record, shade, batch: batch.ink if batch else "",
    "recipe": lambda record, shade, batch: recipe_words(batch.recipe) if batch and batch.recipe else "",
    "cloth": lambda record, shade, batch: record.cloth,
    "mesh": lambda record, shade, batch: record.mesh,
    "squeegee": lambda record, shade, batch: record.squeegee,
    "coat_g_m2": lambda record, shade, batch: record.coat.g_m2 if record.coat else None,
    "coat_relative_uncertainty": lambda record, shade, batch: record.coat.std if record.coat else None,
    "let_down": lambda record, shade, batch: record.let_down,
    "staining_grade": lambda record, shade, batch: record.staining.grade if record.staining else "",
    "staining_dE_GS": lambda record, shade, batch: record.staining.difference if record.staining else None,
    "staining_interval95_low": lambda record, shade, batch: record.staining.low if record.staining else None,
    "staining_interval95_high": lambda record, shade, batch: record.staining.high if record.staining else None,
    "card": lambda record, shade, batch: record.card,
    "card_grade": lambda record, shade, batch: record.grade,
    "phone": lambda record, shade, batch: record.phone,
    "light": lambda record, shade, batch: record.light,
    "photos": lambda record, shade, batch: "; ".join(photo.name for photo in record.photos),
    "flags": lambda record, shade, batch: "; ".join(map(TERMINAL.flag, record.flags)),
    "notes": lambda record, shade, batch: record.notes,
}
LAB_COLUMNS = ("LAB_L", "LAB_A", "LAB_B")


def library_csv(shades: Iterable[Shade], batches: Iterable[Batch], records: Iterable[Record]) -> str:
    """One row for each record, by date; commas, quotes and line ends as RFC 4180 has them.

    Text is tidied to one line, and defused where it begins like a formula. No spectra: they are in JSON and CGATS.
    """
    by_name, by_batch = _by_name(shades), _by_batch(batches)
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for record in in_order(records):
        shade, batch = by_name.get(record.shade), by_batch.get((record.shade, record.batch))
        writer.writerow([_cell(column(record, shade, batch)) for column in COLUMNS.values()])
    return file.getvalue()


def library_cgats(records: Iterable[Record], created: str, originator: str = "swatchcam") -> str:
    """The colours as CGATS.17 text, with spectra if every record has one.

    The standard's own words are ASCII; names are written in UTF-8.

    Parameters
    ----------
    created : ISO date

    Raises
    ------
    UsageError
        The records are for different lights: the format has one for all.

    Source
    ------
    ISO 28178; its keywords from memory.
    """
    rows = in_order(records)
    lights = sorted({light_of(record) for record in rows})
    if len(lights) > 1:
        raise UsageError("records-of-several-lights", "export-each-light")
    grid = [f"{nm:g}" for nm in tables().wavelengths]
    spectral = bool(rows) and all(len(record.colour.reflectance) == len(grid) for record in rows)
    columns = ["SAMPLE_ID", "SAMPLE_NAME", *LAB_COLUMNS, *(f"SPECTRAL_NM{nm}" for nm in grid if spectral)]
    lines = [
        *_cgats_header(created, originator, lights[0] if lights else None, spectral),
        f"NUMBER_OF_FIELDS {len(columns)}",
        "BEGIN_DATA_FORMAT",
        "\t".join(columns),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(rows)}",
        "BEGIN_DATA",
        *("\t".join(_cgats_row(record, spectral)) for record in rows),
        "END_DATA",
    ]
    return "\r\n".join(lines) + "\r\n"


def defused(text: str) -> str:
    """Text on one line that no spreadsheet takes for a formula."""
    line = tidy(text)
    return f"'{line}" if line.startswith(FORMULA_SIGNS) else line


def _by_name(shades: Iterable[Shade]) -> dict[str, Shade]:
    return {shade.name: shade for shade in shades}


def _by_batch(batches: Iterable[Batch]) -> dict[tuple[str, str], Batch]:
    return {(batch.shade, batch.name): batch for batch in batches}


def _target(shade: Shade | None, place: int) -> float | None:
    return shade.target[place] if shade and shade.target else None


def _to_target(record: Record, shade: Shade | None) -> float | None:
    """Nothing for a nominal card: its numbers say how far two strips are apart, not how far from a target.

    Nor for a let-down strip or one in another state than the target's: the target is not for these.
    """
    if shade is None or shade.target is None or not record.colour.absolute or record.let_down:
        return None
    if shade.target_state and not shade.target_state.like(record.state):
        return None
    return float(delta_e_2000(record.colour.lab, shade.target))


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    return _number(value) if isinstance(value, float) else defused(str(value))


def _number(value: float) -> str:
    return f"{round(value, DIGITS) + 0.0:.{DIGITS}f}"


def _cgats_header(created: str, originator: str, light: tuple[str, int] | None, spectral: bool) -> list[str]:
    likeliest = ". Spectra are the likeliest behind what a phone saw, not an instrument's" if spectral else ""
    lines = [
        "CGATS.17",
        f"ORIGINATOR {_quoted(originator)}",
        f"DESCRIPTOR {_quoted(f'Strips of screen-printing ink{likeliest}')}",
        f"CREATED {_quoted(created)}",
        f"INSTRUMENTATION {_quoted(CAMERA)}",
    ]
    if light is not None:
        lines += [f'WEIGHTING_FUNCTION "ILLUMINANT, {light[0]}"', f'WEIGHTING_FUNCTION "OBSERVER, {light[1]} degree"']
    return lines


def _cgats_row(record: Record, spectral: bool) -> list[str]:
    numbers: Sequence[float] = (*record.colour.lab, *(record.colour.reflectance if spectral else ()))
    return [str(record.number), _quoted(record_label(record)), *map(_number, numbers)]


def _quoted(text: str) -> str:
    return '"' + defused(text).replace('"', '""') + '"'
