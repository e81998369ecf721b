"""A proposal beside its target, drawn.

Every drawing is made from a dict of `mixing`. Marks differ in shape, so they can be told apart in black and white.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from ...colorimetry.cielab import Lab
from ...library.labels import lab_words
from ...measurement.verdict import DEFAULT_TOLERANCE
from ...text import counted, listed
from ..json_types import AnswerJson
from ..json_types.colours import AxesJson, ColourJson, SureColourJson
from ..json_types.mixing import MixJson
from .colour_plots import (
    AB,
    LC,
    LEFT,
    TOP,
    ColourPlane,
    chip,
    cross,
    interval_bar,
    numbered,
    points_at,
    square_frame,
)
from .plot_marks import disc, hollow_disc, square
from .svg import (
    GREY,
    INK,
    SIZE,
    arrow,
    axes,
    box,
    drawing,
    legend,
    line_style,
    path,
    placed,
    words,
)

SIDE, BELOW, NEXT = 262.0, 46.0, 348.0  # px, of a square, below it, and from one to the one beside it


BROAD = NEXT + LEFT + SIDE + 16  # px, of two squares


LEGEND = 1.7 * SIZE  # px, of one line below the axes


NEUTRAL = "#777777"  # L* 50: a chip looks neither lighter nor darker for what is around it


REGION = "Thin outlines, dotted for the other choices, show how far off the ink may come out in 95 of 100 cases."


def chip_row(facts: AnswerJson, number: int = 1) -> str:
    """SVG of target, pot now, pot as predicted and its dry strip, edge to edge on grey, of `report.mixing.answer_dict`.

    The dry strip is left out where dry is what is aimed at.
    """
    seen: list[tuple[str, ColourJson]] = [("target", facts["target"])]
    seen += [("pot now", facts["pot"]["predicted"])] if facts["pot"] else []
    for choice in [] if facts["leave_it"] else facts["choices"][number - 1 : number]:
        seen.append(("predicted", choice["predicted"]))
        seen += [("when dry", choice["when_dry"])] if choice["when_dry"] else []
    return _chips(seen)


def _chips(seen: Sequence[tuple[str, ColourJson]], wide: int = 112, tall: int = 84, rim: float = 12.0) -> str:
    height, width = tall + 2 * rim, wide * len(seen) + 2 * rim
    parts = [path(box(0, 0, width, height), closed=True, style=f'fill="{NEUTRAL}"')]
    for place, (name, colour) in enumerate(seen):
        left = rim + place * wide
        parts.append(placed(left, rim, chip(lab_of(colour), name, size=(wide, tall))))
        parts.append(words((left + wide / 2, height + 1.2 * SIZE), name, anchor="middle", bold=True))
    told = ", ".join(f"{name} {lab_words(lab_of(colour))}" for name, colour in seen)
    return drawing(width, height + 1.6 * SIZE, f"Chips: {listed([name for name, _ in seen])}", told, parts)


def distance_bar(mix: MixJson, tolerance: float = DEFAULT_TOLERANCE) -> str:
    """SVG of a predicted CIEDE2000 from the target with its 95 % interval, against a tolerance."""
    low, high = mix["interval95"]
    return interval_bar(mix["ciede2000_from_target"], low, high, tolerance, "CIEDE2000 from the target")


def prediction_plot(facts: AnswerJson, tolerance: float = DEFAULT_TOLERANCE, number: int = 1) -> str:
    """SVG of target, pot and choices in a*b* and L*C*, of `mixing.answer_dict`; choice `number` is the one taken."""
    now, choices = _pot_of(facts), [choice["predicted"] for choice in facts["choices"]]
    parts: list[str] = []
    for left, plane in ((LEFT, AB), (LEFT + NEXT, LC)):
        parts += _predicted(left, plane, facts, tolerance, number)
    marks = [(cross, f"target; dashed: CIEDE2000 {tolerance:g} from it")]
    marks += [(square, "the pot now")] if now else []
    marks += [(disc, f"choice {number}")] if choices else []
    marks += [(hollow_disc, "other choices")] if choices[1:] else []
    parts += legend(LEFT, TOP + SIDE + BELOW + LEGEND, marks)
    told = [f"Target {lab_words(lab_of(facts['target']))}"] + [f"the pot now {with_radius(each)}" for each in now]
    told += [f"choice {place} {with_radius(each)}" for place, each in enumerate(choices, start=1)]
    name = f"Where target{', pot' if now else ''} and {counted(len(choices), 'choice')} lie in a*b* and L*C*"
    return drawing(BROAD, TOP + SIDE + BELOW + 2 * LEGEND, name, "; ".join(told) + f". {REGION}", parts)


def lab_of(facts: AxesJson) -> Lab:
    """The colour that a dict holds as L, a and b."""
    return float(facts["L"]), float(facts["a"]), float(facts["b"])


# --- proposals ----------------------------------------------------------------------------------------------


def _predicted(left: float, plane: ColourPlane, facts: AnswerJson, tolerance: float, number: int) -> list[str]:
    """One plane: outlines below, then the arrow from the pot, then the marks."""
    target, pots = lab_of(facts["target"]), _pot_of(facts)
    seen = [*pots, *(choice["predicted"] for choice in facts["choices"])]
    taken = len(pots) + number - 1
    dashed = _ring(plane, target, tolerance)
    rings = [_ring(plane, lab_of(each), each["interval95_ciede2000"]) for each in seen]
    middles = plane.place(np.array([target, *(lab_of(each) for each in seen)]))
    frame = square_frame(left, TOP, SIDE, np.concatenate([middles, dashed, *rings]))
    aim, *at = points_at(frame, middles)
    parts = axes(frame, plane.x_name, plane.y_name)
    for place, ring in enumerate(rings):
        dash = "" if place == taken or place < len(pots) else "1 3"
        parts.append(path(points_at(frame, ring), style=line_style(GREY, 0.8, dash)))
    parts += [path(points_at(frame, dashed), style=line_style(INK, 1.4, "6 3")), cross(aim)]
    parts += [arrow(at[0], at[taken])] if pots and facts["choices"] else []
    marks = [square if place < len(pots) else disc if place == taken else hollow_disc for place in range(len(at))]
    # The choice that is taken comes last: nothing shall lie on it.
    order = sorted(range(len(at)), key=lambda place: place == taken)
    parts += [marks[place](at[place]) for place in order]
    names = [str(place) for place in range(1, len(at) - len(pots) + 1)]
    return parts + numbered(at[len(pots) :], names, at, aim)


def _pot_of(facts: AnswerJson) -> list[SureColourJson]:
    """The colour of the pot as it is, where there is a pot."""
    return [facts["pot"]["predicted"]] if facts["pot"] else []


def _ring(plane: ColourPlane, lab: Lab, radius: float) -> Any:
    """(n, 2) once around a colour, as far off as the radius says, and closed where it can be."""
    points = plane.place(plane.tolerance(lab, radius))
    # The plane of L* and C* ends at the grey axis, and so does an outline that reaches it.
    closed = len(points) > 0 and np.hypot(*(points[0] - points[-1])) <= 2 * _longest_step(points)
    return np.concatenate([points, points[:1]]) if closed else points


def _longest_step(points: Any) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).max(initial=0.0))


def with_radius(facts: SureColourJson) -> str:
    """A colour and how sure it is, in words."""
    return f"{lab_words(lab_of(facts))} ±{facts['interval95_ciede2000']:.1f} CIEDE2000"
