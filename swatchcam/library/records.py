"""What the library holds, in the words of the trade: shades, their batches, and a record of every measurement."""

from __future__ import annotations

from dataclasses import dataclass

from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..measurement.stored_colour import Kept, PhotoRef
from ..messages.message import Flag
from ..recipes.recipe import Recipe

WET, AIR_DRIED, HEAT_SET, WASHED = "wet", "air-dried", "heat-set", "washed"
STATES = (WET, AIR_DRIED, HEAT_SET, WASHED)
LONGEST = 120  # letters of a name; no source
MOST_WASHES = 999  # no source

ViewingLight = tuple[str, int]  # illuminant, observer in degrees
USUAL_LIGHT: ViewingLight = ("D65", 10)  # what targets are for


@dataclass(frozen=True)
class Shade:
    """A colour that the studio wants again."""

    number: int
    name: str
    target: Lab | None  # D65, 10 degrees unless the library says otherwise
    tolerance: float | None  # CIEDE2000; None for the usual one
    tags: tuple[str, ...]
    notes: str


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
class State:
    """What has been done to a strip when it was photographed."""

    name: str  # one of STATES
    washes: int = 0  # how often it was washed; 0 unless the state is "washed"

    @property
    def order(self) -> tuple[int, int]:
        """What a strip goes through first sorts first."""
        return STATES.index(self.name), self.washes

    def __str__(self) -> str:
        return f"washed {self.washes} x" if self.name == WASHED else self.name


DRY = State(AIR_DRIED)


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
    grade: str  # measured, transferred or nominal
    phone: str
    light: str  # what was known of the light, in words
    colour: Kept
    photos: tuple[PhotoRef, ...]
    flags: tuple[Flag, ...]
    notes: str


def light_of(record: Record) -> ViewingLight:
    """The illuminant and observer that a record's colour is for."""
    return record.colour.illuminant, record.colour.observer


def parse_state(text: str) -> State:
    """ "air-dried", "heat-set", "washed 3" or "washed 3 x" -> State.

    Raises
    ------
    UsageError
        No such state, or not a number of washes.
    """
    word, _, rest = text.strip().lower().partition(" ")
    count = rest.removesuffix("x").strip() or "1"
    if word == WASHED and count.isascii() and count.isdecimal() and 1 <= int(count) <= MOST_WASHES:
        return State(WASHED, int(count))
    if word in STATES and word != WASHED and not rest:
        return State(word)
    raise UsageError(f"There is no state '{text}'.", f"Choose one of {', '.join(STATES[:3])} or 'washed 3'.")


def clean_name(text: str, what: str) -> str:
    """A name that a person typed, its blanks tidied.

    Raises
    ------
    UsageError
        Nothing is left, it is too long, or holds letters that cannot be shown.
    """
    name = " ".join(text.split())
    if not name:
        raise UsageError(f"The {what} has no name.", "Give it one.")
    if len(name) > LONGEST or not name.isprintable():
        raise UsageError(
            f"{name[:40]!a} is no name for a {what}.",
            f"Use up to {LONGEST} letters, digits and blanks that can be seen.",
        )
    return name
