"""A tint: a drawdown whose recipe is known. What the studio's pigments do is learned from its tints."""

from __future__ import annotations

from dataclasses import dataclass

from .difference import Errors
from .kept import Kept
from .recipe import Recipe
from .record import key


@dataclass(frozen=True)
class Tint:
    """What a drawdown was mixed of, and what it measured; with no share at all it is binder alone."""

    shares: dict[str, float]  # pigment, in small letters -> g in 100 g of the whole, of the lot that counts as 1
    shares_std: dict[str, float]  # one standard deviation of each
    colour: Kept  # D65, 10 degrees
    strip: str  # the same for all photos of one strip: its film is the same
    name: str = ""  # for people: "record 12"

    @property
    def errors(self) -> Errors:
        """How far off the measured colour may be."""
        return self.colour.errors


def shares_of(recipe: Recipe) -> tuple[dict[str, float], dict[str, float]]:
    """Each pigment's share, % of the whole, and its standard deviation, by the pigment's name in small letters."""
    found = {key(name): share for name, share in recipe.shares().items()}
    return {name: share.percent for name, share in found.items()}, {name: share.std for name, share in found.items()}
