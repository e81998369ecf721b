"""In which order things go into a pot: what changes the colour of this very mix least per gram first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ...colorimetry.intervals import unit_metric
from ...recipes.dosing import Dose
from ...text import key
from ..pigment_model import Palette

MORE = 1e-4  # g in 100 g of the pot, by which it is told how much a thing changes


def by_sensitivity(
    palette: Palette, shares: Mapping[str, float], doses: Sequence[Dose], strengths: Mapping[str, float]
) -> list[Dose]:
    """The doses in the order in which they go in: light and weak first, what changes most per gram last.

    Parameters
    ----------
    shares : pigment -> % in the finished pot
    doses : what is put in; a pre-mix changes less per gram than its pigment
    strengths : pigment -> strength of the lot in use, against that of its test series
    """
    return sorted(doses, key=lambda dose: per_gram(palette, shares, dose, strengths))


def per_gram(palette: Palette, shares: Mapping[str, float], dose: Dose, strengths: Mapping[str, float]) -> float:
    """CIEDE2000 by which 1 g more of what is put in changes 100 g of a pot with such shares, %; to first order."""
    whole = palette.vector(shares)
    name = key(dose.what)
    added = palette.vector({name: dose.share * strengths.get(name, 1.0)})
    labs = palette.labs(np.array([whole, whole + MORE * (added - whole / 100)]))
    return float(np.linalg.norm(unit_metric(labs[0]) @ (labs[1] - labs[0])) / MORE)
