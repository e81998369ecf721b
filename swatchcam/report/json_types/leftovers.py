"""What can be made of what is left of old pots."""

from __future__ import annotations

from typing import Annotated

from .colours import HeadJson
from .mixing import AnswerJson


class LeftoverShadeJson(AnswerJson):
    """A pot of old ink for a shade."""

    shade: Annotated[str, "the shade"]


class LeftoversJson(HeadJson):
    """What `swatchcam mix use-up --json` prints where no colour is named: shades that can be made of old ink."""

    shades: Annotated[list[LeftoverShadeJson], "a pot for each of them, what saves most clear base first"]
