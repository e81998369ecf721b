"""A row of known strips in the photo -> how far off the phone is with inks like these, taken off again.

The error of a strip's colour and those of the row's are taken as normal, with the covariances that the budget
gives each, and the more alike the nearer they lie; what the row shows is then conditioned on (kriging: Krige 1951;
Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eqs. 2.22 to 2.24).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..arrays import Array
from .error_budget import Colour
from .pigment_row import PigmentRow

# No source for these three.
REACH = 14.0  # CIELAB units over which two inks err alike
LIKENESS = 0.7  # of the errors of two inks of one colour; the rest is each one's own
STRAY = 16.0  # squared distance in standard deviations, median over the row: its strips lie in other places
SHARED = ("ink", "eye", "fit")  # parts of the error that inks of like colour have in common


def corrected(colours: Sequence[Colour], shown: Sequence[Colour], row: PigmentRow) -> tuple[Colour, ...]:
    """The colours, moved by what the row's strips show, with what is left of their error.

    `shown` are the row's strips as measured, in the order of its windows.
    """
    illuminant, observer = shown[0].balance.illuminant, shown[0].balance.observer
    known = np.array([row.lab(window.name, illuminant, observer) for window in row.windows])
    off = known - np.array([colour.lab for colour in shown])
    roots = [_root(_shared(colour)) for colour in shown]
    count = len(shown)
    alike = LIKENESS * _alike(shown, shown) + (1 - LIKENESS) * np.eye(count)
    among = np.block([[alike[i, j] * roots[i] @ roots[j] for j in range(count)] for i in range(count)])
    for i, colour in enumerate(shown):
        own = colour.parts["noise"] + colour.parts["light"] + row.uncertainty**2 / 3 * np.eye(3)
        among[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] += own
    return tuple(_moved(colour, shown, roots, np.linalg.inv(among), off.ravel()) for colour in colours)


def in_place(shown: Sequence[Colour], row: PigmentRow) -> bool:
    """Whether the row's strips look like what lies in their places, as measured in the order of its windows."""
    illuminant, observer = shown[0].balance.illuminant, shown[0].balance.observer
    strays = []
    for window, colour in zip(row.windows, shown, strict=True):
        off = row.lab(window.name, illuminant, observer) - np.array(colour.lab)
        strays.append(off @ np.linalg.solve(colour.covariance + row.uncertainty**2 * np.eye(3), off))
    return float(np.median(strays)) < STRAY


def _moved(colour: Colour, shown: Sequence[Colour], roots: list[Array], inverse: Array, off: Array) -> Colour:
    shared = _shared(colour)
    nearness = LIKENESS * _alike([colour], shown)[0]
    across = np.hstack([near * _root(shared) @ root for near, root in zip(nearness, roots, strict=True)])
    lab = np.array(colour.lab) + across @ inverse @ off
    left = shared - across @ inverse @ across.T
    nothing = np.zeros((3, 3))
    parts = colour.parts | {"ink": left, "eye": nothing, "fit": nothing}
    return replace(colour, lab=(float(lab[0]), float(lab[1]), float(lab[2])), parts=parts)


def _shared(colour: Colour) -> Array:
    return np.asarray(np.sum([colour.parts[part] for part in SHARED], axis=0))


def _alike(some: Sequence[Colour], others: Sequence[Colour]) -> Array:
    """(n, m) likeness of the errors of two colours, 1 for the same colour."""
    way = np.array([c.lab for c in some])[:, None] - np.array([c.lab for c in others])
    return np.asarray(np.exp(-(way**2).sum(axis=-1) / (2 * REACH**2)))


def _root(covariance: Array) -> Array:
    values, axes = np.linalg.eigh(covariance)
    return np.asarray((axes * np.sqrt(np.maximum(values, 0))) @ axes.T)
