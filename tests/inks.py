"""Inks of the drawn scenes: pigment films on cloth (Kubelka-Munk) and printed card patches (Neugebauer).

All spectra here are invented; they are smooth and behave like the kinds they are named after.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from spectra import WAVELENGTHS, Array, bell, illuminant, reflectance_lab, reflectance_xyz, step_up

from swatchcam.card import CardDesign

# --- cloth and pigment films ---------------------------------------------------------------------------------


@cache
def cloth(name: str) -> Array:
    """(81,) reflectance of bare cloth: white, natural, black, grey, blue or pink."""
    cotton = 0.86 - 0.10 * np.exp(-(WAVELENGTHS - 380) / 40)
    natural = 0.80 - 0.34 * np.exp(-(WAVELENGTHS - 380) / 110)
    return {
        "white": cotton,
        "natural": natural,
        "black": 0.035 + 0.02 * step_up(700, 15),
        "grey": 0.32 * cotton / 0.86,
        "blue": cotton * (0.12 + 0.45 * bell(450, 45, 55) + 0.35 * step_up(715, 14)),
        "pink": cotton * (0.92 - 0.45 * bell(530, 45, 35)),
    }[name]


@dataclass(frozen=True)
class Pigment:
    """Absorption and scatter, (81,), per mm of film and per 1 % of pigment in the paste."""

    absorption: Array
    scatter: Array


def _pigment(absorption: Array, strength: float, scatter: float = 0.02) -> Pigment:
    # Small particles scatter short waves more; far more weakly than the inverse fourth power of a gas.
    return Pigment(strength * (absorption + 0.004), scatter * (550 / WAVELENGTHS) ** 1.2)


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


def drawdown(recipe: dict[str, float], thickness: float = 0.05, ground: str | Array = "white") -> Array:
    """(81,) reflectance of a paste with `recipe` (pigment -> % load), a film of `thickness` mm on cloth."""
    under = cloth(ground) if isinstance(ground, str) else ground
    k = sum((load * PIGMENTS[name].absorption for name, load in recipe.items()), np.zeros_like(WAVELENGTHS))
    s = sum((load * PIGMENTS[name].scatter for name, load in recipe.items()), BINDER_SCATTER * np.ones_like(under))
    return film_reflectance(k, s, thickness, under)


# --- printers and the cards they print -----------------------------------------------------------------------


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


def _stock(warmth: float, brightener: float, level: float = 0.90) -> Array:
    base = level - warmth * np.exp(-(WAVELENGTHS - 380) / 55) - 0.10 * np.exp(-(WAVELENGTHS - 380) / 14)
    return base + brightener * bell(440, 13, 20)


BUILD_PRINTERS: dict[str, Printer] = {
    "inkjet": Printer(
        _stock(0.06, 0.07),
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
        _stock(0.05, 0.10, 0.88),
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
        _stock(0.03, 0.03, 0.93),
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
        _stock(0.07, 0.085, 0.89),
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
        _stock(0.045, 0.02, 0.92),
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


def printed(printer: Printer, srgb: tuple[int, int, int]) -> Array:
    """(81,) reflectance of one colour. Source: Yule & Nielsen 1951 on Neugebauer 1937, Demichel's equations."""
    amounts = 1 - np.array(srgb, dtype=float) / 255
    black = printer.blacking * amounts.min() ** 2
    cover = np.append((amounts - black) / (1 - black) if black < 1 else amounts, black)
    cover = cover + 4 * printer.gain * cover * (1 - cover)
    inks = np.stack([printer.cyan, printer.magenta, printer.yellow, printer.black])
    total = np.zeros_like(WAVELENGTHS)
    for primary in range(16):
        on = np.array([(primary >> ink) & 1 for ink in range(4)])
        area = np.prod(np.where(on, cover, 1 - cover))
        # Ink on ink takes less well than ink on paper.
        absorbance = on @ inks * (1 - 0.06 * max(on.sum() - 1, 0))
        total += area * (printer.paper * 10**-absorbance) ** (1 / printer.n)
    bare = total**printer.n
    return printer.surface * (1 - bare / printer.paper) + bare


@dataclass(frozen=True)
class PrintedCard:
    """One print of a design: reflectance (81,) by patch name, the stock, and the black of tags and lines."""

    design: CardDesign
    reflectance: dict[str, Array]
    paper: Array
    black: Array

    def true_xyz(self, name: str, light: str = "D65", observer: int = 10) -> Array:
        """(3,) XYZ of one patch, or of the stock for the name 'paper'."""
        return reflectance_xyz(self._spectrum(name), illuminant(light), observer)

    def true_lab(self, light: str = "D65", observer: int = 10) -> dict[str, Array]:
        """Name -> (3,) CIELAB of every patch and of 'paper'."""
        names = [*self.reflectance, "paper"]
        return {name: reflectance_lab(self._spectrum(name), light, observer) for name in names}

    def _spectrum(self, name: str) -> Array:
        return self.paper if name == "paper" else self.reflectance[name]


def print_card(design: CardDesign, printer: Printer, seed: int = 0, drift: float = 0.0) -> PrintedCard:
    """One print of a design."""
    patches = {patch.name: printed(printer, patch.srgb) for patch in design.patches}
    return PrintedCard(design, patches, printer.paper, printed(printer, (0, 0, 0)))
