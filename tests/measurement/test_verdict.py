"""Same, different or too close to call; and the differences are those of the published tables."""

from __future__ import annotations

import csv
from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.errors import UsageError
from swatchcam.measurement.verdict import (
    DEFAULT_TOLERANCE,
    Difference,
    against_target,
    between,
    between_means,
    judge,
    mean_against_target,
    mean_colour,
)
from swatchcam.report.measurement import verdict_words
from tests.paths import REFERENCE
from tests.worlds.paper_pots import RECIPES, Paste, strips_of
from tests.worlds.spectra import difference as true_difference


def table(name):
    with open(REFERENCE / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def difference(low, high):
    return Difference("right", "left", (low + high) / 2, low, high, 0.0, 0.0, 0.0, 1.0, ())


@pytest.fixture
def coloured(plain):
    """A measured colour, moved to any CIELAB; its errors stay those of the measured one."""
    colour = plain.colour("left")
    return lambda lab, name="left": replace(colour, name=name, lab=tuple(float(v) for v in lab))


# --- three outcomes -----------------------------------------------------------------------------------------

JUDGED = [
    (0.0, 1.9, "same"),
    (0.0, 2.0, "same"),
    (0.0, 2.0001, "too close to call"),
    (1.0, 3.0, "too close to call"),
    (2.0, 3.0, "too close to call"),
    (2.0001, 3.0, "different"),
    (7.0, 9.0, "different"),
]


@pytest.mark.parametrize(("low", "high", "outcome"), JUDGED)
def test_the_interval_decides_and_not_the_number_in_its_middle(low, high, outcome):
    verdict = judge(difference(low, high), 2.0)
    assert verdict.outcome == outcome
    assert verdict.tolerance == 2.0


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0, 1, "Same: the difference is certainly within your tolerance of 2."),
        (3, 4, "Different: the difference is certainly beyond your tolerance of 2."),
        (1, 3, "Too close to call: your tolerance of 2 lies inside the interval."),
    ],
)
def test_the_terminal_says_why(low, high, said):
    assert verdict_words(judge(difference(low, high), 2.0)) == said


def test_without_a_tolerance_it_is_two():
    assert DEFAULT_TOLERANCE == 2.0
    assert judge(difference(0, 2.0)).outcome == "same"


@pytest.mark.parametrize("tolerance", [0.0, -1.0, np.nan, np.inf])
def test_a_tolerance_that_is_no_number_above_zero_is_refused(tolerance):
    with pytest.raises(UsageError, match="makes no sense") as refusal:
        judge(difference(0, 1), tolerance)
    assert refusal.value.remedy == "give-a-tolerance"


# --- the numbers --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", table("ciede2000_sharma.csv"), ids=lambda row: f"pair {row['pair']}")
def test_every_published_pair_comes_out_through_a_difference(coloured, row):
    # Sharma, Wu & Dalal 2005, table 1: four decimals.
    lab, other = ([float(row[f"{axis}{i}"]) for axis in "Lab"] for i in (1, 2))
    found = against_target(coloured(lab), tuple(other))
    assert found.delta_e == pytest.approx(float(row["dE00"]), abs=5.1e-5)
    assert found.low <= found.delta_e <= found.high or found.high >= found.low >= 0


TEXTILE = [row for row in table("cmc.csv") if (row["formula"], row["l"], row["c"]) == ("CMC", "2", "1")]


@pytest.mark.parametrize("row", TEXTILE[::4], ids=lambda row: f"{row['L1']},{row['a1']},{row['b1']}")
def test_cmc_2_1_takes_the_reference_as_its_standard(coloured, row):
    # ISO 105-J03 (Clarke, McDonald & Rigg 1984); the table's colour 1 is the standard.
    standard, sample = ([float(row[f"{axis}{i}"]) for axis in "Lab"] for i in (1, 2))
    assert against_target(coloured(sample), tuple(standard)).delta_e_cmc == pytest.approx(float(row["dE"]), abs=1e-5)


def test_the_parts_are_sample_minus_reference():
    assert [field.name for field in fields(Difference)][:2] == ["sample", "reference"]


def test_lightness_chroma_and_hue_have_their_signs(coloured):
    found = between(coloured((55, 42, 28), "right"), coloured((50, 40, 30)))
    assert found.delta_l == pytest.approx(5)
    assert found.delta_c == pytest.approx(np.hypot(42, 28) - 50)
    # CIE 15: Δa² + Δb² = ΔC² + ΔH².
    assert found.delta_h**2 == pytest.approx(4 + 4 - found.delta_c**2)
    assert found.delta_h < 0  # 33.7° against 36.9°
    assert (found.sample, found.reference) == ("right", "left")


WORDS = {
    "lighter": ((60, 40, 30), (55, 40, 30)),
    "darker": ((50, 40, 30), (55, 40, 30)),
    "more vivid": ((55, 48, 36), (55, 40, 30)),
    "duller": ((55, 32, 24), (55, 40, 30)),
    "redder": ((55, 44, 23), (55, 40, 30)),
    "yellower": ((55, 34, 37), (55, 40, 30)),
    "bluer": ((55, 0, -6), (55, 0, 0)),
    "greener": ((55, -6, 0), (55, 0, 0)),
}


@pytest.mark.parametrize("word", WORDS)
def test_the_difference_is_put_into_words(coloured, word):
    sample, target = WORDS[word]
    assert word in against_target(coloured(sample), target).words


def test_no_difference_has_no_words_and_is_the_same(coloured):
    found = against_target(coloured((50, 40, 30)), (50, 40, 30))
    assert (found.delta_e, found.words) == (0, ())
    assert found.low == 0
    assert found.high > 0
    assert judge(found, 10).outcome == "same"


def test_the_interval_of_two_strips_is_far_narrower_than_that_to_a_target(plain):
    one, other = plain.colour("left"), plain.colour("right")
    pair, alone = between(other, one), against_target(other, one.lab)
    assert pair.delta_e == pytest.approx(alone.delta_e)
    assert pair.high - pair.low < 0.4 * (alone.high - alone.low)


def test_the_true_difference_lies_in_the_interval(plain):
    truth = plain.shot.truth
    found = between(plain.colour("right"), plain.colour("left"))
    true = between(
        replace(plain.colour("right"), lab=tuple(truth["right"])),
        replace(plain.colour("left"), lab=tuple(truth["left"])),
    )
    assert found.low <= true.delta_e <= found.high
    assert_allclose(found.delta_e, true.delta_e, atol=0.3)


def test_another_name_for_the_reference_is_kept(plain):
    assert between(plain.colour("right"), plain.colour("left"), "march.jpg:left").reference == "march.jpg:left"


# --- several strips of one pot ------------------------------------------------------------------------------

MADE = Paste("white", 0.03, 0.15, (0.025, 0.25))


def drawn_strips(counts, seed=1, noise=1.0):
    """Strips of two pots of one ink, each in a film of its own, with errors as they are stated."""
    rng = np.random.default_rng(seed)
    return strips_of(MADE, [(RECIPES[0], rng.normal(0, 0.1, count)) for count in counts], rng, noise)


def test_the_mean_of_one_strip_is_that_strip():
    (one,), (other,) = drawn_strips((1, 1))
    alone, means = between(one, other), between_means([one], [other], (one.name, other.name))
    assert means.words == alone.words
    for name in ("delta_e", "low", "high", "delta_l", "delta_c", "delta_h", "delta_e_cmc"):
        assert getattr(means, name) == pytest.approx(getattr(alone, name), abs=1e-6)
    target = (50.0, 30.0, 20.0)
    by_target, mean_by_target = against_target(one, target), mean_against_target([one], target, one.name)
    assert_allclose([mean_by_target.low, mean_by_target.high], [by_target.low, by_target.high], atol=1e-6)


def test_means_are_those_of_cielab_and_named_as_was_said():
    first, second = drawn_strips((2, 3))
    found = between_means(second, first, ("today", "before"))
    assert (found.sample, found.reference) == ("today", "before")
    lab, other = (np.mean([strip.lab for strip in strips], axis=0) for strips in (second, first))
    assert found.delta_e == pytest.approx(true_difference(lab, other))
    assert found.delta_l == pytest.approx(lab[0] - other[0])
    back = between_means(first, second, ("before", "today"))
    assert (back.delta_e, back.low, back.high) == pytest.approx((found.delta_e, found.low, found.high), abs=0.01)
    assert back.delta_l == pytest.approx(-found.delta_l)


def test_what_strips_share_does_not_average_out():
    (strips,) = drawn_strips((4,))
    _, one = mean_colour(strips[:1])
    lab, four = mean_colour(strips)
    assert_allclose(lab, np.mean([strip.lab for strip in strips], axis=0))
    # Each strip's own noise does, to a quarter; all else that a phone and a card do is nearly the same for all four.
    own = strips[0].errors.of("noise", "light")
    assert np.trace(one) - np.trace(four) > 0.6 * np.trace(own)
    assert np.trace(four) > 0.5 * (np.trace(one) - np.trace(own))
    assert_allclose(four, four.T)


def test_intervals_of_means_hold_as_often_as_they_say():
    # 400 draws of the stated errors: counting alone leaves 1.1 % open, twice that is allowed.
    held = 0
    for seed in range(400):
        first, second = drawn_strips((2, 2), seed)
        still = drawn_strips((2, 2), seed, noise=0.0)
        true = true_difference(*(np.mean([strip.lab for strip in strips], axis=0) for strips in still))
        found = between_means(second, first, ("", ""))
        held += found.low <= true <= found.high
    assert held / 400 == pytest.approx(0.95, abs=0.022)
