"""A colour as the library keeps it: all that a later comparison needs, without its photo."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..arrays import Array
from ..colorimetry.error_covariance import Errors
from ..errors import LibraryError
from .error_budget import Colour
from .measure import Measurement

FORMAT = 1
POINTS = 81  # of a reflectance: 380 to 780 nm in steps of 5
DIGITS = 5  # decimals of errors, CIELAB units, and of reflectance: far below any noise
# Factors of a covariance are squared and subtracted; with fewer decimals what cancels would leave a rest.
PARTS = ("noise", "light", "fit", "eye", "ink", "card")


@dataclass(frozen=True)
class PhotoRef:
    """A photo that a record rests on."""

    digest: str  # sha256 of the file
    name: str  # what the file was called
    light: int  # 1, or 2 for the other light


@dataclass(frozen=True)
class Kept:
    """One strip's colour, as it was when it was measured."""

    name: str  # what it is called in its photo: left, right, beside-1 ...
    lab: tuple[float, float, float]
    illuminant: str
    observer: int  # degrees
    radius: float  # CIEDE2000 within which the true colour lies in 95 of 100 cases
    absolute: bool  # false with a card that nobody measured: only differences may be judged
    errors: Errors
    reflectance: tuple[float, ...]  # 81 values, 380 to 780 nm; the likeliest one
    cloth: tuple[float, ...] | None = None  # the same of the bare cloth, where its photo shows it

    @property
    def covariance(self) -> Array:
        """(3, 3) of Lab, all parts."""
        return self.errors.covariance


def keep(colour: Colour, measurement: Measurement) -> Kept:
    """What the library keeps of a colour that was just measured."""
    balance = colour.balance
    return Kept(
        name=colour.name,
        lab=colour.lab,
        illuminant=balance.illuminant,
        observer=balance.observer,
        radius=colour.radius,
        absolute=measurement.values.absolute,
        errors=colour.errors,
        reflectance=_rounded(colour.reflectance),
        cloth=None if measurement.cloth is None else _rounded(measurement.cloth.reflectance),
    )


def _rounded(reflectance: Array) -> tuple[float, ...]:
    return tuple(round(float(value), DIGITS) for value in reflectance)


def errors_dict(errors: Errors, digits: int | None = None) -> dict[str, Any]:
    """Ready for JSON, rounded to so many decimals; by default with all digits."""
    return {
        "parts": {name: _listed(part, digits) for name, part in errors.parts.items()},
        "shared": _listed(errors.shared, digits),
        "pattern": {name: _listed(np.array(error), digits) for name, error in errors.pattern.items()},
        "photos": list(errors.photos),
    } | ({"frame": errors.frame, "frame_shift": _listed(errors.frame_shift, digits)} if errors.frame else {})


def errors_from(facts: Mapping[str, Any]) -> Errors:
    """The error back from `errors_dict`.

    Raises
    ------
    LookupError, TypeError, ValueError, AttributeError, OverflowError
        It is not what was written.
    """
    every = _numbers([facts["parts"][name] for name in PARTS], (len(PARTS), 3, 3))
    parts = dict(zip(PARTS, every, strict=True))
    named = facts["pattern"].items()
    # All at once: one by one they would take longer than all the rest of a record.
    rows = _numbers([error for _, error in named], (None, 3)).tolist() if named else []
    pattern = {name: (x, y, z) for (name, _), (x, y, z) in zip(named, rows, strict=True)}
    measured = parts, _numbers(facts["shared"], (3, None)), pattern, tuple(map(str, facts["photos"]))
    if "frame" not in facts:
        return Errors(*measured)
    return Errors(*measured, str(facts["frame"]), _numbers(facts["frame_shift"], (3, None)))


def errors_as_text(kept: Kept) -> str:
    """What is known of the error, the reflectance, and the cloth's, as one JSON object."""
    facts = {"format": FORMAT, **errors_dict(kept.errors, DIGITS), "reflectance": list(kept.reflectance)}
    if kept.cloth is not None:
        facts["cloth"] = list(kept.cloth)
    return json.dumps(facts, separators=(",", ":"), allow_nan=False)


def errors_from_text(text: str) -> tuple[Errors, tuple[float, ...], tuple[float, ...] | None]:
    """The error, the reflectance, and the bare cloth's if it was seen, back from `errors_as_text`.

    Raises
    ------
    LibraryError
        The text is not what was written.
    """
    try:
        facts: dict[str, Any] = json.loads(text)
        if facts["format"] != FORMAT:
            raise ValueError(f"format {facts['format']}")
        cloth = _spectrum(facts["cloth"]) if "cloth" in facts else None
        return errors_from(facts), _spectrum(facts["reflectance"]), cloth
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError, RecursionError) as error:
        raise LibraryError("stored-error-unreadable", "verify-or-restore", cause=str(error)) from error


def _spectrum(values: list[Any]) -> tuple[float, ...]:
    return tuple(_numbers(values, (POINTS,)).tolist())


def _listed(numbers: Array, digits: int | None) -> list[Any]:
    # Adding zero turns -0.0 into 0.0.
    found: list[Any] = numbers.tolist() if digits is None else (np.round(numbers, digits) + 0).tolist()
    return found


def _numbers(rows: list[Any], shape: tuple[int | None, ...]) -> Array:
    """An array of that shape, read-only; None for any length above 0."""
    array = np.array(rows, dtype=float)
    if array.ndim != len(shape) or not array.size:
        raise ValueError(f"numbers of shape {array.shape}")
    if any(wanted not in (None, length) for wanted, length in zip(shape, array.shape, strict=True)):
        raise ValueError(f"numbers of shape {array.shape}")
    if not np.isfinite(array).all():
        raise ValueError("a number is missing")
    array.setflags(write=False)
    return array
