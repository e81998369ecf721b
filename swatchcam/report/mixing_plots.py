"""What was foretold, drawn: a proposal beside its target, a pigment load by load, and how proposals came out.

Every drawing is made from a dict of `mixing`. Marks differ by shape, so that a print without colour tells as much.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ..colorimetry.cielab import Lab
from ..colorimetry.tolerance_outline import chroma_plane, tolerance_in_lc
from ..library.labels import lab_words
from ..measurement.verdict import DEFAULT_TOLERANCE
from ..text import counted, listed
from .colour_plots import (
    AB,
    FILLED,
    LC,
    LEAST_SPAN,
    LEFT,
    OPEN,
    OUT_OF_GAMUT,
    TOP,
    Plane,
    R,
    cross,
    interval_bar,
    numbered,
    points_at,
    screen_colour,
    square_frame,
    swatch,
)
from .svg import (
    FAINT,
    GREY,
    INK,
    SIZE,
    Frame,
    Point,
    arrow,
    axes,
    box,
    circle,
    drawing,
    legend,
    line_style,
    path,
    placed,
    words,
)

Facts = Mapping[str, Any]

SIDE, BELOW, NEXT = 262.0, 46.0, 348.0  # px, of a square, below it, and from one to the one beside it
BROAD = NEXT + LEFT + SIDE + 16  # px, of two squares
LEGEND = 1.7 * SIZE  # px, of one line below the axes
NO_TICKS = (0.25, 0.75), 1.0  # a span in which no multiple of the step lies
NEUTRAL = "#777777"  # L* 50: a swatch looks neither lighter nor darker for what is around it
RAMP, MISSES = 58.0, 170.0  # px, heights of the ramp of swatches and of the panel of misses
REGION = "Thin outlines, of the other choices dotted: as far off as the ink may come out in 95 of 100 cases."


def swatch_row(facts: Facts, number: int = 1) -> str:
    """SVG of target, pot as it is and pot as foretold, edge to edge on neutral grey, of `report.mixing.answer_dict`."""
    seen = [("target", facts["target"])]
    seen += [("pot now", facts["pot"]["foreseen"])] if facts["pot"] else []
    seen += (
        []
        if facts["leave_it"]
        else [("foretold", choice["foreseen"]) for choice in facts["choices"][number - 1 : number]]
    )
    return _swatches(seen)


def _swatches(seen: Sequence[tuple[str, Facts]], wide: int = 112, tall: int = 84, rim: float = 12.0) -> str:
    height, width = tall + 2 * rim, wide * len(seen) + 2 * rim
    parts = [path(box(0, 0, width, height), closed=True, style=f'fill="{NEUTRAL}"')]
    for place, (name, colour) in enumerate(seen):
        left = rim + place * wide
        parts.append(placed(left, rim, swatch(lab_of(colour), name, size=(wide, tall))))
        parts.append(words((left + wide / 2, height + 1.2 * SIZE), name, anchor="middle", bold=True))
    told = ", ".join(f"{name} {lab_words(lab_of(colour))}" for name, colour in seen)
    return drawing(width, height + 1.6 * SIZE, f"Swatches: {listed([name for name, _ in seen])}", told, parts)


def distance_bar(mix: Facts, tolerance: float = DEFAULT_TOLERANCE) -> str:
    """SVG of a foretold CIEDE2000 from the target with its 95 % interval, against a tolerance."""
    low, high = mix["interval95"]
    return interval_bar(mix["ciede2000_from_target"], low, high, tolerance, "CIEDE2000 from the target")


def foreseen_plot(facts: Facts, tolerance: float = DEFAULT_TOLERANCE, number: int = 1) -> str:
    """SVG of target, pot and choices in a*b* and L*C*, of `mixing.answer_dict`; choice `number` is the one taken."""
    now, choices = _pot_of(facts), [choice["foreseen"] for choice in facts["choices"]]
    parts: list[str] = []
    for left, plane in ((LEFT, AB), (LEFT + NEXT, LC)):
        parts += _foreseen(left, plane, facts, tolerance, number)
    marks = [(cross, f"target; dashed: CIEDE2000 {tolerance:g} from it")]
    marks += [(_square, "the pot now")] if now else []
    marks += [(_first, f"choice {number}")] if choices else []
    marks += [(_other, "other choices")] if choices[1:] else []
    parts += legend(LEFT, TOP + SIDE + BELOW + LEGEND, marks)
    told = [f"Target {lab_words(lab_of(facts['target']))}"] + [f"the pot now {_with_radius(each)}" for each in now]
    told += [f"choice {place} {_with_radius(each)}" for place, each in enumerate(choices, start=1)]
    name = f"Where target{', pot' if now else ''} and {counted(len(choices), 'choice')} lie in a*b* and L*C*"
    return drawing(BROAD, TOP + SIDE + BELOW + 2 * LEGEND, name, "; ".join(told) + f". {REGION}", parts)


def strength_plot(facts: Facts) -> str:
    """SVG of a pigment's L* and C* by load, foretold and measured, and a ramp of swatches, of `mixing.pigment_dict`."""
    loads = [rung["percent"] for rung in (*facts["curve"], *facts["measured"])]
    across = math.log10(min(loads)) - 0.1, math.log10(max(loads)) + 0.1
    parts: list[str] = []
    reach = np.array([_reach(lab_of(rung), rung["interval95_ciede2000"]) for rung in facts["curve"]])
    for left, axis in ((LEFT, 1), (LEFT + NEXT, 0)):
        parts += _by_load(left, axis, across, facts, reach[..., axis])
    bottom = TOP + SIDE + BELOW
    parts += legend(LEFT, bottom + LEGEND, [(_first, "measured"), (_stroke, "foretold; grey: 95 of 100 lie there")])
    parts += _ramp(facts["curve"], bottom + 2 * LEGEND)
    told = "; ".join(f"{rung['percent']:g} % {_with_radius(rung)}" for rung in facts["curve"])
    measured = "; ".join(f"{rung['percent']:g} % {lab_words(lab_of(rung))}" for rung in facts["measured"])
    name = f"What {facts['pigment']} does from {min(loads):g} to {max(loads):g} %"
    height = bottom + 2 * LEGEND + RAMP + 16 + 3.4 * SIZE
    return drawing(BROAD, height, name, f"Foretold: {told}. Measured: {measured or 'nothing'}.", parts)


def hits_plot(facts: Facts) -> str:
    """SVG of how far each proposal missed, and which way, of `report.mixing.hits_dict`."""
    found = facts["proposals"]
    parts = _misses(found)
    top = TOP + MISSES + BELOW + LEGEND
    parts += legend(
        LEFT,
        top - 0.2 * SIZE,
        [(_first, "held"), (_wrong, "not held"), (_whisker, "expected at most"), (_way, "foretold to measured")],
    )
    parts += _arrows(LEFT, top + LEGEND, found, relative=False)
    parts += _arrows(LEFT + NEXT, top + LEGEND, found, relative=True)
    told = " ".join(
        f"Proposal {each['proposal']} of batch {each['batch']}: {each['miss_ciede2000']:.1f} off, expected up to "
        f"{each['foretold']['interval95_ciede2000']:.1f}, {'held' if each['held'] else 'not held'}."
        for each in found
    )
    title = f"How {counted(len(found), 'proposal')} came out"
    return drawing(BROAD, top + LEGEND + SIDE + BELOW + SIZE, title, told or "None was measured yet.", parts)


def lab_of(facts: Facts) -> Lab:
    """The colour that a dict holds as L, a and b."""
    return float(facts["L"]), float(facts["a"]), float(facts["b"])


# --- proposals ----------------------------------------------------------------------------------------------


def _foreseen(left: float, plane: Plane, facts: Facts, tolerance: float, number: int) -> list[str]:
    """One plane: outlines below, then the arrow from the pot, then the marks."""
    target, pots = lab_of(facts["target"]), _pot_of(facts)
    seen = [*pots, *(choice["foreseen"] for choice in facts["choices"])]
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
    marks = [_square if place < len(pots) else _first if place == taken else _other for place in range(len(at))]
    # The choice that is taken comes last: nothing shall lie on it.
    order = sorted(range(len(at)), key=lambda place: place == taken)
    parts += [marks[place](at[place]) for place in order]
    names = [str(place) for place in range(1, len(at) - len(pots) + 1)]
    return parts + numbered(at[len(pots) :], names, at, aim)


def _pot_of(facts: Facts) -> list[Facts]:
    """The colour of the pot as it is, where there is a pot."""
    return [facts["pot"]["foreseen"]] if facts["pot"] else []


def _ring(plane: Plane, lab: Lab, radius: float) -> Any:
    """(n, 2) once around a colour, as far off as the radius says, and closed where it can be."""
    points = plane.place(plane.tolerance(lab, radius))
    # The plane of L* and C* ends at the grey axis, and so does an outline that reaches it.
    closed = len(points) > 0 and np.hypot(*(points[0] - points[-1])) <= 2 * _longest_step(points)
    return np.concatenate([points, points[:1]]) if closed else points


def _longest_step(points: Any) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).max(initial=0.0))


# --- pigments -----------------------------------------------------------------------------------------------


def _by_load(left: float, axis: int, across: tuple[float, float], facts: Facts, bands: Any) -> list[str]:
    """One panel: `axis` 0 is C*, 1 is L* of the plane that `chroma_plane` spans; `bands` are (n, 2), low and high."""
    curve, measured = facts["curve"], facts["measured"]
    heights = [_height(rung, axis) for rung in (*curve, *measured)]
    low, high = min([*heights, *bands[:, 0]]), max([*heights, *bands[:, 1]])
    rim = 0.06 * max(high - low, LEAST_SPAN)
    frame = Frame(left, TOP, SIDE, SIDE, across, (low - rim, high + rim))
    xs = [math.log10(rung["percent"]) for rung in curve]
    rims = [frame.at(x, band[1]) for x, band in zip(xs, bands, strict=True)]
    rims += [frame.at(x, band[0]) for x, band in reversed(list(zip(xs, bands, strict=True)))]
    parts = [path(rims, closed=True, style=f'fill="{FAINT}" fill-opacity="0.6"')]
    parts += axes(
        replace(frame, x=NO_TICKS[0]), "Load, % (each step is a factor)", (LC.x_name, LC.y_name)[axis], NO_TICKS[1]
    )
    parts += _load_marks(frame, [rung["percent"] for rung in curve])
    parts += [path([frame.at(x, _height(rung, axis)) for x, rung in zip(xs, curve, strict=True)])]
    return parts + [_first(frame.at(math.log10(rung["percent"]), _height(rung, axis))) for rung in measured]


def _load_marks(frame: Frame, loads: Iterable[float]) -> list[str]:
    parts, low = [], frame.top + frame.height
    for load in loads:
        x = frame.at(math.log10(load), 0)[0]
        parts += [path([(x, frame.top), (x, low)], style=line_style(FAINT, 0.5))]
        parts += [words((x, low + 1.4 * SIZE), f"{load:g}", anchor="middle", colour=GREY)]
    return parts


def _reach(lab: Lab, radius: float) -> Any:
    """(2, 2) the lowest and highest C*, L* of the colours of that hue that are as far off as the radius."""
    points = chroma_plane(tolerance_in_lc(lab, radius))
    return np.stack([points.min(axis=0), points.max(axis=0)])


def _height(rung: Facts, axis: int) -> float:
    return float(chroma_plane(np.array(lab_of(rung)))[axis])


def _ramp(curve: Sequence[Facts], top: float) -> list[str]:
    """The swatches edge to edge on neutral grey, the load below each."""
    rim, across = 8.0, BROAD - LEFT - 16
    wide = (across - 2 * rim) / len(curve)
    parts = [path(box(LEFT, top, across, RAMP + 2 * rim), closed=True, style=f'fill="{NEUTRAL}"')]
    for place, rung in enumerate(curve):
        left, lab, name = LEFT + rim + place * wide, lab_of(rung), f"{rung['percent']:g} %"
        parts.append(placed(left, top + rim, swatch(lab, name, size=(round(wide), round(RAMP)))))
        parts.append(words((left + wide / 2, top + RAMP + 2 * rim + 1.2 * SIZE), name, anchor="middle"))
    vivid = any(not screen_colour(lab_of(rung))[1] for rung in curve)
    note = f"Screen colours, roughly{f'; a corner cut off: {OUT_OF_GAMUT}' if vivid else ''}."
    return [*parts, words((LEFT, top + RAMP + 2 * rim + 2.8 * SIZE), note, colour=GREY)]


# --- hits ---------------------------------------------------------------------------------------------------


def _misses(found: Sequence[Facts]) -> list[str]:
    """One proposal after the other: the miss as a mark, how far it was expected to miss at most as a whisker."""
    count = max(len(found), 1)
    highest = max(
        (max(each["miss_ciede2000"], each["foretold"]["interval95_ciede2000"]) for each in found), default=LEAST_SPAN
    )
    frame = Frame(LEFT, TOP, BROAD - LEFT - 16, MISSES, (0.5, count + 0.5), (0.0, 1.1 * highest))
    step = max(1.0, math.ceil(count / 20))
    parts = axes(frame, "Proposal, the oldest first", "Miss, CIEDE2000", step)
    for place, each in enumerate(found, start=1):
        foot, head = frame.at(place, 0.0), frame.at(place, each["foretold"]["interval95_ciede2000"])
        parts += [path([foot, head], style=line_style(GREY, 1)), _cap(head)]
        parts += [_outcome(each)(frame.at(place, each["miss_ciede2000"]))]
    return parts


def _arrows(left: float, top: float, found: Sequence[Facts], *, relative: bool) -> list[str]:
    """From what was foretold to what was measured, in a*b* or, where they are `relative`, in the differences of it."""
    after = np.array([lab_of(each["measured"])[1:] for each in found]).reshape(-1, 2)
    before = np.array([lab_of(each["foretold"])[1:] for each in found]).reshape(-1, 2)
    if relative:
        before, after = np.zeros_like(before), after - before
    frame = square_frame(left, top, SIDE, np.concatenate([before, after, np.zeros((0 if len(found) else 1, 2))]))
    names = ("Δa*, measured less foretold", "Δb*") if relative else (AB.x_name, AB.y_name)
    ends, starts = points_at(frame, after), points_at(frame, before)
    origin = frame.at(0, 0) if relative else None
    parts = axes(frame, *names) + ([cross(origin)] if origin else [])
    parts += [arrow(start, end) for start, end in zip(starts, ends, strict=True)]
    parts += [_outcome(each)(end) for each, end in zip(found, ends, strict=True)]
    return parts + numbered(ends, [str(place) for place in range(1, len(found) + 1)], ends, origin)


def _outcome(each: Facts) -> Any:
    return _first if each["held"] else _wrong


# --- marks and frames ---------------------------------------------------------------------------------------


def _first(at: Point) -> str:
    return circle(at, R - 0.5, FILLED)


def _other(at: Point) -> str:
    return circle(at, R - 0.5, OPEN)


def _square(at: Point) -> str:
    return path(box(at[0] - R, at[1] - R, 2 * R, 2 * R), closed=True, style=OPEN)


def _wrong(at: Point) -> str:
    (x, y), style = at, line_style(INK, 2.2)
    return path([(x - R, y - R), (x + R, y + R)], style=style) + path([(x - R, y + R), (x + R, y - R)], style=style)


def _stroke(at: Point) -> str:
    return path([(at[0] - 10, at[1]), (at[0] + 10, at[1])])


def _whisker(at: Point) -> str:
    x, y = at
    return path([(x, y + 8), (x, y - 6)], style=line_style(GREY, 1)) + _cap((x, y - 6))


def _way(at: Point) -> str:
    return arrow((at[0] - 10, at[1]), (at[0] + 8 + R, at[1]))


def _cap(at: Point) -> str:
    return path([(at[0] - R, at[1]), (at[0] + R, at[1])], style=line_style(GREY, 1.6))


def _with_radius(facts: Facts) -> str:
    return f"{lab_words(lab_of(facts))} ±{facts['interval95_ciede2000']:.1f} CIEDE2000"
