"""How a card was read: its geometry, gloss and ultraviolet, as the file says and as the user says.

The geometry is written as in CIE 15 (`45°a:0°`, `di:8°`) or as instruments have it (`45/0`, `d/8`, `d/8:i`). Only a
sphere can see the gloss of a surface ("specular included"), so only there it must be told.
The condition is that of ISO 13655: M0 and M1 with ultraviolet, M2 without, M3 polarised as well.
"""

from __future__ import annotations

import re
from typing import TypedDict

from ..messages.message import Message, finding
from .validation import SPECULAR, check_key

# From memory of common practice, without a source: two handheld instruments of one make agree to about this.
INSTRUMENT_UNCERTAINTY = 0.5
NEEDED = ("illuminant", "observer", "geometry", "date", "source", "uncertainty")
GEOMETRIES = ("45/0", "0/45", "d/8", "8/d")
INCLUDED, EXCLUDED = SPECULAR
UNKNOWN = "unknown"  # if nobody can say, which is kept as nothing
GLOSS = {word: INCLUDED for word in ("i", "in", "sci", INCLUDED)} | {
    word: EXCLUDED for word in ("e", "ex", "sce", EXCLUDED)
}
GLOSS_WORD = "|".join(GLOSS)
DIRECTED = re.compile(r"45[acx]?[:/]0|0[:/]45[acx]?")
SPHERE = re.compile(rf"(?:d([ie])?[:/][08]|[08][:/]d([ie])?)[:/,(]?({GLOSS_WORD})?\)?")


class Settings(TypedDict, total=False):
    """How a card was read; what is missing or empty, nobody says."""

    illuminant: str | None  # spectra are summed for it and for the observer: D65 and 10 if nobody says
    observer: int | None  # degrees
    geometry: str | None
    date: str | None
    source: str | None
    uncertainty: float | None  # 1-sigma CIEDE2000 of one reading, agreement with other instruments included
    condition: str | None  # M0 to M3
    specular: str | None  # one of SPECULAR, or UNKNOWN


def gloss_of(geometry: str) -> str | None:
    """Whether readings of a geometry hold the gloss: SPECULAR or UNKNOWN; empty if never; None if it is none."""
    plain = re.sub(r"[°º\s]|deg(rees?)?|annular|circumferential|specular", "", geometry.lower())
    sphere = SPHERE.fullmatch(plain)
    if not sphere:
        return "" if DIRECTED.fullmatch(plain) else None
    told = {GLOSS[word] for word in sphere.groups() if word}
    return told.pop() if len(told) == 1 else None if told else UNKNOWN


def header_of(said: Settings, given: Settings, design: str, spectra: bool) -> tuple[dict[str, str], list[Message]]:
    """The header of a values file, and a finding for what is missing or wrong.

    Parameters
    ----------
    said, given : what the file says, and what the user says and may do better; but nobody can tell who is right
        about the light, the condition and the gloss
    spectra : colours are summed from spectra, so the light is the user's choice
    """
    usual = {"illuminant": "D65", "observer": "10"}
    own = {key: _line(value) for key, value in said.items() if not (spectra and key in usual)}
    wish = (usual if spectra else {}) | {key: _line(value) for key, value in given.items() if value not in (None, "")}
    header = {"design": design, "grade": "measured"}
    own["uncertainty"] = f"{INSTRUMENT_UNCERTAINTY:g}"
    header |= {key: wish.get(key) or own.get(key, "") for key in NEEDED}
    problems = [found for key in ("illuminant", "observer", "condition") for found in _contradicted(key, own, wish)]
    for key, value in header.items():
        problems += check_key(key, value) if value else [finding("setting-missing", key=key)]
    gloss, wrong = _specular(header["geometry"], own, wish)
    return header | {
        "condition": wish.get("condition") or own.get("condition", ""),
        "specular": gloss,
    }, problems + wrong


def _line(value: object) -> str:
    """One line of text; empty for None."""
    return f"{value:g}" if isinstance(value, float) else "" if value is None else " ".join(str(value).split())


def _contradicted(key: str, own: dict[str, str], wish: dict[str, str]) -> list[Message]:
    said, given = own.get(key), wish.get(key)
    return (
        [finding("setting-contradicted", key=key, said=said, given=given)] if said and given not in (None, said) else []
    )


def _specular(geometry: str, own: dict[str, str], wish: dict[str, str]) -> tuple[str, list[Message]]:
    """What a values file says of the gloss: empty if nobody knows, or the geometry never sees any."""
    if not geometry:
        return "", []
    gloss = gloss_of(geometry)
    if gloss is None:
        return "", [finding("geometry-unknown", geometry=geometry, known=GEOMETRIES)]
    if gloss == "":
        return "", [finding("gloss-never-seen", geometry=geometry)] if wish.get("specular") == INCLUDED else []
    own = own if gloss == UNKNOWN else {"specular": gloss}
    told = wish.get("specular") or own.get("specular")
    if not told:
        return "", [finding("specular-missing", geometry=geometry)]
    if told == UNKNOWN:
        return own.get("specular", ""), []
    return told, _contradicted("specular", own, wish)
