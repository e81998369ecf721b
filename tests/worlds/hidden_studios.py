"""Hidden studios: inks that do not behave as the film model says, weighed, drawn down and photographed.

The truth is a film after Kubelka and Munk with departures: pigments crowd at high loads, disturb each other in mixes,
sink into the cloth; surface and binder are the studio's own, no film is as thick as the next. What heat setting does
to a strip is in `heat`. All of it is invented.
`python -m tests.worlds.hidden_studios --split build --studios 12 --steps 4 --folder DIR` photographs test series ahead
of a benchmark.
"""

from __future__ import annotations

import argparse
import os
import pickle
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from pathlib import Path

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.measurement.stored_colour import Kept
from tests.benchmarks.heat_setting import records
from tests.worlds.heat import BINDER_YELLOW, YELLOW, Baked, Habits, random_habits
from tests.worlds.inks import Pigment, cloth, film_reflectance, random_recipe, saunderson
from tests.worlds.random_scenes import WORLDS, drawn, fair_pose, random_scene, reshoot
from tests.worlds.scene import SERIES, Ink, Loose, Scene
from tests.worlds.spectra import WAVELENGTHS, Array, difference, reflectance_lab
from tests.worlds.trial import draw, progress, read_card, workers

Rng = np.random.Generator
Shares = dict[str, float]  # pigment -> g in 100 g of the whole; what is left is binder
Grams = dict[str, float]  # pigment, or BINDER -> g

BINDER = "binder"
SIZE = 1600, 1200  # px of a photo
WINDOWS = "left", "right"
BESIDE = {f"beside-{n + 1}": (30.0 + 90 * n, 158.0, 60.0, 34.0) for n in range(2)}  # mm; loose strips, below the card
ROOM = 0.6, 0.1  # largest part of the frame that the card fills, and how far astray, where strips lie beside it
TRIES = 5  # poses, before a photo is given up
CUP = 100.0  # g of paste mixed for each strip of a test series
CODES = {"build": 1, "final": 2}  # of the splits, in the seeds
ALWAYS = {  # one of each row is in every studio
    "build": (("yellow",), ("red", "magenta"), ("blue",), ("black",)),
    "final": (("lemon", "amber"), ("scarlet", "crimson"), ("navy", "turquoise"), ("soot",)),
}


@dataclass(frozen=True)
class Strip:
    """One strip that was made: what is really in it, its mean film relative to the studio's, its own chance."""

    shares: Shares
    thickness: float
    seed: int
    baked: Baked | None = None  # None is dry, not heated


@dataclass(frozen=True)
class Sighting:
    """A strip in one photo: what the library keeps of it, and the truth."""

    strip: Strip
    kept: Kept  # as it comes back from the library's text
    lab: Array  # (3,) true CIELAB of the strip, D65 and 10 degrees
    refused: int  # photos of it that were refused before this one


@dataclass(frozen=True)
class SeriesStrip:
    """One known strip of a test series; a test series also has binder alone."""

    grams: Grams  # what the scale showed and the person wrote down, binder too
    sighting: Sighting

    @property
    def written(self) -> Shares:
        """Shares by what was written down; `sighting.strip.shares` are the true ones."""
        return shares_of(self.grams)


@dataclass(frozen=True)
class Studio:
    """Its inks, its cloth and hand, its card, phone and lamp."""

    split: str
    pigments: dict[str, Pigment]
    crowding: dict[str, float]  # % at which a pigment has half the effect that its load should have
    discord: dict[tuple[str, str], Array]  # two pigments, sorted -> (81,) relative change of K in equal parts
    binder_scatter: float  # per mm
    surface: tuple[float, float]  # k1, k2
    film: float  # mm, mean of its strips
    sunk: float  # share of the area where the pigment sits in the cloth, not in a film on it
    ground: str  # its cloth
    spread: float  # standard deviation of the logarithm of the thickness, strip to strip
    uneven: float  # the same within a strip
    scene: Scene  # what its photos have in common
    card_seed: int  # of the instrument that read its card
    habits: Habits | None = None  # what heat does; None where nothing is ever heated
    yellow: float = 0.0  # K/S at 400 nm that heat has added to cloth

    def reflectance(self, shares: Shares, thickness: float = 1.0, baked: Baked | None = None) -> Array:
        """(81,) of an even strip, `thickness` times as thick as the studio's mean; {} is binder alone."""
        if baked is not None:
            return self.heated(baked).reflectance(shares, thickness)
        loads = {name: crowded(load, self.crowding.get(name, np.inf)) for name, load in shares.items()}
        zero = np.zeros_like(WAVELENGTHS)
        k = sum((load * self.pigment(name).absorption for name, load in loads.items()), zero)
        s = sum((load * self.pigment(name).scatter for name, load in loads.items()), zero + self.binder_scatter)
        k, mm, under = k * (1 + self.disturbance(loads)), thickness * self.film, self.bare()
        film = saunderson(film_reflectance(k + self.yellow * BINDER_YELLOW * YELLOW, s, mm, under), *self.surface)
        return (1 - self.sunk) * film + self.sunk * dyed(k * mm, under)

    def heated(self, baked: Baked) -> Studio:
        """The studio with inks and cloth as this heat made them."""
        if self.habits is None:
            raise ValueError("nothing is known of what heat does in this studio")
        return self.habits.heated(self, baked)

    def bare(self, baked: Baked | None = None) -> Array:
        """(81,) reflectance of its cloth."""
        if baked is not None:
            return self.heated(baked).bare()
        return dyed(self.yellow * YELLOW, cloth(self.ground)) if self.yellow else cloth(self.ground)

    def disturbance(self, loads: Shares) -> Array:
        """(81,) relative change of a mix's absorption: none of one pigment alone, that of `discord` in equal parts."""
        whole = sum(loads.values()) or 1.0
        parts = {name: load / whole for name, load in loads.items()}
        none = np.zeros_like(WAVELENGTHS)
        pairs = combinations(sorted(parts), 2)
        return sum((4 * parts[a] * parts[b] * self.discord.get((a, b), none) for a, b in pairs), none)

    def pigment(self, name: str) -> Pigment:
        """Its own, or one of the split that it does not have."""
        return self.pigments.get(name) or WORLDS[self.split].pigments[name]

    def lab(self, shares: Shares, thickness: float = 1.0, baked: Baked | None = None) -> Array:
        """(3,) CIELAB of an even strip, by default of the mean thickness and dry; D65 and 10 degrees."""
        return reflectance_lab(self.reflectance(shares, thickness, baked))

    def strip_lab(self, strip: Strip) -> Array:
        """(3,) CIELAB of the mean reflectance of a strip, its unevenness included."""
        nodes, chances = np.polynomial.hermite_e.hermegauss(7)
        films = strip.thickness * np.exp(self.uneven * nodes - self.uneven**2 / 2)
        spectra = np.array([self.reflectance(strip.shares, film, strip.baked) for film in films])
        return reflectance_lab(chances @ spectra / chances.sum())

    def target(self, rng: Rng) -> Shares:
        """A hidden recipe of one to three of its pigments."""
        return hidden_recipe(rng, self.pigments)

    def stranger(self, rng: Rng) -> Shares:
        """A hidden recipe of pigments that the studio does not have; its colour may be out of reach."""
        others = WORLDS[self.split].pigments
        return hidden_recipe(rng, {name: others[name] for name in others if name not in self.pigments})

    def draw_down(self, shares: Shares, rng: Rng) -> Strip:
        """Paste on cloth, by hand."""
        return Strip(dict(shares), float(np.exp(rng.normal(0, self.spread))), int(rng.integers(2**31)))

    def photograph(self, strips: Mapping[str, Shares | Strip], rng: Rng, folder: Path) -> dict[str, Sighting]:
        """One photo of the card with a strip in each window named, and loose ones of BESIDE; bare cloth in the others.

        Parameters
        ----------
        strips : window -> what is really in a paste, drawn down for this photo, or a strip that was kept
        folder : where the photo may lie for a moment

        Raises
        ------
        SwatchcamError
            The photo was refused however the phone was held.
        """
        strips = {
            window: made if isinstance(made, Strip) else self.draw_down(made, rng) for window, made in strips.items()
        }
        refused = 0
        while not strips.keys() <= (kept := self.tried(strips, rng, folder, refused + 1 == TRIES)).keys():
            refused += 1
        return {
            window: Sighting(strip, kept[window], self.strip_lab(strip), refused) for window, strip in strips.items()
        }

    def tried(self, strips: dict[str, Strip], rng: Rng, folder: Path, last: bool) -> dict[str, Kept]:
        """As `measured`, but nothing where the photo is refused and there is another try."""
        try:
            kept = self.measured(strips, rng, folder)
        except SwatchcamError:
            if last:
                raise
            return {}
        if last and not strips.keys() <= kept.keys():
            raise LookupError("a loose strip was not found")
        return kept

    def measured(self, strips: dict[str, Strip], rng: Rng, folder: Path) -> dict[str, Kept]:
        """Window -> its colour as the library gives it back, from a photo taken now.

        Raises
        ------
        SwatchcamError
            The photo is refused.
        """
        with tempfile.TemporaryDirectory(dir=folder) as place:
            card, photo = Path(place) / "card.csv", Path(place) / "photo.jpg"
            # Read anew by the same chance: the same file for every photo of this studio.
            read_card(self.scene, np.random.default_rng(self.card_seed), card)
            draw(self.held(strips, rng), SIZE, photo)
            return records(photo, card, beside=not strips.keys() <= set(WINDOWS))

    def held(self, strips: dict[str, Strip], rng: Rng) -> Scene:
        """The strips under the card, the phone held anew, under the same lamp."""
        lens = self.scene.pose
        scene = reshoot(self.scene, rng)
        # The same strips in the same windows are uneven in the same places.
        seed = np.random.SeedSequence([strip.seed for strip in strips.values()]).generate_state(1)
        loose = tuple(Loose(name, BESIDE[name], self.ink(strips[name])) for name in strips if name in BESIDE)
        return replace(
            scene,
            windows={window: self.ink(strip) for window, strip in strips.items() if window in WINDOWS},
            loose=loose,
            cloth=self.around(strips),
            pose=replace(fair_pose(rng, *ROOM) if loose else fair_pose(rng), focal=lens.focal, k1=lens.k1, k2=lens.k2),
            slope_angle=rng.uniform(0, 360),
            seed=int(seed[0]),
        )

    def around(self, strips: dict[str, Strip]) -> Array:
        """(81,) of the cloth between the strips, which was heated with them; strips baked apart meet half-way."""
        if all(strip.baked is None for strip in strips.values()):
            return self.scene.cloth
        return np.mean([self.bare(strip.baked) for strip in strips.values()], axis=0)

    def ink(self, strip: Strip) -> Ink:
        """A strip as it is drawn."""
        table = np.array(
            [self.reflectance(strip.shares, strip.thickness * relative, strip.baked) for relative in SERIES]
        )
        outline = drawn(np.random.default_rng(strip.seed), {}, self.film, self.ground)
        return replace(outline, reflectance=table, uneven=self.uneven)

    def series(
        self, steps: int, rng: Rng, folder: Path, scale_step: float = 0.01, low: float = 0.1, high: float = 6.0
    ) -> list[SeriesStrip]:
        """Binder alone twice, then each pigment at `steps` loads from `low` to `high` %, geometrically; two to a photo.

        Strips of a photo that is refused for good are left out.
        """
        pairs = self.cups(steps, scale_step, low, high)
        return [one for pair in pairs for one in self.series_strips(pair, rng, folder, scale_step)]

    def cups(self, steps: int, scale_step: float = 0.01, low: float = 0.1, high: float = 6.0) -> list[dict[str, Grams]]:
        """The same, as what is written down of the cup of each window, photo by photo."""
        loads = np.geomspace(low, high, steps)
        shares = [{}, {}, *({name: float(load)} for name in self.pigments for load in loads)]
        cups = [as_read(grams_of(each, CUP), scale_step) for each in shares]
        return [dict(zip(WINDOWS, cups[i : i + 2], strict=False)) for i in range(0, len(cups), 2)]

    def series_strips(self, cups: dict[str, Grams], rng: Rng, folder: Path, scale_step: float) -> list[SeriesStrip]:
        """One photo of a test series: window -> what was written down of its cup."""
        true = {window: shares_of(weigh(grams, scale_step, rng)) for window, grams in cups.items()}
        try:
            found = self.photograph(true, rng, folder)
        except SwatchcamError:
            return []
        return [SeriesStrip(grams, found[window]) for window, grams in cups.items()]


# --- what inks do -------------------------------------------------------------------------------------------


def crowded(load: float, half: float) -> float:
    """% that a load acts like: crowded particles stand in each other's light."""
    return load / (1 + load / half)


def dyed(depth: Array, under: Array) -> Array:
    """(81,) reflectance of dyed cloth; `depth` is the pigment's absorption times the film's thickness.

    The cloth that the paste reaches is taken to scatter once over its depth.

    Source
    ------
    Kubelka & Munk 1931, the single-constant form: K/S of cloth and dye add up.
    """
    ratio = (1 - under) ** 2 / (2 * under) + depth
    return 1 + ratio - np.sqrt(ratio * (ratio + 2))


# --- the scale ----------------------------------------------------------------------------------------------


def grams_of(shares: Shares, whole: float) -> Grams:
    """What a pot of `whole` g needs."""
    grams = {name: share * whole / 100 for name, share in shares.items()}
    return {BINDER: whole - sum(grams.values())} | grams


def shares_of(grams: Grams) -> Shares:
    """Shares of the pigments in a pot."""
    whole = sum(grams.values())
    return {name: 100 * weight / whole for name, weight in grams.items() if name != BINDER}


def as_read(grams: Grams, step: float) -> Grams:
    """What the display says, and a person writes down: whole steps of `step` g, one at least."""
    return {name: max(round(weight / step), 1) * step for name, weight in grams.items()}


def weigh(grams: Grams, step: float, rng: Rng) -> Grams:
    """What really gets into the pot when its scale shows `grams`: two readings, each anywhere within its step.

    Source
    ------
    JCGM 100:2008, 4.3.7: each reading has the variance step² / 12.
    """
    errors = rng.uniform(-step / 2, step / 2, (2, len(grams)))
    return {
        name: weight + float(after - before)
        for (name, weight), before, after in zip(as_read(grams, step).items(), *errors, strict=True)
    }


# --- studios by chance --------------------------------------------------------------------------------------


def random_studio(rng: Rng, split: str = "build", count: int = 7) -> Studio:
    """A studio with `count` pigments of the split."""
    world = WORLDS[split]
    names = random_names(rng, split, count)
    ground = str(rng.choice(["white", "natural"], p=[0.7, 0.3]))
    return Studio(
        split=split,
        pigments={name: scattering(world.pigments[name], log_uniform(rng, 0.5, 4)) for name in names},
        crowding={name: log_uniform(rng, 8, 30) for name in names},
        discord={pair: random_discord(rng) for pair in combinations(names, 2)},
        binder_scatter=log_uniform(rng, 0.2, 0.6),
        surface=(rng.uniform(0.015, 0.04), rng.uniform(0.1, 0.5)),
        film=rng.uniform(0.03, 0.08),
        sunk=rng.uniform(0, 0.3),
        ground=ground,
        spread=rng.uniform(0.02, 0.06),
        uneven=rng.uniform(0.02, 0.06),
        scene=replace(random_scene(rng, split), windows={}, cloth=cloth(ground)),
        card_seed=int(rng.integers(2**31)),
    )


def random_names(rng: Rng, split: str, count: int) -> list[str]:
    """Pigments by chance, one of each row of ALWAYS among them; sorted."""
    needed = {str(rng.choice(row)) for row in ALWAYS[split]}
    others = rng.permutation(sorted(set(WORLDS[split].pigments) - needed))
    return sorted(needed | {str(name) for name in others[: count - len(needed)]})


def scattering(pigment: Pigment, factor: float) -> Pigment:
    """The pigment with `factor` times its scatter."""
    return replace(pigment, scatter=factor * pigment.scatter)


def random_discord(rng: Rng) -> Array:
    """(81,) a smooth curve within ±6 %."""
    turns, start = rng.uniform(0.3, 1), rng.uniform(0, 2 * np.pi)
    return rng.uniform(0, 0.06) * np.cos(2 * np.pi * turns * (WAVELENGTHS - 380) / 400 + start)


def log_uniform(rng: Rng, low: float, high: float) -> float:
    """A number by chance, its logarithm evenly spread."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def hidden_recipe(rng: Rng, pigments: dict[str, Pigment]) -> Shares:
    """One to three of the pigments, 0.2 to 5 % together."""
    shares = random_recipe(rng, pigments)
    scale = log_uniform(rng, 0.2, 5) / sum(shares.values())
    return {name: scale * share for name, share in shares.items()}


# --- studios by number, their test series kept in files ---------------------------------------------------------


def hidden_studio(split: str, number: int, spread: float | None = None) -> Studio:
    """Studio `number` of a split; six to eight pigments. Its films vary by `spread`, by default by its own."""
    rng = np.random.default_rng([2026, 5, CODES[split], number])
    studio = random_studio(rng, split, int(rng.integers(6, 9)))
    # Heat has its own chance: what studios are without it does not depend on it.
    heat = np.random.default_rng([2026, 16, CODES[split], number])
    studio = replace(studio, habits=random_habits(heat, studio.pigments, split))
    return studio if spread is None else replace(studio, spread=spread)


def cached_series(
    split: str, number: int, steps: int, scale_step: float, folder: Path, spread: float | None = None
) -> list[SeriesStrip]:
    """The series of studio `number`, photographed only once: kept in `folder`."""
    films = "" if spread is None else f"-{spread:g}"
    path = folder / f"{split}-{number}-{steps}-{scale_step:g}{films}.pickle"
    if not path.exists():
        rng = np.random.default_rng([2026, 5, CODES[split], number, steps])
        series = hidden_studio(split, number, spread).series(steps, rng, folder, scale_step)
        # Whoever looks meanwhile must not find half a file.
        part = path.with_suffix(f".{os.getpid()}")
        part.write_bytes(pickle.dumps(series))
        part.replace(path)
    return pickle.loads(path.read_bytes())


def account(number: int, split: str, steps: int, scale_step: float, folder: Path) -> str:
    """A line about one studio's series, which is photographed if it is not there yet."""
    started = time.monotonic()
    series = cached_series(split, number, steps, scale_step, folder)
    seconds = time.monotonic() - started
    seen = [one.sighting for one in series]
    error = np.mean([difference(np.array(each.kept.lab), each.lab) for each in seen])
    refused = sum(each.refused for each in seen if each.kept.name == WINDOWS[0])
    missing = 2 + steps * len(hidden_studio(split, number).pigments) - len(series)
    return (
        f"studio {number:2}: {len(series)} strips, mean error {error:.2f} CIEDE2000, "
        f"{refused} photos refused, {missing} strips missing, {seconds:.0f} s"
    )


def main() -> None:
    """Photograph the test series of some studios, and print a line about each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", default="build", choices=sorted(CODES))
    parser.add_argument("--studios", type=int, default=12)
    parser.add_argument("--steps", type=int, default=4, help="loads of each pigment")
    parser.add_argument("--scale", type=float, default=0.01, help="g, the scale's step")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "pots")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    one = partial(account, split=asked.split, steps=asked.steps, scale_step=asked.scale, folder=asked.folder)
    with workers(2) as pool:
        for line in progress(pool.imap(one, range(asked.studios)), asked.studios):
            print(f"\r{line:60}", flush=True)


if __name__ == "__main__":
    # Under its own name, so that what is pickled can be read by others.
    from tests.worlds.hidden_studios import main as named

    named()
