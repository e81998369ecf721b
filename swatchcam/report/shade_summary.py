"""A shade with all that can be said of it: each record against the target and against the batch before."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

from ..library.heat_shift import BeforeAfter, pair
from ..library.labels import batches_in_order, in_order
from ..library.records import (
    AIR_DRIED,
    HEAT_SET,
    USUAL_LIGHT,
    WET,
    Batch,
    Record,
    Shade,
    ViewingLight,
    finished,
    light_of,
    of_the_ink,
)
from ..measurement.verdict import DEFAULT_TOLERANCE, Verdict, against_target, between, check_tolerance, judge
from ..text import let_down_words
from .plots.control_chart_plot import Series, series


@dataclass(frozen=True)
class ShadeVerdict:
    """A verdict, or why there is none."""

    verdict: Verdict | None
    why_not: str = ""


@dataclass(frozen=True)
class RecordLine:
    """One record and how far it is from what it should be; that is found when it is asked for."""

    record: Record
    find_to_target: Callable[[], ShadeVerdict] = field(repr=False, compare=False)
    find_to_before: Callable[[], ShadeVerdict] = field(repr=False, compare=False)

    @cached_property
    def to_target(self) -> ShadeVerdict:
        """Against the shade's target."""
        return self.find_to_target()

    @cached_property
    def to_before(self) -> ShadeVerdict:
        """Against the batch before."""
        return self.find_to_before()


@dataclass(frozen=True)
class Chapter:
    """One batch with its records, by date."""

    batch: Batch
    lines: tuple[RecordLine, ...]


@dataclass(frozen=True)
class Dossier:
    """One shade: its batches by date, and what came of heat setting, washing and time."""

    shade: Shade
    light: ViewingLight  # which the target is for
    tolerance: float
    chapters: tuple[Chapter, ...]
    pairs: tuple[BeforeAfter, ...]
    series: tuple[Series, ...]

    @property
    def records(self) -> tuple[Record, ...]:
        """All of them, by date."""
        return in_order(line.record for chapter in self.chapters for line in chapter.lines)

    @property
    def ink_records(self) -> list[Record]:
        """Those of the ink itself, which alone are the shade's colour."""
        return of_the_ink(self.records)

    @property
    def latest(self) -> RecordLine | None:
        """The line of the record of the ink itself that was measured last."""
        return max(self._ink_lines, key=lambda line: (line.record.measured, line.record.number), default=None)

    @property
    def finished(self) -> RecordLine | None:
        """The line of the shade's finished colour, as `Library.latest` has it: of the last heat-set strip, if any."""
        found = finished(line.record for line in self._ink_lines)
        return next((line for line in self._ink_lines if line.record is found), None)

    @property
    def _ink_lines(self) -> list[RecordLine]:
        return [line for chapter in self.chapters for line in chapter.lines if not line.record.let_down]


def dossier(
    shade: Shade,
    batches: Iterable[Batch],
    records: Iterable[Record],
    *,
    light: ViewingLight = USUAL_LIGHT,
    tolerance: float = DEFAULT_TOLERANCE,
) -> Dossier:
    """Everything of one shade; batches and records of other shades are passed over.

    Parameters
    ----------
    light : illuminant and observer that targets are for
    tolerance : CIEDE2000, of shades that have none of their own

    Raises
    ------
    UsageError
        The tolerance is not a number above zero.
    """
    own = in_order(record for record in records if record.shade == shade.name)
    pots = _with_strays(shade, [batch for batch in batches if batch.shade == shade.name], own)
    limit = tolerance if shade.tolerance is None else shade.tolerance
    check_tolerance(limit)
    chapters: list[Chapter] = []
    finished = any(record.state.name == HEAT_SET for record in own)
    for batch in batches_in_order(pots, own):
        lines = [
            RecordLine(
                record,
                partial(_to_target, record, shade, light, limit, finished),
                partial(_to_before, record, tuple(chapters), limit),
            )
            for record in own
            if record.batch == batch.name
        ]
        chapters.append(Chapter(batch, tuple(lines)))
    told = [record for record in own if light_of(record) == light]
    return Dossier(
        shade, light, limit, tuple(chapters), tuple(pair(own)), series(told, shade.target, shade.target_state)
    )


def _with_strays(shade: Shade, batches: Sequence[Batch], records: Sequence[Record]) -> list[Batch]:
    """A batch for every record, also for those whose batch is not given."""
    known = {batch.name for batch in batches}
    strays = dict.fromkeys(record.batch for record in records if record.batch not in known)
    return [*batches, *(Batch(0, shade.name, name, "", "", None, "") for name in strays)]


def _to_target(record: Record, shade: Shade, light: ViewingLight, tolerance: float, finished: bool) -> ShadeVerdict:
    if shade.target is None:
        return ShadeVerdict(None, "no target")
    if light_of(record) != light:
        return ShadeVerdict(None, f"the target is for {light[0]}, {light[1]}°")
    if record.let_down:
        return ShadeVerdict(None, "let-down strip")
    if not record.colour.absolute:
        return ShadeVerdict(None, "not told by a nominal card")
    if why_not := _other_state(record, shade, finished):
        return ShadeVerdict(None, why_not)
    return ShadeVerdict(judge(against_target(record.colour, shade.target), tolerance))


def _other_state(record: Record, shade: Shade, finished: bool) -> str:
    """Why a record in this state is not judged by the target; "" if it can be.

    Where nobody said what the target is for, but the shade has heat-set records (`finished`), it is not for a dry one.
    """
    if shade.target_state:
        return "" if shade.target_state.like(record.state) else f"the target is for {shade.target_state.short} ink"
    return "not heat-set yet" if finished and record.state.name in (WET, AIR_DRIED) else ""


def _to_before(record: Record, earlier: Sequence[Chapter], tolerance: float) -> ShadeVerdict:
    """Against the latest record of an earlier batch that can be compared: same state, let-down, cloth, light, card."""
    if not earlier:
        return ShadeVerdict(None, "first batch")
    for chapter in reversed(earlier):
        alike = [line.record for line in chapter.lines if _comparable(record, line.record)]
        if alike:
            name = f"batch {chapter.batch.name}, record {alike[-1].number}"
            return ShadeVerdict(judge(between(record.colour, alike[-1].colour, name), tolerance))
    such = ", ".join(filter(None, (record.state.short, let_down_words(record.let_down))))
    return ShadeVerdict(None, f"no earlier batch {such} on this cloth, with such a card")


def _comparable(one: Record, other: Record) -> bool:
    same = _conditions(one) == _conditions(other) and not one.state.treated_unlike(other.state)
    # What is wrong with a nominal card cancels between two of its own measurements, and nowhere else.
    absolute = one.colour.absolute, other.colour.absolute
    return same and (all(absolute) or (not any(absolute) and one.card == other.card))


def _conditions(record: Record) -> tuple[object, ...]:
    return record.state.kind, record.let_down, record.cloth, light_of(record)
