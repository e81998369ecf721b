"""What is said of a strip's ink, of photos measured together, of the card's fit, and of a check."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import strip_words
from .surface import Catalogue, On


def _ink(strip: str, where: str) -> str:
    """Where the ink lies, as a person points at it."""
    if where == "loose":
        return strip_words(strip)
    return f"the {strip} window" if where in ("window", "stain") else f"the strip '{strip}'"


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _changes_gradually(strip: str, where: str, **_: Any) -> str:
    return f"The colour in {_ink(strip, where)} changes gradually from place to place."


def _part_bare(strip: str, where: str, **_: Any) -> str:
    return f"The middle of {_ink(strip, where)} is part ink, part bare cloth."


def _too_small(strip: str, where: str, area: float, **_: Any) -> str:
    return f"Too little ink can be measured in {_ink(strip, where)} ({area:.0f} mm²)."


def _overexposed(strip: str, where: str, share: float, **_: Any) -> str:
    return _first(f"{_ink(strip, where)} is overexposed ({share:.0%} of its pixels at full scale).")


def _shines(strip: str, where: str, too_light: float, **_: Any) -> str:
    why = f"its ink is wet, or a lamp is mirrored in it (about {too_light:.0f} L* too light)"
    return _first(f"{_ink(strip, where)} shines: {why}.")


def _too_uneven(strip: str, where: str, uneven: float, **_: Any) -> str:
    return _first(f"{_ink(strip, where)} is too uneven to have one colour (±{uneven:.1f} L* from place to place).")


def _cards_lie(photo: str, stacked: bool, **_: Any) -> str:
    return f"The cards in {photo} lie {'one above the other' if stacked else 'side by side'}."


def _which_side(stacked: bool, **_: Any) -> str:
    return f"Say where the measured one lies with --measured-side {'top or bottom' if stacked else 'left or right'}."


def _which_side_in_words(stacked: bool, **_: Any) -> str:
    return f"Say whether the measured one lies at the {'top or bottom' if stacked else 'left or right'}."


def _choose_a_strip(strips: Sequence[str], **_: Any) -> str:
    return f"Choose one of: {', '.join(strips)}."


def _choose_a_strip_on_page(strips: Sequence[str], **_: Any) -> str:
    return f"Choose one of: {', '.join(strip_words(name) for name in strips)}."


PROBLEMS: Catalogue = {
    # The ink.
    "ink-changes-gradually": _changes_gradually,
    "strip-part-bare": _part_bare,
    "strip-too-small": _too_small,
    "strip-overexposed": _overexposed,
    "strip-shines": _shines,
    "strip-too-uneven": _too_uneven,
    "strip-cut-off": "The photo does not show all of the strip '{strip}'.",
    "no-loose-strip": "No loose strip can be made out beside the card.",
    "strip-not-there": "{photo} has no strip called '{strip}'.",
    "stored-error-unreadable": "The library's note of a colour's error can't be read ({cause}).",
    # White cloth that was stained.
    "stain-off-middle": "The middle of the {strip} window is part stained, part clean.",
    "cloth-not-white": "The cloth that should be clean and white ({strip:strip}) is not white (L* {lightness:.0f}).",
    "several-stains": "You named several cloths, but staining is graded one cloth at a time.",
    "staining-with-others": On(
        terminal="--staining can't be used together with {options:listed}.",
        page="Staining is graded by itself: a stained cloth has no shade, target or pot.",
    ),
    # The card's fit.
    "too-few-patches": "Only {usable} of the card's {count} patches can be used.",
    "paper-not-white": "The card's values say that its paper is not white.",
    "card-unlike-photo": "The card's colours do not explain what the phone saw (off by {off:.1f} CIEDE2000 on"
    " average).",
    # Several photos.
    "same-photo-twice": "{photo} is the same photo as {other}.",
    "number-in-one-photo": "The card's number can be seen in only one of these two photos: {photo} and {other}.",
    "another-card": "{photo} shows another card than {other}.",
    "other-strips": "{photo} does not show the same strips as {other}.",
    "photos-contradict": "The photos {photos:comma} contradict each other.",
    "photos-of-unlike-strips": "The photos {photos:listed} show different colours in their {strip:strip}.",
    # A check.
    "target-and-photo": On(
        terminal="Both --target and --against were given.", page="Both numbers and another photo were given."
    ),
    "strip-against-itself": "A strip can't be compared with itself.",
    "no-second-strip": "{photo} has no second strip to compare with.",
    "tolerance-senseless": "A tolerance of {tolerance:g} makes no sense.",
    # A fresh card beside a measured one.
    "card-not-learned": "The card was not learned:{problems:problems}",
    "card-never-measured": "The card with the values '{values}' was never measured.",
    "not-two-cards": "{photo} shows {count:counted card}, not a measured one and a fresh one.",
    "both-cards-alike": "Both cards in {photo} are of design '{design}'.",
    "measured-card-of-other-design": "The measured card in {photo} is of design '{design}', but the values '{values}'"
    " are for design '{values_design}'.",
    "cards-lie-otherwise": _cards_lie,
    "cards-overlap": "The two cards overlap.",
    "fresh-card-cut-off": "The fresh card lies partly outside the picture.",
    "fresh-cards-differ": "{photo} and {other} don't show the same fresh print.",
    "patch-in-no-photo": "Patch {patch} of the fresh print can't be read in any of the photos: it is overexposed,"
    " covered or in glare.",
    "light-breaks-between-cards": "The light changes abruptly between the measured card and the fresh one (off by"
    " {off:.1%}).",
    "stocks-differ": "The white of the fresh card differs by {off:.0%} from that of the measured one: is it another"
    " stock, or is there a shadow between the cards?",
    "values-too-uncertain": "The values would be uncertain by {uncertainty:.1f} CIEDE2000; more than {most:g} is"
    " no use.",
    "learned-values-faulty": "What was learned can't be a card's values:{problems:problems}",
}
REMEDIES: Catalogue = {
    "show-the-number-in-both": On(
        terminal="Take them again with the card's number in sight, or name the card with --card.",
        page="Take them again with the card's number in sight, or choose the card.",
    ),
    "even-the-strip": "Take care that no lamp is mirrored in the ink and that the strip is dry and even, and take the"
    " photo again.",
    "fill-the-middle": "Move the strip so that one ink fills the middle, make sure no lamp is mirrored in it, and take"
    " the photo again.",
    "make-a-larger-strip": "Make the strip at least 15 mm each way, lay it flat in the middle, and take the photo"
    " again.",
    "expose-the-ink-lower": "Avoid the lamp's reflection in the ink, or lower the exposure by one stop, and take the"
    " photo again.",
    "let-it-dry": "Let the ink dry, turn the card or move the lamp until nothing shines in the ink, and take the photo"
    " again.",
    "make-an-even-strip": "Make a more even strip, and take care that no lamp is mirrored in it.",
    "move-the-stain": "Lay the cloth so that the stained patch fills the middle of the window, at least 15 mm across,"
    " and take the photo again.",
    "lay-clean-cloth-left": "Lay the clean white cloth in the left window and the stained one in the right, without"
    " any print in either, and take the photo again.",
    "show-both-cloths": "Lay clean white cloth in one window, the stained one in the other, and take another photo.",
    "grade-one-by-one": On(
        terminal="Name one stained cloth with --strip and one clean one with --against.",
        page="Choose one stained cloth.",
    ),
    "grade-staining-alone": On(
        terminal="Leave the others out: staining is graded against the clean cloth only.",
        page="Compare it with the clean cloth only.",
    ),
    "step-back": "Step back a little, and take the photo again.",
    "lay-loose-strips-flat": "Lay it flat within 6 cm of the card, on plain cloth of another colour, and take the photo"
    " again.",
    "choose-a-strip": On(terminal=_choose_a_strip, page=_choose_a_strip_on_page),
    "uncover-the-patches": "Uncover the card, avoid glare and overexposure, and take the photo again.",
    "check-the-paper": On(
        terminal="Check the row 'paper' of the card's values.",
        page="Have the row 'paper' of the card's values checked on the studio's computer.",
    ),
    "check-card-and-light": "Check that the card values belong to this very card, use daylight or a cool white lamp,"
    " turn off filters and scene optimising, and take the photo again.",
    "name-each-photo-once": On(terminal="Name each photo once.", page="Choose each photo once."),
    "show-the-same-scene": "Use photos of one and the same scene, or measure each photo on its own.",
    "take-them-again": "Take them again without moving card, strips or lamp in between.",
    "measure-them-one-by-one": "If they show different strips, measure them one by one. If they show the same ones,"
    " take both again, and move nothing in between.",
    "choose-two-strips": On("Name two different strips.", "Choose two different strips."),
    "give-a-target": On(
        terminal="Give a --target, or another photo with --against.",
        page="Type the numbers you want, or choose a shade.",
    ),
    "give-a-tolerance": "Give a number above 0, for example 2.",
    "correct-the-command": On(
        terminal="Nothing was written. Correct the command.", page="Nothing was written. Choose another name."
    ),
    "measure-one-card": "Have one card measured with a spectrophotometer, then learn others from it.",
    "say-where-it-lies": On(
        terminal="Say where in the picture the measured one lies, for example --measured-side left.",
        page="Say where in the picture the measured one lies.",
    ),
    "name-the-measured-card": On(
        terminal="Name the values of the measured card with --card, and its place with --measured-side.",
        page="Choose the values of the measured card, and say where it lies.",
    ),
    "say-which-side": On(terminal=_which_side, page=_which_side_in_words),
    "lay-them-apart": "Lay them side by side, a little apart, and take the photo again.",
    "show-the-same-cards": "Use only photos of the same two cards.",
    "light-both-cards-evenly": "Move yourself, the phone and the lamp so that no shadow or glare lies on either card,"
    " and take the photo again.",
    "use-the-same-stock": "Lay both cards in the same even light, and take the photo again. Learn only from a card on"
    " the same stock.",
    "add-photos-and-light": On(
        terminal="Use daylight or a cool white lamp, take more photos, or add one under another light with"
        " --other-light.",
        page="Use daylight or a cool white lamp, take more photos, or add one under another light.",
    ),
    "take-better-photos": "Nothing was written. Take better photos, and try again.",
}
