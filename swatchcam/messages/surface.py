"""The two surfaces on which the tool speaks, and how each finds its sentence for a code.

The catalogues lie in the modules beside this one, by subject. What is right on both surfaces is written there once;
`On` gives each its own words, for the terminal names commands and options where the page names fields and buttons.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from pathlib import Path
from string import Formatter
from typing import Any, Literal, Protocol

from ..text import counted, listed, strip_words
from .message import Flag, Message, message_from_json

Words = str | Callable[..., str]  # a text with {facts} in it, or a function of the facts by name
Kind = Literal["PROBLEMS", "REMEDIES", "PLACES", "FLAGS", "CHANGES"]
SUBJECTS = (
    "card",
    "card_in_photo",
    "changes",
    "commands",
    "film",
    "states",
    "general",
    "instrument",
    "library",
    "light",
    "measuring",
    "mixing",
    "opacity",
    "page",
    "photo_file",
    "pigment_row",
    "pigments",
    "recipes",
    "report",
    "run",
    "server",
    "shelf",
    "storage",
    "weak",
)


@dataclass(frozen=True)
class On:
    """What the terminal says, and what the page says in its place."""

    terminal: Words
    page: Words


Catalogue = dict[str, Words | On]


class Refusal(Protocol):
    """What `errors.SwatchcamError` is: a code, the name of a remedy, facts, and where it happened."""

    @property
    def code(self) -> str: ...  # noqa: D102
    @property
    def remedy(self) -> str: ...  # noqa: D102
    @property
    def facts(self) -> Mapping[str, Any]: ...  # noqa: D102
    @property
    def where(self) -> tuple[Message, ...]: ...  # noqa: D102


@dataclass(frozen=True)
class _Kept:
    """A refusal that is a fact of another one."""

    code: str
    remedy: str
    facts: Mapping[str, Any]
    where: tuple[Message, ...]


@dataclass(frozen=True)
class Surface:
    """How one surface puts codes and facts into sentences."""

    name: Literal["terminal", "page"]

    def problem(self, error: Refusal) -> str:
        """What is wrong, and before it in which photo, option or field."""
        places = [self._said("PLACES", place.code, place.facts) for place in error.where]
        return ": ".join([*places, self._said("PROBLEMS", error.code, error.facts)])

    def remedy(self, error: Refusal) -> str:
        """What to do next."""
        return self._said("REMEDIES", error.remedy, error.facts)

    def refusal(self, error: Refusal) -> str:
        """What is wrong and what to do next, in one line."""
        return f"{self.problem(error)} {self.remedy(error)}"

    def flag(self, flag: Flag) -> str:
        """Why a number may be weak, and before it in which photo."""
        said = self._said("FLAGS", flag.code, flag.facts)
        return f"{flag.photo}: {said}" if flag.photo else said

    def finding(self, found: Message) -> str:
        """One of several things that are wrong, or are to be looked at."""
        return self._said("PROBLEMS", found.code, found.facts)

    def change(self, change: Message) -> str:
        """What was done to the library."""
        return self._said("CHANGES", change.code, change.facts)

    def _said(self, kind: Kind, code: str, facts: Mapping[str, Any]) -> str:
        words = catalogue(kind).get(code)
        if words is None:  # a flag or a change that a newer version noted
            return code
        if isinstance(words, On):
            words = words.terminal if self.name == "terminal" else words.page
        if self.name == "page":
            facts = {name: _without_place(value) for name, value in facts.items()}
        return words(**facts) if callable(words) else _Filled(self).vformat(words, (), facts)


TERMINAL, PAGE = Surface("terminal"), Surface("page")


@cache
def catalogue(kind: Kind) -> Catalogue:
    """All sentences of a kind, of all subjects, by code."""
    modules = [import_module(f".{name}", __package__) for name in SUBJECTS]
    return {code: words for module in modules for code, words in getattr(module, kind, {}).items()}


PLAIN_SPECS: dict[str, Callable[[Any], str]] = {
    "listed": lambda names: listed([str(each) for each in names]),
    "comma": lambda names: ", ".join(str(each) for each in names),
    "strip": strip_words,
}


def _without_place(fact: Any) -> Any:
    """A file by its name alone: where it lies on the studio's computer is no phone's business."""
    return Path(fact).name if isinstance(fact, str) and Path(fact).is_absolute() else fact


class _Filled(Formatter):
    """`str.format`, and beside it

    {names:comma} -> "a, b"; {names:listed} -> "a, b and c"; {n:counted strip} -> "3 strips", plural after a slash;
    {name:strip} -> "left strip", "loose strip 1"; {cause:problem} -> the problem of a message that is a fact;
    {causes:problems} -> several, each on a line; {error:refusal} -> problem and remedy of a refusal that is a fact, as
    JSON; {done:change} -> what was done.
    """

    def __init__(self, surface: Surface) -> None:
        super().__init__()
        self._surface = surface

    def format_field(self, value: Any, format_spec: str) -> str:
        kind, _, rest = format_spec.partition(" ")
        if kind == "counted":
            return counted(value, *rest.split("/"))
        if kind in PLAIN_SPECS:
            return PLAIN_SPECS[kind](value)
        if kind == "problems":
            return "".join(f"\n  - {self._said(each, 'problem')}" for each in value)
        return self._said(value, kind) or str(super().format_field(value, format_spec))

    def _said(self, fact: Any, kind: str) -> str:
        """A message that is a fact, or a refusal; "" where the kind is none of these."""
        if kind == "refusal":
            where = tuple(message_from_json(place) for place in fact["where"])
            return self._surface.refusal(_Kept(fact["code"], fact["remedy"], fact["facts"], where))
        if kind == "problem":
            return self._surface._said("PROBLEMS", fact["code"], fact["facts"])
        return self._surface._said("CHANGES", fact["code"], fact["facts"]) if kind == "change" else ""
