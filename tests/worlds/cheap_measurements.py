"""Cheap measurements for the tests of the library: one drawn photo is measured once, and varied ever after."""

from __future__ import annotations

import hashlib
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from sqlalchemy import select

from swatchcam.library import schema
from swatchcam.library.library import Library
from swatchcam.library.proposals import Proposal
from swatchcam.library.records import Record
from swatchcam.library.save import Entry, keep_record
from swatchcam.measurement.measure import Measurement, measure
from swatchcam.measurement.stored_colour import errors_as_text
from tests.paths import HOME
from tests.worlds.studio_records import RECIPE, kept

SAMPLE = HOME / "sample_images" / "before_heat.jpg"  # drawn
CARD = "sample-card"


@cache
def sample() -> Measurement:
    """The drawn photo, measured; what the library does not ask for is left out, so that it travels to a process."""
    found = measure(str(SAMPLE), CARD)
    looks = tuple(replace(look, photo=replace(look.photo, pixels=look.photo.pixels[:1, :1])) for look in found.looks)
    pose: Any = SimpleNamespace(design=found.pose.design)
    return replace(found, looks=tuple(replace(look, card=None, pose=pose, light=None) for look in looks))


def measurement(folder: Path, number: int = 1, lab: tuple[float, float, float] | None = None) -> Measurement:
    """A measurement of a photo of its own, `photo NUMBER.jpg` in `folder`, of a few bytes."""
    path = folder / f"photo {number}.jpg"
    folder.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        path.write_bytes(f"drawn {number}".encode())
    return of_file(path, lab)


def of_file(path: Path, lab: tuple[float, float, float] | None = None) -> Measurement:
    """As if that file had been measured."""
    first = sample().looks[0]
    photo = replace(first.photo, path=str(path), digest=hashlib.sha256(path.read_bytes()).hexdigest())
    colours = tuple(
        replace(colour, lab=lab or colour.lab, views=tuple(replace(view, photo=photo.digest) for view in colour.views))
        for colour in sample().colours
    )
    return replace(sample(), looks=(replace(first, photo=photo),), colours=colours)


def put(library: Library, folder: Path, number: int = 1, shade: str = "Brick", **said: object) -> Record:
    """Keep photo NUMBER under a shade."""
    return keep_record(library, measurement(folder, number), "left", Entry(shade, **said))  # type: ignore[arg-type]


def proposal(**said: object) -> Proposal:
    """A first recipe for Brick, as a search might propose it."""
    colour = kept()
    usual = {
        "kind": "recipe",
        "shade": "Brick",
        "recipe": RECIPE,
        "lab": colour.lab,
        "covariance": ((0.5, 0.1, 0.0), (0.1, 1.0, 0.2), (0.0, 0.2, 1 / 3)),
        "radius": colour.radius,
        "reflectance": colour.reflectance,
    }
    return Proposal(**(usual | said))  # type: ignore[arg-type]


def facts(record: Record) -> dict[str, object]:
    """A record as values that compare: its error holds arrays."""
    seen = {field.name: getattr(record, field.name) for field in fields(record)}
    colour = record.colour
    return seen | {"colour": (colour.name, colour.lab, colour.radius, colour.absolute, errors_as_text(colour))}


def tables(library: Library) -> dict[str, list[dict[str, object]]]:
    """Every row of every table."""
    with library.reading() as connection:
        return {
            table.name: [
                dict(row._mapping) for row in connection.execute(select(table).order_by(*table.primary_key.columns))
            ]
            for table in schema.tables.sorted_tables
        }


def files(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Every file below a folder: its bytes and when it was changed."""
    found = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(folder)): (path.read_bytes(), path.stat().st_mtime_ns) for path in found}
