"""One check from the photo to the verdict: the other strip, a target, or another photo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from ..colorimetry.lab_text import is_lab, parse_lab
from ..errors import UsageError
from ..text import listed
from .error_budget import Colour
from .measure import Measurement, measure
from .pot_verdict import POT, STRIPS, PotStrip, PotVerdict, judge_pots
from .stored_colour import keep
from .strip_names import any_loose, is_loose
from .verdict import (
    DEFAULT_TOLERANCE,
    Difference,
    Outcome,
    Verdict,
    against_target,
    between_pots,
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

    def outcome(self, judge: str = STRIPS) -> Outcome:
        """The verdict that counts: that of the strips, or that of the pot behind them (STRIPS or POT)."""
        strips = self.verdict.outcome
        return self.pots.judged(strips) if self.pots and judge == POT else strips


def check_photo(
    photo: str,
    card: str | None = None,
    *,
    strips: Sequence[str] = (),
    target: str | None = None,
    against: Sequence[str] = (),
    tolerance: float | None = None,
    **how: Any,
) -> Check:
    """Judge strips of one pot against the other strip (right against left), a target "L,a,b", or `against`.

    `strips` and `against` are strips of this photo, or "PHOTO[:STRIP]"; several are of one pot, and their mean is
    judged. `how` is what else `measure` takes; `tolerance` is DEFAULT_TOLERANCE if none is given.

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
    photos = Photos.of(photo, card, (*strips, *against), **how)
    samples = photos.strips(strips)
    if target_lab is not None:
        return Check(_judged_by_target(samples, target_lab, tolerance), photos.first)
    others = photos.strips(against, samples[0].colour.name) if against else [photos.rest(samples)]
    if twice := next((one.words for one in samples if any(one.colour is other.colour for other in others)), None):
        raise UsageError("strip-against-itself", "choose-two-strips", strip=twice)
    reference = others[0].measurement if others[0].measurement is not photos.first else None
    pots = judge_pots([one.of_pot for one in others], [one.of_pot for one in samples], tolerance)
    verdict = judge(_difference(samples, others), tolerance)
    return Check(verdict, photos.first, reference, (samples[0].colour, others[0].colour), pots)


@dataclass(frozen=True)
class NamedStrip:
    """A strip that was named."""

    colour: Colour
    measurement: Measurement
    words: str  # what it is called in the answer

    @property
    def of_pot(self) -> PotStrip:
        """As one of its pot."""
        return PotStrip.of(keep(self.colour, self.measurement), self.colour.strip.flags)


@dataclass
class Photos:
    """The photos in which strips were named, each measured only once."""

    path: str  # of the first photo
    look: Callable[[str], Measurement]
    measured: dict[str, Measurement]

    @classmethod
    def of(
        cls,
        photo: str,
        card: str | None,
        names: Sequence[str],
        *,
        again: Sequence[str] = (),
        other_light: Sequence[str] = (),
        beside: bool = False,
        **how: Any,
    ) -> Photos:
        """The first photo, measured with its further ones; `names` of strips say whether loose ones are meant."""
        beside = beside or any_loose(*(split_photo(text)[1] or text for text in names))
        first = measure(photo, card, beside=beside, again=again, other_light=other_light, **how)
        look = partial(measure, card=card, beside=beside, earlier=first.values, **how)
        return cls(photo, look, {photo: first})

    @property
    def first(self) -> Measurement:
        """What the first photo shows."""
        return self.measured[self.path]

    def strips(self, names: Sequence[str], usual: str = "") -> list[NamedStrip]:
        """The strips of these names; today's strip if there is none. `usual` is as of `strip`.

        Raises
        ------
        UsageError
            There is none of that name, or one was named twice: it would count as two.
        """
        found = [self.strip(name, usual) for name in names or [usual_strip(self.first)]]
        for place, one in enumerate(found):
            if any(one.colour is other.colour for other in found[:place]):
                raise UsageError("strip-named-twice", "name-each-strip-once", strip=one.words)
        return found

    def strip(self, text: str, usual: str = "") -> NamedStrip:
        """ "STRIP" of the first photo, or "PHOTO[:STRIP]"; `usual` is the strip meant where a photo stands alone.

        Raises
        ------
        UsageError
            There is none of that name; SwatchcamError where its photo can't be read.
        """
        path, name = split_photo(text)
        if not (path and name) and not is_there(path):
            return NamedStrip(self.first.colour(text), self.first, text)
        if path not in self.measured:
            self.measured[path] = self.look(path)
        found = self.measured[path]
        colour = found.colour(name or usual or usual_strip(found))
        return NamedStrip(colour, found, colour.name if path == self.path else f"{Path(path).name}:{colour.name}")

    def rest(self, samples: Sequence[NamedStrip]) -> NamedStrip:
        """The first strip that is none of these."""
        taken = {one.colour.name for one in samples}
        rest = [colour for colour in self.first.colours if colour.name not in taken]
        if not rest:
            raise UsageError("no-second-strip", "give-a-target", photo=self.path)
        return NamedStrip(rest[0], self.first, rest[0].name)


def _difference(samples: Sequence[NamedStrip], others: Sequence[NamedStrip]) -> Difference:
    names = listed([one.words for one in samples]), listed([one.words for one in others])
    return between_pots([one.colour for one in samples], [one.colour for one in others], names)


def _judged_by_target(samples: Sequence[NamedStrip], target: tuple[float, float, float], tolerance: float) -> Verdict:
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
