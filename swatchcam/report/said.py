"""Codes -> what JSON and the terminal say of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ..messages.message import Flag
from ..messages.surface import TERMINAL


def flag_dicts(flags: Iterable[Flag]) -> list[dict[str, Any]]:
    """For programs: code, facts, the photo and strip it is of, and the sentence."""
    return [flag.as_json() | {"sentence": TERMINAL.flag(flag)} for flag in flags]


def flag_lines(flags: Iterable[Mapping[str, Any]], indent: str = "") -> list[str]:
    """A line for each of `flag_dicts`."""
    return [f"{indent}  ! {flag['sentence']}" for flag in flags]
