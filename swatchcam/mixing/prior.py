"""What is thought of pigments before their strips are weighed together: a mean and a covariance of a layer's unknowns.

Each strip of a single pigment is turned back into absorption, wavelength by wavelength, from the reflectance that was
estimated behind its colour; where a strip is nearly black or nearly bare it tells little, and counts little. Between
the known strips and where none tells anything, absorption is taken to be smooth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..colorimetry.spectra import reflectance_to_lab, tables
from ..measurement.colour_matrix import hue_axes
from .film_model import FILM, NODES, Layer
from .known_strip import KnownStrip
from .two_ground_film import SMOOTH

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
SURFACE = SMOOTH
SURFACE_STD = 0.01, 0.15  # of its two shares, from outside and from inside
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
HALVINGS, NUDGE = 40, 0.01  # of the logarithm of absorption: how exactly a known strip's is found; step of its slope


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


def cloth_of(known_strips: Sequence[KnownStrip]) -> Array | None:
    """(81,) reflectance within the layer of the cloth under binder alone: the mean of such strips; None without one."""
    bare = [np.array(known_strip.colour.reflectance) for known_strip in known_strips if not known_strip.shares]
    # Black cloth may reflect less than the surface of a film would.
    return np.maximum(SURFACE.inside(np.mean(bare, axis=0)), DARKEST) if bare else None


def first_guess(layer: Layer, known_strips: Sequence[KnownStrip]) -> tuple[Array, Array]:
    """(unknowns,) mean and (unknowns, unknowns) covariance of what is not known of a layer."""
    mean, covariance = np.zeros(layer.unknowns), np.zeros((layer.unknowns, layer.unknowns))
    for p, name in enumerate(layer.pigments):
        own = [known_strip for known_strip in known_strips if set(known_strip.shares) == {name}]
        place = layer.absorption_of(p)
        mean[place], covariance[place, place] = _absorption(layer, own)
        for at, (usual, std) in ((layer.scatter_of(p), SCATTER), (layer.crowding_of(p), CROWDING)):
            mean[at], covariance[at, at] = usual, std**2
    std = CLOTH_STD if any(not known_strip.shares for known_strip in known_strips) else UNSEEN_STD
    covariance[layer.ground, layer.ground] = std**2 * smooth(CLOTH_LENGTH)
    mean[layer.binder :] = BINDER[0], SURFACE.k1, SURFACE.k2
    covariance[range(layer.binder, layer.unknowns), range(layer.binder, layer.unknowns)] = (
        np.array([BINDER[1], *SURFACE_STD]) ** 2
    )
    return mean, covariance


def place(reflectance: Array) -> tuple[Array, Array]:
    """(m, 81) -> (m, 6) where they lie, in units of CIEDE2000, and (m, 3, 3) from such units to Lab there."""
    lab, other = reflectance_to_lab(reflectance), reflectance_to_lab(reflectance, SECOND_LIGHT)
    return np.hstack([lab, other - lab]), np.asarray(np.linalg.inv(hue_axes(lab)))


def alike(one: Array, other: Array) -> Array:
    """(m, n) 0..1: how alike the theory's error is at two places."""
    apart = one[:, None, :] - other[None, :, :]
    middle = (np.hypot(one[:, None, 1], one[:, None, 2]) + np.hypot(other[None, :, 1], other[None, :, 2])) / 2
    scale = np.stack([np.ones_like(middle), 1 + LESS_IN_CHROMA * middle, 1 + LESS_IN_CHROMA * middle], axis=-1)
    squares = ((apart[..., :3] / scale) ** 2).sum(axis=-1) + ((apart[..., 3:] / scale) ** 2).sum(axis=-1)
    return np.asarray(np.exp(-squares / (2 * OFF_REACH**2)))


def smooth(length: float) -> Array:
    """(NODES, NODES) correlation of neighbours on the nodes, falling off over `length` nm."""
    nodes = np.linspace(tables().wavelengths[0], tables().wavelengths[-1], NODES)
    return np.asarray(np.exp(-0.5 * ((nodes[:, None] - nodes) / length) ** 2) + 1e-6 * np.eye(NODES))


def _absorption(layer: Layer, own: Sequence[KnownStrip]) -> tuple[Array, Array]:
    """(NODES,) mean and covariance of the logarithm of absorption, from the known strips of this pigment alone."""
    before = LEVEL**2 + BEND**2 * smooth(BEND_LENGTH)
    told, precision = np.zeros(NODES), np.linalg.inv(before)
    for known_strip in own:
        seen, weight = _told(layer, known_strip)
        told += layer.between.T @ (weight * seen)
        precision = precision + layer.between.T @ (weight[:, None] * layer.between)
    covariance = np.linalg.inv(precision)
    return covariance @ told, covariance + FILM_OPEN**2 * bool(own)


def _told(layer: Layer, known_strip: KnownStrip) -> tuple[Array, Array]:
    """(81,) logarithm of the absorption of 1 %, as one strip tells it, and how much that counts (1 / variance)."""
    share = next(iter(known_strip.shares.values())) * known_strip.film
    share /= 1 + share / np.exp(CROWDING[0])
    seen = np.array(known_strip.colour.reflectance)
    low, high = np.full(len(seen), np.log(FAINTEST)), np.full(len(seen), np.log(DEEPEST))
    for _ in range(HALVINGS):  # reflectance falls with absorption, and nothing else is sure
        middle = (low + high) / 2
        darker = _seen(layer, np.exp(middle), share) < seen
        low, high = np.where(darker, low, middle), np.where(darker, middle, high)
    found = (low + high) / 2
    slope = (_seen(layer, np.exp(found + NUDGE), share) - _seen(layer, np.exp(found - NUDGE), share)) / (2 * NUDGE)
    off = READ[0] + READ[1] * seen
    return found, np.asarray((slope / off) ** 2 / ALIKE)


def _seen(layer: Layer, k: Array, share: float) -> Array:
    s = np.exp(BINDER[0]) + share * np.exp(SCATTER[0]) if layer.kind == FILM else 0.0
    return SURFACE.outside(layer.inner(share * k, s * np.ones_like(k), layer.cloth))
