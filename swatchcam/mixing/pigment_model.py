"""The studio's pigments on one cloth: learned from all its strips together, and what any mix of them will look like.

The layer's theory (`film_model`) with numbers that are not known, how far the theory is off in each part of colour
space, how unlike two films are, and how a phone errs alike in like colours are all taken as normally distributed, and
all strips are explained at once (Gauss-Newton steps to the likeliest numbers; Tarantola 2005, Inverse Problem Theory,
3.4.10). What the theory leaves over is carried to neighbouring colours, as Kennedy & O'Hagan 2001,
doi:10.1111/1467-9868.00294, do for models that are not quite true. So a pot that was measured corrects the next one
that is like it, and a colour near a known strip is surer than one far off.

What is seen is CIELAB with its covariance, not the estimated reflectance: a phone's three channels know no more, and
evidence that is counted twice makes predictions false (tried on build studios: 1.4 instead of 1.1 CIEDE2000). Unlike
pigments share less of a phone's error than similar ones do: when all of it was taken as shared, the intervals for
targets made of other pigments held the truth only half the time. Between photos half is taken as shared. Scatter,
surface and crowding have wide priors, so they stay at their starting values where the data say nothing about them.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array, Mask, triple
from ..colorimetry.error_covariance import Measured, shared_errors
from ..colorimetry.intervals import radius_of_lab
from ..colorimetry.spectra import reflectance_to_lab
from ..errors import UsageError
from .film_model import DYED, FILM, Layer, lab_slopes
from .known_strip import KnownStrip
from .prior import OFF, UNSEEN_CLOTH, alike, cloth_of, first_guess, place

ROUNDS, LONGEST_STEP = 15, 1.0  # at most; of theta, in one round: more change nothing
ENOUGH, SURELY = 100, 30.0  # strips that show which theory it is; natural logarithm by which one is then out; no source
BACK = 0.7  # of a round's step, where the one before went too far; from drawn studios
STILL = 0.015  # CIELAB units by which no known strip's theory moves further: at rest; no source
FILM_STD = 0.05  # relative thickness of one strip against the next; common practice, no source
# What two strips share of a phone's error, where they are of other pigments, and where they are in other photos;
# from build studios: without this, targets of unknown pigments come out surer than they are.
UNLIKE, OTHER_PHOTO = 0.85, 0.5
LEAST, LEAST_TOLD = (
    0.02,
    1e-4,
)  # CIELAB squared: no variance is less, whatever cancels; of the known strips' errors; no source
MISFIT = 11.345  # 99 % of chi-square with three degrees of freedom (Pearson 1900)


@dataclass(frozen=True)
class Prediction:
    """What a mix will look like on the cloth."""

    lab: tuple[float, float, float]  # D65, 10 degrees
    covariance: Array  # (3, 3) of the next strip's colour
    film: Array  # (3, 3) the part of it that is the film: a strip may be thicker or thinner than usual
    ink: Array  # (3, 3) of the ink in a usual film; against a measured target, of its distance from that
    reflectance: Array  # (81,)
    miss: tuple[float, float, float]  # Lab minus the target's, as far as that is thought to be off too; else 0

    @property
    def radius(self) -> float:
        """CIEDE2000 within which the strip's true colour will lie in 95 of 100 cases."""
        return radius_of_lab(np.array(self.lab), self.covariance)


@dataclass(frozen=True)
class Palette:
    """Pigments whose behaviour was learned."""

    layer: Layer
    known_strips: tuple[KnownStrip, ...]
    theta: Array  # (unknowns,) the likeliest
    doubt: Array  # (unknowns, unknowns) covariance beforehand
    evidence: float  # natural logarithm of how likely the known strips were beforehand
    slope: Array  # (3 known strips, unknowns) of the known strips' Lab
    features: Array  # (known strips, 6) where they lie
    axes: Array  # (known strips, 3, 3) from units of CIEDE2000 to Lab, there
    told: Array  # (3 known strips,) what the known strips' Lab is off, weighed by how much it tells
    weight: Array  # (3 known strips, 3 known strips) inverse of their covariance beforehand

    @property
    def pigments(self) -> tuple[str, ...]:
        """Names, in small letters."""
        return self.layer.pigments

    @property
    def covariance(self) -> Array:
        """(unknowns, unknowns) of theta, now that the known strips were weighed."""
        cross = self.doubt @ self.slope.T
        return np.asarray(self.doubt - cross @ self.weight @ cross.T)

    def misfits(self) -> list[KnownStrip]:
        """Known strips that do not look like what all the others say of their recipe, at 99 %, the worst first.

        One that is wrong makes its neighbours look wrong too: where there are several, look at the first.

        Source
        ------
        Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 5.4.2, for a known strip left out.
        """
        found: list[tuple[float, KnownStrip]] = []
        for at, known_strip in enumerate(self.known_strips):
            own = slice(3 * at, 3 * at + 3)
            off = self.told[own]
            found.append((float(off @ np.linalg.solve(self.weight[own, own], off)), known_strip))
        return [known_strip for size, known_strip in sorted(found, key=lambda each: -each[0]) if size > MISFIT]

    def vector(self, shares: Mapping[str, float]) -> Array:
        """(pigments,) shares in the order of the pigments.

        Raises
        ------
        UsageError
            A pigment is not known.
        """
        for name in shares:
            if name not in self.pigments:
                raise UsageError("pigment-without-series", "make-its-series-first", pigment=name, known=self.pigments)
        return np.array([shares.get(name, 0.0) for name in self.pigments])

    def labs(self, shares: Array) -> Array:
        """(m, 3) CIELAB of mixes (m, pigments), %: theory, and what it is off in their neighbourhood."""
        reflectance = self.layer.reflectance(self.theta, shares)
        features, axes = place(reflectance)
        near = alike(features, self.features)
        off = near @ np.einsum("nji,nj->ni", self.axes, self.told.reshape(-1, 3))
        return reflectance_to_lab(reflectance) + OFF**2 * np.einsum("mij,mj->mi", axes, off)

    def predict(
        self,
        shares: Mapping[str, float],
        target: Measured | None = None,
        std: Mapping[str, float] | None = None,
    ) -> Prediction:
        """What a mix will look like, and how sure that is.

        Parameters
        ----------
        shares : pigment -> % of the whole
        target : a measured colour that the mix shall have; what its error shares with the known strips cancels
        std : of the shares, one standard deviation

        Raises
        ------
        UsageError
            A pigment is not known.
        """
        vector = self.vector(shares)[None]
        reflectance = self.layer.reflectance(self.theta, vector)
        features, axes = place(reflectance)
        slopes = self.layer.slopes(self.theta, vector, lab_slopes(reflectance))
        slope, thick, own = slopes.theta[0], slopes.strength[0], slopes.shares[0]
        near = alike(features, self.features)[0]
        known = self.doubt @ self.slope.T
        cross = slope @ known + OFF**2 * _blocks(axes[0] @ np.swapaxes(self.axes, 1, 2) * near[:, None, None])
        before = slope @ self.doubt @ slope.T + OFF**2 * axes[0] @ axes[0].T
        if std:
            before = before + (own * self.vector(std) ** 2) @ own.T
        lab = self.labs(vector)[0]
        film = FILM_STD**2 * np.outer(thick, thick)
        ink = own_ink = _positive(before - cross @ self.weight @ cross.T, LEAST)
        miss = np.zeros(3)
        if target is not None:
            shared = self._shared(target)
            both, together = before + target.errors.covariance, cross + shared
            miss = lab - np.array(target.lab) + shared @ self.told
            ink = _positive(both - together @ self.weight @ together.T, LEAST)
        return Prediction(triple(lab), own_ink + film, film, ink, reflectance[0], triple(miss))

    def aim(self, target: Measured) -> Array:
        """(3,) CIELAB to aim at for a measured target: less what its error shares with that of the known strips."""
        return np.array(target.lab) - self._shared(target) @ self.told

    def _shared(self, target: Measured) -> Array:
        """(3, 3 known strips) covariance of a target's error with those of the known strips."""
        known = self._shared_so_far.get(id(target))
        if known is None or known[0] is not target:
            colours = [known_strip.colour for known_strip in self.known_strips]
            known = target, _blocks(shared_errors([target], colours, UNLIKE, OTHER_PHOTO)[0])
            self._shared_so_far[id(target)] = known
        return known[1]

    @cached_property
    def _shared_so_far(self) -> dict[int, tuple[Measured, Array]]:
        """Targets, by id, and what their errors share with those of the known strips: asked for again and again."""
        return {}


def learn(known_strips: Sequence[KnownStrip], before: Palette | None = None, film_std: float = FILM_STD) -> Palette:
    """All known strips of one cloth -> the palette; of film and dyed cloth the theory that makes them likelier.

    `before` is what nearly the same strips taught: with its theory and its numbers one begins.

    Raises
    ------
    UsageError
        There is no known strip with a pigment in it.
    """
    pigments = tuple(sorted({name for known_strip in known_strips for name in known_strip.shares}))
    if not pigments:
        raise UsageError("no-pigment-in-strips", "make-test-series")
    cloth = cloth_of(known_strips)
    ground = np.full(81, UNSEEN_CLOTH) if cloth is None else cloth
    every, errors = tuple(known_strips), _errors(known_strips)
    if before is not None and before.pigments == pigments:
        return _learn(Layer(pigments, before.layer.kind, ground), every, errors, film_std, before.theta)
    # Where there are many, some of them tell nearly as well, and at a fraction of the cost, which theory it is.
    step = -(-len(every) // ENOUGH)
    few = errors.reshape(len(every), 3, len(every), 3)[::step, :, ::step].reshape(3 * len(every[::step]), -1)
    found = [_learn(Layer(pigments, kind, ground), every[::step], few, film_std) for kind in (FILM, DYED)]
    likeliest = max(found, key=lambda palette: palette.evidence)
    if step == 1:
        return likeliest
    likely = [palette for palette in found if palette.evidence > likeliest.evidence - SURELY]
    return max(
        (_learn(palette.layer, every, errors, film_std, palette.theta) for palette in likely),
        key=lambda palette: palette.evidence,
    )


def _errors(known_strips: Sequence[KnownStrip]) -> Array:
    """(3 n, 3 n) covariance of the errors with which n known strips were measured."""
    colours = [known_strip.colour for known_strip in known_strips]
    kin = np.where(_equal([frozenset(known_strip.shares) for known_strip in known_strips]), 1.0, UNLIKE)
    # Told pair by pair it may contradict itself a little: what lies below zero is taken away.
    return _positive(_square(shared_errors(colours, colours, kin, OTHER_PHOTO)), LEAST_TOLD)


def _learn(
    layer: Layer, known_strips: tuple[KnownStrip, ...], errors: Array, film_std: float, start: Array | None = None
) -> Palette:
    """What these strips teach; `start` (unknowns,) is near to it."""
    shares = np.array([[known_strip.shares.get(name, 0.0) for name in layer.pigments] for known_strip in known_strips])
    std = np.array([[known_strip.shares_std.get(name, 0.0) for name in layer.pigments] for known_strip in known_strips])
    seen = np.array([known_strip.colour.lab for known_strip in known_strips])
    same = _each_by_three(_equal([known_strip.strip for known_strip in known_strips]))
    mean, doubt = first_guess(layer, known_strips)
    theta = mean if start is None else start
    part, before = 1.0, np.zeros_like(mean)
    for _ in range(ROUNDS):
        reflectance = layer.reflectance(theta, shares)
        slopes = layer.slopes(theta, shares, lab_slopes(reflectance))
        slope = slopes.theta.reshape(-1, layer.unknowns)
        features, axes = place(reflectance)
        thick = slopes.strength.ravel()
        weighed = (slopes.shares * std[:, None, :]).reshape(len(thick), -1)
        theory = axes.reshape(len(thick), 3)
        near = _each_by_three(alike(features, features))
        own = (film_std**2 * np.outer(thick, thick) + weighed @ weighed.T) * same
        noise = errors + own + OFF**2 * near * (theory @ theory.T)
        off = (seen - reflectance_to_lab(reflectance)).ravel() + slope @ (theta - mean)
        seen_before = slope @ doubt @ slope.T + noise
        told = np.linalg.solve(seen_before, off)
        step = mean + doubt @ slope.T @ told - theta
        longest = np.abs(step).max()
        part = part if step @ before >= 0 else BACK * part  # it went too far: what is left would swing to and fro
        moved = part * np.abs(slope @ step).max()
        theta, before = theta + step * min(part, LONGEST_STEP / longest), step
        if moved < STILL:
            break
    weight = np.asarray(np.linalg.inv(seen_before))
    evidence = float(-(np.linalg.slogdet(seen_before)[1] + off @ told) / 2)
    return Palette(layer, known_strips, theta, doubt, evidence, slope, features, axes, told, weight)


def _equal(things: Sequence[Hashable]) -> Mask:
    """(n, n) which of them are the same."""
    numbers = {thing: number for number, thing in enumerate(dict.fromkeys(things))}
    one = np.array([numbers[thing] for thing in things])
    return np.asarray(one[:, None] == one[None])


def _each_by_three(pairs: Array | Mask) -> Array:
    """(n, n) -> (3 n, 3 n): the same for all three numbers of a colour."""
    return np.asarray(np.repeat(np.repeat(pairs, 3, axis=0), 3, axis=1))


def _positive(covariance: Array, least: float) -> Array:
    """A covariance without the little below zero that rounding may have left."""
    values, axes = np.linalg.eigh((covariance + covariance.T) / 2)
    return np.asarray((axes * np.maximum(values, least)) @ axes.T)


def _square(blocks: Array) -> Array:
    """(n, m, 3, 3) -> (3 n, 3 m)."""
    n, m = blocks.shape[:2]
    return np.asarray(blocks.transpose(0, 2, 1, 3).reshape(3 * n, 3 * m))


def _blocks(blocks: Array) -> Array:
    """(n, 3, 3) -> (3, 3 n)."""
    return np.asarray(blocks.transpose(1, 0, 2).reshape(3, -1))
