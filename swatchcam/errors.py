"""What the tool refuses, and what to do about it.

SwatchcamError          one sentence on what is wrong, one on what to do next
├── UsageError          the command asks for something that cannot be done
├── CardError           fix the card file, or choose another card
├── LibraryError        the studio's records cannot be read or written
└── PhotoError          shoot again
    ├── FileError       the file cannot be read as a photo
    ├── FindError       the card cannot be found or trusted in the photo
    ├── LightError      the light on the card cannot be undone
    ├── StripError   the ink in the window cannot be measured
    └── FitError        the card's colours do not explain what the camera saw
"""


class SwatchcamError(Exception):
    """A refusal: `problem` says what is wrong, `remedy` what to do next."""

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(problem, remedy)
        self.problem = problem
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.problem} {self.remedy}"


class UsageError(SwatchcamError):
    """The command asks for something that cannot be done."""


class CardError(SwatchcamError):
    """A card design or a card's values cannot be used as they are."""


class LibraryError(SwatchcamError):
    """The library cannot be read or written as it is."""


class PhotoError(SwatchcamError):
    """The photo cannot give a number that may be trusted."""


class FileError(PhotoError):
    """The file cannot be read as a photo."""


class FindError(PhotoError):
    """The card cannot be found, or its pose cannot be trusted."""


class LightError(PhotoError):
    """The light on the card is one that cannot be undone."""


class StripError(PhotoError):
    """The ink in a window cannot be measured."""


class FitError(PhotoError):
    """The card's patches do not explain what the camera saw."""
