"""What was done to the library as a whole, or looked at in it -> one dict -> text or JSON."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..library.backup import Count
from ..library.bulk.batch_import import Filled
from ..library.changes import Change, log
from ..library.library import Library
from ..library.verify import Finding
from .json_types.colours import FORMAT
from .json_types.library_care import AsideJson, ChangeJson, CountJson, FillJson, LogJson, VerifyJson, WhereJson
from .said import change_dict, finding_dict, refusal_dict


def verify_dict(count: Count, findings: Sequence[Finding]) -> VerifyJson:
    """What was looked at, and what is not as it was."""
    return {
        "format": FORMAT,
        "records": count.records,
        "photos": count.photos,
        "cards": count.cards,
        "broken": any(not finding.harmless for finding in findings),
        "findings": [{"harmless": finding.harmless, **finding_dict(finding.what)} for finding in findings],
    }


def log_dict(library: Library) -> LogJson:
    """The changes, the newest first."""
    return {"format": FORMAT, "library": str(library.place), "changes": [done_dict(change) for change in log(library)]}


def done_dict(change: Change) -> ChangeJson:
    """One change."""
    return {"number": change.number, "made": change.made, "undone": change.undone, **change_dict(change.what)}


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


def count_dict(count: Count, verb: str, file: Path) -> CountJson:
    """What was saved or brought back."""
    aside: list[AsideJson] = [{"yours": str(yours), "from_backup": str(kept)} for yours, kept in count.aside]
    return {
        "done": verb,
        "file": str(file),
        "records": count.records,
        "photos": count.photos,
        "cards": count.cards,
        "aside": aside,
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
