"""Codes, and days -> what JSON and the terminal say of them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from ..errors import SwatchcamError
from ..messages.message import Flag, Message
from ..messages.surface import TERMINAL
from ..text import counted
from .json_types.messages import FindingJson, FlagJson, RefusalJson
from .json_types.weighing import AgeJson


def flag_dicts(flags: Iterable[Flag]) -> list[FlagJson]:
    """For programs: code, facts, the photo and strip it is of, and the sentence."""
    return [_flag_dict(flag) for flag in flags]


def _flag_dict(flag: Flag) -> FlagJson:
    found: FlagJson = {"code": flag.code, "facts": dict(flag.facts), "sentence": TERMINAL.flag(flag)}
    if flag.photo is not None:
        found["photo"] = flag.photo
    if flag.strip is not None:
        found["strip"] = flag.strip
    return found


def finding_dict(found: Message) -> FindingJson:
    """For programs: code, facts and the sentence."""
    return {"code": found.code, "facts": dict(found.facts), "sentence": TERMINAL.finding(found)}


def change_dict(done: Message) -> FindingJson:
    """As `finding_dict`, of what was done to the library."""
    return {"code": done.code, "facts": dict(done.facts), "sentence": TERMINAL.change(done)}


def refusal_dict(error: SwatchcamError) -> RefusalJson:
    """For programs: kind, code, facts, remedy and where, and the two sentences."""
    return {
        "kind": type(error).__name__,
        "code": error.code,
        "facts": dict(error.facts),
        "remedy": error.remedy,
        "where": [{"code": place.code, "facts": dict(place.facts)} for place in error.where],
        "problem": TERMINAL.problem(error),
        "next": TERMINAL.remedy(error),
    }


def flag_lines(flags: Iterable[FlagJson], indent: str = "  ") -> list[str]:
    """A line for each of `flag_dicts`."""
    return [f"{indent}! {flag['sentence']}" for flag in flags]


def age_dict(mixed: str, today: str = "") -> AgeJson:
    """When something was mixed, and how old it is on an ISO day, by default today."""
    on = date.fromisoformat(today) if today else date.today()
    return {"mixed": mixed, "days_old": (on - date.fromisoformat(mixed)).days if mixed else None}


def age_words(age: AgeJson) -> str:
    """The same in words; empty where nobody said. A day to come is told as it stands: it may be tomorrow elsewhere."""
    mixed, days = age["mixed"], age["days_old"]
    if days is None:
        return ""
    if days <= 0:
        return f"mixed {mixed}" if days else "mixed today"
    return f"mixed {mixed}, {counted(days, 'day')} old"
