"""A studio with one print: what its photos hold."""

from __future__ import annotations

import numpy as np
import pytest

from tests.worlds import print_pots
from tests.worlds.pots_off import KINDS


@pytest.fixture
def drawn(monkeypatch):
    """What would have been drawn."""
    scenes = []

    def keep(scene, size, path):
        scenes.append(scene)
        path.write_bytes(b"")

    monkeypatch.setattr(print_pots, "draw", keep)
    return scenes


def test_a_studio_measures_its_series_on_one_day_and_its_pots_on_others(drawn, tmp_path):
    made = print_pots.print_pots("build", 1, 4, tmp_path)
    assert len(drawn) == len(made.series) + len(made.pots)
    assert len({id(scene.card) for scene in drawn}) == 1
    series, later = drawn[: len(made.series)], drawn[len(made.series) :]
    assert len({scene.light.tobytes() for scene in series}) == 1
    assert len({scene.phone.quality for scene in series}) == 1
    assert len({scene.phone.flare for scene in later}) == print_pots.LATER
    assert sorted(pot.kind for _, pot, _ in made.pots) == sorted(KINDS)


def test_photos_are_drawn_once_and_the_same_for_fewer_pots(drawn, tmp_path):
    made = print_pots.print_pots("build", 1, 2, tmp_path)
    before = len(drawn)
    again = print_pots.print_pots("build", 1, 2, tmp_path)
    assert len(drawn) == before
    assert [pot.real for _, pot, _ in again.pots] == [pot.real for _, pot, _ in made.pots]
    assert np.array_equal(again.studio.scene.cloth, made.studio.scene.cloth)
