"""How much of a print came off on white cloth: the clean cloth in one window, the stained one in the other.

What is measured is the middle of each window (`segmentation.stain_in_window`). It is graded as a fastness test's
white cloth is (`colorimetry.staining`), but who rubbed how hard, or washed how hot, no photo can say.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..colorimetry.error_covariance import INK_REACH, Covariance, Measured, covariance_of_difference
from ..colorimetry.intervals import interval_of_difference
from ..colorimetry.staining import staining_difference, staining_grade, staining_grades_within
from ..errors import StripError, UsageError
from ..messages.message import Flag, flag
from .check import Photos
from .measure import Measurement
from .stored_colour import Kept, PhotoRef
from .summary import Sitting

# No source: undyed cotton lies above 85 and below 12.
LEAST_WHITE, MOST_CHROMA = 75.0, 20.0  # L* and C* of cloth that is called white
# CIELAB units of a stain over which the ink errors of clean and stained cloth part, and how much wider the whole
# interval is made; from 386 drawn stains of the build scenes, of which it then holds 96 in 100; of 176
# final ones, looked at once, 91, and their grades 99.
STAIN_REACH, WIDER = 44.0, 1.1
FORMAT, DIGITS = 1, 4  # of what is kept; decimals far below any noise


@dataclass(frozen=True)
class StainingGrade:
    """How much a white cloth was stained."""

    difference: float  # dE_GS, ISO 105-A04
    low: float  # 95 % interval of the true one
    high: float

    @property
    def grade(self) -> str:
        """From 5, no stain, down to 1."""
        return staining_grade(self.difference)

    @property
    def grades(self) -> tuple[str, ...]:
        """Those that it may be, the best first."""
        return staining_grades_within(self.low, self.high)


@dataclass(frozen=True)
class Staining(StainingGrade):
    """A stained white cloth against the clean one, as just measured."""

    unstained: str  # what the clean cloth is called, and the stained one
    stained: str
    flags: tuple[Flag, ...]


@dataclass(frozen=True)
class KeptStaining(StainingGrade):
    """The same as the library keeps it with the strip that was rubbed or washed."""

    photos: tuple[PhotoRef, ...]
    measured: str  # ISO date


@dataclass(frozen=True)
class StainingCheck:
    """A grade and the photos it rests on."""

    staining: Staining
    sample: Measurement
    reference: Measurement | None = None  # of the clean cloth, where that is another photo


def staining_of(unstained: Measured, stained: Measured, names: tuple[str, str] | None = None) -> Staining:
    """The grade of two measured cloths; `names` are what both are called, where not as in their photos.

    What both share cancels in their difference, so two windows of one photo are surer than two photos.

    Raises
    ------
    StripError
        The one that should be clean is not white.
    """
    before, after = np.array(unstained.lab), np.array(stained.lab)
    clean, dirty = names or (unstained.name, stained.name)
    if before[0] < LEAST_WHITE or np.hypot(before[1], before[2]) > MOST_CHROMA:
        raise StripError("cloth-not-white", "lay-clean-cloth-left", strip=clean, lightness=float(before[0]))
    usual = covariance_of_difference(stained, unstained)
    covariance = WIDER**2 * (usual + _of_its_pigment(unstained, stained))
    low, high = interval_of_difference(after, before, covariance, formula=_as_formula)
    difference = float(staining_difference(before, after))
    whiter = after[0] - before[0] > 2 * np.sqrt(covariance[0, 0])
    flags = (flag("stained-cloth-whiter"),) if whiter else ()
    return Staining(difference, low, high, unstained=clean, stained=dirty, flags=flags)


def _of_its_pigment(unstained: Measured, stained: Measured) -> Covariance:
    """(3, 3) of the difference, which the usual one lacks: a stain is not the same ink a little deeper.

    Two neighbouring shades of one ink err alike. A faint stain lies as near to clean cloth, but all that parts them is
    a pigment of which the photo knows only three numbers.
    """
    size = float(np.linalg.norm(np.array(stained.lab) - np.array(unstained.lab)))
    apart, usual = 1 - np.exp(-size / STAIN_REACH), 1 - np.exp(-((size / INK_REACH) ** 2) / 2)
    return np.asarray(max(apart - usual, 0.0) * (unstained.errors.of("ink") + stained.errors.of("ink")))


def _as_formula(stained: Any, unstained: Any) -> Any:
    """dE_GS, its arguments in the order of the other formulas."""
    return staining_difference(unstained, stained)


def check_staining(
    photo: str, card: str | None = None, *, strips: Sequence[str] = (), against: Sequence[str] = (), **how: Any
) -> StainingCheck:
    """Grade the stained cloth (by default in the right window) against the clean one (by default in the left).

    `strips` and `against` are as of `check.check_photo`, one each; `how` is what else `measure` takes.

    Raises
    ------
    UsageError
        Several strips are named, none is of that name, or one is on both sides.
    SwatchcamError
        Whatever `measure` refuses.
    """
    if len(strips) > 1 or len(against) > 1:
        raise UsageError("several-stains", "grade-one-by-one")
    photos = Photos.of(photo, card, (*strips, *against), staining=True, **how)
    (sample,) = photos.strips(strips)
    (other,) = photos.strips(against, sample.colour.name) if against else (photos.rest([sample]),)
    if sample.colour is other.colour:
        raise UsageError("strip-against-itself", "choose-two-strips", strip=sample.words)
    found = staining_of(other.colour, sample.colour, (other.words, sample.words))
    return StainingCheck(found, photos.first, None if other.measurement is photos.first else other.measurement)


def cloths_in(sitting: Sitting, stained: str = "") -> tuple[Kept, Kept]:
    """The clean cloth and the stained one that photos of one scene show; by default the last window is the stained one.

    Raises
    ------
    UsageError
        There is no strip of that name, or only one.
    """
    dirty = sitting.strip_named(stained or None)
    clean = next((kept for kept in sitting.strips if kept.name != dirty.name), None)
    if clean is None:
        raise UsageError("no-second-strip", "show-both-cloths", photo=sitting.photos[0][1].name)
    return clean, dirty


def kept_staining(sitting: Sitting, day: str, stained: str = "") -> KeptStaining:
    """What the library keeps of photos of cloth; raises SwatchcamError as `cloths_in` and `staining_of`."""
    found = staining_of(*cloths_in(sitting, stained))
    photos = tuple(photo for _, photo in sitting.photos)
    return KeptStaining(found.difference, found.low, found.high, photos=photos, measured=day)


def staining_as_text(kept: KeptStaining) -> str:
    """As one JSON object; the grade follows from the numbers."""
    facts = {
        **{name: round(getattr(kept, name), DIGITS) for name in ("difference", "low", "high")},
        "measured": kept.measured,
        "photos": [vars(photo) for photo in kept.photos],
    }
    return json.dumps({"format": FORMAT, **facts}, ensure_ascii=False, allow_nan=False)


def staining_from_text(text: str) -> KeptStaining:
    """Back from `staining_as_text`.

    Raises
    ------
    ValueError, LookupError, TypeError, AttributeError
        It is not what was written.
    """
    facts = json.loads(text)
    low, difference, high = numbers = [float(facts[name]) for name in ("low", "difference", "high")]
    if facts["format"] != FORMAT or not 0 <= low <= high or not np.isfinite(numbers).all() or difference < 0:
        raise ValueError(f"staining {text!r:.40}")
    photos = tuple(PhotoRef(str(one["digest"]), str(one["name"]), int(one["light"])) for one in facts["photos"])
    return KeptStaining(difference, low, high, photos=photos, measured=str(facts["measured"]))
