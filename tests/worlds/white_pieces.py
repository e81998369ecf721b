"""Card stock of many kinds, and pieces of PTFE to tell it by, good ones and poor ones.

One layer of thread seal tape is as Janecek 2012 measured it (`tests/reference/ptfe_reflectance.csv`); more layers
follow by scatter without absorption. That file says that such predictions come out 0.01 to 0.02 too light, so the
pieces drawn are darker than predicted by up to 0.015. All stocks are invented.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache

import numpy as np

from tests.paths import REFERENCE
from tests.worlds.printers import PrintedCard
from tests.worlds.spectra import WAVELENGTHS, Array, bell

Rng = np.random.Generator

LAYERS = 7, 25  # of tape, 0.5 mm and more
STOCKS = ("plain", "brightened", "warm", "recycled")


@cache
def one_layer() -> Array:
    """(81,) reflectance of one layer of tape over black."""
    with open(REFERENCE / "ptfe_reflectance.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    tape = [row for row in rows if row["material"] == "PTFE tape, 1 layer"]
    at, found = (np.array([float(row[key]) for row in tape]) for key in ("wavelength_nm", "reflectance"))
    return np.interp(WAVELENGTHS, at, found)


def tape(layers: float, ground: Array | float) -> Array:
    """(81,) reflectance of so many layers over a ground."""
    one = one_layer()
    passed = 1 / (1 + layers * one / (1 - one))
    return np.asarray(1 - passed + passed**2 * ground / (1 - (1 - passed) * ground))


def white_piece(rng: Rng) -> Array:
    """(81,) reflectance of PTFE of at least 0.5 mm over white paper."""
    return tape(float(np.exp(rng.uniform(*np.log(LAYERS)))), rng.uniform(0.7, 0.9)) - rng.uniform(0, 0.015)


def any_stock(rng: Rng, kind: str) -> Array:
    """(81,) reflectance of card stock of one of STOCKS, as a lamp shows it that excites its brightener or not."""
    level, slope, warm, violet, glow = {
        "plain": ((0.82, 0.93), (-0.01, 0.02), (0.02, 0.08), (0.02, 0.1), (0, 0.02)),
        "brightened": ((0.84, 0.94), (-0.01, 0.01), (0, 0.05), (0.05, 0.15), (0.03, 0.14)),
        "warm": ((0.82, 0.92), (0, 0.03), (0.08, 0.2), (0.02, 0.1), (0, 0.01)),
        "recycled": ((0.76, 0.86), (-0.03, 0.03), (0.02, 0.1), (0.05, 0.15), (0, 0.05)),
    }[kind]
    return np.asarray(
        rng.uniform(*level)
        + rng.uniform(*slope) * (WAVELENGTHS - 580) / 200
        - rng.uniform(*warm) * np.exp(-(WAVELENGTHS - 380) / rng.uniform(40, 80))
        - rng.uniform(*violet) * np.exp(-(WAVELENGTHS - 380) / rng.uniform(10, 18))
        + rng.uniform(*glow) * bell(rng.uniform(435, 445), rng.uniform(11, 15), rng.uniform(18, 30))
    )


def on_stock(card: PrintedCard, stock: Array) -> PrintedCard:
    """The same inks on another stock."""
    part = stock / card.paper
    patches = {name: part * row for name, row in card.reflectance.items()}
    return replace(card, reflectance=patches, paper=stock, black=part * card.black)
