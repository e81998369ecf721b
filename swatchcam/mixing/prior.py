"""What is thought of pigments before their strips are weighed together: a mean and a covariance of a layer's unknowns.

Each strip of a single pigment is turned back into absorption, wavelength by wavelength, from the reflectance that was
estimated behind its colour; where a strip is nearly black or nearly bare it tells little, and counts little. Between
the known strips and where none tells anything, absorption is taken to be smooth.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..colorimetry.kubelka_munk import log_absorption
from ..colorimetry.spectra import reflectance_to_lab, tables
from ..colorimetry.two_ground_film import SMOOTH
from ..measurement.colour_matrix import hue_axes
from .film_model import DYED, NODES, Layer
from .known_strip import KnownStrip

# All but READ is common sense without a source: wide, so that what the strips tell decides, and what they do not tell
# stays as it is.
# Natural logarithms of absorption: how far a pigment's mean lies from 1, and how far it bends away from its mean
# over so many nm.
LEVEL, BEND, BEND_LENGTH = 1.5, 1.5, 40.0
READ = 0.06, 0.3  # reflectance estimated from a photo: off by so much, and by so much of itself; from build studios
ALIKE = 8.0  # wavelengths in a row that are off together
# Natural logarithms (mean, standard deviation), in a film of thickness 1: scatter of 1 % of a pigment; the share, %, at
# which it has half its strength; scatter of the binder.
SCATTER, CROWDING, BINDER = (np.log(0.002), 1.2), (np.log(25.0), 0.7), (np.log(0.015), 1.0)
# The same scatter, of a ready-mixed ink counted as concentrate: from a transparent colour to an opaque white, of which
# a film over black reflects 60 to 80 % (from memory, no source), so that S d is 1.5 to 4 (Kubelka 1948, nothing
# absorbed: R = S d / (1 + S d)), and a quarter to a half of that for 1 % of concentrate.
READY_SCATTER = np.log(0.04), 1.5
TRIED = 0.002, 0.01, 0.04, 0.1, 0.2, 0.3, 0.5, 0.8  # scatters of ready-mixed inks to begin with, as their strips tell
SURFACE = SMOOTH
SURFACE_STD = 0.01, 0.15  # of its two shares, from outside and from inside
SUNK_IN = -1.8, 1.0  # log-odds (mean, standard deviation) of the share of the area where ink has sunk in: 5 to 31 %
CLOTH_STD, CLOTH_LENGTH = 0.03, 80.0  # relative, nm; of a cloth that was measured
UNSEEN_CLOTH, UNSEEN_STD = 0.8, 0.15  # reflectance of a cloth that was not, and how far that varies, relative
# How unlike the films of a studio's strips are, as standard deviation of the natural logarithm of their thickness: the
# middle of what is thought of it beforehand, and the factor either way that is one standard deviation of that. Common
# sense, no source: a machine leaves 3 to 5 %, a screen or a metered bar 5 to 10 %, a hand with a spatula 10 to 40 %.
FILM_SCATTER, FILM_FACTOR = 0.12, 2.0
# How far the theory is off, in units of CIEDE2000, and over which distance in colour that stays alike. No source.
OFF, OFF_REACH = 0.7, 11.0
# Distances in chroma and hue count less by so much for each unit of C*: midway between the 0.045 and the 0.015 of
# CIEDE2000's S_C and S_H. No source.
LESS_IN_CHROMA = 0.03
SECOND_LIGHT = "A"  # two mixes of one colour are like each other if they stay alike under another light
DARKEST = 0.003  # reflectance of a cloth within the layer
FAINTEST, DEEPEST = 1e-4, 300.0  # absorption of 1 % in such a film: no pigment's is less or more
# Natural logarithm of absorption, the whole of it, that such a strip's film leaves open; no source: wide, so that how
# strong a pigment is stands in the colours of its strips alone, and no thick film counts twice.
FILM_OPEN = 0.5
MISFIT = 11.345  # 99 % of chi-square with three degrees of freedom (Pearson 1900)
MOST_ODD = 5  # strips that are looked at one by one for whether they fit their recipe; no source
NUDGE = 0.01  # of the logarithm of absorption: step of its slope


@dataclass(frozen=True)
class FilmScatter:
    """How unlike the films of a studio's strips are: standard deviation of the logarithm of their thickness."""

    std: float  # root of the mean square of all that are likely
    low: float  # 95 % interval
    high: float
    strips: int  # that it was judged from

    @classmethod
    def of(cls, tried: Array, likely: Array, strips: int) -> FilmScatter:
        """Of scatters (s,) and how likely each is (s,), together 1."""
        below = np.cumsum(likely) - likely / 2
        low, high = np.interp([0.025, 0.975], below, tried)
        return cls(float(np.sqrt(likely @ tried**2)), float(low), float(high), strips)


def scatters() -> tuple[Array, Array]:
    """(s,) scatters of the film, and (s,) the logarithm of how likely each is thought to be beforehand."""
    steps = np.linspace(-3, 3, 61)
    thought = np.exp(-(steps**2) / 2)
    return FILM_SCATTER * FILM_FACTOR**steps, np.log(thought / thought.sum())


@dataclass(frozen=True)
class Unlike:
    """What n strips are off, and how it is weighed where f films that nobody weighed are as unlike as one likes.

    All scatters come at the cost of one, by the matrix inversion lemma along the eigenvectors of what the strips tell
    of their films.
    """

    off: Array  # (3 n,) Lab
    inverse: Array  # (3 n, 3 n) of its covariance beforehand, but for those films
    ways: Array  # (f, 3 n) what the strips tell along each eigenvector
    size: Array  # (f,) how much that is

    @classmethod
    def of(cls, off: Array, base: Array, by_film: Array) -> Unlike:
        """From the covariance (3 n, 3 n) but for the films, and how all moves with the films' logarithms (3 n, f)."""
        inverse = np.asarray(np.linalg.inv(base))
        told = by_film.T @ inverse
        size, axes = np.linalg.eigh(told @ by_film)
        return cls(off, inverse, axes.T @ told, np.maximum(size, 0.0))

    def shrunk(self, std: float) -> Array:
        """(f,) how much less is told along each way if films are so unlike."""
        return np.asarray(std**2 / (1 + std**2 * self.size))

    def told(self, std: float) -> Array:
        """(3 n,) what the strips are off, weighed by how much it tells if films are so unlike."""
        return np.asarray(self.inverse @ self.off - self.ways.T @ (self.shrunk(std) * (self.ways @ self.off)))

    def weight(self, std: float) -> Array:
        """(3 n, 3 n) inverse of the covariance beforehand if films are so unlike."""
        return np.asarray(self.inverse - (self.ways.T * self.shrunk(std)) @ self.ways)

    def blocks(self, std: float) -> Array:
        """(n, 3, 3) of that inverse, each strip's own."""
        n, ways = len(self.off) // 3, self.ways.reshape(len(self.size), -1, 3)
        own = self.inverse.reshape(n, 3, n, 3)[range(n), :, range(n)]
        return np.asarray(own - np.einsum("f,fni,fnj->nij", self.shrunk(std), ways, ways))

    def without(self, strip: int) -> Unlike:
        """The same with one strip left out; its place stays, and tells nothing."""
        own = slice(3 * strip, 3 * strip + 3)
        there = self.inverse[:, own]
        inverse = self.inverse - there @ np.linalg.solve(self.inverse[own, own], there.T)
        # The ways stand for films turned by their axes; turned once more they are those of what is left.
        lost = self.ways[:, own]
        size, axes = np.linalg.eigh(np.diag(self.size) - lost @ np.linalg.solve(self.inverse[own, own], lost.T))
        ways = axes.T @ (self.ways - lost @ np.linalg.solve(self.inverse[own, own], there.T))
        return Unlike(self.off, inverse, ways, np.maximum(size, 0.0))

    def misfits(self, least: float) -> list[int]:
        """Which strips do not look like what all the others say of their recipe, at 99 %, the worst first.

        One that is wrong makes its neighbours look wrong too: where there are several, look at the first. It makes all
        films look unlike as well: so of those that would be odd if films were as like as they may be, `least`, each is
        left out in turn, and judged by the scatter that the others tell.

        Source
        ------
        Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 5.4.2, for a known strip left out.
        """
        sizes = self.sizes(least)
        odd = [int(at) for at in np.argsort(-sizes)[:MOST_ODD] if sizes[at] > MISFIT]
        found = {at: float(self.sizes(self.without(at).scatter()[0].std)[at]) for at in odd}
        return [at for at in sorted(found, key=lambda each: -found[each]) if found[at] > MISFIT]

    def sizes(self, std: float) -> Array:
        """(n,) how far each strip is off what the others say of it (Mahalanobis 1936), squared, with that scatter."""
        told = self.told(std).reshape(-1, 3)
        return np.asarray(np.einsum("ni,nij,nj->n", told, np.linalg.inv(self.blocks(std)), told))

    def scatter(self) -> tuple[FilmScatter, float]:
        """How unlike films are, judging from what strips are off; the logarithm by which that makes it likelier.

        Source
        ------
        The evidence of each scatter, MacKay 1992, doi:10.1162/neco.1992.4.3.415.
        """
        tried, thought = scatters()
        along, more = (self.ways @ self.off) ** 2, 1 + tried[:, None] ** 2 * self.size
        gain = (tried[:, None] ** 2 * along / more - np.log(more)).sum(axis=1) / 2 + thought
        likely = np.exp(gain - gain.max())
        return FilmScatter.of(tried, likely / likely.sum(), len(self.size)), float(gain.max() + np.log(likely.sum()))


def cloth_of(known_strips: Sequence[KnownStrip]) -> Array | None:
    """(81,) reflectance within the layer of the cloth under binder alone: the mean of such strips; None without one."""
    own = earlier(known_strip for known_strip in known_strips if not known_strip.shares)
    bare = [np.array(known_strip.colour.reflectance) for known_strip in own]
    # Black cloth may reflect less than the surface of a film would.
    return np.maximum(SURFACE.inside(np.mean(bare, axis=0)), DARKEST) if bare else None


def earlier(known_strips: Iterable[KnownStrip]) -> list[KnownStrip]:
    """Those in the earlier of two states; all where there are none."""
    every = list(known_strips)
    return [known_strip for known_strip in every if not known_strip.later] or every


def first_guess(layer: Layer, known_strips: Sequence[KnownStrip]) -> tuple[Array, Array]:
    """(of_one_state,) mean and (of_one_state, of_one_state) covariance of what is not known of a layer."""
    mean, covariance = np.zeros(layer.of_one_state), np.zeros((layer.of_one_state, layer.of_one_state))
    ready = {name for known_strip in known_strips for name in known_strip.ready}
    for p, name in enumerate(layer.pigments):
        own = earlier(known_strip for known_strip in known_strips if set(known_strip.shares) == {name})
        place = layer.absorption_of(p)
        scatter = (_ready_scatter(layer, own), READY_SCATTER[1]) if name in ready else SCATTER
        mean[place], covariance[place, place] = _absorption(layer, own, scatter[0])
        for at, (usual, std) in ((layer.scatter_of(p), scatter), (layer.crowding_of(p), CROWDING)):
            mean[at], covariance[at, at] = usual, std**2
    std = CLOTH_STD if any(not known_strip.shares for known_strip in known_strips) else UNSEEN_STD
    covariance[layer.ground, layer.ground] = std**2 * smooth(CLOTH_LENGTH)
    last = range(layer.binder, layer.of_one_state)
    usual, stds = (BINDER[0], SURFACE.k1, SURFACE.k2, SUNK_IN[0]), (BINDER[1], *SURFACE_STD, SUNK_IN[1])
    mean[last], covariance[last, last] = usual[: len(last)], np.square(stds[: len(last)])
    return mean, covariance


def place(reflectance: Array) -> tuple[Array, Array]:
    """(m, 81) -> (m, 6) where they lie, in units of CIEDE2000, and (m, 3, 3) from such units to Lab there."""
    lab, other = reflectance_to_lab(reflectance), reflectance_to_lab(reflectance, SECOND_LIGHT)
    return np.hstack([lab, other - lab]), np.asarray(np.linalg.inv(hue_axes(lab)))


def alike(one: Array, other: Array) -> Array:
    """(m, n) 0..1: how alike the theory's error is at two places."""
    middle = (np.hypot(one[:, 1], one[:, 2])[:, None] + np.hypot(other[:, 1], other[:, 2])) / 2
    squares = [(one[:, axis, None] - other[:, axis]) ** 2 for axis in range(one.shape[1])]
    in_chroma = (squares[1] + squares[2]) / (1 + LESS_IN_CHROMA * middle) ** 2
    return np.asarray(np.exp(-(squares[0] + in_chroma + sum(squares[3:])) / (2 * OFF_REACH**2)))


def smooth(length: float) -> Array:
    """(NODES, NODES) correlation of neighbours on the nodes, falling off over `length` nm."""
    nodes = np.linspace(tables().wavelengths[0], tables().wavelengths[-1], NODES)
    return np.asarray(np.exp(-0.5 * ((nodes[:, None] - nodes) / length) ** 2) + 1e-6 * np.eye(NODES))


def _ready_scatter(layer: Layer, own: Sequence[KnownStrip]) -> float:
    """Logarithm of a ready-mixed ink's scatter: of some tried that which fits best its strips, and what is thought.

    From the usual one an opaque white over dark cloth is too far to be found by rounds that take all as linear.
    """

    def off(scatter: float) -> float:
        absorption = np.exp(layer.between @ _absorption(layer, own, scatter)[0])
        misses = [_read_off(strip, _seen(layer, absorption, _working(strip), scatter)) for strip in own]
        return float(np.square(misses).sum() / ALIKE + ((scatter - READY_SCATTER[0]) / READY_SCATTER[1]) ** 2)

    return min(np.log(TRIED), key=off) if own and layer.kind != DYED else READY_SCATTER[0]


def _read_off(strip: KnownStrip, reflectance: Array) -> Array:
    """(81,) how far a reflectance is off that of a strip, in units of what reading it is off."""
    seen = np.array(strip.colour.reflectance)
    return np.asarray((reflectance - seen) / (READ[0] + READ[1] * seen))


def _absorption(layer: Layer, own: Sequence[KnownStrip], scatter: float) -> tuple[Array, Array]:
    """(NODES,) mean and covariance of the logarithm of absorption, from the known strips of this pigment alone."""
    before = LEVEL**2 + BEND**2 * smooth(BEND_LENGTH)
    told, precision = np.zeros(NODES), np.linalg.inv(before)
    for known_strip in own:
        seen, weight = _told(layer, known_strip, scatter)
        told += layer.between.T @ (weight * seen)
        precision = precision + layer.between.T @ (weight[:, None] * layer.between)
    covariance = np.linalg.inv(precision)
    return covariance @ told, covariance + FILM_OPEN**2 * bool(own)


def _working(known_strip: KnownStrip) -> float:
    """% that works of a strip of one pigment alone, in a film of thickness 1."""
    share = next(iter(known_strip.shares.values())) * known_strip.film
    return share / float(1 + share / np.exp(CROWDING[0]))


def _told(layer: Layer, known_strip: KnownStrip, scatter: float) -> tuple[Array, Array]:
    """(81,) logarithm of the absorption of 1 %, as one strip tells it, and how much that counts (1 / variance)."""
    share, seen = _working(known_strip), np.array(known_strip.colour.reflectance)
    found = log_absorption(seen, lambda absorption: _seen(layer, absorption, share, scatter), FAINTEST, DEEPEST)
    more, less = (_seen(layer, np.exp(found + nudge), share, scatter) for nudge in (NUDGE, -NUDGE))
    off = READ[0] + READ[1] * seen
    return found, np.asarray(((more - less) / (2 * NUDGE * off)) ** 2 / ALIKE)


def _seen(layer: Layer, k: Array, share: float, scatter: float) -> Array:
    s = np.exp(BINDER[0]) + share * np.exp(scatter) if layer.kind != DYED else 0.0
    return SURFACE.outside(layer.inner(share * k, s * np.ones_like(k), layer.cloth))
