"""A fresh print beside a measured card, in one photo or several -> the fresh print's values.

The measured card tells the phone's tone curve, what its channels see, and the light (`card_transfer_fit` follows it to
the other card). The same inks made both prints, so the measured card's spectra tell what is likely in the fresh one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from ..cards.choice import check_print
from ..cards.design import CardDesign
from ..cards.instrument_import import check_card_name, check_claims
from ..cards.validation import PAPER
from ..cards.values import CardValues, load_values
from ..cards.values_file import Sheet, sheet_of, sheet_text, write_sheet
from ..colorimetry.cielab import Lab
from ..colorimetry.colour_difference import delta_e_2000
from ..colorimetry.spectra import tables
from ..colorimetry.spectral_recovery import Knowledge, published
from ..errors import CardError, FindError, UsageError
from ..geometry.number_tags import read_number
from ..geometry.pose import Pose, is_inside
from ..geometry.rectify import flatten
from ..geometry.several_cards import find_cards
from ..photo.photo import Photo, read_photo
from ..resources import user_folder
from .camera_response import Response, known_spectra, predict
from .card_ageing import refuse_another_print
from .card_fit.reading_conditions import as_seen
from .card_transfer_fit import against_twin, fresh_patches
from .colour_matrix import Balance
from .error_budget import Colour, View, colour_of
from .local_correction import SHARED
from .single_photo import light_and_eye
from .strip_sample import StripSample

SIDES = {"left": (0, -1), "right": (0, 1), "top": (1, -1), "bottom": (1, 1)}  # axis of the photo, which end of it
PRINTED = 100.0  # one patch of the measured card counts as this many ordinary things: the same inks made both prints
# A fresh patch and its twin, sent to the printer as the same colour.
TWIN_LEFT, TWIN_ALIKE = 0.25, 6.0  # what is left of them in a twin of the same colour; CIEDE2000 over which it is so
MAX_UNCERTAINTY = 2.0  # CIEDE2000; a card worse than this teaches little more than nominal values
OVERLAP = 1e-3  # of the smaller card's outline, by which two may seem to overlap; no source
EVERY = 2  # of the spectra's grid of 5 nm: 10 nm are written


@dataclass(frozen=True)
class CardPair:
    """One photo of both cards."""

    photo: Photo
    design: CardDesign  # of the fresh print
    balance: Balance
    response: Response
    patches: dict[str, StripSample]  # the fresh print's usable patches and "paper", against the measured card's stock
    number: str | None  # of the fresh print


def learn_card(
    name: str,
    photos: Sequence[str],
    card: str,
    *,
    other_light: Sequence[str] = (),
    measured: str | None = None,
    overwrite: bool = False,
) -> CardValues:
    """Learn a fresh print's values from photos that show it beside a measured card, and store them.

    Parameters
    ----------
    name : for the fresh print
    photos, other_light : photos under one light, and under another
    card : name or file of the measured card's values
    measured : where the measured card lies in the upright photo, one of `SIDES`; not needed if the sizes differ
    overwrite : take the place of a card of this name

    Raises
    ------
    SwatchcamError
        Anything that makes the values ones that cannot be trusted, with its remedy.
    """
    target = user_folder() / f"{name}.csv"
    problems = check_card_name(name, target, overwrite)
    if problems:
        raise CardError("card-not-learned", "correct-the-command", problems=problems)
    values = load_values(card)
    if not values.absolute:
        raise CardError("card-never-measured", "measure-one-card", values=values.name)
    lights = [[read_pair(photo, values, measured) for photo in light] for light in (photos, other_light)]
    colours = learned_colours(lights, values)
    sheet = _sheet(colours, [pair for light in lights for pair in light], values)
    if claimed := check_claims(name, sheet.header):
        raise CardError("card-not-learned", "correct-the-command", problems=claimed)
    write_sheet(target, sheet)
    return load_values(target, values.illuminant, values.observer)


def read_pair(path: str, values: CardValues, measured: str | None = None) -> CardPair:
    """One photo of a measured card and a fresh print.

    Raises
    ------
    SwatchcamError
        Anything that makes the photo one that nothing can be learned from.
    """
    photo = read_photo(path)
    known, fresh = _which_is_which(photo, find_cards(photo), values, measured)
    check_print(values, read_number(photo, known))
    _check_places(photo, known, fresh)
    flat, fresh_flat = flatten(photo, known), flatten(photo, fresh)
    values, (light, fitted, response) = as_seen(flat, values, partial(light_and_eye, flat))
    refuse_another_print(response, values)
    patches = fresh_patches(flat, fresh_flat, light)
    predicted = predict(response, values)
    seen = dict(zip(fitted.left_out, fitted.patch_rgb, strict=True))
    compared = {name: against_twin(patch, predicted.get(name), seen.get(name)) for name, patch in patches.items()}
    return CardPair(photo, fresh.design, fitted, response, compared, read_number(photo, fresh))


def learned_colours(lights: Sequence[Sequence[CardPair]], values: CardValues) -> dict[str, Colour]:
    """The colour of every patch of the fresh print, and of its stock, from all photos together.

    Raises
    ------
    UsageError
        A photo is named twice, or they show prints of different sizes.
    CardError
        A patch can be read in none of the photos.
    """
    pairs = [(pair, len(light)) for light in lights for pair in light]
    _check_same_print([pair for pair, _ in pairs])
    knowledge = _knowledge(values)
    colours = {}
    for name in (*(patch.name for patch in pairs[0][0].design.patches), PAPER):
        views = [
            View(pair.photo.digest, pair.patches[name], pair.balance, pair.response, alike)
            for pair, alike in pairs
            if name in pair.patches
        ]
        if not views:
            raise CardError("patch-in-no-photo", "uncover-the-patches", patch=name)
        colours[name] = _less_shared(colour_of(views, knowledge), values.lab.get(name))
    return colours


def _less_shared(colour: Colour, twin: Lab | None) -> Colour:
    """Without the errors that the patch has in common with its twin: those were taken off by the twin's own."""
    if twin is None:
        return colour
    apart = float(delta_e_2000(np.array(colour.lab), np.array(twin)))
    left = 1 - (1 - TWIN_LEFT**2) * float(np.exp(-((apart / TWIN_ALIKE) ** 2)))
    return replace(colour, parts=colour.parts | {part: left * colour.parts[part] for part in SHARED})


def _knowledge(values: CardValues) -> Knowledge:
    """What reflectances are likely in a print of the same printer."""
    return published().more(known_spectra(values, list(values.lab)), PRINTED)


def _which_is_which(photo: Photo, poses: Sequence[Pose], values: CardValues, measured: str | None) -> tuple[Pose, Pose]:
    """The measured card, and the fresh one."""
    if len(poses) != 2:
        raise FindError("not-two-cards", "show-both-cards", photo=photo.path, count=len(poses))
    ours = [pose for pose in poses if pose.design.name == values.design]
    named = [pose for pose in ours if read_number(photo, pose) in values.numbers]
    if measured is not None:
        known = _at_side(photo, poses, measured)
    elif len(named) == 1:
        known = named[0]
    elif len(ours) > 1:
        raise UsageError("both-cards-alike", "say-where-it-lies", photo=photo.path, design=values.design)
    else:
        known = ours[0] if ours else poses[0]
    if known.design.name != values.design:
        raise CardError(
            "measured-card-of-other-design",
            "name-the-measured-card",
            photo=photo.path,
            design=known.design.name,
            values=values.name,
            values_design=values.design,
        )
    return known, poses[1] if known is poses[0] else poses[0]


def _at_side(photo: Photo, poses: Sequence[Pose], side: str) -> Pose:
    axis, end = SIDES[side]
    first, second = (pose.outline().mean(axis=0) for pose in poses)
    away = second - first
    if abs(away[axis]) < abs(away[1 - axis]):
        raise UsageError("cards-lie-otherwise", "say-which-side", photo=photo.path, stacked=axis == 0)
    return poses[1] if away[axis] * end > 0 else poses[0]


def _check_places(photo: Photo, known: Pose, fresh: Pose) -> None:
    outlines = [pose.outline().astype(np.float32) for pose in (known, fresh)]
    area = min(cv2.contourArea(outline) for outline in outlines)
    if cv2.intersectConvexConvex(*outlines)[0] > OVERLAP * area:
        raise FindError("cards-overlap", "lay-them-apart")
    if not is_inside(fresh, photo):
        raise FindError("fresh-card-cut-off", "show-both-cards")


def _check_same_print(pairs: Sequence[CardPair]) -> None:
    first, number = pairs[0], None
    seen: dict[str, str] = {}
    for pair in pairs:
        number = number or pair.number
        path, digest = pair.photo.path, pair.photo.digest
        if digest in seen:
            raise UsageError("same-photo-twice", "name-each-photo-once", photo=path, other=seen[digest])
        seen[digest] = path
        if pair.design != first.design or pair.number not in (None, number):
            raise UsageError("fresh-cards-differ", "show-the-same-cards", photo=path, other=first.photo.path)


def _sheet(colours: dict[str, Colour], pairs: Sequence[CardPair], values: CardValues) -> Sheet:
    uncertainty = float(np.sqrt(np.mean([standard_uncertainty(colour) ** 2 for colour in colours.values()])))
    if uncertainty > MAX_UNCERTAINTY:
        raise CardError("values-too-uncertain", "add-photos-and-light", uncertainty=uncertainty, most=MAX_UNCERTAINTY)
    names = ", ".join(Path(pair.photo.path).name for pair in pairs)
    sheet = Sheet(
        header={
            "design": pairs[0].design.name,
            "grade": "transferred",
            "illuminant": values.illuminant,
            "observer": str(values.observer),
            "geometry": "45/0",  # as the phone saw it, whatever the other card was read with
            "date": pairs[0].photo.day,
            "source": " ".join(f"learned from {names} beside card {values.name}".split()),
            "uncertainty": f"{uncertainty:.2g}",
            "print": ", ".join(sorted({pair.number for pair in pairs if pair.number})),
        },
        lab={name: colour.lab for name, colour in colours.items()},
        wavelengths=tuple(map(float, tables().wavelengths[::EVERY])),
        spectra={name: tuple(map(float, colour.reflectance[::EVERY])) for name, colour in colours.items()},
    )
    problems = sheet_of(sheet_text(sheet)).problems
    if problems:
        raise CardError("learned-values-faulty", "take-better-photos", problems=problems)
    return sheet


def standard_uncertainty(colour: Colour) -> float:
    """Standard uncertainty of a colour in CIEDE2000, over all directions."""
    variances, axes = np.linalg.eigh(colour.covariance)
    steps = (axes * np.sqrt(np.maximum(variances, 0))).T
    return float(np.sqrt((delta_e_2000(np.array(colour.lab) + steps, np.array(colour.lab)) ** 2).sum()))
