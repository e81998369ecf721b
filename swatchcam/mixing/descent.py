"""Seeking amounts that give a colour: many starts at once, each going downhill by damped Gauss-Newton steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.intervals import unit_metric
from .pigment_model import Palette

Shares = Callable[[Array], Array]  # (m, k) amounts -> (m, pigments) shares, %

# No source for these.
ROUNDS, STEP = 14, 1e-3  # at most; natural logarithm of an amount, by which slopes are told
DAMPING, LESS, MORE = 0.05, 0.3, 4.0  # at first, against squares of CIEDE2000; times, after a step that helped or not
LONGEST = 1.2  # natural logarithm of an amount, at most in one step


@dataclass(frozen=True)
class Reached:
    """Where each start came to."""

    amounts: Array  # (m, k)
    lab: Array  # (m, 3)
    distance: Array  # (m,) CIEDE2000 from the aim


def seek(
    palette: Palette,
    aim: Array,
    starts: Array,
    low: Array,
    high: Array,
    to_shares: Shares,
    besides: Callable[[Array], Array] | None = None,
) -> Reached:
    """The amounts near each start whose mix comes nearest to a colour.

    Parameters
    ----------
    aim : (3,) CIELAB, D65 and 10 degrees
    starts : (m, k) amounts above 0
    low, high : (k,) or (m, k) bounds of the amounts; low above 0
    to_shares : what a mix with such amounts holds, (m, k) amounts -> (m, pigments) %
    besides : what shall be small too, in units of CIEDE2000, (m, k) amounts -> (m, any number)

    Source
    ------
    Levenberg 1944, Marquardt 1963, in the logarithms of the amounts; the distance is CIEDE2000, linearised about the
    aim (after Allen 1974, doi:10.1364/JOSA.64.000991, who matches tristimulus values so).
    """
    metric = unit_metric(aim)
    floor, roof = np.log(low), np.log(high)

    def off(at: Array) -> Array:
        amounts = np.exp(at)
        miss = (palette.labs(to_shares(amounts)) - aim) @ metric.T
        return miss if besides is None else np.hstack([miss, besides(amounts)])

    at = np.clip(np.log(starts), floor, roof)
    damping, miss = np.full(len(at), DAMPING), off(at)
    for _ in range(ROUNDS):
        slope = np.stack([off(at + STEP * unit) - miss for unit in np.eye(at.shape[1])], axis=-1) / STEP
        step = _step(slope, miss, damping)
        # What stands at a bound and would go beyond it stays there, and the others do without it.
        stuck = ((at <= floor) & (step < 0)) | ((at >= roof) & (step > 0))
        step = np.where(stuck, 0.0, _step(slope * ~stuck[:, None], miss, damping)) if stuck.any() else step
        tried = np.clip(at + np.clip(step, -LONGEST, LONGEST), floor, roof)
        found = off(tried)
        better = (found**2).sum(axis=1) < (miss**2).sum(axis=1)
        at, miss = np.where(better[:, None], tried, at), np.where(better[:, None], found, miss)
        damping = np.clip(damping * np.where(better, LESS, MORE), 1e-6, 1e6)
    lab = palette.labs(to_shares(np.exp(at)))
    return Reached(np.exp(at), lab, delta_e_2000(lab, aim))


def _step(slope: Array, miss: Array, damping: Array) -> Array:
    """(m, k) the damped step for each of m starts."""
    normal = np.swapaxes(slope, 1, 2) @ slope
    normal = normal + damping[:, None, None] * np.eye(slope.shape[2])
    return np.asarray(-np.linalg.solve(normal, (np.swapaxes(slope, 1, 2) @ miss[:, :, None]))[..., 0])
