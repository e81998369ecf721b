"""How a strip is called in code, on the command line and in JSON: left, right, or beside-1, beside-2 if it is loose.

In sentences it is called as `text.strip_words` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from ..errors import UsageError
from ..text import LOOSE

# Where a strip's ink lies: in a window of the card, beside the card, or at a place of a pigment row. In "stain" there
# is no ink: the window shows white cloth, clean or stained.
Where = Literal["window", "loose", "row", "stain"]


def loose_name(number: int) -> str:
    """The name of a loose strip, numbered from 1 in reading order."""
    return f"{LOOSE}-{number}"


def is_loose(name: str | None) -> bool:
    """Whether a name is one of a strip beside the card; no name is not."""
    return (name or "").startswith(LOOSE)


def refuse_named_twice(names: Sequence[str]) -> None:
    """Raise UsageError where a strip is named twice: it would count as two."""
    for name in names:
        if list(names).count(name) > 1:
            raise UsageError("strip-named-twice", "name-each-strip-once", strip=name)


def any_loose(*names: str | None) -> bool:
    """Whether one of the names is that of a strip beside the card."""
    return any(map(is_loose, names))
