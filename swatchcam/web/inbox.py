"""What was sent and what came of it: a folder for each thing on the disk, there whole or not at all.

A thing is known by a key that its sender made up: what a phone sends twice, because the first answer was lost on the
way, is stored once.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import shutil
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from threading import Lock
from typing import Any

from ..errors import SwatchcamError, UsageError, error_from_json
from ..files import PART, STALE, last_changed, settle
from .inbox_files import REFUSED, fill_folder, read_facts, reading, refusing, rename_into, write_note
from .older_words import marked

ID = re.compile(r"[0-9a-f]{20}")
NOTE = re.compile(r"[a-z][a-z-]{0,39}")
SPARE = 500_000_000  # bytes that stay free: a full disk spoils what other programs write
DAY = 86400.0  # seconds


@dataclass(frozen=True)
class TrayItem:
    """One thing that was sent, and its answer if there is one yet."""

    id: str
    kind: str  # "photo" or "mix"
    made: str  # ISO 8601, UTC
    asked: dict[str, Any]
    files: tuple[Path, ...]
    names: tuple[str, ...]  # what the sender called the files, fit to be shown, each another
    answer: dict[str, Any] | None

    @property
    def state(self) -> str:
        """ "waiting", "done" or "refused"."""
        if self.answer is None:
            return "waiting"
        return "refused" if self.refusal else "done"

    @property
    def refusal(self) -> SwatchcamError | None:
        """Why it was refused, if it was."""
        answer = self.answer or {}
        if REFUSED in answer:
            return error_from_json(answer[REFUSED])
        return error_from_json(answer) if {"problem", "remedy"} <= answer.keys() else None


@dataclass(frozen=True)
class Tray:
    """A folder of things that were sent; its paths are absolute."""

    folder: Path
    # Windows replaces no file that another thread is reading.
    _notes: Lock = field(default_factory=Lock, repr=False, compare=False)
    # Of each thing when its `asked.json` was written, its time and its kind: neither changes.
    _seen: dict[str, tuple[int, float, str]] = field(default_factory=dict, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "folder", self.folder.absolute())

    def put(self, key: str, kind: str, asked: dict[str, Any], files: Sequence[tuple[Path, str]] = ()) -> TrayItem:
        """Store what was asked with copies of the files (path, name given by the sender), unless the key is known.

        Raises
        ------
        UsageError
            There is no key, a file cannot be read, or the disk does not take them.
        """
        if not key:
            raise UsageError("form-without-key", "load-the-page-again")
        id = hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()[:20]
        place = self.path(id)
        if place.exists():
            return self.item(id)
        with self._writing():
            self.room(sum(path.stat().st_size for path, _ in files))
            part = Path(tempfile.mkdtemp(dir=self.folder, prefix=f"{id}.", suffix=PART))
            try:
                fill_folder(part, kind, asked, files)
                rename_into(part, place)
            finally:
                shutil.rmtree(part, ignore_errors=True)
            settle(self.folder)
        return self.item(id)

    def item(self, id: str) -> TrayItem:
        """The thing of that number.

        Raises
        ------
        UsageError
            It is not here, or its folder was damaged.
        """
        folder = self.path(id)
        stored, answer = read_facts(folder / "asked.json"), read_facts(folder / "answer.json")
        if stored is None:
            raise _missing()
        with reading(folder / "asked.json"):
            made = datetime.fromtimestamp(stored["time"], UTC).isoformat(timespec="seconds")
            files = tuple(folder / name for name in stored["files"])
            return TrayItem(id, stored["kind"], made, stored["asked"], files, tuple(stored["names"]), answer)

    def items(self, kind: str | None = None) -> list[TrayItem]:
        """All things, or those of one kind, newest first; what is damaged or vanishes meanwhile is left out."""
        return list(self.newest(kind))

    def newest(self, kind: str | None = None, waiting: bool = False) -> Iterator[TrayItem]:
        """The same, or those that wait, one by one, each read only when it is its turn: thousands take seconds."""
        found = []
        for path in self._inside():
            if ID.fullmatch(path.name):
                with contextlib.suppress(UsageError):
                    found.append((*self._glance(path.name), path.name))
        for _, of, id in sorted(found, key=lambda each: each[0], reverse=True):
            if kind in (None, of) and not (waiting and (self.folder / id / "answer.json").exists()):
                with contextlib.suppress(UsageError):
                    yield self.item(id)

    def path(self, id: str) -> Path:
        """Where the thing of that number lies, or would.

        Raises
        ------
        UsageError
            It is no such number.
        """
        if not ID.fullmatch(id):
            raise _missing()
        return self.folder / id

    def answer(self, id: str, facts: dict[str, Any]) -> None:
        """Write what came of it; raises as `note`."""
        self._write(id, "answer", facts)

    def note(self, id: str, name: str, facts: dict[str, Any]) -> None:
        """Write something else down beside it, in place of an earlier note of that name.

        Raises
        ------
        UsageError
            The thing is not here, its name is no note's, or the disk does not take it.
        """
        self._write(id, _note_name(name), facts)

    def noted(self, id: str, name: str) -> dict[str, Any]:
        """What was noted under that name, or nothing.

        Raises
        ------
        UsageError
            The thing is not here, or the note cannot be read.
        """
        path = self._there(id) / f"{_note_name(name)}.json"
        with self._notes:
            return read_facts(path) or {}

    def remove(self, id: str) -> None:
        """Throw a thing away, with its photos.

        Raises
        ------
        UsageError
            It is not here, or something holds it.
        """
        place = self._there(id)
        self._seen.pop(id, None)
        with self._writing():
            # First out of sight, in one step: what is left of it if the machine stops here is tidied away.
            gone = Path(tempfile.mkdtemp(dir=self.folder, prefix=f"{id}.", suffix=PART))
            try:
                place.rename(gone / id)
            finally:
                shutil.rmtree(gone, ignore_errors=True)

    def tidy(self, days: float) -> int:
        """Throw away what is older than so many days, and what was never stored whole; how many things."""
        count, now = 0, time.time()
        for path in self._inside():
            if path.name.endswith(PART) and now - last_changed(path) > STALE:
                shutil.rmtree(path, ignore_errors=True)
            elif ID.fullmatch(path.name) and now - self._time(path.name) > days * DAY:
                with contextlib.suppress(UsageError):
                    self.remove(path.name)
                    count += 1
        return count

    def room(self, coming: int = 0) -> None:
        """See that the disk can take so many bytes more.

        Raises
        ------
        UsageError
            Too little would be left.
        """
        with self._writing():
            free = shutil.disk_usage(self.folder).free
        if free - coming < SPARE:
            raise UsageError("disk-nearly-full", "make-room", free=free)

    def _write(self, id: str, name: str, facts: dict[str, Any]) -> None:
        path = self._there(id) / f"{name}.json"
        with self._notes:
            write_note(path, json.dumps(marked(facts), allow_nan=False).encode())

    def _there(self, id: str) -> Path:
        path = self.path(id)
        if not path.is_dir():
            raise _missing()
        return path

    def _glance(self, id: str) -> tuple[float, str]:
        """When a thing was stored, seconds since 1970, and its kind."""
        path = self.path(id) / "asked.json"
        with reading(path):
            known, written = self._seen.get(id), path.stat().st_mtime_ns
            if known is None or known[0] != written:
                stored = read_facts(path) or {}
                known = self._seen[id] = written, float(stored["time"]), str(stored["kind"])
        return known[1:]

    def _time(self, id: str) -> float:
        try:
            return self._glance(id)[0]
        except UsageError:
            return last_changed(self.path(id))

    def _inside(self) -> list[Path]:
        with self._writing():
            return list(self.folder.iterdir())

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with refusing():
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            yield


def _note_name(name: str) -> str:
    if not NOTE.fullmatch(name) or name in ("asked", "answer"):
        raise UsageError("note-name-unusable", "choose-from-the-first-page", name=name[:40])
    return name


def _missing() -> UsageError:
    return UsageError("not-here", "choose-from-the-first-page")
