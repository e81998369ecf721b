"""What any part of the tool may say."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    "said-before": "{sentence}",
    # Why the system did not read or write a file, behind a colon
    "disk-full": "the disk is full",
    "too-large-for-disk": "the disk can't hold files that large",
    "disk-read-only": "the disk is write-protected",
    "access-denied": "access is denied",
    "not-there": "it is not there",
    "is-a-folder": "it is a folder",
    "name-too-long": "its name is too long",
    "was-damaged": "it is damaged",
    "not-text": "it is not text in UTF-8",
    "as-the-system-says": "{words}",
    # Files for a person
    "name-ends-otherwise": "The name '{path}' does not end in {ending}.",
    "no-such-folder": "There is no folder {folder}.",
    "folder-of-that-name": "There is a folder called {path}.",
    "file-exists": "The file {path} is already there.",
    "file-not-written": "The file {path} can't be written: {cause:problem}.",
    "file-not-read": "{path} can't be read: {cause:problem}.",
    # Files that the tool keeps
    "not-stored": "The computer could not store this: {cause:problem}.",
    "sent-not-read": "'{name}' of {of} can't be read: {cause:problem}.",
    "values-not-written": "The values could not be written to {folder}: {cause:problem}.",
    # Numbers of colour
    "white-point-unknown": "There is no white point for illuminant {illuminant} and observer {observer}.",
    "difference-without-grade": "A difference of {difference:g} has no grade.",
    "nothing-between": "There is nothing between {low:g} and {high:g}.",
    "target-reads-two-ways": "The target '{text}' can be read in two ways.",
    "target-not-three-numbers": "The colour '{text}' is not three numbers.",
    "target-not-a-colour": "The target '{text}' is not a colour that a surface can have.",
}
REMEDIES: Catalogue = {
    "said-before": "{advice}",
    "make-room": On(
        terminal="Make room on the disk, and try again. Nothing was left half written.",
        page="Make room on the disk of the studio's computer, and try again. Nothing was left half written.",
    ),
    "give-access": On(
        terminal="Give yourself write access to that folder, and try again.",
        page="Give write access to that folder on the studio's computer, and try again.",
    ),
    "check-the-file": On(
        terminal="Check its name, folder and permissions.",
        page="Check its name, folder and permissions on the studio's computer.",
    ),
    "send-all-again": "Send it all again from the start.",
    "use-a-smaller-photo": "Use a smaller photo, or a disk that can hold it.",
    "look-after-the-disk": "Check that the studio's computer has room on its disk and that the program may write to its"
    " folder, and try again.",
    "give-it-that-ending": "Give it a name that ends in {ending}.",
    "make-the-folder": On(
        terminal="Make it, or choose another with {option}.", page="Make it on the studio's computer."
    ),
    "choose-another-name": On(
        terminal="Choose another name with {option} {example}.", page="Choose another name on the studio's computer."
    ),
    "replace-or-rename": On(
        terminal="Use --replace to write over it, or choose another name with {option} {example}.",
        page="Choose another name on the studio's computer.",
    ),
    "choose-a-folder-to-write-to": On(
        terminal="Choose a folder that you may write to with {option} FOLDER/{name}.",
        page="Choose a folder that may be written to, on the studio's computer.",
    ),
    "choose-a-known-illuminant": "Choose illuminant A, C, D50 or D65, and observer 2 or 10 (degrees).",
    "give-a-difference": "Give a number that is not below 0.",
    "smaller-number-first": "Give the smaller number first.",
    "write-lab": "Write it as L,a,b with decimal points, for example 41.2,38.0,-12.5",
    "stay-within-lab": "L* lies between 0 and 100, a* and b* between -{most_ab:g} and {most_ab:g}.",
}
FLAGS: Catalogue = {"said-before": "{sentence}"}
CHANGES: Catalogue = {"said-before": "{sentence}"}
PLACES: Catalogue = {
    "in-photo": "{photo}",
    "in-option": "{option}",
    "in-field": "{field}",
}
