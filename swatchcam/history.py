"""How a shade held from batch to batch: each batch's difference from one reference, and control charts of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .budget import interval, interval_to
from .colorimetry import delta_e_2000, delta_lch
from .control import Chart, chart
from .record import STAGES, Lab, Record, Stage

CHARTED = ("ΔL*", "ΔC*", "ΔH*")


@dataclass(frozen=True)
class Point:
    """One record against the reference; sample minus reference."""

    record: Record
    delta_l: float
    delta_c: float
    delta_h: float
    ciede2000: float
    low: float  # 95 % interval of the true CIEDE2000
    high: float


@dataclass(frozen=True)
class History:
    """A shade's records at one stage, in the order in which they were measured."""

    stage: Stage
    reference: str  # "target", or the first record in words
    points: tuple[Point, ...]
    charts: dict[str, Chart]  # of each of CHARTED; empty where there is no record


def history(target: Lab | None, records: Sequence[Record], stage: Stage) -> History:
    """A shade's records at a stage, the last one of each batch and strip, against its target, else the first one.

    Records of a card that was never measured are left out, and those for another illuminant or observer than the first.
    """
    fit = [record for record in _last_of_each(records) if record.stage == stage and record.colour.absolute]
    light = {(record.colour.illuminant, record.colour.observer) for record in fit[:1]}
    fit = [record for record in fit if (record.colour.illuminant, record.colour.observer) in light]
    first = None if target else next(iter(fit), None)
    points = tuple(_point(record, target, first) for record in fit)
    named = "the target" if target else f"record {first.number}" if first else ""
    columns = zip(*((point.delta_l, point.delta_c, point.delta_h) for point in points), strict=True)
    charts = {name: chart(values) for name, values in zip(CHARTED, columns, strict=False)}
    return History(stage, named, points, charts)


def stages(records: Sequence[Record]) -> list[Stage]:
    """The stages that there are records of, in the order in which a strip goes through them."""
    return sorted({record.stage for record in records}, key=lambda stage: (STAGES.index(stage.name), stage.washes))


def _last_of_each(records: Sequence[Record]) -> list[Record]:
    """A batch that was measured again and again counts once: by its last record."""
    last = {(record.batch, record.strip, record.cloth, record.stage): record for record in records}
    return sorted(last.values(), key=lambda record: (record.measured, record.number))


def _point(record: Record, target: Lab | None, first: Record | None) -> Point:
    reference = target if target is not None else first.colour.lab if first else record.colour.lab
    if target is not None or first is None:
        low, high = interval_to(record.colour, np.array(reference))
    elif first.number == record.number:
        low, high = 0.0, 0.0
    else:
        low, high = interval(record.colour, first.colour)
    lightness, chroma, hue = (float(value) for value in delta_lch(record.colour.lab, reference))
    apart = float(delta_e_2000(record.colour.lab, reference))
    return Point(record, lightness, chroma, hue, apart, low, high)
