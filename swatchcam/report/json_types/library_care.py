"""What is done to the library, and what is in it."""

from __future__ import annotations

from typing import Annotated, TypedDict

from .colours import HeadJson, InLibraryJson
from .messages import FindingJson, RefusalJson


class ChangeJson(FindingJson):
    """What `swatchcam remove --json`, `undo N`, `batch`, `record`, `shelf weigh` and `card use` print: one change."""

    number: Annotated[int, "number of the change, for `undo`"]
    made: Annotated[str, "when, ISO 8601, UTC"]
    undone: Annotated[bool, "true if it was undone"]


class ChangesJson(TypedDict):
    """What `swatchcam shade set --json`, `pigment set` and `studio` print: all that was changed."""

    changes: Annotated[list[ChangeJson], "each change, as `undo N` prints it"]


class LogJson(InLibraryJson):
    """What `swatchcam undo --json` prints without a number: every change."""

    changes: Annotated[list[ChangeJson], "the newest first, each as `undo N` prints it"]


class WhereJson(InLibraryJson):
    """What `swatchcam library where --json` prints: where the library is and how much is in it."""

    photos: Annotated[str, "the folder of the photos"]
    shades: Annotated[int, "how many shades"]
    batches: Annotated[int, "how many batches"]
    records: Annotated[int, "how many records"]


class FilledJson(TypedDict):
    """A photo that was kept."""

    photo: Annotated[str, "the file"]
    record: Annotated[int, "number of its record"]


class UnfilledJson(RefusalJson):
    """A photo that was refused."""

    photo: Annotated[str, "the file"]


class FillJson(InLibraryJson):
    """What `swatchcam library fill --json` prints: what became of each photo of a folder."""

    kept: Annotated[list[FilledJson], "each strip that was kept"]
    in_already: Annotated[list[str], "photos that the library held before"]
    refused: Annotated[list[UnfilledJson], "photos that were refused, and why"]


class AsideJson(TypedDict):
    """A file of yours that stayed as it is, though the backup has another one of its name."""

    yours: Annotated[str, "your file"]
    from_backup: Annotated[str, "where the backup's file is now"]


class CountJson(TypedDict):
    """What `swatchcam library backup --json` and `library restore` print: what was saved or brought back."""

    done: Annotated[str, "what was done: `saved to` or `brought back from`"]
    file: Annotated[str, "the file"]
    records: Annotated[int, "how many records"]
    photos: Annotated[int, "how many photos"]
    cards: Annotated[int, "how many files of cards, pigment rows and designs"]
    aside: Annotated[list[AsideJson], "your files that differ from the backup's, and stayed as they are"]


class FaultJson(FindingJson):
    """Something that is not as it was."""

    harmless: Annotated[bool, "true if nothing is lost"]


class VerifyJson(HeadJson):
    """What `swatchcam library verify --json` prints: what was looked at, and what is not as it was."""

    records: Annotated[int, "records looked at"]
    photos: Annotated[int, "photos looked at"]
    cards: Annotated[int, "your own cards and pigment rows looked at"]
    broken: Annotated[bool, "true if something is damaged; the command then exits with 3"]
    findings: Annotated[list[FaultJson], "each thing that is not as it was"]


class DoneJson(TypedDict):
    """What `swatchcam library export --json`, `library upgrade`, `shade page` and `shade cards` print."""

    done: Annotated[str, "what was done, in words"]
