"""Pots that are off their target, and pots that only look so: the drawn world of corrections.

A studio has a target, a strip whose colour is wanted, and a pot that shall become it: of wrong amounts, with a wrong
pigment, from a lot weaker or stronger than the test series' (which nobody knows), or right, so that all that is seen
comes from the films of its strips. How wrong they are is invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds import hidden_studios as pots
from tests.worlds.spectra import Array, difference

KINDS = "amounts", "pigment", "lot", "right"
OFF = 1.0, 8.0  # CIEDE2000 of the ink in a usual film from the target; of a right pot less than RIGHT
RIGHT = 0.3
TRIES = 400
AMOUNTS, LOT = 0.4, 0.2  # natural logarithm of wrong amounts, and of a lot's strength, one standard deviation
STRAY = 0.05, 0.5  # of the pigment in the pot, how much of a wrong one


@dataclass(frozen=True)
class PotOff:
    """A pot in hand, and what it shall become."""

    kind: str
    target: pots.Strip
    written: pots.Grams  # what somebody wrote down, g; binder too
    real: pots.Grams  # what is in it, as pigment of the lot of the test series
    lots: dict[str, float]  # pigment -> strength of the lot in use, where it is not 1

    def off(self, studio: pots.Studio) -> float:
        """CIEDE2000 of its ink, in a film of usual thickness, from the target."""
        return away(studio, self.target, self.real)


def away(studio: pots.Studio, target: pots.Strip, real: pots.Grams) -> float:
    """CIEDE2000 of what is in a pot, in a film of usual thickness, from a target's true colour."""
    return float(difference(studio.lab(pots.shares_of(real)), studio.strip_lab(target)))


def pot_off(studio: pots.Studio, kind: str, grams: float, scale: float, rng: np.random.Generator) -> PotOff:
    """A pot of that kind; drawn again until it is as far off as it shall be."""
    for _ in range(TRIES):
        wanted = studio.target(rng)
        target = studio.draw_down(wanted, rng)
        if kind == "right":
            target = pots.Strip(target.shares, 1.0, target.seed)
        shares, lots = wrong(studio, wanted, kind, rng)
        if sum(shares.values()) > 8:
            continue
        written = pots.as_read(pots.grams_of(shares, grams), scale)
        found = PotOff(kind, target, written, of_lots(pots.weigh(written, scale, rng), lots), lots)
        off = found.off(studio)
        if off <= RIGHT if kind == "right" else OFF[0] <= off <= OFF[1]:
            return found
    raise RuntimeError(f"no pot that is off by {kind}")


def wrong(
    studio: pots.Studio, wanted: pots.Shares, kind: str, rng: np.random.Generator
) -> tuple[pots.Shares, dict[str, float]]:
    """What is written of a pot that is wrong in this way, and the strength of its lots."""
    if kind == "amounts":
        return {name: share * float(np.exp(rng.normal(0, AMOUNTS))) for name, share in wanted.items()}, {}
    if kind == "pigment":
        others = sorted(set(studio.pigments) - set(wanted))
        stray = sum(wanted.values()) * pots.log_uniform(rng, *STRAY)
        return wanted | {str(rng.choice(others)): stray}, {}
    if kind == "lot":
        return dict(wanted), {str(rng.choice(sorted(wanted))): float(np.exp(rng.normal(0, LOT)))}
    return dict(wanted), {}


def of_lots(grams: pots.Grams, lots: dict[str, float]) -> pots.Grams:
    """Pigment of other lots, as so much of the test series' lot."""
    return {name: weight * lots.get(name, 1.0) for name, weight in grams.items()}


def strip_off(sighting: pots.Sighting, target: Array) -> float:
    """CIEDE2000 of one strip's true colour from a target's."""
    return float(difference(sighting.lab, target))
