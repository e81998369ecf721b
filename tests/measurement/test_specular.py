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


# In the grey ink a reflection of 0.03 makes the same waves as a dry film uneven by 8 %: 0.012 of white, rms.
@pytest.mark.parametrize(("name", "strength"), [("red", 0.03), ("green", 0.03), ("grey", 0.05), ("ochre", 0.03)])
def test_a_reflection_inside_a_window_is_flagged_and_counts_in_the_interval(look, name, strength):
    bare = look(ink(INKS[name], uneven=0.04))
    found = look(ink(INKS[name], uneven=0.04), glare=Glare(MIDDLE, 12.0, strength))
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
@pytest.mark.parametrize("uneven", [0.0, 0.08, 0.15])
def test_a_dry_film_is_not_flagged_however_uneven_people_lay_it(look, name, uneven):
    assert not shines(look(ink(INKS[name], uneven=uneven)).strips["left"])


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("load", [0.12, 0.2, 0.3])
def test_a_grey_film_whose_every_channel_moves_alike_is_uneven_and_not_wet(look, load, seed):
    strip = look(ink({"black": load}, uneven=0.15), seed=seed).strips["left"]
    assert not shines(strip)
    assert strip.uneven > 0.9


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


def film(mean, spread):
    """Blocks of a film without scatter: R = exp(-film), the film uneven from block to block by `spread`."""
    thickness = 1 + np.random.default_rng(7).normal(0, spread, (len(PLACES), 1))
    return np.array(mean) ** thickness


WAVE = 0.04 * (BUMP - BUMP.mean())[:, None]


@pytest.mark.parametrize("mean", [(0.4, 0.2, 0.1), (0.8, 0.75, 0.5), (0.3, 0.35, 0.15)])
def test_a_wave_tells_where_a_film_would_move_the_channels_otherwise(mean):
    assert mirrored_light(PLACES, film(mean, 0.04) + WAVE) > 0
    assert mirrored_light(PLACES, film(mean, 0.04)) == 0.0


def test_in_a_grey_ink_a_wave_must_be_larger_than_the_unevenness():
    grey = film((0.3, 0.3, 0.3), 0.04)
    assert mirrored_light(PLACES, grey + WAVE) == 0.0
    assert mirrored_light(PLACES, grey + 4 * WAVE) > 0


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
