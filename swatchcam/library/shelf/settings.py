"""What the studio usually does, as a value; and how it is looked up where nothing else of the library is needed."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass, fields
from pathlib import Path

from ..records import State, parse_state


@dataclass(frozen=True)
class Studio:
    """What nobody said is None or empty."""

    scale_g: float | None = None  # the scale's step
    spoon_ml: float | None = None  # what its usual spoon holds
    pot_g: float | None = None  # how much is usually mixed
    card: str = ""  # whose values are used where none is named
    cloth: str = ""
    state: State | None = None  # that shades are matched in
    tolerance: float | None = None  # CIEDE2000


FIELDS = tuple(field.name for field in fields(Studio))


def studio_from(rows: Iterable[tuple[str, str]]) -> Studio:
    """The studio from its rows: name, and value as JSON."""
    said = {name: json.loads(value) for name, value in rows}
    if "state" in said:
        said["state"] = parse_state(said["state"])
    return Studio(**said)


def studio_in(file: Path) -> Studio | None:
    """What a library's file says of it; None where it can't be told, such as by an older version's file.

    A check needs no more of a library than this: SQLAlchemy alone would take as long to load as half a check.
    """
    query = "SELECT name, value FROM studio WHERE removed IS NULL"
    try:
        with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as opened:
            return studio_from(opened.execute(query))
    except (sqlite3.Error, ValueError, TypeError):
        return None
