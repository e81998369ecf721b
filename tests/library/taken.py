"""What a command that measures gets in the tests of what comes after: the file is taken for a drawn photo."""

from __future__ import annotations

from pathlib import Path

from swatchcam.errors import FindError
from swatchcam.measurement.measure import Measurement
from tests.worlds.cheap_measurements import of_file


def taken(path: str | Path, lab: tuple[float, float, float] | None = None) -> Measurement:
    """As if that file had been measured, on the half-sheet card; one that says "bare" shows no card.

    Raises
    ------
    FindError
        It shows none.
    """
    if b"bare" in Path(path).read_bytes():
        raise FindError("No card can be seen in the photo.", "Lay the printed card flat.")
    return of_file(Path(path), lab)
