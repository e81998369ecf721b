"""Whether all of the library is still what it was."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from sqlalchemy import inspect, select

from ..cards.values_folder import NOMINAL
from ..colorimetry.colour_difference import delta_e_2000
from ..errors import LibraryError, SwatchcamError
from ..measurement.measure import measure
from ..messages.message import Message, finding
from . import schema
from .backup import Count
from .card_files import faulty_cards
from .library import Library
from .records import Record
from .row_mapping import proposal_of, proposals_kept, rows_of
from .shelf.ledger import holdings
from .shelf.pre_mixes import pre_mixes
from .shelf.studio import studio_of

STEADY = 0.05  # CIEDE2000; a colour that is measured again from the same file moves less unless the program changed


@dataclass(frozen=True)
class Finding:
    """Something that is not as it was."""

    what: Message
    harmless: bool = False


def verify(
    library: Library, again: bool = False, progress: Callable[[int, int], None] = lambda _done, _all: None
) -> tuple[Count, list[Finding]]:
    """Read every photo, record and proposal again; `again` also measures each record again from its photos.

    Returns
    -------
    how much was looked at, and what is not as it was
    """
    findings = _database(library) + _proposals(library) + _shelf(library)
    records = library.records()
    digests = sorted(_all_digests(library))  # those of removed records too: their removal may be undone
    steps = len(digests) + (len(records) if again else 0)
    for done, digest in enumerate(digests):
        progress(done, steps)
        findings += _photo(library, digest)
    strangers = set(library.photos.digests()) - set(digests)
    if strangers:
        findings.append(Finding(finding("photos-of-no-record", count=len(strangers)), harmless=True))
    for done, record in enumerate(records if again else (), start=len(digests)):
        progress(done, steps)
        findings += _again(library, record)
    progress(steps, steps)
    cards, faults = faulty_cards()
    return Count(len(records), len(digests), cards), findings + [Finding(fault) for fault in faults]


def _database(library: Library) -> list[Finding]:
    with library.reading() as connection:
        if connection.dialect.name != "sqlite":
            missing = {table.name for table in schema.tables.sorted_tables} - set(inspect(connection).get_table_names())
            return [Finding(finding("table-missing", table=name)) for name in sorted(missing)]
        said = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    found = [Finding(finding("database-damaged", said=line)) for line in said if line != "ok"]
    return found + [Finding(finding("row-refers-to-nothing", table=row[0])) for row in loose]


def _proposals(library: Library) -> list[Finding]:
    """Those that were removed too: that may be undone."""
    with library.reading() as connection:
        rows = rows_of(connection, proposals_kept())
    findings = []
    for row in rows:
        try:
            proposal_of(row)
        except LibraryError as error:
            findings.append(Finding(Message(error.code, error.facts)))
    return findings


def _shelf(library: Library) -> list[Finding]:
    """What the studio has, and what is left of it."""
    findings = []
    for read in (studio_of, pre_mixes, holdings):
        try:
            read(library)
        except LibraryError as error:
            findings.append(Finding(Message(error.code, error.facts)))
    return findings


def _all_digests(library: Library) -> set[str]:
    with library.reading() as connection:
        return set(connection.execute(select(schema.photo.c.digest)).scalars())


def _photo(library: Library, digest: str) -> list[Finding]:
    try:
        library.photos.check(digest)
    except LibraryError as error:
        numbers = [record.number for record in library.records(digest=digest)]
        return [
            Finding(
                finding(
                    "photo-of-a-record" if numbers else "photo-of-a-removed-record",
                    digest=digest,
                    records=numbers,
                    error=error.as_json(),
                )
            )
        ]
    return []


def _again(library: Library, record: Record) -> list[Finding]:
    """Measure a record's photos as they were measured then."""
    settings, photos = library.settings(record.number), record.photos
    if settings["card"] == NOMINAL and not record.colour.errors.frame:
        return []  # kept before unmeasured prints were fitted in their photos: that way is not gone again
    try:
        first, *more = [(str(library.photos.path(photo.digest)), photo.light) for photo in photos]
        found = measure(
            first[0],
            _card(settings["card"]),
            illuminant=record.colour.illuminant,
            observer=record.colour.observer,
            beside=settings["beside"],
            again=[path for path, light in more if light == 1],
            other_light=[path for path, light in more if light == 2],
            row=settings["strip"],
        ).colour(record.colour.name)
    except SwatchcamError as error:
        return [Finding(finding("not-measured-again", record=record.number, error=error.as_json()))]
    moved = float(delta_e_2000(np.array(found.lab), np.array(record.colour.lab)))
    if moved <= STEADY:
        return []
    of = {"record": record.number, "moved": moved, "radius": record.colour.radius}
    return [Finding(finding("measured-otherwise", **of))]


def _card(named: str) -> str:
    """A card by its name where its file no longer lies where it lay: another computer has another folder."""
    path = Path(named)
    return named if len(path.parts) == 1 or path.is_file() else path.stem
