"""What is said when the page is started, and of the work that it hands on: measuring photos, working out mixes."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    # Starting the page.
    "address-of-this-computer-only": On(
        "The address {address} leads only to this computer itself.", "That address leads only to the computer itself."
    ),
    "address-unusable": "'{address}' can't be a computer's address.",
    "address-without-network": On(
        "--address makes sense only with --lan.", "An address was given, but the page is not open to the network."
    ),
    "no-network": "This computer does not seem to be on a network.",
    "page-folder-not-made": On("The folder {folder} can't be made: {cause:problem}.", "Its folder can't be made."),
    "page-open-already": "The page of this library is already open.",
    "port-taken": "Port {port} is taken by another program.",
    "port-unusable": "Port {port} can't be used: {cause:problem}.",
    # The work.
    "lights-unsaid": "You haven't said which light each photo was taken under.",
    "memory-too-small": "The picture needs more memory than the {megabytes} MB it is allowed.",
    "program-failed": "The program failed on this. That is a fault of the program, not yours.",
    "program-stopped": "The program has just been stopped.",
    "too-much-asked": "The program has too much to do at the moment.",
    "work-broken-off": "The program crashed while it was working on this.",
    "work-took-too-long": "This took longer than {seconds:g} seconds, and was stopped.",
    # Phones that are let in.
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
    "choose-another-port": On(
        "Choose another one, such as --port 8138. With --port 0 the program takes one that is free.",
        "Choose another port on the studio's computer.",
    ),
    "close-the-other-page": On(
        "Use that one, or close it with Ctrl-C where it was started, and try again.",
        "Use that one, or close it on the studio's computer.",
    ),
    "give-a-bare-address": On(
        "Give its bare name or number, such as --address 192.168.1.20.", "Give its bare name or number."
    ),
    "give-lan-or-no-address": On(
        "Give both --lan and --address, or neither.", "Start the page for the network, or without an address."
    ),
    "give-folder-access": On(
        "Give yourself write access there, or choose another library with --library.",
        "Give write access there on the studio's computer.",
    ),
    "join-the-network": On(
        "Join the studio's network, or give this computer's address on it with --address.",
        "Have the studio's computer join the network.",
    ),
    "leave-out-address-or-lan": On(
        "Leave out --address, or leave out --lan.", "Start the page without an address, or without the network."
    ),
    "say-each-light": "Say for each photo: this light, or another one.",
    "send-it-smaller": "Send a smaller copy, or send it as JPEG. If there are several photos, send fewer at once.",
    "send-less-or-smaller": "Try again. Smaller photos, or fewer at once, take less time.",
    "start-the-page-again": "Have the page started again on the studio's computer, and try again.",
    "try-another-photo": "Try again with another photo. The window in which the program runs shows what went wrong.",
    "try-again-or-smaller": "Try again. If it crashes again, send a smaller copy of the photo, or send it as JPEG. The"
    " window in which the program runs shows what went wrong.",
    "wait-and-load-again": "Wait a little, and load the page again.",
    # Phones that are let in.
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
