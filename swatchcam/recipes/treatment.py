"""How a strip was heated, washed or rubbed: temperature, time and tool, as somebody typed them.

What is kept is one short text, tidied: "150 °C, 4 min, press". It is read again by `celsius_in` and `seconds_in`.
"""

from __future__ import annotations

import re

from ..errors import UsageError

NUMBER = r"(?P<number>\d{1,5}(?:[.,]\d{1,3})?)"
TEMPERATURE = re.compile(rf"{NUMBER} ?(?:°|º|deg(?:ree)?s?\.?)? ?(?P<unit>celsius|fahrenheit|[cf])\b", re.ASCII)
TIME = re.compile(rf"{NUMBER} ?(?P<unit>h|hours?|min|mins|minutes?|s|secs?|seconds?)\b", re.ASCII)
DOTS = re.compile(r"(?P<number>[123]) ?dots?\b")  # on an iron
STROKES = re.compile(r"(?P<number>\d{1,4}) ?(?:strokes?|rubs?)\b", re.ASCII)
TOOL = re.compile(r"\b(?:(?:heat|hot|hand|steam|tunnel|flash|hair) )?(?P<tool>iron|press|dryer|drier|oven)\b")
DAMP = re.compile(r"\b(?P<word>dry|wet)\b")
BETWEEN = re.compile(r"\b(?:at|for|in|on|with|and|an?|the|under|by|of)\b|[(),;]|(?<!\d)\.|\.(?!\d)")
TOUCH = 1e-6  # °C or s that rounding may leave
SECONDS = {"s": 1.0, "m": 60.0, "h": 3600.0}
# What makes two treatments unlike: so many °C, or so many times as long; no source.
UNLIKE_DEGREES, UNLIKE_TIMES = 10.0, 1.5
KEPT = re.compile(r"(?P<number>[\d.]+) (?P<unit>°C|°F|h|min|s)(?=,|$)")
# What can be meant, °C and s: an iron's lowest setting to a press that scorches, a cold wash to a boil; no source.
HEAT, WASH, LONGEST = (60.0, 260.0), (5.0, 100.0), 24 * 3600.0


def tidy_treatment(typed: str, *, heat: bool = False, wash: bool = False, rub: bool = False) -> str:
    """What was typed of a treatment, such as "at 150 C for 4 min, heat press", tidied: "150 °C, 4 min, press".

    Raises
    ------
    UsageError
        Some of it cannot be read, or no such temperature or time can be meant.
    """
    rest, found = f" {' '.join(typed.lower().split())} ", list[str]()

    def take(pattern: re.Pattern[str], words: str) -> None:
        nonlocal rest
        if match := pattern.search(rest):
            said = {name: value for name, value in match.groupdict().items() if value}
            found.append(words.format(**said | {"number": _tidy_number(said.get("number", "0"))}))
            rest = rest[: match.start()] + " " + rest[match.end() :]

    if heat or wash:
        degrees = TEMPERATURE.search(rest)
        take(TEMPERATURE, f"{{number}} °{degrees['unit'][0].upper()}" if degrees else "")
        while time := TIME.search(rest):  # 1 min 30 s
            take(TIME, f"{{number}} {_unit(time['unit'])}")
    if heat:
        take(DOTS, "{number} dot" + "s" * (" 1 dot" not in rest))
        take(TOOL, "{tool}")
    if rub:
        take(DAMP, "{word}")
        take(STROKES, "{number} strokes")
    if left := " ".join(BETWEEN.sub(" ", rest).split()):
        raise UsageError("treatment-unreadable", "write-the-treatment", typed=typed.strip(), left=left)
    tidied = ", ".join(found).replace("drier", "dryer")
    _refuse_impossible(tidied, HEAT if heat else WASH)
    return tidied


def celsius_in(kept: str) -> float | None:
    """The temperature that a tidied treatment says, °C; None where it says none."""
    for match in KEPT.finditer(kept):
        if match["unit"] == "°C":
            return float(match["number"])
        if match["unit"] == "°F":
            return (float(match["number"]) - 32) / 1.8
    return None


def seconds_in(kept: str) -> float | None:
    """The time that a tidied treatment says, s; None where it says none."""
    told = [float(match["number"]) * SECONDS[match["unit"][0]] for match in KEPT.finditer(kept) if "°" not in match[0]]
    return sum(told) if told else None


def tool_in(kept: str) -> str:
    """ "iron", "press", "dryer" or "oven", where a tidied treatment says it; else ""."""
    match = TOOL.search(kept)
    return match["tool"] if match else ""


def settings_in(kept: str) -> str:
    """What a tidied treatment says beside temperature and time: "2 dots, iron"."""
    return ", ".join(part for part in kept.split(", ") if not KEPT.fullmatch(part))


def clearly_unlike(one: str, other: str) -> bool:
    """Whether two tidied treatments say that they clearly differ: in temperature, in time, or one wet and one dry."""
    degrees = _told(celsius_in(one), celsius_in(other))
    times = _told(seconds_in(one), seconds_in(other))
    damp = {match["word"] for kept in (one, other) if (match := DAMP.search(kept))}
    hotter = degrees[1] - degrees[0] > UNLIKE_DEGREES + TOUCH
    return hotter or times[1] > UNLIKE_TIMES * times[0] + TOUCH or len(damp) > 1


def _told(one: float | None, other: float | None) -> tuple[float, float]:
    """Two numbers, the smaller first; as if they were the same where one is not known."""
    return (0.0, 0.0) if one is None or other is None else (min(one, other), max(one, other))


def _tidy_number(typed: str) -> str:
    return f"{float(typed.replace(',', '.')):g}"


def _unit(typed: str) -> str:
    return "min" if typed.startswith("m") else typed[0]


def _refuse_impossible(tidied: str, limits: tuple[float, float]) -> None:
    celsius, seconds = celsius_in(tidied), seconds_in(tidied)
    low, high = limits
    if celsius is not None and not low <= celsius <= high:
        raise UsageError("temperature-impossible", "write-the-treatment", typed=tidied, low=low, high=high)
    if seconds is not None and not 0 < seconds <= LONGEST:
        raise UsageError("time-impossible", "write-the-treatment", typed=tidied)
