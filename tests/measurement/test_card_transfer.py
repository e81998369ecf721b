"""A fresh print's values are learned from photos that show it beside a measured card."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.testing import assert_allclose

from swatchcam.cards.design import designs
from swatchcam.cards.values import load_values
from swatchcam.cards.values_file import with_numbers
from swatchcam.cli import main
from swatchcam.errors import CardError, FindError, LightError, SwatchcamError, UsageError
from swatchcam.measurement import card_transfer
from swatchcam.measurement.card_transfer import learn_card, learned_colours, read_pair
from swatchcam.measurement.card_transfer_fit import ALIKE_CELLS, stock_step
from swatchcam.messages.surface import TERMINAL
from tests.worlds.lens import Pose
from tests.worlds.lighting import Shadow
from tests.worlds.printers import print_card, write_values
from tests.worlds.random_scenes import WORLDS, random_scene
from tests.worlds.scene import Cover, render, write_jpeg
from tests.worlds.spectra import difference

SIZE = (1600, 1200)
KNOWN, FRESH = "04821093", "00000777"  # numbers of the two prints
SMALL = (1120, 840)  # enough to see why a photo is refused
LIE = Pose(rotation=90, tilt_x=6, tilt_y=-5, fraction=0.72, offset=(0.2, 0))  # the measured card on the right


pytestmark = pytest.mark.usefixtures("own_folder")


def pair_scene(seed, design="a5"):
    """A fair scene of the build split: a card, and a fresh print of the same printer below it."""
    rng = np.random.default_rng([31, seed])
    scene, printer = random_scene(rng), str(rng.choice(WORLDS["build"].printers))
    card = print_card(designs()["a5"], printer, int(rng.integers(1000)), 0.01)
    fresh = print_card(designs()[design], printer, int(rng.integers(1000)), 0.02)
    lie = replace(LIE, rotation=90 + rng.normal(0, 2), tilt_x=rng.uniform(-12, 12), tilt_y=rng.uniform(-12, 12))
    phone = replace(scene.phone, exposure=0.8 * scene.phone.exposure)  # the light grows brighter beyond the card
    return replace(scene, card=card, second_card=(0.0, 156.0), second_print=fresh, pose=lie, phone=phone)


def take(scene, folder, name="pair.jpg", size=SIZE):
    return str(write_jpeg(render(scene, size), folder / name))


def measured(scene, folder, spectra=True, grade="measured"):
    read = scene.card.read_spectra(np.random.default_rng(1)) if spectra else None
    return str(write_values(folder / "halm-1.csv", "a5", scene.card.values(0.3, seed=1), read, grade))


def errors(lab, scene):
    """CIEDE2000 of every learned value from the true print."""
    true = scene.second_print.true_lab()
    return np.array([difference(np.array(lab[name]), true[name]) for name in true])


@pytest.fixture(scope="module")
def shown(tmp_path_factory, no_cards_of_ones_own):
    """A plain scene of two prints, its photo, the measured card's values."""
    folder, scene = tmp_path_factory.mktemp("pair"), pair_scene(1)
    scene = replace(
        scene, second_print=replace(scene.second_print, number=FRESH), card=replace(scene.card, number=KNOWN)
    )
    return scene, take(scene, folder), measured(scene, folder)


# --- how well -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("design", ["a5", "a6"])
def test_values_are_nearer_to_the_print_than_the_measured_card_s_and_as_sure_as_they_say(tmp_path, design):
    off, copied, stated, inside = [], [], [], []
    for seed in range(4):
        scene = pair_scene(seed, design)
        values = load_values(measured(scene, tmp_path))
        pair = read_pair(take(scene, tmp_path), values, "right")
        colours = learned_colours([[pair], []], values)
        error = errors({name: colour.lab for name, colour in colours.items()}, scene)
        radius = np.array([colours[name].radius for name in scene.second_print.spectra])
        off.append(error)
        copied.append(errors(values.lab, scene))
        inside.append(error < radius)
        stated.append([card_transfer.standard_uncertainty(colour) ** 2 for colour in colours.values()])
    assert np.mean(off) < 0.65
    assert np.mean(off) < 0.75 * np.mean(copied)
    assert np.mean(inside) > 0.93
    assert np.sqrt(np.mean(np.square(off))) < 1.1 * np.sqrt(np.mean(stated))


def test_a_second_light_makes_the_values_surer_and_no_worse(tmp_path):
    scene = pair_scene(2)
    values = load_values(measured(scene, tmp_path))
    other = replace(scene, light=WORLDS["build"].fair_lights["cool LED a"], other_light=None, shot=9, slope_angle=10)
    pairs = [read_pair(take(each, tmp_path, name), values, "right") for each, name in ((scene, "1"), (other, "2"))]
    one, both = (learned_colours(lights, values) for lights in ([pairs[:1], []], [pairs[:1], pairs[1:]]))
    sure = [np.mean([card_transfer.standard_uncertainty(colour) for colour in each.values()]) for each in (one, both)]
    off = [errors({name: colour.lab for name, colour in each.items()}, scene).mean() for each in (one, both)]
    assert sure[1] < sure[0]
    assert off[1] < off[0] + 0.05


def test_a_measured_card_without_spectra_teaches_too(tmp_path):
    scene = pair_scene(0)
    values = load_values(measured(scene, tmp_path, spectra=False))
    colours = learned_colours([[read_pair(take(scene, tmp_path), values, "right")], []], values)
    assert errors({name: colour.lab for name, colour in colours.items()}, scene).mean() < 0.7


def test_the_stock_s_step_is_told_from_the_fall_of_one_light():
    x, y = np.meshgrid(np.linspace(0, 200, 30), np.linspace(0, 300, 40))
    at = np.stack([x.ravel(), y.ravel()], axis=-1)
    fall = 0.2 * (at[:, 0] / 200) ** 2 - 0.3 * (at[:, 1] / 300) ** 3
    log = fall[:, None] + 0.05 * at[:, [1]] / 300 * (1, 0, -1)  # its colour changes too
    is_fresh, true = at[:, 1] > 150, np.array([-0.02, -0.03, -0.06])
    log, rng, draws = log + is_fresh[:, None] * true, np.random.default_rng(0), 100
    seen = [log + rng.normal(0, 0.004, log.shape) for _ in range(draws)]
    found = [stock_step((at[~is_fresh], each[~is_fresh]), (at[is_fresh], each[is_fresh])) for each in seen]
    steps, stds, roughs = map(np.array, zip(*found, strict=True))
    # Stated is more than there is, for cells of real paper err together: so many as one. Of each within four standard
    # errors: of a mean and of a spread of so many draws, and of the rms of so many cells.
    alone = stds.mean() / np.sqrt(ALIKE_CELLS)
    assert_allclose(steps.mean(axis=0), true, rtol=0, atol=4 * alone / np.sqrt(draws))
    assert_allclose(steps.std(axis=0), alone, rtol=4 / np.sqrt(2 * draws))
    assert_allclose(roughs, 0.004, rtol=4 / np.sqrt(2 * len(at)))


# --- the file and the command -------------------------------------------------------------------------------


def test_the_command_writes_values_that_say_where_they_come_from(shown, own_folder):
    _, photo, card = shown
    words = ["card", "learn", "halm-2", photo, "--card", card, "--measured-side", "right", "--json"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0
    told, values = json.loads(done.stdout), load_values("halm-2")
    assert told["grade"] == values.grade == "transferred"
    assert values.source == "learned from pair.jpg beside card halm-1"
    assert values.numbers == (FRESH,)
    assert set(values.spectra) == set(values.lab)
    assert told["uncertainty"]["value"] == values.uncertainty > load_values(card).uncertainty
    again = CliRunner().invoke(main, words)
    assert again.exit_code == 3
    assert "there is already a card called 'halm-2'" in again.stdout
    assert CliRunner().invoke(main, [*words, "--replace"]).exit_code == 0
    assert len(list((own_folder / "replaced").iterdir())) == 1


# --- refusals -----------------------------------------------------------------------------------------------


def test_which_card_is_measured_must_be_said_where_both_are_of_one_design(shown):
    _, photo, card = shown
    with pytest.raises(UsageError, match="Both cards") as refusal:
        learn_card("halm-2", [photo], card)
    assert "--measured-side left" in TERMINAL.remedy(refusal.value)
    with pytest.raises(UsageError, match="lie side by side") as refusal:
        learn_card("halm-2", [photo], card, measured="top")
    assert "left or right" in TERMINAL.remedy(refusal.value)


def test_values_of_another_design_are_refused(shown, tmp_path):
    scene, photo, _ = shown
    other = write_values(tmp_path / "halm-6.csv", "a6", scene.card.true_lab())
    with pytest.raises(CardError, match="is of design 'a5', but the values 'halm-6' are for design 'a6'"):
        learn_card("halm-2", [photo], str(other), measured="right")


def test_a_card_with_a_number_need_not_be_pointed_at(shown, own_folder):
    scene, photo, card = shown
    own_folder.mkdir()
    text = with_numbers(Path(card).read_text(encoding="utf-8"), [KNOWN])
    (own_folder / "ours.csv").write_text(text, encoding="utf-8")
    learned = learn_card("halm-2", [photo], "ours")
    assert learned.numbers == (FRESH,)
    assert errors(learned.lab, scene).mean() < 1.5


def test_photos_of_two_fresh_prints_are_not_mixed(shown):
    pair = read_pair(shown[1], load_values(shown[2]), "right")
    unseen, other = (
        replace(pair, number=number, photo=replace(pair.photo, digest=str(number))) for number in (None, "00000001")
    )
    with pytest.raises(UsageError, match="don't show the same fresh print"):
        learned_colours([[unseen, pair, other], []], load_values(shown[2]))


def test_values_of_another_print_teach_nothing_and_a_print_has_values_once(shown, own_folder):
    _, photo, card = shown
    own_folder.mkdir()
    for name, number in (("mine", FRESH), ("theirs", KNOWN)):
        text = with_numbers(Path(card).read_text(encoding="utf-8"), [number])
        (own_folder / f"{name}.csv").write_text(text, encoding="utf-8")
    with pytest.raises(CardError, match="is print 0482 1093, but the values 'mine' belong to print 0000 0777"):
        learn_card("halm-2", [photo], "mine", measured="right")
    with pytest.raises(CardError, match="print 0000 0777 already has the values 'mine'"):
        learn_card("halm-2", [photo], "theirs", measured="right")


def test_a_card_that_was_never_measured_teaches_nothing(shown, tmp_path):
    scene, photo, _ = shown
    with pytest.raises(CardError, match="never measured"):
        learn_card("halm-2", [photo], measured(scene, tmp_path, grade="nominal"), measured="right")


def test_a_name_that_no_file_can_have_is_refused(shown):
    with pytest.raises(CardError, match="can't be the name of a card"):
        learn_card("../halm", [shown[1]], shown[2], measured="right")


def test_the_same_photo_twice_is_refused(shown):
    with pytest.raises(UsageError, match="is the same photo as"):
        learn_card("halm-2", [shown[1]], shown[2], other_light=[shown[1]], measured="right")


SPOILT = {
    "one card": ({"second_card": None}, FindError, "shows 1 card, not"),
    "overlapping": ({"second_card": (0.0, 144.0)}, FindError, "overlap"),
    "cut off": ({"pose": replace(LIE, offset=(0.06, 0))}, FindError, "partly outside the picture"),
    "shadow between": ({"shadow": Shadow((0, 152), 90, 0.25, 3.0)}, LightError, "a shadow between the cards"),
    "shadow on it": (
        {"shadow": Shadow((0, 230), 90, 0.25, 3.0)},
        LightError,
        "The light changes abruptly between the measured card and the fresh one",
    ),
    "patch covered": ({"covers": "A1"}, CardError, "Patch A1 of the fresh print"),
}


@pytest.mark.parametrize("why", SPOILT)
def test_what_cannot_be_learned_from_is_refused_for_its_reason(shown, tmp_path, own_folder, why):
    scene, _, card = shown
    changes, kind, words = SPOILT[why]
    if "covers" in changes:
        box = next(patch.box for patch in scene.card.design.patches if patch.name == "A1")
        half = (box.x + box.w / 2, box.y + 156.0, box.w / 2, box.h)
        changes = {"covers": (Cover(half, np.full(81, 0.03)),)}
    with pytest.raises(kind) as refusal:
        learn_card("halm-2", [take(replace(scene, **changes), tmp_path, size=SMALL)], card, measured="right")
    assert words in TERMINAL.problem(refusal.value)
    assert not own_folder.exists()


def test_values_too_uncertain_to_be_of_use_are_refused(shown, monkeypatch, own_folder):
    monkeypatch.setattr(card_transfer, "MAX_UNCERTAINTY", 0.2)
    with pytest.raises(SwatchcamError, match=r"more than 0\.2 is no use") as refusal:
        learn_card("halm-2", [shown[1]], shown[2], measured="right")
    assert "--other-light" in TERMINAL.remedy(refusal.value)
    assert not own_folder.exists()
