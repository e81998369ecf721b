"""What is said to be unsure of a dose is how far it really goes astray in drawn kitchens."""

from __future__ import annotations

import numpy as np
import pytest

from swatchcam.recipes.dosing import counted_dose, weighed_dose
from swatchcam.recipes.drops import parse_drops
from swatchcam.recipes.premix import making
from tests.worlds.kitchen import Put, random_bottle, random_kitchen

KITCHENS = 400
# A display that is rounded once is surer than one rounded twice, and nobody knows which one there is: what is said is
# a little too unsure in half of the kitchens.
AT_LEAST, AT_MOST = 0.8, 1.1


def strong_and_weak(kitchen):
    """A pre-mix of 10 % and one of 1 %, made of it, as the tool says; what it says of them."""
    strong = making("red", 0.1, kitchen.scale.step)
    weak = making("red", 0.01, kitchen.scale.step, of=strong.made)
    kitchen.make("red", 10.0, strong.ink_g, strong.binder_g)
    kitchen.make("red", 1.0, weak.ink_g, weak.binder_g, of=10.0)
    return strong.made, weak.made


def drops_of(kitchen, bottle):
    count, shown = kitchen.calibrated(bottle)
    return parse_drops(f"{count} drops = {shown:.2f} g", kitchen.scale.step)


def weighed(kitchen, steps):
    return weighed_dose("red", steps * kitchen.scale.step, kitchen.scale.step), 100.0


def weighed_pre_mix(kitchen, percent):
    made = dict(zip((10.0, 1.0), strong_and_weak(kitchen), strict=True))[percent]
    return weighed_dose("red", 12 * kitchen.scale.step, kitchen.scale.step, made), percent


def counted(kitchen, count):
    return counted_dose("red", count, drops_of(kitchen, kitchen.bottles["red"])), 100.0


def counted_pre_mix(kitchen, count):
    made = strong_and_weak(kitchen)[0]
    jar = kitchen.jars["red", 10.0]
    jar.bottle = random_bottle(kitchen.rng)
    return counted_dose("red", count, drops_of(kitchen, jar.bottle), made), 10.0


def errors(way, step):
    """(kitchens, 2) relative errors of two doses that share all but their own error, and (kitchens, 2) own, common."""
    found, told = [], []
    for number in range(KITCHENS):
        kitchen = random_kitchen(np.random.default_rng([17, number]), ["red"], step)
        dose, percent = way(kitchen)
        true = []
        for _ in range(2):
            pot = {}
            kitchen.new_day()
            kitchen.put(pot, Put("red", dose.amount, dose.unit == "drops", percent))
            # All that is in a pot was weighed on the same scale: what it always shows too much is in all of it.
            true.append(pot["red"] / kitchen.scale.gain)
        found.append(np.array(true) / dose.pigment_g - 1)
        told.append((dose.own, dose.common))
    return np.array(found), np.array(told)


WAYS = {
    "weighed, 5 steps": lambda kitchen: weighed(kitchen, 5),
    "10 % pre-mix": lambda kitchen: weighed_pre_mix(kitchen, 10.0),
    "1 % pre-mix": lambda kitchen: weighed_pre_mix(kitchen, 1.0),
    "4 drops": lambda kitchen: counted(kitchen, 4),
    "30 drops": lambda kitchen: counted(kitchen, 30),
    "10 drops of a 10 % pre-mix": lambda kitchen: counted_pre_mix(kitchen, 10),
}


@pytest.mark.parametrize("step", [1.0, 0.1, 0.01])
@pytest.mark.parametrize("way", WAYS)
def test_a_dose_is_as_far_astray_as_it_is_said_to_be(way, step):
    found, told = errors(WAYS[way], step)
    stated = np.hypot(*told.T)
    assert AT_LEAST < np.sqrt(np.mean((found / stated[:, None]) ** 2)) < AT_MOST
    assert abs(np.mean(found)) < 3 * np.mean(stated) / np.sqrt(KITCHENS)


@pytest.mark.parametrize("step", [1.0, 0.1])
@pytest.mark.parametrize("way", [way for way in WAYS if "weighed" not in way])
def test_what_two_doses_have_in_common_is_no_more_than_is_said(way, step):
    found, told = errors(WAYS[way], step)
    common = np.mean(found.prod(axis=1)) / np.mean(told[:, 1] ** 2)
    noise = np.mean(told[:, 0] ** 2 + told[:, 1] ** 2) / np.mean(told[:, 1] ** 2) / np.sqrt(KITCHENS)
    assert 0.3 - 2 * noise < common < 1.1 + 2 * noise
