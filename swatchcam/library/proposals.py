"""What the tool proposed for a pot, and what colour it predicted."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final, Literal

import numpy as np

from ..colorimetry.cielab import Lab
from ..colorimetry.error_covariance import Errors
from ..measurement.stored_colour import PARTS
from ..recipes.premix import Making
from ..recipes.recipe import Recipe
from .records import DRY, State

RECIPE, CORRECTION, THINNING, AGAIN, USE_UP = "recipe", "correction", "thinning", "again", "use-up"
KINDS = (RECIPE, CORRECTION, THINNING, AGAIN, USE_UP)

POT: Final = "pot"
PRE_MIX: Final = "pre-mix"
PIGMENT: Final = "pigment"
Kind = Literal["pot", "pre-mix", "pigment"]  # of what stands on the shelf

StoredCovariance = tuple[Lab, Lab, Lab]


@dataclass(frozen=True)
class Used:
    """What goes into a pot, and where it stands on the shelf."""

    of: Kind
    name: str  # of the batch, of the pre-mix or of the pigment, the clear base among them
    grams: float
    number: int | None = None  # of the batch or the pre-mix; a pigment, and a pre-mix still to be made, go by name
    emptied: bool = False  # whether nothing is left of it then


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """What to put into a pot, and the colour that it will have.

    Number, batch and moment may be left open until the library keeps it (`proposal_store.keep_proposal`).
    Colours are for D65 and 10 degrees.
    """

    number: int = 0
    kind: str  # one of KINDS
    shade: str
    batch: str = ""  # the batch that it makes
    from_batch: str | None = None  # the pot of the same shade that it corrects
    made: str = ""  # ISO 8601, UTC
    recipe: Recipe  # everything in the pot once it is carried out
    target: Lab | None = None
    target_words: str = ""
    lab: Lab  # predicted
    covariance: StoredCovariance  # of Lab
    radius: float  # CIEDE2000 within which the true colour will lie in 95 of 100 cases
    reflectance: tuple[float, ...]  # 81 values, 380 to 780 nm; predicted
    cloth: str = ""
    state: State = DRY  # what `lab` is predicted for
    target_state: State | None = None  # what the target is for; None if nobody said
    words: str = ""
    facts: dict[str, Any] = field(default_factory=dict)  # whatever else was weighed; goes into JSON
    used: tuple[Used, ...] = ()  # what it takes off the shelf
    makings: tuple[Making, ...] = ()  # pre-mixes that are made for it first

    @property
    def name(self) -> str:
        """What it is called beside a measured colour."""
        return f"proposal {self.number}" if self.number else "proposal"

    @property
    def errors(self) -> Errors:
        """Its error as a difference from a measured colour must know it: nothing of it is shared."""
        nothing = {part: np.zeros((3, 3)) for part in PARTS}
        return Errors(nothing | {"noise": np.array(self.covariance)}, np.zeros((3, 0)), {}, (self.name,))

    @property
    def day(self) -> str:
        """ISO date, here, on which it was made: that of a photo is told by the clock on the wall too."""
        return datetime.fromisoformat(self.made).astimezone().date().isoformat()
