"""A TOML file that describes a card or a row: read whole, or refused."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ..errors import CardError
from ..files import disk_cause
from ..messages.message import Message, finding


def read_toml(path: Path) -> dict[str, Any]:
    """What the file says, its meaning unchecked.

    Raises
    ------
    CardError
        It cannot be opened, or it is not TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise CardError(
            "file-not-read",
            "check-the-file" if isinstance(error, OSError) else "correct-the-file",
            path=path,
            cause=_cause(error),
        ) from error


def _cause(error: Exception) -> Message:
    if isinstance(error, UnicodeDecodeError):
        return finding("not-text")
    return finding("nested-too-deep") if isinstance(error, RecursionError) else disk_cause(error)


@contextmanager
def reading_entries() -> Iterator[None]:
    """Around nothing but the reading of what `read_toml` gave.

    Raises
    ------
    CardError
        An entry is missing, or of the wrong kind.
    """
    try:
        yield
    except KeyError as error:
        raise CardError("entry-missing", "correct-the-file", entry=str(error.args[0])) from error
    except (ValueError, TypeError, AttributeError, OverflowError) as error:
        raise CardError("entry-of-wrong-kind", "correct-the-file", words=str(error)) from error


def real(value: Any) -> float:
    """An entry that is a finite number.

    Raises
    ------
    CardError
        It is none.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise CardError("entry-not-a-number", "correct-the-file", value=str(value))
    return float(value)


def whole(value: Any) -> int:
    """An entry that is a whole number; raises as `real`."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise CardError("entry-not-whole", "correct-the-file", value=str(value))
    return value
