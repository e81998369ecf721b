"""What a pigment does, drawn load by load, of a dict of `mixing`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ...colorimetry.cielab import Lab
from ...colorimetry.tolerance_outline import chroma_plane, tolerance_in_lc
from ...library.labels import lab_words
from ..json_types import PigmentJson
from ..json_types.colours import AxesJson
from ..json_types.pigments import CurveStripJson
from .colour_plots import (
    LC,
    LEAST_SPAN,
    LEFT,
    OUT_OF_GAMUT,
    TOP,
    chip,
    screen_colour,
)
from .mixing_plots import BELOW, BROAD, LEGEND, NEUTRAL, NEXT, SIDE, lab_of, with_radius
from .plot_marks import dash, disc
from .svg import (
    FAINT,
    GREY,
    SIZE,
    Frame,
    axes,
    box,
    drawing,
    legend,
    line_style,
    path,
    placed,
    words,
)

NO_TICKS = (0.25, 0.75), 1.0  # a span in which no multiple of the step lies


RAMP = 58.0  # px, height of the ramp of chips


def strength_plot(facts: PigmentJson) -> str:
    """SVG of a pigment's L* and C* by load, predicted and measured, and a ramp of chips, of `mixing.pigment_dict`."""
    loads = [strip["percent"] for strip in (*facts["curve"], *facts["measured"])]
    across = math.log10(min(loads)) - 0.1, math.log10(max(loads)) + 0.1
    parts: list[str] = []
    reach = np.array([_reach(lab_of(strip), strip["interval95_ciede2000"]) for strip in facts["curve"]])
    for left, axis in ((LEFT, 1), (LEFT + NEXT, 0)):
        parts += _by_load(left, axis, across, facts, reach[..., axis])
    bottom = TOP + SIDE + BELOW
    parts += legend(LEFT, bottom + LEGEND, [(disc, "measured"), (dash, "predicted; grey: 95 of 100 lie there")])
    parts += _ramp(facts["curve"], bottom + 2 * LEGEND)
    told = "; ".join(f"{strip['percent']:g} % {with_radius(strip)}" for strip in facts["curve"])
    measured = "; ".join(f"{strip['percent']:g} % {lab_words(lab_of(strip))}" for strip in facts["measured"])
    name = f"What {facts['pigment']} does from {min(loads):g} to {max(loads):g} %"
    height = bottom + 2 * LEGEND + RAMP + 16 + 3.4 * SIZE
    return drawing(BROAD, height, name, f"Predicted: {told}. Measured: {measured or 'nothing'}.", parts)


# --- pigments -----------------------------------------------------------------------------------------------


def _by_load(left: float, axis: int, across: tuple[float, float], facts: PigmentJson, bands: Any) -> list[str]:
    """One panel: `axis` 0 is C*, 1 is L* of the plane that `chroma_plane` spans; `bands` are (n, 2), low and high."""
    curve, measured = facts["curve"], facts["measured"]
    heights = [_height(strip, axis) for strip in (*curve, *measured)]
    low, high = min([*heights, *bands[:, 0]]), max([*heights, *bands[:, 1]])
    rim = 0.06 * max(high - low, LEAST_SPAN)
    frame = Frame(left, TOP, SIDE, SIDE, across, (low - rim, high + rim))
    xs = [math.log10(strip["percent"]) for strip in curve]
    rims = [frame.at(x, band[1]) for x, band in zip(xs, bands, strict=True)]
    rims += [frame.at(x, band[0]) for x, band in reversed(list(zip(xs, bands, strict=True)))]
    parts = [path(rims, closed=True, style=f'fill="{FAINT}" fill-opacity="0.6"')]
    parts += axes(replace(frame, x=NO_TICKS[0]), "Load, % (log scale)", (LC.x_name, LC.y_name)[axis], NO_TICKS[1])
    parts += _load_marks(frame, [strip["percent"] for strip in curve])
    parts += [path([frame.at(x, _height(strip, axis)) for x, strip in zip(xs, curve, strict=True)])]
    return parts + [disc(frame.at(math.log10(strip["percent"]), _height(strip, axis))) for strip in measured]


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


def _height(strip: AxesJson, axis: int) -> float:
    return float(chroma_plane(np.array(lab_of(strip)))[axis])


def _ramp(curve: Sequence[CurveStripJson], top: float) -> list[str]:
    """The chips edge to edge on neutral grey, the load below each."""
    rim, across = 8.0, BROAD - LEFT - 16
    wide = (across - 2 * rim) / len(curve)
    parts = [path(box(LEFT, top, across, RAMP + 2 * rim), closed=True, style=f'fill="{NEUTRAL}"')]
    for place, strip in enumerate(curve):
        left, lab, name = LEFT + rim + place * wide, lab_of(strip), f"{strip['percent']:g} %"
        parts.append(placed(left, top + rim, chip(lab, name, size=(round(wide), round(RAMP)))))
        parts.append(words((left + wide / 2, top + RAMP + 2 * rim + 1.2 * SIZE), name, anchor="middle"))
    vivid = any(not screen_colour(lab_of(strip))[1] for strip in curve)
    note = f"Screen colours, roughly{f'; a corner cut off: {OUT_OF_GAMUT}' if vivid else ''}."
    return [*parts, words((LEFT, top + RAMP + 2 * rim + 2.8 * SIZE), note, colour=GREY)]
