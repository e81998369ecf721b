"""What the library holds, in the words of the trade: shades, their batches, and a record of every measurement."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Protocol, TypeVar

from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..measurement.pot_verdict import STRIPS
from ..measurement.staining import KeptStaining
from ..measurement.stored_colour import Kept, PhotoRef
from ..messages.message import Flag
from ..recipes.film_weight import Coat
from ..recipes.recipe import Recipe
from ..recipes.treatment import celsius_in, clearly_unlike, seconds_in, tidy_treatment, tool_in
from ..text import key, let_down_words

WET, AIR_DRIED, HEAT_SET, WASHED, RUBBED = "wet", "air-dried", "heat-set", "washed", "rubbed"
STATES = (WET, AIR_DRIED, HEAT_SET, WASHED, RUBBED)
# The colour as it leaves the studio first: a washed or rubbed strip is a test, a dry one not there yet.
FINISHED_FIRST = (HEAT_SET, WASHED, AIR_DRIED, RUBBED, WET)
NOT_WASHED = (WET, AIR_DRIED, HEAT_SET, RUBBED)
LONGEST = 120  # letters of a name; no source
MOST_WASHES = 999  # no source
# A number of degrees or minutes is no number of washes.
NO_UNIT = r"(?![\d.,]*\d| ?(?:[°º]|[cf]\b|deg|celsius|fahrenheit|h\b|hour|min|s\b|sec))"
WASHES = re.compile(rf"{WASHED}(?: (?:once|twice|(?P<count>\d{{1,9}}){NO_UNIT}(?: ?x\b| times?\b)?))?", re.ASCII)
NAMES = re.compile(rf"{WET}|air[- ]dried|heat[- ]?set|{RUBBED}")

ViewingLight = tuple[str, int]  # illuminant, observer in degrees
USUAL_LIGHT: ViewingLight = ("D65", 10)  # what targets are for


@dataclass(frozen=True)
class State:
    """What has been done to a strip when it was photographed."""

    name: str  # one of STATES
    washes: int = 0  # how often it was washed; 0 unless the state is "washed"
    how: str = ""  # what was typed about it, tidied, such as "150 °C, 4 min, press"; "" if nobody said

    @property
    def order(self) -> tuple[int, int]:
        """What a strip goes through first sorts first."""
        return STATES.index(self.name), self.washes

    @property
    def kind(self) -> State:
        """The same without how it was done: strips of one kind can be compared."""
        return State(self.name, self.washes)

    def like(self, other: State) -> bool:
        """Whether strips in the two can be compared."""
        return self.kind == other.kind

    def treated_unlike(self, other: State) -> bool:
        """Whether strips of one kind were heated, washed or rubbed so unlike that it may show."""
        return self.like(other) and clearly_unlike(self.how, other.how)

    @property
    def celsius(self) -> float | None:
        """The temperature it was heated or washed at; None if nobody said."""
        return celsius_in(self.how)

    @property
    def seconds(self) -> float | None:
        """How long it was heated or washed; None if nobody said."""
        return seconds_in(self.how)

    @property
    def tool(self) -> str:
        """What it was heated with; "" if nobody said."""
        return tool_in(self.how)

    @property
    def short(self) -> str:
        """Without how it was done."""
        if self.name != WASHED:
            return self.name
        return f"{WASHED} {'once' if self.washes == 1 else f'{self.washes} times'}"

    def __str__(self) -> str:
        return ", ".join(filter(None, (self.short, self.how)))


DRY = State(AIR_DRIED)


@dataclass(frozen=True)
class Shade:
    """A colour that the studio wants again."""

    number: int
    name: str
    target: Lab | None  # D65, 10 degrees unless the library says otherwise
    tolerance: float | None  # CIEDE2000; None for the usual one
    tags: tuple[str, ...]
    notes: str
    judge: str = STRIPS  # whose verdict counts: STRIPS or POT
    target_state: State | None = None  # what the target is for; None if there is none, or nobody said

    @property
    def target_for(self) -> str | None:
        """What the target is for, in words: "" where nobody said; None where there is no target."""
        return None if self.target is None else str(self.target_state or "")


@dataclass(frozen=True)
class Batch:
    """One pot of a shade."""

    number: int
    shade: str
    name: str
    mixed: str  # ISO date, or "" if nobody said
    ink: str  # the ink's family: binder or maker's series, as free text
    recipe: Recipe | None
    notes: str


@dataclass(frozen=True)
class Record:
    """One strip, measured."""

    number: int
    shade: str
    batch: str
    mark: str  # what was written on it: the same before and after heat setting; "" if the batch has only one
    state: State
    cloth: str
    mesh: str
    squeegee: str
    measured: str  # ISO date
    card: str  # name of its values
    grade: str  # one of `cards.validation.GRADES`
    phone: str
    light: str  # what was known of the light, in words
    colour: Kept
    photos: tuple[PhotoRef, ...]
    flags: tuple[Flag, ...]
    notes: str
    coat: Coat | None = None  # wet ink on it by weight; None if nobody weighed it
    let_down: float = 0.0  # parts of clear base to one part of the pot's ink; 0 for the ink itself
    staining: KeptStaining | None = None  # of white cloth rubbed or washed with it; None if nobody graded any

    @property
    def batch_words(self) -> str:
        """Its batch, and how far it was let down if it was."""
        return ", ".join(filter(None, (f"batch {self.batch}", let_down_words(self.let_down))))


def of_the_ink(records: Iterable[Record]) -> list[Record]:
    """The records of the ink itself: a let-down strip is never the colour of its pot or shade."""
    return [record for record in records if not record.let_down]


def finished(records: Iterable[Record]) -> Record | None:
    """Of a shade's records of the ink itself that of its finished colour: the last one in the first state there is."""
    return min(
        sorted(records, key=lambda one: (one.measured, one.number), reverse=True),
        key=lambda one: FINISHED_FIRST.index(one.state.name),
        default=None,
    )


def light_of(record: Record) -> ViewingLight:
    """The illuminant and observer that a record's colour is for."""
    return record.colour.illuminant, record.colour.observer


def parse_state(text: str) -> State:
    """ "air-dried", "heat-set 150 C 4 min press", "washed 3 times at 40 C", "washed once", "rubbed wet" ... -> State.

    Raises
    ------
    UsageError
        No such state, not a number of washes, or something that cannot be read about how it was done.
    """
    said = " ".join(text.lower().split())
    if washed := WASHES.match(said):
        count = 2 if washed[0].endswith("twice") else int(washed["count"] or 1)
        how = _how(said[washed.end() :], text, wash=True)
        if 1 <= count <= MOST_WASHES:
            return State(WASHED, count, how)
    elif named := NAMES.match(said):
        name, rest = named[0].replace("heatset", HEAT_SET).replace(" ", "-"), said[named.end() :]
        if name in (HEAT_SET, RUBBED):
            return State(name, how=_how(rest, text, heat=name == HEAT_SET, rub=name == RUBBED))
        if not rest:
            return State(name)
    raise UsageError("state-unknown", "choose-a-state", typed=text, states=NOT_WASHED)


def _how(rest: str, typed: str, **kind: bool) -> str:
    if rest and rest[0].isalnum():  # 'heat-setting' is no state
        raise UsageError("state-unknown", "choose-a-state", typed=typed, states=NOT_WASHED)
    return tidy_treatment(rest, **kind) if rest else ""


def clean_name(text: str, what: str) -> str:
    """A name that a person typed, its blanks tidied.

    Raises
    ------
    UsageError
        Nothing is left, it is too long, or holds letters that cannot be shown.
    """
    name = " ".join(text.split())
    if not name:
        raise UsageError("name-empty", "give-it-a-name", what=what)
    if len(name) > LONGEST or not name.isprintable():
        raise UsageError("name-unusable", "keep-names-plain", name=name[:40], what=what, longest=LONGEST)
    return name


class Named(Protocol):
    """Something that has a name."""

    @property
    def name(self) -> str:
        """What a person calls it."""


Thing = TypeVar("Thing", bound=Named)


def by_name(things: Iterable[Thing], name: str, unknown: Callable[[list[str]], UsageError]) -> Thing:
    """The one of that name, small and capital letters alike.

    Raises
    ------
    UsageError
        There is none: `unknown` makes it of the names that are spelt alike.
    """
    known = {key(thing.name): thing for thing in things}
    if key(name) in known:
        return known[key(name)]
    near = get_close_matches(key(name), known, n=3, cutoff=0.5)
    raise unknown([known[one].name for one in near])


def batch_named(batches: Sequence[Batch], shade: str, name: str) -> Batch:
    """The batch of that name among those of a shade; raises UsageError where there is none."""
    there = [batch.name for batch in batches]
    return by_name(
        batches,
        name,
        lambda near: UsageError("batch-unknown", "choose-a-batch", shade=shade, name=name, there=there, near=near),
    )
