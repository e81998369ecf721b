"""The whole library looked after -> dicts: where it lies, filled, counted, verified."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..library.backup import Count
from ..library.batch_import import Filled
from ..library.library import Library
from ..library.verify import Finding
from .json_types.colours import FORMAT
from .json_types.library_care import CountJson, FillJson, VerifyJson, WhereJson
from .said import finding_dict, refusal_dict


def where_dict(library: Library) -> WhereJson:
    """Where the library lies, and how much is in it."""
    shades, batches, records = library.counts()
    return {
        "format": FORMAT,
        "library": str(library.place),
        "photos": str(library.place.photos),
        "shades": shades,
        "batches": batches,
        "records": records,
    }


def fill_dict(filled: Filled, place: str) -> FillJson:
    """What became of the photos of a folder."""
    return {
        "format": FORMAT,
        "library": place,
        "kept": [{"photo": str(photo), "record": number} for photo, number in filled.kept],
        "in_already": [str(photo) for photo in filled.there],
        "refused": [{"photo": str(each.photo), **refusal_dict(each.error)} for each in filled.refused],
    }


def count_dict(count: Count, verb: str, file: Path) -> CountJson:
    """What was saved or brought back."""
    return {"done": verb, "file": str(file), "records": count.records, "photos": count.photos}


def verify_dict(count: Count, findings: Sequence[Finding]) -> VerifyJson:
    """What was looked at, and what is not as it was."""
    return {
        "format": FORMAT,
        "records": count.records,
        "photos": count.photos,
        "broken": any(not finding.harmless for finding in findings),
        "findings": [{"harmless": finding.harmless, **finding_dict(finding.what)} for finding in findings],
    }
