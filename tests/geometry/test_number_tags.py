"""A print's number is read as it was printed, or not at all; a print without one has none."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from swatchcam.cards import print_register
from swatchcam.cards.design import designs
from swatchcam.cards.print_number import tag_ids
from swatchcam.geometry.number_tags import number_flags, read_number, read_tags
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import _white_points
from swatchcam.geometry.several_cards import find_cards
from swatchcam.measurement.single_photo import take_look
from swatchcam.messages.message import flag
from swatchcam.messages.surface import TERMINAL
from swatchcam.resources import calibration_folder
from tests.worlds.lens import Pose
from tests.worlds.phone import Phone
from tests.worlds.printers import print_card
from tests.worlds.scene import Cover, Glare, render, write_jpeg
from tests.worlds.spectra import BUILD_CAMERAS, illuminant

NUMBER = "04821093"
SMALL, USUAL = (1000, 750), (1400, 1050)
NOISY = Phone(blur=0.7, exposure=0.75, vignetting=0.1, electrons=8000, read_noise=0.001)
INK, SKIN = np.full(81, 0.06), np.full(81, 0.3)
BOXES = designs()["a5"].number_boxes


@pytest.fixture(scope="module")
def take(plain_scene, printed, as_photo):
    """Changes to a plain but noisy scene -> the photo; its print bears NUMBER."""

    def shoot(size=SMALL, number=NUMBER, card=printed, **changes):
        scene = replace(plain_scene, card=replace(card, number=number), **{"phone": NOISY, "weave": 0.06} | changes)
        return as_photo(render(scene, size).pixels)

    return shoot


def over(first, last, reflectance=SKIN):
    """Something laid over some of the three tags, from one to another."""
    left, right = BOXES[first], BOXES[last]
    return (Cover((left.x - 1, left.y - 1, right.x + right.w - left.x + 2, left.h + 2), reflectance),)


TAKEN = {
    "1000 px": (SMALL, {}),
    "upside down": (SMALL, {"pose": Pose(rotation=180, fraction=0.92)}),
    "turned and tilted": (USUAL, {"pose": Pose(rotation=70, tilt_x=-21, tilt_y=21, fraction=0.9)}),
    "far away": (USUAL, {"pose": Pose(fraction=0.55, offset=(0.2, -0.15))}),
    "a lens that bends": (SMALL, {"pose": Pose(tilt_x=10, fraction=0.9, k1=-0.06)}),
    "a card that curls": (SMALL, {"pose": Pose(fraction=0.9, curl=8.0)}),
    "under a bulb, dim": (SMALL, {"light": illuminant("A"), "phone": replace(NOISY, exposure=0.3)}),
    "light from one side": (SMALL, {"slope": 0.5, "slope_angle": 200, "camera": BUILD_CAMERAS[2]}),
    "a flattering phone": (SMALL, {"phone": replace(NOISY, contrast=0.5, lift=0.05, sharpen=1.0, local=0.5)}),
    "slightly blurred": (SMALL, {"phone": replace(NOISY, blur=1.3)}),
}


@pytest.mark.parametrize("case", TAKEN)
def test_the_number_is_read(take, case):
    size, changes = TAKEN[case]
    photo = take(size, **changes)
    assert read_number(photo, find_card(photo)) == NUMBER


@pytest.mark.parametrize("name", ["a4", "a6"])
def test_the_number_is_read_on_every_size_of_card(take, name):
    photo = take(card=print_card(designs()[name], "laser"), number="16777215")
    assert read_number(photo, find_card(photo)) == "16777215"


def test_a_print_from_before_numbers_has_none_whatever_is_written_there(take):
    # Strokes of a felt pen 0.8 mm wide: "12.3.26", as some write the date.
    strokes = [(x, y, 0.8, 6.5) for x, y in ((172, 130), (176, 130), (182.5, 130), (187, 130), (193, 130), (198, 130))]
    strokes += [(x, y, 4.5, 0.8) for x, y in ((174, 131), (181, 134), (191, 132), (195, 136))]
    for covers in ((), tuple(Cover(stroke, INK) for stroke in strokes)):
        photo = take(number=None, covers=covers)
        assert read_tags(photo, find_card(photo)) == ()


def test_a_design_without_places_for_a_number_has_none(take, printed):
    photo = take(card=replace(printed, design=replace(printed.design, number_boxes=())), number=None)
    pose = find_card(photo)
    assert read_tags(photo, replace(pose, design=replace(pose.design, number_boxes=()))) == ()


@pytest.mark.parametrize(
    ("changes", "hidden"),
    [
        ({"covers": over(0, 0)}, {0}),
        ({"covers": over(1, 2)}, {1, 2}),
        ({"covers": over(0, 2)}, {0, 1, 2}),
        ({"glare": Glare(BOXES[2].centre, 3.0, 2.0)}, {2}),
    ],
)
def test_a_tag_under_a_thumb_or_in_glare_is_told_and_never_guessed(take, changes, hidden):
    photo = take(**changes)
    tags = read_tags(photo, find_card(photo))
    assert tags == tuple(None if place in hidden else tag for place, tag in enumerate(tag_ids(NUMBER)))
    assert read_number(photo, find_card(photo)) is None
    assert [each.code for each in number_flags(tags, [])] == ["number-unread"]


def test_a_single_hidden_tag_leaves_a_hint_at_the_known_print_that_fits():
    tags = (*tag_ids(NUMBER)[:2], None)
    other = "00000007"
    assert number_flags(tags, [other, NUMBER]) == (flag("number-unread", like=["0482 1093"]),)
    assert "It looks like 0482 1093." in TERMINAL.flag(number_flags(tags, [NUMBER])[0])
    assert number_flags((tags[0], None, None), [NUMBER]) == (flag("number-unread", like=[]),)
    assert "looks like" not in TERMINAL.flag(number_flags(tags, [other])[0])
    assert number_flags(tag_ids(NUMBER), [NUMBER]) == number_flags((), [NUMBER]) == ()


def test_each_of_two_cards_in_one_photo_has_its_own_number(take):
    other = replace(print_card(designs()["a5"], "laser"), number="12345678")
    lie = Pose(fraction=0.4, offset=(0, -0.2))
    photo = take((1600, 1200), second_card=(0.0, 155.0), second_print=other, pose=lie)
    found = {read_number(photo, pose) for pose in find_cards(photo)}
    assert found == {NUMBER, "12345678"}


def test_a_users_design_with_such_tags_is_not_seen_in_the_number_of_another_card(take, own_folder):
    own_folder.mkdir()
    mine = (calibration_folder() / "a5.toml").read_text(encoding="utf-8").replace('"a5"', '"mine"')
    mine = re.sub(r"(?s)\[\[size\]\].*?(?=\[scale\])|\[\[number\]\].*?(?=\[\[tag\]\])", "", mine)
    first = tag_ids(NUMBER)[0]
    mine = re.sub(r"(?m)^id = (\d+)$", lambda match: f"id = {int(match[1]) + first}", mine)
    (own_folder / "mine.toml").write_text(mine, encoding="utf-8")
    designs.cache_clear()
    photo = take()
    assert find_card(photo).design.name == "a5"
    assert [pose.design.name for pose in find_cards(photo)] == ["a5"]
    photo = take(card=print_card(designs()["mine"], "laser"), number=None)
    assert find_card(photo).design.name == "mine"


def test_the_bare_white_is_read_where_no_number_can_be():
    for design in designs().values():
        x, y = np.moveaxis(_white_points(design), -1, 0)
        assert not any(
            ((x > box.x) & (x < box.x + box.w) & (y > box.y) & (y < box.y + box.h)).any() for box in design.number_boxes
        )


def test_a_look_has_the_number_or_says_why_not(take, plain_scene, printed, values_path, own_folder, tmp_path):
    scene = replace(plain_scene, card=replace(printed, number=NUMBER), phone=NOISY)
    read, hidden = (
        take_look(str(write_jpeg(render(each, SMALL), tmp_path / f"{name}.jpg")), str(values_path))
        for name, each in (("read", scene), ("hidden", replace(scene, covers=over(2, 2))))
    )
    assert read.number == NUMBER
    assert not [each for each in read.flags if each.code == "number-unread"]
    assert hidden.number is None
    assert flag("number-unread", like=[]) in hidden.flags


def test_the_print_that_a_half_hidden_number_may_be_is_looked_for_among_those_printed_here(own_folder):
    (own_folder / print_register.FOLDER).mkdir(parents=True)
    (own_folder / print_register.FOLDER / NUMBER).touch()
    tags = (None, *tag_ids(NUMBER)[1:])
    assert number_flags(tags, print_register.printed_numbers()) == (flag("number-unread", like=["0482 1093"]),)
