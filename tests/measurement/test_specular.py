"""Light mirrored in the ink is told from ink that is laid unevenly: it is white, and spread softly."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from swatchcam.errors import StripError
from swatchcam.measurement.specular import mirrored_light
from swatchcam.messages.surface import TERMINAL
from tests.codes import codes
from tests.worlds.scene import Glare, ink
from tests.worlds.spoilers import wetted_ink

INKS = {
    "red": {"red": 1.2, "yellow": 0.4},
    "green": {"green": 0.5},
    "grey": {"black": 0.3},
    "ochre": {"golden": 0.5, "brown": 0.6},
}
MIDDLE = (58.0, 66.0)  # mm, of the left window


@pytest.fixture(scope="module")
def look(travel, plain_scene):
    """What lies in the left window, and changes to the scene -> the road of its photo."""

    def go(content, **changes):
        phone = replace(plain_scene.phone, electrons=8000, read_noise=0.001)
        windows = plain_scene.windows | {"left": content}
        return travel(replace(plain_scene, windows=windows, weave=0.06, phone=phone, **changes))

    return go


def shines(strip):
    return "looks-wet" in codes(strip.flags)


@pytest.mark.parametrize("name", INKS)
def test_a_reflection_inside_a_window_is_flagged_and_counts_in_the_interval(look, name):
    bare = look(ink(INKS[name], uneven=0.04))
    found = look(ink(INKS[name], uneven=0.04), glare=Glare(MIDDLE, 12.0, 0.03))
    assert shines(found.strips["left"])
    assert not shines(found.strips["right"])
    assert found.colour("left").radius > bare.colour("left").radius
    assert found.error("left") < found.colour("left").radius + bare.error("left")


@pytest.mark.parametrize("name", INKS)
def test_a_wet_film_is_flagged(look, name):
    found = look(wetted_ink(ink(INKS[name], uneven=0.04), 0.04))
    assert shines(found.strips["left"])
    assert not shines(found.strips["right"])


@pytest.mark.parametrize("name", INKS)
@pytest.mark.parametrize("uneven", [0.0, 0.08])
def test_a_dry_film_is_not_flagged_however_uneven_people_lay_it(look, name, uneven):
    assert not shines(look(ink(INKS[name], uneven=uneven)).strips["left"])


@pytest.mark.parametrize("strength", [0.2, 0.4])
def test_a_bright_reflection_inside_a_window_is_refused(look, strength):
    with pytest.raises(StripError) as refusal:
        look(ink(INKS["grey"]), glare=Glare(MIDDLE, 12.0, strength))
    assert re.search("mirrored|shines", TERMINAL.remedy(refusal.value))


def test_a_soaking_film_is_refused(look):
    with pytest.raises(StripError, match=r"left window shines: its ink is wet.*about \d+ L\*") as refusal:
        look(wetted_ink(ink(INKS["ochre"]), 0.08))
    assert refusal.value.remedy == "let-it-dry"


# --- the function by itself -----------------------------------------------------------------------------------

PLACES = np.stack(np.meshgrid(np.arange(14.0), np.arange(11.0)), axis=-1).reshape(-1, 2)
BUMP = np.exp(-0.5 * ((PLACES - (7, 5)) ** 2).sum(axis=1) / 3.0**2)
NOISE = np.random.default_rng(3).normal(0, 0.004, (len(PLACES), 1))


def blocks(mean, wave, colour):
    """Blocks of an ink with fine unevenness of its own, and a wave of some colour over them."""
    own = np.array(mean) * (1 + NOISE)
    return own + wave[:, None] * np.array(colour)


def test_the_light_added_is_found_but_for_a_tenth():
    found = mirrored_light(PLACES, blocks((0.4, 0.2, 0.1), 0.06 * BUMP, (1, 1, 1)))
    # Counted from the darkest twentieth, not from darkness: 0.91 of it in 300 draws of the ink's own unevenness, with a
    # standard deviation of 0.009.
    assert found == pytest.approx(0.91 * 0.06 * BUMP.mean(), rel=0.04)


def test_a_faint_wave_tells_in_a_dark_ink_only():
    rough = np.random.default_rng(7).normal(0, 0.016, (len(PLACES), 1))
    wave = 0.036 * (BUMP - BUMP.mean())[:, None]
    assert mirrored_light(PLACES, np.array((0.15, 0.06, 0.07)) + wave + rough) > 0
    assert mirrored_light(PLACES, np.array((0.8, 0.6, 0.7)) + wave + rough) == 0.0


@pytest.mark.parametrize("colour", [(1.0, 0.5, 0.25), (0.1, 0.6, 0.8), (-0.5, 0.2, 0.8)])
def test_a_wave_of_another_colour_is_ink(colour):
    assert mirrored_light(PLACES, blocks((0.4, 0.2, 0.1), 0.06 * BUMP, colour)) == 0.0


def test_a_channel_cut_off_at_zero_is_not_asked():
    means = blocks((0.4, 0.2, 0.0), 0.06 * BUMP, (1, 1, 0))
    assert mirrored_light(PLACES, means) > 0.01


def test_white_noise_and_few_blocks_tell_nothing():
    noisy = np.array((0.4, 0.2, 0.1)) + np.random.default_rng(5).normal(0, 0.02, (len(PLACES), 1))
    assert mirrored_light(PLACES, noisy) == 0.0
    assert mirrored_light(PLACES[:15], blocks((0.4, 0.2, 0.1), 0.5 * BUMP, (1, 1, 1))[:15]) == 0.0
