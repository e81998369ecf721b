"""What a card's values may be: one finding for each name, colour, spectrum or header line that cannot be.

Nothing is raised for a single one, so that everything wrong in a file is told at once.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from difflib import get_close_matches
from itertools import pairwise

from ..colorimetry.colour_frame import is_frame
from ..errors import CardError
from ..messages.message import Message, finding
from .design import CardDesign, designs
from .print_number import is_number

# From an instrument; from photos beside a measured card; from a print of the same run that was read; from a printer's
# ICC profile; from the print's own photos; from nothing but what was sent to the printer.
GRADES = ("measured", "transferred", "sister", "profile", "photographed", "nominal")
CONDITIONS = ("M0", "M1", "M2", "M3")  # ISO 13655
SPECULAR = ("included", "excluded")
ILLUMINANTS = ("A", "C", "D50", "D65")
OBSERVERS = (2, 10)
INTENTS = RELATIVE, PERCEPTUAL, NONE = ("relative", "perceptual", "none")  # how a card was taken to a printer's profile
PAPER = "paper"
PAPER_LEAST_L = 70.0
MOST_AB = 140.0
# Paper with optical brightener sends back more light at 440 nm than falls on it there, so 1 is not the limit.
REFLECTANCE_LIMITS = (-0.01, 1.5)
MOST_UNCERTAIN = 50.0  # CIEDE2000


def check_names(found: Iterable[str], design: CardDesign) -> list[Message]:
    """A finding for each patch that is missing, doubled or not on the card, and what may be meant."""
    names = list(found)
    wanted = [*(patch.name for patch in design.patches), PAPER]
    missing = [name for name in wanted if name not in names]
    problems = []
    for name in dict.fromkeys(names):
        if name not in wanted:
            near = _nearest(name, missing) or _nearest(name, wanted)
            problems.append(finding("patch-not-on-card", patch=name, design=design.name, near=near))
        elif names.count(name) > 1:
            problems.append(finding("patch-doubled", patch=name, times=names.count(name)))
    return problems + [finding("patch-missing", patch=name) for name in missing]


def check_lab(name: str, lab: Iterable[float]) -> list[Message]:
    """A finding if no print can have this CIELAB value, or no white stock if it is the paper."""
    lightness, a, b = lab
    if not all(math.isfinite(value) for value in (lightness, a, b)):
        return [finding("value-not-a-number", name=name)]
    if not 0 <= lightness <= 102:
        return [finding("lightness-impossible", name=name, lightness=lightness)]
    if max(abs(a), abs(b)) > MOST_AB:
        return [finding("too-vivid-for-print", name=name, a=a, b=b, most=MOST_AB)]
    if name == PAPER and lightness < PAPER_LEAST_L:
        return [finding("paper-too-dark", name=name, lightness=lightness, least=PAPER_LEAST_L)]
    return []


def check_spectrum(name: str, reflectance: Iterable[float]) -> list[Message]:
    """A finding if a reflectance factor (0 to 1) is one that no print has."""
    low, high = REFLECTANCE_LIMITS
    for value in reflectance:
        if math.isnan(value):
            return [finding("value-not-a-number", name=name)]
        if not low <= value <= high:
            return [finding("reflectance-impossible", name=name, value=value)]
    return []


def check_wavelengths(wavelengths: Sequence[float]) -> list[Message]:
    """A finding if the wavelengths (nm) are not an even rising row that covers the visible range."""
    steps = [after - before for before, after in pairwise(wavelengths)]
    if not steps or min(steps) <= 0 or max(steps) - min(steps) > 0.02:
        return [finding("wavelengths-uneven")]
    # E308 allows steps of 20 nm at most, and knows how to continue 400 to 700 nm; ends further in are a guess.
    if steps[0] > 20.02 or wavelengths[0] > 400 or wavelengths[-1] < 700:
        return [finding("wavelengths-too-few")]
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


def check_key(key: str, value: str) -> list[Message]:
    """A finding if a header value is none that its key can have."""
    allowed: Mapping[str, tuple[str, ...]] = {
        "design": tuple(designs()),
        "grade": GRADES,
        "illuminant": ILLUMINANTS,
        "observer": tuple(str(angle) for angle in OBSERVERS),
        "condition": CONDITIONS,
        "specular": SPECULAR,
    }
    if key in allowed and value not in allowed[key]:
        return [finding("header-value-unknown", key=key, value=value, known=allowed[key])]
    if key == "date" and not is_date(value):
        return [finding("date-unreadable", value=value)]
    if key in ("print", "sister") and not all(is_number(one.strip()) for one in value.split(",")):
        return [finding("print-numbers-unreadable", value=value)]
    if key == "frame" and not is_frame(value):
        return [finding("frame-unreadable")]
    if key == "uncertainty" and not 0 < number(value) <= MOST_UNCERTAIN:
        return [finding("uncertainty-impossible", value=value, most=MOST_UNCERTAIN)]
    return []


def check_light(illuminant: str, observer: int) -> None:
    """Refuse an illuminant or observer that the tool cannot compute for.

    Raises
    ------
    CardError
        The name is not one of `ILLUMINANTS`, or the angle not one of `OBSERVERS`.
    """
    if illuminant not in ILLUMINANTS or observer not in OBSERVERS:
        raise CardError("light-unknown", "choose-a-known-illuminant", illuminant=illuminant, observer=observer)


def _nearest(name: str, names: Sequence[str]) -> str | None:
    by_shape = {_shape(candidate): candidate for candidate in names}
    by_lower = {candidate.lower(): candidate for candidate in names}
    near = get_close_matches(name.lower(), by_lower, n=1, cutoff=0.5)
    return by_shape.get(_shape(name)) or (by_lower[near[0]] if near else None)


def _shape(name: str) -> str:
    """What the eye sees of a name: l, I and 1 look alike, and O and 0."""
    return name.lower().translate(str.maketrans("lio", "110"))
