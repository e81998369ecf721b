"""What the columns of an instrument's table mean: patch names, CIELAB, XYZ or a spectrum, and on which scale.

A column's name may say for which light it is, in many ways: `L*(10/D65)`, `CIE L* D50/2`, `LAB_L_D65_10`.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence

from ..errors import CardError
from ..messages.message import Message, finding
from .instrument_table import Table
from .validation import ILLUMINANTS, number

# The first of these columns that has names is taken; plain numbers come last.
NAME_COLUMNS = (
    *("samplename", "patchname", "name", "patch", "sampleid", "patchid", "sample"),
    *("probenname", "probename", "probenbezeichnung", "bezeichnung", "messfeld", "farbfeld", "feldname", "feld"),
    *("probenid", "mustername", "muster", "probe"),
    *("nomdelechantillon", "nomechantillon", "echantillon", "nomdelaplage", "plage", "pastille", "nom"),
    *("nombredelamuestra", "nombredemuestra", "nombremuestra", "muestra", "parche", "nombre"),
    *("nomedelcampione", "nomecampione", "campione", "tassello", "nome"),
    *("naamvanhetmonster", "monsternaam", "monster", "staal", "meetveld", "veld", "naam"),
    *("nomedaamostra", "nomeamostra", "amostra"),
    *("sampleno", "samplenumber", "patchno", "patchnumber", "probennr", "probennummer", "monsternummer"),
    *("id", "no", "nr", "number", "nummer", "numero", "index", "#"),
)
SETS = {"Lab": ("L", "a", "b"), "XYZ": ("X", "Y", "Z")}
ANGLE = re.compile(r"(2|10)(?:deg|degrees?|grad|gradi|grados|graden|degres|graus)?", re.ASCII)
SPECTRAL = re.compile(r"(?:spectral(?:nm|pct|dec)?|nm|r)?(\d{3,4}(?:\.\d+)?)(?:nm)?", re.ASCII)
# Between these a largest value could be a share of one or of a hundred; white stock never lies there.
LARGEST_FACTOR, SMALLEST_PERCENT = 1.5, 15.0
LARGEST = 10_000.0  # no number of a colour on any scale; far larger ones would overflow

Row = tuple[float, ...]
ReadingColumn = tuple[str, float, int]  # "Lab", "XYZ" or "nm"; place in the set, or wavelength; index in the table


def _plain(text: str) -> str:
    """Without accents, spaces, stars and other signs between letters."""
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))
    return re.sub(r"[^\w#.]|_|\.$", "", bare)


def _apart(column: str) -> tuple[str, tuple[str, str]]:
    """A column's name without the light that it is for, and that light: illuminant and observer, or empty."""
    words = re.sub(r"[_()\[\]{}°º,;:/|-]|(?<=\d)\s+(?i:deg)\w*", " ", column).split()
    angles = [ANGLE.fullmatch(_plain(word).lower()) for word in words]
    lamps = []
    for at, word in enumerate(words):
        beside = any(angles[max(at - 1, 0) : at + 2])
        # A and C alone may be anything.
        if word.upper() in ILLUMINANTS if len(word) > 1 else beside and word in ILLUMINANTS:
            lamps.append(at)
    if len(lamps) != 1:
        return column, ("", "")
    told = [match[1] for match in angles if match]
    rest = [word for at, word in enumerate(words) if at not in lamps and not angles[at]]
    return " ".join(rest), (words[lamps[0]].upper(), told[0] if len(told) == 1 else "")


def is_header(cells: Sequence[str]) -> bool:
    """Whether these cells name a column of patch names and at least three columns of colour."""
    plain = [_plain(cell).lower() for cell in cells]
    named = any(name in plain for name in NAME_COLUMNS)
    return named and len(_find_columns(cells)) >= 3


def _find_columns(cells: Sequence[str]) -> list[ReadingColumn]:
    """Every column that holds colour, in the order of its set."""
    found = []
    rgb = {"R", "G"} <= {_plain(cell).upper() for cell in cells}
    for index, cell in enumerate(cells):
        plain = _plain(_apart(cell)[0])
        spectral = SPECTRAL.fullmatch(plain.lower())
        if spectral:
            found.append(("nm", float(spectral[1]), index))
        for key, letters in SETS.items():
            for place, letter in enumerate(letters):
                if _means(plain, key, letter, rgb):
                    found.append((key, float(place), index))
    return sorted(found)


def _means(plain: str, key: str, letter: str, rgb: bool) -> bool:
    """Whether a column's plain name is this letter of a set: L, LABL, CIEL ..."""
    match = re.fullmatch(rf"(?i:(cie)?({key})?)(\w)", plain)
    if not match:
        return False
    # Lower-case x, y, z are chromaticities, and B beside R and G is blue.
    any_case = match[2] or (key == "Lab" and (match[1] or not rgb))
    return match[3] == letter or bool(any_case and match[3].lower() == letter.lower())


def colour_columns(table: Table, path: str, wanted: tuple[str, str] = ("", "")) -> list[ReadingColumn]:
    """The columns of every complete set of colour.

    Parameters
    ----------
    wanted : illuminant and observer, or empty; of several sets, those for another light are left out

    Raises
    ------
    CardError
        No set is complete, or a column is there twice.
    """
    columns = _find_columns(table.columns)
    if _doubled(columns):
        columns = [each for each in columns if not _for_other(table.columns[each[2]], wanted)]
    places = [(key, place) for key, place, _ in columns]
    if doubled := [table.columns[index] for index in _doubled(columns)]:
        raise CardError("columns-doubled", "keep-one-illuminant", path=path, columns=doubled)
    whole = {key for key in SETS if sum(place[0] == key for place in places) == 3}
    whole |= {"nm"} if sum(place[0] == "nm" for place in places) >= 3 else set()
    if not whole:
        raise CardError("colour-columns-missing", "export-a-whole-set", path=path, columns=table.columns)
    return [column for column in columns if column[0] in whole]


def _doubled(columns: list[ReadingColumn]) -> list[int]:
    places = [(key, place) for key, place, _ in columns]
    return [index for key, place, index in columns if places.count((key, place)) > 1]


def _for_other(column: str, wanted: tuple[str, str]) -> bool:
    """Whether a column says that it is for another light than the wanted one."""
    return any(want and said and want != said for want, said in zip(wanted, _apart(column)[1], strict=True))


def light_said(table: Table, columns: list[ReadingColumn], path: str) -> tuple[str, str]:
    """Illuminant and observer that the names of the columns of Lab, else of XYZ, say; empty where they are silent.

    Raises
    ------
    CardError
        They say more than one.
    """
    kinds = [key for key, _, _ in columns if key != "nm"]
    named = [table.columns[index] for key, _, index in columns if kinds and key == kinds[0]]
    said = [{light[part] for light in (_apart(name)[1] for name in named) if light[part]} for part in (0, 1)]
    if max(map(len, said)) > 1:
        raise CardError("columns-of-two-lights", "keep-one-illuminant", path=path, columns=named)
    return (next(iter(said[0]), ""), next(iter(said[1]), ""))


def patch_names(table: Table, path: str) -> list[str]:
    """One patch name for each row.

    Raises
    ------
    CardError
        No column has names, or two have.
    """
    plain = [_plain(column).lower() for column in table.columns]
    for wanted in NAME_COLUMNS:
        if plain.count(wanted) > 1:
            raise CardError("two-name-columns", "keep-one-of-them", path=path)
        if wanted in plain:
            names = [row[plain.index(wanted)].strip() for row in table.rows]
            if any(names):
                return names
    raise CardError("patch-names-missing", "name-the-patches", path=path)


def numbers_of(table: Table, columns: list[ReadingColumn], path: str) -> tuple[list[Row], list[Message]]:
    """Numbers of the colour columns, NaN where no colour could have it, and a finding for each row with such.

    Raises
    ------
    CardError
        Decimal commas and decimal points are mixed: 1,234 could be one thing or a thousand times another.
    """
    cells = [[row[index] for _, _, index in columns] for row in table.rows]
    text = "".join(cell for row in cells for cell in row)
    if "," in text and "." in text:
        raise CardError("decimal-signs-mixed", "export-in-one-way", path=path)
    read = [[_decimal(cell) for cell in row] for row in cells]
    rows = [tuple(value if abs(value) <= LARGEST else math.nan for value in row) for row in read]
    names = patch_names(table, path) if rows else []
    problems = []
    for name, row, values, given in zip(names, rows, read, cells, strict=True):
        wrong = [i for i, value in enumerate(row) if math.isnan(value)]
        if wrong:
            column = table.columns[columns[wrong[0]][2]]
            facts = {"patch": name, "typed": given[wrong[0]], "column": column}
            readable = not math.isnan(values[wrong[0]])
            problems.append(finding("reading-too-large" if readable else "reading-not-a-number", **facts))
    return rows, problems


def _decimal(cell: str) -> float:
    return number(cell.replace(",", "."))


def pick(numbers: list[Row], columns: list[ReadingColumn], wanted: str, good: list[int]) -> tuple[Row, ...]:
    """Of the good rows, the numbers of one set."""
    places = [i for i, (key, _, _) in enumerate(columns) if key == wanted]
    return tuple(tuple(numbers[row][i] for i in places) for row in good) if places else ()


def scaled(rows: tuple[Row, ...], place: int | None, full: float, path: str, kind: str) -> tuple[Row, ...]:
    """The rows on the scale where the perfect diffuser is `full`, told from the largest value in the file."""
    if not rows:
        return ()
    largest = max(max(row) if place is None else row[place] for row in rows)
    if LARGEST_FACTOR < largest < SMALLEST_PERCENT:
        raise CardError("scale-of-values-unclear", "read-the-paper-too", path=path, kind=kind, largest=largest)
    factor = full if largest <= LARGEST_FACTOR else full / 100
    return tuple(tuple(value * factor for value in row) for row in rows)
