"""What a later state, such as heat-set or washed, does to a layer of ink, and how large that change is.

Another cloth moves a layer's numbers too (`other_cloth`), and how much is judged in the same way.

Heat clears the binder, changes the strength of each pigment in its own way, lets ink sink in, and yellows the cloth.
So the change is not stored as a shift of one colour, but is added to the numbers that describe the layer
(`film_model`). It then depends on mixture, load and cloth, and what one pair of strips teaches holds for other mixes of
the same pigments too. A pigment that no pair contains is taken to move as the others do, give or take the spread below.
Three things are judged from the strips: how large the change is, how far this theory is off, and how much strips from
one iron differ. Each is the root mean square over all likely values, weighted by their evidence (MacKay 1992,
doi:10.1162/neco.1992.4.3.415).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from ..arrays import Array, Mask
from .film_model import Layer
from .prior import smooth

# How far the numbers of a layer move, one standard deviation; natural logarithms but for the surface's shares. Common
# sense, no source; checked on build studios.
ALL_STRENGTHS, STRENGTH, BEND, BEND_LENGTH = 0.12, 0.07, 0.04, 60.0  # of absorption: all alike, each, by wavelength, nm
SCATTER, CROWDING, BINDER = 0.3, 0.3, 0.6
SURFACE = 0.007, 0.07
CLOTH, CLOTH_LENGTH = 0.02, 80.0  # nm
# What is tried of a shift: how much of the above; CIEDE2000 that the theory is off; that strips differ. And what is
# thought of each beforehand: the middle; a factor of two either way is one standard deviation. No source.
SIZES, OFFS, UNEVENS = np.geomspace(0.35, 2.8, 5), np.geomspace(0.15, 1.6, 4), np.geomspace(0.1, 2.4, 6)
MIDDLES, FACTOR = (0.9, 0.3, 0.3), 2.0
Middles = tuple[float, float, float]
MOST = 40  # strips from which it is judged; more tell it hardly better; no source


@dataclass(frozen=True)
class StateShift:
    """How much a later state, or another cloth, moves colours."""

    size: float  # of what is thought of it beforehand
    off: float  # CIEDE2000 by which the theory of it is off
    uneven: float  # CIEDE2000 by which strips of one ink, treated alike, come out unlike
    strips: int  # in that state, from which it was judged


RISES = float(np.exp(np.log(FACTOR) ** 2))  # the root mean square of such numbers, against their middle


def usual_shift(middles: Middles = MIDDLES) -> StateShift:
    """How much there is of a shift where no strip tells."""
    size, off, uneven = (RISES * middle for middle in middles)
    return StateShift(size, off, uneven, 0)


USUAL = usual_shift()


def doubt_of_shift(layer: Layer) -> Array:
    """(of_one_state, of_one_state) covariance of what a later state adds, beforehand."""
    found, count = np.zeros((layer.of_one_state,) * 2), len(layer.pigments)
    own = STRENGTH**2 + BEND**2 * smooth(BEND_LENGTH)
    for p in range(count):
        for other in range(count):
            found[layer.absorption_of(p), layer.absorption_of(other)] = ALL_STRENGTHS**2 + own * (p == other)
        for at, std in ((layer.scatter_of(p), SCATTER), (layer.crowding_of(p), CROWDING)):
            found[at, at] = std**2
    found[layer.ground, layer.ground] = CLOTH**2 * smooth(CLOTH_LENGTH)
    last = range(layer.binder, layer.of_one_state)
    found[last, last] = np.array([BINDER, *SURFACE]) ** 2
    return found


def with_shift(doubt: Array, moves: Array | None, size: float) -> Array:
    """(unknowns, unknowns) covariance beforehand of a layer's numbers and of what the later strips add to them.

    `doubt` and `moves` (of size 1) are (of_one_state, of_one_state); None where there are no later strips.
    """
    if moves is None:
        return doubt
    none = np.zeros_like(doubt)
    return np.block([[doubt, none], [none, size**2 * moves]])


def judge_shift(
    off: Array,
    covariance: Array,
    parts: tuple[Array, Array, Array],
    later: Mask,
    middles: Middles = MIDDLES,
) -> StateShift:
    """How much there is of a shift, judging from n strips, some of them later ones.

    Parameters
    ----------
    off : (3 n,) Lab off what was thought beforehand
    covariance : (3 n, 3 n) of that, but for the shift
    parts : (3 n, 3 n) each, what a shift adds to the covariance with 1 of size, off and uneven
    later : (n,) which are later ones
    middles : of what is thought of size, off and uneven beforehand
    """
    where = np.flatnonzero(later)[:: -(-int(later.sum()) // MOST) or 1]
    if not len(where):
        return usual_shift(middles)
    own, others = (np.ravel(3 * rows[:, None] + np.arange(3)) for rows in (where, np.flatnonzero(~later)))
    gain = np.linalg.solve(covariance[np.ix_(others, others)], covariance[np.ix_(others, own)]).T
    seen = off[own] - gain @ off[others]
    left = covariance[np.ix_(own, own)] - gain @ covariance[np.ix_(others, own)]
    each = [part[np.ix_(own, own)] for part in parts]
    tried = np.array(list(product(SIZES, OFFS, UNEVENS)))
    evidence = np.array([_evidence(seen, left + np.tensordot(one**2, each, 1)) for one in tried])
    evidence -= ((np.log(tried / middles) / np.log(FACTOR)) ** 2).sum(axis=1) / 2
    likely = np.exp(evidence - evidence.max())
    size, theory, uneven = np.sqrt(likely @ tried**2 / likely.sum())
    return StateShift(float(size), float(theory), float(uneven), int(later.sum()))


def _evidence(seen: Array, covariance: Array) -> float:
    """Natural logarithm of how likely what is seen was, but for a constant."""
    factor = np.linalg.cholesky(covariance)
    return -float(np.log(np.diag(factor)).sum() + (np.linalg.solve(factor, seen) ** 2).sum() / 2)
