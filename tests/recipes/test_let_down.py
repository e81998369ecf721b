"""How far ink was let down, as people type it."""

from __future__ import annotations

import pytest

from swatchcam.errors import UsageError
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.let_down import parse_let_down
from swatchcam.text import let_down_words


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("10", 10.0),
        (" 10 ", 10.0),
        ("1:10", 10.0),
        ("1 : 10", 10.0),
        ("2:5", 2.5),
        ("2,5", 2.5),
        ("1:0,1", 0.1),
        ("1000", 1000.0),
        ("3:10", 3.3333),
        ("0", 0.0),
        ("", 0.0),
    ],
)
def test_it_is_the_parts_of_clear_base_to_one_part_of_ink(text, parts):
    assert parse_let_down(text) == parts


@pytest.mark.parametrize("parts", [0.1, 0.25, 2.5, 10.0, 1000.0])
def test_its_words_are_read_again(parts):
    assert parse_let_down(let_down_words(parts).removeprefix("let down ")) == parts


def test_the_ink_itself_has_no_words():
    assert let_down_words(0.0) == ""


@pytest.mark.parametrize(
    "text", ["ten", "1:", ":10", "0:10", "1:10:2", "-3", "1/10", "10 %", "1:10 parts", "1e2", "10:1"]
)
def test_what_cannot_be_read_is_refused_with_examples_that_can(text):
    with pytest.raises(UsageError) as refusal:
        parse_let_down(text)
    assert refusal.value.code == "let-down-unreadable"
    for surface in (TERMINAL, PAGE):
        examples = surface.remedy(refusal.value).partition(": ")[2].rstrip(".").split(" or ")
        assert {parse_let_down(example) for example in examples} == {10.0}


@pytest.mark.parametrize("text", ["0.05", "1:1001", "99999999", "1:0.00001", "9" * 400, f"{'9' * 400}:10"])
def test_a_ratio_that_nobody_mixes_is_refused(text):
    with pytest.raises(UsageError) as refusal:
        parse_let_down(text)
    assert "between 0.1 and 1000" in TERMINAL.remedy(refusal.value)
