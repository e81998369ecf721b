"""Ready-mixed inks of hidden studios: an opaque white, a black and two colours, each with a binder of its own.

They go into a pot by up to 100 %. Each takes the place of clear base, whose scatter goes with it, and crowds less than
concentrates do: it was let down once already. All of it is invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from swatchcam.library.records import DRY
from swatchcam.library.shelf.pigments import Pigment
from swatchcam.mixing.known_strip import KnownStrip
from swatchcam.mixing.workbench import Bench
from tests.worlds.hidden_studios import CODES, Rng, Shares, Studio, hidden_studio, log_uniform, random_discord
from tests.worlds.inks import Pigment as Colour
from tests.worlds.inks import cloth
from tests.worlds.inkworld import World
from tests.worlds.spectra import WAVELENGTHS, Array, bell, step_up

WHITE, BLACK = "opaque white", "ready black"
COLOURS = {
    "build": {"ready red": 1 - step_up(585, 12), "ready sea": bell(640, 70, 40) + 0.3 * bell(400, 40)},
    "final": {"ready ochre": 0.9 * (1 - step_up(540, 25)), "ready plum": bell(560, 60, 40) + 0.4 * bell(420, 60)},
}
GROUNDS = "white", "natural", "grey", "white", "black", "natural", "blue"  # of the studios in turn
GREY = {WHITE: 95.0, BLACK: 5.0}  # the strip that shows what a white scatters on light cloth
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


def ready_inks(rng: Rng, split: str, clear_base: float) -> dict[str, Colour]:
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


def ready_ink(shape: Array, absorption: float, scatter: float, clear_base: float) -> Colour:
    """An ink of such absorption and scatter per mm, as it is: what 1 % of it does in place of clear base."""
    return Colour(absorption * shape / 100, (scatter * (550 / WAVELENGTHS) ** 1.2 - clear_base) / 100)


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


def ready_world(number: int, ground: str = "", split: str = "build") -> World:
    """A studio of `ready_studio` without photos, on its own cloth or on that one."""
    studio = ready_studio(split, number)
    studio = replace(studio, ground=ground) if ground else studio
    return World(number, tuple(sorted(studio.pigments)), studio.reflectance, spread=studio.spread)


def shelf_of(names: Iterable[str], **said: Any) -> dict[str, Pigment]:
    """These on a shelf, ready-mixed where they are."""
    usual = {"most": None, "least_g": None, "price": None, "notes": "", "lots": ()} | said
    return {name: Pigment(name=name, ready=is_ready(name), **usual) for name in names}


def counted(strip: KnownStrip) -> KnownStrip:
    """A strip whose shares are those of its pot, as the package counts them."""
    shelf = shelf_of(strip.shares)
    shares, std = (
        {name: shelf[name].counts_as * value for name, value in each.items()}
        for each in (strip.shares, strip.shares_std)
    )
    return replace(strip, shares=shares, shares_std=std, ready=frozenset(filter(is_ready, shares)))


def series_shares(names: Iterable[str], steps: int = 4) -> list[Shares]:
    """What is in the strips of a test series: clear base, each thing at `steps` loads, white with some black."""
    ends = {name: (5.0, 100.0) if is_ready(name) else (0.1, 6.0) for name in names}
    alone = [{name: float(load)} for name, (low, high) in ends.items() for load in np.geomspace(low, high, steps)]
    return [{}, *alone, GREY]


def ready_bench(world: World, steps: int = 4, **said: Any) -> Bench:
    """What the package knows in such a world from test series."""
    shares = series_shares(world.pigments, steps)
    strips = tuple(counted(world.known_strip(each, number)) for number, each in enumerate(shares))
    shelf = shelf_of(world.pigments, **said)
    return Bench("cloth", DRY, strips, shelf, {name: name for name in shelf}, absolute=True)
