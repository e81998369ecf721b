"""The staining of white cloth -> one dict -> what the terminal says; the page says the same of the same dict."""

from __future__ import annotations

from collections.abc import Sequence

from ..library.records import Record
from ..measurement.staining import KeptStaining, Staining, StainingCheck, StainingGrade
from .json_types.colours import FORMAT
from .json_types.library import KeptPhotoJson, KeptStainingJson, StainedJson, StainedRecordJson
from .json_types.measuring import MeasurementJson, StainingJson
from .measurement import measurement_dict
from .measurement_text import measurement_text, weak_lines
from .said import flag_dicts, flag_lines

# No source: the standards give numbers, no words.
WORDS = {
    "5": "no colour came off that a photo can show",
    "4-5": "hardly any colour came off",
    "4": "a little colour came off",
    "3-4": "some colour came off",
    "3": "colour clearly came off",
    "2-3": "a lot of colour came off",
    "2": "a lot of colour came off",
    "1-2": "a great deal of colour came off",
    "1": "a great deal of colour came off",
}
# Force, finger and strokes as public summaries of ISO 105-X12 tell them; the standard's text was not seen.
CAUTIONS = (
    "Rubbing by hand is not the laboratory test, which presses down a finger of 16 mm with 9 N and rubs 10 times to and"
    " fro, once dry and once wet (ISO 105-X12). Nor is washing at home (ISO 105-C06).",
    "Compare your own prints with each other, rubbed or washed in the same way.",
)
FAST_ENOUGH = ("5", "4-5", "4")  # no source: from here on a studio seldom sees it; what is asked depends on the use
NEXT = "See how long and how hot the ink maker wants it heated, heat a new strip that way, and test it again."
KEEPING = "Keep the grade with the strip that was rubbed or washed: swatchcam record NUMBER --stained PHOTO"


def staining_dict(check: StainingCheck) -> StainingJson:
    """A grade as one object: the grade first, then all it rests on."""
    other = measurement_dict(check.reference) if check.reference else None
    return graded_dict(check.staining, measurement_dict(check.sample), other)


def graded_dict(
    found: Staining, sample_photo: MeasurementJson, reference_photo: MeasurementJson | None = None
) -> StainingJson:
    """The same of photos that were measured before, each a `measurement_dict`."""
    return {
        "format": FORMAT,
        **stained_dict(found),
        "unstained": found.unstained,
        "stained": found.stained,
        "flags": flag_dicts(found.flags),
        "caution": " ".join(CAUTIONS),
        "sample_photo": sample_photo,
        "reference_photo": reference_photo,
    }


def kept_staining_dict(kept: KeptStaining | None) -> KeptStainingJson | None:
    """What is kept with a record, where something is."""
    if kept is None:
        return None
    photos: list[KeptPhotoJson] = [
        {"name": photo.name, "sha256": photo.digest, "light": photo.light} for photo in kept.photos
    ]
    return {**stained_dict(kept), "measured": kept.measured, "photos": photos}


def stained_records(records: Sequence[Record]) -> list[StainedRecordJson]:
    """The records with which a stained cloth was kept."""
    return [
        {
            **kept,
            "record": record.number,
            "batch": record.batch,
            "let_down": record.let_down,
            "state": str(record.state),
        }
        for record in records
        if (kept := kept_staining_dict(record.staining))
    ]


def stained_dict(found: StainingGrade) -> StainedJson:
    """The grade and its numbers."""
    return {
        "grade": found.grade,
        "grades_possible": list(found.grades),
        "sentence": sentence(found),
        "difference": round(found.difference, 2),
        "interval95": [round(found.low, 2), round(found.high, 2)],
    }


def sentence(found: StainingGrade) -> str:
    """ "Staining grade 4-5 (it may be 4): hardly any colour came off." """
    others = [grade for grade in found.grades if grade != found.grade]
    may_be = f" (it may be {' or '.join(others)})" if others else ""
    return f"Staining grade {found.grade}{may_be}: {WORDS[found.grade]}."


def staining_text(result: StainingJson, numbers: bool = False) -> str:
    """What `swatchcam check --staining` prints, from `staining_dict`."""
    low, high = result["interval95"]
    lines = [
        result["sentence"],
        "",
        f"  {result['stained']} compared with {result['unstained']}: staining difference"
        f" {result['difference']:.1f}  (95 % interval {low:.1f} to {high:.1f}; 0 is clean, from 28 on the grade is 1)",
        *flag_lines(result["flags"]),
    ]
    for part in (result["sample_photo"], result["reference_photo"]):
        if part is not None:
            lines += ["", measurement_text(part)] if numbers else weak_lines(part)
    lines += [
        "",
        *(f"  {line}" for line in next_lines(result["grade"])),
        f"  {KEEPING}",
        *(f"  {line}" for line in CAUTIONS),
    ]
    return "\n".join(lines)


def next_lines(grade: str) -> list[str]:
    """What to do about the grade; nothing about a good one."""
    return [] if grade in FAST_ENOUGH else [NEXT]
