"""Files that a command writes for a person: never over another one unasked, whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from .errors import UsageError


def check_free(path: Path, replace: bool, example: str, option: str = "--output") -> None:
    """Refuse before any work what could only fail, or spoil a file, after it.

    `example` is a name like FILE.pdf, `option` the one that the file was named with.

    Raises
    ------
    UsageError
        The name ends otherwise than the example, its folder is not there, or something of that name is.
    """
    ending = Path(example).suffix
    if path.suffix.lower() != ending:
        raise UsageError(f"The name '{path}' does not end in {ending}.", f"Give it a name that ends in {ending}.")
    if not os.path.isdir(path.parent):  # not Path.is_dir, which fails in a folder that may not be looked into
        raise UsageError(f"There is no folder {path.parent}.", f"Make it, or choose another with {option}.")
    if os.path.isdir(path):
        raise UsageError(f"There is a folder called {path}.", f"Choose another name with {option} {example}.")
    if os.path.exists(path) and not replace:
        over = "Say --replace to write over it, or choose" if option == "--output" else "Choose"
        raise UsageError(f"The file {path} is there already.", f"{over} another name with {option} {example}.")


def write_whole(path: Path, data: bytes, option: str = "--output") -> None:
    """Write the file, named with that option, whole or not at all.

    Raises
    ------
    UsageError
        It cannot be written.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        try:
            part.write_bytes(data)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise UsageError(
            f"The file {path} cannot be written: {error.strerror}.",
            f"Choose a folder that you may write to with {option} FOLDER/{path.name}.",
        ) from error
