"""How a shade's colour went from measurement to measurement: a control chart of individuals and ranges, as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ...colorimetry.cielab import Lab
from ...colorimetry.control_chart import Chart
from ...library.history import history, states
from ...library.labels import in_order
from ...library.records import Record, State
from ...messages.surface import TERMINAL
from .svg import GREY, INK, SIZE, Frame, Labels, Point, axes, circle, drawing, line_style, path, shown, ticks, words

WIDTH, LEFT, RIGHT = 440.0, 62.0, 104.0  # px; words to the limits stand on the right
TALL, LOW, TOP, GAP = 170.0, 90.0, 8.0, 40.0  # px, of the two panels, above them and between
LEAST_SPAN = 0.2  # of the values
FEWEST = 2  # records that make a history


@dataclass(frozen=True)
class Series:
    """One number of the records of one state, in the order of measurement."""

    name: str  # what is charted, with its unit
    labels: tuple[str, ...]  # a word for each value
    chart: Chart


def series(records: Sequence[Record], target: Lab | None, target_state: State | None = None) -> tuple[Series, ...]:
    """ΔL*, ΔC*, ΔH* from the target, or else from the first record, of the state with most records.

    CIEDE2000 itself has no sign, and a chart of it no lower half. No series from fewer than two records;
    of two states with as many the later one.
    """
    pasts = [history(target, in_order(records), state, target_state) for state in states(records)]
    past = max(reversed(pasts), key=lambda past: len(past.points), default=None)
    if past is None or len(past.points) < FEWEST:
        return ()
    labels = tuple(str(point.record.number) for point in past.points)
    return tuple(
        Series(f"{way} from {past.reference}, {past.state}", labels, chart) for way, chart in past.charts.items()
    )


def history_chart(history: Series) -> str:
    """SVG: the values above, the ranges between neighbours below, a ring and its number about each signal."""
    found, count = history.chart, len(history.chart.values)
    across = (0.5, count + 0.5)
    values = _panel(TOP, TALL, across, [*found.values, found.centre, *_there(found.lower, found.upper)])
    ranges = _panel(TOP + TALL + GAP, LOW, across, [0.0, *found.ranges, found.range_centre, *_there(found.range_upper)])
    step = max(1.0, ticks(0, count, most=8)[1]) if count > 1 else 1.0
    parts = [*axes(values, "", history.name, step), *axes(ranges, "Measurement, in order", "Range", step)]
    parts += _limits(values, found.centre, found.lower, found.upper)
    parts += _limits(ranges, found.range_centre, None, found.range_upper)
    jumps = {signal.index for signal in found.signals if signal.of_ranges}
    others = {signal.index for signal in found.signals if not signal.of_ranges}
    parts += _series(values, found.values, 1, others, history.labels)
    parts += _series(ranges, found.ranges, 2, {index - 1 for index in jumps}, history.labels[1:])
    title = f"History of {history.name}, {count} measurement{'s' * (count != 1)}"
    height = TOP + TALL + GAP + LOW + 4 * SIZE
    return drawing(WIDTH, height, title, _told(found), parts)


def _told(found: Chart) -> str:
    signals = " ".join(TERMINAL.finding(signal.what) for signal in found.signals) or "No signal."
    return f"{TERMINAL.finding(found.basis)} {signals}"


def _there(*limits: float | None) -> list[float]:
    return [limit for limit in limits if limit is not None]


def _panel(top: float, height: float, across: tuple[float, float], values: Sequence[float]) -> Frame:
    low, high = min(values), max(values)
    rim = max(0.1 * (high - low), (LEAST_SPAN - (high - low)) / 2)
    return Frame(LEFT, top, WIDTH - LEFT - RIGHT, height, across, (low - rim, high + rim))


def _limits(frame: Frame, centre: float, lower: float | None, upper: float | None) -> list[str]:
    """The centre line whole, the limits dashed, each with its words on the right."""
    parts = []
    for value, name, dash in ((upper, "upper limit", "6 3"), (centre, "mean", ""), (lower, "lower limit", "6 3")):
        if value is not None:
            y = frame.at(0, value)[1]
            end = frame.left + frame.width
            parts += [path([(frame.left, y), (end, y)], style=line_style(GREY, 1, dash))]
            parts += [words((end + 5, y + 0.35 * SIZE), f"{name} {shown(round(value, 2))}", colour=GREY)]
    return parts


def _series(frame: Frame, values: Sequence[float], first: int, signals: set[int], labels: Sequence[str]) -> list[str]:
    at: list[Point] = [frame.at(first + i, value) for i, value in enumerate(values)]
    room = Labels(at, gap=10)
    parts = [path(at)] if len(at) > 1 else []
    for i, place in enumerate(at):
        parts += [circle(place, 2.5, line_style(INK, 1, fill=INK))]
        if i in signals:
            parts += [circle(place, 7, line_style(INK, 1.6)), room.beside(place, f"no. {labels[i]}")]
    return parts
