"""An unmeasured print: what its first photo makes of it, kept for all others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.cards.design import designs
from swatchcam.cards.values import PHOTOGRAPHED, load_values, nominal_values
from swatchcam.cards.values_folder import own_files, values_of_print
from swatchcam.errors import CardError, UsageError
from swatchcam.measurement.card_fit import editions
from swatchcam.measurement.measure import measure
from swatchcam.measurement.single_photo import take_look
from swatchcam.measurement.stored_colour import errors_as_text, errors_from_text, keep
from swatchcam.measurement.verdict import between
from swatchcam.photo.photo import read_photo
from tests.worlds.lens import Pose
from tests.worlds.many_printers import random_print
from tests.worlds.phone import Phone
from tests.worlds.scene import Scene, ink, render, write_jpeg
from tests.worlds.spectra import BUILD_CAMERAS, BUILD_FAIR_LIGHTS, difference

NUMBER = "04821093"
SIZE = 1200, 900
STRIPS = {"left": ink({"red": 1.2, "yellow": 0.4}), "right": ink({"red": 1.2, "yellow": 0.5})}
LAMPS = sorted(BUILD_FAIR_LIGHTS)[:2]
PHONE = Phone(contrast=0.2, brighten=0.08, saturation=1.08, electrons=12000, quality=95)


def scene(card, lamp, shot=0):
    return Scene(
        card,
        STRIPS,
        light=BUILD_FAIR_LIGHTS[lamp],
        pose=Pose(fraction=0.8),
        camera=BUILD_CAMERAS[1],
        phone=PHONE,
        seed=4,
        shot=shot,
    )


@pytest.fixture(scope="module")
def prints():
    """Two prints of two printers that bear one number, as where a sheet was printed twice."""
    cards = [random_print(np.random.default_rng((18, seed)), "build")[1] for seed in (7, 8)]
    return [replace(card, number=NUMBER) for card in cards]


@pytest.fixture(scope="module")
def days(prints, tmp_path_factory):
    """The first print on two days, the second one, and the first without its number."""
    folder = tmp_path_factory.mktemp("days")
    bare = replace(prints[0], number=None)
    scenes = {
        "monday": scene(prints[0], LAMPS[0]),
        "tuesday": scene(prints[0], LAMPS[1], 1),
        "other inks": scene(prints[1], LAMPS[0]),
        "bare": scene(bare, LAMPS[0]),
    }
    shots = {name: render(each, SIZE) for name, each in scenes.items()}
    paths = {name: str(write_jpeg(shot, folder / f"{name}.jpg")) for name, shot in shots.items()}
    return paths, shots["monday"].truth


@pytest.fixture
def cards(tmp_path, monkeypatch):
    folder = tmp_path / "cards"
    monkeypatch.setenv("SWATCHCAM_CARDS", str(folder))
    return folder


def test_what_a_photo_makes_of_a_print_is_nearer_to_it_than_the_codes_sent(days, cards, prints):
    look = take_look(days[0]["monday"])
    true = prints[0].true_lab()
    nominal = nominal_values(designs()["a5"]).lab
    off, before = (
        np.sqrt(np.mean([float(difference(np.array(lab[name]), true[name])) ** 2 for name in true]))
        for lab in (look.values.lab, nominal)
    )
    assert look.values.grade == PHOTOGRAPHED
    assert off < 0.7 * before
    assert not cards.exists()


def test_later_days_are_measured_by_the_first_photo_and_agree_better_than_each_by_itself(days, cards):
    paths, _ = days
    alone = [measure(paths[day]).colour("left") for day in ("monday", "tuesday")]
    monday = measure(paths["monday"], keep_print=True)
    tuesday = measure(paths["tuesday"])
    assert tuesday.values.name == f"print-{NUMBER}" == monday.values.name
    together = between(tuesday.colour("left"), monday.colour("left"))
    apart = between(*alone)
    assert together.low == 0.0  # it is one strip
    assert together.high < 0.6 * apart.high
    assert together.delta_e < 1.5


def test_the_interval_of_a_colour_itself_is_wide_and_holds_it(days, cards):
    paths, truth = days
    colour = measure(paths["monday"]).colour("left")
    assert difference(np.array(colour.lab), truth["left"]) < colour.radius
    assert colour.radius > 3.0


def test_measured_again_by_what_was_kept_a_photo_gives_the_same_to_the_last_digit(days, cards):
    first = measure(days[0]["monday"], keep_print=True)
    again = measure(days[0]["monday"], keep_print=True)
    assert [colour.lab for colour in first.colours] == [colour.lab for colour in again.colours]
    assert len(list(cards.iterdir())) == 1
    values = load_values(f"print-{NUMBER}")
    assert values.frame == first.values.frame
    assert values.numbers == (NUMBER,)


def test_values_that_were_read_come_before_what_a_photo_made_of_a_print(days, cards, prints):
    from tests.worlds.printers import write_values

    measure(days[0]["monday"], keep_print=True)
    true = prints[0].true_lab()
    write_values(cards / "read.csv", "a5", true, prints[0].spectra)
    text = (cards / "read.csv").read_text("utf-8")
    (cards / "read.csv").write_text(f"# print: {NUMBER}\n{text}", "utf-8")
    assert values_of_print(NUMBER) == cards / "read.csv"
    assert measure(days[0]["tuesday"]).values.name == "read"


def test_a_second_print_of_the_sheet_in_other_inks_is_refused(days, cards):
    measure(days[0]["monday"], keep_print=True)
    with pytest.raises(CardError) as refusal:
        measure(days[0]["other inks"])
    assert refusal.value.code == "values-of-another-print"
    assert measure(days[0]["other inks"], "nominal").values.frame is not None


def test_a_print_without_a_number_is_known_again_by_its_size_alone(days, cards):
    measure(days[0]["bare"], keep_print=True)
    assert [path.stem for path in own_files()] == ["unmeasured-a5"]
    assert measure(days[0]["bare"]).values.name == "unmeasured-a5"
    assert measure(days[0]["monday"]).values.name == "nominal"  # a numbered print is another one


def test_two_photos_of_one_command_are_measured_alike(days, cards):
    first = measure(days[0]["monday"])
    second = measure(days[0]["tuesday"], earlier=first.values)
    assert second.values == first.values
    other = measure(days[0]["bare"], earlier=first.values)
    assert other.values.frame.key != first.values.frame.key


def test_a_kept_colour_remembers_its_frame(days, cards):
    found = measure(days[0]["monday"])
    kept = keep(found.colour("left"), found)
    assert not kept.absolute
    errors = errors_from_text(errors_as_text(kept))[0]
    assert errors.frame == found.values.frame.key
    assert_allclose(errors.frame_shift, kept.errors.frame_shift, atol=1e-4)
    assert_allclose(errors.covariance, kept.covariance, rtol=1e-2, atol=1e-3)


def test_a_damaged_frame_is_told(days, cards):
    measure(days[0]["monday"], keep_print=True)
    path = cards / f"print-{NUMBER}.csv"
    path.write_text(path.read_text("utf-8").replace("# frame: ", "# frame: x y "), "utf-8")
    with pytest.raises(CardError) as refusal:
        measure(days[0]["monday"])
    assert "frame-unreadable" in [problem["code"] for problem in refusal.value.facts["problems"]]


def test_a_photo_measured_with_nominal_colours_or_with_an_unread_number_keeps_nothing(days, cards, monkeypatch):
    measure(days[0]["monday"], "nominal", keep_print=True)
    monkeypatch.setattr("swatchcam.measurement.single_photo.read_tags", lambda *_: (331, None, 333))
    look = take_look(days[0]["monday"], keep_print=True)
    assert "number-unread" in {flag.code for flag in look.flags}
    assert not cards.exists()


def test_a_number_seen_in_one_photo_only_makes_no_scene_of_two_prints(days, cards, monkeypatch):
    seen = iter([(331, 332, 333), (331, None, 333)])
    monkeypatch.setattr("swatchcam.measurement.single_photo.read_tags", lambda *_: next(seen))
    with pytest.raises(UsageError) as refusal:
        measure(days[0]["monday"], again=[days[0]["tuesday"]])
    assert refusal.value.code == "number-in-one-photo"


def test_what_a_photo_made_of_a_print_is_not_used_for_another_size(days, cards):
    bare = take_look(days[0]["bare"]).values
    other = take_look(days[0]["bare"], earlier=replace(bare, design="a6", name="other"))
    assert other.values.name == bare.name


def no_link(problem):
    def refuse(*_):
        raise problem

    return refuse


def test_of_two_photos_at_once_the_first_one_counts(days, cards):
    first = measure(days[0]["monday"], keep_print=True).values
    late = replace(first, frame=replace(first.frame, key="late"))
    assert editions.kept(late, read_photo(days[0]["tuesday"]), NUMBER).frame == first.frame
    assert len(list(cards.iterdir())) == 1


def test_a_print_is_kept_where_no_file_can_have_two_names(days, cards, monkeypatch):
    monkeypatch.setattr("os.link", no_link(PermissionError(1, "no")))
    measure(days[0]["monday"], keep_print=True)
    assert [path.name for path in cards.iterdir()] == [f"print-{NUMBER}.csv"]
