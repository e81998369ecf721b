"""The colour that is asked for: numbers, a strip in a photo, a record, or a shade of the library."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import Any

from ..colorimetry.lab_text import is_lab, parse_lab
from ..errors import UsageError
from ..library.library import Library
from ..library.proposal_store import proposals
from ..library.proposals import RECIPE
from ..library.records import DRY, HEAT_SET, USUAL_LIGHT, Record, Shade, State, light_of, of_the_ink
from ..library.shelf.studio import studio_of
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
    state: State | None = None  # what was done to the cloth that has this colour, where the library does not say


def target_of(library: Library, asked: TargetRequest, strips: State | None = None) -> tuple[Target, Shade | None]:
    """The colour that is asked for, and the shade it is of; `strips` as in `of_shade`.

    Raises
    ------
    UsageError
        Nothing was named, more than one thing, it has no colour, or the library knows it in another state.
    SwatchcamError
        Whatever `measure` refuses.
    """
    shade = library.shade(asked.shade) if asked.shade and (asked.record is None and not asked.target) else None
    if asked.target and asked.record is not None:
        raise UsageError("target-and-record", "name-one-of-the-two")
    if asked.record is not None:
        return in_state(_of_record(library.record(asked.record)), asked.state), None
    if asked.target:
        return as_usual(library, in_state(_of_text(asked), asked.state)), None
    if shade is None:
        raise UsageError("no-target-named", "name-a-target")
    return of_shade(library, shade, asked.state, strips), shade


def in_state(target: Target, said: State | None) -> Target:
    """The target with its state; raises UsageError where another one is said than is known of it."""
    if said and target.state and not said.like(target.state):
        raise UsageError("target-in-other-state", "leave-out-the-state", said=said, known=target.state)
    return target if target.state else replace(target, state=said)


def as_usual(library: Library, target: Target) -> Target:
    """A target of which nobody said the state is in the one that the studio matches its shades in."""
    return target if target.state else replace(target, state=studio_of(library).state)


def _of_text(asked: TargetRequest) -> Target:
    photo, strip = split_photo(asked.target)
    if not is_there(photo):
        # Three words, such as "1,2,x", were meant as numbers too.
        if is_lab(asked.target) or len(re.split(r"[\s;,]+", asked.target.strip())) == 3:
            return Target(parse_lab(asked.target), asked.target)
        raise UsageError("target-unreadable", "write-target", target=asked.target)
    measured = measure(photo, asked.card, beside=is_loose(strip), **asked.how)
    return of_strip(sitting_of(measured), strip)


def of_strip(sitting: Sitting, strip: str | None, state: State | None = None) -> Target:
    """A strip that was measured as target; today's strip if none is named."""
    colour = sitting.strip_named(strip)
    return Target(colour.lab, f"{sitting.photos[0][1].name}:{colour.name}", colour, colour.reflectance, state)


def _of_record(record: Record) -> Target:
    if light_of(record) != USUAL_LIGHT:
        raise UsageError("record-for-other-light", "name-other-record", number=record.number)
    words = f"record {record.number} ({record.shade}, {record.batch_words}, {record.state})"
    return Target(record.colour.lab, words, record.colour, record.colour.reflectance, record.state)


def of_shade(
    library: Library, shade: Shade, state: State | None = None, strips: State | None = None, but: str = ""
) -> Target:
    """What a shade shall be: its target, what it was first made for, or its last record, not of the batch `but`.

    A record is taken in the `state` that is asked for. Where none is, it is one in the state of the `strips` of the pot
    in hand, of which a difference is surest, else the finished colour: heat-set, and only if there is none air-dried.

    Raises
    ------
    UsageError
        It has none of these, or in another state.
    """
    if shade.target is not None:
        target = Target(shade.target, f"the target of {shade.name}", state=shade.target_state)
        return as_usual(library, in_state(target, state))
    proposed = [one for one in proposals(library, shade.name) if one.kind == RECIPE and one.target]
    if proposed and proposed[0].target:
        # The colour it was made for, not the last pot: or each repeat would copy the last miss.
        words = f"the colour that {shade.name} was made for"
        return as_usual(library, in_state(Target(proposed[0].target, words, state=proposed[0].target_state), state))
    records = [record for record in of_the_ink(library.records(shade.name)) if key(record.batch) != key(but)]
    for wanted in [state] if state else [strips, State(HEAT_SET), DRY]:
        found = [record for record in records if wanted and record.state.like(wanted)]
        if found:
            return _of_record(found[-1])
    raise UsageError("nothing-to-mix-towards", "give-it-a-target", shade=shade.name, state=state or strips or DRY)
