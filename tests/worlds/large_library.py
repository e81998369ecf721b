"""A studio that has kept its strips for years: test series, shades mixed again, several marks and photos of each.

Its inks are those of `inkworld.hidden_world`, which do what no theory quite says. What a photo is known by is as large
as that of a real one: as many patches, as many shared errors.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from sqlalchemy import Connection

from swatchcam.colorimetry.error_covariance import Errors
from swatchcam.library.entry import Entry
from swatchcam.library.library import Library
from swatchcam.library.records import DRY, HEAT_SET, State
from swatchcam.library.search import ALONE
from swatchcam.measurement.stored_colour import Kept
from tests.worlds.inkworld import World, hidden_world
from tests.worlds.mixing_library import CLOTH, pot_of, put_kept

PATCHES, SHARED = 65, 33  # patches and shared errors in what is kept of a real photo of the card
FIRST_DAY, DAYS = date(2022, 1, 10), 1500
LOADS = (0.1, 0.3, 0.8, 2.0, 5.0)  # % of a test series
OTHER_BATCH = 0.08  # natural logarithm of a share, from one batch of a shade to the next
ELSEWHERE = 0.15  # of the records: on other cloth, or heat-set


@dataclass(frozen=True)
class Drawn:
    """A strip to be kept."""

    entry: Entry
    kept: Kept


def large_world(seed: int) -> World:
    """The studio of that number."""
    return hidden_world(seed, count=6 + seed % 3)


def strips_of_years(seed: int, count: int) -> Iterator[Drawn]:
    """Strips as they were kept, oldest first: `count` on the usual cloth, air-dried, and some elsewhere."""
    world, rng = large_world(seed), np.random.default_rng([2026, 61, seed])
    here = 0
    for entry, shares, strip, photo in _prints(world, rng, count):
        if here == count:
            return
        here += entry.cloth == CLOTH and entry.state == DRY
        day = FIRST_DAY + timedelta(days=DAYS * here // count)
        kept = _as_large(world.kept(shares, strip, photo), photo, "right" if strip % 2 else "left")
        yield Drawn(replace(entry, measured=day.isoformat(), mixed=day.isoformat()), kept)


def fill(library: Library, folder: Path, drawn: list[Drawn]) -> None:
    """Keep them all in one transaction."""

    def work(connection: Connection) -> None:
        inside = library.during(connection)
        for each in drawn:
            put_kept(inside, folder, each.kept, each.entry)

    library.writing(work)


def _prints(world: World, rng: np.random.Generator, count: int) -> Iterator[tuple[Entry, dict[str, float], int, int]]:
    """What was said of each strip, its true shares, and the numbers of strip and photo."""
    strip = 0
    series = [{}, {}, *({name: load} for name in world.pigments for load in LOADS)]
    for shares in series:
        strip += 1
        (name,) = shares or ("",)
        words = (f"series {name}", f"{shares[name]:g} %") if name else (ALONE, f"{strip}")
        yield _entry(*words, shares), shares, strip, 10 * (strip // 2)
    shades = [world.mix(rng) for _ in range(max(count // 15, 3))]
    for batch in range(10 * count):
        place = int(rng.integers(len(shades)))
        shares = {name: share * float(np.exp(rng.normal(0, OTHER_BATCH))) for name, share in shades[place].items()}
        entry = _entry(f"shade {place}", f"{batch}", shares)
        if rng.random() < ELSEWHERE:
            entry = replace(entry, cloth="linen") if rng.random() < 0.5 else replace(entry, state=State(HEAT_SET))
        for mark in range(int(rng.integers(1, 4))):
            strip += 1
            for again in range(int(rng.choice([1, 2, 3], p=[0.7, 0.2, 0.1]))):
                yield replace(entry, mark=f"{mark + 1}"), shares, strip, 10 * (strip // 2) + again


def _entry(shade: str, batch: str, shares: dict[str, float]) -> Entry:
    return Entry(shade, batch, cloth=CLOTH, recipe=pot_of(shares), take_over=False)


def _as_large(kept: Kept, photo: int, name: str) -> Kept:
    """The same colour with as much beside it as a real photo leaves; its photo's own pattern a little its own."""
    rng = np.random.default_rng([photo, 7])
    noise = rng.normal(0, 0.5, (PATCHES, 3))
    pattern = {
        f"P{place}": (place % 3 + 0.5 + float(own[0]), 1.0 + float(own[1]), -1.0 + float(own[2]))
        for place, own in enumerate(noise)
    }
    shared = np.hstack([kept.errors.shared, np.zeros((3, SHARED - kept.errors.shared.shape[1]))])
    errors = Errors(kept.errors.parts, shared, pattern, (f"photo {photo}",))
    return replace(kept, name=name, errors=errors)
