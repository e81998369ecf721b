"""`swatchcam check` of several strips of one pot: named, weighed, judged by the pot, refused in two lines."""

from __future__ import annotations

import json
import shutil

import numpy as np
import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.colorimetry.film_scatter import PRIOR_STD
from tests.report.typed import check_printed
from tests.worlds.sample_photos import path_of

SAME, WRONG_USE, DIFFERENT, TOO_CLOSE = 0, 2, 4, 5
SMEARED, ONE_MORE, ALL_MORE, LOOSE = (str(path_of(name)) for name in ("smeared", "one_more", "all_more", "loose"))

pytestmark = pytest.mark.usefixtures("remembered")


def say(*words):
    """What a command prints and its exit code, with the values of the sample card."""
    measures = words[0] in ("check", "keep")
    typed = [str(word) for word in (*words, *(["--card", "sample-card"] if measures else []))]
    done = CliRunner().invoke(main, typed)
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    check_printed(typed, done)
    return done


def told(*words):
    return json.loads(say(*words, "--json").stdout)


def refused(*words):
    done = say(*words)
    assert (done.exit_code, done.stdout) == (WRONG_USE, "")
    problem, remedy = done.stderr.splitlines()
    return problem, remedy


# --- several strips -----------------------------------------------------------------------------------------


def test_several_strips_on_both_sides_are_judged_together():
    # Mauve, four times: both strips of one photo, and the left ones of two others.
    words = ("check", SMEARED, "--strip", "left", "--strip", "right")
    facts = told(*words, "--against", f"{ONE_MORE}:left", "--against", f"{ALL_MORE}:left")
    assert facts["pots"]["strips"] == {"reference": 2, "sample": 2}
    assert facts["difference"]["sample"] == "left and right"
    assert facts["difference"]["reference"] == "one_more.jpg:left and all_more.jpg:left"
    low, high = facts["difference"]["interval95"]
    assert low <= facts["difference"]["ciede2000"] <= high
    assert facts["pots"]["split"]["shade_interval95"][0] <= 0.2
    assert facts["reference_photo"]["photo"]["path"] == ONE_MORE
    one = told(*words[:4], "--against", f"{ONE_MORE}:left")["pots"]["split"]
    two = facts["pots"]["split"]
    assert width(two["pot_strength"]) < width(one["pot_strength"])


def width(strength):
    low, high = strength["interval95_percent"]
    return high - low


def test_a_shade_is_found_whichever_strips_stand_for_the_pots():
    facts = told("check", ONE_MORE, "--strip", "right", "--against", "left", "--against", f"{SMEARED}:left",
                 "--against", f"{SMEARED}:right", "--judge", "pot")  # fmt: skip
    assert facts["pots"]["strips"] == {"reference": 3, "sample": 1}
    assert (facts["judged"], facts["pots"]["outcome"]) == ("pot", "different shade")
    # A photo that stands alone is meant by its strip of the same name.
    assert told("check", ONE_MORE, "--against", SMEARED)["difference"]["reference"] == "smeared.jpg:right"


def test_a_strip_of_another_photo_is_one_of_this_pot():
    done = told("check", SMEARED, "--strip", "right", "--strip", f"{ALL_MORE}:left", "--against", "left")
    assert done["difference"]["sample"] == "right and all_more.jpg:left"
    assert done["pots"]["strips"] == {"reference": 1, "sample": 2}


def test_a_loose_strip_is_named_like_any_other():
    facts = told("check", LOOSE, "--strip", "right", "--strip", "beside-1", "--against", "left")
    assert facts["difference"]["sample"] == "right and beside-1"
    assert facts["pots"]["strips"] == {"reference": 1, "sample": 2}
    against = told("check", LOOSE, "--against", "beside-1")
    assert against["difference"]["reference"] == "beside-1"


def test_the_mean_of_several_strips_is_judged_by_a_target():
    facts = told("check", SMEARED, "--strip", "left", "--strip", "right", "--target", "60,33,-7")
    assert (facts["difference"]["sample"], facts["difference"]["reference"]) == ("left and right", "target")
    assert facts["pots"] is None
    labs = [[strip[axis] for axis in "Lab"] for strip in facts["sample_photo"]["strips"]]
    assert facts["difference"]["delta_L"] == pytest.approx(np.mean(labs, axis=0)[0] - 60, abs=0.011)
    assert say("check", SMEARED, "--target", "60,33,-7", "--tolerance", "9").exit_code == SAME


# --- whose verdict ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("photo", "judge", "code"),
    [
        (SMEARED, "strips", DIFFERENT),
        (SMEARED, "pot", TOO_CLOSE),
        (ALL_MORE, "strips", DIFFERENT),
        (ALL_MORE, "pot", TOO_CLOSE),
        (ONE_MORE, "strips", DIFFERENT),
        (ONE_MORE, "pot", DIFFERENT),
        (LOOSE, "pot", SAME),  # no cloth is seen there: the strips' verdict stands
    ],
)
def test_the_exit_code_is_that_of_whose_verdict_counts(photo, judge, code):
    assert say("check", photo, "--judge", judge).exit_code == code
    facts = told("check", photo, "--judge", judge)
    assert facts["judged"] == judge
    assert say("check", photo, "--judge", judge, "--json").exit_code == code
    # Both verdicts are there for a program whichever counts.
    other = told("check", photo, "--judge", "pot" if judge == "strips" else "strips")
    assert {name: facts[name] for name in facts if name != "judged"} == {n: other[n] for n in other if n != "judged"}


def test_all_numbers_tell_how_films_are_known():
    plain, numbers = (say("check", SMEARED, *more).stdout for more in ((), ("--numbers",)))
    sentence = f"Your films are assumed to vary by {100 * PRIOR_STD:.0f} % from strip to strip"
    assert (sentence in plain, sentence in numbers) == (False, True)


# --- against the library ------------------------------------------------------------------------------------


@pytest.fixture
def library(tmp_path, monkeypatch):
    """Mauve is kept: both strips of one pot, and the left strip of another photo."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWATCHCAM_LIBRARY", "halm.sqlite")
    said = ("--shade", "mauve", "--batch", "1", "--cloth", "cotton")
    for strip, mark in (("left", "A"), ("right", "B")):
        assert say("keep", SMEARED, "--strip", strip, "--mark", mark, *said).exit_code == 0
    return tmp_path


def test_a_shade_stands_with_all_strips_of_its_last_pot(library):
    done = say("check", ONE_MORE, "--shade", "mauve", "--judge", "pot")
    assert done.exit_code == DIFFERENT
    assert done.stdout.startswith("DIFFERENT SHADE: the shade differs by ")
    assert "and 1 other strip of that pot" in done.stdout
    facts = told("check", ALL_MORE, "--shade", "mauve", "--strip", "left", "--strip", f"{ONE_MORE}:left")
    assert facts["pots"]["strips"] == {"reference": 2, "sample": 2}
    assert facts["pots"]["films"]["pots"] == 1
    assert facts["pots"]["films"]["strips"] == 2
    numbers = say("check", ALL_MORE, "--shade", "mauve", "--numbers").stdout
    assert "judging from 2 strips of 1 pot." in numbers


def test_the_shade_says_whose_verdict_counts_unless_it_is_asked_for(library):
    assert (
        say("check", ALL_MORE, "--shade", "mauve").exit_code
        == say("check", ALL_MORE, "--shade", "mauve", "--judge", "strips").exit_code
    )
    done = say("shade", "set", "mauve", "--judge", "pot")
    assert done.exit_code == 0
    assert "Shade 'mauve' is now judged by the pot." in done.stdout
    assert told("check", ALL_MORE, "--shade", "mauve")["judged"] == "pot"
    assert told("check", ALL_MORE, "--record", "1")["judged"] == "pot"
    assert told("check", ALL_MORE, "--shade", "mauve", "--judge", "strips")["judged"] == "strips"
    # No shade is asked, so none says it.
    assert told("check", ALL_MORE)["judged"] == "strips"
    assert say("undo").exit_code == 0
    number = next(line.split()[0] for line in say("undo").stdout.splitlines() if "judged" in line)
    assert say("undo", number).exit_code == 0
    assert told("check", ALL_MORE, "--shade", "mauve")["judged"] == "strips"


def test_weighed_strips_tell_strength_from_film(library):
    assert say("record", "1", "--coat", "0.940 g on 10x10 cm").exit_code == 0
    assert say("record", "2", "--coat", "1.070 g on 10x10 cm").exit_code == 0
    blind = told("check", ALL_MORE, "--shade", "mauve")["pots"]["split"]
    weighed = told("check", ALL_MORE, "--shade", "mauve", "--coat", "0.980 g on 10x10 cm")["pots"]
    assert width(weighed["split"]["pot_strength"]) < 0.5 * width(blind["pot_strength"])
    low, high = weighed["split"]["pot_strength"]["interval95_percent"]
    assert low <= 20 <= high  # 20 % more of every pigment


# --- refused ------------------------------------------------------------------------------------------------

REFUSED = {
    "a strip against itself": (
        (SMEARED, "--against", "right"),
        "A strip can't be compared with itself.",
        "Name two different strips",
    ),
    "one of several against itself": (
        (SMEARED, "--strip", "left", "--strip", "right", "--against", f"{ONE_MORE}:left", "--against", "left"),
        "A strip can't be compared with itself.",
        "Name two different strips",
    ),
    "all strips on one side": ((SMEARED, "--strip", "left", "--strip", "right"), "has no second strip", "target"),
    "a coat without a kept strip": (
        (SMEARED, "--coat", "0.72 g on 10x10 cm"),
        "A weight of ink helps only if the other strip was weighed too.",
        "--shade",
    ),
    "a coat that is none": (
        (SMEARED, "--shade", "mauve", "--coat", "much"),
        "'much' can't be read as a weight of ink",
        "0.72 g on",
    ),
    "no such strip": ((SMEARED, "--strip", "right", "--strip", "middle"), "no strip called 'middle'", "left, right"),
    "no such strip there": ((SMEARED, "--against", f"{ONE_MORE}:top"), "no strip called 'top'", "left, right"),
    "a strip named twice": ((SMEARED, "--strip", "left", "--strip", f"{SMEARED}:left"), "left", "once"),
    "one of theirs named twice": (
        (SMEARED, "--against", f"{ONE_MORE}:left", "--against", f"{ONE_MORE}:left"),
        "one_more.jpg:left",
        "once",
    ),
    "no strip and no photo": ((SMEARED, "--against", ":left"), "no strip called ':left'", "left, right"),
    "a pot against numbers": (
        (SMEARED, "--target", "60,33,-7", "--judge", "pot"),
        "only against another pot's strips",
        "Leave out --judge pot",
    ),
}


def test_a_strip_in_a_photo_that_is_not_there_is_said_to_be_so():
    done = say("check", SMEARED, "--against", "gone.jpg:left")
    assert done.stderr.startswith("gone.jpg: There is no such file.")


@pytest.mark.parametrize("wrong", REFUSED)
def test_what_cannot_be_compared_is_refused_in_two_lines(wrong):
    words, problem, remedy = REFUSED[wrong]
    first, second = refused("check", *words)
    assert problem in first
    assert remedy in second
    assert told("check", *words)["refused"]["kind"] == "UsageError"


def test_weights_must_be_as_many_as_strips(library):
    coat = ("--coat", "0.98 g on 10x10 cm")
    problem, remedy = refused("check", ALL_MORE, "--shade", "mauve", "--strip", "left", "--strip", "right", *coat)
    assert problem == "You gave 1 weight of ink for 2 strips."
    assert "--coat" in remedy


def test_the_same_strip_of_a_copied_photo_is_another_strip(tmp_path):
    copy = shutil.copy(SMEARED, tmp_path / "again.jpg")
    facts = told("check", SMEARED, "--against", f"{copy}:right")
    assert facts["difference"]["ciede2000"] == 0
    assert facts["verdict"] == "same"


@pytest.mark.parametrize("judge", ["ink", "POTS", ""])
def test_only_strips_or_pot_can_judge(judge):
    done = say("check", SMEARED, "--judge", judge)
    assert done.exit_code == WRONG_USE
    assert "strips" in done.stderr
    assert "Traceback" not in done.output
