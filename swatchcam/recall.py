"""Today's drawdown against what the library holds: the last batch of a shade, its target, or any record.

A dry strip can also be judged before it is heat-set, by the colour that it is going to have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .budget import Measured
from .check import default_window
from .errors import UsageError
from .foretell import Foretold, Model, learn
from .heat import pair
from .kept import Kept, keep
from .measure import Measurement, measure
from .record import DRY, HEAT_SET, WASHED, Lab, Record, Shade, Stage, key
from .verdict import DEFAULT_TOLERANCE, Verdict, against_target, between, judge

if TYPE_CHECKING:
    from .library import Library


@dataclass(frozen=True)
class Wanted:
    """What a drawdown shall be judged against."""

    shade: str = ""
    batch: str = ""  # by default the last one
    record: int | None = None
    goal: bool = False  # the shade's target
    stage: Stage = DRY
    after_heat: bool = False  # judge the colour that the drawdown is going to have once it is heat-set

    @property
    def anything(self) -> bool:
        """Whether the library is asked at all."""
        return bool(self.shade or self.batch or self.goal or self.after_heat or self.record is not None)


@dataclass(frozen=True)
class Recalled:
    """The verdict, and what it was reached with."""

    verdict: Verdict
    record: Record | None  # None against a target
    shade: Shade | None
    foretold: Foretold | None
    notes: tuple[str, ...]


def check_recalled(
    library: Library,
    photo: str,
    card: str | None,
    wanted: Wanted,
    *,
    window: str | None = None,
    tolerance: float | None = None,
    beside: bool = False,
    **how: Any,
) -> tuple[Recalled, Measurement]:
    """Measure a photo as `measure` does, and judge one drawdown, by default the last window's, as `check_kept` does."""
    measurement = measure(photo, card, beside=beside or (window or "").startswith("beside"), **how)
    colour = measurement.colour(window or default_window(measurement))
    return check_kept(library, keep(colour, measurement), wanted, tolerance), measurement


def check_kept(library: Library, colour: Kept, wanted: Wanted, tolerance: float | None = None) -> Recalled:
    """Judge a drawdown that was just measured against what the library holds.

    `tolerance` is by default the shade's own, else DEFAULT_TOLERANCE.

    Raises
    ------
    UsageError
        No such shade, batch or record, a shade without a target, or a record under another light.
    LibraryError
        Too few pairs to foretell the colour after heat setting.
    """
    record = _wanted_record(library, colour, wanted)
    shade = library.shade(record.shade if record else wanted.shade)
    limit = tolerance or shade.tolerance or DEFAULT_TOLERANCE
    foretold = _foretell(library, colour, shade, record) if wanted.after_heat else None
    sample: Measured = foretold or colour
    if record is not None:
        _refuse_other_light(colour, record)
        difference = between(sample, record.colour, record_words(record))
    else:
        difference = against_target(sample, _target(shade))
    return Recalled(judge(difference, limit), record, shade, foretold, _notes(colour, wanted, record, foretold))


def target_meant(library: Library, lab: Lab | None, number: int | None, tolerance: float | None) -> Lab | None:
    """The target that a person gave, as numbers or by a record; None if only the tolerance is to change.

    Raises
    ------
    UsageError
        Both were given, or nothing at all, or the record is of a card that was never measured.
    """
    if lab is not None and number is not None:
        raise UsageError("A colour and a record were both given.", "Give one of them.")
    if lab is None and number is None and tolerance is None:
        raise UsageError("No target was given.", "Give L,a,b or --from-record, or a --tolerance.")
    if number is None:
        return lab
    colour = library.record(number).colour
    if not colour.absolute:
        raise UsageError(
            f"Record {number} was measured with a card that was never measured itself: its numbers are no target.",
            "Judge against the record instead: swatchcam check PHOTO --record " + str(number),
        )
    return colour.lab


def record_words(record: Record) -> str:
    """A record in half a line."""
    strip = f", strip {record.strip}" if record.strip else ""
    return f"record {record.number} ({record.shade}, batch {record.batch}{strip}, {record.stage}, {record.measured})"


def _wanted_record(library: Library, colour: Kept, wanted: Wanted) -> Record | None:
    if wanted.record is not None:
        if wanted.goal or wanted.shade:
            raise UsageError("A record and a shade were both named.", "Name one of them.")
        return library.record(wanted.record)
    if not wanted.shade:
        raise UsageError("Nothing was named to judge against.", "Name a --shade or a --record.")
    if wanted.goal:
        return None
    stage = HEAT_SET if wanted.after_heat else wanted.stage.name
    shade = library.shade(wanted.shade)
    known = [record for record in library.records(shade.name) if not _same_photo(record, colour)]
    fit = [record for record in known if record.stage.name == stage and _same_washes(record, wanted.stage)]
    if wanted.batch:
        fit = [record for record in fit if key(record.batch) == key(wanted.batch)]
    if not fit:
        raise _nothing_to_judge_by(shade, wanted, stage, known)
    return fit[-1]


def _same_photo(record: Record, colour: Kept) -> bool:
    """A drawdown that is kept already is not judged against itself."""
    return bool({photo.digest for photo in record.photos} & set(colour.errors.photos))


def _same_washes(record: Record, stage: Stage) -> bool:
    return record.stage.name != stage.name or record.stage.washes == stage.washes


def _nothing_to_judge_by(shade: Shade, wanted: Wanted, stage: str, known: Sequence[Record]) -> UsageError:
    of_batch = f", batch '{wanted.batch}'," if wanted.batch else ""
    there = ", ".join(sorted({str(record.stage) for record in known})) or "none"
    return UsageError(
        f"Shade '{shade.name}'{of_batch} has no record that is {stage}.",
        f"It has: {there}. Say in which state the drawdown is with --stage, or judge it by the target with --goal.",
    )


def _target(shade: Shade) -> tuple[float, float, float]:
    if shade.target is None:
        raise UsageError(
            f"Shade '{shade.name}' has no target.",
            f"Give it one: swatchcam shade target '{shade.name}' 41.2,38.0,-12.5",
        )
    return shade.target


def _refuse_other_light(colour: Kept, record: Record) -> None:
    then = record.colour.illuminant, record.colour.observer
    if then != (colour.illuminant, colour.observer):
        raise UsageError(
            f"Record {record.number} is for {then[0]}/{then[1]}°, this measurement for"
            f" {colour.illuminant}/{colour.observer}°.",
            f"Measure with --illuminant {then[0]} --observer {then[1]}.",
        )


def heat_model(library: Library, ink: str, cloth: str) -> Model:
    """What heat setting does to this ink on this cloth, from all pairs of it in the library.

    Raises
    ------
    LibraryError
        There are too few.
    """
    inks = {(batch.shade, batch.name): key(batch.ink) for batch in library.batches()}
    pairs = [
        found
        for found in pair(library.records())
        if found.after.stage.name == HEAT_SET
        and key(found.before.cloth) == key(cloth)
        and inks.get((found.before.shade, found.before.batch)) == key(ink)
    ]
    return learn(pairs)


def _foretell(library: Library, colour: Kept, shade: Shade, record: Record | None) -> Foretold:
    """By the ink and cloth of the record it is judged against, else of the shade's last one."""
    model_of = record or next(iter(reversed(library.records(shade.name))), None)
    if model_of is None:
        raise UsageError(
            f"Shade '{shade.name}' has no record yet: nobody knows its ink and cloth.", "Keep a drawdown of it first."
        )
    batches = {batch.name: batch for batch in library.batches(shade.name)}
    model = heat_model(library, batches[model_of.batch].ink, model_of.cloth)
    return model.predict(colour)


def _notes(colour: Kept, wanted: Wanted, record: Record | None, foretold: Foretold | None) -> tuple[str, ...]:
    notes: list[str] = []
    if not colour.absolute and (record is None or not record.colour.absolute):
        notes.append(
            "a card that was never measured says little from one photo to another: lay both strips in one photo"
        )
    if wanted.goal and not wanted.after_heat and wanted.stage.name not in (HEAT_SET, WASHED):
        notes.append("heat setting may still move the colour; --after-heat judges what it is going to be")
    return (*notes, *(foretold.flags if foretold else ()))
