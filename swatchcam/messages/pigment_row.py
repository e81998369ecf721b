"""What is said of a pigment row: how it is laid, what its files say, and how its values are read or learned."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from .surface import Catalogue, On


def _known_rows(known: Sequence[str], **_: Any) -> str:
    if not known:
        return "Print a row first, with 'swatchcam card print ROW PIGMENT'."
    return f"Check the name. These rows are known: {', '.join(known)}."


def _known_rows_on_page(known: Sequence[str], **_: Any) -> str:
    if not known:
        return "Have a row printed first, on the studio's computer."
    return f"Choose one of these rows: {', '.join(known)}."


PROBLEMS: Catalogue = {
    # Its places and its sheet.
    "row-name-unusable": "'{name}' can't be the name of a row.",
    "too-many-strips": "{count:counted strip} are too many to fit below card {design} (at most {most}).",
    "pigment-name-unusable": "'{name}' can't be the name of a pigment.",
    "two-strips-of-one-name": "Two strips would be called '{name}'.",
    "row-without-pigments": "The row '{row}' has no pigments yet.",
    "row-on-card-paper": "There is no room for a pigment row on paper of the card's own size.",
    "file-of-no-row": "{path} is already there and does not describe a row.",
    "row-exists": "There is already a row called '{row}'.",
    # The file that describes it.
    "row-unknown": "There is no pigment row called '{row}'.",
    "row-not-described": 'It must say kind = "row" and format = {known}.',
    "row-called-otherwise": "It is called '{name}', but its file is called '{file}'.",
    "row-without-places": "It has no places.",
    "places-doubled": "It has these places twice: {names:comma}.",
    "places-nowhere": "It does not say where these places are: {names:comma}.",
    # Its values.
    "row-values-faulty": "The values of row '{row}' can't be used:{problems:problems}",
    "values-of-a-card": "these are values of a card: those of the row say '# design: {row}'",
    "strip-without-value": "strip {strip} has no value",
    "strip-missing": "strip {strip} is missing",
    "no-place-of-row": "'{name}' is not a place of this row",
    "card-of-that-name": "There is already a card called '{name}'.",
    "row-has-values": "The row '{row}' already has values.",
    # Learning them from photos.
    "row-not-learned": "The row '{row}' was not learned:{problems:problems}",
    "row-beside-unmeasured-card": "The card in {photo} was never measured, so nothing can be learned from its colours.",
    "row-beside-other-card": "The row '{row}' goes with card {card}, but {photo} shows card {shown}.",
    "row-places-bare": "{photo} shows no ink where the row should have {strips:comma}.",
}
REMEDIES: Catalogue = {
    "name-the-row-plainly": "Use letters, digits, spaces, points and hyphens, and not the name of a card design.",
    "name-its-pigments": On(
        terminal="Name its pigments after it: swatchcam card print {row} yellow red blue",
        page="Print it with its pigments, on the studio's computer.",
    ),
    "choose-row-paper": On(terminal="Choose --paper a4 or --paper letter.", page="Print it on A4 or letter paper."),
    "make-two-rows": "Make two rows, or use a larger card.",
    "use-a-short-word": "Use a short word, such as blue.",
    "name-pigments-otherwise": "Give the pigments other names.",
    "name-the-row-otherwise": "Give the row another name.",
    "name-it-otherwise-or-replace": On(
        terminal="Choose another name, or add --replace.", page="Choose another name on the studio's computer."
    ),
    "choose-a-known-row": On(terminal=_known_rows, page=_known_rows_on_page),
    "replace-the-values": On(
        terminal="Add --replace to take new ones; the old ones are kept.",
        page="Have them replaced on the studio's computer; the old ones are kept.",
    ),
    "have-the-card-read": On(
        terminal="Have the card read with a spectrophotometer, import the readings with 'swatchcam card import', and"
        " name it with --card.",
        page="Have the card read with a spectrophotometer, and its readings imported on the studio's computer.",
    ),
    "lay-it-beside-its-card": "Lay the row beside the card that it was made for.",
    "lay-the-row": On(
        terminal="Lay the row on its sheet below the card ('swatchcam card show {row}'), and take the photo again.",
        page="Lay the row on its sheet below the card, and take the photo again.",
    ),
}
PLACES: Catalogue = {"in-row": "Row {row}"}
