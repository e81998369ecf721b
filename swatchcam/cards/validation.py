"""What a card's values may be: one line of text for each name, colour, spectrum or header line that cannot be.

Nothing is raised for a single line, so that everything wrong in a file is told at once.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from difflib import get_close_matches
from itertools import pairwise

from ..errors import CardError
from .design import CardDesign, designs

GRADES = ("measured", "transferred", "nominal")
ILLUMINANTS = ("A", "C", "D50", "D65")
OBSERVERS = (2, 10)
PAPER = "paper"
PAPER_LEAST_L = 70.0
# Paper with optical brightener sends back more light at 440 nm than falls on it there, so 1 is not the limit.
REFLECTANCE_LIMITS = (-0.01, 1.5)


def refusal(start: str, problems: Sequence[str], remedy: str) -> CardError:
    """One refusal that tells every problem, each on a line of its own."""
    return CardError("\n".join([f"{start}:", *(f"  - {line}" for line in problems)]), remedy)


def check_names(found: Iterable[str], design: CardDesign) -> list[str]:
    """One line for each patch that is missing, doubled or not on the card, and what may be meant."""
    names = list(found)
    wanted = [*(patch.name for patch in design.patches), PAPER]
    missing = [name for name in wanted if name not in names]
    lines = []
    for name in dict.fromkeys(names):
        if name not in wanted:
            near = _nearest(name, missing) or _nearest(name, wanted)
            hint = f" (is '{near}' meant?)" if near else ""
            lines.append(f"'{name}' is not a patch of design '{design.name}'{hint}")
        elif names.count(name) > 1:
            lines.append(f"patch {name} is there {names.count(name)} times")
    return lines + [f"patch {name} is missing" for name in missing]


def check_lab(name: str, lab: Iterable[float]) -> list[str]:
    """A line if no printed patch can have this CIELAB value, or no white stock if it is the paper."""
    lightness, a, b = lab
    if not all(math.isfinite(value) for value in (lightness, a, b)):
        return [f"patch {name} has a value that is not a number"]
    if not 0 <= lightness <= 102:
        return [f"patch {name} has L {lightness:g}, which must lie between 0 and 100"]
    if max(abs(a), abs(b)) > 140:
        return [f"patch {name} has a {a:g} and b {b:g}, which no print reaches (limit 140)"]
    if name == PAPER and lightness < PAPER_LEAST_L:
        return [f"'{PAPER}' has L {lightness:g}, white card stock has more than {PAPER_LEAST_L:g}"]
    return []


def check_spectrum(name: str, reflectance: Iterable[float]) -> list[str]:
    """A line if a reflectance factor (0 to 1) is one that no print has."""
    low, high = REFLECTANCE_LIMITS
    wrong = [value for value in reflectance if not low <= value <= high]
    return [f"patch {name} has reflectance {wrong[0]:g}, which must lie between 0 and 1"] if wrong else []


def check_wavelengths(wavelengths: Sequence[float]) -> list[str]:
    """A line if the wavelengths (nm) are not an even rising row that covers the visible range."""
    steps = [after - before for before, after in pairwise(wavelengths)]
    if not steps or min(steps) <= 0 or max(steps) - min(steps) > 0.02:
        return ["the wavelengths of the spectral columns do not rise in even steps"]
    # E308 allows steps of 20 nm at most, and knows how to continue 400 to 700 nm; ends further in are a guess.
    if steps[0] > 20.02 or wavelengths[0] > 400 or wavelengths[-1] < 700:
        return ["the spectral columns must reach from 400 to 700 nm at least, in steps of 20 nm or less"]
    return []


DECIMAL = re.compile(r"\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?\s*", re.ASCII)


def number(text: str) -> float:
    """A decimal number written with a point; anything else is NaN, so that one check catches it."""
    return float(text) if DECIMAL.fullmatch(text) else math.nan


def is_date(text: str) -> bool:
    """Whether the text is a day of the calendar, written year-month-day."""
    try:
        return bool(re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII)) and bool(date.fromisoformat(text))
    except ValueError:
        return False


def check_key(key: str, value: str) -> list[str]:
    """A line if a header value is none that its key can have."""
    allowed: Mapping[str, tuple[str, ...]] = {
        "design": tuple(designs()),
        "grade": GRADES,
        "illuminant": ILLUMINANTS,
        "observer": tuple(str(angle) for angle in OBSERVERS),
    }
    if key in allowed and value not in allowed[key]:
        return [f"{key} '{value}' is not one of {', '.join(allowed[key])}"]
    if key == "date" and not is_date(value):
        return [f"date '{value}' is not a day written like 2026-01-31"]
    if key == "uncertainty" and not 0 < number(value) <= 50:
        return [f"uncertainty '{value}' is not a CIEDE2000 between 0 and 50"]
    return []


def check_light(illuminant: str, observer: int) -> None:
    """Refuse an illuminant or observer that the tool cannot compute for.

    Raises
    ------
    CardError
        The name is not one of `ILLUMINANTS`, or the angle not one of `OBSERVERS`.
    """
    problems = check_key("illuminant", illuminant) + check_key("observer", str(observer))
    if problems:
        raise CardError(f"The {' and the '.join(problems)}.", "Choose one of these and try again.")


def _nearest(name: str, names: Sequence[str]) -> str | None:
    by_shape = {_shape(candidate): candidate for candidate in names}
    by_lower = {candidate.lower(): candidate for candidate in names}
    near = get_close_matches(name.lower(), by_lower, n=1, cutoff=0.5)
    return by_shape.get(_shape(name)) or (by_lower[near[0]] if near else None)


def _shape(name: str) -> str:
    """What the eye sees of a name: l, I and 1 look alike, and O and 0."""
    return name.lower().translate(str.maketrans("lio", "110"))
