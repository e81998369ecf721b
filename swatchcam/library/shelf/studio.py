"""What the studio has and usually does: its scale and spoon, its usual pot, card, cloth, state and tolerance."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sqlalchemy import select

from .. import schema
from ..library import Library
from ..records import State, parse_state
from ..row_mapping import decoding, rows_of


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


def studio_of(library: Library) -> Studio:
    """What was said of the studio.

    Raises
    ------
    LibraryError
        A row is not what was written.
    """
    query = select(schema.studio).where(schema.studio.c.removed.is_(None))
    with library.reading() as connection, decoding():
        said = {row.name: json.loads(row.value) for row in rows_of(connection, query)}
        if "state" in said:
            said["state"] = parse_state(said["state"])
        return Studio(**said)
