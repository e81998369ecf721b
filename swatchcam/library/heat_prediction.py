"""What a strip will look like after heat setting, from its dry colour and what earlier strips did.

The shift of each of L*, a*, b* is a straight line in the dry colour, its slopes shrunk towards none: with few pairs
that is the plain mean shift. How much to shrink, and how far pairs scatter about the line, is weighed by how likely
each makes the pairs (marginal likelihood), and all of it is averaged. So few pairs give a wide prediction, as Student's
distribution does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Array
from ..colorimetry.cielab import Lab
from ..colorimetry.error_covariance import Errors, Measured, covariance_of_difference
from ..colorimetry.intervals import radius_of_lab
from ..errors import LibraryError
from ..messages.message import Flag, flag
from ..text import key
from .heat_shift import BeforeAfter

LEAST, ENOUGH = 3, 8  # pairs: fewer than the first are refused, fewer than the second flagged
BEYOND = 5.0  # CIELAB; so far outside the pairs' colours a prediction is not yet stretched
NAMES = ("L*", "C*", "a*", "b*")
UNITS = np.array([20.0, 30.0, 40.0, 40.0])  # CIELAB; over these a slope of 1 moves the shift by 1
WIDE = 30.0  # CIELAB; nothing is known beforehand of the mean shift
# What is tried, CIELAB. Pairs of one studio never scatter less than the first: strips are not equally thick.
SCATTERS = np.geomspace(0.15, 8, 14)
SLOPES = np.array([0.01, 0.5, 1.0, 2.0, 4.0])
LIKELY = np.array([0.5, 0.125, 0.125, 0.125, 0.125])  # beforehand: a slope there is or there is not
USUAL, UNUSUAL = 0.7, 0.7  # CIELAB: a usual scatter, and how far its natural logarithm varies; common sense, no source


@dataclass(frozen=True)
class HeatPrediction:
    """A colour that nobody has measured yet; it compares with measured ones by `verdict.between`."""

    lab: Lab
    errors: Errors  # those of the dry colour, and what is not known of the shift with its noise
    pairs: int  # how many it rests on
    flags: tuple[Flag, ...]
    name: str = "predicted"

    @property
    def covariance(self) -> Array:
        """(3, 3) of Lab, all parts."""
        return self.errors.covariance

    @property
    def radius(self) -> float:
        """CIEDE2000 within which the true colour will lie in 95 of 100 cases."""
        return radius_of_lab(np.array(self.lab), self.covariance)


@dataclass(frozen=True)
class ShiftLine:
    """The shift of one of L*, a*, b* by the dry colour."""

    coefficients: Array  # (5,) of 1 and the four features
    covariance: Array  # (5, 5)
    scatter: float  # variance of a pair about the line, CIELAB squared


@dataclass(frozen=True)
class Model:
    """What pairs of one ink family on one cloth teach."""

    lines: tuple[ShiftLine, ShiftLine, ShiftLine]
    centre: Array  # (4,) mean features of the pairs
    low: Array  # (4,) least and greatest features
    high: Array
    pairs: int

    def predict(self, colour: Measured) -> HeatPrediction:
        """The colour after heat setting, of a dry one.

        What the dry colour's error shares with other measurements of the same phone and light stays shared: so the
        difference from a heat-set record is surer than either colour by itself.
        """
        dry, features = np.array(colour.lab), _features(colour.lab)
        row = _row(features, self.centre)
        after = dry + [row @ line.coefficients for line in self.lines]
        own = np.diag([row @ line.covariance @ row + line.scatter for line in self.lines])
        noise = colour.errors.parts["noise"] + own
        noise.setflags(write=False)
        errors = replace(colour.errors, parts=colour.errors.parts | {"noise": noise})
        return HeatPrediction(
            (float(after[0]), float(after[1]), float(after[2])), errors, self.pairs, self._flags(features)
        )

    def _flags(self, features: Array) -> tuple[Flag, ...]:
        flags = []
        if self.pairs < ENOUGH:
            flags.append(flag("few-heat-set", pairs=self.pairs, enough=ENOUGH))
        outside = (features < self.low - BEYOND) | (features > self.high + BEYOND)
        if outside.any():
            names = [name for name, out in zip(NAMES, outside, strict=True) if out]
            flags.append(flag("colour-not-seen-before", axes=names))
        return tuple(flags)


def learn(pairs: Sequence[BeforeAfter]) -> Model:
    """Dry and heat-set records of the same strips -> how the shift goes with the dry colour.

    The pairs should be of one ink family on one cloth: whoever calls this knows the batches' inks.

    Raises
    ------
    LibraryError
        There are too few pairs, or they are of several cloths.

    Source
    ------
    MacKay 1992, doi:10.1162/neco.1992.4.3.415 (the evidence for a strength of shrinkage).
    """
    _check(pairs)
    features = np.array([_features(pair.before.colour.lab) for pair in pairs])
    shifts = np.array([np.subtract(pair.after.colour.lab, pair.before.colour.lab) for pair in pairs])
    noise = np.array([np.diag(covariance_of_difference(pair.after.colour, pair.before.colour)) for pair in pairs])
    centre = features.mean(axis=0)
    lightness, a, b = (_line(_row(features, centre), shifts[:, axis], noise[:, axis]) for axis in range(3))
    return Model((lightness, a, b), centre, features.min(axis=0), features.max(axis=0), len(pairs))


def _check(pairs: Sequence[BeforeAfter]) -> None:
    if len(pairs) < LEAST:
        raise LibraryError("too-few-heat-pairs", "heat-set-more", pairs=len(pairs), least=LEAST, enough=ENOUGH)
    cloths = sorted({key(pair.before.cloth): pair.before.cloth for pair in pairs}.values())
    if len(cloths) > 1:
        raise LibraryError("pairs-on-several-cloths", "predict-for-one-cloth", cloths=cloths)


def _features(lab: ArrayLike) -> Array:
    """(3,) CIELAB -> (4,): L*, C*, and C* times cosine and sine of the hue, which are a* and b*."""
    lightness, a, b = np.asarray(lab, dtype=float)
    return np.array([lightness, np.hypot(a, b), a, b])


def _row(features: Array, centre: Array) -> Array:
    """(..., 4) -> (..., 5): what the coefficients of a line are multiplied with."""
    return np.concatenate([np.ones_like(features[..., :1]), (features - centre) / UNITS], axis=-1)


def _line(rows: Array, shift: Array, noise: Array) -> ShiftLine:
    """The average of the lines for every scatter and slope on the grid, each as likely as it makes the pairs.

    rows (n, 5), shift (n,), noise (n,) variances. Errors of L*, a*, b* of a pair are taken one by one: together they
    would weigh the pairs a little better, for thrice the unknowns at once.
    """
    scatter, slope = (grid.ravel() for grid in np.meshgrid(SCATTERS, SLOPES, indexing="ij"))
    weight = 1 / (noise + scatter[:, None] ** 2)
    before = np.stack([np.full_like(slope, WIDE), slope, slope, slope, slope], axis=-1) ** -2
    precision = np.einsum("gn,ni,nj->gij", weight, rows, rows) + before[:, :, None] * np.eye(5)
    covariance = np.linalg.inv(precision)
    means = np.einsum("gij,nj,gn,n->gi", covariance, rows, weight, shift)
    misfit = weight @ shift**2 - np.einsum("gi,gij,gj->g", means, precision, means)
    evidence = np.log(weight).sum(axis=1) + np.log(before).sum(axis=1) - np.linalg.slogdet(precision)[1] - misfit
    evidence += 2 * np.tile(np.log(LIKELY), len(SCATTERS)) - (np.log(scatter / USUAL) / UNUSUAL) ** 2
    share = np.exp((evidence - evidence.max()) / 2)
    share /= share.sum()
    mean = share @ means
    apart = means - mean
    spread = np.einsum("g,gij->ij", share, covariance) + np.einsum("g,gi,gj->ij", share, apart, apart)
    return ShiftLine(mean, spread, float(share @ scatter**2))
