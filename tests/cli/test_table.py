"""All commands are listed by task, an option means one thing everywhere, and no file is written over unasked."""

from __future__ import annotations

from collections import defaultdict

import click
import pytest

from swatchcam.cli import main
from swatchcam.cli.overview import SECTIONS
from swatchcam.handbook.reference import leaves
from tests.cli.keyboard import answer, refused, type_in

LEAVES = {words.removeprefix("swatchcam "): command for words, command in leaves(main)}
LISTED = {name: words for commands in SECTIONS.values() for name, words in commands.items()}
MOST = 45  # commands that a person can be asked to look through
WIDTH = 80  # signs in a line of a terminal


# --- the list -----------------------------------------------------------------------------------------------


def test_every_command_is_listed_by_task_and_none_else():
    assert sorted(LISTED) == sorted(LEAVES)
    assert len(LEAVES) <= MOST


def test_help_lists_each_command_in_one_line_below_its_task():
    told = type_in("--help").stdout.splitlines()
    assert [line.removesuffix(":") for line in told if line.endswith(":")][-len(SECTIONS) :] == list(SECTIONS)
    for name, words in LISTED.items():
        (line,) = [line for line in told if line.startswith(f"  {name} ")]
        assert line.endswith(f"  {words}")
        assert len(line) <= WIDTH


@pytest.mark.parametrize("group", ["card", "shade", "mix", "pigment", "library"])
def test_a_group_lists_its_commands_in_the_same_words(group):
    told = type_in(f"{group} --help").stdout.split("Commands:\n")[1].splitlines()
    wanted = [(name.split()[1], words) for name, words in LISTED.items() if name.startswith(f"{group} ")]
    assert [tuple(line.split(maxsplit=1)) for line in told] == wanted


def test_a_mistyped_command_is_answered_with_those_like_it():
    assert "Did you mean" in type_in("chek").stderr
    assert "'show'" in type_in("shade sho").stderr


# --- options ------------------------------------------------------------------------------------------------

OTHER_KINDS = {"--target": "a colour; mix also takes it from a strip in a photo"}


def kind(option, context):
    """What one types behind it: nothing, one of a few words, or a thing of the kind that its metavar names."""
    if option.is_flag:
        return "nothing"
    if isinstance(option.type, click.Choice):
        return "a choice"
    return option.nargs, option.make_metavar(context).partition(".")[0]


def test_an_option_means_one_thing_everywhere():
    kinds = defaultdict(set)
    for words, command in LEAVES.items():
        context = click.Context(command, info_name=words, help_option_names=["-h", "--help"])
        for option in command.params:
            if isinstance(option, click.Option):
                for spelt in (*option.opts, *option.secondary_opts):
                    kinds[spelt].add(kind(option, context))
    assert {spelt for spelt, found in kinds.items() if len(found) > 1} == set(OTHER_KINDS)


# --- files --------------------------------------------------------------------------------------------------

# Each option that writes a file, and a command that would do nothing but for it, for what it reads is not there.
WRITES = {
    "measure --picture": "measure none.jpg --picture {}",
    "check --picture": "check none.jpg --picture {}",
    "keep --picture": "keep none.jpg --shade brick --picture {}",
    "card print --output": "card print --no-png --output {}",
    "card print ROW --output": "card print halm red --no-png --output {}",
    "shade page --output": "shade page --output {}",
    "shade cards --output": "shade cards --output {}",
    "library export --output": "library export csv --output {}",
    "library backup FILE.zip": "library backup {}",
    "mix recipe --page": "mix recipe --grams 300 --page {}",
    "mix correct --page": "mix correct none.jpg --in-pot 300 --page {}",
    "mix again --page": "mix again brick --grams 300 --page {}",
    "mix use-up --page": "mix use-up --shade brick --page {}",
    "mix predictions --page": "mix predictions --page {}",
    "pigment show --page": "pigment show red --page {}",
}
ENDINGS = {"--picture": ".png", "--page": ".html", "FILE.zip": ".zip", "library export --output": ".csv"}
ENDINGS |= {"card print --output": ".pdf", "card print ROW --output": ".pdf"}
ENDINGS |= {"shade page --output": ".html", "shade cards --output": ".pdf"}


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A folder without photos, cards and a library."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(tmp_path / "halm.sqlite"))
    return tmp_path


def written_by(option):
    """A file that lies where the option would write, and the command."""
    name = f"mine{ENDINGS.get(option) or ENDINGS[option.split()[-1]]}"
    return name, WRITES[option].format(name)


def test_every_option_that_writes_a_file_is_tried_below():
    found = set()
    for words, command in LEAVES.items():
        options = {spelt for option in command.params for spelt in option.opts}
        writing = {f"{words} {spelt}" for spelt in options & {"--output", "--page", "--picture"}}
        writing |= {f"{words} {each.metavar}" for each in command.params if each.metavar == "FILE.zip"}
        assert not writing or "--replace" in options, words
        found |= writing
    assert found == {option.replace(" ROW", "") for option in WRITES}


@pytest.mark.parametrize("option", WRITES)
def test_a_file_that_is_there_is_not_written_over_unasked(desk, option):
    name, words = written_by(option)
    (desk / name).write_bytes(b"mine")
    assert "--replace" in refused(words)[1]
    facts = answer(words, code=2)["refused"]
    assert (facts["code"], facts["facts"]["path"]) == ("file-exists", name)
    assert {path.name: path.read_bytes() for path in desk.iterdir()} == {name: b"mine"}


@pytest.mark.parametrize("option", WRITES)
def test_with_replace_it_is_written_over_or_something_else_is_wrong(desk, option):
    name, words = written_by(option)
    (desk / name).write_bytes(b"mine")
    done = type_in(f"{words} --replace --json")
    assert "file-exists" not in done.stdout
    assert ((desk / name).read_bytes() == b"mine") == (done.exit_code != 0)


@pytest.mark.parametrize("option", WRITES)
def test_another_ending_is_refused_before_any_work(desk, option):
    words = WRITES[option].format("mine.exe")
    assert answer(words, code=2)["refused"]["code"] == "name-ends-otherwise"


@pytest.mark.parametrize("words", ["measure", "check", "keep --shade brick"])
@pytest.mark.parametrize("photos", ["photo.png", "none.jpg --other-light photo.png", "link.png"])
def test_a_picture_is_never_drawn_over_a_photo(desk, words, photos):
    (desk / "photo.png").write_bytes(b"my photo")
    (desk / "link.png").symlink_to(desk / "photo.png")
    command, *rest = words.split(" ", 1)
    facts = answer(f"{command} {photos} {' '.join(rest)} --picture photo.png --replace", code=2)["refused"]
    assert facts["code"] == "picture-over-photo"
    assert (desk / "photo.png").read_bytes() == b"my photo"
