"""What is said of letting phones in: the code, the tries at it, the list of phones."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    "code-wrong": "That is not the code that the studio's computer shows now.",
    "phone-not-let-in": "This phone has not been let in, or it was removed.",
    "phone-removed-already": "That phone is no longer on the list.",
    "phones-not-read": On(
        "The list of phones {file} can't be read: {cause:problem}.",
        "The list of phones can't be read: {cause:problem}.",
    ),
    "phones-not-written": "The list of phones can't be written: {cause:problem}.",
    "too-many-tries": "Too many codes were tried within a minute.",
}
REMEDIES: Catalogue = {
    "let-phones-in-again": On(
        "Move that file away, then let each phone in again with a code.",
        "Have that file moved away on the studio's computer, then let each phone in again with a code.",
    ),
    "let-the-list-be-written": "Make room on the studio's computer, and make sure its user may write to the program's"
    " folder.",
    "look-at-the-list": "Look at the list of phones as it is now.",
    "type-the-code": "Open the first page on this phone, and type the code.",
    "type-the-code-again": "Look at its screen, and type the {length} characters again. Each code lets in one phone,"
    " within {minutes} minutes.",
    "wait-then-type-the-code": "Wait a minute, then type the code that the studio's computer shows.",
}
