"""The kitchen doses as published drops and spoons say people do, and its scale as the rounding of a display says."""

from __future__ import annotations

import csv
import re

import numpy as np
import pytest

from tests.paths import HOME
from tests.worlds.hidden_studios import BINDER
from tests.worlds.kitchen import Bottle, Make, Put, Scale, random_bottle, random_kitchen


def published(quantity):
    """The numbers of a row of the published facts."""
    lines = (HOME / "tests" / "reference" / "dosing_facts.csv").read_text(encoding="utf-8").splitlines()
    rows = {row["quantity"]: row for row in csv.DictReader(lines[1:])}
    assert rows[quantity]["status"] == "published"
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", rows[quantity]["value"])]


@pytest.mark.parametrize("readings", [1, 2])
def test_a_weight_is_off_by_as_much_as_the_rounding_of_its_readings(readings):
    rng, scale = np.random.default_rng(1), Scale(1.0, readings=readings)
    found = [scale.poured(7.0, rng) for _ in range(4000)]
    # JCGM 100:2008, 4.3.7: each reading has the variance step² / 12.
    assert np.std(found) == pytest.approx(np.sqrt(readings / 12), rel=0.05)
    assert np.mean(found) == pytest.approx(7.0, abs=0.03)


def test_what_is_poured_is_what_the_scale_shows_again():
    rng = np.random.default_rng(2)
    for scale in (Scale(0.1, 1.004), Scale(0.1, 0.997, readings=1)):
        again = [scale.shows(scale.poured(3.0, rng), scale.emptied(rng)) for _ in range(2000)]
        assert np.mean(again) == pytest.approx(3.0, abs=0.01)
        assert max(again) <= 3.2 + 1e-9


def test_drops_are_as_large_and_as_unlike_as_published_ones():
    rng = np.random.default_rng(3)
    low, high = published("drops in pharmacy use")  # uL; of ink as heavy as water, mg
    mean = 1000 * np.mean([random_bottle(rng).drop_g for _ in range(500)])
    assert low < mean < high
    drops = [Bottle(0.05).dripped(1, 1.0, rng) for _ in range(4000)]
    most = published("error of a calibrated dropper in normal use")[0] / 100
    assert np.std(drops) / np.mean(drops) == pytest.approx(most, rel=0.05)


def test_drops_seem_too_heavy_to_who_stops_when_the_display_turns_but_not_to_who_counts_in_fifties():
    def found(at_a_time):
        kitchens = [random_kitchen(np.random.default_rng([6, number]), ["red"], 1.0, drips=1) for number in range(500)]
        told = [(each.calibrated(each.bottles["red"], at_a_time), each) for each in kitchens]
        return np.mean([grams / count / each.bottles["red"].drop_g * each.scale.gain for (count, grams), each in told])

    assert found(1) == pytest.approx(1.05, abs=0.01)  # half a step of ten
    assert found(50) == pytest.approx(1.0, abs=0.01)


def test_spoons_hold_what_people_put_in_them():
    low, high = published("household teaspoons, 71 pieces from 25 homes (Greece)")[:2]
    rng = np.random.default_rng(4)
    kitchens = [random_kitchen(rng, ["red"], 1.0, drips=1) for _ in range(300)]
    held = np.array([kitchen.spooned(4) / 4 / kitchen.density for kitchen in kitchens])
    assert ((low < held) & (held < high)).all()
    assert held.mean() < published("metric teaspoon / tablespoon")[0]


def test_a_pre_mix_is_kept_with_its_error_and_brings_its_clear_base_along():
    kitchen = random_kitchen(np.random.default_rng(5), ["red"], 1.0, drips=1)
    strong = kitchen.make(Make("red 10 %", "red", 20.0, 180.0))
    weak = kitchen.make(Make("red 1 %", "red", 20.0, 180.0, of="red 10 %"))
    assert strong.share == pytest.approx(0.1, rel=0.1)
    assert weak.share / strong.share == pytest.approx(0.1, rel=0.1)
    for _ in range(3):
        pot = {}
        kitchen.put(pot, Put("red", 10.0, jar="red 1 %"))
        assert pot["red"] / sum(pot.values()) == pytest.approx(weak.share)
        assert set(pot) == {"red", BINDER}
    assert weak.grams == pytest.approx(170.0, abs=5)
