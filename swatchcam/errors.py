"""What the tool refuses, and what to do about it.

SwatchcamError          a code, its facts, and a remedy; `messages` says it in words
├── UsageError          the command asks for something that cannot be done
├── CardError           fix the card file, or choose another card
├── LibraryError        the studio's records cannot be read or written
└── PhotoError          shoot again
    ├── FileError       the file cannot be read as a photo
    ├── FindError       the card cannot be found or trusted in the photo
    ├── LightError      the light on the card cannot be undone
    ├── StripError      the ink in the window cannot be measured
    └── FitError        the card's colours do not explain what the camera saw
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from .messages.message import SAID_BEFORE, Message, message_from_json, plain


class SwatchcamError(Exception):
    """A refusal: `code` says what is wrong, `remedy` names what to do next, `facts` is what their sentences tell.

    `where` says in which photo, option or field it happened, the outermost first. As text it is what the terminal says.
    """

    def __init__(self, code: str, remedy: str, /, **facts: Any) -> None:
        super().__init__(code, remedy)
        self.code = code
        self.remedy = remedy
        self.facts: Mapping[str, Any] = plain(facts)
        self.where: tuple[Message, ...] = ()

    def at(self, code: str, /, **facts: Any) -> None:
        """Say where it happened, such as at("in-photo", photo=path); then raise it again."""
        self.where = (Message(code, plain(facts)), *self.where)

    def as_json(self) -> dict[str, Any]:
        """For a file, another process or a program; `error_from_json` reads it."""
        return {
            "kind": type(self).__name__,
            "code": self.code,
            "facts": dict(self.facts),
            "remedy": self.remedy,
            "where": [place.as_json() for place in self.where],
        }

    def __str__(self) -> str:
        from .messages.surface import TERMINAL

        return TERMINAL.refusal(self)

    def __reduce__(self) -> tuple[Any, ...]:
        return error_from_json, (self.as_json(),)


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


def _family(kind: type[SwatchcamError]) -> Iterator[type[SwatchcamError]]:
    yield kind
    for narrower in kind.__subclasses__():
        yield from _family(narrower)


KINDS = {kind.__name__: kind for kind in _family(SwatchcamError)}


def error_from_json(stored: Mapping[str, Any]) -> SwatchcamError:
    """A refusal as `SwatchcamError.as_json` wrote it, or the two sentences that version 0.1 wrote in its place.

    Raises
    ------
    TypeError, KeyError
        It is neither.
    """
    if "code" not in stored:
        return SwatchcamError(SAID_BEFORE, SAID_BEFORE, sentence=stored["problem"], advice=stored["remedy"])
    error = KINDS.get(stored["kind"], SwatchcamError)(stored["code"], stored["remedy"], **stored["facts"])
    error.where = tuple(message_from_json(place) for place in stored["where"])
    return error
