"""What only the page says: of its forms and their fields, of the tray, of requests that a browser sends."""

from __future__ import annotations

from typing import Any

from .recipes import SIGNS
from .surface import Catalogue

FIRST = "Go back to the first page"
AGAIN = "send the form again"


def _nearly_full(free: float, **_: Any) -> str:
    return f"The disk of the studio's computer is nearly full: {free / 1e6:.0f} MB is left."


def _bounds(least: float, most: float, unit: str = "", **_: Any) -> str:
    return f"Please type a number from {least:.10g} to {most:.10g} {SIGNS.get(unit, unit)}".strip() + "."


def _less(photos: int, of_one: float, of_all: float, **_: Any) -> str:
    return f"Send at most {photos} photos, none larger than {of_one / 1e6:.0f} MB, and {of_all / 1e6:.0f} MB in all."


PROBLEMS: Catalogue = {
    # What a field holds.
    "character-not-stored": "There is a character in it that can't be stored.",
    "field-emptied": "'{field}' can't be left empty.",
    "field-empty": "The field '{field}' is empty.",
    "file-in-field": "There is a file where text belongs.",
    "not-a-choice": "'{typed}' is not one of the choices.",
    "not-a-whole-number": "'{typed}' is not a whole number.",
    "out-of-bounds": "{typed} can't be right.",
    "text-too-long": "That is too long.",
    # What a form asks for.
    "nothing-changed": "Nothing was changed.",
    "nothing-filled-in": "Nothing was filled in.",
    "numbers-and-record": "Numbers and a record were both given.",
    "several-colours": "There is more than one colour: {colours:listed}.",
    # A photo, and what it is judged against.
    "after-heat-without-shade": "To compare a strip as it will be once heat-set, the tool needs a shade.",
    "answer-not-read": "The answer to this photo can no longer be read.",
    "no-photo-sent": "There is no photo in the form.",
    "no-reference": "There is nothing to compare this strip with.",
    "no-shade-chosen": "No shade was chosen.",
    "no-such-picture": "There is no such picture.",
    "photo-of-cloth": "This photo was measured as one of white cloth, so no ink was measured in it.",
    "photo-of-strips": "This photo was measured as one of strips of ink, not of white cloth.",
    "photo-without-colours": "No colour was measured in this photo.",
    "record-of-other-light": "Record {record} is for {illuminant}, {observer}°, where colours have different numbers.",
    "screen-colour-unreadable": "That is not a screen colour.",
    "too-many-photos": "More than {most} photos of the same strips add nothing.",
    "typed-not-a-record": "'{typed}' is not the number of a record.",
    # Shades, batches and records.
    "shade-merged-with-itself": "That is the same shade.",
    "strip-kept-before": "This strip is already kept, as record {record}. What you typed now was not kept.",
    "strip-kept-meanwhile": "This strip was kept in the meantime as record {record}, of {shade}, batch {batch}.",
    "washed-and-not": "You chose '{state}', but also typed that the strip was washed {washes:counted time}.",
    # The pot.
    "another-choice-kept": "Choice {choice} of this mix is already kept, as batch {batch} of {shade}.",
    "colour-not-chosen": "No colour was chosen.",
    "earlier-run-incomplete": "One number of the earlier run is missing.",
    "no-such-choice": "There is no such choice to keep.",
    "nothing-to-keep": "There is nothing to keep here.",
    "numbers-not-chosen": "You typed numbers, but chose something else for the pot to become.",
    "pigments-not-known-yet": "Nothing is kept yet, so nothing is known about your pigments.",
    "pot-gone": "That pot is no longer in the library.",
    "pot-not-chosen": "You haven't said which pot this strip is from.",
    "pot-of-another-shade": "The pot is of {shade}, but it is to become {wanted}.",
    "pot-strip-not-chosen": "You haven't said which strip is from the pot.",
    # What the studio has.
    "not-on-the-shelf": "That is not on the shelf, or not any more.",
    "clear-base-no-drops": "Clear base is weighed, not counted in drops.",
    "drops-without-scale": "How far a drop's weight can be trusted depends on the scale.",
    # The tray.
    "disk-nearly-full": _nearly_full,
    "form-without-key": "The form came without its key.",
    "not-here": "What you are looking for is not here, or no longer here.",
    "not-on-tray": "There is no such {kind} on the tray.",
    "note-name-unusable": "'{name}' can't be the name of a note.",
    # What a browser sends.
    "address-used-otherwise": "That address does not work this way.",
    "form-outdated": "This form does not belong to the page as it is now.",
    "no-such-page": "There is no such page.",
    "page-failed": "Something in the program failed. Nothing that was kept is lost.",
    "request-not-read": "What was sent can't be read.",
    "request-too-slow": "It took too long to arrive.",
    "too-much-at-once": "That is too much at once.",
    "too-much-being-sent": "Too much is being sent at the moment.",
}
REMEDIES: Catalogue = {
    "ask-for-a-mix-first": "Ask for a recipe or a correction first.",
    "ask-for-that-pot": "Ask what to add to that pot, or correct the record on its page.",
    "back-to-the-photo": "Go back to the photo.",
    "begin-at-the-first-page": "Go back, or start from the first page.",
    "choose-a-colour": "Choose a shade or a strip that was measured, or type the numbers.",
    "choose-a-measured-strip": "Choose one of those that were measured.",
    "choose-from-the-shades": "Choose one from the list of shades.",
    "choose-another-name-or-merge": "Go back, and choose another name. If they are the same colour, merge the two.",
    "measure-it-as-cloth": "If it shows white cloth, tick that, and measure it again.",
    "measure-it-as-strips": "If it shows strips of ink, untick the white cloth, and measure it again.",
    "choose-another-pot": "Choose another, or tick that nobody knows what is in it.",
    "choose-another-shade": "Go back, and choose another one.",
    "choose-from-the-first-page": f"{FIRST}, and choose from what is there.",
    "choose-what-is-there": "Choose from what is on the shelf.",
    "choose-from-the-tray": "Go back, and choose from what is there.",
    "choose-numbers-or-empty-them": "Choose 'numbers', or leave that field empty.",
    "choose-on-the-page": "Choose one of those on the page.",
    "choose-one-of": "Choose one of: {choices:comma}.",
    "choose-shade-or-numbers": "Choose a shade, or type the numbers.",
    "choose-shade-or-untick": "Choose a shade, or untick 'as it will be once heat-set'.",
    "choose-the-pot": "Choose it, or tick that nobody knows what is in it.",
    "choose-the-pots-shade": "Choose {shade}, or a strip or the numbers of {wanted} instead.",
    "choose-the-shade": "Choose the shade.",
    "choose-washed-or-empty-it": "Choose 'washed', or leave the number of washes empty.",
    "correct-the-day": "Correct the day.",
    "correct-the-record": "Correct it on the page of record {record}, or on the page of its batch.",
    "fill-in-the-change": "Go back, and fill in what you want to change. The rest may stay empty.",
    "fill-in-the-field": f"Fill it in, and {AGAIN}.",
    "fill-in-the-scale": "Fill in the step of your scale too.",
    "fill-in-the-share-of-ink": "Fill it in: how much of the motif is ink, such as 35.",
    "give-grams-and-pieces": "Fill in how many grams it used, and for how many pieces.",
    "go-where-the-network-is-stronger": "Go where the network is stronger, and send it again.",
    "keep-within-bounds": _bounds,
    "load-the-form-again": f"Go back, load the page again, and {AGAIN}.",
    "load-the-page-again": f"Load the page again, and {AGAIN}.",
    "look-at-the-computer": "The studio's computer shows what went wrong.",
    "look-up-the-number": "It is shown on the page of every record.",
    "open-the-address-shown": "Open the page only at the address that the studio's computer shows, and try again.",
    "pick-a-colour": "Go back, and pick one in the field.",
    "search-by-another-record": "Search by a record for D65 and 10°.",
    "send-fewer-photos": "Send fewer.",
    "send-less": _less,
    "shorten-it": "Use at most {longest} characters.",
    "take-a-first-photo": "Take a photo of the card with its strips, or choose one.",
    "take-another-photo": f"{FIRST}, and take another photo.",
    "take-one-more-photo": "Take one more photo of the same strips.",
    "teach-the-pigments": "Mix small cups of each pigment, make a strip of each, and keep it with what is in the cup.",
    "type-a-whole-number": "Please type a whole number from {least} to {most}.",
    "type-it-by-hand": "Type it again by hand.",
    "type-it-there": "Type it in that field.",
    "use-links-and-buttons": "Go back, and use the links and buttons there.",
    "wait-and-send-again": "Wait a minute, and send it again.",
    "weigh-clear-base": "Type the pigment that is in the bottle.",
    "weigh-that-choice": "Weigh that one, or ask again for another pot.",
    "write-over-what-is-wrong": "Go back, and type over what is wrong. Leave the rest as it is.",
    "write-what-is-right": "Type what is right. It was '{was}'.",
}
