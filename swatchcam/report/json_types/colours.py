"""What several objects have in common: their format, numbers with an interval, colours."""

from __future__ import annotations

from typing import Annotated, Final, Literal, TypedDict

FORMAT: Final = "swatchcam-result-2"
Format = Annotated[Literal["swatchcam-result-2"], "`swatchcam-result-2`; the number changes when keys change"]
Interval = Annotated[list[float], "[low, high] that holds the true value in 95 of 100 cases"]


class HeadJson(TypedDict):
    """What an object begins with."""

    format: Format


class InLibraryJson(HeadJson):
    """What an object of the library begins with."""

    library: Annotated[str, "the library: a file, or the address of a database without its password"]


class NumberJson(TypedDict):
    """A number and how sure it is."""

    value: Annotated[float, "the number"]
    interval95: Interval


class AxesJson(TypedDict):
    """A CIELAB colour."""

    L: Annotated[float, "CIELAB L*, lightness"]
    a: Annotated[float, "CIELAB a*, green to red"]
    b: Annotated[float, "CIELAB b*, blue to yellow"]


class ColourJson(AxesJson):
    """A CIELAB colour for D65 and 10 degrees, and roughly how a screen shows it."""

    srgb_approx: Annotated[str, "roughly the colour on a screen, `#rrggbb`"]


class SureColourJson(ColourJson):
    """The same, and how sure it is."""

    interval95_ciede2000: Annotated[float, "the true colour lies within this distance in 95 of 100 cases"]


class LabJson(SureColourJson):
    """A measured colour."""

    C: Annotated[float, "chroma"]
    h_deg: Annotated[float, "hue, degrees"]
    srgb_in_gamut: Annotated[bool, "false if a screen cannot show the colour"]
