"""Least squares: the likeliest numbers, and how sure they are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array

MAX_DAMPING = 1e10  # steps are then far below the rounding of the numbers: nothing can be gained


@dataclass(frozen=True)
class Fit:
    """Parameters that make the squared residuals least; the arrays are read-only."""

    x: Array  # (n,)
    covariance: Array  # (n, n), for residuals of unit variance; huge in a direction that nothing fixes
    residuals: Array  # (m,) at x, without those of the prior
    converged: bool


def least_squares(
    residuals: Callable[[Array], Array],
    start: ArrayLike,
    *,
    steps: int = 50,
    tolerance: float = 1e-10,
    prior_std: ArrayLike | None = None,
) -> Fit:
    """Minimise the sum of squared residuals by damped Gauss-Newton steps.

    Parameters
    ----------
    residuals : (n,) -> (m,)
        Each divided by its standard deviation.
    start : (n,)
        Where to begin. Slopes are taken over 6e-6, or that part of a parameter above 1: scale them to about 1.
    steps : most steps to take
    tolerance : gain that is nothing, as part of the sum of squares or, where that is below 1, as it is
    prior_std : (n,), optional
        Standard deviations of what was known before: the parameters are drawn towards `start`.

    Returns
    -------
    Fit, with `converged` false if the steps ran out, or no step was found though a slope is left

    Raises
    ------
    ValueError
        The residuals or their slopes are no numbers where they must be.

    Source
    ------
    Marquardt 1963, doi:10.1137/0111030.
    """
    # scipy has this too, but importing it takes longer than the whole measurement.
    start = np.array(start, dtype=float)
    everything = _with_prior(residuals, start, prior_std)
    x, damping, converged = start, 1e-3, False
    r = everything(x)
    for _ in range(steps):
        slope = _jacobian(everything, x)
        step = _damped_step(everything, x, r, slope, damping)
        if step is None:
            converged = _is_flat(slope, r)
            break
        x_new, r_new, damping = step
        gain, x, r = r @ r - r_new @ r_new, x_new, r_new
        if gain <= tolerance * max(1.0, float(r @ r)):
            converged = True
            break
    fit = Fit(x, _covariance(_jacobian(everything, x)), np.array(residuals(x)), converged)
    for array in (fit.x, fit.covariance, fit.residuals):
        array.setflags(write=False)
    return fit


def _with_prior(
    residuals: Callable[[Array], Array], start: Array, prior_std: ArrayLike | None
) -> Callable[[Array], Array]:
    if prior_std is None:
        return lambda x: np.asarray(residuals(x), dtype=float)
    std = np.broadcast_to(np.asarray(prior_std, dtype=float), start.shape)
    return lambda x: np.concatenate([residuals(x), (x - start) / std])


def _jacobian(function: Callable[[Array], Array], x: Array) -> Array:
    """(m, n) slopes by central differences."""
    steps = np.cbrt(np.finfo(float).eps) * np.maximum(1, np.abs(x))
    columns = []
    for k, step in enumerate(steps):
        up, down = x.copy(), x.copy()
        up[k] += step
        down[k] -= step
        columns.append((function(up) - function(down)) / (up[k] - down[k]))
    slope = np.stack(columns, axis=-1)
    if not np.isfinite(slope).all():
        raise ValueError(f"The residuals are no numbers near {x}.")
    return slope


def _damped_step(
    function: Callable[[Array], Array], x: Array, r: Array, slope: Array, damping: float
) -> tuple[Array, Array, float] | None:
    """A step that lessens the sum of squares, and the damping to try next; None if there is none."""
    normal, gradient = slope.T @ slope, slope.T @ r
    weight = np.maximum(np.diag(normal), np.finfo(float).eps * np.diag(normal).max())
    while gradient.any() and damping < MAX_DAMPING:
        x_new = x - np.linalg.solve(normal + damping * np.diag(weight), gradient)
        r_new = function(x_new)
        # A residual that is no number fails this too, and the step is shortened.
        if r_new @ r_new < r @ r:
            return x_new, r_new, max(damping / 10, 1e-12)
        damping *= 10
    return None


def _is_flat(slope: Array, r: Array) -> bool:
    """Whether the residuals stand at right angles to every slope, as far as numeric slopes can tell."""
    size = np.linalg.norm(slope, axis=0) * np.linalg.norm(r)
    return bool(np.all(np.abs(slope.T @ r) <= 1e-6 * size + np.finfo(float).tiny))


def _covariance(slope: Array) -> Array:
    """(J^T J)^-1; a direction that nothing fixes gets a variance too large to be overlooked, not none."""
    scale = np.linalg.norm(slope, axis=0)
    scale = np.where(scale > 0, scale, 1)
    values, axes = np.linalg.eigh((slope / scale).T @ (slope / scale))
    values = np.maximum(values, np.finfo(float).eps * max(float(values.max()), 1.0))
    covariance: Array = (axes / values) @ axes.T / np.outer(scale, scale)
    return covariance
