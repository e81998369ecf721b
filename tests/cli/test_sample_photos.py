"""The sample photos do what they promise: verdicts, flags, refusals; and the numbers agree with what was drawn."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from swatchcam.cards.values_file import read_sheet
from swatchcam.cli import main
from swatchcam.measurement.pigment_row import load_row
from tests.cli.keyboard import type_in
from tests.report.typed import check_printed
from tests.worlds.inks import strip_reflectance
from tests.worlds.sample_photos import (
    FILM,
    FOLDER,
    LARGE,
    MAUVE,
    PIGMENTS,
    REMIXED,
    RUST,
    SAMPLES,
    SERIES,
    SHELF,
    SMEARS,
    VALUES,
    path_of,
    read_truth,
    sample_card,
    sample_places,
    strip,
    strips_of,
)
from tests.worlds.scene import render
from tests.worlds.spectra import difference, reflectance_lab

TRUTH = read_truth()
VERDICTS = {  # name -> exit code of `check`, and words that it must say
    "good_pair": (0, ("SAME",)),
    "differs": (4, ("DIFFERENT", "lighter", "yellower")),
    "close_call": (5, ("TOO CLOSE TO CALL",)),
    "loose": (0, ("SAME",)),
    "tilted": (0, ("SAME",)),
    "p3": (0, ("SAME",)),
    "before_heat": (4, ("DIFFERENT",)),
    "after_heat": (4, ("DIFFERENT",)),
    "season_1_dry": (4, ("DIFFERENT",)),
    "season_1_set": (4, ("DIFFERENT",)),
    "season_2_dry": (4, ("DIFFERENT",)),
    "season_2_set": (4, ("DIFFERENT",)),
    "season_3_dry": (4, ("DIFFERENT", "darker", "redder")),
    "season_3_set": (0, ("SAME",)),
    "season_4_washed": (4, ("DIFFERENT",)),
    **{f"series_{pigment}_{half}": (4, ("DIFFERENT", "darker")) for pigment in SHELF for half in (1, 2)},
    "wanted": (4, ("DIFFERENT", "lighter", "duller")),
    "pot_1": (5, ("TOO CLOSE TO CALL",)),
    "kitchen_1": (0, ("SAME",)),
    "kitchen_2": (0, ("SAME",)),
    "pot_2": (0, ("SAME",)),
    "two_cloths": (4, ("DIFFERENT", "darker", "duller")),
    "smeared": (4, ("DIFFERENT", "darker", "Same proportions.", "stronger or thicker", "Make a second strip")),
    "one_more": (4, ("DIFFERENT", "redder", "The shade differs by")),
    "all_more": (4, ("DIFFERENT", "darker", "Same proportions.", "stronger or thicker", "Make a second strip")),
    "test_series_1": (4, ("DIFFERENT", "darker", "more vivid")),
    "test_series_2": (4, ("DIFFERENT", "darker", "more vivid")),
    "test_series_3": (4, ("DIFFERENT", "darker")),
}
POTS = {  # smeared by hand, with bare cloth beside the ink: exit code with `--judge pot`, first words, what is the case
    "smeared": (5, "SAME PROPORTIONS. The right strip is"),
    "one_more": (4, "DIFFERENT SHADE: the shade differs by"),
    "all_more": (5, "SAME PROPORTIONS. The right strip is"),
}
VIVID = ("series_golden_2", "series_blue_2")  # their inks lie beyond what a photo in sRGB can show
FLAGGED = {
    "bad_covered": ("tag 2 can't be read", "patches left out: A12"),
    "bad_warm_lamp": ("the card's colours fit poorly",),
}
REFUSED = {
    "bad_glare": "Glare, a shadow or dirt lies beside the right window",
    "bad_blurred": "of the card's 6 corner and edge tags can be read.",
    "bad_no_card": "No card can be seen in the photo.",
}
BESIDE = ("loose", "two_cloths")  # something lies loose beside the card
CLOTH = ("stained",)  # white cloth in the windows, graded in test_staining
FIRST_DAYS = tuple(f"day_{number}" for number in range(1, 5))  # of another card, judged in test_first_day
TOGETHER = ("two_lights_window", "two_lights_led")  # one scene

pytestmark = pytest.mark.usefixtures("remembered")


def say(*words):
    """What a command prints and its exit code, with the values of the sample card."""
    result = CliRunner().invoke(main, [*words, "--card", "sample-card"])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    check_printed(words, result)
    return result


@pytest.fixture(scope="module")
def told():
    """What `check` says of a sample, in words and for programs; asked in one go, each photo is looked at once."""
    known = {}

    def get(name):
        if name not in known:
            beside = ("--loose",) if name in BESIDE else ()
            words, facts = say("check", str(path_of(name))), say("check", str(path_of(name)), "--json", *beside)
            known[name] = words, json.loads(facts.stdout)
        return known[name]

    return get


@pytest.fixture(scope="module")
def facts(told):
    return lambda name: told(name)[1]


def test_every_sample_is_judged_below():
    assert set(VERDICTS) | set(FLAGGED) | set(REFUSED) | set(TOGETHER) | set(CLOTH) | set(FIRST_DAYS) == set(SAMPLES)


@pytest.mark.parametrize("name", VERDICTS)
def test_a_good_sample_gets_its_verdict(name, told):
    code, words = VERDICTS[name]
    result, found = told(name)
    assert result.exit_code == code
    assert result.output.startswith(words[0])
    assert all(word in result.output for word in words)
    unseen = found["pots"]["why_not"]
    assert (unseen is None) == (name in POTS)
    flags = [line for line in result.output.splitlines() if "!" in line]
    if unseen and code:
        flags.remove(f"  ! {unseen['sentence']}")
    assert bool(flags) == (name in VIVID)
    assert all("too vivid for the photo's colour space" in line for line in flags)


@pytest.mark.parametrize("name", POTS)
def test_the_verdict_of_the_pot_tells_only_a_shade_as_a_fault(name):
    code, words = POTS[name]
    result = say("check", str(path_of(name)), "--judge", "pot")
    assert result.exit_code == code
    assert result.output.startswith(words)
    said = result.output.lower()
    assert said.count("same proportions") + said.count("the shade differs by") == 1  # not twice


@pytest.mark.parametrize("name", POTS)
def test_the_split_holds_what_was_drawn(name, facts):
    """The least CIEDE2000 over all films of the right pot, and the films that give it: reckoned from the spectra."""
    recipe, left, right = SMEARS[name]
    films = np.exp(np.linspace(-0.6, 0.6, 1201))
    target = reflectance_lab(strip_reflectance(recipe, right * FILM))
    apart = difference(np.array([reflectance_lab(strip_reflectance(MAUVE, film * FILM)) for film in films]), target)
    shade, stronger = float(apart.min()), float(films[int(np.argmin(apart))]) / left
    split = facts(name)["pots"]["split"]
    assert split["shade_interval95"][0] <= shade <= split["shade_interval95"][1]
    low, high = split["strips_strength"]["interval95_percent"]
    assert low <= 100 * (stronger - 1) <= high
    assert split["pot_strength"]["interval95_percent"][0] < low < high < split["pot_strength"]["interval95_percent"][1]


@pytest.mark.parametrize("name", FLAGGED)
def test_a_poor_sample_is_flagged(name):
    result = say("check", str(path_of(name)))
    flags = [line for line in result.output.splitlines() if line.lstrip().startswith("!")]
    assert all(any(sentence in line for line in flags) for sentence in FLAGGED[name])


@pytest.mark.parametrize("name", REFUSED)
def test_a_bad_sample_is_refused_in_two_lines(name, told):
    result, _ = told(name)
    assert result.exit_code == 3
    assert REFUSED[name] in result.stderr
    assert len(result.stderr.strip().splitlines()) == 2
    assert result.stdout == ""


@pytest.mark.parametrize("name", REFUSED)
def test_a_refusal_is_one_object_too(name, facts):
    assert set(facts(name)) == {"refused"}
    assert set(facts(name)["refused"]) == {"kind", "code", "facts", "remedy", "where", "problem", "next"}


@pytest.mark.parametrize("name", VERDICTS)
def test_the_interval_holds_the_difference_that_was_drawn(name, facts):
    drawn = float(difference(TRUTH[name]["left"], TRUTH[name]["right"]))
    low, high = facts(name)["difference"]["interval95"]
    assert low <= drawn <= high


@pytest.mark.parametrize("name", VERDICTS)
def test_each_colour_is_as_near_the_drawn_one_as_it_claims(name, facts):
    colours = facts(name)["sample_photo"]["strips"]
    assert {colour["name"] for colour in colours} == set(TRUTH[name])
    for colour in colours:
        lab = np.array([colour["L"], colour["a"], colour["b"]])
        assert float(difference(lab, TRUTH[name][colour["name"]])) <= colour["interval95_ciede2000"]


def test_a_loose_strip_is_found_where_it_lies(facts):
    last = facts("loose")["sample_photo"]["strips"][-1]
    assert last["name"] == "beside-1"
    assert last["area_mm2"] == pytest.approx(60 * 38, rel=0.15)  # mm, its edge is ragged and its rim left out


@pytest.fixture(scope="module")
def two_lights():
    """What `check` says of the scene under two lights, in words and for programs."""
    words = ("check", str(path_of(TOGETHER[0])), "--other-light", str(path_of(TOGETHER[1])), "--row", "sample-row")
    return say(*words), json.loads(say(*words, "--json").stdout)


def test_two_lights_tell_inks_that_match_in_daylight_only(two_lights):
    words, found = two_lights
    assert words.exit_code == 0
    assert "They match in daylight but" in words.stdout
    for seen in found["metamerism"]["lights"]:
        inks = (reflectance_lab(strip_reflectance(recipe, FILM), seen["illuminant"]) for recipe in (MAUVE, REMIXED))
        assert seen["interval95"][0] <= float(difference(*inks)) <= seen["interval95"][1]


def test_the_sample_row_is_seen_and_makes_both_colours_surer(two_lights):
    part = two_lights[1]["sample_photo"]
    assert (part["row"]["name"], part["row"]["seen"]) == ("sample-row", True)
    assert [photo["light"] for photo in part["photos"]] == [1, 2]
    for colour in part["strips"]:
        lab = np.array([colour["L"], colour["a"], colour["b"]])
        near = float(difference(lab, TRUTH[TOGETHER[0]][colour["name"]]))
        assert near <= colour["interval95_ciede2000"] < colour["interval95_first_photo_ciede2000"]


def test_the_row_s_values_are_those_of_the_drawn_pigments():
    known = load_row("sample-row")
    assert known.windows == sample_places().windows
    for name, recipe in PIGMENTS.items():
        # Stored in steps of 10 nm and read in a straight line between: half the stated uncertainty at most.
        assert (
            difference(known.lab(name, "D65", 10), reflectance_lab(strip_reflectance(recipe, FILM)))
            < known.uncertainty / 2
        )


def test_heat_setting_is_seen_from_one_photo_to_the_other(facts):
    words = ("check", str(path_of("after_heat")), "--against", str(path_of("before_heat")), "--json")
    found = json.loads(say(*words).stdout)
    drawn = float(difference(TRUTH["after_heat"]["right"], TRUTH["before_heat"]["right"]))
    assert found["difference"]["interval95"][0] <= drawn <= found["difference"]["interval95"][1]
    assert {"darker", "duller"} <= set(found["difference"]["words"])
    assert found["reference_photo"]["photo"]["path"] == str(path_of("before_heat"))


def test_the_strip_that_was_not_heated_stays_the_same():
    words = ("check", str(path_of("after_heat")), "--against", str(path_of("before_heat")), "--strip", "left")
    assert say(*words).exit_code == 0


def test_two_colour_spaces_tell_the_same_colour(facts):
    one, other = (facts(name)["sample_photo"] for name in ("good_pair", "p3"))
    assert (one["photo"]["colour_space"], other["photo"]["colour_space"]) == ("sRGB", "Display P3")
    labs = [np.array([part["strips"][0][key] for key in "Lab"]) for part in (one, other)]
    assert float(difference(*labs)) < one["strips"][0]["interval95_ciede2000"]


def test_the_series_has_a_strip_for_every_load():
    series = [TRUTH[f"test_series_{n}"][window][0] for n in (1, 2, 3) for window in ("left", "right")]
    assert len(SERIES) == len(series) == 6
    assert (np.diff(series) < 0).all()  # L*: more pigment, darker


# What lies in the folder


def test_the_folder_stays_small_and_holds_nothing_else():
    names = {path.name for path in FOLDER.iterdir()}
    assert names == {path_of(name).name for name in SAMPLES} | {
        "truth.csv",
        "season.csv",
        "series.csv",
        "README.md",
    }
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 25e6


@pytest.mark.parametrize("name", SAMPLES)
def test_a_sample_has_its_size_and_a_profile_and_no_camera(name):
    with Image.open(path_of(name)) as picture:
        assert picture.size == SAMPLES[name].size
        assert picture.info["icc_profile"]
        assert not {271, 272, 305} & set(picture.getexif())  # Exif 2.32: make, model, software


def test_a_sample_drawn_anew_has_the_true_colours_on_record():
    scene = SAMPLES["after_heat"].scene()
    found = strips_of(render(scene, (600, 450)))
    assert set(found) == set(TRUTH["after_heat"])
    for name, lab in found.items():
        # A coarser drawing of the same uneven film: its mean moves by a few hundredths.
        np.testing.assert_allclose(lab, TRUTH["after_heat"][name], rtol=0, atol=0.1)


def test_the_cards_values_are_those_of_the_drawn_card():
    true, sheet = sample_card().true_lab(), read_sheet(VALUES)
    assert set(sheet.lab) == set(true)
    off = [float(difference(np.array(sheet.lab[name]), lab)) for name, lab in true.items()]
    stated = float(sheet.header["uncertainty"])
    assert 0.5 * stated < float(np.sqrt(np.mean(np.square(off)))) < 1.2 * stated


def test_large_samples_have_twelve_megapixels():
    assert SAMPLES["good_pair"].size == LARGE == (4000, 3000)
    assert strip(RUST).reflectance.shape[-1] == 81


def test_a_card_that_was_never_measured_is_said_to_be_so_without_an_empty_date(tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path))
    first = type_in(f"measure {path_of('tilted')}").stdout.splitlines()[0]
    assert first.endswith(": a5 card, never measured; D65, 10° observer")
