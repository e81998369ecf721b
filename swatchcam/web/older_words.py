"""What an earlier version stored on the tray -> the same in the words that things have today."""

from __future__ import annotations

from typing import Any

from ..messages.message import SAID_BEFORE

WORDS = "words"  # the key under which a file says in which words it is written
TODAY = 2
RENAMED = {
    "drawdown": "strip",
    "drawdowns": "strips",
    "window": "strip",
    "label": "mark",
    "strip": "row",
    "stage": "state",
    "lamp": "light",
    "lamps": "lights",
    "tints": "known_strips",
    "tints_alone": "known_strips_alone",
    "tints_in_mixes": "known_strips_in_mixes",
    "foreseen": "predicted",
    "foretold": "predicted",
}


def marked(facts: dict[str, Any]) -> dict[str, Any]:
    """What is to be stored, with the words that it is written in."""
    return facts | {WORDS: TODAY}


def in_todays_words(stored: dict[str, Any]) -> dict[str, Any]:
    """What was stored, however old, without the mark of its words."""
    if stored.get(WORDS) == TODAY:
        return {name: value for name, value in stored.items() if name != WORDS}
    return _keys_renamed(stored)


def _renamed(found: Any) -> Any:
    """The same with the keys of today, at every depth."""
    if isinstance(found, list):
        return [_renamed(each) for each in found]
    return _keys_renamed(found) if isinstance(found, dict) else found


def _keys_renamed(found: dict[str, Any]) -> dict[str, Any]:
    return {_key(name, found): _value(name, value) for name, value in found.items()}


def _value(name: str, value: Any) -> Any:
    """What stands under a key, in today's words."""
    if name == "typed":
        return _fields(value)
    if name == "needs":  # sentences without a code
        return [{"code": SAID_BEFORE, "sentence": each} for each in value]
    return _renamed(value)


def _fields(typed: list[list[str]]) -> list[list[str]]:
    """Fields of a form as they were filled in, by today's names."""
    return [[RENAMED.get(name, name), value] for name, value in typed]


def _key(name: str, among: dict[str, Any]) -> str:
    """Today's name of a key; what "strip" meant is told by the keys beside it."""
    if name == "strip" and "squeegee" in among:
        return "mark"
    if name == "strip" and "sitting" in among:
        return name
    return RENAMED.get(name, name)
