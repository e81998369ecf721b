"""The light on the card and the phone's tone curve are found together; light that cannot be undone is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.cards.design import designs
from swatchcam.cards.values import load_values
from swatchcam.errors import LightError
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import flatten
from swatchcam.illumination.light_field import ALIKE_CELLS
from swatchcam.illumination.solve import solve_light
from tests.codes import codes
from tests.worlds.printers import write_values
from tests.worlds.scene import Cover, Glare, Shadow, light_field, render
from tests.worlds.spectra import BUILD_BAD_LIGHTS

SIZE = (1200, 900)
GREYS = {patch.name: patch for patch in designs()["a5"].greys}
EVERYWHERE = np.stack(np.meshgrid(np.linspace(10, 200, 20), np.linspace(11, 122, 12)), axis=-1)  # mm, in the frame


def linear(code):
    """IEC 61966-2-1."""
    return code / 12.92 if code <= 0.04045 else ((code + 0.055) / 1.055) ** 2.4


@pytest.fixture(scope="module")
def neutral(printed):
    """A print whose greys reflect the stock's own spectrum, only less: what the camera must see of them is known."""
    greys = {name: max(0.03, 0.95 * linear(patch.srgb[1] / 255)) for name, patch in GREYS.items()}
    return replace(printed, reflectance=printed.reflectance | {n: g * printed.paper for n, g in greys.items()})


@pytest.fixture(scope="module")
def look_at(plain_scene, neutral, as_photo, tmp_path_factory):
    """Changes to the scene and to its phone -> the flat card, its light, the scene."""
    path = write_values(tmp_path_factory.mktemp("neutral") / "neutral.csv", "a5", neutral.values(), uncertainty=0.1)
    values = load_values(path)

    def shoot(exposure=0.65, phone=None, **changes):
        developing = replace(plain_scene.phone, exposure=exposure, **(phone or {}))
        scene = replace(plain_scene, card=neutral, phone=developing, **changes)
        photo = as_photo(render(scene, SIZE).pixels)
        card = flatten(photo, find_card(photo))
        return card, solve_light(card, values), scene

    return shoot


def lightness_errors(card, light, neutral):
    """(greys, 3) L* by which each channel of each grey is off, seen against white in the same light."""
    greys = [sample for sample in card.samples if sample.name in GREYS]
    seen = light.tone.apply(np.array([grey.rgb for grey in greys])) / light.field.at(np.array([g.at for g in greys]))
    true = np.array([neutral.reflectance[grey.name][40] / neutral.paper[40] for grey in greys])
    return 116 * (np.cbrt(seen) - np.cbrt(true)[:, None])


def uneven_error(light, scene):
    """Largest relative error of the light's fall over the card."""
    ratio = light.field.at(EVERYWHERE) / light_field(scene, EVERYWHERE)[..., None]
    return np.abs(ratio / ratio.mean(axis=(0, 1)) - 1).max()


# --- what is recovered --------------------------------------------------------------------------------------

CURVES = {
    "none": {},
    "contrast": {"contrast": 0.35},
    "brightened": {"brighten": 0.15},
    "both": {"contrast": 0.35, "brighten": 0.15},
    "far from sRGB": {"contrast": 0.5, "brighten": 0.3},
    "both, and flare": {"contrast": 0.35, "brighten": 0.15, "flare": 0.01},
    "black raised": {"contrast": 0.2, "brighten": 0.1, "lift": 0.01},
}


@pytest.mark.parametrize("curve", CURVES)
def test_any_tone_curve_comes_off_and_greys_have_their_own_lightness_again(look_at, neutral, curve):
    card, light, scene = look_at(phone=CURVES[curve], slope=0.25, slope_angle=20)
    off = lightness_errors(card, light, neutral)
    # One code is 0.4 L*, in the blacks up to 0.6: without noise to smooth them, nobody knows better.
    assert np.abs(off).max() < 0.7
    assert np.sqrt((off**2).mean()) < 0.2
    assert uneven_error(light, scene) < 0.01
    assert light.flags == ()


def test_without_the_curve_the_greys_would_be_far_off(look_at, neutral):
    card, light, _ = look_at(phone=CURVES["both"])
    bare = replace(light, tone=replace(light.tone, terms=(0.0,) * len(light.tone.terms), flare=0.0))
    assert np.abs(lightness_errors(card, bare, neutral)).max() > 3


FALLS = {
    "even": {},
    "to the left": {"slope": 0.25, "slope_angle": 180},
    "aslant": {"slope": 0.2, "slope_angle": -60},
    "with dark corners": {"slope": 0.15, "slope_angle": 100, "bow": 0.05},
    "steep": {"slope": 0.6, "slope_angle": 10},
}


@pytest.mark.parametrize("fall", FALLS)
def test_the_fall_of_light_is_known_to_one_percent(look_at, fall):
    _, light, scene = look_at(exposure=0.6, **(FALLS[fall] | ({} if FALLS[fall] else {"slope": 1e-9})))
    assert uneven_error(light, scene) < 0.01
    true = light_field(scene, EVERYWHERE)
    assert light.fall == pytest.approx(true.max() / true.min(), rel=0.05)
    assert light.flags == ()


def test_the_stated_uncertainty_of_the_light_covers_its_error_and_grows_beyond_the_card(look_at):
    _, light, scene = look_at(phone={"electrons": 4000}, slope=0.2, bow=0.04)
    ratio = light.field.at(EVERYWHERE) / light_field(scene, EVERYWHERE)[..., None]
    off, stated = np.abs(ratio / ratio.mean(axis=(0, 1)) - 1), light.field.relative_std(EVERYWHERE)[..., None]
    # The budget adds a floor of 0.15 % for what the white cells cannot show.
    assert (off < 2 * np.hypot(stated, 0.0015)).mean() > 0.99
    # More is stated than there is: cells of real paper err together, those of this one do not. Few numbers are free,
    # so that its error scattered by an eighth over six photos: four of that.
    assert np.sqrt(np.mean((off / stated) ** 2)) == pytest.approx(1 / np.sqrt(ALIKE_CELLS), rel=0.5)
    inside, outside = np.array([105.0, 66.0]), np.array([105.0, 210.0])
    assert light.wide.relative_std(outside) > 2 * light.wide.relative_std(inside)
    assert light.wide.order <= 2


def test_dirt_on_the_white_is_passed_over(look_at):
    spots = ((20, 33), (94, 60), (188, 60), (50, 36.5), (140, 94), (23, 70))
    dirt = tuple(Cover((x, y, 2.0, 2.0), np.full(81, 0.2), True) for x, y in spots)
    _, light, scene = look_at(slope=0.12, covers=dirt)
    assert uneven_error(light, scene) < 0.01
    assert light.flags == ()


def test_a_stained_grey_does_not_bend_the_curve(look_at, neutral):
    box = GREYS["R3"].box
    stain = Cover((box.x - 1, box.y - 1, box.w + 2, box.h + 2), np.full(81, 0.1))
    card, light, _ = look_at(phone=CURVES["both"], slope=0.1, covers=(stain,))
    off = lightness_errors(card, light, neutral)
    clean = [name != "R3" for name in GREYS]
    assert np.abs(off[~np.array(clean)]).max() > 20
    assert np.abs(off[clean]).max() < 0.6


def test_same_card_same_light(look_at, values):
    card, light, _ = look_at(slope=0.1)
    before = card.white_rgb.copy()
    one, two = solve_light(card, values), solve_light(card, values)
    assert one.tone == two.tone
    assert np.array_equal(one.field.coefficients, two.field.coefficients)
    assert np.array_equal(card.white_rgb, before)
    for array in (light.field.coefficients, light.field.covariance):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_the_table_is_the_curve_for_every_code(look_at):
    card, light, _ = look_at(phone=CURVES["both"])
    assert_allclose(light.tone.table(card.decode), light.tone.apply(card.decode), rtol=1e-6)
    assert (np.diff(light.tone.table(card.decode)[20:], axis=0) > 0).all()


# --- flags and refusals -------------------------------------------------------------------------------------


def test_local_tone_mapping_is_flagged(look_at):
    _, light, _ = look_at(phone={"local": 0.4})
    assert "light-uneven" in codes(light.flags)


@pytest.mark.parametrize("strength", [0.15, 0.2, 0.3])
def test_weak_local_tone_mapping_is_told_by_what_surrounds_the_white(look_at, strength):
    _, light, _ = look_at(phone={"local": strength, "electrons": 8000}, slope=0.15)
    assert "parts-brightened" in codes(light.flags)


@pytest.mark.parametrize("vignetting", [0.0, 0.3])
@pytest.mark.parametrize("flare", [0.0, 0.02])
def test_a_lens_is_not_taken_for_local_tone_mapping(look_at, vignetting, flare):
    _, light, _ = look_at(phone={"vignetting": vignetting, "flare": flare, "electrons": 8000}, slope=0.15, bow=0.05)
    assert "parts-brightened" not in codes(light.flags)


@pytest.mark.parametrize(("blue", "flagged"), [(-0.1, False), (-0.35, True)])
def test_a_white_left_yellow_is_flagged(look_at, blue, flagged):
    _, light, _ = look_at(phone={"white_error": (0.05, blue)})
    assert ("light-warm" in codes(light.flags)) is flagged


def test_strong_local_tone_mapping_is_refused(look_at):
    with pytest.raises(LightError, match="where the light should change smoothly"):
        look_at(phone={"local": 0.9})


SHADOWS = {
    "through the middle": Shadow((105, 70), 30, 0.25, 3),
    "soft": Shadow((105, 70), 0, 0.3, 20),
    "deep, over one window": Shadow((80, 70), 30, 0.7, 3),
}


@pytest.mark.parametrize("shadow", SHADOWS)
def test_the_edge_of_a_shadow_is_refused(look_at, shadow):
    with pytest.raises(LightError, match="shadow edge") as refusal:
        look_at(shadow=SHADOWS[shadow])
    assert refusal.value.remedy == "even-the-light"


def test_a_faint_shadow_is_flagged(look_at):
    _, light, _ = look_at(shadow=Shadow((105, 70), 30, 0.08, 3))
    assert "light-uneven" in codes(light.flags)


def test_glare_over_much_of_the_card_is_refused(look_at):
    with pytest.raises(LightError):
        look_at(exposure=0.5, glare=Glare((105, 60), 25, 0.5))


def test_light_that_falls_off_too_steeply_is_refused(look_at):
    with pytest.raises(LightError, match=r"too uneven \(one side is 3\.\d times as bright") as refusal:
        look_at(exposure=0.4, slope=1.4)
    assert (refusal.value.code, refusal.value.remedy) == ("light-too-steep", "move-the-lamp-away")


def test_two_kinds_of_light_are_flagged(look_at):
    _, light, _ = look_at(exposure=0.5, other_light=BUILD_BAD_LIGHTS["warm bulb"], other_share=(0.0, 0.25))
    assert "light-mixed" in codes(light.flags)
    assert light.colour_change > 0.06


def test_too_few_greys_are_refused(look_at):
    kept = {187, 152, 62}
    hidden = [patch.box for patch in GREYS.values() if patch.srgb[0] not in kept]
    halves = [((box.x, 0.9), (box.x + box.w / 2, 0.02)) for box in hidden]
    covers = tuple(
        Cover((x, box.y, box.w / 2, box.h), np.full(81, level))
        for box, pair in zip(hidden, halves, strict=True)
        for x, level in pair
    )
    with pytest.raises(LightError, match=r"Only \d of the card's grey steps"):
        look_at(covers=covers)


def test_prints_of_one_grey_that_disagree_are_refused(look_at, neutral):
    # What a phone does that brightens one end of the picture, but not the white, which is as bright as can be.
    right = [(patch.box, neutral.reflectance[name]) for name, patch in GREYS.items() if name[0] == "R"]
    covers = tuple(Cover((box.x, box.y, box.w, box.h), 2.0 * seen) for box, seen in right if seen[40] < 0.6)
    with pytest.raises(LightError, match="same grey differs by") as refusal:
        look_at(covers=covers)
    assert refusal.value.remedy == "turn-off-brightening"


def test_greys_that_disagree_a_little_are_flagged(look_at, neutral):
    right = [(patch.box, neutral.reflectance[name]) for name, patch in GREYS.items() if name[0] == "R"]
    covers = tuple(Cover((box.x, box.y, box.w, box.h), 1.08 * seen) for box, seen in right if seen[40] < 0.6)
    _, light, _ = look_at(covers=covers)
    assert "greys-differ" in codes(light.flags)
