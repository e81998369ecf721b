"""A pre-mix holds the pigment that was wanted, as well as the scale can tell it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.recipes.premix import DOSE_STEPS, PreMix, let_down_of, made_of
from swatchcam.recipes.scale_resolution import on_scale


@given(pigment=st.floats(0.02, 5), scale=st.sampled_from([0.01, 0.1]))
def test_a_pre_mix_holds_the_pigment_within_its_rounding(pigment, scale):
    mix = let_down_of(pigment, scale)
    assert mix.pigment_g + mix.binder_g == pytest.approx(mix.grams)
    assert abs(mix.pigment_g - pigment) <= mix.share * scale / 2 + 1e-9
    assert mix.make_pigment_g / (mix.make_pigment_g + mix.make_binder_g) == pytest.approx(mix.share, rel=0.01)
    assert mix.make_pigment_g >= mix.pigment_g


def test_the_stronger_pre_mix_is_taken_where_it_fills_enough_steps():
    assert let_down_of(0.1 * DOSE_STEPS * 0.1, 0.1).share == 0.1
    assert let_down_of(0.099 * DOSE_STEPS * 0.1, 0.1).share == 0.01


def test_what_is_too_little_even_for_a_pre_mix_is_refused():
    with pytest.raises(UsageError, match="even for a pre-mix of 1 %"):
        let_down_of(0.0004, 0.1)


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
