"""The words of care are there when they are needed, and only then."""

from __future__ import annotations

import pytest

from swatchcam.recipes.safety import ALWAYS, care_lines

TRIGGERS = {
    "powder": (True, "dust"),
    "over_limit": (("black",), "rub off and wash out"),
    "white": (True, "from the bottom"),
    "heat": (True, "temperature and time of the ink's maker"),
    "disposal": (True, "local rules"),
}


def test_the_data_sheet_comes_first_always():
    for lines in (care_lines(), care_lines(powder=True, white=True, heat=True, disposal=True, over_limit=["red"])):
        assert lines[: len(ALWAYS)] == ALWAYS
        assert "safety data sheet first" in lines[0]


def test_gloves_food_and_labels_are_always_named():
    words = " ".join(care_lines())
    for word in ("gloves", "apron", "do not eat", "never goes back to the kitchen", "Label every pot"):
        assert word in words


@pytest.mark.parametrize("trigger", TRIGGERS)
def test_each_trigger_adds_its_own_line_and_no_other(trigger):
    value, words = TRIGGERS[trigger]
    added = " ".join(care_lines(**{trigger: value})[len(ALWAYS) :])
    assert words in added
    assert not [other for name, (_, other) in TRIGGERS.items() if name != trigger and other in added]


def test_pigments_above_the_makers_limit_are_named():
    assert "black is beyond the most" in " ".join(care_lines(over_limit=["black"]))
    assert "black, red and blue are beyond" in " ".join(care_lines(over_limit=["black", "red", "blue"]))


def test_every_line_is_short_and_said_once():
    lines = care_lines(powder=True, white=True, heat=True, disposal=True, over_limit=["red"])
    assert len(set(lines)) == len(lines)
    for line in lines:
        assert line.endswith(".")
        assert len(line) < 180
