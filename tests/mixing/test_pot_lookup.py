"""A pot is known by strips of its ink, never by one that was let down."""

from __future__ import annotations

from dataclasses import replace

import pytest

from swatchcam.errors import UsageError
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY
from swatchcam.library.save import Entry, keep_record
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.mixing.pot_lookup import best_pot, refuse_let_down
from swatchcam.mixing.search import Target
from swatchcam.recipes.recipe import parse_recipe
from tests.worlds.cheap_measurements import measurement
from tests.worlds.studio_records import record

WANTED, OFF = (60.0, 20.0, 20.0), (50.0, 30.0, 30.0)
RECIPE = parse_recipe("binder 500 g, red 6 g")


@pytest.fixture
def library(place):
    return open_library(place, create=True)


def test_a_let_down_strip_makes_no_pot_the_best(library, tmp_path):
    for number, (batch, lab, let_down) in enumerate([("1", OFF, 0.0), ("2", (70.0, 5, 5), 0.0), ("2", WANTED, 10.0)]):
        entry = Entry("Brick", batch, recipe=RECIPE, let_down=let_down)
        keep_record(library, measurement(tmp_path, number, lab), "left", entry)
    shade = library.shade("brick")
    assert best_pot(library, shade, Target(OFF, "numbers"), DRY).name == "1"
    nearest = best_pot(library, shade, Target((69.0, 6.0, 6.0), "numbers"), DRY)
    assert nearest.name == "2"
    assert best_pot(library, shade, Target((58.0, 22.0, 22.0), "numbers"), DRY).name == "1"


def test_a_let_down_strip_is_not_the_pot_in_hand():
    refuse_let_down(record())
    with pytest.raises(UsageError) as refusal:
        refuse_let_down(replace(record(7), let_down=10.0))
    for surface in (TERMINAL, PAGE):
        assert "Record 7 is of a let-down strip" in surface.problem(refusal.value)
        assert surface.remedy(refusal.value) == "Photograph a strip of the ink itself."
