"""What an unmeasured print leaves unknown: by how much every colour measured with it may be off, all together.

Colours read with one print, assumed to be what its first photo made of it, share that error on whatever day: two alike
colours are off alike. A frame holds the ways in which it may be off, each a smooth change of CIELAB over CIELAB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array

TERMS = 10  # of a polynomial of second order in L*, a* and b*
REACH = np.array([50.0, 0.0, 0.0]), 50.0  # its middle and its unit, CIELAB
WAYS = 8  # that are kept: nine tenths of the spread and more
SMOOTH = 0.05  # ridge, in patches: terms that no patch tells apart stay small
DIGITS = 4  # decimals of a term, CIELAB units


@dataclass(frozen=True)
class ColourFrame:
    """The common error of all colours read with one print, as independent standard deviations."""

    key: str  # the same for all photos that were read alike
    terms: tuple[float, ...]  # (ways, 3, TERMS), flat

    def shift(self, lab: ArrayLike) -> Array:
        """(3,) CIELAB -> (3, ways) change of it for one standard deviation of each way."""
        ways = np.array(self.terms).reshape(-1, 3, TERMS)
        return np.asarray((ways @ _polynomial(np.asarray(lab, dtype=float)[None])[0]).T)

    @property
    def text(self) -> str:
        """For the header of a values file."""
        return " ".join([self.key, *(f"{term:g}" for term in self.terms)])

    @classmethod
    def of_text(cls, text: str) -> ColourFrame:
        """Back from `text`.

        Raises
        ------
        ValueError
            It is not what was written.
        """
        key, *numbers = text.split()
        terms = tuple(map(float, numbers))
        if not terms or len(terms) % (3 * TERMS) or not np.isfinite(terms).all():
            raise ValueError(f"{len(terms)} terms")
        return cls(key, terms)


def is_frame(text: str) -> bool:
    """Whether this is what `ColourFrame.text` writes."""
    try:
        return bool(ColourFrame.of_text(text).key)
    except ValueError:
        return False


def frame_of(key: str, lab: Array, changes: Array) -> tuple[ColourFrame, float]:
    """The frame behind the doubt of a print's patches, and how far (rms CIELAB) it is from that doubt.

    Parameters
    ----------
    lab : (n, 3) of the patches
    changes : (k, n, 3) ΔLab of the patches for one standard deviation of each independent unknown
    """
    basis = _polynomial(lab)
    solve = np.linalg.solve(basis.T @ basis + SMOOTH * np.eye(TERMS), basis.T)
    smooth = np.einsum("tn,knc->kct", solve, changes)  # (k, 3, TERMS)
    rest = changes - np.einsum("nt,kct->knc", basis, smooth)
    _, size, ways = np.linalg.svd((smooth @ basis.T).reshape(len(smooth), -1), full_matrices=False)
    # The ways in order of how far they move the patches; as terms again.
    main = np.einsum("tn,wcn->wct", solve, (size[:WAYS, None] * ways[:WAYS]).reshape(-1, 3, len(lab)))
    terms = tuple(float(term) + 0.0 for term in main.round(DIGITS).ravel())
    return ColourFrame(key, terms), float(np.sqrt((rest**2).sum(axis=(0, 2)).mean()))


def _polynomial(lab: Array) -> Array:
    """(n, 3) -> (n, TERMS)."""
    lightness, a, b = ((lab - REACH[0]) / REACH[1]).T
    rows = [np.ones(len(lab)), lightness, a, b, lightness**2, a**2, b**2, lightness * a, lightness * b, a * b]
    return np.stack(rows, axis=1)
