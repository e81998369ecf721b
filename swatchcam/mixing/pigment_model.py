"""The studio's pigments on one cloth, as `pigment_learning` learned them, and what any mix of them will look like.

The theory of the layer (`film_model`) with the likeliest numbers, and what it left over in the known strips, carried to
neighbouring colours: so a pot that was measured corrects the next one that is like it, and a colour near a known strip
is surer than one far off. Mixes are predicted together, for what is not known of a pot is not known either of the
same pot with a little more pigment: whether an addition helps is far surer than where the pot ends.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from ..arrays import Array, triple
from ..colorimetry.error_covariance import Measured, blocks_of, positive, shared_errors, square
from ..colorimetry.intervals import radius_of_lab
from ..colorimetry.spectra import reflectance_to_lab
from ..errors import UsageError
from .film_model import Layer, lab_slopes
from .known_strip import OTHER_PHOTO, UNLIKE, KnownStrip
from .prior import OFF, FilmScatter, Unlike, alike, place
from .state_shift import USUAL, StateShift

BESIDE = 0.95  # of a target in the photo of the pot's strip, whose pigments nobody knows; from build studios
POINTS = ((-1, 1 / 6), (0, 2 / 3), (1, 1 / 6))  # of the quadrature: places, in steps, and weights
Z95 = 1.96  # 97.5 % of the normal distribution
LEAST = 0.02  # CIELAB squared: no variance is less, whatever cancels; no source


@dataclass(frozen=True)
class Content:
    """What is in a pot whose colour is predicted."""

    shares: Mapping[str, float]  # pigment -> % of the whole
    std: Mapping[str, float] = field(default_factory=dict)  # of the shares, one standard deviation, by what is weighed
    parts: Mapping[str, float] = field(default_factory=dict)  # pot with known strips -> its part of the whole, 0..1


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
class Joint:
    """Several mixes, predicted together: what is not known of one is not known of the others either."""

    each: tuple[Prediction, ...]
    covariance: Array  # (m, m, 3, 3) of the inks in a usual film, as `Prediction.ink`


@dataclass(frozen=True)
class Told:
    """The known strips about the likeliest numbers, and what they tell."""

    shares: Array  # (n, pigments) %, as they most likely are
    film: Array  # (n,) logarithm of each one's film, as it most likely is
    slope: Array  # (3 n, unknowns) of their Lab
    by_film: Array  # (3 n,) with the logarithm of each one's film
    by_shares: Array  # (n, 3, pigments) with each share
    features: Array  # (n, 6) where they lie
    axes: Array  # (n, 3, 3) from units of CIEDE2000 to Lab, there
    off: Array  # (3 n,) what their Lab is off what was thought beforehand


@dataclass(frozen=True)
class Palette:
    """Pigments whose behaviour was learned."""

    layer: Layer
    known_strips: tuple[KnownStrip, ...]
    theta: Array  # (unknowns,) the likeliest
    doubt: Array  # (unknowns, unknowns) covariance beforehand
    evidence: float  # natural logarithm of how likely the known strips were beforehand
    strips: Told
    told: Array  # (3 known strips,) what the known strips' Lab is off, weighed by how much it tells
    weight: Array  # (3 known strips, 3 known strips) inverse of their covariance beforehand
    scatter: FilmScatter  # how unlike the studio's films are
    unlike: Unlike  # what their Lab is off what was thought beforehand, about the likeliest numbers
    shift: StateShift = USUAL  # how much the later state moves colours
    of_later: bool = True  # where two states are told, it predicts the later one

    @property
    def later(self) -> bool:
        """Whether it predicts the later of two states, or the new one of two cloths."""
        return self.layer.two_states and self.of_later

    @cached_property
    def of_earlier(self) -> Palette:
        """The same, predicting the earlier state."""
        return replace(self, of_later=False)

    @property
    def pigments(self) -> tuple[str, ...]:
        """Names, in small letters."""
        return self.layer.pigments

    @property
    def covariance(self) -> Array:
        """(unknowns, unknowns) of theta, now that the known strips were weighed."""
        cross = self.doubt @ self.strips.slope.T
        return np.asarray(self.doubt - cross @ self.weight @ cross.T)

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

    def of_pot(self, pot: str) -> list[int]:
        """Where the known strips of a pot stand; none of ""."""
        return self._pots.get(pot, []) if pot else []

    @cached_property
    def _pots(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for at, known_strip in enumerate(self.known_strips):
            found.setdefault(known_strip.pot, []).append(at)
        return found

    def in_pot(self, pot: str, shares: Mapping[str, float]) -> dict[str, float]:
        """What is in a pot as its strips tell it, %; `shares`, what was written, where it has none."""
        own = self.of_pot(pot)
        if not own:
            return dict(shares)
        return dict(zip(self.pigments, self.strips.shares[own[0]].tolist(), strict=True))

    def labs(self, shares: Array) -> Array:
        """(m, 3) CIELAB of mixes (m, pigments), %: theory, and what it is off in their neighbourhood."""
        reflectance = self.layer.reflectance(self.theta, shares, later=self.later)
        features, axes = place(reflectance)
        near = self._off_alike(features)
        off = near @ np.einsum("nji,nj->ni", self.strips.axes, self.told.reshape(-1, 3))
        return reflectance_to_lab(reflectance) + np.einsum("mij,mj->mi", axes, off)

    def predict(
        self, shares: Mapping[str, float], target: Measured | None = None, std: Mapping[str, float] | None = None
    ) -> Prediction:
        """What a mix with such shares, %, will look like, and how sure that is; see `predict_all`."""
        return self.predict_all([Content(shares, std or {})], target).each[0]

    def predict_all(self, contents: Sequence[Content], target: Measured | None = None) -> Joint:
        """The same of several mixes, and how sure that is of all of them together.

        `target` is a measured colour that they shall have; what its error shares with the known strips cancels.

        Raises
        ------
        UsageError
            A pigment is not known.
        """
        count, shares = len(contents), np.array([self.vector(content.shares) for content in contents])
        reflectance = self.layer.reflectance(self.theta, shares, later=self.later)
        slopes = self.layer.slopes(self.theta, shares, through=lab_slopes(reflectance), later=self.later)
        features, axes = place(reflectance)
        before, cross = self._about(contents, slopes.theta, slopes.shares, (features, axes))
        labs, miss = self.labs(shares), np.zeros((count, 3))
        ink = before - cross @ self.weight @ cross.T
        against = ink
        if target is not None:
            shared = self._shared(target)
            together = cross + np.tile(shared, (count, 1))
            against = before + np.tile(target.errors.covariance, (count, count)) - together @ self.weight @ together.T
            miss = labs - np.array(target.lab) + shared @ self.told
        against, ink = blocks_of(against), blocks_of(ink)
        film = self.scatter.std**2 * slopes.strength[:, :, None] * slopes.strength[:, None]
        if self.later:  # the next strip comes out of the heat a little otherwise, too
            film = film + self.shift.uneven**2 * (axes @ np.swapaxes(axes, 1, 2))
        each = tuple(
            Prediction(
                triple(labs[m]),
                positive(ink[m, m], LEAST) + film[m],
                film[m],
                positive(against[m, m], LEAST),
                reflectance[m],
                triple(miss[m]),
            )
            for m in range(count)
        )
        return Joint(each, against)

    def doubt_of_pigments(self, contents: Sequence[Content]) -> Array:
        """(m, m, 3, 3) the part of the covariance of mixes' inks that is what pigments do when dry."""
        shares = np.array([self.vector(content.shares) for content in contents])
        to_lab = lab_slopes(self.layer.reflectance(self.theta, shares))
        slopes = self.layer.slopes(self.theta, shares, through=to_lab)
        flat = slopes.theta.reshape(-1, self.layer.unknowns)
        return blocks_of(flat @ self.covariance @ flat.T)

    def _about(
        self, contents: Sequence[Content], slope: Array, own: Array, where: tuple[Array, Array]
    ) -> tuple[Array, Array]:
        """(3 m, 3 m) covariance of mixes' inks beforehand, and (3 m, 3 n) with the known strips.

        `slope` (m, 3, unknowns) and `own` (m, 3, pigments) of their Lab with theta and shares; `where` they lie.
        """
        (features, axes), strips = where, self.strips
        flat = slope.reshape(-1, self.layer.unknowns)
        near = (OFF**2 + self.later * self.shift.off**2) * alike(features, features)
        between, cross = (
            near_by[:, :, None, None] * (axes[:, None] @ np.swapaxes(those, 1, 2)[None])
            for near_by, those in ((near, axes), (self._off_alike(features), strips.axes))
        )
        std = np.array([self.vector(content.std) for content in contents])
        between[range(len(own)), range(len(own))] += np.einsum("mip,mjp->mij", own * std[:, None] ** 2, own)
        for pot in {pot for content in contents for pot in content.parts}:
            at = self.of_pot(pot)
            part = np.array([content.parts.get(pot, 0.0) for content in contents])
            slipped = own * part[:, None, None]
            spread = self._shares_std(at[0]) ** 2 if at else np.zeros(len(self.pigments))
            between += np.einsum("mip,njp,p->mnij", slipped, slipped, spread)
            cross[:, at] += np.einsum("mip,njp,p->mnij", slipped, strips.by_shares[at], spread)
        doubt = flat @ self.doubt
        return square(between) + doubt @ flat.T, square(cross) + doubt @ strips.slope.T

    def _off_alike(self, features: Array) -> Array:
        """(m, n) how much what the theory is off at places (m, 6) is that of the known strips, CIEDE2000 squared."""
        return np.asarray(alike(features, self.strips.features) * self._off_of_strips)

    @cached_property
    def _off_of_strips(self) -> Array:
        """(n,) what the theory is off at each known strip, as far as mixes share it, CIEDE2000 squared."""
        later = np.array([known_strip.later for known_strip in self.known_strips])
        return np.asarray(OFF**2 + self.later * self.shift.off**2 * later)

    @cached_property
    def by_scatter(self) -> tuple[tuple[float, Palette], ...]:
        """How likely a film scatter is, and the palette if films were so unlike: three points stand for all scatters.

        Source
        ------
        Gauss-Hermite quadrature with three points, of the scatter's logarithm (Abramowitz & Stegun 1964, 25.4.46).
        """
        if not self.scatter.strips:
            return ((1.0, self),)
        middle = np.sqrt(self.scatter.low * self.scatter.high)
        step = np.sqrt(3) * np.log(self.scatter.high / self.scatter.low) / (2 * Z95)
        return tuple((likely, self._if_films(middle * np.exp(at * step))) for at, likely in POINTS)

    def _if_films(self, std: float) -> Palette:
        """The same if films were so unlike, about the likeliest numbers."""
        told = self.unlike.told(std)
        theta = self.theta + self.doubt @ (self.strips.slope.T @ (told - self.told))
        scatter = replace(self.scatter, std=std)
        return replace(self, theta=theta, told=told, weight=self.unlike.weight(std), scatter=scatter)

    def _shares_std(self, at: int) -> Array:
        """(pigments,) standard deviation of the shares of a known strip's pot, %."""
        return np.array([self.known_strips[at].shares_std.get(name, 0.0) for name in self.pigments])

    def aim(self, target: Measured) -> Array:
        """(3,) CIELAB to aim at for a measured target: less what its error shares with that of the known strips."""
        return np.array(target.lab) - self._shared(target) @ self.told

    def _shared(self, target: Measured) -> Array:
        """(3, 3 known strips) covariance of a target's error with those of the known strips."""
        known = self._shared_so_far.get(id(target))
        if known is None or known[0] is not target:
            colours = [known_strip.colour for known_strip in self.known_strips]
            known = target, square(shared_errors([target], colours, self._kin(target), OTHER_PHOTO))
            self._shared_so_far[id(target)] = known
        return known[1]

    def _kin(self, target: Measured) -> Array:
        """(1, n) how much of its ink error a target shares with each known strip.

        Nobody knows what is in it. But a strip in its own photo was laid beside it because it is much like it: it
        counts nearly as what that strip is.
        """
        beside = [strip for strip in self.known_strips if strip.colour.errors.photos == target.errors.photos]
        like = {frozenset(strip.shares) for strip in beside}
        return np.array([[BESIDE if frozenset(strip.shares) in like else UNLIKE for strip in self.known_strips]])

    @cached_property
    def _shared_so_far(self) -> dict[int, tuple[Measured, Array]]:
        """Targets, by id, and what their errors share with those of the known strips: asked for again and again."""
        return {}
