"""What the first photo of an unmeasured print made of it, kept among the user's cards and used for all later photos.

So whatever is wrong with it is the same on every day. The first photo alone decides: taking over more from later ones
makes differences between days 4 % smaller (build scenes), but then a photo measured again would give other numbers.
Prints without a number are taken for one and the same as long as their colours fit.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from uuid import uuid4

import numpy as np

from ...cards.values import PHOTOGRAPHED, CardValues, load_values
from ...cards.values_file import Sheet, sheet_text, writing
from ...cards.values_folder import edition_name
from ...colorimetry.spectra import tables
from ...files import OWNER_ONLY, PART, discard, write_whole
from ...geometry.rectify import FlatCard
from ...photo.photo import Photo
from ...resources import user_folder
from .print_fit import photographed, sharpened
from .reading_conditions import Seen

EVERY = 2  # of the spectra's grid of 5 nm: 10 nm are written


def unmeasured(
    card: FlatCard,
    photo: Photo,
    values: CardValues,
    number: str | None,
    solve: Callable[[CardValues], Seen],
    earlier: CardValues | None = None,
    keep: bool = False,
) -> CardValues:
    """The values of an unmeasured print.

    Parameters
    ----------
    values : what is known of it so far: design, light, flags
    number : of the print; None where it bears none
    solve : what the photo shows by given values
    earlier : what another photo, measured just before, made of an unmeasured print
    keep : keep what this photo makes of it for all later photos

    Raises
    ------
    SwatchcamError
        As `solve` does; CardError where it can't be kept.
    """
    numbers = (number,) if number else ()
    if earlier and earlier.frame and (earlier.design, earlier.numbers) == (values.design, numbers):
        return earlier
    found = photographed(card, photo.digest, replace(values, numbers=numbers))
    light, fitted, response = solve(found)
    found = sharpened(found, fitted, response)
    # A photo in doubtful light must not be what all others are measured by.
    usual = (found.illuminant, found.observer) == ("D65", 10)
    return kept(found, photo, number) if keep and usual and not light.flags else found


def kept(values: CardValues, photo: Photo, number: str | None) -> CardValues:
    """The values as they now lie in the user's folder: these, unless another photo was first.

    Raises
    ------
    CardError
        They can't be written.
    """
    target = user_folder() / f"{edition_name(values.design, number)}.csv"
    draft = target.with_name(f".{uuid4().hex}{PART}")
    with writing(target.parent):
        try:
            write_whole(draft, sheet_text(edition_sheet(values, photo)).encode("utf-8"), OWNER_ONLY)
            _name_once(draft, target)
        finally:
            discard(draft)
    return load_values(target, values.illuminant, values.observer)


def _name_once(draft: Path, target: Path) -> None:
    """Give a file this name, unless another photo of the print came first, just now."""
    try:
        os.link(draft, target)
    except FileExistsError:
        pass
    except OSError:
        # Memory cards and some network disks know no second name of a file.
        if not target.exists():
            draft.rename(target)


def edition_sheet(values: CardValues, photo: Photo) -> Sheet:
    """The values file of an unmeasured print."""
    assert values.frame is not None
    names = list(values.lab)
    rows = np.array([values.spectra[name] for name in names])[:, ::EVERY]
    header = {
        "design": values.design,
        "grade": PHOTOGRAPHED,
        "illuminant": values.illuminant,
        "observer": str(values.observer),
        "geometry": "none",
        "date": photo.day,
        "source": "its own first photo, and what prints and phones are like",
        "uncertainty": f"{values.uncertainty:.3g}",
        "print": ", ".join(values.numbers),
        "frame": values.frame.text,
    }
    spectra = {name: tuple(map(float, row)) for name, row in zip(names, rows, strict=True)}
    return Sheet(header, values.lab, tuple(map(float, tables().wavelengths[::EVERY])), spectra)
