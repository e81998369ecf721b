"""Numbers for new prints, none of them twice.

A folder beside the user's card values holds an empty file for each number that was given out. The system makes a file
of a name only once, whoever asks at the same moment, so two programs never take one number, and no list can be spoilt.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from secrets import SystemRandom

from ..errors import CardError
from ..files import disk_cause
from ..resources import user_folder
from .design import designs
from .print_number import IDS, TAGS, is_number, number_of

FOLDER = "print-numbers"


def new_numbers(count: int) -> list[str]:
    """So many numbers that this user has never printed, taken from now on.

    Another computer's are not looked at. There are 16.6 million, so the chance that two computers print one number
    both is at most the product of how many each prints, over that: 1 in 41 000 for 20 each, 1 in 1700 for 100 each.

    Raises
    ------
    CardError
        They can't be kept on the disk; nothing should be printed then.
    """
    folder = _folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return [_take(folder) for _ in range(count)]
    except OSError as error:
        cause = disk_cause(error)
        raise CardError(
            "print-number-not-kept",
            "make-room" if cause.code == "disk-full" else "give-access",
            folder=folder,
            cause=cause,
        ) from error


def note_printed(numbers: Iterable[str]) -> None:
    """Take numbers that were given out before, such as those of a backup.

    Raises
    ------
    OSError
        They can't be kept on the disk.
    """
    for number in filter(is_number, numbers):
        _folder().mkdir(parents=True, exist_ok=True)
        (_folder() / number).touch()


def printed_numbers() -> list[str]:
    """Every number that was given out here, in order."""
    try:
        return sorted(path.name for path in _folder().iterdir() if is_number(path.name))
    except OSError:
        return []  # nothing was printed yet


def _folder() -> Path:
    return user_folder() / FOLDER


def _take(folder: Path) -> str:
    while True:
        number = _draw()
        try:
            (folder / number).touch(exist_ok=False)
        except FileExistsError:
            continue
        return number


def _draw() -> str:
    """A number by chance, its three tags all different and none of them a card's own.

    A design of the user's own from before there were numbers may use such a tag: a photo would seem to show two cards.
    """
    own = {tag.id for design in designs().values() for tag in design.tags}
    number = number_of(SystemRandom().sample([number for number in IDS if number not in own], TAGS))
    assert number is not None
    return number
