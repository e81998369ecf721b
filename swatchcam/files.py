"""Files are written whole or not at all; a file for a person never overwrites another one unless asked to."""

from __future__ import annotations

import contextlib
import errno
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO
from uuid import uuid4

from .errors import UsageError
from .messages.message import Message, finding

PART = ".part"  # ends the name of what is being written
STALE = 3600.0  # seconds after which such a thing belongs to nobody
OWNER_ONLY, READ_ONLY = 0o600, 0o444
DISK_CAUSES = {
    errno.ENOSPC: finding("disk-full"),
    errno.EDQUOT: finding("disk-full"),
    errno.EFBIG: finding("too-large-for-disk"),
    errno.EROFS: finding("disk-read-only"),
    errno.EACCES: finding("access-denied"),
    errno.EPERM: finding("access-denied"),
    errno.ENOENT: finding("not-there"),
    errno.ENOTDIR: finding("not-there"),
    errno.EISDIR: finding("is-a-folder"),
    errno.ENAMETOOLONG: finding("name-too-long"),
}


def disk_cause(error: BaseException) -> Message:
    """Why the system did not read or write a file: by the error's number; where that says little, its own words."""
    words = getattr(error, "strerror", None) or str(error)
    return DISK_CAUSES.get(getattr(error, "errno", None) or 0) or finding("as-the-system-says", words=words)


@contextmanager
def whole_file(target: Path, rights: int | None = None) -> Iterator[IO[bytes]]:
    """A file to write and read, whose name appears, on the disk too, only once all of it is there.

    Parameters
    ----------
    rights : the file's mode; by default what the user's new files have

    Raises
    ------
    OSError
        It cannot be written; nothing is left then.
    """
    draft = target.with_name(f".{uuid4().hex}{PART}")
    opener = None if rights is None else lambda path, flags: os.open(path, flags, OWNER_ONLY)
    try:
        with open(draft, "x+b", opener=opener) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        if rights is not None:
            draft.chmod(rights)
        os.replace(draft, target)
    except BaseException:
        discard(draft)
        raise
    settle(target.parent)


def write_whole(target: Path, data: bytes, rights: int | None = None) -> None:
    """Write a file as `whole_file` does."""
    with whole_file(target, rights) as file:
        file.write(data)


def settle(folder: Path) -> None:
    """Bring a folder's list of names to the disk; Windows has no way to ask for that."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        # Some network disks cannot do that for a folder; the file itself is safe.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)


def discard(path: Path) -> None:
    """Delete a file if it is there."""
    with contextlib.suppress(OSError):
        path.chmod(OWNER_ONLY)  # Windows deletes no file that is read-only
        path.unlink()


def last_changed(path: Path) -> float:
    """When a file was written, seconds since 1970; now if it is not there any more."""
    try:
        return path.stat().st_mtime
    except OSError:
        return time.time()


def check_free(path: Path, replace: bool, example: str, option: str = "--output") -> None:
    """Refuse before any work what could only fail, or spoil a file, after it.

    `example` is a name like FILE.pdf, `option` the one that the file was named with. Every file that a command writes
    where a person says is checked so, and `replace` is what they say with --replace.

    Raises
    ------
    UsageError
        The name ends otherwise than the example, its folder is not there, or something of that name is.
    """
    ending = Path(example).suffix
    if path.suffix.lower() != ending:
        raise UsageError("name-ends-otherwise", "give-it-that-ending", path=path, ending=ending)
    if not os.path.isdir(path.parent):  # not Path.is_dir, which fails in a folder that may not be looked into
        raise UsageError("no-such-folder", "make-the-folder", folder=path.parent, option=option)
    if os.path.isdir(path):
        raise UsageError("folder-of-that-name", "choose-another-name", path=path, option=option, example=example)
    if os.path.exists(path) and not replace:
        raise UsageError("file-exists", "replace-or-rename", path=path, option=option, example=example)


def write_output(path: Path, data: bytes, option: str = "--output") -> None:
    """Write a file for a person, named with that option.

    Raises
    ------
    UsageError
        It cannot be written.
    """
    try:
        write_whole(path, data)
    except OSError as error:
        cause = disk_cause(error)
        raise UsageError(
            "file-not-written",
            "make-room" if cause.code == "disk-full" else "choose-a-folder-to-write-to",
            path=path,
            name=path.name,
            option=option,
            cause=cause,
        ) from error
