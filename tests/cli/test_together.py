"""Several photos, another light and a row, from the command line to words and JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from swatchcam.cards.design import designs
from swatchcam.cards.values_file import Sheet, sheet_text
from swatchcam.cli import main
from swatchcam.measurement.pigment_row import ROW
from swatchcam.measurement.pigment_row_sheet import lay_row, places_text
from tests.report.typed import check_printed
from tests.worlds.inks import strip_reflectance
from tests.worlds.scene import Loose, ink, render, write_jpeg
from tests.worlds.spectra import BUILD_BAD_LIGHTS, WAVELENGTHS, reflectance_lab

PIGMENTS = {"yellow": {"yellow": 0.7}, "red": {"red": 0.9}, "blue": {"blue": 0.6}, "black": {"black": 0.4}}
SAME, WRONG_USE, REFUSED = 0, 2, 3

pytestmark = pytest.mark.usefixtures("remembered")


@pytest.fixture(scope="module")
def desk(tmp_path_factory, plain_scene):
    """Photos of one scene with a row below the card: two by daylight, one under a bulb; and one of another scene."""
    folder = tmp_path_factory.mktemp("together")
    below = lay_row("halm", list(PIGMENTS), designs()["a5"])
    loose = tuple(
        Loose(own.name, (own.box.x, own.box.y, own.box.w, own.box.h), ink(PIGMENTS[own.name])) for own in below.windows
    )
    scene = replace(plain_scene, loose=loose, pose=replace(plain_scene.pose, fraction=0.7, offset=(0.0, -0.1)))
    shots = {
        "one": scene,
        "two": replace(scene, shot=1, pose=replace(scene.pose, rotation=4)),
        "bulb": replace(scene, shot=2, light=BUILD_BAD_LIGHTS["warm bulb"]),
        "other": replace(plain_scene, windows={"left": ink({"green": 0.5}), "right": ink({"red": 0.8})}),
    }
    for name, shot in shots.items():
        write_jpeg(render(shot, (1400, 1050)), folder / f"{name}.jpg")
    header = ("row", "measured", "D65", "10", "45/0", "2026-01-31", "drawn", "0.3")
    keys = ("design", "grade", "illuminant", "observer", "geometry", "date", "source", "uncertainty")
    films = {name: strip_reflectance(recipe) for name, recipe in PIGMENTS.items()}
    values = Sheet(
        dict(zip(keys, header, strict=True)),
        {name: tuple(reflectance_lab(film)) for name, film in films.items()},
        tuple(WAVELENGTHS),
        {name: tuple(film) for name, film in films.items()},
    )
    assert values.header["design"] == ROW
    (folder / "cards").mkdir()
    (folder / "cards" / "halm.toml").write_text(places_text(below), encoding="utf-8")
    (folder / "cards" / "halm.csv").write_text(sheet_text(values), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATCHCAM_CARDS", str(folder / "cards"))
        patch.chdir(folder)
        yield folder


@pytest.fixture(scope="module")
def say(desk, values_path):
    def run(*words):
        result = CliRunner().invoke(main, [*words, "--card", str(values_path)])
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        check_printed(words, result)
        return result

    return run


@pytest.fixture(scope="module")
def facts(say):
    """JSON of a command; each is run once."""
    known = {}

    def get(*words):
        if words not in known:
            known[words] = json.loads(say(*words, "--json").stdout)
        return known[words]

    return get


LIGHT = ("--other-light", "bulb.jpg")


def test_all_photos_are_named_with_their_light_the_first_as_the_photo(facts):
    found = facts("measure", "one.jpg", "two.jpg", *LIGHT)
    assert found["photo"]["path"] == "one.jpg"
    assert [(photo["path"], photo["light"]) for photo in found["photos"]] == [
        ("one.jpg", 1), ("two.jpg", 1), ("bulb.jpg", 2)
    ]  # fmt: skip


def test_what_the_further_photos_gain_is_told(say, facts):
    alone, all_of_them = facts("measure", "one.jpg"), facts("measure", "one.jpg", "two.jpg", *LIGHT)
    for one, three in zip(alone["strips"], all_of_them["strips"], strict=True):
        assert one["interval95_first_photo_ciede2000"] is None
        assert three["interval95_first_photo_ciede2000"] == one["interval95_ciede2000"]
        assert three["interval95_ciede2000"] < one["interval95_ciede2000"]
    line = "3 photos together, 1 of them under another light; the first alone would give left ±"
    assert line in say("measure", "one.jpg", "two.jpg", *LIGHT).stdout
    assert "photos together" not in say("measure", "one.jpg").stdout


def test_the_row_is_told_with_its_grade_and_whether_it_was_seen(say, facts):
    assert facts("measure", "one.jpg")["row"] is None
    found = facts("measure", "one.jpg", "--row", "halm")["row"]
    assert found == {"name": "halm", "grade": "measured", "uncertainty_ciede2000": 0.3, "seen": True}
    assert "row halm (measured): seen beside the card" in say("measure", "one.jpg", "--row", "halm").stdout
    assert facts("measure", "other.jpg", "--row", "halm")["row"]["seen"] is False


def test_check_takes_all_of_it_and_tells_metamerism_of_two_lights_only(say, facts):
    done = say("check", "one.jpg", "two.jpg", *LIGHT, "--row", "halm")
    assert done.exit_code == SAME
    told = facts("check", "one.jpg", "two.jpg", *LIGHT, "--row", "halm")["metamerism"]
    assert told["told"] is True
    assert f"  {told['sentence']}\n" in done.stdout
    guess = facts("check", "one.jpg")["metamerism"]
    assert guess["told"] is False
    assert guess["sentence"].startswith("A guess from one light: They ")
    assert "They" not in say("check", "one.jpg").stdout


def test_metamerism_in_json_begins_with_the_difference_itself(facts):
    found = facts("check", "one.jpg", *LIGHT)
    assert found["metamerism"]["told"] is True
    daylight = found["metamerism"]["lights"][0]
    assert (daylight["illuminant"], daylight["ciede2000"]) == ("D65", found["difference"]["ciede2000"])
    assert daylight["interval95"] == found["difference"]["interval95"]
    assert [(row["from"], row["to"]) for row in found["metamerism"]["special_index"]] == [
        ("D65", "A"),
        ("D65", "LED-B3"),
    ]


def test_a_target_has_no_metamerism_and_another_photo_makes_it_a_guess(facts):
    assert facts("check", "one.jpg", *LIGHT, "--target", "50,40,30")["metamerism"] is None
    against = facts("check", "one.jpg", *LIGHT, "--against", "two.jpg:right", "--row", "halm")
    assert against["metamerism"]["told"] is False
    assert against["reference_photo"]["row"]["name"] == "halm"
    assert len(against["reference_photo"]["photos"]) == 1


REFUSALS = {
    "the same photo twice": (["one.jpg", "one.jpg"], WRONG_USE, "Name each photo once."),
    "under the other light too": (["one.jpg", "--other-light", "one.jpg"], WRONG_USE, "Name each photo once."),
    "no such photo": (["one.jpg", "none.jpg"], REFUSED, "none.jpg"),
    "no such row": (["one.jpg", "--row", "holm"], REFUSED, "These rows are known: halm"),
}


@pytest.mark.parametrize("wrong", REFUSALS)
def test_what_cannot_be_measured_together_is_refused_in_two_lines(say, wrong):
    words, code, said = REFUSALS[wrong]
    for command in ("measure", "check"):
        done = say(command, *words)
        assert (done.exit_code, done.stdout) == (code, "")
        assert said in done.stderr
        assert len(done.stderr.splitlines()) == 2


def test_photos_of_two_scenes_are_refused(say):
    for words in (["one.jpg", "other.jpg"], ["one.jpg", "--other-light", "other.jpg"]):
        done = say("measure", *words)
        assert (done.exit_code, done.stdout) == (REFUSED, "")
        assert "one.jpg and other.jpg show different colours in their left strip" in done.stderr


def test_a_command_without_a_photo_is_wrong_use():
    for command in ("measure", "check"):
        assert CliRunner().invoke(main, [command]).exit_code == WRONG_USE


def test_the_picture_is_of_the_first_photo(say, desk):
    assert say("measure", "one.jpg", "two.jpg", "--picture", "both.png").exit_code == 0
    assert say("measure", "two.jpg", "--picture", "second.png").exit_code == 0
    assert (desk / "both.png").read_bytes() != (desk / "second.png").read_bytes()
