"""What was done to a strip or a cloth, as the forms ask it: one tap for the state, and how it was done.

How the last strip was heat-set or washed stands in the fields, marked as that; nobody's state is guessed.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from starlette.datastructures import FormData

from ...errors import UsageError
from ...library.library import Library
from ...library.records import AIR_DRIED, HEAT_SET, MOST_WASHES, RUBBED, STATES, WASHED, WET, Record, State, parse_state
from ...library.search import last_treated
from ...recipes.treatment import tidy_treatment
from ..forms import choice, text, whole

WORDS = {AIR_DRIED: "air-dried", HEAT_SET: "heat-set", WASHED: "washed", RUBBED: "rubbed", WET: "still wet"}
# Whole states that one tap says.
TAPS = {AIR_DRIED: "air-dried", HEAT_SET: "heat-set", f"{WASHED} 1": "washed once", RUBBED: "rubbed", WET: "still wet"}
FOR_STATE = "What was done to the cloth that has this colour?"
WASHES = "washes", "How often it was washed"
# Of each state the field that says how it was done, and what the page calls it.
TREATMENTS = {
    HEAT_SET: ("heat_how", "How it was heat-set"),
    WASHED: ("wash_how", "How hot it was washed"),
    RUBBED: ("rub_how", "How it was rubbed"),
}
FIELDS = ("state", WASHES[0], *(field for field, _ in TREATMENTS.values()))


@dataclass(frozen=True)
class LastTime:
    """How a strip was heat-set or washed the last time somebody said it."""

    record: Record
    fields: dict[str, str]

    @property
    def words(self) -> str:
        """Which strip that was."""
        return f"{self.record.shade}, batch {self.record.batch}"


def state_said(form: FormData, label: str) -> State | None:
    """The state that was tapped, and how it was done; None where none was.

    The field `state` may hold all of it: a button's does, and a phone's form of an earlier version.

    Raises
    ------
    UsageError
        It is no state, or how it was done cannot be read.
    """
    typed = text(form, "state", label=label)
    if not typed:
        return None
    if typed not in STATES:
        with suppress(UsageError):
            return parse_state(typed)
        choice(form, "state", STATES, label=label)
    washes = whole(form, WASHES[0], most=MOST_WASHES, label=WASHES[1]) if typed == WASHED else 0
    return State(typed, washes, treatment_said(form, typed))


def treatment_said(form: FormData, state: str) -> str:
    """How a strip was heat-set, washed or rubbed, tidied; "" where nobody said, or there is nothing to say."""
    if state not in TREATMENTS:
        return ""
    field, label = TREATMENTS[state]
    typed = text(form, field, label=label)
    if state == WASHED and typed.replace(",", "").replace(".", "").isdecimal():
        typed += " °C"
    try:
        return tidy_treatment(typed, heat=state == HEAT_SET, wash=state == WASHED, rub=state == RUBBED)
    except UsageError as error:
        error.at("in-field", field=label)
        raise


def state_typed(typed: str) -> State | None:
    """A state as an address or the tray has it; as good as none where it cannot be read."""
    with suppress(UsageError):
        return parse_state(typed)
    return None


def fields_of_state(state: State | None) -> dict[str, str]:
    """What the fields are filled with."""
    if state is None:
        return {}
    said = {"state": state.name} | ({WASHES[0]: str(state.washes)} if state.washes else {})
    return said | ({TREATMENTS[state.name][0]: state.how} if state.how else {})


def last_times(library: Library | None, shade: str) -> dict[str, LastTime]:
    """How the shade's last strips were heat-set and washed, by the state; else those of any shade."""
    if library is None:
        return {}
    found = {name: last_treated(library, name, shade) or last_treated(library, name) for name in (HEAT_SET, WASHED)}
    return {name: LastTime(one, fields_of_state(one.state)) for name, one in found.items() if one}


def asked_state(library: Library | None, shade: str, state: State | None) -> dict[str, Any]:
    """What a form needs that asks a state: `said` of its fields, and `last`, whence they are filled."""
    last = last_times(library, shade)
    filled = {field: value for one in last.values() for field, value in one.fields.items() if field != "state"}
    return {"said": dict.fromkeys(FIELDS, "") | filled | fields_of_state(state), "last": last, "states": WORDS}


def last_kept(records: Iterable[Record], photos: Iterable[str]) -> Record | None:
    """The last of these records that rests on none of the photos: its state is told, never taken over."""
    new = set(photos)
    older = [one for one in records if not new & {photo.digest for photo in one.photos}]
    return older[-1] if older else None
