"""Whatever is typed behind `swatchcam`: an answer or a refusal in words, an exit code with a meaning, no crash."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from swatchcam.cards.design import designs
from swatchcam.cli import main
from tests.worlds.scene import render, write_jpeg

MEASURED, WRONG_USE, REFUSED, DIFFERENT, TOO_CLOSE = 0, 2, 3, 4, 5

ODD = (
    "", " ", "-", "--", "-1", "0", "1e999", "nan", "inf", "-inf", "1e308", "9" * 400, "½", "é", "\u202e", "\n",
    "a" * 300, "a/" * 3000, "~", "*", "..", "/", "/dev/null", "/proc/self/mem", "CON", "a:b", ":", "left", "beside-9",
    "41,38,-12", "1,2", "1,2,3,4", "nan,0,0", "1e999,0,0", "50;0;0", "a5", "sample-card", "nominal", "{}", "%s", "[",
)  # fmt: skip
FILES = (
    "good.jpg", "good.jpg:left", "good.jpg:middle", "plain.jpg", "empty.jpg", "cut.jpg", "text.jpg", "folder",
    "folder/", "missing.jpg", "missing/x.jpg", "card.csv", "readings.csv", "half.csv", "new.png", "new.pdf",
)  # fmt: skip
OPTIONS = {
    "measure": ("--card", "--illuminant", "--observer", "--loose", "--picture", "--json", "--other-light", "--row"),
    "check": (
        "--card", "--illuminant", "--observer", "--loose", "--picture", "--json", "--strip", "--target", "--against",
        "--tolerance", "--other-light", "--row",
    ),
    "card show": ("--design", "--illuminant", "--observer", "--json"),
    "card import": (
        "--card-name", "--design", "--illuminant", "--observer", "--geometry", "--date", "--source", "--uncertainty",
        "--average", "--replace", "--json",
    ),
    "card learn": ("--card", "--other-light", "--measured-side", "--replace", "--json"),
    "row print": ("--design",),
    "row show": ("--json",),
    "card print": ("--design", "--paper", "--output", "--no-png", "--dpi", "--replace", "--json"),
}  # fmt: skip
SAID = ("--geometry", "45/0", "--date", "2026-01-31")
FLAGS = ("--loose", "--json", "--average", "--replace", "--no-png")
USUAL = {
    "--card": ("card.csv",), "--illuminant": ("D65", "D50", "A"), "--observer": ("2", "10"), "--strip": ("left",),
    "--tolerance": ("1", "0", "1e-9"), "--design": ("a5", "a6", "a4"), "--card-name": ("studio-7", "7"),
    "--geometry": ("45/0", "d/8"), "--date": ("2026-01-31",), "--uncertainty": ("0.5", "50"), "--dpi": ("72",),
    "--paper": ("a4", "letter", "card"), "--target": ("41,38,-12", "50,0,0"), "--against": ("good.jpg:left",),
    "--picture": ("new.png", "new.jpg"), "--output": ("new.pdf", "folder/new.pdf"), "--source": ("Studio Halm",),
    "--other-light": ("good.jpg", "plain.jpg"), "--row": ("sample-row",), "--measured-side": ("left", "top"),
}  # fmt: skip


@pytest.fixture(scope="module", autouse=True)
def desk(tmp_path_factory, plain_scene, values_path):
    """The folder in which everything is typed: photos, values, and what only looks like them."""
    folder = tmp_path_factory.mktemp("desk")
    good = write_jpeg(render(plain_scene, (800, 600)), folder / "good.jpg").read_bytes()
    Image.new("RGB", (300, 200), "grey").save(folder / "plain.jpg")
    values = values_path.read_bytes()
    rows = [line for line in values.decode().splitlines(keepends=True) if not line.startswith("#")]
    for name, data in {
        "empty.jpg": b"",
        "cut.jpg": good[: len(good) // 2],
        "text.jpg": b"not a photo",
        "card.csv": values,
        "readings.csv": "".join(["Illuminant,D65\n", "Observer,10\n", *rows]).encode(),
        "half.csv": values[: len(values) // 2],
    }.items():
        (folder / name).write_bytes(data)
    (folder / "folder").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATCHCAM_CARDS", str(folder / "cards"))
        patch.chdir(folder)
        designs.cache_clear()
        yield folder
    designs.cache_clear()


@st.composite
def typed(draw, *commands):
    """The words of a command: mostly its own options, mostly sensible, some odd."""
    command = draw(st.sampled_from(commands))
    words = command.split()
    for option in draw(st.lists(st.sampled_from(OPTIONS[command]), max_size=5, unique=True)):
        words.append(option)
        if option not in FLAGS:
            usual = st.sampled_from(USUAL[option])
            words.append(draw(st.one_of(usual, usual, usual, anything())))
    place = draw(st.integers(len(command.split()), len(words)))
    given = draw(st.one_of(st.sampled_from(FILES), st.just("good.jpg"), anything()))
    extra = draw(st.one_of(st.just([]), st.just([]), st.just([]), st.lists(anything(), max_size=2)))
    return [*words[:place], *([] if command == "card print" else [given]), *words[place:], *extra]


def anything():
    characters = st.characters(exclude_characters="\0", exclude_categories=["Cs"])  # no argument can hold a NUL
    return st.one_of(st.sampled_from(ODD), st.sampled_from(FILES), st.text(characters, max_size=8))


def tidy(desk, before):
    """Take away what a command wrote."""
    for path in sorted(desk.rglob("*"), reverse=True):
        if path not in before and path.is_file():
            path.unlink()


def run(desk, words):
    """Type the words and hold the answer to what any answer must be."""
    before = set(desk.rglob("*"))
    done = CliRunner().invoke(main, words)
    try:
        assert done.exception is None or isinstance(done.exception, SystemExit), words
        assert done.exit_code in (MEASURED, WRONG_USE, REFUSED, DIFFERENT, TOO_CLOSE), words
        assert "Traceback" not in done.output
        assert done.stdout.strip() or done.stderr.strip()
        if done.exit_code in (WRONG_USE, REFUSED):
            written = {path for path in desk.rglob("*") if path.is_file()} - before
            assert not written, "a refused command leaves nothing behind"
        if done.stdout.startswith("{"):
            facts = json.loads(done.stdout)
            assert ("refused" in facts) == (done.exit_code in (WRONG_USE, REFUSED))
            assert not {"NaN", "Infinity", "-Infinity"} & set(done.stdout.replace(",", " ").split())
        elif done.exit_code == REFUSED:
            assert len(done.stderr.strip().splitlines()) >= 2
    finally:
        tidy(desk, before)
    return done


few = settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@given(typed("measure", "check"))
@few
def test_any_words_behind_measure_and_check_get_an_answer(desk, words):
    run(desk, words)


@given(typed("card show", "card import"))
@few
def test_any_words_behind_card_get_an_answer(desk, words):
    run(desk, words)


@given(typed("card print"))
@settings(few, max_examples=12)
def test_any_words_behind_card_print_get_an_answer(desk, words):
    run(desk, words)


@given(st.lists(anything(), max_size=4))
@few
def test_any_words_at_all_get_an_answer(desk, words):
    run(desk, words)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["measure", "good.jpg", "--card", "card.csv"], MEASURED),
        (["check", "good.jpg", "--card", "card.csv", "--target", "5,0,0"], DIFFERENT),
        (["check", "good.jpg", "--card", "card.csv", "--tolerance", "90"], MEASURED),
        (["card", "show", "card.csv"], MEASURED),
        (
            ["card", "import", "readings.csv", "--card-name", "7", "--geometry", "45/0", "--date", "2026-01-31"],
            MEASURED,
        ),
        (["card", "print", "--no-png"], MEASURED),
        (["measure", "plain.jpg"], REFUSED),
        (["measure", "missing.jpg"], REFUSED),
        (["measure"], WRONG_USE),
    ],
)
def test_the_usual_words_get_the_usual_answer(desk, words, code):
    """So the tests above do not merely see everything refused."""
    assert run(desk, words).exit_code == code
