"""Wet ink on a strip by weight: read as people write it, as sure as the scale, and refused where that tells nothing."""

from __future__ import annotations

import re

import numpy as np
import pytest

from swatchcam.errors import UsageError
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.film_weight import LEAST_STEPS, parse_coat


@pytest.mark.parametrize(
    ("text", "g_m2"),
    [
        ("0.72 g on 10x10 cm", 72.0),
        ("0,72 g on 10 x 10 cm", 72.0),
        ("0.72g on 100 × 100 mm", 72.0),
        ("720 mg on 10*10", 72.0),
        ("0.72 G  on 10 cm x 100 mm", 72.0),
        ("0.72 g on 100 cm²", 72.0),
        ("0.72 g on 100 cm2", 72.0),
        ("0,72 g on 10000 mm2", 72.0),
        ("7.2 g on 10 strips of 10x10 cm", 72.0),
        ("7,2 g on 10 Strips 10x10 cm", 72.0),
        ("2.4 g on 1 strip of 20 x 12,5 cm", 96.0),
        ("1.50 g on 0.1 x 0.2 m", 75.0),
    ],
)
def test_it_is_read_as_people_write_it(text, g_m2):
    assert parse_coat(text).g_m2 == pytest.approx(g_m2, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "scale", "grams", "step", "strips", "sides"),
    [
        ("0.72 g on 10x10 cm", None, 0.72, 0.01, 1, (100, 100)),
        ("0,720 g on 10x10 cm", None, 0.72, 0.001, 1, (100, 100)),
        ("72 g on 10 strips of 30x30 cm", None, 72.0, 1.0, 10, (300, 300)),
        ("7.20 g on 10 strips of 10x10 cm", 0.1, 7.2, 0.1, 10, (100, 100)),  # nobody's scale of 0.1 g shows 0.01 g
        ("7.2 g on 10 strips of 10x10 cm", 0.01, 7.2, 0.1, 10, (100, 100)),  # and who writes 7.2 has not said 7.20
        ("840 mg on 5x20 cm", None, 0.84, 0.001, 1, (50, 200)),
    ],
)
def test_its_error_is_the_scatter_of_two_readings_and_two_sides(text, scale, grams, step, strips, sides):
    """Drawn: a tare and a gross reading, each anywhere in its step (JCGM 100:2008, 4.3.7), and a ruler off by 1 mm."""
    rng = np.random.default_rng(5)
    weights = grams + np.subtract(*rng.uniform(-step / 2, step / 2, (2, 200_000)))
    width, height = (rng.normal(side, 1.0, 200_000) for side in sides)
    drawn = weights / (strips * width * height / 1e6)
    found = parse_coat(text, scale)
    assert found.g_m2 == pytest.approx(drawn.mean(), rel=1e-3)
    assert found.std == pytest.approx(drawn.std() / drawn.mean(), rel=0.02)


def refused(text, scale=None):
    with pytest.raises(UsageError) as refusal:
        parse_coat(text, scale)
    for surface in (TERMINAL, PAGE):
        assert surface.remedy(refusal.value) != refusal.value.remedy
    return refusal.value


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("0.7 g on 10x10 cm", None),
        ("0.19 g on 5x5 cm", None),
        ("0.72 g on 10x10 cm", 0.1),
        ("1.2 g on 4 strips of 6x5 cm", None),
        ("13 mg on 3x3 cm", None),
    ],
)
def test_too_few_steps_are_refused_and_the_weighing_that_is_told_is_taken(text, scale):
    found = refused(text, scale)
    assert found.code == "coat-below-scale"
    told = TERMINAL.remedy(found).split("'")[1]  # as a person would copy it
    each = found.facts["grams"] / int(re.search(r"(\d+) strips", f"{text}, 1 strips")[1])
    assert float(told.split(" g ")[0]) == pytest.approx(each * found.facts["strips"], abs=found.facts["step"] / 2)
    assert parse_coat(told, scale).std < 0.1


def test_more_digits_than_any_scale_shows_are_no_crash():
    assert parse_coat(f"0.72{'0' * 500} g on 10x10 cm").std == pytest.approx(0.01 * 2**0.5)


def test_exactly_the_least_steps_are_taken_whatever_floats_make_of_them():
    for step in (0.001, 0.01, 0.1):
        decimals = len(f"{step:g}") - 2
        assert parse_coat(f"{LEAST_STEPS * step:.{decimals}f} g on 4x4 cm").g_m2 > 0


@pytest.mark.parametrize(
    "text",
    [
        "",
        "0.72",
        "0.72 g",
        "on 10x10 cm",
        "0.72 g on",
        "0.72 g on 10",
        "0.72 g on 10x10x10 cm",
        "0.72 g on 0 strips of 10x10 cm",
        "0.72 kg on 10x10 cm",
        "-0.72 g on 10x10 cm",
        "1,072.5 g on 10x10 cm",
        "0.72 g on 10 inches",
        "0.72 g on \u0661\u0660x10 cm!",
    ],
)
def test_what_cannot_be_read_is_refused_with_an_example_that_can(text):
    found = refused(text)
    assert found.code == "coat-unreadable"
    for example in TERMINAL.remedy(found).split("'")[1::2]:
        assert parse_coat(example).g_m2 == pytest.approx(72)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("72 g on 10x10 cm", "Wet ink on the strip: 7200 g/m²"),
        ("0.20 g on 100x100 cm", "Wet ink on the strip: 0.2 g/m²"),
        ("0 g on 10x10 cm", "Weight of the wet ink: 0 g"),
        ("0.72 g on 10x10 mm x", "can't be read"),
        ("0.72 g on 9x9 mm", "Side of the strip: 9 mm"),
        ("0.72 g on 0x10 cm", "Side of the strip: 0 mm"),
        (f"{'9' * 400} g on 10x10 cm", "Weight of the wet ink: inf g"),
        (f"0.72 g on {'9' * 400}x10 cm", "Side of the strip: inf mm"),
        ("99999999999 g on 10x10 cm", "Weight of the wet ink: 1e+11 g"),
    ],
)
def test_what_makes_no_sense_is_refused(text, words):
    assert words in TERMINAL.problem(refused(text))
