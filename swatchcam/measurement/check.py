"""One check from the photo to the verdict: the other strip, a target, or another photo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..colorimetry.lab_text import is_lab, parse_lab
from ..errors import UsageError
from ..text import listed
from .error_budget import Colour
from .measure import Measurement, measure
from .pot_verdict import PotStrip, PotVerdict, judge_pots
from .stored_colour import keep
from .strip_names import any_loose, is_loose
from .verdict import (
    DEFAULT_TOLERANCE,
    Difference,
    Verdict,
    against_target,
    between,
    between_means,
    judge,
    mean_against_target,
)


@dataclass(frozen=True)
class Check:
    """A verdict and all it rests on."""

    verdict: Verdict  # of the strips
    sample: Measurement
    reference: Measurement | None = None  # of the other photo, where there is one
    pair: tuple[Colour, Colour] | None = None  # what was compared; none against a target, which has no spectrum
    pots: PotVerdict | None = None  # of the pots behind the strips; none against a target


def check_photo(
    photo: str,
    card: str | None = None,
    *,
    again: Sequence[str] = (),
    other_light: Sequence[str] = (),
    row: str | None = None,
    strips: Sequence[str] = (),
    target: str | None = None,
    against: Sequence[str] = (),
    tolerance: float | None = None,
    illuminant: str = "D65",
    observer: int = 10,
    beside: bool = False,
) -> Check:
    """Judge strips of one pot against the other strip (right against left), a target "L,a,b", or `against`.

    `strips` and `against` are strips of this photo, or "PHOTO[:STRIP]"; several are of one pot, and their mean is
    judged. `again` and `other_light` are further photos of the same scene as in `photo`, `row` the studio's own
    pigments, as in `measure`; `tolerance` is DEFAULT_TOLERANCE if none is given.

    Raises
    ------
    UsageError
        Target and other strips both given, a target that is not three CIELAB numbers, no strip of that name, or one
        that is on both sides.
    SwatchcamError
        Whatever `measure` refuses.
    """
    tolerance = DEFAULT_TOLERANCE if tolerance is None else tolerance
    if target and against:
        raise UsageError("target-and-photo", "give-only-one")
    target_lab = parse_lab(target) if target else None
    named = [text if is_loose(text) else split_photo(text)[1] for text in (*strips, *against)]
    beside = beside or any_loose(*named)

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

    photos = _Photos({photo: look(photo, again, other_light)}, look)
    sample = photos.measured[photo]
    samples = [photos.strip(text, photo) for text in strips] or [photos.strip(usual_strip(sample), photo)]
    if target_lab is not None:
        return Check(_judged_by_target(samples, target_lab, tolerance), sample)
    usual = samples[0].colour.name
    others = [photos.strip(text, photo, usual) for text in against] or [_other_strip(sample, samples, photo)]
    if twice := next((one.words for one in samples if any(one.colour is other.colour for other in others)), None):
        raise UsageError("strip-against-itself", "choose-two-strips", strip=twice)
    reference = others[0].measurement if others[0].measurement is not sample else None
    difference = _difference(samples, others)
    pots = judge_pots([one.of_pot for one in others], [one.of_pot for one in samples], tolerance)
    return Check(judge(difference, tolerance), sample, reference, (samples[0].colour, others[0].colour), pots)


@dataclass(frozen=True)
class _Named:
    """A strip that was named."""

    colour: Colour
    measurement: Measurement
    words: str  # what it is called in the answer

    @property
    def of_pot(self) -> PotStrip:
        return pot_strip(self.colour, self.measurement)


def pot_strip(colour: Colour, measurement: Measurement) -> PotStrip:
    """A strip that was just measured, as one of its pot."""
    vivid = any(found.code == "too-vivid" for found in colour.strip.flags)
    return PotStrip(keep(colour, measurement), vivid)


@dataclass
class _Photos:
    """Photos that were measured, each only once."""

    measured: dict[str, Measurement]
    look: Callable[[str], Measurement]

    def strip(self, text: str, photo: str, usual: str = "") -> _Named:
        """ "STRIP" of a photo, or "PHOTO[:STRIP]"; `usual` is the strip meant where a photo is named alone."""
        names = [colour.name for colour in self.measured[photo].colours]
        if text in names or is_loose(text):
            path, strip = photo, text
        else:
            path, name = split_photo(text)
            strip = name or usual
            if name is None and not is_there(path):
                raise UsageError("strip-not-there", "choose-a-strip", photo=photo, strip=text, strips=names)
        if path not in self.measured:
            self.measured[path] = self.look(path)
        found = self.measured[path]
        colour = found.colour(strip or usual_strip(found))
        return _Named(colour, found, colour.name if path == photo else f"{Path(path).name}:{colour.name}")


def _other_strip(sample: Measurement, samples: Sequence[_Named], photo: str) -> _Named:
    taken = {one.colour.name for one in samples}
    rest = [colour for colour in sample.colours if colour.name not in taken]
    if not rest:
        raise UsageError("no-second-strip", "give-a-target", photo=photo)
    return _Named(rest[0], sample, rest[0].name)


def _difference(samples: Sequence[_Named], others: Sequence[_Named]) -> Difference:
    if len(samples) == len(others) == 1:
        return between(samples[0].colour, others[0].colour, others[0].words)
    names = listed([one.words for one in samples]), listed([one.words for one in others])
    return between_means([one.colour for one in samples], [one.colour for one in others], names)


def _judged_by_target(samples: Sequence[_Named], target: tuple[float, float, float], tolerance: float) -> Verdict:
    if len(samples) == 1:
        return judge(against_target(samples[0].colour, target), tolerance)
    words = listed([one.words for one in samples])
    return judge(mean_against_target([one.colour for one in samples], target, words), tolerance)


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
