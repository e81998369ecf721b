"""One check from the photo to the verdict: the other strip, a target, or another photo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..colorimetry.lab_text import is_lab, parse_lab
from ..errors import UsageError
from .error_budget import Colour
from .measure import Measurement, measure
from .strip_names import any_loose, is_loose
from .verdict import DEFAULT_TOLERANCE, Verdict, against_target, between, judge


@dataclass(frozen=True)
class Check:
    """A verdict and all it rests on."""

    verdict: Verdict
    sample: Measurement
    reference: Measurement | None = None  # of the other photo, where there is one
    pair: tuple[Colour, Colour] | None = None  # what was compared; none against a target, which has no spectrum


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
) -> Check:
    """Judge one strip against the other strip (right against left), a target "L,a,b", or "PHOTO[:WINDOW]".

    `again` and `other_light` are further photos of the same scene as in `photo`, `row` the studio's own pigments,
    as in `measure`; `tolerance` is DEFAULT_TOLERANCE if none is given.

    Raises
    ------
    UsageError
        Target and other photo both given, a target that is not three CIELAB numbers, no strip of that name.
    SwatchcamError
        Whatever `measure` refuses.
    """
    tolerance = DEFAULT_TOLERANCE if tolerance is None else tolerance
    if target and against:
        raise UsageError("target-and-photo", "give-only-one")
    target_lab = parse_lab(target) if target else None
    other_path, other_strip = split_photo(against) if against else ("", None)
    beside = beside or any_loose(strip, other_strip)

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
        return Check(judge(against_target(colour, target_lab), tolerance), sample)
    if against:
        reference = look(other_path)
        standard = reference.colour(other_strip or colour.name)
        named = f"{Path(other_path).name}:{standard.name}"
        return Check(judge(between(colour, standard, named), tolerance), sample, reference, (colour, standard))
    rest = [c for c in sample.colours if c.name != colour.name]
    if not rest:
        raise UsageError("no-second-strip", "give-a-target", photo=photo)
    return Check(judge(between(colour, rest[0]), tolerance), sample, None, (colour, rest[0]))


def colour_meant(text: str, card: str | None, *, beside: bool = False, **how: Any) -> tuple[float, float, float]:
    """A colour that was named: "L,a,b", or "PHOTO[:STRIP]", which is measured as `measure` does.

    Raises
    ------
    UsageError
        Neither three numbers nor a photo, or no strip of that name.
    SwatchcamError
        Whatever `measure` refuses.
    """
    if not is_there(text) and (is_lab(text) or text.replace(";", ",").count(",") >= 2):
        return parse_lab(text)
    photo, strip = split_photo(text)
    measured = measure(photo, card, beside=beside or is_loose(strip), **how)
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
