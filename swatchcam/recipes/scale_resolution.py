"""What a scale of a certain step can show, and how sure a weight from it is."""

from __future__ import annotations

import math

FINE_G = 0.01  # g: sums of what came and went are told no finer, for no scale of a studio shows more; no source


def weighed_std(scale_g: float) -> float:
    """Standard deviation, g, of a weight that is the difference of two readings of a scale with this step.

    Source
    ------
    JCGM 100:2008, 4.3.7 and 5.1.2, as for the parts of any recipe.
    """
    return scale_g / math.sqrt(6)


def on_scale(grams: float, scale_g: float) -> float:
    """The nearest weight that the scale can show."""
    return tidied(round(grams / scale_g) * scale_g, scale_g)


def shown(grams: float, scale_g: float) -> str:
    """Grams with the decimals of the scale."""
    return f"{grams:.{_decimals(scale_g)}f}"


def as_read(grams: float, scale_g: float) -> str:
    """A sum of weighings and drops as the scale would show it; what it could hardly show is told in full."""
    return f"{grams:.3g}" if grams < 10 * scale_g else f"{on_scale(grams, scale_g):.10g}"


def tidied(grams: float, scale_g: float) -> float:
    """Without the dust that multiples of 0.1 leave in a float."""
    return round(grams, _decimals(scale_g))


def _decimals(scale_g: float) -> int:
    return next(digits for digits in range(10) if digits == 9 or abs(scale_g - round(scale_g, digits)) < 1e-9 * scale_g)
