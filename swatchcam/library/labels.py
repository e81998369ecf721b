"""Short words for a record, a colour and a recipe: the same on every page, plot, card and export."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import floor, log10

from ..colorimetry.cielab import Lab
from ..recipes.recipe import GRAMS, Part, Recipe, as_given
from ..text import counted, let_down_words, tidy
from .records import Batch, Record, State

SCALES = 3  # decimals of the finest scales
NOT_ABSOLUTE = "for comparison only"  # what a nominal card's numbers are marked with


def record_label(record: Record) -> str:
    """What one record is called where it stands alone."""
    mark = f"strip {record.mark}" if record.mark else ""
    parts = (record.shade, record.batch, let_down_words(record.let_down), mark, str(record.state))
    return tidy(" / ".join(part for part in parts if part))


def record_words(record: Record) -> str:
    """A record in half a line."""
    mark = f", strip {record.mark}" if record.mark else ""
    return f"record {record.number} ({record.shade}, {record.batch_words}{mark}, {record.state}, {record.measured})"


def pot_words(records: Sequence[Record]) -> str:
    """A record, and how many others of its pot stand with it; "" for none."""
    if not records:
        return ""
    further = f" and {counted(len(records) - 1, 'other strip')} of that pot" if records[1:] else ""
    return record_words(records[0]) + further


def target_words(state: State | None) -> str:
    """What a target of that state is called where something is compared with it."""
    return "the target" if state else "the target (state not said)"


def lab_words(lab: Lab) -> str:
    """CIELAB to one decimal, which is all that a photo holds."""
    lightness, a, b = (round(value, 1) + 0.0 for value in lab)  # adding zero turns -0.0 into 0.0
    return f"L* {lightness:.1f}  a* {a:.1f}  b* {b:.1f}"


def recipe_words(recipe: Recipe | None) -> str:
    """The recipe in one line, as it was given; with grams where it was not weighed."""
    if recipe is None:
        return "no recipe noted"
    return tidy(", ".join(map(_read, recipe.parts)))


def readable(grams: float) -> float:
    """Grams as a person reads them: what no scale shows was reckoned, and two decimals or digits of it are enough."""
    if grams == round(grams, SCALES) or not grams:
        return grams
    return round(grams, max(2, 1 - floor(log10(abs(grams)))))


def _read(part: Part) -> str:
    if part.unit == GRAMS:
        return as_given(replace(part, amount=readable(part.amount)))
    return f"{as_given(part)} (about {float(f'{part.grams:.2g}'):.10g} g)"


def in_order(records: Iterable[Record]) -> tuple[Record, ...]:
    """Records by the day they were measured."""
    return tuple(sorted(records, key=lambda record: (record.measured, record.number)))


def batches_in_order(batches: Iterable[Batch], records: Iterable[Record]) -> tuple[Batch, ...]:
    """Batches by the day they were mixed or, where nobody said, first measured."""
    first: dict[str, str] = {}
    for record in in_order(records):
        first.setdefault(record.batch, record.measured)
    return tuple(sorted(batches, key=lambda batch: (batch.mixed or first.get(batch.name, ""), batch.number)))
