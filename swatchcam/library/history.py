"""How a shade held from batch to batch: each batch's difference from one reference, and control charts of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..colorimetry.cielab import Lab
from ..colorimetry.colour_difference import delta_e_2000, delta_lch
from ..colorimetry.control_chart import Chart, chart
from ..colorimetry.error_covariance import interval, interval_to
from ..messages.message import Message, finding
from .labels import in_order, target_words
from .records import USUAL_LIGHT, Record, State, light_of, of_the_ink

CHARTED = ("ΔL*", "ΔC*", "ΔH*")


@dataclass(frozen=True)
class HistoryPoint:
    """One record against the reference; sample minus reference."""

    record: Record
    reference: Lab | Record
    delta_l: float
    delta_c: float
    delta_h: float
    ciede2000: float

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval of the true CIEDE2000."""
        return self._interval[0]

    @property
    def high(self) -> float:
        """Its upper end."""
        return self._interval[1]

    @cached_property
    def _interval(self) -> tuple[float, float]:
        return _interval(self.record, self.reference)  # slow, and no chart needs it


@dataclass(frozen=True)
class History:
    """A shade's records in one state, in the order in which they were measured."""

    state: State
    reference: str  # "target", or the first record in words
    points: tuple[HistoryPoint, ...]
    charts: dict[str, Chart]  # of each of CHARTED; empty where there is no record


def history(target: Lab | None, records: Sequence[Record], state: State, target_state: State | None = None) -> History:
    """A shade's records in a state, the last one of each batch and strip, against its target, else the first one.

    A target that is for another state does not count. Records of a card that was never measured are left out, those
    for another light than the reference, and let-down strips.
    """
    if target_state and not target_state.like(state):
        target = None
    fit = [record for record in in_order(of_the_ink(records)) if record.state.like(state) and record.colour.absolute]
    light = USUAL_LIGHT if target or not fit else light_of(fit[0])
    counted = _last_of_each(record for record in fit if light_of(record) == light)
    reference = target or next(iter(counted), None)
    points = tuple(_point(record, reference) for record in counted) if reference else ()
    named = f"record {reference.number}" if isinstance(reference, Record) else target_words(target_state)
    columns = zip(*((point.delta_l, point.delta_c, point.delta_h) for point in points), strict=True)
    charts = {name: chart(values) for name, values in zip(CHARTED, columns, strict=False)}
    return History(state, named if reference else "", points, charts)


def states(records: Sequence[Record]) -> list[State]:
    """The states that there are records of the ink itself of, in the order in which a strip goes through them."""
    return sorted({record.state.kind for record in of_the_ink(records)}, key=lambda state: state.order)


def treatment_before(records: Sequence[Record], record: Record) -> Message | None:
    """How the last strip before in its state was treated, where nobody said it of this one; None where none is known.

    Never taken over: it is told, to be said.
    """
    if record.state.how:
        return None
    alike = (one for one in in_order(records) if one.state.name == record.state.name and one.state.how)
    last = [one for one in alike if one.measured <= record.measured and one.number != record.number][-1:]
    if not last:
        return None
    state = replace(record.state, how=last[0].state.how)
    return finding("treatment-before", record=record.number, last=last[0].number, how=state.how, state=state)


def _last_of_each(records: Iterable[Record]) -> tuple[Record, ...]:
    """A batch that was measured again and again counts once: by its last record."""
    last = {(record.batch, record.mark, record.cloth): record for record in records}
    return in_order(last.values())


def _point(record: Record, reference: Lab | Record) -> HistoryPoint:
    lab = reference.colour.lab if isinstance(reference, Record) else reference
    lightness, chroma, hue = (float(value) for value in delta_lch(record.colour.lab, lab))
    return HistoryPoint(record, reference, lightness, chroma, hue, float(delta_e_2000(record.colour.lab, lab)))


def _interval(record: Record, reference: Lab | Record) -> tuple[float, float]:
    if not isinstance(reference, Record):
        return interval_to(record.colour, np.array(reference))
    return interval(record.colour, reference.colour) if record.number != reference.number else (0.0, 0.0)
