"""What refusals and flags say, by code and facts: their sentences are another matter."""

from __future__ import annotations

from collections.abc import Iterable

from swatchcam.errors import SwatchcamError
from swatchcam.messages.message import Message
from swatchcam.messages.surface import TERMINAL


def codes(found: Iterable[Message]) -> list[str]:
    """The codes of flags or findings, in their order."""
    return [each.code for each in found]


def the_one(found: Iterable[Message], code: str) -> Message:
    """The only one of that code."""
    (one,) = (each for each in found if each.code == code)
    return one


def findings(error: SwatchcamError) -> list[Message]:
    """What a refusal tells together."""
    return [Message(each["code"], each["facts"]) for each in error.facts.get("problems", [])]


def tells(error: SwatchcamError, code: str, **facts: object) -> bool:
    """Whether a refusal, or one of its findings, has that code and these facts."""
    return any(
        each.code == code and all(each.facts.get(name) == value for name, value in facts.items())
        for each in (Message(error.code, error.facts), *findings(error))
    )


def lines(error: SwatchcamError) -> list[str]:
    """The findings of a refusal as the terminal says them, each on a line."""
    return [line.removeprefix("  - ") for line in TERMINAL.problem(error).splitlines()[1:]]
