"""The bare cloth is read where a window shows it, beside the ink or alone; never from the table round the card."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.measurement.bare_cloth import bare_cloth
from swatchcam.measurement.error_budget import View, colour_of
from swatchcam.measurement.measure import measure
from swatchcam.measurement.strip_sample import windows_of
from tests.worlds.inks import cloth
from tests.worlds.scene import Cover, Ink, ink, render, write_jpeg
from tests.worlds.spectra import difference, reflectance_lab

CLOTHS = ["white", "natural", "grey", "pink"]
SMEARED = {"extent": (0.1, 0.12, 0.9, 0.88), "ragged": 1.2, "taper": 2.0, "uneven": 0.08}
INKS = ({"violet": 0.4, "golden": 0.2}, {"blue": 0.5})


def on(scene, ground, left, right, **changes):
    """Strips on this cloth; the card lies on it too unless something else is said."""
    return replace(scene, windows={"left": left, "right": right}, cloth=cloth(ground), weave=0.06, **changes)


def smeared(ground, place, **more):
    return ink(INKS[place], 0.05, ground, **{**SMEARED, **more})


def cloth_of(road):
    """(3,) CIELAB of the bare cloth of a photo, or None."""
    pieces = windows_of(road.card, road.light)
    found = bare_cloth(pieces, list(road.strips.values()), road.light.field)
    return found and colour_of([View(road.photo.digest, found, road.fit, road.response)])


def off(road, ground):
    return float(difference(cloth_of(road).lab, reflectance_lab(cloth(ground))))


@pytest.mark.parametrize("ground", CLOTHS)
def test_it_is_read_beside_smeared_ink(travel, fair_scene, ground):
    road = travel(on(fair_scene, ground, smeared(ground, 0), smeared(ground, 1)), (1600, 1200))
    assert off(road, ground) < 1.5
    assert cloth_of(road).strip.area_mm2 > 100


@pytest.mark.parametrize("ground", CLOTHS)
def test_an_empty_window_shows_it(travel, fair_scene, ground):
    road = travel(on(fair_scene, ground, ink(INKS[0], 0.05, ground), Ink(cloth(ground))), (1600, 1200))
    assert off(road, ground) < 1.5


@pytest.mark.parametrize("ground", CLOTHS)
def test_one_smeared_window_is_enough(travel, fair_scene, ground):
    road = travel(on(fair_scene, ground, ink(INKS[0], 0.05, ground), smeared(ground, 1)), (1600, 1200))
    assert off(road, ground) < 1.5


@pytest.mark.parametrize("ground", CLOTHS)
def test_full_windows_show_none_however_the_table_looks(travel, fair_scene, ground):
    full = on(fair_scene, ground, ink(INKS[0], 0.05, ground), ink(INKS[1], 0.05, ground))
    for around in (ground, "pink", "black"):
        assert cloth_of(travel(replace(full, cloth=cloth(around)), (1600, 1200))) is None


def test_what_lies_round_the_card_is_not_taken_for_it(travel, fair_scene):
    # Strips on a piece of white cotton that ends below the card; all around lies a grey table.
    piece = on(fair_scene, "white", smeared("white", 0), smeared("white", 1), cloth_rect=(-5, -5, 190, 145))
    road = travel(replace(piece, table=cloth("grey")), (1600, 1200))
    assert off(road, "white") < 1.5


def test_lint_and_a_smear_do_not_move_it(travel, fair_scene):
    plain = on(fair_scene, "natural", smeared("natural", 0), smeared("natural", 1))
    dirty = replace(
        plain, covers=(Cover((30, 42, 18, 0.5), np.full(81, 0.03)), Cover((28, 84, 2.5, 2.5), np.full(81, 0.1), True))
    )
    before, after = (cloth_of(travel(scene, (1600, 1200))) for scene in (plain, dirty))
    assert difference(before.lab, after.lab) < 0.3


@pytest.mark.parametrize("size", [(1200, 900), (1600, 1200), (2400, 1800)], ids=str)
def test_small_photos_show_it_as_well(travel, plain_scene, size):
    road = travel(on(plain_scene, "natural", smeared("natural", 0), smeared("natural", 1)), size)
    assert off(road, "natural") < 1.5


def test_its_own_noise_is_told(travel, fair_scene):
    found = cloth_of(travel(on(fair_scene, "white", smeared("white", 0), smeared("white", 1)), (1600, 1200)))
    values = np.linalg.eigvalsh(np.array(found.strip.covariance))
    assert (values >= -1e-12).all()
    assert 0.2 < found.radius < 4
    assert found.name == "cloth"


def test_a_measurement_carries_it_and_does_not_count_it_as_a_strip(fair_scene, values_path, tmp_path):
    scene = on(fair_scene, "pink", smeared("pink", 0), smeared("pink", 1))
    path = write_jpeg(render(scene, (1600, 1200)), tmp_path / "smeared.jpg")
    found = measure(str(path), str(values_path))
    assert [colour.name for colour in found.colours] == ["left", "right"]
    assert difference(np.array(found.cloth.lab), reflectance_lab(cloth("pink"))) < 1.5
    # Its reflectance is the likeliest of many: it must at least look as the cloth does.
    assert difference(reflectance_lab(np.array(found.cloth.reflectance)), reflectance_lab(cloth("pink"))) < 1.5
