"""What a shade shall be is never taken from a let-down strip; a record that is named is what it is, in its state."""

from __future__ import annotations

import pytest

from swatchcam.errors import UsageError
from swatchcam.library.changes import set_target
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, State
from swatchcam.mixing.target import TargetRequest, of_shade, target_of
from tests.worlds.cheap_measurements import put


@pytest.fixture
def library(place):
    return open_library(place, create=True)


def test_the_last_strip_of_the_ink_is_what_a_shade_shall_be(library, tmp_path):
    ink = put(library, tmp_path, 1, "Brick", measured="2026-03-01")
    pale = put(library, tmp_path, 2, "Brick", measured="2026-03-02", let_down=10.0)
    found = of_shade(library, library.shade("brick"), DRY)
    assert f"record {ink.number} (" in found.words
    named, _ = target_of(library, TargetRequest(record=pale.number))
    assert f"record {pale.number} (Brick, batch 2026-03-02, let down 1:10, air-dried)" in named.words


def test_a_shade_with_let_down_strips_alone_has_no_colour(library, tmp_path):
    put(library, tmp_path, 1, "Brick", let_down=10.0)
    with pytest.raises(UsageError) as refusal:
        of_shade(library, library.shade("brick"), DRY)
    assert refusal.value.code == "nothing-to-mix-towards"


def test_a_target_is_in_the_state_that_the_library_keeps_with_it(library, tmp_path):
    finished = State("heat-set", how="150 °C, 4 min, press")
    put(library, tmp_path, 1, "Brick", measured="2026-03-02")
    put(library, tmp_path, 2, "Brick", measured="2026-03-01", state=finished)
    brick = library.shade("brick")
    assert of_shade(library, brick).state == finished  # not the last strip: that is not finished yet
    assert of_shade(library, brick, strips=DRY).state == DRY  # of strips in one state a difference is surest
    set_target(library, "brick", (50.0, 30.0, 20.0), state=finished)
    assert of_shade(library, library.shade("brick"), strips=DRY).state == finished
    with pytest.raises(UsageError) as refusal:
        of_shade(library, library.shade("brick"), DRY)
    assert (refusal.value.code, refusal.value.facts["known"]) == ("target-in-other-state", str(finished))
