"""The photos behind the records: copies under the SHA-256 of their content, written whole or not at all."""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from ..errors import LibraryError
from ..files import PART, READ_ONLY, STALE, discard, disk_cause, last_changed, settle, write_whole

DIGEST = re.compile(r"[0-9a-f]{64}")
EXTENSION = re.compile(r"\.[a-z0-9]{1,8}")


@dataclass(frozen=True)
class PhotoStore:
    """A folder of photos, `ab/abcd....jpg` by digest; a file in it never changes."""

    folder: Path

    def add(self, path: str | Path) -> tuple[str, bool]:
        """Copy a photo in: its digest (the SHA-256 of the file), and whether a file had to be written.

        Raises
        ------
        LibraryError
            The photo cannot be read, or not be written here; then nothing is left under its name.
        """
        source = Path(path)
        data = _read(source)
        digest = hashlib.sha256(data).hexdigest()
        with self._writing(source):
            found = self._found(digest)
            # A file of that name with another content was damaged: the photo at hand mends it.
            if found and _holds(found, data):
                return digest, False
            _write(found or self._place(digest, source.suffix), data)
        return digest, True

    def path(self, digest: str) -> Path:
        """Where a photo lies.

        Raises
        ------
        LibraryError
            It is not here.
        """
        found = self._found(digest) if DIGEST.fullmatch(digest) else None
        if found is None:
            raise LibraryError("kept-photo-missing", "bring-the-photo-back", digest=digest, folder=self.folder)
        return found

    def check(self, digest: str) -> None:
        """Read a photo again.

        Raises
        ------
        LibraryError
            It is not here, cannot be read, or is not what it was.
        """
        path = self.path(digest)
        if hashlib.sha256(_read(path)).hexdigest() != digest:
            raise LibraryError("kept-photo-altered", "bring-the-photo-back", digest=digest, path=path)

    def digests(self) -> list[str]:
        """All photos that are here, sorted."""
        return sorted({path.stem for path in self._files("??/*") if _is_photo(path)})

    def tidy(self) -> int:
        """Clear away the copies that were never finished, once they are an hour old; how many there were."""
        oldest = time.time() - STALE
        leftovers = [path for path in self._files(f"??/*{PART}") if last_changed(path) < oldest]
        for path in leftovers:
            discard(path)
        return len(leftovers)

    def _found(self, digest: str) -> Path | None:
        return next((path for path in self._files(f"{digest[:2]}/{digest}*") if _is_photo(path)), None)

    def _files(self, pattern: str) -> list[Path]:
        return sorted(path for path in self.folder.glob(pattern) if path.is_file())

    def _place(self, digest: str, suffix: str) -> Path:
        shelf = self.folder / digest[:2]
        if not shelf.is_dir():
            shelf.mkdir(parents=True, exist_ok=True)
            settle(self.folder)
            settle(self.folder.parent)
        return shelf / (digest + (suffix.lower() if EXTENSION.fullmatch(suffix.lower()) else ""))

    @contextmanager
    def _writing(self, source: Path) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            cause = disk_cause(error)
            raise LibraryError(
                "photo-not-copied",
                "make-room"
                if cause.code == "disk-full"
                else "use-a-smaller-photo"
                if cause.code == "too-large-for-disk"
                else "give-access",
                path=source,
                folder=self.folder,
                cause=cause,
            ) from error


def _read(path: Path) -> bytes:
    try:
        if path.exists() and not path.is_file():
            raise LibraryError("not-a-file", "choose-the-photo-itself", path=path)
        return path.read_bytes()
    except (OSError, ValueError) as error:
        raise LibraryError("file-not-read", "check-the-file", path=path, cause=disk_cause(error)) from error


def _write(target: Path, data: bytes) -> None:
    try:
        write_whole(target, data, READ_ONLY)
    except OSError:
        # Windows replaces no file that is read-only or open: well if another process has just added the same photo.
        if not _holds(target, data):
            raise


def _is_photo(path: Path) -> bool:
    name = path.name.partition(".")[0]
    return bool(DIGEST.fullmatch(name)) and path.suffix != PART and path.stem == name and path.parent.name == name[:2]


def _holds(path: Path, data: bytes) -> bool:
    try:
        return path.stat().st_size == len(data) and path.read_bytes() == data
    except OSError:
        return False
