"""What is said to be unsure of a dose is how far it really goes astray in drawn kitchens."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from swatchcam.recipes.dosing import counted_dose, weighed_dose
from swatchcam.recipes.drops import parse_drops
from swatchcam.recipes.premix import making
from tests.worlds.kitchen import Make, Put, random_bottle, random_kitchen

KITCHENS = 400
# A display that is rounded once is surer than one rounded twice, and nobody knows which one there is: what is said is
# a little too unsure in half of the kitchens.
AT_LEAST, AT_MOST = 0.8, 1.1


def strong_and_weak(kitchen):
    """A pre-mix of 10 % and one of 1 %, made of it, as the tool says; what it says of them."""
    strong = making("red", 0.1, kitchen.scale.step)
    weak = making("red", 0.01, kitchen.scale.step, of=strong.made)
    kitchen.make(Make("red 10 %", "red", strong.ink_g, strong.binder_g))
    kitchen.make(Make("red 1 %", "red", weak.ink_g, weak.binder_g, of="red 10 %"))
    return {"red 10 %": strong.made, "red 1 %": weak.made}


def drops_of(kitchen, bottle):
    count, shown = kitchen.calibrated(bottle)
    return parse_drops(f"{count} drops = {shown:.2f} g", kitchen.scale.step)


def weighed(kitchen, steps, jar=""):
    made = strong_and_weak(kitchen)[jar] if jar else None
    return weighed_dose("red", steps * kitchen.scale.step, kitchen.scale.step, made)


def counted(kitchen, count, jar=""):
    if not jar:
        return counted_dose("red", count, drops_of(kitchen, kitchen.bottles["red"]))
    made = strong_and_weak(kitchen)[jar]
    kitchen.jars[jar].bottle = random_bottle(kitchen.rng)
    return counted_dose("red", count, drops_of(kitchen, kitchen.jars[jar].bottle), made)


def errors(way, step):
    """(kitchens, 2) relative errors of two doses that share all but their own error, and (kitchens, 2) own, common."""
    found, told = [], []
    for number in range(KITCHENS):
        kitchen = random_kitchen(np.random.default_rng([17, number]), ["red"], step, drips=1)
        dose = way(kitchen)
        put = Put("red", dose.amount, dose.unit == "drops", dose.pre_mix.name if dose.pre_mix else "")
        true = []
        for _ in range(2):
            pot = {}
            kitchen.new_day()
            kitchen.put(pot, put)
            # All that is in a pot was weighed on the same scale: what it always shows too much is in all of it.
            true.append(pot["red"] / kitchen.scale.gain)
        found.append(np.array(true) / dose.pigment_g - 1)
        told.append((dose.own, dose.common))
    return np.array(found), np.array(told)


WAYS = {
    "weighed, 5 steps": partial(weighed, steps=5),
    "weighed, 10 % pre-mix": partial(weighed, steps=12, jar="red 10 %"),
    "weighed, 1 % pre-mix": partial(weighed, steps=12, jar="red 1 %"),
    "4 drops": partial(counted, count=4),
    "30 drops": partial(counted, count=30),
    "10 drops of a 10 % pre-mix": partial(counted, count=10, jar="red 10 %"),
}


@pytest.mark.parametrize("step", [1.0, 0.1, 0.01])
@pytest.mark.parametrize("way", WAYS)
def test_a_dose_is_as_far_astray_as_it_is_said_to_be(way, step):
    found, told = errors(WAYS[way], step)
    stated = np.hypot(*told.T)
    assert AT_LEAST < np.sqrt(np.mean((found / stated[:, None]) ** 2)) < AT_MOST
    assert abs(np.mean(found)) < 3 * np.mean(stated) / np.sqrt(KITCHENS)


@pytest.mark.parametrize("step", [1.0, 0.1])
@pytest.mark.parametrize("way", [way for way in WAYS if way != "weighed, 5 steps"])
def test_what_two_doses_have_in_common_is_no_more_than_is_said(way, step):
    found, told = errors(WAYS[way], step)
    common = np.mean(found.prod(axis=1)) / np.mean(told[:, 1] ** 2)
    noise = np.mean(told[:, 0] ** 2 + told[:, 1] ** 2) / np.mean(told[:, 1] ** 2) / np.sqrt(KITCHENS)
    assert 0.3 - 2 * noise < common < 1.1 + 2 * noise
