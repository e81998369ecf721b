"""Records of a shade in the planes a*b* and L*C*, with their uncertainty, the target and its tolerance; and chips.

Marks differ by shape, so that a print without colour tells as much.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ...arrays import Array
from ...colorimetry.cielab import Lab
from ...colorimetry.srgb import lab_to_srgb
from ...colorimetry.tolerance_outline import (
    RAYS,
    chroma_plane,
    tolerance_in_ab,
    tolerance_in_lc,
    uncertainty_in_ab,
    uncertainty_in_lc,
)
from ...library.labels import lab_words
from ...library.records import HEAT_SET, RUBBED, STATES, WASHED, WET, Record
from .svg import (
    FAINT,
    GREY,
    INK,
    SIZE,
    WIDE,
    Frame,
    Labels,
    Point,
    axes,
    box,
    circle,
    drawing,
    line_style,
    path,
    rule,
    words,
)

SIDE, LEFT, TOP, BELOW = 360.0, 62.0, 8.0, 62.0  # px, of the square and around it
LEAST_SPAN = 4.0  # CIELAB along each axis, so that two like colours are not drawn worlds apart
MARGIN = 0.08  # of the span
R = 5.0  # px, of a mark
FILLED, OPEN = line_style(INK, 1.2, fill=INK), line_style(INK, 1.2, fill="#ffffff")
ARM = 12.0  # px, of a target's cross
GAP = 9.0  # px, from a mark to its words, and within which marks share them
OUT_OF_GAMUT = "more vivid than a screen shows"


@dataclass(frozen=True)
class ColourPlane:
    """What one kind of plot draws."""

    name: str
    x_name: str
    y_name: str
    place: Callable[[Array], Array]  # (..., 3) CIELAB -> (..., 2)
    tolerance: Callable[[Lab, float], Array]
    uncertainty: Callable[[Lab, Array], Array]


AB = ColourPlane(
    "a*b*", "a* (green to red)", "b* (blue to yellow)", lambda lab: lab[..., 1:], tolerance_in_ab, uncertainty_in_ab
)
LC = ColourPlane("L*C*", "C* (dull to vivid)", "L* (dark to light)", chroma_plane, tolerance_in_lc, uncertainty_in_lc)


def ab_plot(records: Sequence[Record], target: Lab | None, tolerance: float) -> str:
    """SVG of the records in a*b*; the tolerance is drawn at the target's lightness."""
    return _plot(AB, records, target, tolerance, "at the target's lightness")


def lc_plot(records: Sequence[Record], target: Lab | None, tolerance: float) -> str:
    """SVG of the records in L*C*; the tolerance is drawn at the target's hue."""
    return _plot(LC, records, target, tolerance, "at the target's hue")


def chip(lab: Lab, name: str, illuminant: str = "D65", observer: int = 10, size: tuple[int, int] = (48, 32)) -> str:
    """SVG of a colour as a screen shows it, px wide and high; a corner is cut off where sRGB cannot hold it."""
    code, inside = screen_colour(lab, illuminant, observer)
    (width, height), cut = size, min(size) / 2.5
    corners: list[Point] = [(0, 0), (width, 0), (width, height), (0, height)]
    if not inside:
        corners[1:2] = [(width - cut, 0), (width, cut)]
    title = f"Chip of {name}, {lab_words(lab)}" + ("" if inside else f", {OUT_OF_GAMUT}")
    shape = path(corners, closed=True, style=f'fill="{code}"')
    return drawing(width, height, title, f"Screen colour {code}", [shape])


def interval_bar(value: float, low: float, high: float, tolerance: float, name: str) -> str:
    """SVG of a CIEDE2000 with its 95 % interval, against a tolerance; `name` says what it is the difference of."""
    frame = Frame(14, 22, 300, 32, (0.0, 1.12 * max(high, value, 2 * tolerance)), (0.0, 1.0))
    (left, middle), (right, _) = frame.at(low, 0.5), frame.at(high, 0.5)
    (at, _), (limit, _) = frame.at(value, 0.5), frame.at(tolerance, 0.5)
    parts = rule(frame, name)
    parts += [path(box(left, middle - 8, right - left, 16), closed=True, style=line_style(INK, 1.2, fill=FAINT))]
    parts += [path([(at, middle - 14), (at, middle + 14)], style=line_style(INK, 3.5))]
    parts += [path([(limit, frame.top - 6), (limit, frame.top + frame.height)], style=line_style(INK, 1.6, "5 3"))]
    name_of_limit = f"tolerance {tolerance:g}"
    room = WIDE * SIZE * len(name_of_limit) / 2  # the words stay inside where the mark is near an edge
    parts += [words((max(limit, room), frame.top - 10), name_of_limit, anchor="middle")]
    told = f"{value:.1f}, 95 % within {low:.1f} to {high:.1f}, tolerance {tolerance:g}"
    return drawing(frame.left + frame.width + 14, 92, f"{name}: {told}", "The bar is the interval.", parts)


def screen_colour(lab: Lab, illuminant: str = "D65", observer: int = 10) -> tuple[str, bool]:
    """#rrggbb, and whether sRGB holds the colour."""
    rgb, inside = lab_to_srgb(np.array(lab), illuminant, observer)
    return "#" + "".join(f"{round(255 * float(v)):02x}" for v in rgb), bool(inside)


def square_frame(left: float, top: float, side: float, points: Array) -> Frame:
    """A square, px, that holds (n, 2) points with the same scale along both axes."""
    low, high = points.min(axis=0), points.max(axis=0)
    half = max(float((high - low).max()), LEAST_SPAN) * (0.5 + MARGIN)
    (x, y) = (float(v) for v in (low + high) / 2)
    return Frame(left, top, side, side, (x - half, x + half), (y - half, y + half))


def points_at(frame: Frame, points: Array) -> list[Point]:
    """(n, 2) values -> places, px."""
    return [frame.at(float(x), float(y)) for x, y in points]


def cross(at: Point) -> str:
    """The mark of a target."""
    x, y = at
    return path([(x - ARM, y), (x + ARM, y)]) + path([(x, y - ARM), (x, y + ARM)])


def numbered(
    places: Sequence[Point], names: Sequence[str], taken: Sequence[Point], target: Point | None = None
) -> list[str]:
    """A name beside each mark, one for all that lie in one place; farther off where a target's cross is in the way."""
    groups: list[tuple[Point, list[str]]] = []
    for place, name in zip(places, names, strict=True):
        near = next((group for group in groups if math.dist(group[0], place) < GAP), None)
        if near:
            near[1].append(name)
        else:
            groups.append((place, [name]))
    arms = [(target[0] + x, target[1] + y) for x, y in ((-ARM, 0), (ARM, 0), (0, -ARM), (0, ARM))] if target else []
    labels = Labels([*taken, *arms])
    found = []
    for place, those in groups:
        labels.gap = ARM + GAP if target and math.dist(place, target) < ARM else GAP
        found.append(labels.beside(place, ", ".join(those)))
    return found


def _plot(plane: ColourPlane, records: Sequence[Record], target: Lab | None, tolerance: float, where: str) -> str:
    outline = plane.place(plane.tolerance(target, tolerance)) if target else np.empty((0, 2))
    rings = [plane.uncertainty(record.colour.lab, record.colour.covariance) for record in records]
    middle = plane.place(np.array(target or (50.0, 0.0, 0.0)))
    frame = square_frame(LEFT, TOP, SIDE, np.concatenate([np.array([middle]), outline, *rings]))
    at = [points_at(frame, plane.place(np.array([record.colour.lab])))[0] for record in records]
    parts = axes(frame, plane.x_name, plane.y_name)
    parts += [path(points_at(frame, ring), closed=True, style=line_style(GREY, 0.6)) for ring in rings]
    if target:
        parts += _target(points_at(frame, outline), points_at(frame, plane.place(np.array([target])))[0])
    parts += [_mark(record.state.name, place) for record, place in zip(records, at, strict=True)]
    labels = Labels(at)
    # The latest first: where there is no room for all, the older ones go without.
    parts += [
        labels.beside(place, str(record.number)) for record, place in reversed(list(zip(records, at, strict=True)))
    ]
    parts += _legend(records, target is not None)
    title = f"{plane.name} plot of {len(records)} record{'s' * (len(records) != 1)}"
    return drawing(
        LEFT + SIDE + 16, TOP + SIDE + BELOW + 2.4 * SIZE, title, _told(records, target, tolerance, where), parts
    )


def _told(records: Sequence[Record], target: Lab | None, tolerance: float, where: str) -> str:
    aim = f"Target {lab_words(target)}, CIEDE2000 tolerance {tolerance:g} {where}. " if target else "No target. "
    marks = "Numbers are records; thin outlines hold the true colour in 95 of 100 cases."
    return aim + (marks if records else "No record yet.")


def _target(outline: list[Point], at: Point) -> list[str]:
    x, y = at
    cross = [path([(x - 14, y), (x + 14, y)]), path([(x, y - 14), (x, y + 14)])]
    return [path(outline, closed=len(outline) == RAYS, style=line_style(INK, 1.4, dash="6 3")), *cross]


def _mark(state: str, at: Point) -> str:
    x, y = at
    if state == WET:
        return circle(at, R - 0.5, OPEN)
    if state == HEAT_SET:
        return path([(x - 4, y - 4), (x + 4, y - 4), (x + 4, y + 4), (x - 4, y + 4)], closed=True, style=FILLED)
    if state == WASHED:
        return path([(x, y - R), (x + R, y), (x, y + R), (x - R, y)], closed=True, style=OPEN)
    if state == RUBBED:
        return path([(x, y + R), (x + R, y - R + 1), (x - R, y - R + 1)], closed=True, style=OPEN)
    return path([(x, y - R), (x + R, y + R - 1), (x - R, y + R - 1)], closed=True, style=FILLED)


def _legend(records: Sequence[Record], target: bool) -> list[str]:
    """Below the axes: a mark and its word for each state that is there, then cross and dashes."""
    x, y, parts = LEFT, TOP + SIDE + BELOW, []
    for state in (state for state in STATES if any(record.state.name == state for record in records)):
        parts += [_mark(state, (x + R, y - 4)), words((x + 3 * R, y), state, colour=GREY)]
        x += 4 * R + WIDE * SIZE * (len(state) + 1)
    if target:
        x, y = LEFT, y + 1.6 * SIZE
        parts += [path([(x, y - 4), (x + 12, y - 4)]), path([(x + 6, y - 10), (x + 6, y + 2)])]
        parts += [words((x + 18, y), "target; dashed: its tolerance", colour=GREY)]
    return parts
