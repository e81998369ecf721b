"""Several photos of one scene, under one light or two -> each strip's colour, from all of them at once.

Photos of one scene show one reflectance: what each channel of each photo saw of it is put together (`error_budget`).
Two lights make six different channels of a camera's three. Photos that disagree with the others are named and left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from ..colorimetry.error_covariance import interval
from ..errors import LightError, UsageError
from ..messages.message import Flag, flag
from .error_budget import Colour, View, colour_of
from .local_correction import corrected, in_place
from .pigment_row import PigmentRow
from .single_photo import Look
from .strip_sample import StripSample

SURE = 0.999  # level at which two photos of one strip count as different
VOTES = 3  # photos under one light from which on the odd one can be told
# CIEDE2000 that two photos of one strip are apart at least, from which on they show another one; no source: what is
# seen side by side. Their mean would be the colour of neither.
ANOTHER = 2.0
ALIKE = 0.065  # relative difference of what two lights' channels see; two photos under one light reach 0.06 with noise

Lights = Sequence[Sequence[Look]]


def combine(lights: Lights, row: PigmentRow | None = None) -> tuple[tuple[Colour, ...], tuple[Flag, ...]]:
    """The colours that all photos show, and what is weak about the photos.

    `lights` holds the photos of each light.

    Raises
    ------
    UsageError
        The photos do not show the same strips, or not with the same card.
    LightError
        No two of three photos or more under one light agree, or two photos are sure to show unlike strips.
    """
    lights = [light for light in lights if light]
    looks = [look for light in lights for look in light]
    _check_same_scene(looks)
    flags = dict.fromkeys(found for look in looks for found in _named(look, look.flags, len(looks)))
    kept, odd = _without_odd_ones(lights, row)
    flags |= dict.fromkeys(odd)
    if len(kept) > 1:
        first = [light[0] for light in kept]
        _refuse_another_scene(first, [_colours([[look]], row) for look in first])
    if len(kept) > 1 and _alike(kept):
        flags[flag("lights-alike")] = None
    shown = _row_shown(kept, row)
    if row and shown and not in_place(shown, row):
        flags[flag("row-misplaced")] = None
        row, shown = None, ()
    return _colours(kept, row, shown), tuple(flags)


def _colours(lights: Lights, row: PigmentRow | None, shown: Sequence[Colour] = ()) -> tuple[Colour, ...]:
    colours = _seen(lights, lambda look: look.strips, row)
    return corrected(colours, shown, row) if row and shown else colours


def _row_shown(lights: Lights, row: PigmentRow | None) -> tuple[Colour, ...]:
    """The row's strips as measured, if all photos show them."""
    if row is None or not all(look.anchors for light in lights for look in light):
        return ()
    return _seen(lights, lambda look: look.anchors, row)


def _seen(lights: Lights, of: Callable[[Look], Sequence[StripSample]], row: PigmentRow | None) -> tuple[Colour, ...]:
    """The colour of each strip of a look, from all looks together."""
    pairs = [(look, len(light)) for light in lights for look in light]
    every = [
        [View(look.photo.digest, strip, look.balance, look.response, alike) for strip in of(look)]
        for look, alike in pairs
    ]
    knowledge = row.knowledge() if row else None
    return tuple(colour_of(views, knowledge) for views in zip(*every, strict=True))


def _check_same_card(first: Look, other: Look, paths: dict[str, str]) -> None:
    numbers = {first.number, other.number}
    alike = other.values.name == first.values.name and other.values.frame == first.values.frame
    in_one = len(numbers) == 2 and None in numbers
    if other.pose.design.name != first.pose.design.name or len(numbers - {None}) == 2 or not (alike or in_one):
        raise UsageError("another-card", "show-the-same-scene", **paths)
    if not alike:
        raise UsageError("number-in-one-photo", "show-the-number-in-both", **paths)


def _check_same_scene(looks: Sequence[Look]) -> None:
    first = looks[0]
    for other in looks[1:]:
        paths = {"photo": other.photo.path, "other": first.photo.path}
        if other.photo.digest == first.photo.digest:
            raise UsageError("same-photo-twice", "name-each-photo-once", **paths)
        _check_same_card(first, other, paths)
        if [strip.name for strip in other.strips] != [strip.name for strip in first.strips]:
            raise UsageError("other-strips", "show-the-same-scene", **paths)


def _named(look: Look, flags: Sequence[Flag], count: int) -> list[Flag]:
    return [replace(found, photo=look.photo.path) for found in flags] if count > 1 else list(flags)


def _without_odd_ones(lights: Lights, row: PigmentRow | None) -> tuple[Lights, list[Flag]]:
    """Without the photos that most others under their light contradict; and what was found."""
    kept, flags = [], []
    for light in lights:
        if len(light) == 1:
            kept.append(list(light))
            continue
        alone = [_colours([[look]], row) for look in light]
        if len(light) < VOTES:
            _refuse_another_scene(light, alone)
        against = [sum(_contradict(one, other) for other in alone if other is not one) for one in alone]
        odd = [len(light) >= VOTES and count > (len(light) - 1) / 2 for count in against]
        if sum(odd) > len(light) / 2:
            raise LightError("photos-contradict", "take-them-again", photos=[look.photo.path for look in light])
        if any(against) and not any(odd):
            flags.append(flag("photos-disagree", photos=[look.photo.path for look in light]))
        flags += [
            replace(flag("photo-left-out"), photo=look.photo.path)
            for look, is_odd in zip(light, odd, strict=True)
            if is_odd
        ]
        kept.append([look for look, is_odd in zip(light, odd, strict=True) if not is_odd])
    return kept, flags


def _refuse_another_scene(looks: Sequence[Look], alone: Sequence[Sequence[Colour]]) -> None:
    """Two photos that are sure to show unlike strips are no photos of one scene; `alone` is what each shows."""
    for (one, ones), (other, others) in pairwise(zip(looks, alone, strict=True)):
        far = [a.name for a, b in zip(ones, others, strict=True) if interval(a, b, SURE)[0] > ANOTHER]
        if far:
            paths = [one.photo.path, other.photo.path]
            raise LightError("photos-of-unlike-strips", "measure-them-one-by-one", photos=paths, strip=far[0])


def _contradict(one: Sequence[Colour], other: Sequence[Colour]) -> bool:
    """Whether two photos cannot both be right about every strip."""
    return any(interval(a, b, SURE)[0] > 0 for a, b in zip(one, other, strict=True))


def _alike(lights: Lights) -> bool:
    """Whether the second light shows the camera nothing that the first did not."""
    first, second = (light[0].response.weights for light in lights[:2])
    best = np.linalg.lstsq(first, second, rcond=None)[0]
    return bool(np.linalg.norm(second - first @ best) < ALIKE * np.linalg.norm(second))
