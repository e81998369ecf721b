"""Printed cards: four inks on white stock, after Yule, Nielsen and Neugebauer.

All ink spectra and stocks are invented.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Protocol

import numpy as np

from swatchcam.cards.design import CardDesign
from tests.worlds.spectra import (
    WAVELENGTHS,
    Array,
    bell,
    difference,
    illuminant,
    reflectance_lab,
    reflectance_xyz,
    step_up,
)

BANDS = np.stack([bell(centre, 22) for centre in (625, 540, 455)])  # where cyan, magenta and yellow absorb most
BANDS = BANDS / BANDS.sum(axis=1, keepdims=True)
OVERPRINTS = np.array([[(primary >> ink) & 1 for ink in range(4)] for primary in range(16)])
MISBALANCE = 0.15  # share of the inks' own cast that a home printer leaves in its greys


class Press(Protocol):
    """Whatever prints a card."""

    @property
    def paper(self) -> Array:
        """(81,) reflectance of the bare stock."""

    @property
    def evenness(self) -> float:
        """How many times less its coverages vary from patch to patch than from print to print."""

    def printed(self, srgb: tuple[int, int, int], errors: tuple[float, ...] = (0.0,) * 4) -> Array:
        """(81,) reflectance of one colour; `errors` are relative changes of each ink's coverage."""


@dataclass(frozen=True)
class Printer:
    """Four inks on one stock; absorbances are of a solid, light passing twice."""

    paper: Array  # (81,) reflectance
    cyan: Array  # (81,) decadic absorbance
    magenta: Array
    yellow: Array
    black: Array
    n: float  # Yule-Nielsen exponent
    gain: float  # dot gain at half coverage
    blacking: float  # share of the common grey that is printed in black, 0..1
    surface: float  # reflectance of the ink's own surface, seen over everything
    evenness: float = 3.0  # how many times less coverages vary within a print than from print to print
    driver: Printer | None = None  # the printer that its driver takes it for; by default itself

    def printed(self, srgb: tuple[int, int, int], errors: tuple[float, ...] = (0.0,) * 4) -> Array:
        """(81,) reflectance of one colour; `errors` are relative changes of each ink's coverage."""
        covers = (self.driver or self).covers(srgb) * (1 + np.array(errors))
        return self._halftone(np.clip(covers, 0, 1))

    def covers(self, srgb: tuple[int, int, int]) -> Array:
        """(4,) coverage of cyan, magenta, yellow and black."""
        inks, black = self._separate(1 - np.array(srgb, dtype=float) / 255)
        amounts, balanced = self._grey_balance
        covers = [np.interp(inks[i], amounts, balanced[:, i]) for i in range(3)]
        return np.append(covers, black)

    def _separate(self, amounts: Array) -> tuple[Array, float]:
        black = self.blacking * float(amounts.min()) ** 2
        return (amounts - black) / (1 - black), black

    @cached_property
    def _grey_balance(self) -> tuple[Array, Array]:
        """Amounts (n,) of equal cyan, magenta and yellow, and the coverages (n, 3) that print them as a grey.

        Grey here is the stock's own tint at the lightness of the sRGB code, as a printer's driver aims at.
        """
        amounts, rows = [0.0], [np.zeros(3)]
        for grey in np.linspace(0.05, 1, 20):
            inks, black = self._separate(np.full(3, grey))
            code = 1 - grey
            # No print is darker than 2.7 % of its stock.
            target = np.log(max(((code + 0.055) / 1.055) ** 2.4, 0.027))
            covers = inks.copy()
            for _ in range(40):
                share = BANDS @ self._halftone(np.append(covers, black)) / (BANDS @ self.paper)
                covers = np.clip(covers + 0.25 * (np.log(share) - target), 0, 1)
            amounts.append(float(inks[0]))
            rows.append(np.maximum((1 - MISBALANCE) * covers + MISBALANCE * covers.mean(), rows[-1]))
        return np.array(amounts), np.array(rows)

    def _halftone(self, covers: Array) -> Array:
        """Source: Demichel's areas, Neugebauer 1937, with the exponent of Yule & Nielsen 1951."""
        dots = covers + 4 * self.gain * covers * (1 - covers)
        areas = np.prod(np.where(OVERPRINTS, dots, 1 - dots), axis=1)
        bare = (areas @ self._primaries) ** self.n
        return self.surface * (1 - bare / self.paper) + bare

    @cached_property
    def _primaries(self) -> Array:
        """(16, 81) reflectance of each overprint of solid inks, to the power 1/n."""
        inks = np.stack([self.cyan, self.magenta, self.yellow, self.black])
        # Ink on ink takes less well than ink on paper.
        taken = 1 - 0.06 * np.maximum(OVERPRINTS.sum(axis=1, keepdims=True) - 1, 0)
        return (self.paper * 10 ** (-(OVERPRINTS @ inks) * taken)) ** (1 / self.n)


def stock(warmth: float, brightener: float, level: float = 0.90) -> Array:
    base = level - warmth * np.exp(-(WAVELENGTHS - 380) / 55) - 0.10 * np.exp(-(WAVELENGTHS - 380) / 14)
    return base + brightener * bell(440, 13, 20)


BUILD_PRINTERS: dict[str, Printer] = {
    "inkjet": Printer(
        stock(0.06, 0.07),
        1.35 * bell(630, 62, 70) + 0.20 * bell(400, 40),
        1.45 * bell(548, 40, 22) + 0.30 * bell(400, 60),
        1.40 * (1 - step_up(487, 10)) + 0.02,
        1.55 - 0.15 * step_up(650, 40),
        1.8,
        0.10,
        0.5,
        0.006,
    ),
    "laser": Printer(
        stock(0.05, 0.10, 0.88),
        1.20 * bell(618, 50, 36) + 0.95 * bell(690, 40, 50) + 0.25 * bell(390, 45),
        1.35 * bell(560, 45, 20) + 0.5 * bell(525, 28) + 0.22 * bell(390, 50),
        1.25 * (1 - step_up(498, 13)) + 0.03,
        1.70 + 0.0 * WAVELENGTHS,
        1.6,
        0.16,
        0.8,
        0.012,
    ),
    "photo": Printer(
        stock(0.03, 0.03, 0.93),
        1.65 * bell(655, 58, 60) + 0.18 * bell(380, 50),
        1.75 * bell(538, 36, 26) + 0.25 * bell(410, 50),
        1.80 * (1 - step_up(480, 9)) + 0.015,
        1.90 - 0.1 * step_up(600, 60),
        2.0,
        0.07,
        0.3,
        0.004,
    ),
}
FINAL_PRINTERS: dict[str, Printer] = {
    "office": Printer(
        stock(0.07, 0.085, 0.89),
        1.25 * bell(640, 70, 60) + 0.3 * bell(395, 45),
        1.30 * bell(552, 46, 24) + 0.35 * bell(395, 55),
        1.30 * (1 - step_up(492, 11)) + 0.025,
        1.50 - 0.2 * step_up(680, 30),
        1.7,
        0.13,
        0.6,
        0.009,
    ),
    "studio": Printer(
        stock(0.045, 0.02, 0.92),
        1.50 * bell(645, 48, 40) + 0.6 * bell(605, 25) + 0.2 * bell(385, 40),
        1.60 * bell(565, 40, 18) + 0.6 * bell(528, 24) + 0.2 * bell(385, 40),
        1.60 * (1 - step_up(490, 8)) + 0.02,
        1.80 + 0.0 * WAVELENGTHS,
        1.9,
        0.09,
        0.45,
        0.005,
    ),
}
PRINTERS = BUILD_PRINTERS | FINAL_PRINTERS


AS_READ = slice(0, 71, 2)
READ_AT = WAVELENGTHS[AS_READ]  # nm; 380 to 730 in steps of 10, as instruments of print shops do
READING_ERROR, READING_OFFSET = 0.004, 0.0006  # of each reflectance, relative; of all light, absolute
READING_LENGTH = 50.0  # nm over which an error stays alike


@dataclass(frozen=True)
class PrintedCard:
    """One print of a design: reflectance (81,) by patch name, the stock, and the black of tags and lines."""

    design: CardDesign
    reflectance: dict[str, Array]
    paper: Array
    black: Array
    number: str | None = None  # eight digits, printed as three tags where the design has places for them

    @property
    def spectra(self) -> dict[str, Array]:
        """Reflectance of every patch and of 'paper'."""
        return self.reflectance | {"paper": self.paper}

    def true_xyz(self, name: str, light: str = "D65", observer: int = 10) -> Array:
        """(3,) XYZ of one patch, or of the stock for the name 'paper'."""
        return reflectance_xyz(self.spectra[name], illuminant(light), observer)

    def true_lab(self, light: str = "D65", observer: int = 10) -> dict[str, Array]:
        """Name -> (3,) CIELAB of every patch and of 'paper'."""
        return {name: reflectance_lab(spectrum, light, observer) for name, spectrum in self.spectra.items()}

    def read_spectra(self, rng: np.random.Generator) -> dict[str, Array]:
        """Reflectance (81,) of every patch and of 'paper' as an instrument reads it, smoothly off in each."""
        return read_spectra(self.spectra, rng)

    def values(self, noise: float = 0.0, seed: int = 0, light: str = "D65", observer: int = 10) -> dict[str, Array]:
        """CIELAB as an instrument reads it, `noise` rms CIEDE2000 off.

        Half of the variance is the instrument's own (wavelengths, stray light, white tile: the same for all
        patches), half differs from patch to patch (repeatability, where on the patch it was set down).
        """
        rng = np.random.default_rng(seed)
        names = list(self.spectra)
        true = np.array(list(self.true_lab(light, observer).values()))
        if not noise:
            return dict(zip(names, true, strict=True))
        shift, stray, tile = rng.normal(size=3) * (0.4, 0.0008, 0.004)
        table = np.array(list(self.spectra.values()))
        read = [np.interp(WAVELENGTHS + shift, WAVELENGTHS, row) * (1 + tile) + stray for row in table]
        own = reflectance_lab(np.array(read), light, observer) - true
        chance = rng.normal(size=true.shape)
        parts = [part * noise / np.sqrt(2) / _rms(true, part) for part in (own, chance)]
        return dict(zip(names, true + parts[0] + parts[1], strict=True))


@cache
def _smooth() -> Array:
    """(81, 81) that make independent normal numbers a curve of unit variance without sharp bends."""
    near = np.exp(-(((WAVELENGTHS[:, None] - WAVELENGTHS) / READING_LENGTH) ** 2))
    return near / np.linalg.norm(near, axis=1, keepdims=True)


def _rms(lab: Array, step: Array) -> float:
    # CIEDE2000 grows as the step does, to first order: measure it on a small one.
    return float(np.sqrt((difference(lab, lab + 0.01 * step) ** 2).mean())) * 100


def read_spectra(spectra: dict[str, Array], rng: np.random.Generator) -> dict[str, Array]:
    """Reflectances (81,) by name as an instrument reads them."""
    read = {}
    for name, spectrum in spectra.items():
        bends = _smooth() @ rng.normal(size=len(WAVELENGTHS))
        read[name] = spectrum * (1 + READING_ERROR * bends) + rng.normal(0, READING_OFFSET)
    return read


def print_card(design: CardDesign, printer: str | Press, seed: int = 0, drift: float = 0.0) -> PrintedCard:
    """One print of a design by a printer or its name; `drift` is the spread of its ink coverages, such as 0.02."""
    press: Press = PRINTERS[printer] if isinstance(printer, str) else printer
    rng = np.random.default_rng(seed)
    whole = rng.normal(0, drift, 4) if drift else np.zeros(4)
    patches = {}
    for patch in design.patches:
        errors = whole + (rng.normal(0, drift / press.evenness, 4) if drift else 0.0)
        patches[patch.name] = press.printed(patch.srgb, tuple(errors))
    return PrintedCard(design, patches, press.paper, press.printed((0, 0, 0), tuple(whole)))


def write_values(
    path: Path,
    design: str,
    lab: dict[str, Array],
    spectra: dict[str, Array] | None = None,
    grade: str = "measured",
    uncertainty: float = 0.3,
    light: str = "D65",
    observer: int = 10,
    **said: str,
) -> Path:
    """Store a card's values as the CSV file that the tool reads; without `spectra` (81,) CIELAB only.

    `said` are further lines of the header, such as the geometry.
    """
    head = {
        "design": design,
        "grade": grade,
        "illuminant": light,
        "observer": observer,
        "geometry": "45/0",
        "date": "2024-05-17",
        "source": "drawn from spectra, not measured",
        "uncertainty": f"{uncertainty:g}",
    } | said
    with open(path, "w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {key}: {value}\n" for key, value in head.items())
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["name", "L", "a", "b", *(f"r{nm:.0f}" for nm in READ_AT if spectra)])
        for name, row in lab.items():
            spectrum = spectra[name][AS_READ] if spectra else ()
            table.writerow([name, *(f"{value:.4f}" for value in row), *(f"{value:.5f}" for value in spectrum)])
    return path
