"""A studio whose card is one unmeasured print: its test series on the first day, its pots on the days that follow.

Every photo of a pot has the target's strip in one window and a strip of the pot in the other. The inks are those of
`hidden_studios`, print, lamps and phone those of `print_days`; photos are drawn once and kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.worlds import hidden_studios as pots
from tests.worlds.pots_off import KINDS, PotOff, pot_off
from tests.worlds.print_days import CODES, OTHER_PHONE, SAME_LAMP, random_card, random_workshop
from tests.worlds.trial import draw

POT = 200.0  # g
SCALE = 0.01  # g, the step of the scale
STEPS = 4  # loads of each pigment's test series
LATER = 3  # days after the first, on which pots are mixed


@dataclass(frozen=True)
class PrintPots:
    """Photos in the order of the days, and what they show."""

    kind: str  # of the print's printer
    studio: pots.Studio
    series: tuple[tuple[Path, dict[str, pots.Grams]], ...]  # window -> what was written down of its cup
    pots: tuple[tuple[Path, PotOff, str], ...]  # and the window with the target


def print_pots(split: str, number: int, count: int, folder: Path, seed: int = 2026) -> PrintPots:
    """Studio `number` of a split with `count` pots, all kinds of `pots_off` in turn."""
    rng = np.random.default_rng([seed, 19, CODES[split], number])
    inks = pots.hidden_studio(split, number)
    workshop = random_workshop(rng, split, random_card(rng, split, number), inks.ground)
    first = workshop.today(rng)
    bench = replace(inks, scene=first)
    series = []
    for cups in inks.cups(STEPS, SCALE):
        path = folder / f"pots-{split}-{seed}-{number}-series-{len(series)}.jpg"
        strips = {name: inks.draw_down(pots.shares_of(pots.weigh(cup, SCALE, rng)), rng) for name, cup in cups.items()}
        photographed(bench, strips, np.random.default_rng([seed, 20, CODES[split], number, len(series)]), path)
        series.append((path, cups))
    days = [replace(inks, scene=workshop.today(rng, None, rng.random() < OTHER_PHONE)) for _ in range(LATER)]
    if rng.random() < SAME_LAMP:
        days[0] = replace(inks, scene=replace(days[0].scene, light=first.light, other_light=first.other_light))
    found = []
    for place in range(count):
        # Each pot has its own chance, so that it is the same however many there are.
        own = np.random.default_rng([seed, 21, CODES[split], number, place])
        pot = pot_off(inks, KINDS[(place + number) % len(KINDS)], POT, SCALE, own)
        sides = pots.WINDOWS if own.random() < 0.5 else pots.WINDOWS[::-1]
        strips = dict(zip(sides, (pot.target, inks.draw_down(pots.shares_of(pot.real), own)), strict=True))
        path = folder / f"pots-{split}-{seed}-{number}-pot-{place}.jpg"
        photographed(days[place * LATER // count], {name: strips[name] for name in pots.WINDOWS}, own, path)
        found.append((path, pot, sides[0]))
    return PrintPots(workshop.kind, inks, tuple(series), tuple(found))


def photographed(studio: pots.Studio, strips: dict[str, pots.Strip], rng: np.random.Generator, path: Path) -> None:
    """Draw the photo if it is not there."""
    scene = studio.held(strips, rng)
    if not path.exists():
        part = path.with_name(f"part-{path.name}")
        draw(scene, pots.SIZE, part)
        part.replace(path)
