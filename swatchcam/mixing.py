"""Which pigments, and how much of each, give a colour on the cloth: several choices, and how good each is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from .colorimetry import delta_e_2000
from .difference import Measured
from .palette import Foreseen, Palette
from .record import Lab
from .seek import seek
from .uncertainty import scatter

Array = NDArray[np.float64]

MOST = 10.0  # % of all pigments together: above it prints rub and wash off; from memory, no figure was found
FAINTEST = 0.002  # %; less of a pigment is not worth opening its bottle
STARTS = {1: (0.1, 0.6, 3.0), 2: (0.1, 0.6, 2.0), 3: (0.08, 0.4, 1.5), 4: (0.1, 0.6)}  # % of each, to start from
WEIGHED = 12  # mixes of each number of pigments whose uncertainty is worked out
DRAWS = 500
WORTH_ONE_MORE = 0.3  # CIEDE2000 that a further pigment must bring; common sense, no source


@dataclass(frozen=True)
class Target:
    """The colour that is wanted, D65 and 10 degrees."""

    lab: Lab
    words: str
    measured: Measured | None = None  # a drawdown; None if only the numbers are known
    reflectance: tuple[float, ...] | None = None  # (81,) where there is one


@dataclass(frozen=True)
class Limits:
    """What a recipe may hold."""

    most: float = MOST  # % of all pigments together
    each: Mapping[str, float] = field(default_factory=dict)  # pigment -> % at most
    pigments: int = 3  # how many at most


@dataclass(frozen=True)
class Mix:
    """One choice."""

    shares: dict[str, float]  # pigment -> % of the whole
    foreseen: Foreseen
    distance: float  # CIEDE2000 of the foreseen colour from the aim
    expected: float  # CIEDE2000 from the target to be expected of the next drawdown, its uncertainty included

    @property
    def load(self) -> float:
        """Pigment in the whole, %."""
        return sum(self.shares.values())


def mixes(palette: Palette, target: Target, limits: Limits, allowed: Sequence[str] | None = None) -> list[Mix]:
    """The best mixes of each number of pigments, what is best to be expected first."""
    aim = np.array(target.lab) if target.measured is None else palette.aim(target.measured)
    names = [name for name in palette.pigments if allowed is None or name in allowed]
    found: list[Mix] = []
    for count in range(1, min(limits.pigments, len(names)) + 1):
        found += _of(palette, target, aim, limits, list(combinations(names, count)))
    return sorted(found, key=lambda mix: mix.expected)


def _of(palette: Palette, target: Target, aim: Array, limits: Limits, sets: list[tuple[str, ...]]) -> list[Mix]:
    """The best mixes of these sets of pigments, all of the same number."""
    index = np.array([[palette.pigments.index(name) for name in names] for names in sets])
    starts = STARTS[index.shape[1]]
    places = np.repeat(index, len(starts), axis=0)
    amounts = np.tile(np.repeat(np.array(starts)[:, None], index.shape[1], axis=1), (len(sets), 1))
    high = np.array([[min(limits.each.get(name, np.inf), limits.most) for name in palette.pigments]])[0][places]

    def to_shares(loads: Array) -> Array:
        shares = np.zeros((len(loads), len(palette.pigments)))
        scale = np.minimum(1, limits.most / loads.sum(axis=1, keepdims=True))
        np.put_along_axis(shares, places, loads * scale, axis=1)
        return shares

    reached = seek(palette, aim, amounts, np.full_like(high, FAINTEST), high, to_shares)
    shares, best = to_shares(reached.amounts), {}
    for row in np.argsort(reached.distance):
        best.setdefault(tuple(places[row]), row)
    rows = list(best.values())[:WEIGHED]
    return [weighed(palette, target, {palette.pigments[p]: float(shares[row, p]) for p in places[row]}) for row in rows]


def weighed(palette: Palette, target: Target, shares: dict[str, float], std: Mapping[str, float] | None = None) -> Mix:
    """A mix with what is to be expected of it."""
    foreseen = palette.foresee(shares, target.measured, std)
    lab = np.array(foreseen.lab)
    aim = np.array(target.lab) if target.measured is None else lab - np.array(foreseen.miss)
    draws = lab + scatter(foreseen.covariance, DRAWS)
    return Mix(shares, foreseen, float(delta_e_2000(lab, aim)), float(np.mean(delta_e_2000(draws, aim))))


def choices(found: Sequence[Mix]) -> list[Mix]:
    """Of the mixes the best of each number of pigments, the recommended one first.

    Recommended is the one with the fewest pigments that is to be expected hardly worse than the best.
    """
    best: dict[int, Mix] = {}
    for mix in sorted(found, key=lambda mix: mix.expected):
        best.setdefault(len(mix.shares), mix)
    enough = min(mix.expected for mix in best.values()) + WORTH_ONE_MORE
    few = min(count for count, mix in best.items() if mix.expected <= enough)
    return [best[few], *(mix for count, mix in sorted(best.items()) if count != few)]
