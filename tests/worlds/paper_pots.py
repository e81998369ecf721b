"""Pots on paper: strips whose spectra are reckoned and whose colours are measured by chance alone, nothing drawn.

What the package takes for unknown of an ink on cloth (scatter of the film, what sank in, the surface) is drawn as it
states; films and measurement errors too. So an interval must hold the truth as often as it says. `hand_strips` draws
photos of strips, of inks that keep to no such model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from swatchcam.colorimetry.error_covariance import shared_errors
from swatchcam.colorimetry.strength_curve import INSIDE, OUTSIDE, SCATTER, SUNK
from swatchcam.measurement.stored_colour import Kept
from tests.worlds.inks import BUILD_PIGMENTS, Recipe, cloth, film_reflectance, saunderson
from tests.worlds.spectra import Array, difference, reflectance_lab
from tests.worlds.studio_records import kept

Rng = np.random.Generator

FILM = 0.05  # mm
CLOTHS = "white", "natural", "grey", "pink"
STRENGTHS = np.exp(np.linspace(-0.8, 0.8, 161))
RECIPES: tuple[Recipe, ...] = (
    {"red": 0.8, "yellow": 0.2},
    {"blue": 0.5},
    {"green": 0.3, "golden": 0.2},
    {"violet": 0.3, "red": 0.2},
    {"magenta": 0.4, "brown": 0.3},
)


@dataclass(frozen=True)
class Paste:
    """A studio's paste on its cloth, as nobody knows it."""

    ground: str
    scatter: float  # of a usual film
    sunk: float  # share of the area
    surface: tuple[float, float]

    def reflectance(self, recipe: Recipe, strength: float = 1.0) -> Array:
        """(81,) of a strip so many times as strong, or in a film so many times as thick."""
        absorption = FILM * sum(load * BUILD_PIGMENTS[name].absorption for name, load in recipe.items())
        under = cloth(self.ground)
        inner = film_reflectance(absorption, np.full(81, self.scatter), strength, under)
        ratio = (1 - under) ** 2 / (2 * under) + absorption * strength
        dyed = 1 + ratio - np.sqrt(ratio * (ratio + 2))
        return (1 - self.sunk) * saunderson(inner, *self.surface) + self.sunk * dyed

    def lab(self, recipe: Recipe, strength: float = 1.0) -> Array:
        """(3,) CIELAB of it."""
        return reflectance_lab(self.reflectance(recipe, strength))


def paste(rng: Rng) -> Paste:
    """Drawn as the package says that it may be."""
    scatter, sunk, outside, inside = (rng.normal(*each) for each in (SCATTER, SUNK, OUTSIDE, INSIDE))
    ground = str(rng.choice(CLOTHS))
    return Paste(ground, float(np.exp(scatter)), max(sunk, 0.0), (max(outside, 0.0), float(np.clip(inside, 0, 0.9))))


def least_difference(made: Paste, first: Recipe, second: Recipe, level: float = 0.0) -> tuple[float, float]:
    """The least CIEDE2000 over all strengths of the first from the second, and ln of the second's strength over it.

    `level` is the natural logarithm of the second's film: a shade shows the more the thicker the films are.
    """
    target = made.lab(second, float(np.exp(level)))

    def apart(strengths: Array) -> Array:
        return difference(np.array([made.lab(first, each) for each in strengths]), target)

    best = STRENGTHS[int(np.argmin(apart(STRENGTHS)))]
    near = best * np.exp(np.linspace(-0.01, 0.01, 21))
    found = apart(near)
    return float(found.min()), float(np.log(near[int(np.argmin(found))])) - level


def second_pot(first: Recipe, kind: str, rng: Rng) -> Recipe:
    """The same but for a little more or less of all of it; of kind "shade" also some of one pigment."""
    stronger = float(np.exp(rng.normal(0, 0.1)))
    second = {name: load * stronger for name, load in first.items()}
    if kind == "shade":
        name = str(rng.choice(sorted(BUILD_PIGMENTS)))
        second[name] = second.get(name, 0.0) + rng.uniform(0.01, 0.06)
    return second


def strips_of(
    made: Paste, pots: Sequence[tuple[Recipe, Array]], rng: Rng, noise: float = 1.0
) -> tuple[tuple[Kept, ...], ...]:
    """The measured strips of each pot, of which the films are given as natural logarithms.

    The n-th strips of all pots are in one photo; the errors are drawn from their own stated covariance.
    """
    base = kept()
    true = [
        _strip(base, made.reflectance(recipe, float(np.exp(film))), f"strip {pot}.{place}", f"photo {place}")
        for pot, (recipe, films) in enumerate(pots)
        for place, film in enumerate(films)
    ]
    errors = noise * _drawn(shared_errors(true, true), rng)
    seen = [
        replace(one, lab=tuple(map(float, np.add(one.lab, error)))) for one, error in zip(true, errors, strict=True)
    ]
    ends = np.cumsum([0, *(len(films) for _, films in pots)])
    return tuple(tuple(seen[low:high]) for low, high in pairwise(ends))


def _strip(base: Kept, reflectance: Array, name: str, photo: str) -> Kept:
    lab = reflectance_lab(reflectance)
    errors = replace(base.errors, photos=(photo,))
    return replace(
        base, name=name, lab=tuple(map(float, lab)), errors=errors, reflectance=tuple(map(float, reflectance))
    )


def _drawn(blocks: Array, rng: Rng) -> Array:
    """(n, n, 3, 3) -> (n, 3) errors of that covariance."""
    size = 3 * len(blocks)
    whole = blocks.transpose(0, 2, 1, 3).reshape(size, size)
    values, axes = np.linalg.eigh((whole + whole.T) / 2)
    # The symmetric root: whichever axes are found where the noise is round, the draw is the same.
    root = (axes * np.sqrt(np.maximum(values, 0))) @ axes.T
    return (root @ rng.normal(size=size)).reshape(-1, 3)
