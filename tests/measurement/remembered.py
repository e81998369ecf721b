"""What a photo showed, remembered: for tests of what is said of photos and done with them, not of measuring.

The first look at a photo is a real one. The same photo under the same card is then not worked out again.
"""

from __future__ import annotations

import hashlib
import os
from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from typing import Any

from swatchcam.measurement.pigment_row import PigmentRow
from swatchcam.measurement.single_photo import Look, take_look

MOST = 16  # looks; each holds its photo, of 6 to 13 MB
LOOKS: OrderedDict[tuple[object, ...], Look] = OrderedDict()


def look_once(path: str, card: str | None = None, row: PigmentRow | None = None, **how: Any) -> Look:
    """As `swatchcam.measurement.single_photo.take_look`; a refusal is worked out each time.

    Raises
    ------
    SwatchcamError
        The photo is refused.
    """
    if not Path(path).is_file():
        return take_look(path, card, row, **how)
    folder, name = os.environ.get("SWATCHCAM_CARDS", ""), row and row.name
    cards = tuple(sorted(os.listdir(folder))) if os.path.isdir(folder) else ()
    earlier = how.get("earlier")
    plain = sorted((key, value) for key, value in how.items() if key != "earlier")
    asked = (_digest(path), card, card and _digest(card), folder, cards, name, earlier and earlier.frame, *plain)
    if asked not in LOOKS:
        LOOKS[asked] = take_look(path, card, row, **how)
        if len(LOOKS) > MOST:
            LOOKS.popitem(last=False)
    LOOKS.move_to_end(asked)
    return replace(LOOKS[asked], photo=replace(LOOKS[asked].photo, path=path))


def _digest(path: str) -> str:
    return hashlib.sha256(Path(path).read_bytes()).hexdigest() if Path(path).is_file() else ""
