"""Strips of hidden studios, weighed, drawn down and photographed dry, then heat-set and photographed again.

Every photo has its own chance, so that the first pairs of a studio are the same however many are made.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

import numpy as np

from swatchcam.errors import SwatchcamError
from tests.worlds import hidden_studios as pots
from tests.worlds.heat import Baked

POT = 100.0  # g
MADE = 24  # pairs that are made of a studio, whoever asks for fewer
Made = TypeVar("Made")


@dataclass(frozen=True)
class DryStrip:
    """A strip that was photographed dry, and the pot behind it."""

    grams: pots.Grams  # what the scale showed and the person wrote down, binder too
    dry: pots.Sighting

    @property
    def written(self) -> pots.Shares:
        """Shares by what was written down; `dry.strip.shares` are the true ones."""
        return pots.shares_of(self.grams)


@dataclass(frozen=True)
class HeatPair(DryStrip):
    """A strip that was photographed dry, and again after heat setting."""

    set: pots.Sighting

    @property
    def strip(self) -> pots.Strip:
        """As it lay in the first photo, before it was heated."""
        return self.dry.strip

    @property
    def baked(self) -> Baked:
        """How it was really heated."""
        baked = self.set.strip.baked
        assert baked is not None
        return baked


def heated(studio: pots.Studio, strip: pots.Strip, rng: pots.Rng) -> pots.Strip:
    """The strip after the studio's usual heat, as near to it as its tool comes."""
    assert studio.habits is not None
    return replace(strip, baked=studio.habits.bake(studio.habits.usual.tool, rng))


def dry_strips(
    studio: pots.Studio, recipes: Sequence[pots.Shares], rng: pots.Rng, folder: Path, scale: float = 0.01
) -> list[DryStrip]:
    """A pot and a strip of each recipe, two to a photo; none of a photo that is refused for good.

    `scale` is the step of the scale, g.
    """
    found = []
    for place in range(0, len(recipes), 2):
        own = rng.spawn(1)[0]
        grams = [pots.as_read(pots.grams_of(shares, POT), scale) for shares in recipes[place : place + 2]]
        cups = dict(zip(pots.WINDOWS, grams, strict=False))
        true = {window: pots.shares_of(pots.weigh(cup, scale, own)) for window, cup in cups.items()}
        try:
            seen = studio.photograph(true, own, folder)
        except SwatchcamError:
            continue
        found += [DryStrip(cup, seen[window]) for window, cup in cups.items()]
    return found


def pairs(
    studio: pots.Studio, recipes: Sequence[pots.Shares], rng: pots.Rng, folder: Path, scale: float = 0.01
) -> list[HeatPair]:
    """The same, each strip heated by the studio's tool and photographed again: the same phone and lamp, held anew."""
    found = []
    for place in range(0, len(recipes), 2):
        own = rng.spawn(1)[0]
        dry = dry_strips(studio, recipes[place : place + 2], own, folder, scale)
        baked = {one.dry.kept.name: heated(studio, one.dry.strip, own) for one in dry}
        try:
            seen = studio.photograph(baked, own, folder) if dry else {}
        except SwatchcamError:
            continue
        found += [HeatPair(one.grams, one.dry, seen[one.dry.kept.name]) for one in dry]
    return found


def cached_pairs(
    split: str, number: int, count: int, scale: float, folder: Path, spread: float | None = None
) -> list[HeatPair]:
    """The first `count` pairs, at most MADE, of studio `number`: strips of random recipes, photographed only once.

    Fewer where photos were refused. `spread` is that of the films, as in `hidden_studio`.
    """
    assert count <= MADE
    make = partial(_made, pairs, split, number, MADE, scale, folder, spread)
    return kept_in(folder / f"heat-{_name(split, number, scale, spread)}.pickle", make)[:count]


def cached_dry(
    split: str, number: int, count: int, scale: float, folder: Path, spread: float | None = None
) -> list[DryStrip]:
    """So many other strips of the studio, photographed only dry."""
    make = partial(_made, dry_strips, split, number, count, scale, folder, spread)
    return kept_in(folder / f"dry-{count}-{_name(split, number, scale, spread)}.pickle", make)


def _made(
    way: Callable[..., list[Made]],
    split: str,
    number: int,
    count: int,
    scale: float,
    folder: Path,
    spread: float | None,
) -> list[Made]:
    rng = np.random.default_rng([2026, 161 + (way is dry_strips), pots.CODES[split], number])
    studio = pots.hidden_studio(split, number, spread)
    # Recipes have their own stream: the first of a longer list are those of a shorter one.
    own = rng.spawn(1)[0]
    return way(studio, [studio.target(own) for _ in range(count)], rng, folder, scale)


def _name(split: str, number: int, scale: float, spread: float | None) -> str:
    films = "" if spread is None else f"-{spread:g}"
    return f"{split}-{number}-{scale:g}{films}"


def kept_in(path: Path, make: Callable[[], Made]) -> Made:
    """What is made, or was made before and lies in that file."""
    if not path.exists():
        made = make()
        # Whoever looks meanwhile must not find half a file.
        part = path.with_suffix(f".{os.getpid()}")
        part.write_bytes(pickle.dumps(made))
        part.replace(path)
    return pickle.loads(path.read_bytes())
