"""Pigment films on cloth, after Kubelka and Munk.

All spectra here are invented; they are smooth and behave like the kinds they are named after.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.worlds.spectra import (
    WAVELENGTHS,
    Array,
    bell,
    difference,
    illuminant,
    lab_xyz,
    reflectance_lab,
    step_up,
    weights,
)


@cache
def cloth(name: str) -> Array:
    """(81,) reflectance of bare cloth: white, natural, coarse, black, grey, blue, pink or ochre."""
    cotton = 0.86 - 0.10 * np.exp(-(WAVELENGTHS - 380) / 40)
    natural = 0.80 - 0.34 * np.exp(-(WAVELENGTHS - 380) / 110)
    return {
        "white": cotton,
        "natural": natural,
        "coarse": 0.58 - 0.33 * np.exp(-(WAVELENGTHS - 380) / 150),
        "black": 0.035 + 0.02 * step_up(700, 15),
        "grey": 0.32 * cotton / 0.86,
        "blue": cotton * (0.12 + 0.45 * bell(450, 45, 55) + 0.35 * step_up(715, 14)),
        "pink": cotton * (0.92 - 0.45 * bell(530, 45, 35)),
        "ochre": cotton * (0.30 + 0.50 * step_up(530, 25)),
    }[name]


@dataclass(frozen=True)
class Pigment:
    """Absorption and scatter, (81,), per mm of film and per 1 % of pigment in the paste."""

    absorption: Array
    scatter: Array


def _pigment(absorption: Array, strength: float, scatter: float = 0.02) -> Pigment:
    # Small particles scatter short waves more; far more weakly than the inverse fourth power of a gas.
    return Pigment(strength * (absorption + 0.035), scatter * (550 / WAVELENGTHS) ** 1.2)


BUILD_PIGMENTS: dict[str, Pigment] = {
    "yellow": _pigment(1 - step_up(492, 9), 26, 0.05),
    "golden": _pigment((1 - step_up(518, 10)) * (0.8 + 0.2 * bell(470, 45)), 24, 0.05),
    "orange": _pigment(1 - step_up(556, 10), 22, 0.04),
    "red": _pigment(bell(530, 70, 34) + 0.55 * (1 - step_up(450, 30)), 24),
    "magenta": _pigment(bell(545, 38, 18) + 0.45 * bell(515, 25) + 0.16 * bell(390, 35), 22),
    "violet": _pigment(bell(570, 40, 26) + 0.4 * bell(535, 25) + 0.12 * bell(390, 40), 24),
    "blue": _pigment(bell(612, 48, 30) + 0.75 * bell(690, 34, 40) + 0.22 * bell(385, 30), 24),
    "green": _pigment(bell(640, 44, 60) + 0.8 * bell(430, 36, 30), 22),
    "brown": _pigment((620 / WAVELENGTHS) ** 4.5 * 0.45, 16, 0.06),
    "black": _pigment(0.9 + 0.15 * (WAVELENGTHS - 550) / -200, 30, 0.01),
}
FINAL_PIGMENTS: dict[str, Pigment] = {
    "lemon": _pigment(1 - step_up(483, 8), 24, 0.05),
    "amber": _pigment(0.95 * (1 - step_up(531, 11)), 22, 0.05),
    "coral": _pigment(bell(515, 80, 40) + 0.3 * (1 - step_up(430, 20)), 20, 0.04),
    "scarlet": _pigment(1 - step_up(590, 9), 22, 0.03),
    "crimson": _pigment(bell(555, 48, 20) + 0.5 * bell(520, 28) + 0.25 * bell(400, 45), 23),
    "purple": _pigment(bell(585, 46, 24) + 0.55 * bell(545, 28) + 0.10 * bell(385, 30), 24),
    "navy": _pigment(bell(600, 60, 60) + 0.45 * bell(700, 40, 60) + 0.3 * bell(400, 60), 26),
    "turquoise": _pigment(bell(668, 42, 40) + 0.55 * bell(615, 26) + 0.12 * bell(385, 28), 20),
    "leaf": _pigment(bell(655, 50, 60) + 1.0 * (1 - step_up(478, 12)), 22),
    "umber": _pigment((620 / WAVELENGTHS) ** 3.2 * 0.5 + 0.15 * bell(480, 40), 16, 0.06),
    "soot": _pigment(0.85 + 0.35 * (WAVELENGTHS - 550) / -400, 28, 0.01),
}
PIGMENTS = BUILD_PIGMENTS | FINAL_PIGMENTS
BINDER_SCATTER = 0.35  # per mm; the dried binder is nearly clear
SURFACE = 0.022, 0.15  # of the film: reflection from outside, and of the light coming back from inside

Recipe = dict[str, float]  # pigment -> % of the paste


def film_reflectance(k: Array, s: Array, thickness: float, under: Array) -> Array:
    """Reflectance of a film with absorption k and scatter s (per mm) over a ground. Source: Kubelka 1948."""
    a = 1 + k / s
    b = np.sqrt(a * a - 1)
    # tanh stays finite where coth would not: a film without absorption or without thickness.
    depth = b * s * thickness
    tanh_over_b = np.where(b > 1e-9, np.tanh(depth) / np.maximum(b, 1e-9), s * thickness)
    return (under + (1 - a * under) * tanh_over_b) / (1 + (a - under) * tanh_over_b)


def saunderson(inner: Array, k1: float, k2: float) -> Array:
    """Reflectance seen from outside a surface, its mirror reflection left in. Source: Saunderson 1942."""
    return k1 + (1 - k1) * (1 - k2) * inner / (1 - k2 * inner)


def strip_reflectance(recipe: Recipe, thickness: float = 0.05, ground: str | Array = "white") -> Array:
    """(81,) reflectance of a paste with `recipe` (pigment -> % load), a film of `thickness` mm on cloth."""
    under = cloth(ground) if isinstance(ground, str) else ground
    k = sum((load * PIGMENTS[name].absorption for name, load in recipe.items()), np.zeros_like(WAVELENGTHS))
    s = sum((load * PIGMENTS[name].scatter for name, load in recipe.items()), BINDER_SCATTER * np.ones_like(under))
    return saunderson(film_reflectance(k, s, thickness, under), *SURFACE)


def strip_series(recipe: Recipe, thickness: float, ground: str | Array, relative: Array) -> Array:
    """(n, 81) the same paste at `relative` (n,) times the thickness, for a film that is uneven."""
    return np.array([strip_reflectance(recipe, thickness * share, ground) for share in relative])


def random_recipe(rng: np.random.Generator, pigments: dict[str, Pigment]) -> Recipe:
    """One to three pigments; from pale tints to deep shades."""
    names = rng.choice(sorted(pigments), size=rng.choice([1, 2, 2, 3]), replace=False)
    total = np.exp(rng.uniform(np.log(0.15), np.log(3.5)))
    shares = rng.dirichlet(np.full(len(names), 1.5))
    return {str(name): float(max(total * share, 0.01)) for name, share in zip(names, shares, strict=True)}


def near_pair(
    rng: np.random.Generator,
    size: float,
    pigments: dict[str, Pigment] | None = None,
    thickness: float = 0.05,
    ground: str | Array = "white",
) -> tuple[Recipe, Recipe]:
    """A recipe and a neighbour `size` CIEDE2000 away (D65, 10 degrees): another load, or a touch of one more."""
    known = BUILD_PIGMENTS if pigments is None else pigments
    while True:
        first = random_recipe(rng, known)
        second = neighbour(rng, first, size, known, thickness, ground)
        if second:  # a deep shade may not get that far with one pigment: draw another
            return first, second


def neighbour(
    rng: np.random.Generator,
    first: Recipe,
    size: float,
    known: dict[str, Pigment],
    thickness: float = 0.05,
    ground: str | Array = "white",
) -> Recipe | None:
    """A recipe `size` CIEDE2000 away from the first one; None where the pigment that was drawn cannot do it."""
    name = str(rng.choice(sorted(first) if rng.random() < 0.5 else sorted(known)))
    sign = -1.0 if name in first and rng.random() < 0.5 else 1.0
    here = reflectance_lab(strip_reflectance(first, thickness, ground))
    low, high = 0.0, 0.95 * first[name] if sign < 0 else 3.0
    for _ in range(32):  # to a thousand-millionth of a percent
        middle = (low + high) / 2
        second = first | {name: first.get(name, 0.0) + sign * middle}
        away = float(difference(here, reflectance_lab(strip_reflectance(second, thickness, ground))))
        low, high = (middle, high) if away < size else (low, middle)
    return second if abs(away - size) < 0.01 else None


def smoothest_reflectance(lab: Array, light: str = "D65", observer: int = 10) -> Array:
    """(81,) the smoothest reflectance between 0 and 1 that has a CIELAB colour.

    Source: Burns 2020, Numerical methods for smoothest reflectance reconstruction (the tanh form).

    Raises
    ------
    ValueError
        No surface can have this colour.
    """
    table = weights(illuminant(light), observer)
    wanted = lab_xyz(np.asarray(lab, dtype=float), table.sum(axis=0))
    count = len(WAVELENGTHS)
    slope = 2 * (2 * np.eye(count) - np.eye(count, k=1) - np.eye(count, k=-1))
    slope[0, 0] = slope[-1, -1] = 2
    z, pull = np.zeros(count), np.zeros(3)
    for _ in range(100):
        half = 0.5 / np.cosh(z) ** 2
        tug = half[:, None] * table
        miss = np.append(slope @ z + tug @ pull, (np.tanh(z) + 1) / 2 @ table - wanted)
        if np.abs(miss).max() < 1e-9:
            return (np.tanh(z) + 1) / 2
        bend = slope - np.diag(2 * np.tanh(z) * (tug @ pull))
        try:
            step = np.linalg.solve(np.block([[bend, tug], [tug.T, np.zeros((3, 3))]]), -miss)
        except np.linalg.LinAlgError:
            break
        step *= min(1.0, 2.0 / np.abs(step[:count]).max())
        z, pull = z + step[:count], pull + step[count:]
    raise ValueError(f"no smooth reflectance has the colour {lab}")
