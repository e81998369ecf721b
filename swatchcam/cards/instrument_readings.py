"""A spectrophotometer's file as readings: names and colours, and what it says of light, geometry, gloss and day."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

from ..messages.message import Message
from .instrument_columns import Row, colour_columns, is_header, light_said, numbers_of, patch_names, pick, scaled
from .instrument_table import Table, read_table
from .reading_settings import GLOSS, Settings
from .validation import CONDITIONS, ILLUMINANTS, check_wavelengths, is_date

BETWEEN = r"[\s\"',;:=]+"
# In English, German, French, Spanish, Italian, Dutch and Portuguese, as far as the words differ.
LIGHT = r"(?:illumina(?:nt|tion)e?|iluminante|(?:norm)?lichtart|lichtsoort)"
OBSERVER = r"(?:observer(?: angle)?|(?:normal)?beobachter|observateur|observador|osservatore|waarnemer)"
GEOMETRY = r"(?:(?:mess)?geometr(?:y|ie|ia|ía)|géométrie|meetgeometrie)"
DAY = r"(?:created|date|measured|datum|gemessen|fecha|data)"
NOTES = {
    "illuminant": rf"(?i:{LIGHT})\w*{BETWEEN}({'|'.join(ILLUMINANTS)})\b",
    "observer": rf"(?i:{OBSERVER})\w*{BETWEEN}(2|10)(?![\d.])",
    "geometry": rf"(?i:{GEOMETRY}){BETWEEN}([^\";,\t]*[^\";,\s])",
    "date": rf"(?i:{DAY}){BETWEEN}(\d{{4}}-\d\d-\d\d)",
    "instrument": r"(?i:instrumentation|instrument)[\s\",;:=]+([^\"\t;]*[^\"\s;])",
    "condition": rf"(?i:condition|filter|mode|13655).*?\b({'|'.join(CONDITIONS)})\b",
    "specular": r"(?i:specular)\w*[\w\s\"',;:=]*?[\W_]((?i:included|excluded))\b|\b(SCI|SCE)\b",
}


@dataclass(frozen=True)
class Readings:
    """One row per reading, in file order; names may repeat. What the file does not say is empty or 0."""

    path: str
    kind: str  # "CSV" or "CGATS"
    names: tuple[str, ...]
    lab: tuple[Row, ...]  # empty, or one CIELAB for each name
    xyz: tuple[Row, ...]  # empty, or one XYZ for each name, Y = 100 for the perfect diffuser
    wavelengths: Row  # nm
    spectra: tuple[Row, ...]  # empty, or one row of reflectance factors for each name
    illuminant: str
    observer: int
    geometry: str
    condition: str  # M0 to M3 of ISO 13655
    specular: str  # included or excluded
    date: str
    instrument: str
    unreadable: tuple[str, ...]  # patches with an entry that is not a number
    problems: tuple[Message, ...]  # one for each thing that is wrong

    @property
    def said(self) -> Settings:
        """What the file says of how it was read."""
        return {
            "illuminant": self.illuminant,
            "observer": self.observer or None,
            "geometry": self.geometry,
            "date": self.date,
            "source": f"{self.instrument or 'instrument'}, {Path(self.path).name}",
            "condition": self.condition,
            "specular": self.specular,
        }


def read_readings(path: str | Path, illuminant: str | None = None, observer: int | None = None) -> Readings:
    """Read what an instrument's software exported: CSV (any separator) or CGATS.17 text.

    Parameters
    ----------
    illuminant, observer : which columns are wanted, where there are some for several lights

    Raises
    ------
    CardError
        There is no table, or it cannot be told what its columns mean. Entries that are wrong one by one are
        told by `Readings.problems`, so that they can be told together with what is missing.
    """
    table = read_table(Path(path), is_header)
    names = patch_names(table, str(path))
    columns = colour_columns(table, str(path), (illuminant or "", str(observer or "")))
    numbers, problems = numbers_of(table, columns, str(path))
    good = [i for i, row in enumerate(numbers) if all(map(math.isfinite, row))]
    values = {key: pick(numbers, columns, key, good) for key in ("Lab", "XYZ", "nm")}
    wavelengths = tuple(nm for key, nm, _ in columns if key == "nm")
    notes = said_of(table)
    lamp, angle = light_said(table, columns, str(path))
    return Readings(
        path=str(path),
        kind=table.kind,
        names=tuple(names[i] for i in good),
        lab=values["Lab"],
        xyz=scaled(values["XYZ"], 1, 100.0, str(path), "XYZ"),
        wavelengths=wavelengths,
        spectra=scaled(values["nm"], None, 1.0, str(path), "reflectance"),
        illuminant=lamp or notes["illuminant"],
        observer=int(angle or notes["observer"] or 0),
        geometry=notes["geometry"],
        condition=notes["condition"],
        specular=GLOSS.get(notes["specular"].lower(), ""),
        date=notes["date"],
        instrument=notes["instrument"],
        unreadable=tuple(name for i, name in enumerate(names) if i not in good),
        problems=(*problems, *(check_wavelengths(wavelengths) if wavelengths else [])),
    )


def said_of(table: Table) -> dict[str, str]:
    """What the lines outside the table say of the light, the instrument and the day; empty where silent."""
    said = {}
    for key, pattern in NOTES.items():
        matches = [match for line in table.notes for match in re.finditer(pattern, line, re.ASCII)]
        hits = {next(filter(None, match.groups())) for match in matches}
        said[key] = hits.pop() if len(hits) == 1 else ""
    said["date"] = said["date"] if is_date(said["date"]) else ""
    return said
