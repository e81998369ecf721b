"""What scripts and notebooks call: the measuring, judging and mixing of the commands, with results made for them.

These are the names that `import swatchcam` offers. Every result (`results`) has `as_dict`, the JSON of the command,
`rows`, flat dicts such as `pandas.DataFrame` takes, and a display for notebooks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..colorimetry.cielab import Lab
from ..colorimetry.lab_text import plain_lab
from ..errors import UsageError
from ..measurement import measure as measuring
from ..measurement.check import Check, check_photo
from ..measurement.strip_names import any_loose
from ..recipes.recipe import SCALE_G
from .results import CheckResult, Measurement, Recommendation

if TYPE_CHECKING:  # the database and the mixing table are loaded where they are used
    from ..library.library import Library
    from ..library.records import State
    from ..mixing.requests import PrintConditions
    from ..mixing.target import TargetRequest

Photo = str | Path


@dataclass(frozen=True)
class Target:
    """A colour that is wanted: give one of them.

    Parameters
    ----------
    lab : CIELAB for D65 and 10 degrees
    photo : "photo.jpg" or "photo.jpg:left", a strip in another photo
    shade : the name of a shade of the library; its last batch when checking, its target when mixing
    batch : with `shade`, this batch of it when checking
    record : the number of a record of the library
    """

    lab: Lab | None = None
    photo: Photo | None = None
    shade: str = ""
    batch: str = ""
    record: int | None = None


def measure(
    photo: Photo,
    *more: Photo,
    card: str | None = None,
    row: str | None = None,
    loose: bool = False,
    other_light: Sequence[Photo] = (),
    illuminant: str = "D65",
    observer: int = 10,
) -> Measurement:
    """Measure the strips in photos of one scene.

    Parameters
    ----------
    photo, more : photos of the same scene under the same light
    card : name or file of the card's values, or "nominal"; by default those of the print whose number the photo shows,
        without a number the only ones known, else nominal
    row : name of the pigment row
    loose : measure loose strips beside the card too
    other_light : photos of the same scene under another light
    illuminant, observer : for CIELAB

    Raises
    ------
    SwatchcamError
        Whatever makes the number one that cannot be trusted, with its remedy.
    """
    how = _how(more, row, loose, other_light, illuminant, observer)
    return Measurement(measuring.measure(str(photo), card, **how))


def check(
    photo: Photo,
    *more: Photo,
    target: Target | None = None,
    strip: str | Sequence[str] | None = None,
    tolerance: float | None = None,
    library: Library | None = None,
    state: str = "air-dried",
    after_heat: bool = False,
    let_down: float = 0.0,
    card: str | None = None,
    row: str | None = None,
    loose: bool = False,
    other_light: Sequence[Photo] = (),
) -> CheckResult:
    """Judge a strip, by default today's in the right window, against a target.

    The target is by default the strip in the other window.

    Parameters
    ----------
    strip : "left", "right" or "beside-1" ...; several are of one pot
    tolerance : largest CIEDE2000 that counts as the same; by default the shade's own, else 2
    library : that knows the shade or the record of the target
    state : of the strip, such as "heat-set": with a shade it is judged against one in the same state; with a record in
        another state what comes first is predicted in the later one
    after_heat : with a shade, judge a dry strip against the last heat-set one, by the colour that it is going to have
    let_down : of a let-down strip, the parts of clear base to one part of ink; it is judged against one let down as far

    Raises
    ------
    UsageError
        The target makes no sense, or needs a library and none was given.
    SwatchcamError
        Whatever `measure` refuses.
    """
    wanted = target or Target()
    strips = [strip] if isinstance(strip, str) else list(strip or ())
    how = _how(more, row, loose, other_light)
    if wanted.shade or wanted.record is not None:
        if library is None:
            raise UsageError("target-needs-library", "open-a-library")
        from ..library.compare import ReferenceRequest, check_recalled
        from ..library.records import parse_state

        asked = ReferenceRequest(
            wanted.shade, wanted.batch, wanted.record, False, parse_state(state), after_heat, let_down
        )
        recalled, sample = check_recalled(library, str(photo), card, asked, strips=strips, tolerance=tolerance, **how)
        return CheckResult(Check(recalled.verdict, sample, pots=recalled.pots), recalled)
    lab = plain_lab(wanted.lab) if wanted.lab else None
    against = [str(wanted.photo)] if wanted.photo else []
    return CheckResult(
        check_photo(str(photo), card, strips=strips, target=lab, against=against, tolerance=tolerance, **how)
    )


def recommend(
    library: Library,
    target: Target,
    grams: float,
    *,
    scale_g: float = SCALE_G,
    pigments: Sequence[str] = (),
    max_pigments: int | None = None,
    cloth: str = "",
    state: str = "",
    ink: str = "",
    card: str | None = None,
) -> Recommendation:
    """Recipes for a new pot of so many grams, from the strips whose recipe the library knows.

    `state` is what was done to the cloth that has the target colour, such as "heat-set"; by default what the library
    says of it.

    Raises
    ------
    UsageError
        The target cannot be mixed from what is known.
    SwatchcamError
        Whatever the library or `measure` refuse.
    """
    from ..mixing.fresh_pot import new_recipe
    from ..mixing.order import Order

    order = Order(grams, scale_g, tuple(pigments), max_pigments)
    request = replace(_request(target, card), state=_state(state))
    return Recommendation(new_recipe(library, request, order, _conditions(cloth, "", ink)), order)


def correct(
    library: Library,
    photo: Photo,
    *more: Photo,
    shade: str,
    grams: float,
    batch: str = "",
    strip: str | Sequence[str] | None = None,
    target: Target | None = None,
    target_strip: str | None = None,
    keep: bool = False,
    scale_g: float = SCALE_G,
    cloth: str = "",
    state: str = "",
    target_state: str = "",
    ink: str = "",
    card: str | None = None,
) -> Recommendation:
    """What to add to the pot of which a strip was photographed.

    Parameters
    ----------
    shade, batch : what the pot is of; by default the shade's last batch
    grams : what is in the pot
    strip : of the pot, or several, each a film of its own; by default today's, in the right window
    target, target_strip : by default the shade's target; a strip in the same photo is the surest
    keep : keep the pot's strip in the library; without it nothing is written
    state : of the pot's strips, by default air-dried
    target_state : what was done to the cloth that has the target colour; by default what the library says of it

    Raises
    ------
    UsageError
        No such shade, batch or strip, or a strip that cannot be of this pot.
    SwatchcamError
        Whatever the library or `measure` refuse.
    """
    from ..measurement.summary import sitting_of
    from ..mixing.order import Order
    from ..mixing.pot_in_hand import correct_sitting, strips_kept
    from ..mixing.requests import CorrectionRequest, Hand

    asked = replace(_request(target or Target(shade=shade), card, shade), state=_state(target_state))
    first, others = (strip, ()) if strip is None or isinstance(strip, str) else (strip[0], tuple(strip[1:]))
    loose = any_loose(first, *others, target_strip)
    order, hand = Order(grams, scale_g), Hand(batch, first, target_strip, others=others)
    request = CorrectionRequest(asked, order, hand, _conditions(cloth, state, ink))
    sitting = sitting_of(measure(photo, *more, card=card, loose=loose).found)
    answer = correct_sitting(library, sitting, request)
    return Recommendation(strips_kept(library, sitting, answer) if keep else answer, order)


def _conditions(cloth: str, state: str, ink: str) -> PrintConditions:
    from ..mixing.requests import PrintConditions

    return PrintConditions(cloth, _state(state), ink)


def _state(typed: str) -> State | None:
    from ..library.records import parse_state

    return parse_state(typed) if typed else None


def _request(target: Target, card: str | None, shade: str = "") -> TargetRequest:
    from ..mixing.target import TargetRequest

    text = plain_lab(target.lab) if target.lab else str(target.photo or "")
    return TargetRequest(text, target.record, target.shade or shade, card)


def _how(
    more: Sequence[Photo],
    row: str | None,
    loose: bool,
    other_light: Sequence[Photo],
    illuminant: str = "D65",
    observer: int = 10,
) -> dict[str, Any]:
    return {
        "again": [str(photo) for photo in more],
        "other_light": [str(photo) for photo in other_light],
        "row": row,
        "beside": loose,
        "illuminant": illuminant,
        "observer": observer,
    }
