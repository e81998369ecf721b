"""Studios without photos: pigments on cloth whose strips are measured at once, by a phone that errs as it says.

The truth is a film after Kubelka and Munk (`inks`) or dyed cloth, with pigments that crowd. The phone's error is one
smooth field over CIELAB that all strips of a world share, as far as their colours are alike; a film is never as
thick as the next. All of it comes from seeds: the same number is the same strip.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Any

import numpy as np

from swatchcam.colorimetry.error_covariance import INK_REACH, Errors
from swatchcam.colorimetry.spectral_recovery import guess_spectra
from swatchcam.measurement.colour_matrix import hue_axes
from swatchcam.measurement.stored_colour import Kept
from swatchcam.mixing.known_strip import KnownStrip
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.pigment_model import Palette
from swatchcam.mixing.search import Target
from tests.worlds.hidden_studios import crowded, dyed, random_studio
from tests.worlds.inks import PIGMENTS, cloth, strip_reflectance
from tests.worlds.spectra import Array, difference, illuminant, lab_xyz, reflectance_lab, weights

PRIMARIES = "black", "blue", "red", "yellow"
NOISE = 0.1  # CIEDE2000 of one measurement, besides what the phone does to all
EYE = 0.3  # of the phone's variance; the rest counts as the ink's
WEIGHED = 0.004  # % of a share that weighing is off
THICKNESS = 0.05  # mm, of a usual film
BUMPS = 200  # of the field of errors
HEAT = {"black": 1.15, "blue": 0.75, "red": 1.3, "yellow": 0.8}  # times as strong after heat setting; invented
Shares = Mapping[str, float]  # pigment -> % of the paste
Truth = Callable[[Shares, float], Array]  # shares, relative thickness -> (81,) reflectance


@dataclass(frozen=True)
class World:
    """One studio: what its inks do, its hand, its phone."""

    seed: int
    pigments: tuple[str, ...]
    truth: Truth
    phone: float = 0.8  # CIEDE2000 that the phone is off, in each direction of colour
    spread: float = 0.04  # of the thickness, strip to strip

    def reflectance(self, shares: Shares) -> Array:
        """(81,) of a strip of usual thickness; {} is binder alone."""
        return self.truth(shares, 1.0)

    @cached_property
    def _bumps(self) -> tuple[Array, Array]:
        """(n, 3) where the bumps of the phone's field lie in CIELAB, and (n, 3) how high they are."""
        rng = np.random.default_rng([self.seed, 1])
        return rng.uniform([0, -80, -80], [100, 80, 80], (BUMPS, 3)), rng.normal(0, 1, (BUMPS, 3))

    def lab(self, shares: Shares) -> Array:
        """(3,) true CIELAB of a strip of usual thickness, D65 and 10 degrees."""
        return reflectance_lab(self.reflectance(shares))

    def seen(self, lab: Array) -> Array:
        """(3,) what the phone makes of a colour, but for noise."""
        centres, heights = self._bumps
        near = np.exp(-((lab - centres) ** 2).sum(axis=1) / INK_REACH**2)  # two such bells make one of INK_REACH
        return lab + axes(lab) @ (self.phone * near @ heights / np.sqrt((near**2).sum()))

    def kept(self, shares: Shares, number: int, photo: int | None = None) -> Kept:
        """Strip `number` as photo `photo` (by default one of its own) has it measured."""
        thick = np.exp(self.spread * np.random.default_rng([self.seed, 2, number]).normal())
        true = reflectance_lab(self.truth(shares, thick))
        photo = number if photo is None else photo
        noise = np.random.default_rng([self.seed, 3, number, photo]).normal(0, NOISE, 3)
        lab = self.seen(true) + axes(true) @ noise
        return kept_of(lab, guessed(lab), self.phone, f"photo {self.seed}-{photo}")

    def known_strip(self, shares: Shares, number: int, photo: int | None = None) -> KnownStrip:
        """The same, with what the studio knows of it."""
        std = dict.fromkeys(shares, WEIGHED)
        return KnownStrip(dict(shares), std, self.kept(shares, number, photo), f"strip {number}", number)

    def exact(self, shares: Shares, number: int) -> KnownStrip:
        """A strip of usual thickness that is measured by a spectrophotometer, nearly without error."""
        reflectance = self.reflectance(shares)
        kept = kept_of(reflectance_lab(reflectance), reflectance, 0.0, f"reading {number}", noise=0.02)
        return KnownStrip(dict(shares), dict.fromkeys(shares, 0.0), kept, f"strip {number}")

    def series(self, steps: int = 4, low: float = 0.1, high: float = 6.0, exact: bool = False) -> list[KnownStrip]:
        """Binder alone, and each pigment at `steps` loads from `low` to `high` %, geometrically."""
        loads = np.geomspace(low, high, steps)
        shares: list[Shares] = [{}, *({name: float(load)} for name in self.pigments for load in loads)]
        return [(self.exact if exact else self.known_strip)(each, number) for number, each in enumerate(shares)]

    def mix(self, rng: np.random.Generator, most: int = 3) -> dict[str, float]:
        """A hidden mix of at least two pigments, and of `most` at most."""
        names = rng.choice(self.pigments, size=rng.integers(2, most + 1), replace=False)
        total = np.exp(rng.uniform(np.log(0.2), np.log(5)))
        parts = rng.dirichlet(np.full(len(names), 1.5))
        return {str(name): float(max(total * part, 0.01)) for name, part in zip(names, parts, strict=True)}


def film_world(
    seed: int, pigments: tuple[str, ...] = PRIMARIES, ground: str = "white", uptake: float = 1.0, **own: Any
) -> World:
    """A studio whose films do what the theory says; its pigments crowd. The same on a cloth that takes up more ink."""
    halves = half_strengths(seed, pigments)

    def truth(shares: Shares, thickness: float) -> Array:
        return strip_reflectance(_working(shares, halves), THICKNESS * uptake * thickness, ground)

    return replace(World(seed, pigments, truth), **own)


def heat_set(world: World) -> World:
    """The studio as if its pigments had always been as strong as heat makes them; film, phone and hand are the same."""

    def truth(shares: Shares, thickness: float) -> Array:
        return world.truth({name: share * HEAT[name] for name, share in shares.items()}, thickness)

    return replace(world, truth=truth)


def dyed_world(seed: int, pigments: tuple[str, ...] = PRIMARIES, **own: Any) -> World:
    """A studio whose ink becomes one with the cloth."""
    halves = half_strengths(seed, pigments)

    def truth(shares: Shares, thickness: float) -> Array:
        working = _working(shares, halves)
        depth = sum((load * PIGMENTS[name].absorption for name, load in working.items()), np.zeros(81))
        return dyed(THICKNESS * thickness * depth, cloth("white"))

    return replace(World(seed, pigments, truth), **own)


def hidden_world(seed: int, count: int = 7, **own: Any) -> World:
    """A hidden studio (`hidden_studios`): so many pigments that do not quite do what any theory says."""
    studio = random_studio(np.random.default_rng([2026, 11, seed]), count=count)
    world = World(seed, tuple(sorted(studio.pigments)), studio.reflectance, spread=studio.spread)
    return replace(world, **own)


@cache
def usual() -> tuple[World, Palette]:
    """A studio whose films do what the theory says, and what it has learned from test series of four."""
    world = film_world(1)
    return world, learn(world.series())


def made_by(palette: Palette, shares: Shares) -> Target:
    """A target that the palette itself says these shares would give."""
    return Target(triple(palette.labs(palette.vector(shares)[None])[0]), "made up")


def half_strengths(seed: int, pigments: tuple[str, ...]) -> dict[str, float]:
    """% at which each pigment of a film or dyed world has half its strength."""
    rng = np.random.default_rng([seed, 0])
    return {name: float(rng.uniform(8, 30)) for name in pigments}


def _working(shares: Shares, halves: Shares) -> dict[str, float]:
    return {name: crowded(share, halves[name]) for name, share in shares.items()}


def kept_of(lab: Array, reflectance: Array, phone: float, photo: str, noise: float = NOISE) -> Kept:
    """A measured colour whose error is what it says: `phone` and `noise` CIEDE2000 in each direction."""
    unit, nothing = axes(lab) @ axes(lab).T, np.zeros((3, 3))
    parts = dict.fromkeys(("light", "fit", "card"), nothing) | {
        "noise": noise**2 * unit,
        "eye": EYE * phone**2 * unit,
        "ink": (1 - EYE) * phone**2 * unit,
    }
    # The same phone in the same light leaves the same pattern on the card.
    pattern = {f"A{i}": (float(i % 3) + 0.5, 1.0, -1.0) for i in range(20)}
    errors = Errors(parts, np.sqrt(EYE) * phone * axes(lab), pattern, (photo,))
    return Kept("left", triple(lab), "D65", 10, 2 * phone, True, errors, tuple(float(each) for each in reflectance))


def guessed(lab: Array) -> Array:
    """(81,) the likeliest reflectance behind a colour, as the package has it from a photo."""
    table = weights(illuminant("D65"), 10)
    return guess_spectra(lab_xyz(lab, table.sum(axis=0))[None], table)[0]


def axes(lab: Array) -> Array:
    """(3, 3) from units of CIEDE2000 to CIELAB there."""
    return np.linalg.inv(hue_axes(np.asarray(lab)[None]))[0]


def triple(lab: Array) -> tuple[float, float, float]:
    return float(lab[0]), float(lab[1]), float(lab[2])


def off(one: Array | tuple[float, float, float], other: Array | tuple[float, float, float]) -> float:
    """CIEDE2000, by colour-science."""
    return float(difference(np.array(one), np.array(other)))
