"""Ready-mixed inks of hidden studios: an opaque white, a black and two colours, each with a binder of its own.

They go into a pot by up to 100 %. Each takes the place of clear base, whose scatter goes with it, and crowds less than
concentrates do: it was let down once already. All of it is invented.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.worlds.hidden_studios import CODES, Rng, Shares, Studio, hidden_studio, log_uniform, random_discord
from tests.worlds.inks import Pigment, cloth
from tests.worlds.spectra import WAVELENGTHS, Array, bell, step_up

WHITE, BLACK = "opaque white", "ready black"
COLOURS = {
    "build": {"ready red": 1 - step_up(585, 12), "ready sea": bell(640, 70, 40) + 0.3 * bell(400, 40)},
    "final": {"ready ochre": 0.9 * (1 - step_up(540, 25)), "ready plum": bell(560, 60, 40) + 0.4 * bell(420, 60)},
}
GROUNDS = "white", "natural", "grey", "white", "black", "natural", "blue"  # of the studios in turn
CONCENTRATES = 4  # beside the ready-mixed inks


def ready_studio(split: str, number: int, spread: float | None = None) -> Studio:
    """Studio `number` of a split with four of its concentrates and four ready-mixed inks, on a cloth of its own."""
    rng = np.random.default_rng([2026, 17, CODES[split], number])
    studio = hidden_studio(split, number, spread)
    kept = [str(name) for name in rng.permutation(sorted(studio.pigments))[:CONCENTRATES]]
    inks = ready_inks(rng, split, studio.binder_scatter)
    ground = GROUNDS[number % len(GROUNDS)]
    return replace(
        studio,
        pigments={name: studio.pigments[name] for name in kept} | inks,
        crowding={name: studio.crowding[name] for name in kept} | {name: log_uniform(rng, 150, 600) for name in inks},
        discord=studio.discord | {tuple(sorted((one, ink))): random_discord(rng) for ink in inks for one in kept},
        ground=ground,
        scene=replace(studio.scene, cloth=cloth(ground)),
    )


def ready_inks(rng: Rng, split: str, clear_base: float) -> dict[str, Pigment]:
    """Absorption and scatter of 1 % of each in a pot of clear base, which scatters so much per mm."""
    white = ready_ink(0.02 + 3 * (1 - step_up(402, 5)), rng.uniform(0.2, 1.0), rng.uniform(18, 70), clear_base)
    black = ready_ink(
        0.9 + 0.15 * (550 - WAVELENGTHS) / 200, log_uniform(rng, 50, 150), log_uniform(rng, 0.7, 4), clear_base
    )
    colours = {
        name: ready_ink(shape + 0.02, log_uniform(rng, 30, 120), log_uniform(rng, 1, 20), clear_base)
        for name, shape in COLOURS[split].items()
    }
    return {WHITE: white, BLACK: black, **colours}


def ready_ink(shape: Array, absorption: float, scatter: float, clear_base: float) -> Pigment:
    """An ink of such absorption and scatter per mm, as it is: what 1 % of it does in place of clear base."""
    return Pigment(absorption * shape / 100, (scatter * (550 / WAVELENGTHS) ** 1.2 - clear_base) / 100)


def ready_mix(rng: Rng, studio: Studio) -> Shares:
    """A hidden recipe, %: one or two of the ready-mixed inks, 5 to 100 % together, and mostly a concentrate."""
    inks = sorted(name for name in studio.pigments if is_ready(name))
    others = sorted(set(studio.pigments) - set(inks))
    names = rng.choice(inks, size=rng.integers(1, 3), replace=False)
    count = int(rng.choice([0, 1, 2], p=[0.3, 0.5, 0.2]))
    whole = 100.0 if rng.random() < 0.25 else log_uniform(rng, 5, 100)
    few = {str(name): log_uniform(rng, 0.1, 3) for name in rng.choice(others, size=count, replace=False)}
    whole = min(whole, 100 - sum(few.values()))
    parts = rng.dirichlet(np.full(len(names), 1.5))
    return {str(name): float(whole * part) for name, part in zip(names, parts, strict=True)} | few


def is_ready(name: str) -> bool:
    """Whether a thing of these studios is a ready-mixed ink."""
    return name == WHITE or name.startswith("ready ")
