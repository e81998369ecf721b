"""The colour that is asked for: numbers, a strip in a photo, a record, or a shade of the library."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from ..colorimetry.lab_text import is_lab, parse_lab
from ..errors import UsageError
from ..library.library import Library
from ..library.proposal_store import proposals
from ..library.proposals import RECIPE
from ..library.records import DRY, USUAL_LIGHT, Record, Shade, State, light_of, of_the_ink
from ..measurement.check import is_there, split_photo
from ..measurement.measure import measure
from ..measurement.strip_names import is_loose
from ..measurement.summary import Sitting, sitting_of
from ..text import key
from .search import Target


@dataclass(frozen=True)
class TargetRequest:
    """Which colour is wanted: numbers, a strip in a photo, a record, or a shade of the library."""

    target: str = ""  # "L,a,b" or PHOTO[:STRIP]
    record: int | None = None
    shade: str = ""
    card: str | None = None  # of the target's photo
    how: dict[str, Any] = field(default_factory=dict)  # whatever else `measure` takes; for the pot's photo too


def target_of(library: Library, asked: TargetRequest, state: State = DRY) -> tuple[Target, Shade | None]:
    """The colour that is asked for, and the shade it is of.

    Raises
    ------
    UsageError
        Nothing was named, more than one thing, or it has no colour.
    SwatchcamError
        Whatever `measure` refuses.
    """
    shade = library.shade(asked.shade) if asked.shade and (asked.record is None and not asked.target) else None
    if asked.target and asked.record is not None:
        raise UsageError("target-and-record", "name-one-of-the-two")
    if asked.record is not None:
        return _of_record(library.record(asked.record)), None
    if asked.target:
        return _of_text(asked), None
    if shade is None:
        raise UsageError("no-target-named", "name-a-target")
    return of_shade(library, shade, state), shade


def _of_text(asked: TargetRequest) -> Target:
    photo, strip = split_photo(asked.target)
    if not is_there(photo):
        # Three words, such as "1,2,x", were meant as numbers too.
        if is_lab(asked.target) or len(re.split(r"[\s;,]+", asked.target.strip())) == 3:
            return Target(parse_lab(asked.target), asked.target)
        raise UsageError("target-unreadable", "write-target", target=asked.target)
    measured = measure(photo, asked.card, beside=is_loose(strip), **asked.how)
    return of_strip(sitting_of(measured), strip)


def of_strip(sitting: Sitting, strip: str | None) -> Target:
    """A strip that was measured as target; today's strip if none is named."""
    colour = sitting.strip_named(strip)
    return Target(colour.lab, f"{sitting.photos[0][1].name}:{colour.name}", colour, colour.reflectance)


def _of_record(record: Record) -> Target:
    if light_of(record) != USUAL_LIGHT:
        raise UsageError("record-for-other-light", "name-other-record", number=record.number)
    words = f"record {record.number} ({record.shade}, {record.batch_words}, {record.state})"
    return Target(record.colour.lab, words, record.colour, record.colour.reflectance)


def of_shade(library: Library, shade: Shade, state: State, but: str = "") -> Target:
    """What a shade shall be: its target, what it was first made for, or its last record, not of the batch `but`.

    Raises
    ------
    UsageError
        It has none of these.
    """
    if shade.target is not None:
        return Target(shade.target, f"the target of {shade.name}")
    proposed = [one for one in proposals(library, shade.name) if one.kind == RECIPE and one.target]
    if proposed and proposed[0].target:
        # The colour it was made for, not the last pot: or each repeat would copy the last miss.
        return Target(proposed[0].target, f"the colour that {shade.name} was made for")
    records = [
        record
        for record in of_the_ink(library.records(shade.name, state=state.name))
        if record.state.like(state) and key(record.batch) != key(but)
    ]
    if not records:
        raise UsageError("nothing-to-mix-towards", "give-it-a-target", shade=shade.name, state=state)
    return _of_record(records[-1])
