"""The studio's library as pages know it: its refusals do not say where it lies."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ..errors import LibraryError
from ..library.connection import LibraryPlace, find_place

if TYPE_CHECKING:
    from ..library.library import Library


class _Ours(LibraryPlace):
    """Where the library lies, a folder or a server, is no phone's business: refusals name it without."""

    def __str__(self) -> str:
        return "of this studio"


def library_of(named: str | None, *, create: bool = False) -> Library:
    """The library of that name, whose refusals do not say where it lies.

    Raises
    ------
    LibraryError
        As `open_library`.
    """
    from ..library.library import open_library

    place = find_place(named)
    try:
        library = open_library(named, create=create)
    except LibraryError as error:
        ours = str(_Ours(**vars(place)))
        error.code = error.code.replace(f" at {place}", "").replace(str(place), ours)  # of sentences without a code
        error.facts = {name: ours if value == str(place) else value for name, value in error.facts.items()}
        raise
    return replace(library, place=_Ours(**vars(place)))
