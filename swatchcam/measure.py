"""The story on one screen: a photo of the card with drawdowns -> their colours, and how sure they are."""

from __future__ import annotations

from dataclasses import dataclass

from .balance import Balance, balance
from .budget import Colour, View, colour_of
from .errors import UsageError
from .find import Pose, find_card
from .flatten import FlatCard, flatten
from .light import Light, solve_light
from .photo import Photo, read_photo
from .response import learn_response
from .swatch import sample_beside, sample_windows
from .values import CardValues, choose_values


@dataclass(frozen=True)
class Measurement:
    """What one photo says, with every stage it went through."""

    photo: Photo
    pose: Pose
    values: CardValues
    card: FlatCard
    light: Light
    balance: Balance
    colours: tuple[Colour, ...]
    flags: tuple[str, ...]

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
        names = ", ".join(colour.name for colour in self.colours)
        raise UsageError(f"{self.photo.path} has no drawdown called '{name}'.", f"Choose one of: {names}.")


def measure(
    path: str, card: str | None = None, *, illuminant: str = "D65", observer: int = 10, beside: bool = False
) -> Measurement:
    """Measure the drawdowns in a photo of the card.

    Parameters
    ----------
    path : photo file
    card : name or file of the card's values; by default the only one known, else the nominal values
    illuminant, observer : for CIELAB; D65 and 10 degrees is textile practice (ISO 105-J01)
    beside : measure loose drawdowns beside the card too

    Raises
    ------
    SwatchcamError
        Anything that makes the number one that cannot be trusted, with its remedy.
    """
    photo = read_photo(path)
    pose = find_card(photo)
    values = choose_values(pose.design, card, illuminant, observer)
    flat = flatten(photo, pose)
    light = solve_light(flat, values)
    fitted = balance(flat, light, values)
    swatches = sample_windows(flat, light)
    if beside:
        swatches += sample_beside(photo, flat, light)
    response = learn_response(fitted, values)
    colours = tuple(colour_of([View(swatch, fitted, response)]) for swatch in swatches)
    flags = photo.flags + pose.flags + light.flags + fitted.flags
    return Measurement(photo, pose, values, flat, light, fitted, colours, flags)
