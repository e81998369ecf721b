"""What is said of card designs, of the sheets to print, and of the values of a printed card."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import listed, typed
from .surface import Catalogue, On

CORRECT_THERE = "Have the file corrected on the studio's computer."


def _meant(near: str | None) -> str:
    return f" (is '{near}' meant?)" if near else ""


def _header_line_missing(key: str, near: str | None, **_: Any) -> str:
    return f"the header line '# {key}: ...' is missing or empty{_meant(near)}"


def _not_on_card(patch: str, design: str, near: str | None, **_: Any) -> str:
    return f"'{patch}' is not a patch of design '{design}'{_meant(near)}"


def _overlapping(pairs: Sequence[Sequence[str]], **_: Any) -> str:
    return f"these overlap: {', '.join(f'{one} and {other}' for one, other in pairs)}"


def _sides(sides: Sequence[float], least: float, most: float, **_: Any) -> str:
    found = list(dict.fromkeys(f"{side:g} mm" for side in sides))
    what, they = ("a side", "it") if len(found) == 1 else ("sides", "they")
    return f"{what} of {listed(found)} can't be right: {they} must be between {least:g} and {most:g} mm"


def _several_cards(design: str, cards: Sequence[str], **_: Any) -> str:
    return f"You have values for {len(cards)} cards of design '{design}': {', '.join(cards)}."


def _which_card(cards: Sequence[str], **_: Any) -> str:
    name = typed(cards[0])
    return f"Say which card is in the photo, for example --card {name}. For all photos: swatchcam card use {name}"


def _which_card_on_page(cards: Sequence[str], **_: Any) -> str:
    return f"Choose the card in the photo, for example {cards[0]}."


def _own_values(values: str, digits: str, own: str | None, **_: Any) -> str:
    known = f"Leave out --card: then '{own}' is used, which has this print's values. " if own else "Leave out --card. "
    return f"{known}If '{values}' is right for this print, say so: swatchcam card use {typed(values)} --print {digits}"


def _no_values(number: str, digits: str, cards: Sequence[str], **_: Any) -> str:
    use = f"swatchcam card use {typed(cards[0])} --print {digits}"
    return f"print {number} has no values yet. If it is one of your cards ({listed(cards)}), say so: {use}"


def _known_cards(known: Sequence[str], **_: Any) -> str:
    if not known:
        return "Import a card's values first, with 'swatchcam card import'."
    names = ", ".join(known)
    return f"Check the spelling. These cards are known: {names}; and nominal, the colours as sent to the printer."


def _known_cards_on_page(known: Sequence[str], **_: Any) -> str:
    if not known:
        return "Have a card's values imported first, on the studio's computer."
    return f"Choose one of these cards: {', '.join(known)}."


def _colours_of_another(card: str, number: str | None, **_: Any) -> str:
    why = f"it is {'a second copy of that sheet' if number else 'another print'}, it has faded, or the photo was edited"
    if number:
        return f"The card in the photo has the number {number}, but not the colours of '{card}': {why}."
    return f"The card in the photo does not have the colours of '{card}': {why}."


def _this_very_print(number: str | None, **_: Any) -> str:
    return f"{_unedited(number)} give this very print's values with --card, or use --card nominal."


def _this_very_print_on_page(number: str | None, **_: Any) -> str:
    return f"{_unedited(number)} choose this very print's values, or 'colours as sent to the printer'."


def _unedited(number: str | None) -> str:
    once = "Print each sheet only once, so that no two cards have the same number. " if number else ""
    return f"{once}Take the photo again and don't edit it. If the card still doesn't fit,"


PROBLEMS: Catalogue = {
    # Designs, and how a file describes them.
    "designs-of-one-name": "Two card designs are called '{name}'.",
    "tag-number-taken": "The card designs {designs:listed} both use tag number {tag}.",
    "design-faulty": "The card design {path} can't be used:{problems:problems}",
    "names-unusable": "a values file can't hold these names: {names:comma}",
    "names-doubled": "these names are used twice: {names:comma}",
    "too-few-items": "there are too few {kind}: at least {least} are needed",
    "tags-not-in-family": "family {family} has no tags with these numbers: {tags:comma}",
    "sides-unusual": _sides,
    "number-boxes-miscounted": "it has {count} places for the tags of a print's number: it must have {wanted} or none",
    "tags-of-numbers": "tag numbers {first} to {last} are reserved for the numbers of prints, so its own tags can't be"
    " {tags:comma}",
    "number-outside-label": "these lie outside the right half of the box for writing: {names:comma}",
    "items-outside-card": "these lie outside the card: {names:comma}",
    "items-without-area": "these have no area: {names:comma}",
    "items-overlap": _overlapping,
    "entry-missing": "'{entry}' is missing.",
    "entry-not-a-number": "'{value}' is not a number.",
    "entry-not-whole": "'{value}' is not a whole number.",
    "entry-of-wrong-kind": "One of its values can't be right ({words}).",
    "nested-too-deep": "its brackets are nested too deeply",
    "format-unknown": "It is written in format {format}; this version reads format {known}.",
    "tag-family-unknown": "There is no tag family '{family}'; the known ones are: {known:comma}.",
    "tag-number-unknown": "Tag family {family} has no tag number {tag}.",
    "patch-role-unknown": "Patch {patch} has the role '{role}'; it must be one of: {known:comma}.",
    "patch-colour-impossible": "Patch {patch} has a colour code that is not between 0 and 255.",
    # Numbers of prints.
    "print-number-impossible": "'{number}' can't be the number of a card.",
    "print-number-not-kept": "The numbers of your cards can't be saved in {folder}: {cause:problem}.",
    # Sheets to print.
    "card-larger-than-paper": "Card {design} ({width:g} × {height:g} mm) does not fit on {paper} paper.",
    "ink-near-edge": "Card {design} has ink too close to its edge.",
    "items-too-close": "Card {design}: {other} is too close to {item}.",
    "resolution-out-of-range": "A picture at {dpi} dots per inch can't be drawn.",
    # Values: which ones.
    "light-unknown": "Colours can't be worked out for illuminant '{illuminant}' and observer '{observer}'.",
    "values-missing": "There are no card values called '{name}'.",
    "values-of-a-row": "'{name}' is a pigment row, not a card.",
    "values-of-other-design": "The card in the photo is of design '{design}', but the values '{values}' are for design"
    " '{values_design}'.",
    "values-of-another-print": _colours_of_another,
    "values-without-design": "{path} is among your card values, but does not say which card design it is for.",
    "several-cards": _several_cards,
    "values-of-other-print": "The card in the photo is print {number}, but the values '{values}' belong to print"
    " {numbers:listed}.",
    "card-or-row-unknown": "You have no card and no pigment row called '{name}'.",
    "card-stays": "'{name}' comes with the tool and can't be removed.",
    "card-in-use": "'{name}' is your usual card: its values are used for cards without a number.",
    "card-not-moved": "Nothing was removed, because {folder} can't be written to ({cause:problem}).",
    "card-not-in-folder": "'{name}' is not one of your own cards, so it can't be given the number of a print.",
    "values-of-no-print": "'{name}' can't be given the number of a print: nobody measured these colours on a print.",
    "print-claimed-twice": "More than one file says that it has the values of print {number}: {names:comma}.",
    # A known white, and a grey scale.
    "white-no-lighter": "What lies in the {window} window is hardly lighter than the card, so it can't be PTFE of"
    " 0.5 mm or more.",
    "white-has-a-colour": "What lies in the {window} window is not a neutral white.",
    "white-uneven": "The middle of the {window} window is not an even white (±{uneven:.1f} L*).",
    "one-white-photo": "You named {count} photos, but the card's white is learned from one.",
    "card-or-white": "A new print is learned either beside a measured card or from PTFE.",
    "white-and-grey": "The {window} window can't hold both PTFE and a pair of greys.",
    "grade-unknown": "There is no grade '{grade}'.",
    "pair-off-middle": "The dividing line of the pair in the {strip} window is not in the middle, or the pair is worn.",
    "pair-not-grey": "What lies in the {strip} window is not a pair of greys.",
    # Values from a printer's profile.
    "profile-not-of-printer": "{path} is not the profile of a printer: it is for a screen, a camera, a scanner or a"
    " colour space.",
    "profile-inks-unknown": "{path} is for a printer that uses '{inks}'; only profiles for RGB or CMYK can be used.",
    "profile-without-tables": "{path} doesn't hold the tables of a printer's colours.",
    "printer-profile-damaged": "{path} is a damaged profile: it can't be read.",
    "profile-too-large": "{path} is too large for the profile of a printer.",
    "codes-are-not-inks": "{path} is for CMYK, but the card's colours are red, green and blue: to be printed, they"
    " must have been converted.",
    "profile-not-imported": "The profile {path} was not imported:{problems:problems}",
    # Values: what is wrong in the file, a line each.
    "values-faulty": "The card values {path} can't be used:{problems:problems}",
    "header-line-missing": _header_line_missing,
    "header-line-doubled": "the header line '{key}' is there twice",
    "header-value-unknown": "{key} '{value}' is not one of {known:comma}",
    "date-unreadable": "date '{value}' is not a day written like 2026-01-31",
    "frame-unreadable": "the line 'frame' is damaged: remove the file, and the card's next photo writes it again",
    "print-numbers-unreadable": "print '{value}' is not a print number of 8 digits, or several with commas between",
    "uncertainty-impossible": "uncertainty '{value}' is not a CIEDE2000 between 0 and {most:g}",
    "columns-of-values-missing": "the first row of the table must begin with name,L,a,b",
    "column-not-a-wavelength": "column '{column}' is not a wavelength such as r400",
    "wavelengths-uneven": "the wavelengths of the spectral columns do not rise in even steps",
    "wavelengths-too-few": "the spectral columns must reach at least from 400 to 700 nm, in steps of 20 nm or less",
    "table-unreadable": "the table can't be read ({words})",
    "row-of-other-length": "the row of {name} has {entries} entries, but the table has {columns} columns",
    "patch-not-on-card": _not_on_card,
    "patch-doubled": "patch {patch} is there {times} times",
    "patch-missing": "patch {patch} is missing",
    "value-not-a-number": "{name} has a value that is not a number",
    "lightness-impossible": "{name} has L {lightness:g}, which must lie between 0 and 100",
    "too-vivid-for-print": "{name} has a {a:g} and b {b:g}, which no print reaches (limit {most:g})",
    "paper-too-dark": "'{name}' has L {lightness:g}, but white card stock has more than {least:g}",
    "reflectance-impossible": "{name} has reflectance {value:g}, which must lie between 0 and 1",
}
REMEDIES: Catalogue = {
    "correct-the-file": On(terminal="Correct the file, and try again.", page=CORRECT_THERE),
    "correct-these": On(terminal="Correct these in the file, and try again.", page=CORRECT_THERE),
    "rename-the-design": On(
        terminal="Rename the one in {path}, and try again.",
        page="Have the one in {path} renamed on the studio's computer.",
    ),
    "number-its-own-tags": On(
        terminal="Give the design in {path} tag numbers of its own.",
        page="Have the design in {path} given tag numbers of its own, on the studio's computer.",
    ),
    "number-tags-within": "Use tag numbers from 0 to {most} in the design.",
    "read-the-print-number": "Type the eight digits printed on the card, for example 0482 1093.",
    "leave-a-blank-rim": "Leave {rim:g} mm blank all round, or the width of one small square of the largest tag"
    " if that is more.",
    "keep-white-between": "Keep {room:g} mm of white between them in the design.",
    "choose-another-size": "Choose a smaller design or larger paper.",
    "choose-a-resolution": "Choose {least} to {most}.",
    "choose-a-known-card": On(terminal=_known_cards, page=_known_cards_on_page),
    "choose-the-values": On(
        terminal="Name the values of the card in the photo with --card, or leave out --card.",
        page="Choose the card in the photo, or leave that field empty.",
    ),
    "check-which-print": On(terminal=_this_very_print, page=_this_very_print_on_page),
    "tie-or-leave-out": On(
        terminal=_own_values,
        page="Let the number on the card decide, or say on the studio's computer that '{values}' is right for this"
        " print.",
    ),
    "say-whose-print": On(
        terminal="Say which of them is right: swatchcam card use NAME --print {digits}",
        page="Say on the studio's computer which of them is right.",
    ),
    "list-the-cards": On(
        terminal="See which there are: swatchcam card list", page="Choose a card or a row that is there."
    ),
    "use-another-card": "You don't need to remove it: say which card you use, and this one won't be used.",
    "use-another-first": On(
        terminal="First say what to use in its place, for example: swatchcam card use nominal",
        page="Choose another usual card first.",
    ),
    "copy-it-to-your-cards": On(
        terminal="Copy its file into {folder} under a name of your own, and try again.",
        page="Copy its file into the folder of cards on the studio's computer.",
    ),
    "leave-to-first-photo": "Leave it as it is: a print without values of its own goes by its own first photo.",
    "lay-thick-ptfe": "Lay in a piece of PTFE at least 0.5 mm thick and 15 mm each way, on white paper. If a black line"
    " shows through it, it is too thin. Thread seal tape (plumber's tape) is too thin in one layer or two: wind about 8"
    " layers round a piece of white card stock. Never heat PTFE: the fumes are poisonous.",
    "give-one-photo": "Name one photo.",
    "give-card-or-white": On(
        terminal="Name the measured card with --card; or give only --white, with the window that holds PTFE.",
        page="Choose the measured card, or only the window that holds PTFE.",
    ),
    "name-each-window-once": "Lay them in two windows, and name each window once.",
    "learn-its-white": On(
        terminal="First learn its white from PTFE: swatchcam card learn NAME PHOTO --white left",
        page="First learn its white from PTFE, on the studio's computer.",
    ),
    "choose-a-grade": "Choose one of: {grades:comma}.",
    "lay-the-pair-in-the-middle": "Lay one pair of the grey scale in the window and take the photo again. Its dividing"
    " line must stand upright in the middle of the window, to within 1 mm. Each half must be at least 10 mm wide and"
    " 13 mm high.",
    "say-which-card": On(terminal=_which_card, page=_which_card_on_page),
    "say-the-design": On(
        terminal="Add the line '# design: ...' to it, move it elsewhere, or name the values to use with --card.",
        page="Choose the card in the photo, or have the line '# design: ...' added to that file on the studio's"
        " computer.",
    ),
}
FLAGS: Catalogue = {
    "card-photographed": "this card was never measured: use it to compare strips, preferably in one photo, and don't"
    " rely on a colour's own numbers",
    "white-of-this-light": "the white is right for this light only, so learn it again under another lamp: paper with"
    " brightener looks bluer in light with more ultraviolet",
    "white-may-be-thin": "the card's white comes out very light (L* {lightness:.1f}): check the PTFE. If a black"
    " line shows through, it is too thin",
    "card-shadows": "your own '{name}' in {path} is used, not the one of the same name that comes with the tool",
    "print-number-not-seen": "the card's number can't be seen, so it is taken to be '{values}', your only card with"
    " values: if it isn't, say which card it is",
    "print-without-values": On(
        terminal=_no_values,
        page="print {number} has no values yet. If it is one of your cards, say so on the studio's computer",
    ),
}
REMEDIES |= {
    "ask-for-the-printers-profile": "Ask for the ICC profile of the printer and paper that the card was printed with.",
    "ask-for-another-profile": "Get the profile again, or ask for another one for the same printer and paper.",
    "say-how-it-was-printed": On(
        terminal="Choose --intent relative or --intent perceptual, whichever was used for printing.",
        page="Choose the rendering intent that was used for printing.",
    ),
}
PLACES: Catalogue = {"in-design": "Card design {design}"}
