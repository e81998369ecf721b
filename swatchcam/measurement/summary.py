"""What photos of one scene gave, without their pixels: all that judging, keeping and mixing need of them.

It goes to and from JSON without loss, so that the process that reads a stranger's file need not be the one that keeps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from itertools import permutations
from pathlib import Path
from typing import Any

from ..errors import UsageError
from ..messages.message import Flag, flag_from_json
from .check import usual_strip
from .measure import Measurement
from .metamerism import DifferenceUnder, Metamerism, metamerism
from .stored_colour import Kept, PhotoRef, errors_dict, errors_from, keep

FORMAT = "swatchcam-sitting-1"


@dataclass(frozen=True)
class Sitting:
    """The strips that photos of one scene show, and what is known of how they were measured."""

    photos: tuple[tuple[str, PhotoRef], ...]  # path, and what is noted of it; the first was named first
    strips: tuple[Kept, ...]
    flags: Mapping[str, tuple[Flag, ...]]  # of each strip: what is weak about the photos, then about itself
    usual: str  # the strip that is meant where none is named: today's strip
    taken: str  # as the camera says, "2026:01:31 12:00:00", or ""
    phone: str
    card: str  # name of its values
    card_file: str  # where they lie, else their name
    grade: str
    row: str | None  # the studio's own pigments that were known
    metamers: tuple[Metamerism, ...] = ()  # of each pair of strips, if that was asked for

    @property
    def digest(self) -> str:
        """Of the first photo."""
        return self.photos[0][1].digest

    def strip_named(self, name: str | None = None) -> Kept:
        """The strip of that name; today's strip if none is named.

        Raises
        ------
        UsageError
            There is none.
        """
        wanted = name or self.usual
        for found in self.strips:
            if found.name == wanted:
                return found
        names = [found.name for found in self.strips]
        raise UsageError("strip-not-there", "choose-a-strip", photo=self.photos[0][1].name, strip=wanted, strips=names)

    def metamerism(self, sample: str, reference: str) -> Metamerism | None:
        """What was found of two strips under other lights."""
        return next((one for one in self.metamers if (one.sample, one.reference) == (sample, reference)), None)


def sitting_of(measurement: Measurement, *, metamers: bool = False) -> Sitting:
    """What is left of a measurement once its pixels are gone; `metamers` of each pair are worked out before that."""
    values, looks = measurement.values, zip(measurement.looks, measurement.lights, strict=True)
    return Sitting(
        photos=tuple(
            (look.photo.path, PhotoRef(look.photo.digest, Path(look.photo.path).name, light)) for look, light in looks
        ),
        strips=tuple(keep(colour, measurement) for colour in measurement.colours),
        flags={colour.name: (*measurement.flags, *colour.strip.flags) for colour in measurement.colours},
        usual=usual_strip(measurement),
        taken=measurement.photo.taken,
        phone=measurement.photo.camera,
        card=values.name,
        card_file=str(values.path or values.name),
        grade=values.grade,
        row=measurement.row.name if measurement.row else None,
        metamers=tuple(metamerism(one, other) for one, other in permutations(measurement.colours, 2))
        if metamers
        else (),
    )


def sitting_dict(sitting: Sitting) -> dict[str, Any]:
    """Ready for JSON, every number with all its digits."""
    photos = [
        {"path": path, "digest": ref.digest, "name": ref.name, "light": ref.light} for path, ref in sitting.photos
    ]
    return {
        "format": FORMAT,
        **{name: getattr(sitting, name) for name in ("usual", "taken", "phone", "card", "card_file", "grade", "row")},
        "photos": photos,
        "flags": {name: [flag.as_json() for flag in flags] for name, flags in sitting.flags.items()},
        "strips": [_kept_dict(kept) for kept in sitting.strips],
        "metamers": [asdict(found) for found in sitting.metamers],
    }


def sitting_from(facts: Mapping[str, Any]) -> Sitting:
    """The sitting back from `sitting_dict`.

    Raises
    ------
    ValueError
        It is of another version.
    """
    if facts["format"] != FORMAT:
        raise ValueError(f"a sitting of format {facts['format']!r}")
    photos = tuple((one["path"], PhotoRef(one["digest"], one["name"], one["light"])) for one in facts["photos"])
    return Sitting(
        photos=photos,
        strips=tuple(_kept_from(one) for one in facts["strips"]),
        metamers=tuple(_metamerism_from(one) for one in facts["metamers"]),
        flags={name: tuple(map(flag_from_json, flags)) for name, flags in facts["flags"].items()},
        **{name: facts[name] for name in ("usual", "taken", "phone", "card", "card_file", "grade", "row")},
    )


def _kept_dict(kept: Kept) -> dict[str, Any]:
    return vars(kept) | {"errors": errors_dict(kept.errors)}


def _kept_from(facts: Mapping[str, Any]) -> Kept:
    tuples = {name: tuple(facts[name]) for name in ("lab", "reflectance", "cloth") if facts.get(name)}
    return Kept(**dict(facts) | tuples | {"errors": errors_from(facts["errors"])})


def _metamerism_from(facts: Mapping[str, Any]) -> Metamerism:
    lights = {
        name: {light: DifferenceUnder(**seen) for light, seen in facts[name].items()} for name in ("under", "index")
    }
    return Metamerism(**dict(facts) | lights)
