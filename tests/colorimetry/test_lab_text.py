"""A colour in text: every spelling gives the same numbers, and what can be read in two ways is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.colorimetry.lab_text import MOST_AB, is_lab, parse_lab, plain_lab
from swatchcam.errors import UsageError
from swatchcam.messages.surface import TERMINAL
from tests.colorimetry.spellings import LAB, SPELLINGS

AXIS = st.floats(-MOST_AB, MOST_AB)


@pytest.mark.parametrize("text", SPELLINGS)
def test_every_spelling_is_the_same_colour(text):
    assert is_lab(text)
    assert parse_lab(text) == LAB


@pytest.mark.parametrize(
    ("text", "lab"),
    [
        ("41;38; -12", (41, 38, -12)),
        (" 60 36  38 ", (60, 36, 38)),
        ("60,36,38", (60, 36, 38)),
        ("60,-36,-38", (60, -36, -38)),
        ("52,9; 46; \N{MINUS SIGN}13,25", (52.9, 46, -13.25)),
        ("52,9 46 13", (52.9, 46, 13)),
        ("52,9, 46,5, 13", (52.9, 46.5, 13)),
        ("1,2 3,4 5", (1.2, 3.4, 5)),
        ("41.2, 38,12", (41.2, 38, 12)),  # nobody writes a point and a comma for decimals
    ],
)
def test_numbers_without_decimals_may_stand_among_them(text, lab):
    assert parse_lab(text) == lab


@pytest.mark.parametrize(
    "text",
    [
        *("", "50,0", "41,5 38", "41,2, 38", "41; 38,5", "1 2 3 4", "1,2,3,4", "1,2,3;", ",5; 3; 2"),
        *("1;;3", "50;;20;;10", "41,,38,-12", "1.2.3 4 5", "1,234.5 3 4", "nan,0,0", "inf 0 0", "9" * 5000),
    ],
)
def test_what_is_not_three_numbers_is_refused_in_short(text):
    with pytest.raises(UsageError, match="is not three numbers") as refusal:
        parse_lab(text)
    assert len(TERMINAL.problem(refusal.value)) < 80
    assert not is_lab(text)


@pytest.mark.parametrize("text", ["52 ,9 46", "52 ,9 ,46", "52; 9 ,46"])
def test_three_numbers_in_two_ways_are_refused(text):
    with pytest.raises(UsageError, match="can be read in two ways"):
        parse_lab(text)


@pytest.mark.parametrize("text", ["140,0,0", "-1,0,0", "50,200,0", "50 0 -140,5"])
def test_what_no_surface_shows_is_refused(text):
    with pytest.raises(UsageError, match="is not a colour that a surface can have"):
        parse_lab(text)


@given(st.floats(0, 100), AXIS, AXIS)
def test_what_is_written_is_read_back_to_the_last_bit(lightness, a, b):
    lab = (lightness, a, b)
    assert parse_lab(plain_lab(lab)) == lab
    for between in ("; ", " ", ", ", " ; "):
        assert parse_lab(between.join(map(repr, lab)).replace(".", ",")) == lab
