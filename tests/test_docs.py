"""README and handbook are true: commands, options, outputs, tables; so are the notes beside samples and cards."""

from __future__ import annotations

import csv
import re
from datetime import date

import click
import pytest

from swatchcam.cards.values_file import KEYS, read_sheet
from swatchcam.cli import main
from swatchcam.handbook.chapters import CHAPTERS
from swatchcam.handbook.reference import leaves
from swatchcam.measurement.measure import measure
from swatchcam.measurement.pigment_row import ROW, sheet_problems
from swatchcam.report.measurement import measurement_dict
from tests.page_outputs import FOLDER, PAGES, references, run, shown, sittings, text, with_reference
from tests.paths import HOME
from tests.worlds.sample_photos import SAMPLES, path_of

NOT_OURS = {".git", ".venv", ".hypothesis", ".mypy_cache", ".pytest_cache", ".ruff_cache", "__pycache__", "dist"}
TEXTS = {page: text(page) for page in PAGES}
README = TEXTS["README"]
SITTINGS = list(sittings())
COMMANDS = dict(leaves(main))
REFERENCE = ("commands", "json")
SHORT = 90  # lines: what a chapter has, two screens
README_LINES = 160


def test_readme_is_short_and_names_every_chapter():
    assert len(README.splitlines()) <= README_LINES
    rows = re.findall(r"^\| `swatchcam handbook (\w+)` \| (.*) \|$", README, re.M)
    assert [(name, title.replace("`", "")) for name, title in rows] == [(each.name, each.title) for each in CHAPTERS]


@pytest.mark.parametrize("chapter", CHAPTERS, ids=lambda chapter: chapter.name)
def test_a_chapter_is_short_and_says_first_for_whom_or_when_it_is(chapter):
    written = TEXTS[chapter.name]
    assert written.startswith("For ")
    assert "\n# " not in written
    assert len(written.splitlines()) <= SHORT or chapter.name in REFERENCE


def test_every_file_of_a_chapter_is_in_the_list():
    assert {path.name for path in FOLDER.iterdir()} == {f"{each.name}.md" for each in CHAPTERS}


@pytest.mark.parametrize("page", PAGES)
def test_a_chapter_that_is_named_is_there(page):
    assert set(re.findall(r"swatchcam handbook (\w+)`", TEXTS[page])) <= {each.name for each in CHAPTERS}


@pytest.mark.parametrize("words", COMMANDS)
def test_every_command_is_in_the_reference_with_its_options(words):
    written = TEXTS["commands"].split(f"\n## `{words} ")[1].split("\n## ")[0]
    options = [param for param in COMMANDS[words].params if isinstance(param, click.Option)]
    spelt = {long for option in options for long in (*option.opts, *option.secondary_opts) if long.startswith("--")}
    assert spelt - {"--help"} <= set(re.findall(r"--[a-z][a-z0-9-]+", written))


@pytest.mark.parametrize("name", references())
def test_a_reference_chapter_is_todays(name):
    assert with_reference(name, references()[name]) == TEXTS[name], "run `python -m tests.page_outputs`"


@pytest.mark.parametrize("page", PAGES)
def test_no_page_names_an_option_that_is_not_there(page):
    spelt = {"--help", "--version"}
    for command in COMMANDS.values():
        spelt |= {long for param in command.params for long in (*param.opts, *param.secondary_opts)}
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", TEXTS[page])) <= spelt


@pytest.mark.parametrize("page", [page for page in PAGES if page not in REFERENCE])
def test_a_command_that_a_page_names_is_there(page):
    named = re.findall(r"^(?:\$ )?swatchcam ([a-z]+(?: [a-z-]+)?)|`swatchcam ([a-z]+(?: [a-z-]+)?)", TEXTS[page], re.M)
    for words in {first or second for first, second in named}:
        assert {f"swatchcam {words}", f"swatchcam {words.split()[0]}"} & set(COMMANDS), words


def test_something_of_every_kind_is_run():
    things = [thing for sitting in SITTINGS for thing in sitting]
    assert len(things) >= 30
    assert {thing.kind for thing in things} == {"swatchcam", "python"}
    shown_ones = sum(written.count("$ swatchcam") for written in TEXTS.values())
    assert len([thing for thing in things if thing.kind == "swatchcam"]) == shown_ones + 1  # the newcomer's has no $
    assert len([thing for thing in things if thing.kind == "python"]) == TEXTS["scripts"].count("```python")


@pytest.mark.parametrize("sitting", SITTINGS, ids=lambda sitting: f"{sitting[0].page}: {sitting[0].words[:40].strip()}")
def test_what_a_page_shows_is_what_is_printed(sitting):
    for thing, output in zip(sitting, run(sitting), strict=True):
        assert thing.output.strip("\n. "), thing.words
        assert shown(thing, output) == thing.output, (
            f"{thing.page}: run `python -m tests.page_outputs` and read the diff"
        )


def test_newcomers_have_two_lines_to_paste():
    blocks = re.findall(r"```sh newcomer\n(.*?)```", README, re.S)
    assert [block.count("\n") for block in blocks] == [1, 1]
    assert all(block.startswith("python3 -m venv .venv && ") for block in blocks)


def test_the_parts_of_an_error_are_named():
    facts = measurement_dict(measure(str(path_of("good_pair")), "sample-card"))
    row = next(line for line in TEXTS["json"].splitlines() if "error_parts_lab" in line)
    assert set(re.findall(r"`(\w+)`", row.split("|")[2])) == set(facts["strips"][0]["error_parts_lab"])


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
