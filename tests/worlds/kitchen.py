"""A studio's kitchen: how a person really doses, with a coarse scale, dripping bottles, a spoon and jars of pre-mix.

What a display shows is not what is in the pot, no drop is like another, and a pre-mix that came out weak makes every
pot weak that is mixed of it. It shares no code with the package. Drops and spoons: `tests/reference/dosing_facts.csv`;
what has no source there is invented.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.worlds.hidden_studios import BINDER, Grams

Rng = np.random.Generator

DROP_SCATTER = 0.15  # of a single drop: USP 1101, 'not above 15 %'
DROP_G = 0.02, 0.08  # of a bottle: 'drops in pharmacy use, 20 to 70 uL', thick ink the larger
HAND = 0.03, 0.05  # by which the drops of two days differ, one standard deviation; only its cause is published
GAIN = 0.001, 0.005  # by which a scale may show too much or too little
SPOON_ML = 3.9, 4.9  # 'one standard teaspoon filled by 25 people', said to hold 5 ml
FILLING = 0.05  # of one filling after another by the same hand
BASE_DENSITY = 1.0, 1.05  # g/ml of clear base
COUNTED = 50  # drops at a time, until the scale has moved far enough
ENOUGH = 10  # of its steps
HALM = 10  # the chance in Studio Halm's kitchen: a pot that comes out off, and a correction that brings it nearer
DRIPS = 0.75  # of the pigments come in bottles that drip; the others are too thick, or in tubs


@dataclass(frozen=True)
class Scale:
    """What it shows is rounded: before and after, or once where it tares finely."""

    step: float  # g
    gain: float = 1.0  # true grams for each that it shows
    readings: int = 2  # rounded ones behind each weight

    def poured(self, shown: float, rng: Rng) -> float:
        """True grams in the pot when the display says `shown`; each reading is anywhere within its step."""
        return max(self.gain * (shown + self.step * rng.uniform(-0.5, 0.5, self.readings).sum()), 0.0)

    def emptied(self, rng: Rng) -> float:
        """Where within its step it stands before anything is put on it; of a fine tare at 0."""
        return float(rng.uniform(-0.5, 0.5)) if self.readings == 2 else 0.0

    def shows(self, grams: float, start: float) -> float:
        """What it says of so many true grams that were put on it."""
        return round(grams / self.gain / self.step + start) * self.step


@dataclass(frozen=True)
class Bottle:
    """One that drips."""

    drop_g: float  # mean of its drops, on a day when the hand is neither fast nor slow

    def dripped(self, count: int, hand: float, rng: Rng) -> float:
        """True grams of so many drops; `hand` is how much larger today's are."""
        return self.drop_g * hand * float(rng.normal(1, DROP_SCATTER, count).clip(0.2).sum())


@dataclass
class Jar:
    """A pre-mix."""

    what: str  # pigment
    share: float  # of pigment, the true one
    grams: float  # true ones that are left
    bottle: Bottle | None = None


@dataclass(frozen=True)
class Put:
    """One line of what to put in."""

    what: str  # pigment, or BINDER
    amount: float  # g as the scale shows them, or how many drops
    counted: bool = False  # drops
    jar: str = ""  # the label of a pre-mix of it


@dataclass(frozen=True)
class Make:
    """How to make a pre-mix."""

    label: str
    what: str  # pigment
    ink_g: float
    binder_g: float
    of: str = ""  # the label of a stronger pre-mix; "" is the pigment itself


@dataclass
class Kitchen:
    """A scale, bottles, a spoon, jars of pre-mix; and the hand that uses them, which is not the same every day."""

    scale: Scale
    bottles: dict[str, Bottle]  # pigment -> its own, if it drips
    unsteady: float  # how much a day's drops differ from the bottle's mean, one standard deviation
    spoon_ml: float  # what is in it when it looks full
    density: float  # of clear base, g/ml
    rng: Rng
    hand: float = 1.0  # today's
    jars: dict[str, Jar] = field(default_factory=dict)  # label ->

    def new_day(self) -> None:
        """The hand is another."""
        self.hand = float(np.exp(self.rng.normal(0, self.unsteady)))

    def calibrated(self, bottle: Bottle, at_a_time: int = COUNTED) -> tuple[int, float]:
        """Drops counted onto the scale, some at a time until it has moved far enough: how many, and what it shows."""
        count, grams, shown = 0, 0.0, 0.0
        start = self.scale.emptied(self.rng)
        while shown < (ENOUGH - 1e-9) * self.scale.step:
            count, grams = count + at_a_time, grams + bottle.dripped(at_a_time, self.hand, self.rng)
            shown = self.scale.shows(grams, start)
        return count, shown

    def make(self, one: Make) -> Jar:
        """Make a pre-mix, as the scale shows it, and keep it."""
        pot: Grams = {}
        self.put(pot, Put(one.what, one.ink_g, jar=one.of))
        self.put(pot, Put(BINDER, one.binder_g))
        whole = sum(pot.values())
        self.jars[one.label] = Jar(one.what, pot[one.what] / whole, whole)
        return self.jars[one.label]

    def put(self, pot: Grams, one: Put) -> None:
        """Put it into a pot, which is changed: pigment, or BINDER -> true g."""
        jar = self.jars[one.jar] if one.jar else None
        if one.counted:
            bottle = jar.bottle if jar else self.bottles.get(one.what)
            if bottle is None:
                raise LookupError(f"{one.jar or one.what} does not drip")
            grams = bottle.dripped(round(one.amount), self.hand, self.rng)
        else:
            grams = self.scale.poured(one.amount, self.rng)
        share = 1.0
        if jar:
            jar.grams, share = jar.grams - grams, jar.share
        for what, part in ((one.what, share), (BINDER, 1 - share)):
            if part:
                pot[what] = pot.get(what, 0.0) + part * grams

    def follow(self, steps: Iterable[Mapping[str, Any]], pot: Grams | None = None) -> Grams:
        """Do what the JSON of `swatchcam mix` says, step by step; what is in the pot then, true g."""
        pot = dict(pot or {})
        for step in steps:
            jar, what = step["pre_mix"] or "", BINDER if step["what"] == "clear base" else step["what"]
            if step["way"] == "make":
                ink, of = step["make"], step["make"]["of"]
                self.make(Make(jar, what, ink["grams"], ink["clear_base_grams"], "" if of == what else of))
            elif step["way"] in ("weigh", "count"):
                self.put(pot, Put(what, step["drops"] or step["grams"], step["way"] == "count", jar))
        return pot

    def spooned(self, count: int) -> float:
        """True grams of so many spoonfuls of clear base."""
        return self.spoon_ml * self.density * float(self.rng.normal(1, FILLING, count).sum())


def random_kitchen(rng: Rng, pigments: Iterable[str], step: float, drips: float = DRIPS) -> Kitchen:
    """One by chance, whose scale has that step."""
    gain = 1 + rng.choice([-1, 1]) * rng.uniform(*GAIN)
    scale = Scale(step, float(gain), int(rng.choice([1, 2])))
    bottles = {name: random_bottle(rng) for name in pigments if rng.random() < drips}
    # Two days differ by both of their hands.
    unsteady = float(rng.uniform(*HAND)) / np.sqrt(2)
    kitchen = Kitchen(scale, bottles, unsteady, rng.uniform(*SPOON_ML), rng.uniform(*BASE_DENSITY), rng)
    kitchen.new_day()
    return kitchen


def random_bottle(rng: Rng) -> Bottle:
    """One by chance; a thick ink drips in large drops."""
    return Bottle(float(np.exp(rng.uniform(*np.log(DROP_G)))))


def halm() -> Kitchen:
    """Studio Halm's (`sample_photos`), on the day before it counts its drops."""
    bottles = {"red": Bottle(0.05), "golden": Bottle(0.06), "blue": Bottle(0.045)}
    return Kitchen(Scale(1.0, 1.003), bottles, 0.03, 4.5, 1.02, np.random.default_rng(HALM))
