"""`swatchcam measure` and `swatchcam check`: words, numbers for programs, pictures, exit codes."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from swatchcam.cli import main
from swatchcam.measurement.check import split_photo
from swatchcam.measurement.measure import measure
from swatchcam.report.overlay import draw
from tests.report.typed import check_printed
from tests.worlds.scene import ink, render, write_jpeg
from tests.worlds.spectra import difference

SAME, WRONG_USE, REFUSED, DIFFERENT, TOO_CLOSE = 0, 2, 3, 4, 5

pytestmark = pytest.mark.usefixtures("remembered")


@pytest.fixture(scope="module")
def swatchcam(values_path):
    """Words of a command -> its result; the card's values are added."""

    def run(*words, card=True):
        typed = [*map(str, words), *(["--card", str(values_path)] if card else [])]
        result = CliRunner().invoke(main, typed)
        check_printed(typed, result)
        return result

    return run


@pytest.fixture(scope="module")
def measured(fair, values_path):
    return measure(str(fair.path), str(values_path))


@pytest.fixture(scope="module")
def far_apart(plain_scene, tmp_path_factory):
    """A photo of two inks that nobody would take for one."""
    scene = replace(plain_scene, windows={"left": ink({"green": 0.5}), "right": ink({"red": 0.8})})
    return write_jpeg(render(scene, (1200, 900)), tmp_path_factory.mktemp("far") / "far_apart.jpg")


@pytest.fixture(scope="module")
def empty_desk(tmp_path_factory):
    """A photo without a card."""
    noise = np.random.default_rng(1).integers(90, 160, (750, 1000, 3), dtype=np.uint8)
    path = tmp_path_factory.mktemp("desk") / "desk.jpg"
    Image.fromarray(cv2.GaussianBlur(noise, (0, 0), 4)).save(path)
    return path


def one_object(result):
    """stdout as JSON: one object and nothing else."""
    assert result.stdout.startswith("{")
    assert result.stdout.rstrip().endswith("}")
    return json.loads(result.stdout)


# --- measure ------------------------------------------------------------------------------------------------


def test_measure_prints_the_colours_and_what_they_rest_on(swatchcam, fair, measured):
    done = swatchcam("measure", fair.path)
    assert done.exit_code == 0
    assert done.stderr == ""
    lines = done.stdout.splitlines()
    for colour in measured.colours:
        line = next(line for line in lines if line.strip().startswith(colour.name))
        for number in (*colour.lab, colour.radius):
            assert f"{number:.2f}" in line
    assert "card values measured with an instrument" in lines[0]
    assert "D65, 10° observer" in lines[0]
    assert sum(line.strip().startswith("!") for line in lines) == len(measured.flags) + sum(
        len(colour.strip.flags) for colour in measured.colours
    )


def test_measure_as_json_is_one_object(swatchcam, fair, measured):
    done = swatchcam("measure", fair.path, "--json")
    assert done.exit_code == 0
    assert done.stderr == ""
    facts = one_object(done)
    assert [d["name"] for d in facts["strips"]] == ["left", "right"]
    assert facts["strips"][0]["L"] == round(measured.colours[0].lab[0], 2)
    assert facts["photo"]["sha256"] == measured.photo.digest
    assert [(each["code"], each["facts"]) for each in facts["flags"]] == [
        (each.code, each.facts) for each in measured.flags
    ]


def test_measure_can_be_asked_for_another_light(swatchcam, fair):
    facts = one_object(swatchcam("measure", fair.path, "--json", "--illuminant", "D50", "--observer", "2"))
    assert facts["conditions"] == {"illuminant": "D50", "observer_deg": 2, "space": "CIELAB"}


def test_without_values_nothing_absolute_is_claimed(swatchcam, fair):
    done = swatchcam("measure", fair.path, card=False)
    assert done.exit_code == 0
    assert done.stdout.count("never measured") == 2  # on the card's line, and what it is good for
    assert "use it to compare strips" in done.stdout


# --- check --------------------------------------------------------------------------------------------------


def test_the_two_windows_are_judged_right_against_left(swatchcam, fair):
    true = difference(fair.shot.truth["right"], fair.shot.truth["left"])
    for tolerance, code, word in (
        (true + 2, SAME, "same"),
        (0.1, DIFFERENT, "different"),
        (true, TOO_CLOSE, "too close"),
    ):
        done = swatchcam("check", fair.path, "--tolerance", f"{tolerance:.3f}")
        assert done.exit_code == code
        assert done.stdout.startswith(word.upper())
        assert "right compared with left: CIEDE2000" in done.stdout
        assert done.stderr == ""


def test_the_words_tell_which_way_the_ink_went(swatchcam, fair):
    # The right one has more yellow.
    told = one_object(swatchcam("check", fair.path, "--json"))["difference"]
    true = fair.shot.truth["right"] - fair.shot.truth["left"]
    assert told["delta_L"] == pytest.approx(true[0], abs=0.3)
    assert "yellower" in told["words"]
    low, high = told["interval95"]
    assert low <= told["ciede2000"] <= high


def test_unlike_inks_are_different_at_the_usual_tolerance(swatchcam, far_apart):
    done = swatchcam("check", far_apart, "--json")
    assert done.exit_code == DIFFERENT
    facts = one_object(done)
    assert (facts["verdict"], facts["tolerance"]) == ("different", 2.0)
    assert facts["difference"]["ciede2000"] > 20


@pytest.mark.parametrize("window", ["left", "right"])
def test_a_target_is_judged(swatchcam, fair, measured, window):
    lab = measured.colour(window).lab
    near = ",".join(f"{value:.2f}" for value in lab)
    facts = one_object(swatchcam("check", fair.path, "--json", "--strip", window, "--target", near))
    assert facts["difference"]["ciede2000"] < 0.02
    assert facts["difference"]["sample"] == window
    assert facts["difference"]["reference"] == "target"
    assert facts["difference"]["interval95"][0] == 0
    far = swatchcam("check", fair.path, "--strip", window, "--target", "30,0,-40")
    assert far.exit_code == DIFFERENT
    wide = swatchcam("check", fair.path, "--strip", window, "--target", near, "--tolerance", "15")
    assert wide.exit_code == SAME


def test_another_photo_is_judged_window_by_window(swatchcam, fair, far_apart, measured):
    facts = one_object(swatchcam("check", far_apart, "--json", "--against", fair.path))
    assert facts["difference"]["sample"] == "right"
    assert facts["difference"]["reference"] == f"{fair.path.name}:right"
    assert facts["reference_photo"]["photo"]["sha256"] == measured.photo.digest
    other = one_object(swatchcam("check", far_apart, "--json", "--against", f"{fair.path}:left"))
    assert other["difference"]["reference"] == f"{fair.path.name}:left"
    itself = swatchcam("check", fair.path, "--against", f"{fair.path}:right")
    assert itself.exit_code == WRONG_USE
    assert "can't be compared with itself" in itself.stderr
    text = swatchcam("check", far_apart, "--against", fair.path, "--numbers").stdout
    assert str(far_apart) in text
    assert str(fair.path) in text


# --- refusals -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["measure", "check"])
def test_a_refused_photo_gets_two_lines_on_stderr(swatchcam, empty_desk, command):
    done = swatchcam(command, empty_desk)
    assert done.exit_code == REFUSED
    assert done.stdout == ""
    problem, remedy = done.stderr.splitlines()
    assert problem == "No card can be seen in the photo."
    assert remedy.startswith("Lay the printed card flat")


@pytest.mark.parametrize("command", ["measure", "check"])
def test_a_refusal_as_json_is_one_object_too(swatchcam, empty_desk, command):
    done = swatchcam(command, empty_desk, "--json")
    assert done.exit_code == REFUSED
    assert done.stderr == ""
    refused = one_object(done)["refused"]
    assert refused["kind"] == "FindError"
    assert refused["problem"] == "No card can be seen in the photo."


def test_a_missing_photo_is_refused(swatchcam, tmp_path):
    done = swatchcam("measure", tmp_path / "gone.jpg")
    assert done.exit_code == REFUSED
    assert "There is no such file." in done.stderr
    assert "Traceback" not in done.output


def test_a_file_that_is_no_picture_is_refused(swatchcam, values_path):
    done = swatchcam("measure", values_path)
    assert done.exit_code == REFUSED
    assert len(done.stderr.splitlines()) == 2


WRONG = {
    "target of two": (["--target", "41,38"], "is not three numbers", "L,a,b"),
    "target of words": (["--target", "dark,red,ish"], "is not three numbers", "L,a,b"),
    "target nan": (["--target", "nan,0,0"], "is not three numbers", "L,a,b"),
    "target too light": (["--target", "140,0,0"], "not a colour that a surface can have", "between 0 and 100"),
    "target too vivid": (["--target", "50,200,0"], "not a colour that a surface can have", "between -140 and 140"),
    "no such window": (["--strip", "middle"], "no strip called 'middle'", "Choose one of: left, right"),
    "tolerance zero": (["--tolerance", "0"], "A tolerance of 0 makes no sense", "above 0"),
    "tolerance negative": (["--tolerance", "-1"], "A tolerance of -1 makes no sense", "above 0"),
    "tolerance nan": (["--tolerance", "nan"], "--tolerance: 'nan' can't be read as a number", "2.5"),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_wrong_use_is_told_in_two_lines(swatchcam, fair, wrong):
    words, problem, remedy = WRONG[wrong]
    done = swatchcam("check", fair.path, *words)
    assert done.exit_code == WRONG_USE
    assert done.stdout == ""
    assert problem in done.stderr.splitlines()[0]
    assert remedy in done.stderr.splitlines()[1]
    asked = swatchcam("check", fair.path, *words, "--json")
    assert asked.exit_code == WRONG_USE
    assert one_object(asked)["refused"]["kind"] == "UsageError"


def test_target_and_other_photo_at_once_are_one_too_many(swatchcam, fair):
    done = swatchcam("check", fair.path, "--target", "50,0,0", "--against", fair.path)
    assert done.exit_code == WRONG_USE
    assert done.stderr.splitlines()[0] == "Both --target and --against were given."


def test_an_unknown_window_of_the_other_photo_is_wrong_use(swatchcam, fair):
    done = swatchcam("check", fair.path, "--against", f"{fair.path}:middle")
    assert done.exit_code == WRONG_USE
    assert "no strip called 'middle'" in done.stderr


def test_a_tolerance_may_have_a_comma(swatchcam, fair):
    point, comma = (swatchcam("check", fair.path, "--tolerance", text, "--json") for text in ("1.25", "1,25"))
    assert json.loads(point.stdout)["tolerance"] == 1.25
    assert point.stdout == comma.stdout


def test_an_unknown_card_is_refused(swatchcam, fair):
    done = swatchcam("measure", fair.path, "--card", "no-such-card", card=False)
    assert done.exit_code == REFUSED
    assert "no card values called 'no-such-card'" in done.stderr


def test_a_colon_in_a_photos_own_name_is_part_of_it(tmp_path):
    odd = tmp_path / "ink: red.jpg"
    odd.touch()
    assert split_photo(str(odd)) == (str(odd), None)
    assert split_photo(f"{odd}:left") == (str(odd), "left")
    assert split_photo("march.jpg") == ("march.jpg", None)
    assert split_photo("C:\\photos\\march.jpg") == ("C:\\photos\\march.jpg", None)


# --- the picture --------------------------------------------------------------------------------------------


def test_the_picture_opens_and_shows_the_whole_photo_with_the_results_below(swatchcam, fair, tmp_path):
    path = tmp_path / "found.png"
    plain = swatchcam("measure", fair.path)
    done = swatchcam("measure", fair.path, "--picture", path)
    assert done.exit_code == 0
    assert done.stdout == plain.stdout
    assert str(path) in done.stderr
    with Image.open(path) as image:
        assert (image.format, image.mode) == ("PNG", "RGB")
        assert image.width == 1600
        assert image.height > 1200 + 100
        drawn = np.asarray(image)[:1200].astype(int)
    off = np.abs(drawn - fair.shot.pixels).max(axis=-1)
    # Most of the photo shows as it is; every tag has a line around it.
    assert np.median(off) < 12
    for number in range(6):
        for corner in fair.shot.corners[f"tag {number}"]:
            x, y = np.round(corner).astype(int)
            assert off[y - 3 : y + 4, x - 3 : x + 4].max() > 60


def test_the_picture_shows_the_measured_colour(measured):
    drawn = draw(measured)
    legend = drawn[1200 if drawn.shape[0] > 1200 else 0 :]
    for number, colour in enumerate(measured.colours):
        shown = legend[12 + 64 * number + 26, 80].astype(int)
        assert shown.tolist() == legend[12 + 64 * number + 10, 30].tolist()
        assert shown[0] > shown[2] + 60  # both are red
        assert colour.lab[1] > 20


def test_lines_of_equal_light_lie_where_the_light_is_so_strong(measured, monkeypatch):
    lines, labels = [], []
    monkeypatch.setattr("swatchcam.report.overlay._Pen.line", lambda pen, mm, colour: lines.append(mm))
    monkeypatch.setattr("swatchcam.report.overlay._Pen.label", lambda pen, mm, words, colour: labels.append(words))
    draw(measured)
    size, field = np.array(measured.pose.design.size_mm), measured.light.field
    every = np.stack(np.meshgrid(*(np.linspace(0, side, 200) for side in size)), axis=-1)
    brightest = field.at(every).mean(axis=-1).max()
    assert lines
    assert len(lines) == len(labels)
    for mm, words in zip(lines, labels, strict=True):
        assert f"light {np.mean(field.at(mm).mean(axis=-1)) / brightest:.0%}" == words
        assert np.ptp(field.at(mm).mean(axis=-1)) < 0.002 * brightest
        # From edge to edge, or closed.
        ends = np.minimum(mm[[0, -1]], size - mm[[0, -1]]).min(axis=1)
        assert (ends < 1e-9).all() or np.array_equal(mm[0], mm[-1])


def test_drawing_changes_neither_photo_nor_numbers(measured):
    before = measured.photo.pixels.copy(), [colour.lab for colour in measured.colours]
    assert np.array_equal(draw(measured), draw(measured))
    assert np.array_equal(measured.photo.pixels, before[0])
    assert [colour.lab for colour in measured.colours] == before[1]


def test_a_picture_goes_with_json_and_with_check(swatchcam, fair, tmp_path):
    path = tmp_path / "checked.png"
    done = swatchcam("check", fair.path, "--json", "--picture", path)
    one_object(done)
    with Image.open(path) as image:
        image.load()


@pytest.mark.parametrize("name", ["found.jpg", "nowhere/found.png"])
def test_a_picture_that_cannot_be_written_is_wrong_use(swatchcam, fair, tmp_path, name):
    done = swatchcam("measure", fair.path, "--picture", tmp_path / name)
    assert done.exit_code == WRONG_USE
    assert len(done.stderr.splitlines()) == 2
    assert not (tmp_path / name).exists()


def test_a_bare_machine_without_opencvs_libraries_is_told_what_to_install(monkeypatch):
    def cannot(*_args, **_options):
        raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory", name="cv2")

    monkeypatch.setattr("swatchcam.measurement.measure.measure", cannot)
    result = CliRunner().invoke(main, ["measure", "any.jpg"])
    assert result.exit_code == 2
    assert "Install the system packages libgl1" in result.stderr
    assert "Traceback" not in result.output
