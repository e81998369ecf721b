"""How far heat moved a colour, time by time, drawn of a dict of `report.heat_series`."""

from __future__ import annotations

import math
from dataclasses import replace

from ...text import duration
from ..json_types.library import HeatSeriesJson
from .plot_marks import disc
from .svg import FAINT, GREY, SIZE, Frame, axes, drawing, line_style, path, words

WIDTH, LEFT, RIGHT, TOP, TALL = 330.0, 62.0, 12.0, 18.0, 190.0  # px; a phone shows all of it
NO_TICKS = (0.25, 0.75), 1.0  # a span in which no multiple of the step lies


def heat_plot(facts: HeatSeriesJson) -> str:
    """SVG: CIEDE2000 from dry by time on a log scale, each with its 95 % interval; dashed where the colour rests."""
    times = facts["times"]
    xs = [math.log10(time["seconds"]) for time in times]
    top = 1.08 * max(time["ciede2000"]["interval95"][1] for time in times)
    frame = Frame(LEFT, TOP, WIDTH - LEFT - RIGHT, TALL, (xs[0] - 0.1, xs[-1] + 0.1), (0.0, max(top, 1.0)))
    parts = axes(replace(frame, x=NO_TICKS[0]), "Heated for", "CIEDE2000 from dry", NO_TICKS[1])
    parts += [path([frame.at(x, time["ciede2000"]["value"]) for x, time in zip(xs, times, strict=True)])]
    for x, time in zip(xs, times, strict=True):
        place = frame.at(x, 0.0)
        low, high = time["ciede2000"]["interval95"]
        parts += [path([place, (place[0], frame.top)], style=line_style(FAINT, 0.5))]
        parts += [words((place[0], place[1] + 1.4 * SIZE), duration(time["seconds"]), anchor="middle", colour=GREY)]
        parts += [path([frame.at(x, low), frame.at(x, high)], style=line_style(GREY, 1.5))]
        parts += [disc(frame.at(x, time["ciede2000"]["value"]))]
    if facts["rests_from_s"]:
        foot = frame.at(math.log10(facts["rests_from_s"]), 0.0)
        parts += [path([foot, (foot[0], frame.top)], style=line_style(GREY, 1.2, "6 3"))]
        parts += [words((foot[0], frame.top - 5), "rests", anchor="middle", colour=GREY)]
    return drawing(WIDTH, TOP + TALL + 4 * SIZE, f"Colour by time of heating, {facts['heated']}", _told(facts), parts)


def _told(facts: HeatSeriesJson) -> str:
    each = (f"{duration(time['seconds'])}: {time['ciede2000']['value']:.1f}" for time in facts["times"])
    return f"CIEDE2000 from dry after {', '.join(each)}. {facts['sentence']}"
