"""The film of a strip by weight: so many grams of wet ink on a known area.

The thickness of a strip is what its colour hangs on most and what a photo cannot tell; a scale can.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from ..errors import UsageError
from .numbers import NUMBER, check_number, number_of
from .print_run import MM_IN
from .scale_resolution import shown, weighed_std

WEIGHED = re.compile(
    r"(?P<grams>\d+(?:[.,](?P<decimals>\d+))?)\s*(?P<unit>m?g)\s+on\s+"
    r"(?:(?P<strips>[1-9]\d{0,4})\s*strips?\s+(?:of\s+)?)?(?P<area>\d.*)",
    re.I,
)
SIDES = re.compile(rf"{NUMBER}\s*(mm|cm|m)?\s*[x×*]\s*{NUMBER}\s*(mm|cm|m)?", re.I)
SQUARE = re.compile(rf"{NUMBER}\s*(mm|cm|m)(?:2|²)", re.I)
LEAST_STEPS = 20  # of the scale; below, the weight is unsure by more than 2 %; no source
SIDE_STD = 1.0  # mm, of a side that was measured with a ruler; common sense, no source
LEAST_SIDE, MOST_SIDE = 10.0, 5000.0  # mm; no source
EVENNESS = 0.03  # of a film that was weighed: how evenly it was spread; common sense, no source
LEAST_COAT, MOST_COAT = 1.0, 2000.0  # g/m²; beyond, weight or area are likely mistyped; no source


@dataclass(frozen=True)
class Coat:
    """Wet ink on a strip, by weight."""

    g_m2: float
    std: float  # one standard deviation, as a part of it


def parse_coat(text: str, scale_g: float | None = None) -> Coat:
    """ "0.72 g on 10x10 cm", "7,2 g on 10 strips of 10 × 10 cm" or "720 mg on 100 cm²" -> Coat.

    The scale's step is that of the last digit, or `scale_g` where somebody said that and it is coarser. The strips of
    one weighing are cut alike: what is wrong with a side is wrong with all of them.

    Raises
    ------
    UsageError
        It cannot be read, makes no sense, or weighs fewer than LEAST_STEPS of the scale.

    Source
    ------
    JCGM 100:2008, 4.3.7 and 5.1.2: a weight is the difference of two readings, each anywhere in its step.
    """
    found = WEIGHED.fullmatch(" ".join(text.split()))
    sides = _sides_mm(found["area"]) if found else None
    if found is None or sides is None:
        raise UsageError("coat-unreadable", "write-a-coat", typed=text[:60])
    unit_g = 0.001 if found["unit"].lower() == "mg" else 1.0
    grams, step = number_of(found["grams"]) * unit_g, unit_g * 10.0 ** -len(found["decimals"] or "")
    strips = int(found["strips"] or 1)
    for side in sides:
        check_number(side, "strip-side", LEAST_SIDE, MOST_SIDE)
    check_number(grams, "coat-grams", 1e-4, 1e4)
    step = max(step, scale_g or 0.0)
    # The dust of floats must not decide: 0.2 g are 20 steps of 0.01 g.
    if grams < LEAST_STEPS * step * (1 - 1e-9):
        together = _together(grams, step, strips)
        raise UsageError("coat-below-scale", "weigh-strips-together", area=found["area"][:40], **together)
    return _coat(grams, step, strips, sides)


def _coat(grams: float, step_g: float, strips: int, sides_mm: tuple[float, float]) -> Coat:
    g_m2 = grams / (strips * sides_mm[0] * sides_mm[1] / 1e6)
    check_number(g_m2, "coat", LEAST_COAT, MOST_COAT)
    return Coat(g_m2, math.hypot(weighed_std(step_g) / grams, *(SIDE_STD / side for side in sides_mm)))


def _together(grams: float, step_g: float, strips: int) -> dict[str, float | str]:
    """How many tens of strips must be weighed together, and what the scale will show for them."""
    each = grams / strips
    tens = math.ceil(LEAST_STEPS * step_g / each / 10 - 1e-9)
    return {"grams": grams, "step": step_g, "strips": 10 * tens, "shown": shown(10 * tens * each, step_g)}


def _sides_mm(text: str) -> tuple[float, float] | None:
    """The sides of a strip; of an area alone those of a square. Without a unit they are cm."""
    if found := SIDES.fullmatch(text.strip()):
        one, other = found[2] or found[4] or "cm", found[4] or found[2] or "cm"
        return number_of(found[1]) * MM_IN[one.lower()], number_of(found[3]) * MM_IN[other.lower()]
    if found := SQUARE.fullmatch(text.strip()):
        side = math.sqrt(number_of(found[1])) * MM_IN[found[2].lower()]
        return side, side
    return None
