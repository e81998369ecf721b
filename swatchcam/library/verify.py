"""Whether all of the library is still what it was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from sqlalchemy import inspect, select

from ..colorimetry.colour_difference import delta_e_2000
from ..errors import LibraryError, SwatchcamError
from ..measurement.measure import measure
from . import schema
from .backup import Count
from .library import Library
from .records import Record
from .row_mapping import proposal_of, proposals_kept, rows_of

STEADY = 0.05  # CIEDE2000; a colour that is measured anew from the same file moves less unless the program changed


@dataclass(frozen=True)
class Finding:
    """Something that is not as it was."""

    what: str
    words: str
    harmless: bool = False


def verify(
    library: Library, again: bool = False, progress: Callable[[int, int], None] = lambda _done, _all: None
) -> tuple[Count, list[Finding]]:
    """Read every photo, every record and every proposal anew; `again` also measures each record anew from its photos.

    Returns
    -------
    how much was looked at, and what is not as it was
    """
    findings = _database(library) + _proposals(library)
    records = library.records()
    digests = sorted(_all_digests(library))  # those of records that were taken out too: they may be restored
    steps = len(digests) + (len(records) if again else 0)
    for done, digest in enumerate(digests):
        progress(done, steps)
        findings += _photo(library, digest)
    strangers = set(library.photos.digests()) - set(digests)
    if strangers:
        words = f"{len(strangers)} photos belong to no record: harmless, left by a run that was cut off"
        findings.append(Finding("photos", words, harmless=True))
    for done, record in enumerate(records if again else (), start=len(digests)):
        progress(done, steps)
        findings += _again(library, record)
    progress(steps, steps)
    return Count(len(records), len(digests)), findings


def _database(library: Library) -> list[Finding]:
    with library.reading() as connection:
        if connection.dialect.name != "sqlite":
            missing = {table.name for table in schema.tables.sorted_tables} - set(inspect(connection).get_table_names())
            return [Finding("database", f"table {name} is missing") for name in sorted(missing)]
        said = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    found = [Finding("database", line) for line in said if line != "ok"]
    return found + [Finding("database", f"a row of {row[0]} refers to nothing") for row in loose]


def _proposals(library: Library) -> list[Finding]:
    """Those that were taken out too: they may be restored."""
    with library.reading() as connection:
        rows = rows_of(connection, proposals_kept())
    findings = []
    for row in rows:
        try:
            proposal_of(row)
        except LibraryError as error:
            findings.append(Finding(f"proposal {row.id}", error.problem))
    return findings


def _all_digests(library: Library) -> set[str]:
    with library.reading() as connection:
        return set(connection.execute(select(schema.photo.c.digest)).scalars())


def _photo(library: Library, digest: str) -> list[Finding]:
    try:
        library.photos.check(digest)
    except LibraryError as error:
        numbers = ", ".join(str(record.number) for record in library.records(digest=digest))
        whose = f"record {numbers}" if numbers else "a record that was taken out"
        return [Finding(f"photo {digest[:12]} of {whose}", str(error))]
    return []


def _again(library: Library, record: Record) -> list[Finding]:
    """Measure a record's photos as they were measured then."""
    settings, photos = library.settings(record.number), record.photos
    try:
        first, *more = [(str(library.photos.path(photo.digest)), photo.light) for photo in photos]
        found = measure(
            first[0],
            settings["card"],
            illuminant=record.colour.illuminant,
            observer=record.colour.observer,
            beside=settings["beside"],
            again=[path for path, light in more if light == 1],
            other_light=[path for path, light in more if light == 2],
            row=settings["strip"],
        ).colour(record.colour.name)
    except SwatchcamError as error:
        return [Finding(f"record {record.number}", f"could not be measured again: {error}")]
    moved = float(delta_e_2000(np.array(found.lab), np.array(record.colour.lab)))
    if moved <= STEADY:
        return []
    words = f"measured again it is {moved:.2f} CIEDE2000 away (it was good to {record.colour.radius:.2f})"
    return [Finding(f"record {record.number}", words)]
