"""What a strip will look like after heat setting, from its dry colour and what earlier strips did.

The shift is a straight line in the dry colour, counted from the bare cloth: a pale strip moves less than a deep one, as
heat works on little ink there. Beforehand the likeliest is that colours move towards the cloth or away from it, as if
there were less or more ink, so few pairs teach a good deal. How steep the line may be, and how far strips scatter about
it, is weighed by how likely each makes the pairs (marginal likelihood), and all of it is averaged.
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
from ..colorimetry.spectra import reflectance_to_lab
from ..errors import LibraryError
from ..messages.message import Flag, flag
from ..text import key
from .heat_shift import BeforeAfter

LEAST, ENOUGH = 3, 8  # pairs: fewer than the first are refused, fewer than the second flagged
BEYOND = 5.0  # CIELAB; so far outside the pairs' colours a prediction is not yet stretched
NAMES = ("L*", "C*", "a*", "b*")
UNITS = np.array([20.0, 30.0, 40.0, 40.0])  # CIELAB; over these a slope of 1 moves the shift by 1
# What is likely beforehand, CIELAB; all of it common sense, no source.
WHITE = 93.0, 0.0, 3.0  # of cloth, where no photo showed it
BARE = 1.5  # what heat does to bare cloth, one standard deviation
AXES = np.array([0.75, 1.0, 1.2])  # L* moves least and b*, whose range is the widest, most
WAY = 0.1  # with a slope of 1 a colour comes so much of its way nearer to the cloth, or farther from it
SLOPES = np.array([0.1, 0.5, 1.0, 2.0])  # what is tried, each as likely
SCATTERS = np.geomspace(0.2, 5, 10)  # what is tried, of a strip in the middle between pale and deep
USUAL, UNUSUAL = 1.0, 0.5  # a usual scatter, and how far its natural logarithm varies
PALE, DEEP = 0.5, 60.0  # times that scatter on bare cloth, and how far from the cloth it is once more that
# Most of what a photo's colour errs by it errs by before and after alike. Of the variance that two photos state for a
# shift, drawn ones show about a quarter; to believe all of it would leave too little for the strips themselves.
SEEN = 0.25
# Of other pigments a strip may move quite otherwise: three axes of Student's distribution with six degrees of freedom
# hold 95 % in a region that is so much wider than that of a normal distribution with the same variance.
TAILS = 1.1


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
class Model:
    """What pairs of one ink family on one cloth teach."""

    cloth: Array  # (3,) CIELAB of the bare cloth
    coefficients: Array  # (3, 5) of the shift of L*, a*, b* by 1 and the four features
    covariance: Array  # (15, 15)
    scatter: float  # variance of a strip in the middle about the line, CIELAB squared
    low: Array  # (4,) least and greatest features of the pairs
    high: Array
    pairs: int

    def predict(self, colour: Measured) -> HeatPrediction:
        """The colour after heat setting, of a dry one.

        What the dry colour's error shares with other measurements of the same phone and light stays shared: so the
        difference from a heat-set record is surer than either colour by itself.
        """
        dry, features = np.array(colour.lab), _features(colour.lab)
        row = _row(dry, self.cloth)
        after, rows = dry + self.coefficients @ row, np.kron(np.eye(3), row)
        strip = self.scatter * np.diag(AXES * _depth(dry, self.cloth)) ** 2
        noise = colour.errors.parts["noise"] + TAILS**2 * (rows @ self.covariance @ rows.T + strip)
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
    dry = np.array([pair.before.colour.lab for pair in pairs])
    shifts = np.array([pair.after.colour.lab for pair in pairs]) - dry
    noise = np.array([covariance_of_difference(pair.after.colour, pair.before.colour) for pair in pairs])
    cloth, features = _bare(pairs), _features(dry)
    line = _line(_row(dry, cloth), shifts, SEEN * noise, _depth(dry, cloth))
    return Model(cloth, *line, features.min(axis=0), features.max(axis=0), len(pairs))


def _check(pairs: Sequence[BeforeAfter]) -> None:
    if len(pairs) < LEAST:
        raise LibraryError("too-few-heat-pairs", "heat-set-more", pairs=len(pairs), least=LEAST, enough=ENOUGH)
    cloths = sorted({key(pair.before.cloth): pair.before.cloth for pair in pairs}.values())
    if len(cloths) > 1:
        raise LibraryError("pairs-on-several-cloths", "predict-for-one-cloth", cloths=cloths)


def _bare(pairs: Sequence[BeforeAfter]) -> Array:
    """(3,) CIELAB of the bare cloth, as the photos of the dry strips show it."""
    dry = [pair.before.colour for pair in pairs]
    seen = [reflectance_to_lab(one.cloth, one.illuminant, one.observer) for one in dry if one.cloth is not None]
    return np.mean(seen or [np.array(WHITE)], axis=0)


def _features(lab: ArrayLike) -> Array:
    """(..., 3) CIELAB -> (..., 4): L*, C*, and C* times cosine and sine of the hue, which are a* and b*."""
    lightness, a, b = np.moveaxis(np.asarray(lab, dtype=float), -1, 0)
    return np.stack([lightness, np.hypot(a, b), a, b], axis=-1)


def _row(lab: Array, cloth: Array) -> Array:
    """(..., 3) -> (..., 5): what the coefficients of a line are multiplied with."""
    return np.concatenate([np.ones_like(lab[..., :1]), (_features(lab) - _features(cloth)) / UNITS], axis=-1)


def _depth(lab: Array, cloth: Array) -> Array:
    """(..., 1) how much strips of this colour scatter, where one in the middle between pale and deep does by 1."""
    return PALE + np.linalg.norm(lab - cloth, axis=-1, keepdims=True) / DEEP


def _before(slope: float) -> Array:
    """(15, 15) covariance of the coefficients beforehand, row by row of (3, 5)."""
    variances = np.repeat((slope * AXES[:, None]) ** 2, 5, axis=1)
    variances[:, 0] = BARE**2
    way = np.zeros((3, 5))
    way[[0, 1, 2], [1, 3, 4]] = WAY * slope * UNITS[[0, 2, 3]]
    return np.diag(variances.ravel()) + np.outer(way, way)


def _line(rows: Array, shifts: Array, noise: Array, depth: Array) -> tuple[Array, Array, float]:
    """The average of the lines for every scatter and slope on the grid, each as likely as it makes the pairs.

    rows (n, 5), shifts (n, 3), noise (n, 3, 3), depth (n, 1); coefficients (3, 5), their covariance (15, 15), scatter.
    """
    scatter, slope = (grid.ravel() for grid in np.meshgrid(SCATTERS, SLOPES, indexing="ij"))
    strips = (scatter[:, None, None] * depth * AXES) ** 2
    weight = np.linalg.inv(noise + strips[..., None] * np.eye(3))
    before = np.array([_before(each) for each in slope])
    facts = np.einsum("gnij,nk,nl->gikjl", weight, rows, rows, optimize=True).reshape(before.shape)
    precision = facts + np.linalg.inv(before)
    covariance = np.linalg.inv(precision)
    pull = np.einsum("gnij,nj,nk->gik", weight, shifts, rows, optimize=True).reshape(len(scatter), -1)
    means = np.einsum("gij,gj->gi", covariance, pull)
    evidence = np.linalg.slogdet(weight)[1].sum(axis=1)
    evidence -= np.linalg.slogdet(before)[1] + np.linalg.slogdet(precision)[1]
    evidence -= np.einsum("gnij,ni,nj->g", weight, shifts, shifts, optimize=True) - (pull * means).sum(axis=1)
    evidence -= (np.log(scatter / USUAL) / UNUSUAL) ** 2
    share = np.exp((evidence - evidence.max()) / 2)
    share /= share.sum()
    mean = share @ means
    apart = means - mean
    spread = np.einsum("g,gij->ij", share, covariance) + np.einsum("g,gi,gj->ij", share, apart, apart)
    return mean.reshape(3, 5), spread, float(share @ scatter**2)
