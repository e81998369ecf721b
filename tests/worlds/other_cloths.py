"""A hidden studio's inks on another cloth: another ground, more or less ink taken up, ink that sinks in otherwise.

All of it is invented. Pigments, binder, scale, hand, phone and lamp are the studio's own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from swatchcam.measurement.stored_colour import Kept
from tests.worlds import hidden_studios as pots
from tests.worlds.heat_pairs import DryStrip, dry_strips, kept_in
from tests.worlds.inks import cloth

CLOTHS = "white", "natural", "coarse", "grey", "pink", "blue", "ochre"
UPTAKE = 0.7, 1.5  # times the film that the known cloth takes up
SINKS, COARSE_SINKS = (-0.15, 0.2), (0.0, 0.35)  # of the area, more than on the known cloth
CHECKS = 2  # strips of known recipe on the new cloth, in one photo


@dataclass(frozen=True)
class NewCloth:
    """What a studio photographed of a cloth that is new to it."""

    bare: Kept | None  # a window without ink; None where the photo was refused
    checks: list[DryStrip]


def on_other_cloth(studio: pots.Studio, number: int, which: int = 0) -> pots.Studio:
    """Studio `number` as if it had always printed on another cloth, one of several."""
    rng = np.random.default_rng([2026, 171, pots.CODES[studio.split], number, which])
    ground = str(rng.choice([name for name in CLOTHS if name != studio.ground]))
    k1, k2 = studio.surface
    return replace(
        studio,
        ground=ground,
        film=studio.film * pots.log_uniform(rng, *UPTAKE),
        sunk=float(np.clip(studio.sunk + rng.uniform(*(COARSE_SINKS if ground == "coarse" else SINKS)), 0, 0.5)),
        surface=(float(np.clip(k1 + rng.normal(0, 0.004), 0.01, 0.05)), float(np.clip(k2 + rng.normal(0, 0.05), 0, 1))),
        scene=replace(studio.scene, cloth=cloth(ground)),
    )


def cached_cloth(split: str, number: int, which: int, scale: float, folder: Path, spread: float) -> NewCloth:
    """What the studio shows of a new cloth, photographed only once: kept in `folder`."""
    path = folder / f"cloth-{split}-{number}-{which}-{scale:g}-{spread:g}.pickle"
    return kept_in(path, partial(_photographed, split, number, which, scale, folder, spread))


def _photographed(split: str, number: int, which: int, scale: float, folder: Path, spread: float) -> NewCloth:
    rng = np.random.default_rng([2026, 172, pots.CODES[split], number, which])
    studio = on_other_cloth(pots.hidden_studio(split, number, spread), number, which)
    bare = next((kept for _ in range(pots.TRIES) if (kept := _bare(studio, rng, folder))), None)
    return NewCloth(bare, dry_strips(studio, [studio.target(rng) for _ in range(CHECKS)], rng, folder, scale))


def _bare(studio: pots.Studio, rng: pots.Rng, folder: Path) -> Kept | None:
    """A window that shows the bare cloth."""
    return studio.tried({}, rng, folder, last=False).get(pots.WINDOWS[0])
