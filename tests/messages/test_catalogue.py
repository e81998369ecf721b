"""Every code that the tool raises, flags or notes has its sentence on both surfaces, and every sentence its code."""

from __future__ import annotations

import ast
import inspect
import re
from collections import Counter, defaultdict
from importlib import import_module
from string import Formatter
from typing import get_args

import pytest

from swatchcam import errors
from swatchcam.cli import main
from swatchcam.handbook.reference import leaves
from swatchcam.messages.message import SAID_BEFORE
from swatchcam.messages.recipes import QUANTITIES
from swatchcam.messages.surface import SUBJECTS, On, catalogue
from swatchcam.recipes.numbers import Quantity
from tests.paths import HOME

PACKAGE = HOME / "swatchcam"
KINDS = ("PROBLEMS", "REMEDIES", "PLACES", "FLAGS", "CHANGES")
# What makes something that is said -> the catalogues of its first words.
MAKERS = {name: ("PROBLEMS", "REMEDIES") for name in errors.KINDS} | {
    "finding": ("PROBLEMS",),
    "flag": ("FLAGS",),
    "change": ("CHANGES",),
    "at": ("PLACES",),
}
SURFACE = ("cli", "report", "web", "handbook")  # who may put codes into sentences


SAYERS = ("TERMINAL", "PAGE")  # they say a flag, and make none


def _name(call: ast.Call, caught: set[str]) -> str:
    """What makes something that is said; "" for a method of the same name: of a surface, of the axes of a plot."""
    if not isinstance(call.func, ast.Attribute):
        return getattr(call.func, "id", "")
    of = getattr(call.func.value, "id", "")
    return "" if of in SAYERS or (call.func.attr == "at" and of not in caught) else call.func.attr


def _codes(node: ast.expr) -> list[str] | None:
    """The codes that an argument may be: a text, or one of two by a condition."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        found = [_codes(node.body), _codes(node.orelse)]
        return [code for codes in found if codes for code in codes] if all(found) else None
    return None


def _calls():
    """Each call that makes something that is said: where it stands, the kinds of its codes, the call."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.name == "errors.py":  # it reads back what others made
            continue
        nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
        caught = {node.name for node in nodes if isinstance(node, ast.ExceptHandler) and node.name}
        for node in nodes:
            kinds = MAKERS.get(_name(node, caught)) if isinstance(node, ast.Call) else None
            if kinds and len(node.args) >= len(kinds):
                yield f"{path.relative_to(HOME)}:{node.lineno}", kinds, node


def _fields(words) -> set[str]:
    """The facts that a sentence tells."""
    if isinstance(words, On):
        return _fields(words.terminal) | _fields(words.page)
    if callable(words):
        named = inspect.signature(words).parameters.values()
        return {each.name for each in named if each.default is each.empty and each.kind is not each.VAR_KEYWORD}
    return {name.split(".")[0].split("[")[0] for _, name, _, _ in Formatter().parse(words) if name}


CALLS = list(_calls())


@pytest.mark.parametrize(("where", "kinds", "call"), CALLS, ids=[where for where, _, _ in CALLS])
def test_what_is_said_has_its_sentences(where, kinds, call):
    facts = {word.arg for word in call.keywords}
    for kind, argument in zip(kinds, call.args, strict=False):
        codes = _codes(argument)
        assert codes, f"{where}: {ast.unparse(argument)} is no code that can be read here"
        for code in codes:
            words = catalogue(kind).get(code)
            assert words is not None, f"{where}: {code} has no sentence among {kind}"
            assert None in facts or _fields(words) <= facts, f"{where}: {code} tells {_fields(words) - facts} too"


@pytest.mark.parametrize("kind", KINDS)
def test_each_sentence_is_said_somewhere(kind):
    used = defaultdict(set)
    for _, kinds, call in CALLS:
        for of, argument in zip(kinds, call.args, strict=False):
            used[of].update(_codes(argument) or ())
    assert set(catalogue(kind)) - used[kind] - {SAID_BEFORE} == set()


@pytest.mark.parametrize("kind", KINDS)
def test_no_code_is_there_twice(kind):
    modules = [import_module(f"swatchcam.messages.{name}") for name in SUBJECTS]
    codes = Counter(code for module in modules for code in getattr(module, kind, {}))
    assert [code for code, count in codes.items() if count > 1] == []


@pytest.mark.parametrize("kind", KINDS)
def test_the_page_names_no_command_and_no_option(kind):
    for code, words in catalogue(kind).items():
        said = words.page if isinstance(words, On) else words
        text = inspect.getsource(said) if callable(said) else said
        assert "--" not in text, code
        assert "swatchcam " not in text, code


def test_each_number_that_is_checked_has_its_words():
    assert set(get_args(Quantity)) == set(QUANTITIES)


def test_only_surfaces_put_codes_into_sentences():
    for path in sorted(PACKAGE.rglob("*.py")):
        folder = path.relative_to(PACKAGE).parts[0]
        if folder not in (*SURFACE, "messages", "errors.py"):
            assert "messages.surface" not in path.read_text(encoding="utf-8"), path


def test_nothing_is_decided_by_a_sentence():
    """No module looks into the words of an error: no `in str(error)`, no `str(error).startswith`."""
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        caught = {node.name for node in ast.walk(tree) if isinstance(node, ast.ExceptHandler) and node.name}
        words = {f"str({name})" for name in caught}
        for node in ast.walk(tree):
            compared = [*node.comparators, node.left] if isinstance(node, ast.Compare) else []
            called = [node.func.value] if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) else []
            parts = {ast.unparse(part) for part in (*compared, *called)}
            assert not parts & words, f"{path}:{node.lineno}"
            assert not any(part.startswith(("TERMINAL.", "PAGE.")) for part in map(ast.unparse, compared)), path


def _texts(path):
    """The texts of a module; where one is put together, its fixed pieces as one."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.JoinedStr):
            yield "".join(part.value if isinstance(part, ast.Constant) else "..." for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


SENTENCES = [text for name in SUBJECTS for text in _texts(PACKAGE / "messages" / f"{name}.py")]
COMMANDS = {words.removeprefix("swatchcam "): command for words, command in leaves(main)}
OF_EACH = {
    words: {spelt for param in command.params for spelt in param.opts} | {"--help"}
    for words, command in COMMANDS.items()
}
# What a person types: in quotes, or behind a colon to the end; its first word is a command or a group.
TYPED = [typed for text in SENTENCES for typed in re.findall(r"swatchcam ((?!this\b)[a-z]+\b[^'.;]*)", text)]


def test_there_are_commands_and_options_in_the_sentences():
    assert len(TYPED) > 20
    assert sum("--" in text for text in SENTENCES) > 40


@pytest.mark.parametrize("typed", sorted(set(TYPED)))
def test_a_command_in_a_sentence_is_there_with_its_options(typed):
    command = next((name for name in (" ".join(typed.split()[:2]), typed.split()[0]) if name in COMMANDS), None)
    assert command, typed
    assert set(re.findall(r"--[a-z][a-z-]*", typed)) <= OF_EACH[command]


def test_an_option_in_a_sentence_is_one_of_some_command():
    named = {option for text in SENTENCES for option in re.findall(r"(?<!\S)--[a-z][a-z-]*", text)}
    assert named - set().union(*OF_EACH.values()) - {"--{key}"} == set()
