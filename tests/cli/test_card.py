"""`swatchcam card show` and `card import`, and how any command says no."""

from __future__ import annotations

import json
import subprocess
import sys

import click
import numpy as np
import pytest
from click.testing import CliRunner

from swatchcam import __version__
from swatchcam.cards.choice import choose_values
from swatchcam.cards.design import designs
from swatchcam.cards.values import nominal_values
from swatchcam.cli import COMMANDS, main
from swatchcam.cli.groups import LazyGroup, RefusingGroup, json_option
from swatchcam.errors import CardError, PhotoError, UsageError
from swatchcam.messages.surface import TERMINAL
from tests.paths import HOME
from tests.report.typed import check_printed
from tests.worlds.many_printers import random_printer
from tests.worlds.printer_profile import output_profile

FOLDER = HOME


pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def readings(tmp_path):
    path = tmp_path / "readings.csv"
    lab = nominal_values(designs()["a5"]).lab
    rows = [f"{name},{values[0]:.3f},{values[1]:.3f},{values[2]:.3f}" for name, values in lab.items()]
    path.write_text("Illuminant,D65\nObserver,10\nname,L,a,b\n" + "\n".join(rows), encoding="utf-8")
    return path


def run(*words):
    result = CliRunner().invoke(main, [str(word) for word in words])
    check_printed(words, result)
    return result


TAKE = ("--card-name", "halm-1", "--geometry", "45/0", "--date", "2026-01-31")


# Help


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from swatchcam.cli import main\n"
        "try: main(['--help'], prog_name='swatchcam')\n"
        "finally: print(sorted({'numpy', 'cv2', 'colour', 'scipy', 'PIL', 'skimage', 'reportlab'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=FOLDER, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert done.stdout.startswith("Usage: swatchcam")
    assert done.stderr == ""


@pytest.mark.parametrize("words", [(), ("card",), ("card", "show"), ("card", "import")])
@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_every_help_has_an_example(words, flag):
    result = run(*words, flag)
    assert result.exit_code == 0
    assert "Example" in result.stdout
    assert f"swatchcam {' '.join(words)}".strip() in result.stdout


def test_a_command_takes_both_spellings_of_help_after_the_handbook_has_listed_it():
    code = (
        "from swatchcam.cli import main; from swatchcam.handbook.reference import commands_reference\n"
        "commands_reference(main); main(['card', 'show', '-h'], prog_name='swatchcam')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=FOLDER, check=True)
    assert done.stdout.startswith("Usage: swatchcam card show")
    assert "-h, --help" in done.stdout


def test_defaults_are_shown():
    result = run("card", "import", "--help")
    for default in ("[default: a5]", "0.5]", "[default: what the"):
        assert default in " ".join(result.stdout.split())


def test_version():
    assert run("--version").stdout == f"swatchcam, version {__version__}\n"


def test_a_command_that_is_not_installed_is_left_out_of_the_help():
    group = LazyGroup("x", lazy={"gone": "swatchcam.cli.no_such_module:gone", "card": COMMANDS["card"]})
    result = CliRunner().invoke(group, ["--help"])
    assert result.exit_code == 0
    assert "card" in result.stdout
    assert "gone" not in result.stdout
    assert CliRunner().invoke(group, ["gone"]).exit_code == 2


def test_a_command_that_cannot_import_what_it_needs_is_not_hidden(tmp_path, monkeypatch):
    (tmp_path / "broken_command.py").write_text("import no_such_library_here\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    result = CliRunner().invoke(LazyGroup("x", lazy={"broken": "broken_command:broken"}), ["broken"])
    assert isinstance(result.exception, ModuleNotFoundError)


# Refusals


def refusing(error):
    @click.group(cls=RefusingGroup)
    def group():
        pass

    @group.command()
    @json_option
    def go(as_json):
        raise error

    return group


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (CardError("It is torn.", "Print another."), 3),
        (PhotoError("It is dark.", "Shoot again."), 3),
        (UsageError("No card.", "Name one."), 2),
    ],
)
def test_a_refusal_is_two_lines_on_stderr_or_one_object_on_stdout(error, code):
    plain = CliRunner().invoke(refusing(error), ["go"])
    assert (plain.exit_code, plain.stdout) == (code, "")
    assert plain.stderr == f"{TERMINAL.problem(error)}\n{error.remedy}\n"
    told = CliRunner().invoke(refusing(error), ["go", "--json"])
    assert (told.exit_code, told.stderr) == (code, "")
    assert json.loads(told.stdout) == {
        "refused": error.as_json() | {"problem": TERMINAL.problem(error), "next": TERMINAL.remedy(error)}
    }


def test_a_fault_is_not_dressed_up_as_a_refusal():
    result = CliRunner().invoke(refusing(ZeroDivisionError("oops")), ["go", "--json"])
    assert (result.exit_code, result.stdout) == (1, "")
    assert isinstance(result.exception, ZeroDivisionError)


def test_wrong_options_are_usage_errors():
    assert run("card", "show", "--illuminant", "F11").exit_code == 2
    assert run("card", "import", "x.csv").exit_code == 2
    assert run("nonsense").exit_code == 2


# card show


def test_show_without_a_card_says_what_a_measurement_would_use():
    result = run("card", "show")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0] == "Card 'nominal', design a5 (A5 card, two windows)"
    assert "never measured" in result.stdout
    assert [line.split()[0] for line in lines[-69:]] == list(nominal_values(designs()["a5"]).lab)
    assert lines[-69].split()[1:4] == ["255", "3", "83"]
    assert lines[-1].split() == ["paper", "bare", "stock", "96.00", "0.00", "0.00"]


def test_show_as_one_object():
    result = run("card", "show", "--json", "--illuminant", "D50", "--observer", "2", "--design", "a4")
    told = json.loads(result.stdout)
    assert (told["design"], told["grade"], told["illuminant"], told["observer"]) == ("a4", "nominal", "D50", 2)
    assert told["uncertainty"]["unit"] == "CIEDE2000"
    assert told["patches"][0]["srgb"] == [255, 3, 83]
    expected = nominal_values(designs()["a4"], "D50", 2).lab["A1"]
    assert told["patches"][0]["lab"] == pytest.approx(expected, abs=5e-5)
    assert (told["patches"][-1]["name"], told["patches"][-1]["srgb"]) == ("paper", None)


def test_show_refuses_what_is_not_there():
    result = run("card", "show", "halm-9")
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr == (
        "There are no card values called 'halm-9'.\n"
        "Check the spelling. These cards are known: sample-card; and nominal, the colours as sent to the printer.\n"
    )
    assert run("card", "show", "--design", "a9").exit_code == 2
    assert json.loads(run("card", "show", "--json", "halm-9").stdout)["refused"]["kind"] == "CardError"


# card values


def test_readings_are_taken_over_and_shown(own_folder, readings):
    result = run("card", "import", readings, *TAKE)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == (
        "Imported 69 colours for card 'halm-1' (design a5).\n"
        f"They are for D65/10° and are saved in {own_folder / 'halm-1.csv'}.\n"
        "The file holds no spectra: for another light or observer these colours can only be estimated.\n"
    )
    for words in (("card", "show"), ("card", "show", "halm-1")):
        assert run(*words).stdout.startswith("Card 'halm-1', design a5")
    told = json.loads(run("card", "show", "halm-1", "--json").stdout)
    assert (told["grade"], told["date"], told["geometry"]) == ("measured", "2026-01-31", "45/0")
    assert told["source"] == "instrument, readings.csv"


def test_taking_over_as_one_object(readings):
    told = json.loads(run("card", "import", readings, *TAKE, "--uncertainty", "0.8", "--json").stdout)
    assert (told["card"], told["uncertainty"]["value"], len(told["patches"])) == ("halm-1", 0.8, 69)


def test_what_is_wrong_is_told_line_by_line_and_nothing_is_written(own_folder, readings):
    text = readings.read_text(encoding="utf-8").replace("\nB1,", "\nBI,")
    readings.write_text(text, encoding="utf-8")
    result = run("card", "import", readings, "--card-name", "halm-1")
    assert (result.exit_code, result.stdout) == (3, "")
    assert result.stderr.splitlines() == [
        f"The readings in {readings} were not imported:",
        "  - the file does not say the geometry: look in the instrument's settings, or ask whoever read the card, and"
        " give it with --geometry",
        "  - the file does not say the date: give the day when it was read with --date, written year-month-day",
        "  - 'BI' is not a patch of design 'a5' (is 'B1' meant?)",
        "  - patch B1 is missing",
        "Nothing was written. Correct the file or the command, or take the readings again.",
    ]
    assert not own_folder.exists()


def test_replacing_and_averaging_from_the_command_line(own_folder, readings):
    with readings.open("a", encoding="utf-8") as file:
        file.write("\npaper,96.5,0,0\n")
    assert run("card", "import", readings, *TAKE).exit_code == 3
    assert run("card", "import", readings, *TAKE, "--average").exit_code == 0
    assert run("card", "import", readings, *TAKE, "--average").exit_code == 3
    assert run("card", "import", readings, *TAKE, "--average", "--replace").exit_code == 0
    assert len(list((own_folder / "replaced").iterdir())) == 1


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ("chek", "check"),
        ("crad print", "card"),
        ("library bakup", "backup"),
        ("mix recipee", "recipe"),
        ("card lern", "learn"),
        ("recipe", "mix recipe"),
        ("predictions", "mix predictions"),
    ],
)
def test_a_mistyped_command_is_answered_with_the_one_that_was_meant(words, meant):
    done = CliRunner().invoke(main, words.split())
    assert done.exit_code == 2
    assert f"Did you mean '{meant}'?" in done.stderr


# From a printer's profile


@pytest.fixture(scope="module")
def press(tmp_path_factory):
    path = tmp_path_factory.mktemp("profile") / "press.icc"
    path.write_bytes(output_profile(random_printer(np.random.default_rng(18)), "RGB ", name="Halm press, matt"))
    return path


def test_a_profile_becomes_the_values_of_a_print(press):
    result = run("card", "import", press, "--card-name", "halm-9", "--print", "0482 1093", "--design", "a6")
    assert result.exit_code == 0, result.stderr
    assert "take the PDF as sRGB, convert it to this profile" in result.stdout
    assert "relative colorimetric, black point compensation off" in result.stdout
    shown = json.loads(run("card", "show", "halm-9", "--json").stdout)
    assert (shown["grade"], shown["design"]) == ("profile", "a6")
    assert choose_values(designs()["a6"], None, "D65", 10, "04821093").name == "halm-9"


def test_a_profile_printed_without_colour_management_says_so(press):
    result = run("card", "import", press, "--card-name", "halm-9", "--intent", "none")
    assert "Print it with colour management off" in result.stdout


def test_what_belongs_to_readings_is_refused_for_a_profile_and_the_other_way_round(press, readings):
    result = run("card", "import", press, "--card-name", "halm-9", "--illuminant", "D50", "--average")
    assert result.exit_code == 2
    assert "--illuminant and --average can't be used" in result.stderr
    result = run("card", "import", readings, *TAKE, "--black-point")
    assert result.exit_code == 2
    assert "--black-point can only be used with a printer's profile" in result.stderr


def test_a_profile_says_its_own_uncertainty_unless_told(press, own_folder):
    run("card", "import", press, "--card-name", "halm-9", "--uncertainty", "1.5")
    run("card", "import", press, "--card-name", "halm-10")
    assert "# uncertainty: 1.5\n" in (own_folder / "halm-9.csv").read_text(encoding="utf-8")
    assert "# uncertainty: 2.8\n" in (own_folder / "halm-10.csv").read_text(encoding="utf-8")


def test_how_a_card_was_read_is_kept(own_folder, readings):
    sphere = ("--geometry", "d/8", "--specular", "excluded", "--condition", "M1", "--date", "2026-01-31")
    done = run("card", "import", readings, "--card-name", "halm-1", *sphere, "--json")
    told = json.loads(done.stdout)
    assert (told["geometry"], told["specular"], told["condition"]) == ("d/8", "excluded", "M1")


def test_a_sphere_is_asked_for_its_gloss_and_no_other_geometry_is_taken(own_folder, readings):
    for geometry, told in (
        ("d/8", "give --specular included (SCI), excluded (SCE), or unknown"),
        ("banana", "45/0, 0/45"),
    ):
        settings = ("--geometry", geometry, "--date", "2026-01-31")
        result = run("card", "import", readings, "--card-name", "halm-1", *settings)
        assert (result.exit_code, told in result.stderr) == (3, True)
