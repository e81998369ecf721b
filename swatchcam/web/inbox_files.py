"""The files of one thing in the inbox: written whole; where one is damaged, the refusal gives only its name."""

from __future__ import annotations

import json
import os
import shutil
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ..errors import UsageError
from ..files import OWNER_ONLY, disk_cause, write_whole
from ..messages.message import finding
from .filenames import clean_names
from .older_words import in_todays_words, marked

KNOWN = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".dng")


UNKNOWN = ".photo"


REFUSED = "refused"  # the key of an answer that is a refusal


def write_note(path: Path, data: bytes) -> None:
    """Write a file of a thing, whole, for its owner only.

    Raises
    ------
    UsageError
        The disk does not take it.
    """
    with refusing():
        write_whole(path, data, OWNER_ONLY)


def fill_folder(part: Path, kind: str, asked: dict[str, Any], files: Sequence[tuple[Path, str]]) -> None:
    """Copy the files (path, name given by the sender) into a folder, with what was asked."""
    names = clean_names([name for _, name in files])
    stored = []
    for number, ((source, _), name) in enumerate(zip(files, names, strict=True), start=1):
        suffix = Path(name).suffix.lower()
        stored.append(f"{number}{suffix if suffix in KNOWN else UNKNOWN}")
        with source.open("rb") as theirs, (part / stored[-1]).open("wb") as ours:
            shutil.copyfileobj(theirs, ours, 1 << 20)
            ours.flush()
            os.fsync(ours.fileno())
    facts = {"kind": kind, "time": time.time(), "asked": asked, "files": stored, "names": names}
    write_note(part / "asked.json", json.dumps(marked(facts), allow_nan=False).encode())


def rename_into(part: Path, place: Path) -> None:
    """Put a folder in its place, unless another one is there: then that came first, and holds."""
    try:
        part.rename(place)
    except OSError:
        if not place.is_dir():
            raise


def read_facts(path: Path) -> dict[str, Any] | None:
    """A JSON file, or None where there is none.

    Raises
    ------
    UsageError
        It cannot be read.
    """
    with reading(path):
        try:
            found = json.loads(path.read_bytes())
        except FileNotFoundError:
            return None
        if not isinstance(found, dict):
            raise TypeError(path)
        return in_todays_words(found)


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """What is not as it was written is refused, by its name alone: where it lies is no phone's business."""
    try:
        yield
    except (OSError, ValueError, TypeError, LookupError, OverflowError) as error:
        cause = disk_cause(error) if isinstance(error, OSError) else finding("was-damaged")
        raise UsageError("sent-not-read", "send-all-again", name=path.name, of=path.parent.name, cause=cause) from error


@contextmanager
def refusing() -> Iterator[None]:
    """What the disk does not take becomes a UsageError."""
    try:
        yield
    except OSError as error:
        cause = disk_cause(error)
        raise UsageError(
            "not-stored",
            "make-room"
            if cause.code == "disk-full"
            else "use-a-smaller-photo"
            if cause.code == "too-large-for-disk"
            else "look-after-the-disk",
            cause=cause,
        ) from error
