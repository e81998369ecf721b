"""`swatchcam opacity`: one film over light and over dark cloth, in a photo or from the library."""

from __future__ import annotations

import json
import shlex
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.cli.groups import RefusingGroup
from swatchcam.cli.opacity import opacity
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, WET, State
from swatchcam.library.save import Entry, keep_record
from swatchcam.measurement import measure as measuring
from swatchcam.mixing.opacity import CRITERION
from tests.cli import keyboard
from tests.worlds.inks import strip_reflectance
from tests.worlds.sample_photos import FILM, GROUNDS, OCHRE, path_of, read_truth
from tests.worlds.spectra import difference, illuminant, weights

DONE, WRONG_USE, REFUSED = 0, 2, 3
PHOTO = f"{path_of('two_cloths')} --card sample-card"
BARE = "--bare-light beside-1 --bare-dark beside-2"
PLACES = {"over_light": "left", "over_dark": "right", "light_cloth": "beside-1", "dark_cloth": "beside-2"}
MAIN = RefusingGroup("swatchcam", lazy={"opacity": "swatchcam.cli.opacity:opacity"})
Y = weights(illuminant("D65"), 10)[:, 1]


@pytest.fixture(scope="module", autouse=True)
def measured_once():
    """Measuring the same photo again gives the same: it is done once for each way."""
    real = measuring.measure

    @cache
    def known(path, card, beside):
        return real(path, card, beside=beside)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(measuring, "measure", lambda path, card=None, *, beside=False, **_: known(path, card, beside))
        yield known


@pytest.fixture(scope="module")
def shelf(tmp_path_factory, measured_once):
    """A library with the four strips of the photo (1 to 4), a wet one (5), and one of another batch (6)."""
    place = str(tmp_path_factory.mktemp("shelf") / "halm.sqlite")
    library, photo = open_library(place, create=True), measured_once(str(path_of("two_cloths")), "sample-card", True)
    rows = [
        ("left", "ochre", "cotton, white", DRY), ("right", "ochre", "cotton, black", DRY),
        ("beside-1", "bare white", "cotton, white", DRY), ("beside-2", "bare black", "cotton, black", DRY),
    ]  # fmt: skip
    for window, shade, cloth, state in rows:
        keep_record(library, photo, window, Entry(shade, "B1", state, cloth=cloth, measured="2026-03-01"))
    again = measured_once(str(path_of("good_pair")), "sample-card", False)
    for window, batch, state in (("left", "B1", State(WET)), ("right", "B2", DRY)):
        entry = Entry("ochre", batch, state, cloth="cotton, black", measured="2026-03-02")
        keep_record(library, again, window, entry)
    return f"--library {place}"


def type_in(words):
    return keyboard.type_in(["opacity", *keyboard.split(words)])


def answer(words):
    return json.loads(type_in(f"{words} --json").stdout)


def refused(words, code=WRONG_USE):
    return keyboard.refused(["opacity", *keyboard.split(words)], code)


# --- a photo ------------------------------------------------------------------------------------------------


def test_the_photo_is_judged_and_the_sentence_comes_first():
    done = type_in(f"{PHOTO} {BARE}")
    assert done.exit_code == DONE
    lines = done.stdout.splitlines()
    assert lines[0].startswith("Not opaque, even in two passes: contrast ratio 0.1")
    assert [line.split("contrast")[0].strip() for line in lines[2:5]] == ["1 pass", "2 passes", "3 passes"]
    assert [line.split()[-1] for line in lines[6:]] == list(PLACES.values())


def test_the_intervals_hold_the_ratios_that_were_drawn():
    for each in answer(f"{PHOTO} {BARE}")["passes"]:
        light, dark = (strip_reflectance(OCHRE, each["passes"] * FILM, ground) @ Y for ground in GROUNDS)
        assert each["interval95"][0] <= dark / light <= each["interval95"][1]


def test_the_colours_are_those_that_were_drawn():
    measured, truth = answer(f"{PHOTO} {BARE}")["measured"], read_truth()["two_cloths"]
    assert {place: colour["what"] for place, colour in measured.items()} == PLACES
    for colour in measured.values():
        lab = np.array([colour["L"], colour["a"], colour["b"]])
        assert float(difference(lab, truth[colour["what"]])) <= colour["interval95_ciede2000"]


def test_without_the_bare_cloths_a_second_pass_cannot_be_told():
    done = type_in(PHOTO)
    assert done.exit_code == DONE
    assert "measure both cloths bare too" in done.stdout
    facts = answer(PHOTO)
    assert (facts["verdict"], list(facts["measured"])) == ("cannot-tell", ["over_light", "over_dark"])


def test_an_easier_criterion_is_met():
    assert type_in(f"{PHOTO} --criterion 0.1").exit_code == DONE
    assert answer(f"{PHOTO} --criterion 0.1")["verdict"] == "covers"


def test_the_usual_criterion_is_that_of_the_library():
    assert {option.name: option.default for option in opacity.params}["criterion"] == CRITERION


# --- the library --------------------------------------------------------------------------------------------


def test_records_tell_the_same_as_their_photo(shelf):
    kept, seen = answer(f"--records 1 2 --bare-records 3 4 {shelf}"), answer(f"{PHOTO} {BARE}")
    assert kept["verdict"] == seen["verdict"]
    for one, other in zip(kept["passes"], seen["passes"], strict=True):
        assert one["contrast_ratio"] == pytest.approx(other["contrast_ratio"], abs=2e-3)
    assert kept["measured"]["over_dark"]["what"].startswith("record 2 (ochre, batch B1, air-dried")


def test_two_records_alone_are_enough_for_one_pass(shelf):
    assert type_in(f"--records 1 2 {shelf}").exit_code == DONE


# --- what is wrong ------------------------------------------------------------------------------------------

WRONG = {
    "": ("You gave neither a photo nor records.", "--records LIGHT DARK"),
    f"{PHOTO} --records 1 2": ("You gave both a photo and records.", "Give one"),
    f"{PHOTO} --bare-records 3 4": ("You gave both a photo and records.", "Give one"),
    "--records 1 2 --over-light left": ("You named strips of a photo", "--bare-records"),
    f"{PHOTO} --over-light right --over-dark left": ("The ink is lighter over dark cloth", "which strip is which"),
    f"{PHOTO} --over-light right": ("named twice", "right, right"),
    f"{PHOTO} --over-dark middle": ("no strip called 'middle'", "left, right"),
    f"{PHOTO} --bare-dark beside-2": ("Only one of the two cloths", "Measure both bare"),
    f"{PHOTO} --bare-light beside-2 --bare-dark beside-1": ("too alike", "Give the dark one first"),
    f"{PHOTO} --criterion 98": ("A contrast ratio of 98", "such as 0.98"),
    f"{PHOTO} --criterion much": ("--criterion: 'much' can't be read as a number", "2.5"),
    f"{PHOTO} --criterion nan": ("--criterion: 'nan' can't be read as a number", "2.5"),
}


@pytest.mark.parametrize("words", WRONG)
def test_what_is_wrong_is_told_in_two_lines(words):
    problem, remedy = refused(words)
    assert WRONG[words][0] in problem
    assert WRONG[words][1] in remedy


OF_RECORDS = {
    "--records 1 5": "wet strip",
    "--records 1 6": "not from one batch",
    "--records 2 1": "The ink is lighter over dark cloth",
    "--records 1 99": "There is no record 99.",
    "--records 1 2 --bare-records 4 3": "The bare cloth is noted as",
}


@pytest.mark.parametrize("words", OF_RECORDS)
def test_records_that_do_not_belong_together_are_refused(shelf, words):
    assert OF_RECORDS[words] in refused(f"{words} {shelf}")[0]


def test_a_photo_without_a_card_is_refused_with_3():
    assert refused(f"{path_of('bad_no_card')} --card sample-card", REFUSED)[0] == "No card can be seen in the photo."


def test_where_there_is_no_library_none_is_made(tmp_path):
    assert "no library yet" in refused(f"--records 1 2 --library {tmp_path}/nowhere.sqlite", REFUSED)[0]
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("words", ["--records 1", "--records a b", "--records 0 1", "--colour red"])
def test_what_cannot_be_read_as_a_command_is_wrong_use(words):
    done = type_in(f"{words} {PHOTO}")
    assert (done.exit_code, done.stdout) == (WRONG_USE, "")
    assert "Usage: " in done.stderr


def test_help_has_examples_that_can_be_typed():
    told = type_in("--help").stdout
    examples = [line.strip() for line in told.splitlines() if line.strip().startswith("swatchcam opacity")]
    assert len(examples) == 3
    for example in examples:
        opacity.make_context("opacity", shlex.split(example)[2:])  # raises where an option is none


# --- whatever is typed --------------------------------------------------------------------------------------

SENSIBLE = {
    "--light": ("left", "right"), "--dark": ("right", "beside-2"), "--bare-light": ("beside-1", "left"),
    "--bare-dark": ("beside-2",), "--criterion": ("0.98", "0.1", "0"), "--card": ("sample-card", "nominal"),
    "--records": ("1", "2"), "--bare-records": ("3",), "--library": ("nowhere.sqlite",),
}  # fmt: skip
ODD = (
    "",
    " ",
    "-",
    "--",
    "-1",
    "nan",
    "inf",
    "1e999",
    "9" * 400,
    "½",
    "\u202e",
    "\n",
    "x" * 300,
    "/dev/null",
    "..",
    ":",
)


@st.composite
def typed(draw):
    """Options of the command, mostly sensible, some odd."""
    characters = st.characters(exclude_characters="\0", exclude_categories=["Cs"])
    anything = st.one_of(st.sampled_from(ODD), st.text(characters, max_size=12))
    given = draw(st.sampled_from([[str(path_of("two_cloths")), "--card", "sample-card"], [], [draw(anything)]]))
    for option in draw(st.lists(st.sampled_from(sorted(SENSIBLE)), max_size=4)):
        usual = st.sampled_from(SENSIBLE[option])
        values = 2 if option.endswith("records") else 1
        given = [*given, option, *(draw(st.one_of(usual, usual, anything)) for _ in range(values))]
    return given + draw(st.sampled_from([[], ["--json"]]))


@given(typed())
@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_any_words_get_an_answer(tmp_path_factory, words):
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path_factory.getbasetemp())
        done = type_in(words)
    assert done.exit_code in (DONE, WRONG_USE, REFUSED)
    if done.stdout.startswith("{"):
        facts = json.loads(done.stdout, parse_constant=pytest.fail)
        assert ("refused" in facts) == (done.exit_code in (WRONG_USE, REFUSED))
    assert done.stdout.strip() or done.stderr.strip()
