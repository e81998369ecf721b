"""Two prints of one design: the one in the photo, and the one whose values are used.

How a studio comes by the wrong values: another day of the same printer, refilled ink, another pack or another sort of
paper, another printer, a card that has faded, or yellowed, since it was read. The printers are drawn at random; the
driver goes on as if nothing had changed. All spectra are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchcam.cards.design import CardDesign
from tests.worlds.many_printers import Engine, RandomPrinter, Rng, random_printer
from tests.worlds.printers import PrintedCard, print_card
from tests.worlds.spectra import WAVELENGTHS

KINDS = ("other day", "other ink", "other pack", "other paper", "other printer", "faded", "yellowed")
DAYS = 0.01, 0.06  # spread of ink coverages from day to day
USUAL_DAY = 0.0, 0.02
REFILL = 0.3, 1.0  # share of another printer's inks in a refill
PACK = 0.3  # share of another stock's whiteness in a pack that the mill sells under the same name
LOST = 0.05, 0.4  # share of magenta that has faded; half of it of yellow
YELLOWING, YELLOWING_LENGTH = (0.01, 0.12), 60.0  # of the light at 380 nm; nm


@dataclass(frozen=True)
class WrongPrint:
    """A print in the photo, and the other one that was read."""

    kind: str
    shown: PrintedCard
    read: PrintedCard


def wrong_print(rng: Rng, design: CardDesign, kind: str, split: str = "build") -> WrongPrint:
    """Draw a pair of one of KINDS."""
    printer, other = (random_printer(rng, split) for _ in range(2))
    drift = float(rng.uniform(*(DAYS if kind == "other day" else USUAL_DAY)))
    day, another_day = (int(seed) for seed in rng.integers(2**31, size=2))
    read = print_card(design, printer, day, drift)
    if kind == "yellowed":
        return WrongPrint(kind, _yellowed(read, rng.uniform(*YELLOWING)), read)
    if kind == "faded":
        return WrongPrint(kind, print_card(design, _faded(printer, rng.uniform(*LOST)), day, drift), read)
    if kind != "other printer":
        other = replace(printer, engine=_changed(rng, kind, printer.engine, other.engine))
    return WrongPrint(kind, print_card(design, other, another_day, drift), read)


def _changed(rng: Rng, kind: str, engine: Engine, other: Engine) -> Engine:
    if kind == "other ink":
        share = rng.uniform(*REFILL)
        return replace(engine, inks=(1 - share) * engine.inks + share * other.inks)
    if kind == "other pack":
        return replace(engine, paper=(1 - PACK) * engine.paper + PACK * other.paper)
    if kind == "other paper":  # takes ink in its own way
        return replace(engine, paper=other.paper, spread=other.spread, n=other.n, surface=other.surface)
    return engine


def _faded(printer: RandomPrinter, lost: float) -> RandomPrinter:
    left = np.array([1, 1 - lost, 1 - lost / 2, 1])
    return replace(printer, engine=replace(printer.engine, inks=left[:, None] * printer.engine.inks))


def _yellowed(card: PrintedCard, lost: float) -> PrintedCard:
    tint = 1 - lost * np.exp(-(WAVELENGTHS - WAVELENGTHS[0]) / YELLOWING_LENGTH)
    patches = {name: row * tint for name, row in card.reflectance.items()}
    return replace(card, reflectance=patches, paper=card.paper * tint, black=card.black * tint)
