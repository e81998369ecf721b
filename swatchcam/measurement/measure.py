"""The story on one screen: photos of the card with strips -> their colours, and how sure they are.

A camera is not an eye: no matrix is right for every ink. Three steps take its place, each a linear or linearised
Gaussian model, so that the answer comes with its uncertainty. `colour_matrix` fits a matrix to the patches, exact
on white; it finds patches that do not fit, and is where the rest begins. `camera_response` asks what the channels see
of a spectrum. `spectral_recovery` finds the likeliest reflectance behind what was seen; what it leaves open is the
metamerism in the interval. Photos of one scene are more channels of one reflectance, those of a second light new ones.

Tried on build scenes and left out, for it gained nothing: root-polynomial fits, a correction of the matrix from the
nearest patches, Gaussian-process residuals of the patches, reflectances scaled in Kubelka-Munk's K/S as further
knowledge, K/S in place of the logit, a third pass for the tone curve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from ..cards.values import CardValues
from ..errors import UsageError
from ..geometry.pose import Pose
from ..illumination.solve import Light
from ..messages.message import Flag
from ..photo.photo import Photo
from .colour_matrix import Balance
from .combine_photos import combine
from .error_budget import Colour, View, colour_of
from .pigment_row import PigmentRow, load_row
from .single_photo import Look, take_look


@dataclass(frozen=True)
class Measurement:
    """What the photos of one scene say together."""

    looks: tuple[Look, ...]  # in the order in which they were named, but those that were left out come last
    lights: tuple[int, ...]  # of each look: 1 for the light of the first photo, 2 for the other one
    colours: tuple[Colour, ...]
    cloth: Colour | None  # the bare cloth, as the first photo shows it
    row: PigmentRow | None
    flags: tuple[Flag, ...]

    @property
    def photo(self) -> Photo:
        """The first photo."""
        return self.looks[0].photo

    @property
    def pose(self) -> Pose:
        """The card in the first photo."""
        return self.looks[0].pose

    @property
    def values(self) -> CardValues:
        """What the card measures."""
        return self.looks[0].values

    @property
    def light(self) -> Light:
        """The light in the first photo."""
        return self.looks[0].light

    @property
    def balance(self) -> Balance:
        """The balance of the first photo."""
        return self.looks[0].balance

    def colour(self, name: str) -> Colour:
        """The colour of that name.

        Raises
        ------
        UsageError
            There is none.
        """
        for colour in self.colours:
            if colour.name == name:
                return colour
        names = [colour.name for colour in self.colours]
        raise UsageError("strip-not-there", "choose-a-strip", photo=self.photo.path, strip=name, strips=names)


def measure(
    path: str,
    card: str | None = None,
    *,
    illuminant: str = "D65",
    observer: int = 10,
    beside: bool = False,
    again: Sequence[str] = (),
    other_light: Sequence[str] = (),
    row: str | None = None,
    staining: bool = False,
    earlier: CardValues | None = None,
    keep_print: bool = False,
) -> Measurement:
    """Measure the strips in a photo of the card, or in several photos of the same scene.

    Parameters
    ----------
    path : photo file
    card : name or file of the card's values, or "nominal"; by default as `cards.choice.choose_values` says
    illuminant, observer : for CIELAB; D65 and 10 degrees is textile practice (ISO 105-J01)
    beside : measure loose strips beside the card too
    again : further photos of the same scene under the same light
    other_light : photos of the same scene under another light
    row : name of the row with the studio's own pigments
    staining : the windows hold white cloth, clean or stained: the middle of each is measured
    earlier : what another photo made of an unmeasured print: used for the same print again
    keep_print : what this photo makes of an unmeasured print is kept, for all later photos of it

    Raises
    ------
    SwatchcamError
        Anything that makes the number one that cannot be trusted, with its remedy.
    """
    own = load_row(row) if row else None
    how: dict[str, Any] = {"illuminant": illuminant, "observer": observer, "beside": beside, "staining": staining}
    first = take_look(path, card, own, **how, earlier=earlier, keep_print=keep_print)
    # Photos of one scene show one print.
    look = partial(take_look, card=card, row=own, **how, earlier=first.values)
    return from_looks([[first, *map(look, again)], list(map(look, other_light))], own)


def from_looks(lights: Sequence[Sequence[Look]], row: PigmentRow | None = None) -> Measurement:
    """What photos that were looked at say together; `lights` holds those under each light.

    Raises
    ------
    SwatchcamError
        They do not show the same scene, or contradict each other.
    """
    colours, flags = combine(lights, row)
    used = {view.photo for view in colours[0].views}
    pairs = [(look, number) for number, light in enumerate(lights, start=1) for look in light]
    # What is drawn, and known by its first photo, must be a photo that the colours rest on.
    pairs.sort(key=lambda pair: pair[0].photo.digest not in used)
    ordered = tuple(look for look, _ in pairs)
    return Measurement(ordered, tuple(number for _, number in pairs), colours, _cloth(ordered[0]), row, flags)


def _cloth(look: Look) -> Colour | None:
    if look.cloth is None:
        return None
    return colour_of([View(look.photo.digest, look.cloth, look.balance, look.response)])
