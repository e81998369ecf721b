"""One photo of the card, through every step from the file to the light of each strip.

The camera does not see a printed grey quite as the eye does, so once its response is known the light is solved for
again (`light_and_eye`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from ..cards.choice import choose_values, taken_alone
from ..cards.print_number import number_of
from ..cards.print_register import printed_numbers
from ..cards.values import CardValues
from ..cards.values_folder import NOMINAL
from ..geometry.number_tags import number_flags, read_tags
from ..geometry.pose import Pose, find_card
from ..geometry.rectify import FlatCard, flatten
from ..illumination.solve import Light, solve_light
from ..messages.message import Flag
from ..photo.photo import Photo, read_photo
from .bare_cloth import bare_cloth
from .camera_response import Response, learn_response, predict
from .card_ageing import card_flags, refuse_another_print
from .card_fit.editions import unmeasured
from .card_fit.reading_conditions import as_seen
from .colour_matrix import Balance, balance
from .pigment_row import PigmentRow, sample_row
from .strip_sample import StripSample, sample_beside, sample_stains, sample_windows, windows_of


@dataclass(frozen=True, eq=False)  # two looks are equal only if they are one: arrays cannot say so
class Look:
    """What one photo shows, with every state it went through."""

    photo: Photo
    pose: Pose
    values: CardValues
    card: FlatCard
    light: Light
    balance: Balance
    response: Response
    strips: tuple[StripSample, ...]
    cloth: StripSample | None  # the bare cloth, where it shows
    anchors: tuple[StripSample, ...]  # the row's strips, where the photo shows them
    flags: tuple[Flag, ...]
    number: str | None = None  # of the print, eight digits; None where none is printed, or it can't be read


def take_look(
    path: str,
    card: str | None = None,
    row: PigmentRow | None = None,
    *,
    illuminant: str = "D65",
    observer: int = 10,
    beside: bool = False,
    staining: bool = False,
    windows: bool = True,
    earlier: CardValues | None = None,
    keep_print: bool = False,
) -> Look:
    """Everything that one photo shows; with `staining` its windows hold white cloth, clean or stained, and no ink.

    Without `windows` what lies in them is not looked at. `earlier` and `keep_print` are as of `measure`.

    Raises
    ------
    SwatchcamError
        Anything that makes the number one that cannot be trusted, with its remedy.
    """
    photo = read_photo(path)
    pose = find_card(photo)
    number_tags = read_tags(photo, pose)
    number = number_of(number_tags)
    values = choose_values(pose.design, card, illuminant, observer, number)
    flat = flatten(photo, pose)
    solve = partial(light_and_eye, flat)
    if values.grade == NOMINAL:
        # One whose number can't be read must not stand for the prints that bear none.
        keep_print = keep_print and None not in number_tags and not taken_alone(card, number)
        values = unmeasured(flat, photo, values, number, solve, earlier, keep_print)
    values, (light, fitted, response) = as_seen(flat, values, solve)
    if values.path:
        refuse_another_print(response, values, number)
    pieces = windows_of(flat, light, staining) if windows else []
    inside = (sample_stains if staining else sample_windows)(flat, light, pieces) if windows else ()
    strips = inside + (sample_beside(photo, flat, light) if beside else ())
    anchors = sample_row(row, photo, flat, light) if row else ()
    number_unread = number_flags(number_tags, printed_numbers())
    flags = photo.flags + pose.flags + number_unread + light.flags + fitted.flags
    flags += card_flags(fitted, response, values)
    return Look(
        photo,
        pose,
        values,
        flat,
        light,
        fitted,
        response,
        strips,
        bare_cloth(pieces, inside, light.field) if windows and not staining else None,
        anchors,
        flags,
        number,
    )


def light_and_eye(card: FlatCard, values: CardValues) -> tuple[Light, Balance, Response]:
    """The tone curve is read from greys as the camera sees them, and the camera through the tone curve: so twice."""
    light = solve_light(card, values)
    fitted = balance(card, light, values)
    response = learn_response(fitted, values)
    if values.spectra:  # a third time changes nothing that counts
        light = solve_light(card, values, predict(response, values), light.tone)
        fitted = balance(card, light, values)
        response = learn_response(fitted, values)
    return light, fitted, response
