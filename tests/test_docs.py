"""README is true: its commands, options, outputs, example and tables; so are the notes beside samples and cards."""

from __future__ import annotations

import csv
import re
from datetime import date

import click
import pytest

from swatchcam.cards.values_file import KEYS, read_sheet
from swatchcam.cli import main
from swatchcam.measurement.check import check_photo
from swatchcam.measurement.pigment_row import ROW, sheet_problems
from swatchcam.report.library_records import record_dict
from swatchcam.report.measurement import check_dict
from tests.readme_outputs import HOME, README, run, shown, told
from tests.worlds.mixing_facts import answers
from tests.worlds.sample_photos import SAMPLES, path_of
from tests.worlds.studio_records import record

TEXT = README.read_text(encoding="utf-8")
THINGS = list(told(TEXT))
NOT_OURS = {".git", ".venv", ".hypothesis", ".mypy_cache", ".pytest_cache", ".ruff_cache", "__pycache__", "dist"}


def commands(group: click.Group, words: str = "swatchcam"):
    """(words, command) of every command, groups left out."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from commands(command, f"{words} {name}")
        else:
            yield f"{words} {name}", command


COMMANDS = dict(commands(main))


@pytest.mark.parametrize("words", COMMANDS)
def test_every_command_is_in_readme_with_its_options(words):
    assert f"`{words}" in TEXT
    row = next(line for line in TEXT.splitlines() if line.startswith(f"| `{words}"))
    shared = next(line for line in TEXT.splitlines() if line.startswith("| `swatchcam measure"))
    row += shared if "| the same" in row else ""
    options = [param for param in COMMANDS[words].params if isinstance(param, click.Option)]
    spelt = {long for option in options for long in (*option.opts, *option.secondary_opts) if long.startswith("--")}
    assert spelt - {"--help"} <= set(re.findall(r"--[a-z-]+", row))


def test_readme_names_no_option_that_is_not_there():
    spelt = {"--help", "--version"}
    for command in COMMANDS.values():
        spelt |= {long for param in command.params for long in (*param.opts, *param.secondary_opts)}
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", TEXT)) <= spelt


def test_readme_runs_something_of_every_kind():
    assert len(THINGS) >= 8
    assert {thing.kind for thing in THINGS} == {"swatchcam", "python"}
    assert TEXT.count("$ swatchcam") == len([thing for thing in THINGS if thing.kind == "swatchcam"]) - 1


@pytest.mark.parametrize("thing", THINGS, ids=[thing.words[:40].replace("\n", " ") for thing in THINGS])
def test_what_readme_shows_is_what_is_printed(thing):
    assert thing.output.strip("\n. ")
    assert shown(thing, run(thing)) == thing.output, "run `python -m tests.readme_outputs` and read what changed"


def test_newcomers_have_two_lines_to_paste():
    blocks = re.findall(r"```sh newcomer\n(.*?)```", TEXT, re.S)
    assert [block.count("\n") for block in blocks] == [1, 1]
    assert all(block.startswith("python3 -m venv .venv && ") for block in blocks)


def keys_of(part, start=""):
    """Paths of the keys of an object: `a.b`, and `a[].b` within lists; names of patches are no keys."""
    for key, value in part.items():
        path = f"{start}{key}"
        if key in ("sample_photo", "reference_photo", "recalled", "patches_unused", "error_parts_lab"):
            yield path
        elif isinstance(value, dict):
            yield from keys_of(value, f"{path}.")
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            yield from keys_of(value[0], f"{path}[].")
        else:
            yield path


def documented(after: str) -> set[str]:
    """Keys in the first column of the table below a line of README."""
    table = TEXT.split(after)[1].strip().split("\n\n")[0]
    return {key for row in table.splitlines()[2:] for key in re.findall(r"`([^`]+)`", row.split("|")[1])}


def test_every_key_of_the_json_is_documented_and_none_else():
    facts = check_dict(check_photo(str(path_of("good_pair")), "sample-card"))
    assert documented("That of `check`:") == set(keys_of(facts))
    assert documented("That of `measure`:") == set(keys_of(facts["sample_photo"]))
    parts = facts["sample_photo"]["strips"][0]["error_parts_lab"]
    row = next(line for line in TEXT.splitlines() if "error_parts_lab" in line)
    assert set(parts) == set(re.findall(r"`(\w+)`", row.split("|")[2]))


def test_every_key_of_what_is_proposed_is_documented_and_none_else():
    found = {key for facts in answers().values() for key in keys_of(facts)}
    # The table tells in one row what is inside these.
    whole = {"pot", "reach", "kept", "choices[].roads", "choices[].other_lights_ciede2000"}
    whole |= {"weighing[].rounding_percent"}
    inside = {key for key in found if key.startswith(tuple(f"{part}." for part in whole))}
    lists = {"choices", "weighing", "rests"}  # where one is empty
    assert documented("`mix again`:") == (found - inside - lists) | whole


def test_every_key_of_a_record_is_documented_and_none_else():
    assert documented("A record of the library, as `record` prints it:") == set(keys_of(record_dict(record())))


def test_every_part_of_the_package_is_in_the_developers_table():
    table = (HOME / "DEVELOPERS.md").read_text(encoding="utf-8").split("| package | in -> out |")[1].split("\n\n")[0]
    named = {name for row in table.splitlines()[1:] for name in re.findall(r"`(\w+)/?`", row.split("|")[1])}
    parts = {
        path.stem for path in (HOME / "swatchcam").iterdir() if path.suffix == ".py" or (path / "__init__.py").is_file()
    }
    assert named == parts - {"__init__", "__main__"}


@pytest.mark.parametrize("path", sorted((HOME / "calibration").glob("*.csv")), ids=lambda path: path.name)
def test_values_of_a_card_say_where_they_come_from(path):
    sheet = read_sheet(path)
    assert (sheet_problems(sheet) if sheet.header["design"] == ROW else sheet.problems) == []
    assert all(sheet.header[key] for key in KEYS)
    assert date.fromisoformat(sheet.header["date"]).year >= 2020


@pytest.mark.parametrize("name", ["sample-card", "sample-row"])
def test_the_samples_values_do_not_pass_for_real_ones(name):
    source = read_sheet(HOME / "calibration" / f"{name}.csv").header["source"]
    assert "invented" in source
    assert "not read from any print" in source


def test_the_note_beside_the_samples_lists_each_of_them():
    note = (HOME / "sample_images" / "README.md").read_text(encoding="utf-8")
    assert "Drawn, not photographed" in note
    rows = dict(re.findall(r"^\| `(\S+\.jpg)` \| (.*) \|$", note, re.M))
    assert rows == {path_of(name).name: sample.says for name, sample in SAMPLES.items()}


def files():
    """Every file of the project but for published tables, which name what was measured."""
    for path in sorted(HOME.rglob("*")):
        inside = path.relative_to(HOME).parts
        if path.is_file() and not NOT_OURS & set(inside) and inside[:2] != ("tests", "reference"):
            yield path


def makers() -> set[str]:
    """Makers of the cameras in the table of sensitivities."""
    with (HOME / "tests" / "reference" / "cameras_apache2.csv").open(encoding="utf-8", newline="") as file:
        return {row["camera"].split()[0] for row in csv.DictReader(line for line in file if not line.startswith("#"))}


def test_no_file_names_a_maker_of_cameras():
    names = makers()
    assert len(names) > 5
    word = re.compile(rb"\b(" + "|".join(map(re.escape, sorted(names))).encode() + rb")\b", re.I)
    found = {str(path.relative_to(HOME)) for path in files() if word.search(path.read_bytes())}
    found |= {str(path) for path in files() if word.search(path.name.encode())}
    assert found == set()
