"""One print over several days: one strip in its windows again and again, beside others, as a studio has it.

The phone is the same on most days, and so are its habits (colour space, tone, saturation); lamp, exposure, white
balance, noise and pose are the day's own. The print is of a printer that was drawn at random (`many_printers`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchcam.cards.design import CardDesign, designs
from tests.worlds.inks import Recipe, cloth, neighbour, random_recipe
from tests.worlds.many_printers import KINDS, random_printer
from tests.worlds.phone import Phone
from tests.worlds.printers import PrintedCard, print_card
from tests.worlds.random_scenes import CLOTHS, WORLDS, World, drawn, fair_phone, fair_scene
from tests.worlds.scene import Ink, Scene

Rng = np.random.Generator

CODES = {"build": 1, "final": 2}  # of the splits, in the seeds
OTHER_PHONE = 0.15  # share of the days on which someone else's phone is used
SAME_LAMP = 0.3  # share of the days on which the lamp is that of the day before
HDR = 0.3  # share of the phones whose tone changes a little from photo to photo
# What a phone does anew each day; all else is its own habit.
OF_THE_DAY = ("exposure", "flare", "blur", "electrons", "white_error", "orientation")


@dataclass(frozen=True)
class Day:
    """One photo of the print, and what it shows."""

    scene: Scene
    light: str
    mixed: bool  # two lights at once
    other_phone: bool
    again: str  # the window in which the strip lies that is there every day


@dataclass(frozen=True)
class PrintDays:
    """A print and its days."""

    kind: str  # of its printer
    days: tuple[Day, ...]


@dataclass(frozen=True)
class Studio:
    """What stays."""

    world: World
    card: PrintedCard
    first: Recipe
    thickness: float  # mm
    ground: str
    camera: str
    phone: Phone
    hdr: bool
    seed: int

    def strip(self, rng: Rng, recipe: Recipe) -> Ink:
        """One strip of a recipe."""
        return drawn(rng, recipe, self.thickness, self.ground)

    def near(self, rng: Rng) -> Recipe:
        """A recipe 0.05 to 5 CIEDE2000 from the first."""
        while True:
            size = rng.uniform(0.05, 5)
            found = neighbour(rng, self.first, size, self.world.pigments, self.thickness, self.ground)
            if found:
                return found

    def day(self, rng: Rng, kept: Ink, before: Day | None) -> Day:
        """A photo on another day: the strip that was kept in one window, a new one near it in the other."""
        lamp = before.light if before and rng.random() < SAME_LAMP else str(rng.choice(sorted(self.world.fair_lights)))
        other = before is not None and rng.random() < OTHER_PHONE
        drawn_anew = fair_scene(rng, self.world, self.card.design, 0, lamp, None if other else self.camera)
        sides = ("left", "right") if rng.random() < 0.5 else ("right", "left")
        windows = dict(zip(sides, (kept, self.strip(rng, self.near(rng))), strict=True))
        scene = replace(
            drawn_anew,
            card=self.card,
            windows={name: windows[name] for name in ("left", "right")},
            cloth=cloth(self.ground),
            phone=drawn_anew.phone if other else self.today(rng, drawn_anew.phone),
            seed=self.seed,
        )
        return Day(scene, lamp, drawn_anew.other_light is not None, other, sides[0])

    def today(self, rng: Rng, anew: Phone) -> Phone:
        """The studio's phone on another day."""
        contrast, brighten = self.phone.contrast, self.phone.brighten
        if self.hdr:
            contrast, brighten = max(contrast + rng.normal(0, 0.03), 0), max(brighten + rng.normal(0, 0.02), 0)
        own = {name: getattr(anew, name) for name in OF_THE_DAY}
        return replace(self.phone, contrast=contrast, brighten=brighten, **own)


def print_days(split: str, number: int, days: int = 4, seed: int = 2026, design: CardDesign | None = None) -> PrintDays:
    """Print `number` of a split; the kinds of printers take turns."""
    rng = np.random.default_rng([seed, 18, CODES[split], number])
    world, kinds = WORLDS[split], KINDS[split]
    printer = random_printer(rng, split, kinds[number % len(kinds)])
    studio = Studio(
        world,
        print_card(design or designs()["a5"], printer, int(rng.integers(2**31)), printer.drift),
        random_recipe(rng, world.pigments),
        rng.uniform(0.03, 0.08),
        str(rng.choice(list(CLOTHS), p=list(CLOTHS.values()))),
        str(rng.choice(world.cameras)),
        fair_phone(rng, 0.1),
        rng.random() < HDR,
        int(rng.integers(2**31)),
    )
    kept, found = studio.strip(rng, studio.first), list[Day]()
    for _ in range(days):
        found.append(studio.day(rng, kept, found[-1] if found else None))
    return PrintDays(printer.kind, tuple(found))
