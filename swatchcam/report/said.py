"""Codes -> what JSON and the terminal say of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..errors import SwatchcamError
from ..messages.message import Flag, Message
from ..messages.surface import TERMINAL


def flag_dicts(flags: Iterable[Flag]) -> list[dict[str, Any]]:
    """For programs: code, facts, the photo and strip it is of, and the sentence."""
    return [flag.as_json() | {"sentence": TERMINAL.flag(flag)} for flag in flags]


def finding_dict(found: Message) -> dict[str, Any]:
    """For programs: code, facts and the sentence."""
    return found.as_json() | {"sentence": TERMINAL.finding(found)}


def change_dict(done: Message) -> dict[str, Any]:
    """As `finding_dict`, of what was done to the library."""
    return done.as_json() | {"sentence": TERMINAL.change(done)}


def refusal_dict(error: SwatchcamError) -> dict[str, Any]:
    """For programs: kind, code, facts, remedy and where, and the two sentences."""
    return error.as_json() | {"problem": TERMINAL.problem(error), "next": TERMINAL.remedy(error)}


def flag_lines(flags: Iterable[Mapping[str, Any]], indent: str = "") -> list[str]:
    """A line for each of `flag_dicts`."""
    return [f"{indent}  ! {flag['sentence']}" for flag in flags]
