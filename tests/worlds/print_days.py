"""One print over several days: one strip in its windows again and again, beside others, as a studio has it.

The phone is the same on most days, and so are its habits (colour space, tone, saturation); lamp, exposure, white
balance, noise and pose are the day's own. The print is of a printer that was drawn at random (`many_printers`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from swatchcam.cards.design import CardDesign, designs
from tests.worlds.inks import Recipe, cloth, neighbour, random_recipe
from tests.worlds.many_printers import KINDS, profile_printer, random_printer
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
class Workshop:
    """What stays: one print, one cloth, one phone."""

    world: World
    kind: str  # of the print's printer
    card: PrintedCard
    ground: str
    camera: str
    phone: Phone
    hdr: bool

    def today(self, rng: Rng, lamp: str | None = None, other_phone: bool = False) -> Scene:
        """The print on its cloth on another day, seen by this phone or another; windows as they come."""
        anew = fair_scene(rng, self.world, self.card.design, 0, lamp, None if other_phone else self.camera)
        phone = anew.phone if other_phone else self.held_anew(rng, anew.phone)
        return replace(anew, card=self.card, cloth=cloth(self.ground), phone=phone)

    def held_anew(self, rng: Rng, anew: Phone) -> Phone:
        """The phone on another day."""
        contrast, brighten = self.phone.contrast, self.phone.brighten
        if self.hdr:
            contrast, brighten = max(contrast + rng.normal(0, 0.03), 0), max(brighten + rng.normal(0, 0.02), 0)
        own = {name: getattr(anew, name) for name in OF_THE_DAY}
        return replace(self.phone, contrast=contrast, brighten=brighten, **own)


def random_card(
    rng: Rng, split: str, number: int, design: CardDesign | None = None, profile: Path | None = None
) -> tuple[str, PrintedCard]:
    """A printer's kind and one print of it, with a number of its own; the kinds take turns, or an ICC profile tells."""
    kinds = KINDS[split]
    printer = profile_printer(rng, profile) if profile else random_printer(rng, split, kinds[number % len(kinds)])
    card = print_card(design or designs()["a5"], printer, int(rng.integers(2**31)), printer.drift)
    return printer.kind, replace(card, number=f"{rng.spawn(1)[0].integers(2**24):08}")


def random_workshop(rng: Rng, split: str, print_of: tuple[str, PrintedCard], ground: str) -> Workshop:
    """A phone for a print."""
    world = WORLDS[split]
    camera, phone = str(rng.choice(world.cameras)), fair_phone(rng, 0.1)
    return Workshop(world, *print_of, ground, camera, phone, rng.random() < HDR)


@dataclass(frozen=True)
class Strips:
    """The strip that is there every day, and those near it."""

    workshop: Workshop
    first: Recipe
    thickness: float  # mm
    seed: int

    def strip(self, rng: Rng, recipe: Recipe) -> Ink:
        """One strip of a recipe."""
        return drawn(rng, recipe, self.thickness, self.workshop.ground)

    def near(self, rng: Rng) -> Recipe:
        """A recipe 0.05 to 5 CIEDE2000 from the first."""
        pigments = self.workshop.world.pigments
        while True:
            found = neighbour(rng, self.first, rng.uniform(0.05, 5), pigments, self.thickness, self.workshop.ground)
            if found:
                return found

    def day(self, rng: Rng, kept: Ink, before: Day | None) -> Day:
        """A photo on another day: the strip that was kept in one window, a new one near it in the other."""
        lamps = self.workshop.world.fair_lights
        lamp = before.light if before and rng.random() < SAME_LAMP else str(rng.choice(sorted(lamps)))
        other = before is not None and rng.random() < OTHER_PHONE
        scene = self.workshop.today(rng, lamp, other)
        sides = ("left", "right") if rng.random() < 0.5 else ("right", "left")
        windows = dict(zip(sides, (kept, self.strip(rng, self.near(rng))), strict=True))
        scene = replace(scene, windows={name: windows[name] for name in ("left", "right")}, seed=self.seed)
        return Day(scene, lamp, scene.other_light is not None, other, sides[0])


def print_days(
    split: str,
    number: int,
    days: int = 4,
    seed: int = 2026,
    design: CardDesign | None = None,
    profile: Path | None = None,
) -> PrintDays:
    """Print `number` of a split and its days; it is as an ICC profile of four inks says, if one is given."""
    rng = np.random.default_rng([seed, 18, CODES[split], number])
    card = random_card(rng, split, number, design, profile)
    first, thickness = random_recipe(rng, WORLDS[split].pigments), rng.uniform(0.03, 0.08)
    ground = str(rng.choice(list(CLOTHS), p=list(CLOTHS.values())))
    strips = Strips(random_workshop(rng, split, card, ground), first, thickness, int(rng.integers(2**31)))
    kept, found = strips.strip(rng, first), list[Day]()
    for _ in range(days):
        found.append(strips.day(rng, kept, found[-1] if found else None))
    return PrintDays(card[0], tuple(found))
