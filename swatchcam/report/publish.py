"""The library on paper, on a page and for other programs: what is in it -> files."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

from ..errors import LibraryError, SwatchcamError, UsageError
from ..files import check_free, write_output
from ..library.library import Library
from ..library.proposal_store import proposals
from ..library.records import Record
from ..library.search import series_shades
from ..library.shelf.pigments import pigments
from ..photo.photo import read_photo
from ..text import key
from .exporters import library_cgats, library_csv
from .html_page import library_page, shade_page
from .library_json import library_json
from .overlay import small_jpeg
from .shade_summary import Dossier, dossier
from .wall_cards import wall_cards

ENDINGS = {"csv": ".csv", "json": ".json", "cgats": ".txt"}
SMALL = 480  # px, the longer side of a photo on a page; no photo that is read has so few
QUALITY = 80  # of its JPEG


def write_page(library: Library, names: Sequence[str], target: Path, replace: bool = False) -> Path:
    """One HTML page of one shade, or of several, or of all if none is named.

    Raises
    ------
    UsageError
        No such shade, or the file is there already.
    LibraryError
        The library is empty, or the page cannot be written.
    """
    check_free(target, replace, "FILE.html")
    found = dossiers(library, names)
    photos = small_photos(library, (record for each in found for record in each.records))
    today = date.today().isoformat()
    title = "Shades" if names else "All shades"
    one = len(names) == 1
    text = shade_page(found[0], today, photos) if one else library_page(found, title, today, photos)
    write_output(target, text.encode())
    return target


def write_cards(library: Library, names: Sequence[str], paper: str, target: Path, replace: bool = False) -> Path:
    """A PDF with a card for the wall of each shade that is named, or of all but test series; raises as `write_page`."""
    check_free(target, replace, "FILE.pdf")
    found = dossiers(library, names)
    series = frozenset[int]() if names else series_shades(library)
    write_output(target, wall_cards([each for each in found if each.shade.number not in series], paper))
    return target


def write_export(library: Library, form: str, target: Path, replace: bool = False) -> Path:
    """Everything as CSV, JSON or CGATS.17 text; raises as `write_page`."""
    check_free(target, replace, f"FILE{ENDINGS[form]}")
    shades, batches, records = library.shades(), library.batches(), library.records()
    if not records:
        raise _empty(library)
    if form == "csv":
        text = library_csv(shades, batches, records)
    elif form == "json":
        text = library_json(shades, batches, records, proposals(library), pigments(library))
    else:
        text = library_cgats(records, date.today().isoformat())
    write_output(target, text.encode())
    return target


def dossiers(library: Library, names: Sequence[str] = ()) -> list[Dossier]:
    """All that can be said of these shades, or of all.

    Raises
    ------
    UsageError
        No such shade.
    LibraryError
        There is none at all.
    """
    shades = [library.shade(name) for name in names] or library.shades()
    if not shades:
        raise _empty(library)
    if len({key(shade.name) for shade in shades}) < len(shades):
        raise UsageError("shade-named-twice", "name-each-shade-once")
    batches, records = library.batches(), library.records()
    return [dossier(shade, batches, records) for shade in shades]


def small_photos(library: Library, records: Iterable[Record]) -> dict[str, bytes]:
    """Digest -> a small JPEG of each record's photos; what cannot be read is left out: `verify` tells of it."""
    digests = dict.fromkeys(photo.digest for record in records for photo in record.photos)
    small = {digest: _small(library, digest) for digest in digests}
    return {digest: data for digest, data in small.items() if data}


def _small(library: Library, digest: str) -> bytes:
    try:
        photo = read_photo(str(library.photos.path(digest)))
    except SwatchcamError:
        return b""
    return small_jpeg(photo, SMALL, QUALITY)


def _empty(library: Library) -> LibraryError:
    return LibraryError("nothing-kept-yet", "keep-a-first-strip", place=library.place)
