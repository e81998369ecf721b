"""What is said of shades, batches, records, proposals and pigments, and of photos that become records."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from .surface import Catalogue, On, Words


def _meant_or(otherwise: str) -> Words:
    """The names that are spelt alike, else where to look."""

    def words(near: Sequence[str], **facts: Any) -> str:
        return f"Did you mean {' or '.join(near)}?" if near else otherwise.format(**facts)

    return words


def _batch_meant(near: Sequence[str], there: Sequence[str], **_: Any) -> str:
    if len(near) == 1 or 0 < len(near) < len(there):  # where every batch is like it, all are told in their order
        return f"Did you mean {' or '.join(near)}?"
    return f"It has: {', '.join(there)}." if there else "It has no batch yet."


def whose(shade: str, batch: str | None) -> str:
    """A shade, or the batch of it that was named."""
    return f"Batch '{batch}' of shade '{shade}'" if batch else f"Shade '{shade}'"


def _no_other_record(shade: str, batch: str | None, **_: Any) -> str:
    return f"{whose(shade, batch)} has no other record to compare with."


def _no_record_in_state(shade: str, batch: str | None, state: str, **_: Any) -> str:
    return f"{whose(shade, batch)} has no other record that is {state}."


def _say_state(there: Sequence[str], target: bool, **_: Any) -> str:
    ways = ", or compare it with --against-target" if target else ""
    return f"It has: {', '.join(there)}. Give the strip's state with --state{ways}."


def _choose_state(there: Sequence[str], target: bool, **_: Any) -> str:
    ways = ", or compare it with the target" if target else ""
    return f"It has: {', '.join(there)}. Say what was done to the strip{ways}, or keep it as the first in its state."


def _other_light(record: int | None, shade: str, wanted: Sequence[Any], measured: Sequence[Any], **_: Any) -> str:
    what = f"The target of shade '{shade}'" if record is None else f"Record {record}"
    return f"{what} is for {wanted[0]}/{wanted[1]}°, this measurement for {measured[0]}/{measured[1]}°."


def _free_name(free: str | None, **_: Any) -> str:
    return f"Choose another name, such as '{free}'." if free else "Choose another name."


def _column_unknown(column: str, near: Sequence[str], columns: Sequence[str], **_: Any) -> str:
    hint = f" Did you mean '{near[0]}'?" if near else f" The columns are {', '.join(columns)}."
    return f"there is no column '{column}'.{hint}"


def _listed_twice(line: int, strip: str, photo: str, first: int, **_: Any) -> str:
    what = f"strip '{strip}' of {photo}" if strip else photo
    return f"line {line}: {what} is already in line {first}"


def _photo_meant(near: Sequence[str], **_: Any) -> str:
    return f"Did you mean '{near[0]}'?" if near else "Write its name as it is in the folder of photos."


def _beyond(point: int, above: bool, **_: Any) -> str:
    return f"Point {point} lies {'above the upper' if above else 'below the lower'} limit."


def _one_side(first: int, last: int, above: bool, **_: Any) -> str:
    return f"Points {first} to {last} all lie {'above' if above else 'below'} the centre line."


def _in_a_row(first: int, last: int, rising: bool, **_: Any) -> str:
    return f"Points {first} to {last} {'rise' if rising else 'fall'} one after the other."


PROBLEMS: Catalogue = {
    # What was typed
    "name-empty": "The {what} has no name.",
    "name-unusable": "{name!a} can't be the name of the {what}.",
    "day-to-come": "{typed} is still to come.",
    "day-unreadable": "'{typed}' is not a date.",
    "day-in-future": "{day} is in the future.",
    "recipe-file-missing": On("There is no recipe file '{file}'.", "'{file}' is not a recipe."),
    "letter-unwritable": "The {what} contains a character that can't be stored.",
    "nothing-to-change": "You have not said what to change.",
    # What there is
    "shade-unknown": "There is no shade called '{name}'.",
    "batch-unknown": "Shade '{shade}' has no batch called '{name}'.",
    "record-unknown": "There is no record {number}.",
    "pigment-unknown": "There is no pigment called '{name}'.",
    "proposal-unknown": "There is no proposal {number}.",
    "shade-name-taken": "There is already a shade called '{name}'.",
    "batch-name-taken": "Shade '{shade}' already has a batch called '{batch}'.",
    "pigment-there-already": "There is already a pigment called '{pigment}'.",
    "lot-name-taken": "Pigment '{pigment}' already has a lot called '{lot}'.",
    "lot-without-day": "The first day of lot '{lot}' is missing.",
    "clear-base-no-pigment": "Clear base is not a pigment.",
    "same-shade-twice": "'{shade}' and '{into}' are the same shade.",
    "strip-kept-already": "This strip of this photo is already kept, as record {record} of '{shade}'.",
    # Undoing
    "change-unknown": "There is no change {number}.",
    "change-undone-already": "Change {number} is already undone.",
    "change-built-upon": "Change {number} ({what:change}) can't be undone yet: a later change builds on it.",
    "kept-again-since": "What this would bring back has been kept again since, as {kind} {number}.",
    "name-used-since": "The name of what this would bring back is in use again: {kind} '{name}'.",
    # Comparing
    "colour-and-record-given": "You gave both a colour and a record.",
    "target-not-given": "No target was given.",
    "record-for-no-target": "Record {record} is for {illuminant}/{observer}°, but targets are for D65/10°.",
    "record-of-unmeasured-card": "The card of record {record} was never measured, so its numbers can't be a target.",
    "record-is-this-strip": "Record {record} is this very strip, so there is nothing to compare.",
    "record-and-more-named": "You named a record, and also a shade, a batch or a target.",
    "nothing-to-compare-with": "You haven't said what to compare with.",
    "batch-and-target-named": "You named both a batch and the target.",
    "strip-not-air-dried": "Only the colour of an air-dried strip can be predicted after heat setting; this one is"
    " {state}.",
    "no-other-record": _no_other_record,
    "no-record-in-that-state": _no_record_in_state,
    "shade-without-target": "Shade '{shade}' has no target.",
    "shade-without-record": "Shade '{shade}' has no record yet, so its ink and cloth are not known.",
    "other-viewing-light": _other_light,
    "too-few-heat-pairs": "{pairs:counted strip} measured both dry and heat-set: too few to predict what heat"
    " setting does.",
    "pairs-on-several-cloths": "These strips are on several cloths ({cloths:comma}).",
    # Nearest colours
    "numbers-unlike-colours": "There are {colours} colours and {numbers} numbers.",
    "none-asked-for": "You asked for {count} records.",
    "radius-below-zero": "A radius of {radius} is not possible.",
    "numbers-no-colours": "These numbers are not colours.",
    # Photos by their names
    "detail-twice": "'{part}' is a second {what}.",
    "folder-is-a-file": "{path} is a file, not a folder.",
    "folder-not-read": "The folder {folder} can't be read: {cause:problem}.",
    "no-photo-to-keep": "There is no photo to keep.",
    "photo-is-a-copy": "It is a copy of {first}, whose strip is already kept.",
    "measuring-ended": "Measuring was stopped from outside; perhaps the computer ran out of memory.",
    # Photos by a list
    "list-unusable": "The list {path} can't be used:{problems:problems}",
    "list-without-photos": "there is no photo in it",
    "table-unreadable-from": "line {line}: from here the table can't be read ({said})",
    "column-unknown": _column_unknown,
    "column-repeated": "column '{column}' is there {count} times",
    "column-missing": "column '{column}' is missing",
    "line-unlike-columns": "line {line}: it has {entries} entries, but the list has {columns} columns",
    "cell-unusable": "line {line}, {column}: {error:refusal}",
    "no-photo-named": "No photo is named.",
    "photo-not-in-folder": "There is no photo '{photo}'.",
    "strip-listed-twice": _listed_twice,
    "listed-strip-unnamed": "line {line}: {photo} is in several lines, so each must name its strip",
    "photo-twice-in-line": "line {line}: it names a photo twice",
    "photo-of-another-scene": "line {line}: {photo} already belongs to the scene of line {first}",
    "other-further-photos": "line {line}: the further photos it names for {photo} differ from those in line {first}",
    "batch-told-differently": "line {line}: {what} of batch {batch} is not the same as in line {first}",
    # Control charts
    "values-make-no-chart": "These values don't make a control chart.",
    "points-too-few": "{count:counted point}: too few for limits; at least {least} are needed.",
    "limits-provisional": "The limits are provisional: they rest on {count} points, and {settled} would settle them.",
    "limits-settled": "The limits rest on {count} points.",
    "point-beyond-limit": _beyond,
    "points-on-one-side": _one_side,
    "points-in-a-row": _in_a_row,
    "point-far-from-last": "Point {point} is further from the one before than measurement error explains.",
}
REMEDIES: Catalogue = {
    "give-it-a-name": "Give it one.",
    "write-the-day": "Write the day it was {what} like 2026-01-31.",
    "check-the-recipe-file": On("Check its name and folder.", "Type what went in."),
    "type-it-again": "Type it again.",
    "say-what-to-change": On(
        "Add --help to the command to see what you can change.", "Fill in what you want to change."
    ),
    "choose-a-shade": On(
        _meant_or("'swatchcam shade list' shows all shades."), _meant_or("The page 'Shades' shows all of them.")
    ),
    "choose-a-batch": _batch_meant,
    "choose-a-pigment": On(
        _meant_or("'swatchcam pigment list' shows all pigments."), _meant_or("The page 'Pot' shows all of them.")
    ),
    "look-at-the-shade": On(
        "'swatchcam shade show NAME' lists the records of a shade, and 'swatchcam undo' lists what was removed.",
        "A shade's page lists its records, and the page 'Changes' lists what was removed.",
    ),
    "look-at-the-proposals": On("'swatchcam mix predictions' lists them.", "The page 'Pot' lists them."),
    "merge-or-choose-another-name": On(
        'To merge the two: swatchcam shade set "{shade}" --merge-into "{name}"',
        "Choose another name, or merge the two shades.",
    ),
    "choose-a-free-name": _free_name,
    "give-its-first-day": On(
        "Give it with --since, for example --since 2026-01-31.", "Type the day, such as 2026-01-31."
    ),
    "choose-two-shades": "Choose two different shades.",
    "choose-another-strip": On(
        "Choose another strip with --strip. If its details are wrong, correct them: swatchcam record {record} --help",
        "Choose another strip. If its details are wrong, correct them on its page.",
    ),
    "look-at-the-changes": On("'swatchcam undo' lists them.", "The page 'Changes' lists them."),
    "look-at-that-change": On(
        "Change {by} undid it; 'swatchcam undo' lists both.", "Change {by} undid it: see the page 'Changes'."
    ),
    "undo-later-changes-first": On(
        "Undo the later changes first; 'swatchcam undo' lists them.",
        "Undo the later changes first; the page 'Changes' lists them.",
    ),
    "remove-that-first": "Remove {kind} {number} first, and try again.",
    "rename-or-remove-that": "Rename that {kind} or remove it, and try again.",
    "give-only-one": On("Give only one of them.", "Fill in only one."),
    "give-target-or-tolerance": On(
        "Give --target L,a,b, --from-record N or --tolerance T.", "Type L*, a*, b*, or a tolerance."
    ),
    "keep-for-the-usual-light": On(
        "Keep a strip without --illuminant and --observer, and name its record.",
        "Keep a strip from the page 'Photo', and name its record.",
    ),
    "compare-with-the-record": On(
        "Compare with the record instead: swatchcam check PHOTO --record {record}",
        "Compare a photo with the record instead, on the page 'Photo'.",
    ),
    "choose-another-record": On(
        "Choose another one: 'swatchcam shade show \"{shade}\"' lists them.", "Choose another record."
    ),
    "choose-shade-or-record": On("Name a --shade or a --record.", "Choose a shade or a record."),
    "leave-out-batch-or-target": On("Leave out --batch or --against-target.", "Choose one of the two."),
    "name-the-folder": On(
        "Name the folder that the photos are in; a list of them goes with --list.",
        "Name the folder that the photos are in.",
    ),
    "leave-out-after-heat": On(
        "Leave out --after-heat or --state.", "Untick 'as it will be once heat-set', or correct the state."
    ),
    "keep-a-strip-of-it": On(
        'Keep one first: swatchcam keep PHOTO --shade "{shade}"', "Keep one first, on the page 'Photo'."
    ),
    "give-the-state": On(_say_state, _choose_state),
    "give-it-a-target": On(
        'Give it one: swatchcam shade set "{shade}" --target 41.2,38.0,-12.5', "Give it one on the shade's page."
    ),
    "measure-for-that-light": On(
        "Measure with --illuminant {wanted[0]} --observer {wanted[1]}.",
        "Compare it on the studio's computer, for {wanted[0]} and {wanted[1]}°.",
    ),
    "heat-set-more": "Measure at least {least} strips before and after heat setting; {enough} or more are better.",
    "predict-for-one-cloth": "Predict from strips on one cloth.",
    "give-a-number-for-each": "Give one number for each colour.",
    "ask-for-one-or-more": "Ask for one or more.",
    "give-colours": "Give L*, a* and b* of each, none beyond {farthest:g}.",
    "name-it-like-this": "Name it like 'river blue, 3, heat-set.jpg' or 'brick, 2025-04, mark B, left, washed 3.jpg'.",
    "choose-a-folder-of-photos": "Choose a folder with photos (JPEG, HEIC, DNG, PNG or TIFF).",
    "remove-one-or-name-the-strip": "Remove one of them, or say in its name or in the list which strip of the photo is"
    " meant.",
    "fill-again": On(
        "Type the same command again: what is kept is not measured again. With --processes 1 it needs less memory.",
        "Start it again on the studio's computer: what is kept is not measured again.",
    ),
    "correct-these-lines": "Correct these lines, and try again.",
    "save-as-utf-8": "Save the table as 'CSV UTF-8'.",
    "name-a-photo": "Name one.",
    "name-it-as-there": _photo_meant,
    "give-values-in-order": "Give one number or more, in the order of measurement.",
}
PLACES: Catalogue = {
    "in-the-name": "In the name of '{name}'",
}
