"""Pre-mixes, counted drops and doses: they hold the pigment that was wanted, as surely as they say."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.recipes.arithmetic import together
from swatchcam.recipes.dosing import Tools, counted_dose, doses_near, weighed_dose
from swatchcam.recipes.drops import HAND, STEPS, Drops, parse_drops
from swatchcam.recipes.parser import DROPS
from swatchcam.recipes.premix import BATCH_STEPS, PreMix, made_of, making, makings
from swatchcam.recipes.recipe import BINDER, GRAMS, Part, Recipe, recipe_from_json, recipe_json
from swatchcam.recipes.scale_resolution import on_scale, weighed_std

SCALES = st.sampled_from([0.01, 0.1, 1.0])


@given(needed=st.floats(0, 300), scale=SCALES)
def test_a_pre_mix_has_its_strength_and_fills_enough_steps(needed, scale):
    strong = making("blue", 0.1, scale, needed)
    weak = making("blue", 0.01, scale, needed, strong.made)
    for made in (strong, weak):
        assert made.ink_g >= BATCH_STEPS * scale - 1e-9
        assert made.grams >= needed
        assert made.ink_g == pytest.approx(on_scale(made.ink_g, scale))
    assert strong.made.share == pytest.approx(0.1, rel=0.01)
    assert weak.made.share == pytest.approx(0.01, rel=0.01)
    assert (strong.made.name, weak.made.name) == ("blue 10 %", "blue 1 %")
    assert (strong.made.makings, weak.made.makings) == (1, 2)


def test_a_pre_mix_is_as_sure_as_its_weighings():
    """JCGM 100:2008, 5.1.2, against a simulation of two readings of each weight."""
    rng, scale = np.random.default_rng(17), 1.0
    strong = making("blue", 0.1, scale)
    weak = making("blue", 0.01, scale, of=strong.made)
    off = rng.uniform(-0.5, 0.5, (8, 200_000)) * scale
    ink, base = strong.ink_g + off[0] - off[1], strong.binder_g + off[2] - off[3]
    share = ink / (ink + base)
    assert np.std(share / strong.made.share) == pytest.approx(strong.made.std, rel=0.02)
    ink, base = weak.ink_g + off[4] - off[5], weak.binder_g + off[6] - off[7]
    assert np.std(share * ink / (ink + base) / weak.made.share) == pytest.approx(weak.made.std, rel=0.02)


@given(grams=st.floats(0.002, 20), scale=SCALES)
def test_doses_lie_on_both_sides_of_what_is_wanted_and_on_the_scale(grams, scale):
    tools = Tools(scale, {"blue": Drops(0.05, 0.05)}, make=True)
    for dose in doses_near("blue", grams, tools):
        if dose.unit == DROPS:
            assert dose.amount == round(dose.amount) >= 1
            assert abs(dose.grams - grams) <= 0.05 + 1e-9
        else:
            assert dose.grams == pytest.approx(on_scale(dose.grams, scale))
            assert dose.pigment_g <= max(grams + scale * dose.share, scale * dose.share) + 1e-9
            assert dose.own == pytest.approx(weighed_std(scale) / dose.grams)
        assert dose.pigment_g + dose.binder_g == pytest.approx(dose.grams)


@pytest.mark.parametrize(("left", "most"), [(0.3, 0.3), (0.56, 0.55), (None, 0.6)])
def test_no_more_drops_are_counted_than_the_jar_holds(left, most):
    jar = PreMix("blue", 0.1, 0.01, left, Drops(0.05, 0.02), number=1)
    doses = doses_near("blue", 0.06, Tools(1.0, pre_mixes={"blue": (jar,)}))
    assert max((dose.grams for dose in doses if dose.unit == DROPS), default=0) <= most + 1e-9


def test_nothing_is_dispensed_below_the_least():
    tools = Tools(0.1, least_g={"blue": 0.5})
    assert min(dose.grams for dose in doses_near("Blue", 0.2, tools)) == 0.5


def test_drops_are_known_as_well_as_the_scale_tells_them():
    found = parse_drops("200 drops = 10,2 g", 1.0)
    assert found.grams == pytest.approx(0.051)
    # 0.41 g of 10.2 g, 200 drops of 15 % each (USP 1101, dosing_facts.csv), and the hand.
    assert found.std == pytest.approx(math.hypot(1 / math.sqrt(6) / 10.2, 0.15 / math.sqrt(200), HAND))
    assert parse_drops("40 drops 2.0 g", 0.01).std < found.std


@pytest.mark.parametrize(("text", "scale", "code"), [
    ("20 drops = 1 g", 1.0, "drops-too-few"), ("twenty drops", 1.0, "drops-unreadable"),
    ("0 drops = 10 g", 1.0, "drops-unreadable"), ("", 0.1, "drops-unreadable"),
    ("20 drops = 200 g", 1.0, "number-out-of-range"),
])  # fmt: skip
def test_drops_that_tell_nothing_are_refused(text, scale, code):
    with pytest.raises(UsageError) as refusal:
        parse_drops(text, scale)
    assert refusal.value.code == code
    if code == "drops-too-few":
        assert refusal.value.facts["enough"] == STEPS * scale


def test_what_doses_share_does_not_fade_when_they_are_added():
    drops = Drops(0.05, 0.05)
    one, more = (
        Recipe((Part(BINDER, 50.0, GRAMS, 50.0, 0.4), counted_dose("blue", n, drops).part())) for n in (10, 10)
    )
    whole = together(one, more)
    blue = next(part for part in whole.parts if part.what == "blue")
    assert blue.grams_std == pytest.approx(math.hypot(2 * 0.5 * 0.05, 0.5 * 0.15 / math.sqrt(10) * math.sqrt(2)))
    alone = counted_dose("blue", 20, drops).part()
    assert blue.grams_std == pytest.approx(alone.grams_std)
    assert recipe_from_json(recipe_json(whole)) == whole


def test_doses_of_two_bottles_err_independently():
    one, other = weighed_dose("blue", 1.0, 0.1).part(), counted_dose("blue", 10, Drops(0.05, 0.1)).part()
    base = Part(BINDER, 50.0, GRAMS, 50.0, 0.4)
    blue = together(Recipe((base, one)), Recipe((base, other))).parts[1]
    assert blue.grams_std == pytest.approx(math.hypot(one.grams_std, other.grams_std))


def test_the_nearest_weight_of_a_scale_has_no_dust():
    assert on_scale(0.29999, 0.1) == 0.3
    assert on_scale(12.3, 0.5) == 12.5


@pytest.mark.parametrize(
    ("percent", "label"),
    [
        (9.93, "10"),
        (10.08, "10"),
        (1.03, "1"),
        (0.98, "1"),
        (12.4, "12"),
        (25, "25"),
        (4.9, "5"),
        (0.5, "0.5"),
        (50, "50"),
    ],
)
def test_a_label_says_a_round_figure_where_it_is_near(percent, label):
    assert PreMix("rosé", percent / 100, 0.02).name == f"rosé {label} %"


@pytest.mark.parametrize(("ink", "base", "scale"), [(0.0, 9.0, 0.1), (1.0, -1.0, 0.1), (1.0, 9.0, 0.0)])
def test_what_is_no_weight_makes_no_pre_mix(ink, base, scale):
    with pytest.raises(UsageError, match="can't be right"):
        made_of("blue", ink, base, scale)


@pytest.mark.parametrize("share", [0.5, 0.1, 0.03, 0.01, 0.002, 0.001, 0.0001])
def test_a_pre_mix_of_any_strength_is_made_in_steps_that_fit_a_jar(share):
    steps = makings("blue", share, 1.0, 30.0)
    assert steps[-1].made.share == pytest.approx(share, rel=0.02)
    assert [step.of for step in steps] == [None, *(step.made for step in steps[:-1])]
    assert all(step.binder_g <= 1200 for step in steps)
    assert all(step.grams > after.ink_g for step, after in pairwise(steps))


def test_a_jar_that_is_nearly_empty_keeps_no_fresh_pre_mix_from_being_made():
    nearly_empty, enough = (PreMix("blue", 0.1, 0.01, grams, number=1) for grams in (0.5, 50.0))

    def of_strong(jar):
        doses = doses_near("blue", 0.3, Tools(1.0, pre_mixes={"blue": (jar,)}, make=True))
        return {(dose.grams, dose.to_make) for dose in doses if dose.source == "blue 10 %"}

    assert of_strong(nearly_empty) == {(3.0, 1), (4.0, 1)}
    assert of_strong(enough) == {(3.0, 0), (4.0, 0)}


def test_no_more_drops_are_counted_than_are_in_the_bottle():
    jar = PreMix("blue", 0.1, 0.01, 0.5, Drops(0.05, 0.04), number=1)

    def counts(grams):
        doses = doses_near("blue", grams, Tools(1.0, pre_mixes={"blue": (jar,)}))
        return [dose.amount for dose in doses if dose.unit == DROPS]

    assert counts(0.048) == [9, 10]
    assert counts(0.1) == []
