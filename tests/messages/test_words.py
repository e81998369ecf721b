"""The tool speaks to a printmaker: one word for one thing, and no sentence over which people stumbled.

What is looked through: the sentences of the code, the help of every command, the page's and the reports' templates,
README and the handbook, and the outputs that these two show.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import pytest

from swatchcam.cli import main
from swatchcam.cli.overview import SECTIONS
from swatchcam.handbook.reference import commands_reference
from tests.page_outputs import PAGES, text
from tests.paths import HOME

PACKAGE = HOME / "swatchcam"
SPEAKERS = ("messages", "cli", "report", "web", "recipes")  # packages whose code holds sentences

# A word of another tongue, the past or the trade of programs -> the word that is said.
WORDS = {
    r"foretold|foresee\w*|foretell\w*": "predicted",
    r"drawdowns?": "strip; explained once in the chapter `photo`, once in `measure --help`",
    r"swatch(es)?": "strip, or shade",
    r"ladders?|rungs?|tints?": "test series, and its strips",
    r"stages?": "state",
    r"goals?": "target",
    r"hits?": "prediction check; it held, it missed",
    r"beside-\d": "loose strip; beside-1 only as the value of an option, and as a name in a table",
    r"residuals?|K/S": "shade, strength or film",
    r"(a|the|its|strip's) labels?": "strip, or mark",
    r"binder alone": "clear base alone",
    r"(by|more than) chance|chance explains": "measurement error; how far batches usually vary",
}
# A phrase over which people stumbled -> what is said in its place.
PHRASES = {
    r"anew": "again",
    r"mend(s|ed|ing)?": "correct",
    r"(?<!peace of )mind:": "Note:",
    r"took over|taken over": "imported",
    r"they stand in": "they are saved in",
    r"the whole interval lies": "the difference is certainly within your tolerance",
    r"no direction stands out": "no clear direction",
    r"against (record|target|left|right)": "compared with",
    r"washed \d+ x": "washed 3 times",
    r"pot in hand, to become": "correcting this pot towards",
    r"as the tints|as the known strips say": "judging from your test series",
    r"are the least": "at least 5 are needed",
    r"strength flattens": "when more pigment stops helping",
    r"works like": "acts like",
    r"cloth draws": "cloth takes up",
    r"do not cover": "not opaque",
    r"cards are two cards": "treat each card separately",
    r"no ink may stay": "cut away every bit",
    r"not quite smooth": "uneven light",
    r"as an eye sees": "you would not see the difference",
    r"so many pigments": "maximum number of pigments",
    r"this is .{1,9} of the way": "this takes you 90 % of the way",
    r"no number from": "can't be measured",
    r"shoot again|before you shoot": "take the photo again",
    r"let the pot tell": "see what to add to the pot",
    r"what shall be done": "what would you like to do",
    r"something said of it": "correct details",
    r"take it out": "remove",
    r"make it one with": "merge with",
    r"leave one of them": "fill in only one",
    r"there is no (strip|test series) of": "no test series for ... yet",
    r"is no number": "please type a number",
    r"signs anew|\d+ signs": "characters",
    r"that may come in": "phones",
    r"never use jars": "what has held ink never goes back to the kitchen",
    r"cm2|g/m2|cm\^2": "cm², g/m²",
    r"e\.g\.|i\.e\.|etc\.|viz\.": "in plain English",
}
# (word, where) that are meant: the term is explained there, or it is the value of an option.
MEANT = {
    ("drawdown", "chapter photo"),
    ("drawdown", "help of swatchcam measure"),
}


@dataclass(frozen=True)
class Said:
    """A text that a person reads, and where."""

    where: str
    text: str


def code() -> Iterator[Said]:
    """The sentences of the code: texts of more than one word, without docstrings and what is quoted as code."""
    for path in sorted(path for name in SPEAKERS for path in (PACKAGE / name).rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        bare = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            said = isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in bare
            if said and " " in node.value.strip():
                yield Said(f"{path.relative_to(HOME)}:{node.lineno}", re.sub(r"`[^`]*`", " ", node.value))


def helps() -> Iterator[Said]:
    """The help of every command, and the list of all."""
    for part in commands_reference(main).split("## `")[1:]:
        words = re.match(r"swatchcam( [a-z]+)+", part)
        assert words
        yield Said(f"help of {words[0]}", part)
    yield from (Said("overview", said) for commands in SECTIONS.values() for said in commands.values())


def templates() -> Iterator[Said]:
    """What a page or a report shows: its text, and what a screen reader says."""
    for path in sorted(PACKAGE.rglob("*.jinja")):
        plain = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", " ", path.read_text(encoding="utf-8"), flags=re.S)
        read_out = re.findall(r'(?:aria-label|alt|title|placeholder)="([^"]*)"', plain)
        yield Said(str(path.relative_to(HOME)), "\n".join([re.sub(r"<[^>]*>", " ", plain, flags=re.S), *read_out]))


def prose() -> Iterator[Said]:
    """README and the chapters, without code and outputs; the reference of commands is their help."""
    for page in PAGES:
        if page != "commands":
            plain = re.sub(r"```.*?```|`[^`]*`", " ", text(page), flags=re.S)
            yield Said(f"chapter {page}", plain)
    note = (HOME / "sample_images" / "README.md").read_text(encoding="utf-8")
    yield Said("sample_images/README.md", re.sub(r"`[^`]*`", " ", note))


def outputs() -> Iterator[Said]:
    """What README and the chapters show of outputs."""
    for page in PAGES:
        for block in re.findall(r"```(?:console|text)\n(.*?)```", text(page), re.S):
            yield Said(f"output in {page}", re.sub(r"^\$ .*\n", "", block))


SURFACES = (code, helps, templates, prose, outputs)
VALUES = ("help of", "output in", "swatchcam/cli/")  # where beside-1 is the value of an option or a name in a table


@cache
def everything() -> tuple[Said, ...]:
    """All that is said, line breaks left out."""
    return tuple(Said(said.where, " ".join(said.text.split())) for surface in SURFACES for said in surface())


def meant(word: str, where: str) -> bool:
    """Whether a word may stand there."""
    return (word, where) in MEANT or (word.startswith("beside-") and where.startswith(VALUES))


@pytest.mark.parametrize("surface", SURFACES, ids=lambda surface: surface.__name__)
def test_there_is_much_to_look_through(surface):
    assert sum(len(said.text) for said in surface()) > 2000


@pytest.mark.parametrize("wrong", [*WORDS, *PHRASES])
def test_no_word_is_said_that_a_printmaker_would_not_say(wrong):
    pattern = re.compile(rf"(?<![\w-])(?:{wrong})(?![\w-])", re.I)
    found = [
        f"{said.where}: {match[0]!r}, better: {(WORDS | PHRASES)[wrong]}"
        for said in everything()
        for match in pattern.finditer(said.text)
        if not meant(match[0].lower(), said.where)
    ]
    assert found == []


def test_a_term_that_is_explained_is_explained_once():
    said = [*helps(), *prose()]
    for word, where in MEANT:
        (place,) = [each for each in said if each.where == where]
        assert len(re.findall(word, place.text)) == 1
