"""A studio with a 1 g scale and bottles that drip mixes 50 g of a colour, and corrects it once: the chapter `kitchen`.

A person does what the JSON says, in a kitchen that shares no code with the package; what is printed is held against the
true colour of what is in the pot then. The sample photos show those very pots.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.cli.keyboard import answer, type_in
from tests.page_outputs import told, workplace
from tests.worlds.hidden_studios import shares_of
from tests.worlds.inks import strip_reflectance
from tests.worlds.kitchen import Bottle, halm
from tests.worlds.sample_photos import FILM, KITCHEN_POTS, TERRACOTTA
from tests.worlds.spectra import difference, reflectance_lab

STRIP = 2.0  # g that a strip takes out of the pot
COMMANDS = [thing.words for thing in told("kitchen")]

pytestmark = pytest.mark.usefixtures("remembered")


def lab(shares):
    """(3,) true CIELAB of an ink with such shares, in a film of usual thickness."""
    return reflectance_lab(strip_reflectance(shares, FILM))


def off(pot):
    """True CIEDE2000 of what is in a pot from what is wanted."""
    return float(difference(lab(shares_of(pot)), lab(TERRACOTTA)))


def holds(told_of, pot):
    """Whether the distance that is printed is true, and the colour where one is predicted."""
    low, high = told_of["interval95"]
    predicted = told_of.get("predicted")
    missed = difference(np.array([predicted[name] for name in "Lab"]), lab(shares_of(pot))) if predicted else 0.0
    return low - 0.01 <= off(pot) <= high + 0.01 and (not predicted or missed <= predicted["interval95_ciede2000"])


def after_a_strip(kitchen, pot):
    """What is left of a pot, and what the scale shows of it."""
    whole = sum(pot.values())
    left = {name: grams * (whole - STRIP) / whole for name, grams in pot.items()}
    return left, kitchen.scale.shows(whole - STRIP, kitchen.scale.emptied(kitchen.rng))


def test_a_pot_of_50_g_is_mixed_on_a_1_g_scale_and_corrected_once_as_the_chapter_shows():
    kitchen = halm()
    kitchen.new_day()
    for name, bottle in kitchen.bottles.items():
        count, shown = kitchen.calibrated(bottle)
        assert f'--drops "{name}: {count} drops = {shown:g} g"' in COMMANDS[1]
    with workplace():
        type_in(COMMANDS[0])
        type_in(COMMANDS[1])

        kitchen.new_day()
        first = answer(COMMANDS[2])
        pot = kitchen.follow(first["weighing"][0]["steps"])
        assert shares_of(pot) == pytest.approx(KITCHEN_POTS[0], abs=0.001)
        assert sum(pot.values()) == pytest.approx(50, abs=1.5)
        ways = [tuple(part["words"] for part in choice["put_in"]) for choice in first["choices"]]
        assert len(set(ways)) == len(ways)
        assert holds(first["choices"][0], pot)

        kitchen.new_day()
        pot, shown = after_a_strip(kitchen, pot)
        assert f"--in-pot {shown:g} " in COMMANDS[3]
        second = answer(COMMANDS[3])
        before = off(pot)
        assert holds(second["pot"], pot)
        assert not second["leave_it"]
        pot = kitchen.follow(second["weighing"][0]["steps"], pot)
        assert shares_of(pot) == pytest.approx(KITCHEN_POTS[1], abs=0.001)
        assert holds(second["choices"][0], pot)
        assert off(pot) < before - 0.5
        assert second["kept"]["batch"] == "1.1"

        pot, shown = after_a_strip(kitchen, pot)
        assert f"--in-pot {shown:g}" in COMMANDS[4]
        third = answer(COMMANDS[4])
        assert third["leave_it"]
        assert holds(third["pot"], pot)


def test_drops_go_as_far_astray_as_the_chapter_says():
    def astray(count):
        rng, found = np.random.default_rng(8), []
        for _ in range(2000):
            kitchen = halm()
            kitchen.rng = rng
            kitchen.new_day()
            calibrated, shown = kitchen.calibrated(Bottle(0.05))
            kitchen.new_day()
            grams = kitchen.bottles["red"].dripped(count, kitchen.hand, rng) / kitchen.scale.gain
            found.append(abs(grams / (count * shown / calibrated) - 1))
        return np.quantile(found, 0.95)

    assert astray(4) == pytest.approx(1 / 5, abs=0.03)
    assert astray(30) == pytest.approx(1 / 8, abs=0.02)
