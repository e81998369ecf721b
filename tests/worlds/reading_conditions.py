"""Prints as an instrument reads them and as a lamp shows them, where the two differ: gloss and ultraviolet.

A sphere that includes gloss reads the first surface's reflection on top of what a phone sees at 45/0: 4 % (Fresnel,
n = 1.5), less what a matt surface scatters towards the phone anyway. A brightened stock glows around 440 nm (425 to
450 nm, tests/reference/measurement_conditions.csv) as far as light or instrument holds ultraviolet and the ink lets
it in and the glow out. A print of the other worlds has the glow in its stock; here it is taken out, and put back by
the share of ultraviolet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.worlds.printers import PrintedCard, read_spectra, write_values
from tests.worlds.spectra import WAVELENGTHS, Array, bell, reflectance_lab

Rng = np.random.Generator

FRESNEL = 0.04  # of the light on a surface with a refractive index of 1.5
ULTRAVIOLET = {"M0": 0.6, "M1": 1.0, "M2": 0.0}  # of daylight's; what M0 holds is not defined


@dataclass(frozen=True)
class Glow:
    """A brightener: its emission (81,) on the bare stock in full daylight, and how inks hold back ultraviolet."""

    emission: Array
    opacity: float  # exponent of the ink's own transmission at 385 nm


def random_glow(rng: Rng, card: PrintedCard) -> Glow:
    """About what the print's own stock shows around 440 nm, of a shape and strength of its own."""
    at = {nm: float(np.interp(nm, WAVELENGTHS, card.paper)) for nm in (410, 440, 510)}
    strength = max(at[440] - (at[410] + at[510]) / 2, 0.0) * rng.uniform(0.8, 1.3)
    shape = bell(440 + rng.normal(0, 3), 13 * rng.uniform(0.9, 1.1), 20 * rng.uniform(0.9, 1.2))
    return Glow(strength * shape, rng.uniform(0.7, 1.5))


def under(card: PrintedCard, glow: Glow, ultraviolet: float) -> PrintedCard:
    """The print with its glow under light with so much of daylight's ultraviolet; 1 leaves the bare stock as it is."""
    dull = card.paper - np.minimum(glow.emission, 0.3 * card.paper)
    spectra = {}
    for name, spectrum in card.spectra.items():
        ink = np.clip(spectrum / card.paper, 0, 1)
        shut = float(np.interp(385, WAVELENGTHS, ink)) ** glow.opacity
        spectra[name] = dull * spectrum / card.paper + ultraviolet * glow.emission * np.sqrt(ink) * shut
    return replace(card, reflectance={name: spectra[name] for name in card.reflectance}, paper=spectra["paper"])


def with_gloss(spectra: dict[str, Array], share: float) -> dict[str, Array]:
    """Reflectances as a sphere reads them that includes gloss; `share` is 0 for a matt surface, 1 for a smooth one."""
    return {name: spectrum + FRESNEL * share for name, spectrum in spectra.items()}


def write_reading(path: Path, card: PrintedCard, rng: Rng, gloss: float = 0.0, **said: str) -> Path:
    """A values file of a print read so, with the instrument's own errors; `said` is what its header says of that."""
    read = read_spectra(with_gloss(card.spectra, gloss), rng)
    lab = dict(zip(read, reflectance_lab(np.array(list(read.values()))), strict=True))
    return write_values(path, card.design.name, lab, read, **said)
