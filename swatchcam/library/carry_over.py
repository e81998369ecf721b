"""A colour carried over from one state to a later one, by what the studio's own strips did that were measured in both.

Nothing is compared across states as it is: what comes first is carried over, or the comparison is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..colorimetry.cielab import Lab
from ..colorimetry.error_covariance import Errors, Measured
from ..errors import LibraryError
from ..measurement.stored_colour import PARTS, Kept
from ..measurement.verdict import mean_colour
from ..messages.message import Flag, flag
from ..text import key
from .heat_prediction import ENOUGH, LEAST, HeatPrediction, Model, learn
from .heat_shift import BeforeAfter, pairs_between, unpaired
from .records import HEAT_SET, USUAL_LIGHT, WET, Record, State, ViewingLight, light_of

if TYPE_CHECKING:
    from .library import Library

STRIP, REFERENCE = "strip", "reference"
RECENT = 40  # strips: older ones are hardly at hand to be heated; no source


@dataclass(frozen=True)
class States:
    """The states of both sides of a comparison, and whether one was carried over to the other."""

    strip: State
    reference: State | None  # None where nobody said what a target is for
    side: str = ""  # STRIP or REFERENCE: which is carried over, the one that comes first; "" for neither

    @classmethod
    def of(cls, strip: State, reference: State | None, *, after_heat: bool = False) -> States:
        """What must be carried over, so that both sides are in one state: the one that comes first."""
        if reference is None:
            return cls(strip, None, STRIP if after_heat else "")
        if strip.like(reference):
            return cls(strip, reference)
        return cls(strip, reference, STRIP if strip.order < reference.order else REFERENCE)

    @property
    def start(self) -> State:
        """The state of the side that is carried over."""
        return self.reference if self.side == REFERENCE and self.reference else self.strip

    @property
    def end(self) -> State:
        """The state in which both sides are compared."""
        return (self.reference or State(HEAT_SET)) if self.side == STRIP else self.strip

    @property
    def flags(self) -> tuple[Flag, ...]:
        """What must be said of a comparison of the two."""
        if self.side:
            return (flag("carried-over", side=self.side, start=self.start.short, end=self.end.short),)
        if self.reference and self.strip.treated_unlike(self.reference):
            hows = [self.strip.how, self.reference.how]
            return (flag("treated-differently", state=self.strip.short, hows=hows),)
        return ()

    def words(self, name: str, side: str) -> str:
        """What a side is called in the difference."""
        return f"{name} once {self.end.short} (predicted)" if side == self.side else name


@dataclass(frozen=True)
class Carried:
    """Colours of one pot, or a target, as they are going to be."""

    predicted: HeatPrediction  # their mean
    shift: Array  # (3,) of Lab, of each
    doubt: Array  # (3, 3) of Lab: what is not known of the shift, which is one for all

    def moved(self, colours: Sequence[Kept]) -> list[Kept]:
        """The same colours in the later state; their own errors are as they were."""
        return [replace(colour, lab=_lab(colour.lab + self.shift)) for colour in colours]


@dataclass(frozen=True)
class ShiftModel:
    """What becomes of colours of one ink on one cloth from one state to another."""

    start: State
    end: State
    model: Model
    flags: tuple[Flag, ...]

    @property
    def pairs(self) -> int:
        """How many strips it rests on."""
        return self.model.pairs

    def predict(self, colour: Measured) -> HeatPrediction:
        """The colour in the later state of one in the earlier."""
        found = self.model.predict(colour)
        return replace(found, flags=(*self.flags, *found.flags))

    def carry(self, colours: Sequence[Kept] | Lab) -> Carried:
        """Strips of one pot, or a target known exactly, in the later state.

        How far a pot's ink is off the usual shift is one and the same for all its strips: it does not average out.
        """
        known = [one for one in colours if isinstance(one, Kept)]
        exact: Any = colours
        lab, covariance = mean_colour(known) if known else (np.array(exact, dtype=float), np.zeros((3, 3)))
        found = self.predict(_Mean(_lab(lab), _errors(covariance)))
        return Carried(found, np.subtract(found.lab, lab), found.covariance - covariance)


def shift_model(
    library: Library,
    start: State,
    end: State,
    ink: str,
    cloth: str,
    light: ViewingLight = USUAL_LIGHT,
    **facts: Any,
) -> ShiftModel:
    """What becomes of this ink on this cloth in this light from one state to another, from all pairs in the library.

    Let-down strips are among them: as paler ink of the same family they teach what becomes of a paler colour. Strips
    that were heated, washed or rubbed clearly otherwise than `start` and `end` say count only where others are few.

    Parameters
    ----------
    facts : what a refusal is to tell besides

    Raises
    ------
    LibraryError
        There are too few, or one of the states is wet.
    """
    if WET in (start.name, end.name):
        raise LibraryError("wet-not-carried-over", "dry-it-first", start=start.short, end=end.short, **facts)
    records = _records(library, (start, end), ink, cloth, light)
    pairs = pairs_between(records, start, end)
    alike = [one for one in pairs if not _treated_unlike(one, start, end)]
    used = alike if len(alike) >= ENOUGH else pairs
    if len(used) < LEAST:
        more = LEAST - len(used)
        raise LibraryError(
            "states-differ",
            "compare-alike-or-pair-more",
            start=start.short,
            end=end.short,
            action=end.name,
            pairs=len(used),
            least=LEAST,
            enough=ENOUGH,
            more=more,
            ink=ink,
            cloth=cloth,
            next=[one.number for one in _most_telling(unpaired(records, start, pairs), pairs, more)],
            **facts,
        )
    others = len(used) - len(alike) if used is pairs else 0
    named = [str(state) for state in (start, end) if state.how]
    notes = (flag("pairs-treated-otherwise", others=others, pairs=len(used), states=named),) if others else ()
    return ShiftModel(start, end, learn(used), notes)


def _records(library: Library, states: tuple[State, State], ink: str, cloth: str, light: ViewingLight) -> list[Record]:
    inks = {(batch.shade, batch.name): key(batch.ink) for batch in library.batches()}
    return [
        record
        for name in dict.fromkeys(state.name for state in states)
        for record in library.records(state=name)
        if key(record.cloth) == key(cloth)
        and inks.get((record.shade, record.batch)) == key(ink)
        and light_of(record) == light
    ]


def _treated_unlike(pair: BeforeAfter, start: State, end: State) -> bool:
    return pair.before.state.treated_unlike(start) or pair.after.state.treated_unlike(end)


def _most_telling(strips: Sequence[Record], pairs: Sequence[BeforeAfter], count: int) -> list[Record]:
    """The strips to treat next: one by one that whose colour is furthest from all that are known by then."""
    left, known = list(strips[-RECENT:]), [one.before.colour.lab for one in pairs]
    found: list[Record] = []
    while left and len(found) < count:
        # The first of all has nothing to be far from: it is the last one that was measured.
        best = max(left, key=lambda one: _nearest(one.colour.lab, known)) if known else left[-1]
        left.remove(best)
        known.append(best.colour.lab)
        found.append(best)
    return found


def _nearest(lab: ArrayLike, known: Sequence[Lab]) -> float:
    """CIELAB distance to the nearest of these."""
    return float(np.linalg.norm(np.array(known) - np.asarray(lab), axis=1).min())


@dataclass(frozen=True)
class _Mean:
    """A colour of which only the covariance is known."""

    lab: Lab
    errors: Errors
    name: str = "mean"


def _errors(covariance: Array) -> Errors:
    parts = {name: np.zeros((3, 3)) for name in PARTS} | {"noise": covariance}
    return Errors(parts, np.zeros((3, 0)), {}, ())


def _lab(values: ArrayLike) -> Lab:
    lightness, a, b = (float(value) for value in np.asarray(values))
    return lightness, a, b
