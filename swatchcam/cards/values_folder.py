"""Which values there are: the user's own files and those that come with the tool, by name and by print number."""

from __future__ import annotations

from pathlib import Path

from ..errors import CardError
from ..resources import calibration_folder, user_folder
from .design import ROW_KINDS, is_row
from .print_number import spoken
from .values_file import design_of, header_in, numbers_in

NOT_OF_IT = 3  # rank of values that are of another print
NOMINAL = "nominal"  # in place of a card's name: the colours as sent to the printer


def find_values(path_or_name: str | Path) -> Path:
    """The file meant by a path or by a bare name.

    Raises
    ------
    CardError
        There is no such file; the names that are known are listed.
    """
    given = Path(path_or_name)
    folders = (user_folder(), calibration_folder())
    candidates = [given, *(folder / end for folder in folders for end in (given.name, f"{given.name}.csv"))]
    if len(given.parts) > 1:
        candidates = [given]
    try:
        for path in candidates:
            if path.is_file():
                return path
    except (OSError, ValueError):
        pass  # too long, or with a null character: there can be no such file
    raise CardError("values-missing", "choose-a-known-card", name=path_or_name, known=known_cards())


def find_card(path_or_name: str | Path) -> Path:
    """The same, but of a card only; raises CardError as `find_values`, also for a pigment row."""
    path = find_values(path_or_name)
    if _of_row(path):
        raise CardError("values-of-a-row", "choose-a-known-card", name=path.stem, known=known_cards())
    return path


def card_files() -> dict[str, Path]:
    """The values of cards by name: the user's own and those that come with the tool; the user's come first."""
    files = [path for folder in (calibration_folder(), user_folder()) for path in sorted(folder.glob("*.csv"))]
    return {path.stem: path for path in files if not _of_row(path)}


def row_files() -> dict[str, Path]:
    """What describes each pigment row, else its values, by name: the user's own and those that come with the tool."""
    folders = (calibration_folder(), user_folder())
    values = {path.stem: path for folder in folders for path in folder.glob("*.csv") if _of_row(path)}
    return values | {path.stem: path for folder in folders for path in folder.glob("*.toml") if is_row(path)}


def known_cards() -> list[str]:
    """The names of all cards whose values are at hand."""
    return sorted(card_files())


def own_files() -> list[Path]:
    """The values of the user's own cards."""
    return [path for path in card_files().values() if is_own(path)]


def is_own(path: Path) -> bool:
    """Whether a file lies in the user's folder."""
    return path.parent == user_folder()


def comes_with_the_tool(name: str) -> bool:
    """Whether a card or pigment row of this name comes with the tool."""
    return any((calibration_folder() / f"{name}{end}").exists() for end in (".csv", ".toml"))


def shadowing(path: Path) -> bool:
    """Whether a file of the user's stands in the way of one that comes with the tool."""
    return is_own(path) and comes_with_the_tool(path.stem)


def values_of_print(number: str) -> Path | None:
    """The values that say they are of the print with this number, else those of its sister, or None.

    Raises
    ------
    CardError
        Two files say so, or one can't be read.
    """
    ranks = {path: _rank(path, header_in(path), number) for path in card_files().values()}
    best = min(ranks.values(), default=NOT_OF_IT)
    found = [path for path, rank in ranks.items() if rank == best < NOT_OF_IT]
    if len(found) > 1:
        names = [path.stem for path in found]
        raise CardError("print-claimed-twice", "say-whose-print", number=spoken(number), digits=number, names=names)
    return found[0] if found else None


def edition_name(design: str, number: str | None) -> str:
    """What the values of a print are called that only its own photos show; those of one without a number by design."""
    return f"print-{number}" if number else f"unmeasured-{design}"


def is_edition(path: Path, number: str) -> bool:
    """Whether these are the values that a first photo made of the print with this number."""
    return path.stem == edition_name("", number)


def _rank(path: Path, header: dict[str, str], number: str) -> int:
    """Which values of a print come first: its own, those of its sister, then what its first photo made of it."""
    if number in numbers_in(header):
        return 2 if is_edition(path, number) else 0
    return 1 if number in numbers_in(header, "sister") else NOT_OF_IT


def _design_told(path: Path) -> str:
    try:
        return design_of(path)
    except (CardError, OSError):
        return "?"


def _of_row(path: Path) -> bool:
    """Whether values are those of a pigment row, the user's own or one that comes with the tool."""
    return any(is_row(folder / f"{path.stem}.toml") for folder in (path.parent, calibration_folder())) or (
        _design_told(path) in ROW_KINDS
    )
