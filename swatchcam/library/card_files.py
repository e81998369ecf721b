"""Cards, pigment rows and designs of the user's own folder, as a backup carries them and `verify` looks at them.

They lie beside the library, not in it: one folder serves every library of this computer. So a backup brings them back
into a folder that may hold others, and never writes over one.
"""

from __future__ import annotations

import hashlib
import re
import zipfile
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from ..cards.collection import kept_cards
from ..cards.print_register import note_printed, printed_numbers
from ..cards.values_file import REPLACED, dated
from ..files import OWNER_ONLY, write_whole
from ..messages.message import Message, finding
from ..resources import user_folder

FOLDER = "cards"  # in a backup
CARDS, NUMBERS = "cards", "print_numbers"  # in its head: digest of each file by name; numbers that were printed
# What a backup may bring: a file of the folder itself, or of what is no longer used.
NAME = re.compile(rf"({REPLACED}/)?[^/\\:\0]+\.(csv|toml)")


def pack_cards(packed: zipfile.ZipFile) -> dict[str, Any]:
    """Put the files into a backup, and return what its head says of them.

    Raises
    ------
    OSError
        A file can't be read.
    """
    digests = {}
    for path in own_card_files():
        name, data = path.relative_to(user_folder()).as_posix(), path.read_bytes()
        packed.writestr(f"{FOLDER}/{name}", data)
        digests[name] = _digest(data)
    return {CARDS: digests, NUMBERS: printed_numbers()}


def own_card_files() -> list[Path]:
    """The user's own values, rows and designs, those that are no longer used last."""
    folders = (user_folder(), user_folder() / REPLACED)
    return [path for folder in folders for end in ("csv", "toml") for path in sorted(folder.glob(f"*.{end}"))]


def unpack_cards(packed: zipfile.ZipFile, head: Mapping[str, Any]) -> dict[str, bytes]:
    """The files of a backup by name; one of an older version has none.

    Raises
    ------
    ValueError
        A file is not what was packed, or would lie elsewhere.
    """
    found = {name: packed.read(f"{FOLDER}/{name}") for name in head.get(CARDS, {})}
    for name, data in found.items():
        if not NAME.fullmatch(name) or ".." in PurePosixPath(name).parts:
            raise ValueError(f"file {name}")
        if _digest(data) != head[CARDS][name]:
            raise ValueError(f"{name} is not what it was")
    return found


def bring_cards(files: Mapping[str, bytes], numbers: Iterable[str]) -> list[tuple[Path, Path]]:
    """Write the files into the user's folder; where another one has the name, under a dated name beside it.

    Returns
    -------
    each file that was there with other content, and where that of the backup is now

    Raises
    ------
    CardError, OSError
        The folder can't be written to.
    """
    aside = []
    for name, data in files.items():
        target = user_folder() / name
        if target.is_file() and target.read_bytes() == data:
            continue
        if target.exists():
            kept = _known(data) or dated(user_folder() / target.name, "from a backup")
            aside.append((target, kept))
            target = kept
        target.parent.mkdir(parents=True, exist_ok=True)
        write_whole(target, data, OWNER_ONLY)
    note_printed(numbers)
    return aside


def _known(data: bytes) -> Path | None:
    """Where an earlier try put the same file."""
    files = (user_folder() / REPLACED).glob("*")
    return next((path for path in files if path.is_file() and path.read_bytes() == data), None)


def faulty_cards() -> tuple[int, list[Message]]:
    """How many of the user's cards and rows there are, and what is wrong with some of them."""
    own = [kept for kept in kept_cards() if kept.own]
    return len(own), [finding("card-file-faulty", path=kept.path) for kept in own if kept.faulty]


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
