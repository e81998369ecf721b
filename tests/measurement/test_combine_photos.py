"""Several photos of one scene are worth more than one, if they are of one scene: that is looked at first."""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import pytest

from swatchcam.errors import LightError, SwatchcamError, UsageError
from swatchcam.measurement.combine_photos import _alike, combine
from swatchcam.measurement.measure import measure
from swatchcam.measurement.single_photo import take_look
from swatchcam.messages.message import flag
from swatchcam.messages.surface import TERMINAL
from tests.benchmarks.fair_photos import other_light
from tests.benchmarks.hard_photos import SIZE as SMALL
from tests.benchmarks.hard_photos import closer
from tests.codes import codes, the_one
from tests.worlds.random_scenes import WORLDS, random_scene, reshoot
from tests.worlds.scene import ink, render, write_jpeg
from tests.worlds.spectra import BUILD_FAIR_LIGHTS, difference
from tests.worlds.trial import read_card

SIZE = (1200, 900)
SCENES = 12


@pytest.fixture(scope="module")
def taken(values_path, tmp_path_factory):
    """Scene -> what one photo of it shows, read from its file."""
    folder = tmp_path_factory.mktemp("together")

    def go(scene, name):
        return take_look(str(write_jpeg(render(scene, SIZE), folder / f"{name}.jpg")), str(values_path))

    return go


@pytest.fixture(scope="module")
def noisy(fair_scene):
    return replace(fair_scene, phone=replace(fair_scene.phone, electrons=2000, read_noise=0.004))


@pytest.fixture(scope="module")
def three(taken, noisy):
    """Three photos of one scene under one light."""
    return [taken(replace(noisy, shot=shot), f"shot-{shot}") for shot in range(3)]


@pytest.fixture(scope="module")
def led(taken, noisy):
    """The same scene under another light."""
    return taken(replace(noisy, light=BUILD_FAIR_LIGHTS["cool LED b"], shot=7), "led")


def sizes(colours, part):
    return np.array([np.trace(colour.parts[part]) for colour in colours])


# --- one light -----------------------------------------------------------------------------------------------


def test_photos_under_one_light_average_their_noise_and_nothing_systematic(three):
    one, _ = combine([three[:1]])
    all_three, _ = combine([three])
    # The noise's variance by three; what is systematic is the same in each.
    assert_ratio(all_three, one, "noise", 1 / 3, 0.15)
    for part in ("fit", "eye"):
        assert_ratio(all_three, one, part, 1.0, 0.3)
    assert all(some.radius < single.radius for some, single in zip(all_three, one, strict=True))


def assert_ratio(some, others, part, ratio, margin):
    assert sizes(some, part) / sizes(others, part) == pytest.approx([ratio] * len(some), abs=margin), part


def test_the_order_of_photos_changes_nothing_that_counts(three):
    forth, back = combine([three])[0], combine([three[::-1]])[0]
    for one, other in zip(forth, back, strict=True):
        assert difference(one.lab, other.lab) < 0.05


DISAGREE = {"photos-disagree", "photo-left-out"}


def test_flags_of_several_photos_say_whose_they_are(three):
    odd = flag("light-mixed", change=0.1)
    first = replace(three[0], flags=(odd,))
    assert combine([[first]])[1] == (odd,)
    named = replace(odd, photo=first.photo.path)
    assert named in combine([[first, three[1]]])[1]
    assert TERMINAL.flag(named).startswith(f"{first.photo.path}: the light's colour changes")


# --- photos of other things ---------------------------------------------------------------------------------


def test_the_same_photo_twice_is_refused(three, values_path, tmp_path):
    copy = tmp_path / "copy.jpg"
    shutil.copy(three[0].photo.path, copy)
    for more in ({"again": [str(copy)]}, {"other_light": [str(copy)]}):
        with pytest.raises(UsageError, match=r"copy\.jpg is the same photo as .*shot-0\.jpg") as refusal:
            measure(three[0].photo.path, str(values_path), **more)
        assert refusal.value.remedy == "name-each-photo-once"


def test_another_card_is_refused(three, values_path, tmp_path):
    other = tmp_path / "halm-2.csv"
    shutil.copy(values_path, other)
    stranger = take_look(three[1].photo.path, str(other))
    with pytest.raises(UsageError, match="shows another card than") as refusal:
        combine([[three[0], stranger]])
    assert refusal.value.remedy == "show-the-same-scene"
    one, other = (replace(three[at], number=number) for at, number in ((0, "04821093"), (1, "00000007")))
    with pytest.raises(UsageError, match="shows another card than"):
        combine([[one, other]])
    with pytest.raises(UsageError, match="number can be seen in only one of") as refusal:
        combine([[one, stranger]])
    assert "--card" in TERMINAL.remedy(refusal.value)
    combine([[one, replace(other, number=None)]])


def test_other_strips_are_refused(three):
    more = replace(three[1], strips=(*three[1].strips, replace(three[1].strips[0], name="beside-1")))
    with pytest.raises(UsageError, match="does not show the same strips"):
        combine([three[:1], [more]])


@pytest.fixture(scope="module")
def swapped(taken, noisy):
    """The card moved to other strips between two photos."""
    return taken(replace(noisy, windows=noisy.windows | {"left": ink({"green": 0.5})}, shot=9), "swapped")


def test_the_odd_photo_of_three_is_named_and_left_out(three, swapped):
    colours, flags = combine([[three[0], swapped, three[1]]])
    assert the_one(flags, "photo-left-out").photo == swapped.photo.path
    without, quiet = combine([[three[0], three[1]]])
    assert [colour.lab for colour in colours] == [colour.lab for colour in without]
    assert DISAGREE.isdisjoint(codes(quiet))


@pytest.mark.parametrize("lights", [1, 2])
def test_two_photos_of_unlike_strips_are_refused(three, swapped, lights):
    photos = [[three[0], swapped]] if lights == 1 else [[three[0]], [swapped]]
    with pytest.raises(LightError, match="show different colours in their left strip") as refusal:
        combine(photos)
    assert three[0].photo.path in TERMINAL.problem(refusal.value)
    assert swapped.photo.path in TERMINAL.problem(refusal.value)


def test_two_photos_that_disagree_a_little_are_both_named(three, taken, noisy):
    moved = taken(replace(noisy, windows=noisy.windows | {"left": ink({"red": 1.0, "yellow": 0.4})}, shot=9), "moved")
    _, flags = combine([[three[0], moved]])
    assert the_one(flags, "photos-disagree").facts["photos"] == [three[0].photo.path, moved.photo.path]


def test_photos_that_agree_say_nothing(three):
    assert DISAGREE.isdisjoint(codes(combine([three])[1]))


# --- two lights ----------------------------------------------------------------------------------------------


def test_two_lights_that_are_one_are_told_and_two_that_differ_are_not(three, led):
    assert _alike([three[:1], three[1:2]])
    assert not _alike([three[:1], [led]])
    assert "lights-alike" in codes(combine([three[:1], three[1:2]])[1])
    assert "lights-alike" not in codes(combine([three[:1], [led]])[1])


def test_a_second_light_narrows_the_interval(three, led):
    one, two = combine([three[:1]])[0], combine([three[:1], [led]])[0]
    for single, both in zip(one, two, strict=True):
        assert len(both.views) == 2
        assert both.radius < single.radius
    assert (sizes(two, "ink") < sizes(one, "ink")).all()


@pytest.fixture(scope="module")
def scenes(tmp_path_factory):
    """(error, radius) of each strip of SCENES drawn scenes: under the first light, the second, and both."""
    folder, rows = tmp_path_factory.mktemp("two-lights"), []
    lights = WORLDS["build"].fair_lights | WORLDS["build"].bad_lights
    for number in range(SCENES):
        rng = np.random.default_rng([41, number])
        scene = closer(random_scene(rng, "build"))
        card, photo = read_card(scene, rng, folder / "card.csv"), folder / "photo.jpg"
        looks = []
        for shown in (scene, reshoot(scene, rng, lights[other_light(scene, "build", rng)])):
            shot = render(shown, SMALL)
            try:
                looks.append(take_look(str(write_jpeg(shot, photo)), str(card)))
            except SwatchcamError:
                break
        if len(looks) == 2:
            ways = ([looks[:1]], [looks[1:]], [looks[:1], looks[1:]])
            found = [combine(way)[0] for way in ways]
            rows += [
                [(float(difference(colour.lab, shot.truth[colour.name])), colour.radius) for colour in strip]
                for strip in zip(*found, strict=True)
            ]
    return np.array(rows)


def test_two_lights_come_nearer_to_the_truth_than_either(scenes):
    assert len(scenes) >= 2 * (SCENES - 1)  # two strips each; one scene may be refused
    first, second, both = scenes[:, :, 0].mean(axis=0)
    # 1.38 and 1.42 alone and 0.98 together were found.
    assert both < 0.8 * min(first, second)


def test_the_interval_from_two_lights_is_narrower_and_holds(scenes):
    errors, radii = scenes[:, 2, 0], scenes[:, 2, 1]
    assert radii.mean() < 0.9 * scenes[:, 0, 1].mean()
    # The two strips of a scene err alike. More than 2 scenes of 12 fall outside once in 50 times.
    outside = (errors > radii).reshape(-1, 2).any(axis=1)
    assert outside.sum() <= 2
    assert (errors < 1.6 * radii).all()
