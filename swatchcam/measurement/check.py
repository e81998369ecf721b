"""One check from the photo to the verdict: the other strip, a target, or another photo."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..colorimetry.lab_text import is_lab, parse_lab
from ..errors import UsageError
from .measure import Measurement, measure
from .verdict import DEFAULT_TOLERANCE, Verdict, against_target, between, judge


def check_photo(
    photo: str,
    card: str | None = None,
    *,
    again: Sequence[str] = (),
    other_light: Sequence[str] = (),
    row: str | None = None,
    strip: str | None = None,
    target: str | None = None,
    against: str | None = None,
    tolerance: float | None = None,
    illuminant: str = "D65",
    observer: int = 10,
    beside: bool = False,
) -> tuple[Verdict, Measurement, Measurement | None]:
    """Judge one strip against the other strip (right against left), a target "L,a,b", or "PHOTO[:WINDOW]".

    `again` and `other_light` are further photos of the same scene as in `photo`, `row` the studio's own pigments,
    as in `measure`; `tolerance` is DEFAULT_TOLERANCE if none is given. Returns the verdict, the measurement of
    `photo`, and that of the other photo if there is one.

    Raises
    ------
    UsageError
        Target and other photo both given, a target that is not three CIELAB numbers, no strip of that name.
    SwatchcamError
        Whatever `measure` refuses.
    """
    tolerance = DEFAULT_TOLERANCE if tolerance is None else tolerance
    if target and against:
        raise UsageError("Both --target and --against were given.", "Give one of them.")
    target_lab = parse_lab(target) if target else None
    other_path, other_strip = split_photo(against) if against else ("", None)
    beside = beside or any(name and name.startswith("beside") for name in (strip, other_strip))

    def look(path: str, again: Sequence[str] = (), other_light: Sequence[str] = ()) -> Measurement:
        return measure(
            path,
            card,
            illuminant=illuminant,
            observer=observer,
            beside=beside,
            again=again,
            other_light=other_light,
            row=row,
        )

    sample = look(photo, again, other_light)
    colour = sample.colour(strip or usual_strip(sample))
    if target_lab is not None:
        return judge(against_target(colour, target_lab), tolerance), sample, None
    if against:
        reference = look(other_path)
        standard = reference.colour(other_strip or colour.name)
        named = f"{Path(other_path).name}:{standard.name}"
        return judge(between(colour, standard, named), tolerance), sample, reference
    rest = [c for c in sample.colours if c.name != colour.name]
    if not rest:
        raise UsageError(
            f"{photo} has no second strip to compare with.", "Give a --target or another photo with --against."
        )
    return judge(between(colour, rest[0]), tolerance), sample, None


def colour_meant(
    text: str, strip: str | None, card: str | None, *, beside: bool = False, **how: Any
) -> tuple[float, float, float]:
    """A colour that was named: "L,a,b", or a photo, of which one strip is measured as `measure` does.

    Raises
    ------
    UsageError
        Neither three numbers nor a photo, or no strip of that name.
    SwatchcamError
        Whatever `measure` refuses.
    """
    if not is_there(text) and (is_lab(text) or text.replace(";", ",").count(",") >= 2):
        return parse_lab(text)
    measured = measure(text, card, beside=beside or (strip or "").startswith("beside"), **how)
    return measured.colour(strip or usual_strip(measured)).lab


def usual_strip(measurement: Measurement) -> str:
    """The strip judged when none is named: the last window of the card, where today's strip lies."""
    return measurement.pose.design.windows[-1].name


def is_there(name: str) -> bool:
    """Whether there is a file of that name; a name that no file can have is none."""
    try:
        return Path(name).exists()
    except (OSError, ValueError):
        return False


def split_photo(text: str) -> tuple[str, str | None]:
    """ "PHOTO[:WINDOW]" -> photo and strip; a file whose own name has a colon wins."""
    if is_there(text) or ":" not in text:
        return text, None
    path, _, strip = text.rpartition(":")
    return (path, strip) if path and strip and "/" not in strip and "\\" not in strip else (text, None)
