"""What heat setting does to the inks of a hidden studio, so that a strip has a colour before the heat and one after.

All of it is invented; nobody has published how heat moves the colour of a printed strip. It is made to behave like the
real thing: what heat does comes to rest as a chemical reaction does, sooner where it is hotter. The dried paste gets
clearer, each pigment gets a little stronger or weaker, the surface changes, more ink sinks into the cloth. Cloth and
binder yellow besides, in proportion to time, which is seen only after far too much heat.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from tests.worlds.inks import Pigment
from tests.worlds.random_scenes import WORLDS
from tests.worlds.spectra import WAVELENGTHS, Array

if TYPE_CHECKING:
    from tests.worlds.hidden_studios import Studio

Rng = np.random.Generator

GAS = 8.314e-3  # kJ/(mol K), the gas constant
KELVIN = 273.15
TOOLS = "iron", "press", "dryer"
TOOL_CHANCES = 0.4, 0.4, 0.2
ASTRAY = {"iron": (9.0, 0.15), "press": (3.0, 0.04), "dryer": (5.0, 0.08)}  # °C, share of the time; one std; invented
SINKS = {"white": 1.0, "natural": 1.5}  # a raw cloth takes up more,
YELLOWS = {"white": 1.0, "natural": 3.0}  # and has its waxes still, which yellow too
YELLOW = np.exp(-(WAVELENGTHS - 400) / 60)  # what yellowing absorbs, by wavelength
BINDER_YELLOW = 4.0  # per mm of binder for each K/S of cloth


class Setting(NamedTuple):
    """How a studio usually heat-sets, as it would say."""

    celsius: float
    seconds: float
    tool: str  # of TOOLS


@dataclass(frozen=True)
class Baked:
    """How a strip was really heated, whatever was typed."""

    celsius: float
    seconds: float


@dataclass(frozen=True)
class Habits:
    """How one studio heat-sets, and what heat does to its inks in full (dose 1)."""

    usual: Setting
    rest: float  # s at the usual temperature, until what is left to be done has shrunk to 1/e
    energy: float  # kJ/mol by which that goes faster where it is hotter
    clearing: float  # share of its scatter that the dried paste loses, binder and pigments alike
    strength: dict[str, Array]  # pigment -> (81,) natural logarithm by which its absorption changes
    relaxing: float  # natural logarithm by which the crowding of high loads eases
    gloss: float  # by which the reflection from outside, k1, changes
    sinking: float  # share of the film's area that sinks into white cloth
    yellowing: float  # K/S of white cloth at 400 nm that the usual setting adds; it grows with time for ever
    yellow_energy: float  # kJ/mol

    def dose(self, baked: Baked) -> float:
        """0..1: how much of its full effect the heat had."""
        return 1 - float(np.exp(-baked.seconds / self.rest * self._faster(baked, self.energy)))

    def yellow(self, baked: Baked) -> float:
        """K/S of white cloth at 400 nm."""
        return self.yellowing * baked.seconds / self.usual.seconds * self._faster(baked, self.yellow_energy)

    def _faster(self, baked: Baked, energy: float) -> float:
        """How many times as fast as at the usual temperature. Source: Arrhenius 1889, the form; numbers invented."""
        usual, there = self.usual.celsius + KELVIN, baked.celsius + KELVIN
        return float(np.exp(energy / GAS * (1 / usual - 1 / there)))

    def heated(self, studio: Studio, baked: Baked) -> Studio:
        """The studio as if its inks, its cloth and its surfaces had always been as this heat made them."""
        dose = self.dose(baked)
        sinking = min(dose * self.sinking * SINKS.get(studio.ground, 1.0), 1.0)
        k1, k2 = studio.surface
        return replace(
            studio,
            pigments={
                name: self._stronger(studio.pigment(name), name, dose)
                for name in sorted(studio.pigments.keys() | WORLDS[studio.split].pigments.keys())
            },
            crowding={name: half * float(np.exp(dose * self.relaxing)) for name, half in studio.crowding.items()},
            binder_scatter=studio.binder_scatter * (1 - dose * self.clearing),
            surface=(k1 + dose * self.gloss, k2),
            sunk=studio.sunk + sinking * (1 - studio.sunk),
            yellow=studio.yellow + self.yellow(baked) * YELLOWS.get(studio.ground, 1.0),
            habits=None,
        )

    def _stronger(self, pigment: Pigment, name: str, dose: float) -> Pigment:
        return replace(
            pigment,
            absorption=pigment.absorption * np.exp(dose * self.strength.get(name, 0.0)),
            scatter=pigment.scatter * (1 - dose * self.clearing),
        )

    def bake(self, tool: str, rng: Rng, celsius: float | None = None, seconds: float | None = None) -> Baked:
        """What really becomes of a strip that shall be heated so, by default as usual.

        An iron's sole swings by 9 °C about what is set and the hand's time by 15 %; a press keeps 3 °C and 4 %, a
        tunnel dryer 5 °C and 8 % (one standard deviation each). These are invented, no source.
        """
        celsius, seconds = celsius or self.usual.celsius, seconds or self.usual.seconds
        heat, time = ASTRAY[tool]
        off = rng.normal(size=2)
        return Baked(celsius + heat * float(off[0]), seconds * float(np.exp(time * off[1])))


def random_habits(rng: Rng, studio_pigments: Iterable[str], split: str) -> Habits:
    """What heat does in one studio; pigments of the split that it does not have change too."""
    usual = Setting(
        celsius=float(rng.integers(28, 34) * 5),
        seconds=float(rng.integers(4, 11) * 30),
        tool=str(rng.choice(TOOLS, p=TOOL_CHANCES)),
    )
    own = sorted(studio_pigments)
    weak = {str(name) for name in rng.permutation(own)[: int(rng.integers(0, 3))]}
    spread, common = rng.uniform(0.04, 0.08), rng.normal(0, 0.14)
    names = own + sorted(set(WORLDS[split].pigments) - set(own))
    return Habits(
        usual=usual,
        rest=-usual.seconds / float(np.log(1 - rng.uniform(0.8, 0.98))),
        energy=rng.uniform(70, 110),
        clearing=rng.uniform(0.2, 0.6),
        strength={name: common + random_strength(rng, spread, name in weak) for name in names},
        relaxing=rng.normal(0.05, 0.15),
        gloss=float(np.clip(rng.normal(0, 0.006), -0.01, 0.02)),
        sinking=rng.uniform(0.1, 0.42),
        yellowing=rng.uniform(0.003, 0.007),
        yellow_energy=rng.uniform(70, 100),
    )


def random_strength(rng: Rng, spread: float, weak: bool) -> Array:
    """(81,) natural logarithm of a pigment's change: its own, and a smooth curve within ±4 %."""
    turns, start, size = rng.uniform(0.3, 1), rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.04)
    own, loss = rng.normal(0, spread), np.log(rng.uniform(0.75, 0.92))
    curve = np.cos(2 * np.pi * turns * (WAVELENGTHS - 380) / 400 + start)
    return (loss if weak else own) + size * curve
