"""What is said without words: a code and its facts, which each surface puts into a sentence of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

SAID_BEFORE = "said-before"  # a sentence of version 0.1, which knew no codes


@dataclass(frozen=True)
class Message:
    """A code, such as "shade-renamed", and what its sentence tells: plain JSON values by name."""

    code: str
    facts: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def as_json(self) -> dict[str, Any]:
        """For a file, a database or a program; `message_from_json` reads it, or `flag_from_json`."""
        return {"code": self.code, "facts": dict(self.facts)}


@dataclass(frozen=True)
class Flag(Message):
    """Why a number may be weak; `photo` and `strip` say of which one, where it is not of all."""

    photo: str | None = None
    strip: str | None = None

    def as_json(self) -> dict[str, Any]:
        """As a message, with the photo and the strip where there are."""
        of = {"photo": self.photo, "strip": self.strip}
        return super().as_json() | {name: value for name, value in of.items() if value is not None}


def finding(code: str, /, **facts: Any) -> Message:
    """One of several things that are wrong, which a refusal tells together: a fact of it."""
    return Message(code, plain(facts))


def change(code: str, /, **facts: Any) -> Message:
    """What was done to the library."""
    return Message(code, plain(facts))


def flag(code: str, /, **facts: Any) -> Flag:
    """Why a number may be weak; its `photo` and `strip` are given later, by who knows them."""
    return Flag(code, plain(facts))


def message_from_json(stored: Any) -> Message:
    """What was written as JSON, or the bare sentence of version 0.1.

    Raises
    ------
    TypeError, KeyError
        It is neither.
    """
    if isinstance(stored, str):
        return Message(SAID_BEFORE, {"sentence": stored})
    return Message(stored["code"], dict(stored["facts"]))


def flag_from_json(stored: Any) -> Flag:
    """As `message_from_json`, for a flag."""
    found = message_from_json(stored)
    of = {} if isinstance(stored, str) else stored
    return Flag(found.code, found.facts, of.get("photo"), of.get("strip"))


def plain(value: Any) -> Any:
    """A fact as JSON holds it: paths and days become text, numbers of numpy plain numbers, tuples lists."""
    if isinstance(value, Message):
        return value.as_json()
    if isinstance(value, Mapping):
        return {str(name): plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(each) for each in value]
    if hasattr(value, "item"):  # a number of numpy
        return value.item()
    return value if value is None or isinstance(value, str | bool | int | float) else str(value)
