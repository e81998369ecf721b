"""The strip of the pot in hand: a record of the library, or a strip in a photo on the tray."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice

from starlette.datastructures import FormData

from ...colorimetry.cielab import Lab
from ...library.library import Library
from ...library.proposal_store import proposals
from ...library.records import Batch, Record, of_the_ink
from ...measurement.stored_colour import Kept
from ...measurement.summary import Sitting
from ...mixing.pot_lookup import refuse_let_down
from ...recipes.recipe import Recipe
from ...text import key, the_strip
from ..inbox import Tray, TrayItem
from .comparison import record_number
from .result import PHOTO, records_on, sitting_on

RECENT = 8  # photos, and records, that are offered where none was named
STRIP, RECORD, SHADE, NUMBERS = "strip", "record", "shade", "numbers"  # kinds of target


@dataclass(frozen=True)
class InHand:
    """A pot's strip, and what else there is to hold it against."""

    colour: Kept
    sitting: Sitting | None  # all that its photos showed, where they still lie on the tray
    record: Record | None  # as the library keeps it, if it does
    recipe: Recipe | None  # what is in the pot, where the record's batch says so
    beside: tuple[Record, ...] = ()  # other records of the same photos
    let_down: tuple[str, ...] = ()  # strips of the sitting that were kept as let-down strips: no colour to hold it to

    @property
    def words(self) -> str:
        """What it is, for people."""
        if self.record:
            return f"record {self.record.number}: {self.record.shade}, {self.record.batch_words}"
        return the_strip(self.colour.name)

    @property
    def targets(self) -> dict[str, str]:
        """What the pot may be held against -> words: the surest first; `target` of the form is one of these."""
        found = {}
        if self.sitting:
            left_out = (self.colour.name, *self.let_down)
            others = [kept.name for kept in self.sitting.strips if kept.name not in left_out]
            found = {f"{STRIP}:{name}": f"{the_strip(name)} in the same photo (the surest way)" for name in others}
        else:
            found = {
                f"{RECORD}:{one.number}": f"record {one.number} of the same photo: {one.shade}, {one.batch_words}"
                for one in self.beside
            }
        return found | {SHADE: "the colour of the shade", NUMBERS: "numbers"}

    @property
    def further(self) -> dict[str, str]:
        """Other strips of the photo, which may be of the same pot -> words; none of a pot whose record is asked for."""
        if self.sitting is None:
            return {}
        left_out = (self.colour.name, *self.let_down)
        return {kept.name: the_strip(kept.name) for kept in self.sitting.strips if kept.name not in left_out}

    @property
    def likeliest(self) -> str:
        """The target that is meant where nobody says: the one strip that was laid beside it, if it was."""
        other, *more = self.targets
        laid = len(more) == 2 and (self.sitting or (self.record and self.beside[0].shade == self.record.shade))
        return other if laid else SHADE


def in_hand(tray: Tray, library: Library, said: FormData) -> InHand | None:
    """The strip that the fields `record`, or `photo` and `strip`, name; None where they are empty.

    Raises
    ------
    UsageError
        It is not there, or is let down.
    """
    number, photo = str(said.get("record", "")), str(said.get("photo", ""))
    if number:
        record = record_of(library, number)
        refuse_let_down(record)
        return _of_record(tray, library, record)
    if not photo:
        return None
    sitting = sitting_on(tray.item(photo))
    colour = sitting.strip_named(str(said.get("strip", "")) or None)
    kept = records_on(library, sitting).get(colour.name)
    if kept:
        refuse_let_down(kept)
    return InHand(colour, sitting, kept, _recipe(library, kept), let_down=_let_down_on(library, sitting))


def record_of(library: Library, number: str) -> Record:
    """The record of a number as it was typed; raises UsageError."""
    return library.record(record_number(number))


def measured(tray: Tray, most: int = RECENT) -> list[tuple[TrayItem, dict[str, Lab]]]:
    """The photos on the tray that were measured last, each with its strips and their colours."""
    done = (item for item in tray.newest(PHOTO) if item.state == "done" and item.answer)
    return [
        (item, {kept["name"]: tuple(kept["lab"]) for kept in (item.answer or {})["sitting"]["strips"]})
        for item in islice(done, most)
    ]


def with_recipe(library: Library) -> list[tuple[Record, Batch]]:
    """The records whose batch has a recipe, oldest first, and that batch."""
    batches = {(key(batch.shade), key(batch.name)): batch for batch in library.batches() if batch.recipe}
    found = [(record, batches.get((key(record.shade), key(record.batch)))) for record in library.records()]
    return [(record, batch) for record, batch in found if batch]


def cloths_of(known: Iterable[tuple[Record, Batch]]) -> list[str]:
    """The cloths noted for these strips, each once, in order."""
    return sorted({key(record.cloth): record.cloth for record, _ in known if record.cloth}.values(), key=key)


def cloth_of(library: Library, shade: str, cloths: Sequence[str]) -> str:
    """The cloth that a shade was last measured on, else mixed for, of those that may be chosen.

    It is "" where there is no choice, or nothing is known.
    """
    named = {key(cloth): cloth for cloth in cloths}
    if len(named) < 2:
        return ""
    last = [record.cloth for record in reversed(library.records(shade))]
    last += [one.cloth for one in reversed(proposals(library, shade))]
    return next((named[key(cloth)] for cloth in last if cloth and key(cloth) in named), "")


def _of_record(tray: Tray, library: Library, record: Record) -> InHand:
    beside = [
        one
        for one in of_the_ink(library.records(digest=record.photos[0].digest))
        if one.number != record.number and one.photos[0].digest == record.photos[0].digest
    ]
    sitting = _sitting_of(tray, record)
    let_down = _let_down_on(library, sitting) if sitting else ()
    return InHand(record.colour, sitting, record, _recipe(library, record), tuple(beside), let_down)


def _let_down_on(library: Library, sitting: Sitting) -> tuple[str, ...]:
    return tuple(name for name, record in records_on(library, sitting).items() if record.let_down)


def _sitting_of(tray: Tray, record: Record) -> Sitting | None:
    """The measurement on the tray that was kept as this record; the strips of another one do not go with it."""
    for item in tray.newest(PHOTO):
        if item.state == "done" and item.answer and _may_hold(item, record):
            sitting = sitting_on(item)
            if any((kept.name, kept.lab) == (record.colour.name, record.colour.lab) for kept in sitting.strips):
                return sitting
    return None


def _may_hold(item: TrayItem, record: Record) -> bool:
    photos = (item.answer or {})["sitting"]["photos"]
    return bool(photos[0]["digest"] == record.photos[0].digest)


def _recipe(library: Library, record: Record | None) -> Recipe | None:
    if record is None:
        return None
    batches = library.batches(record.shade)
    return next((batch.recipe for batch in batches if key(batch.name) == key(record.batch)), None)
