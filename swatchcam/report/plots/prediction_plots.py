"""How proposals came out, drawn, of a dict of `mixing`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from ...text import counted
from ..json_types import PredictionsJson
from ..json_types.mixing import MeasuredProposalJson
from .colour_plots import (
    AB,
    LEAST_SPAN,
    LEFT,
    TOP,
    cross,
    numbered,
    points_at,
    square_frame,
)
from .mixing_plots import BELOW, BROAD, LEGEND, NEXT, SIDE, lab_of
from .plot_marks import cap, disc, saltire, way, whisker
from .svg import (
    GREY,
    SIZE,
    Frame,
    arrow,
    axes,
    drawing,
    legend,
    line_style,
    path,
)

MISSES = 170.0  # px, height of the panel of misses


def prediction_check_plot(facts: PredictionsJson) -> str:
    """SVG of how far each proposal missed, and which way, of `report.mixing.prediction_check_dict`."""
    found = facts["proposals"]
    parts = _misses(found)
    top = TOP + MISSES + BELOW + LEGEND
    parts += legend(
        LEFT,
        top - 0.2 * SIZE,
        [
            (disc, "held"),
            (saltire, "not held"),
            (whisker, "expected at most"),
            (way, "predicted to measured"),
        ],
    )
    parts += _arrows(LEFT, top + LEGEND, found, relative=False)
    parts += _arrows(LEFT + NEXT, top + LEGEND, found, relative=True)
    told = " ".join(
        f"Proposal {each['proposal']} of batch {each['batch']}: {each['miss_ciede2000']:.1f} off, expected up to "
        f"{each['predicted']['interval95_ciede2000']:.1f}, {'held' if each['held'] else 'not held'}."
        for each in found
    )
    title = f"How {counted(len(found), 'proposal')} came out"
    return drawing(BROAD, top + LEGEND + SIDE + BELOW + SIZE, title, told or "None was measured yet.", parts)


# --- predictions ---------------------------------------------------------------------------------------------------


def _misses(found: Sequence[MeasuredProposalJson]) -> list[str]:
    """One proposal after the other: the miss as a mark, how far it was expected to miss at most as a whisker."""
    count = max(len(found), 1)
    highest = max(
        (max(each["miss_ciede2000"], each["predicted"]["interval95_ciede2000"]) for each in found), default=LEAST_SPAN
    )
    frame = Frame(LEFT, TOP, BROAD - LEFT - 16, MISSES, (0.5, count + 0.5), (0.0, 1.1 * highest))
    step = max(1.0, math.ceil(count / 20))
    parts = axes(frame, "Proposal, the oldest first", "Miss, CIEDE2000", step)
    for place, each in enumerate(found, start=1):
        foot, head = frame.at(place, 0.0), frame.at(place, each["predicted"]["interval95_ciede2000"])
        parts += [path([foot, head], style=line_style(GREY, 1)), cap(head)]
        parts += [_outcome(each)(frame.at(place, each["miss_ciede2000"]))]
    return parts


def _arrows(left: float, top: float, found: Sequence[MeasuredProposalJson], *, relative: bool) -> list[str]:
    """From what was predicted to what was measured, in a*b* or, where they are `relative`, in the differences of it."""
    after = np.array([lab_of(each["measured"])[1:] for each in found]).reshape(-1, 2)
    before = np.array([lab_of(each["predicted"])[1:] for each in found]).reshape(-1, 2)
    if relative:
        before, after = np.zeros_like(before), after - before
    frame = square_frame(left, top, SIDE, np.concatenate([before, after, np.zeros((0 if len(found) else 1, 2))]))
    names = ("Δa*, measured less predicted", "Δb*") if relative else (AB.x_name, AB.y_name)
    ends, starts = points_at(frame, after), points_at(frame, before)
    origin = frame.at(0, 0) if relative else None
    parts = axes(frame, *names) + ([cross(origin)] if origin else [])
    parts += [arrow(start, end) for start, end in zip(starts, ends, strict=True)]
    parts += [_outcome(each)(end) for each, end in zip(found, ends, strict=True)]
    return parts + numbered(ends, [str(place) for place in range(1, len(found) + 1)], ends, origin)


def _outcome(each: MeasuredProposalJson) -> Any:
    return disc if each["held"] else saltire
