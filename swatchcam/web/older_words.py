"""What an earlier version stored on the tray -> the same in the words that things have today."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

from ..messages.message import SAID_BEFORE

# The words below are what earlier versions wrote: they stay, whatever today's constants are called.
Typed = TypeVar("Typed")

WORDS = "words"  # the key under which a file says in which words it is written
TODAY = 3
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
    then = stored.get(WORDS, 1)
    facts = {name: value for name, value in stored.items() if name != WORDS}
    facts = facts if then > 1 else _keys_renamed(facts)
    return facts if then == TODAY else _of_a_target(facts)


def fields_today(kind: str, typed: Iterable[tuple[str, Typed]]) -> list[tuple[str, Typed]]:
    """Fields of a form of the mixing table by today's names; what no one chose is left out.

    A form for a fresh pot once asked for a `state`, air-dried unless another was chosen: that of the target, as it is
    called now.
    """
    if kind not in ("recipe", "again"):
        return list(typed)
    said = [(name, value) for name, value in typed if (name, value) != ("state", "air-dried")]
    return [("target_state" if name == "state" else name, value) for name, value in said]


def _of_a_target(facts: dict[str, Any]) -> dict[str, Any]:
    """A question for a fresh pot, of before a target had a state, with what was chosen as the target's."""
    if facts.get("kind") not in ("recipe", "again") or "typed" not in facts or "place" not in facts:
        return facts
    typed = fields_today(facts["kind"], [(name, value) for name, value in facts["typed"]])
    state = dict(typed).get("target_state", "")
    place = facts["place"] | {"state": ""}
    return facts | {"typed": [list(each) for each in typed], "place": place, "asked": facts["asked"] | {"state": state}}


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
