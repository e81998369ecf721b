"""What is said of the library's database, its photos on the disk, its backups, and of looking after all of them."""

from __future__ import annotations

from .surface import Catalogue, On


def _unusable(why: str) -> On:
    """The page does not say where the library lies, nor repeats a server's words: they may tell it."""
    return On(
        terminal=f"The library {{place}} can't be used: {why} ({{said}}).",
        page=f"The library of this studio can't be used: {why}.",
    )


PROBLEMS: Catalogue = {
    # Where the library lies
    "address-unreadable": "'{kind}://...' is not the address of a library.",
    "no-library-yet": On("There is no library yet at {place}.", "This studio has no library yet."),
    "database-no-library": On("{place} is a database, but not a library.", "The database here is not a library."),
    "library-of-an-older-version": On(
        "The library {place} is empty, or was written by an older version of this program.",
        "The library of this studio is empty, or was written by an older version of this program.",
    ),
    "library-of-a-newer-version": "The library was written by a newer version of this program.",
    # What its database or its disk refuses
    "library-disk-full": _unusable("the disk is full"),
    "library-disk-fails": _unusable("the disk can't be read or written"),
    "library-damaged": _unusable("its file is damaged"),
    "library-read-only": _unusable("it can be read but not written"),
    "library-forbidden": _unusable("access is denied"),
    "library-not-allowed": _unusable("you are not allowed to do that there"),
    "library-not-opened": _unusable("its file can't be opened"),
    "library-is-folder": _unusable("it is a folder"),
    "file-no-library": _unusable("that file is not a library"),
    "library-strange-tables": _unusable("it holds the tables of another program"),
    "library-held": _unusable("another program is using it"),
    "server-locked-out": _unusable("the server does not let you in"),
    "server-without-database": _unusable("the server has no such database or user"),
    "server-busy": _unusable("the server is busy"),
    "server-lost": _unusable("the connection to the server was lost"),
    "server-silent": _unusable("the server does not answer"),
    "server-unknown": _unusable("there is no such server"),
    "server-unreached": _unusable("the server can't be reached"),
    "library-unusable": On("The library {place} can't be used: {said}.", "The library of this studio can't be used."),
    "library-row-unreadable": On(
        "The library {place} is damaged: something in it can't be read ({said}).",
        "The library of this studio is damaged: something in it can't be read.",
    ),
    "library-without-letter": On(
        "The library {place} can't store the character {letter}.",
        "The library of this studio can't store the character {letter}.",
    ),
    # The photos in it
    "kept-photo-missing": On(
        "The photo {digest:.12} is missing in {folder}.", "The photo {digest:.12} of the library is missing."
    ),
    "kept-photo-altered": On(
        "The photo {path} has changed since it was added.",
        "The photo {digest:.12} of the library has changed since it was added.",
    ),
    "photo-not-copied": On(
        "{path} could not be copied to {folder}: {cause:problem}.",
        "The photo could not be copied into the library: {cause:problem}.",
    ),
    "not-a-file": On("{path} is not a file.", "This is not a file."),
    "photo-changed-meanwhile": On(
        "{path} was changed while it was being measured.", "The photo was changed while it was being measured."
    ),
    # Backups
    "library-not-empty": On(
        "The library {place} already holds something; a backup is restored only into an empty one.",
        "The library of this studio already holds something; a backup is restored only into an empty one.",
    ),
    "backup-damaged": "{path} is not a backup, or is damaged ({said}).",
    "backup-newer": "{path} was written by a newer version of this program.",
    # Verifying
    "photos-of-no-record": "{count:counted photo} in the library without a record: harmless, left over when work was"
    " interrupted",
    "card-file-faulty": "card or pigment row {path}: something in this file is wrong",
    "table-missing": "database: the table {table} is missing",
    "database-damaged": "database: {said}",
    "row-refers-to-nothing": "database: a row of {table} refers to nothing",
    "proposal-unreadable": "Proposal {number} can't be read: {cause:problem}.",
    "photo-of-a-record": "photo {digest:.12} of record {records:listed}: {error:refusal}",
    "photo-of-a-removed-record": "photo {digest:.12} of a removed record: {error:refusal}",
    "not-measured-again": "record {record} could not be measured again: {error:refusal}",
    "measured-otherwise": "record {record}: measured again, it is {moved:.2f} CIEDE2000 away (its error was up to"
    " {radius:.2f})",
}
REMEDIES: Catalogue = {
    "write-an-address": "Write postgresql://user@host/database, or the name of a file.",
    "keep-a-strip-or-name-a-library": On(
        "Keep a first strip with 'swatchcam keep PHOTO --shade NAME', or name another library with --library.",
        "Keep a first strip on the page 'Photo'.",
    ),
    "use-another-file": On(
        "Name another file with --library, or move this one away.",
        "Start the page with another library, on the studio's computer.",
    ),
    "upgrade-the-library": On(
        "Bring it up to date once with 'swatchcam library upgrade'.",
        "Bring it up to date once, on the studio's computer.",
    ),
    "install-the-newer": On(
        "Install the newer version here too.", "Install the newer version on the studio's computer."
    ),
    "look-at-the-disk": On(
        "Check that the disk has room and that you may write to it, and try again.",
        "Check that the disk of the studio's computer has room and may be written to, and try again.",
    ),
    "restore-a-backup": On(
        "Bring back a backup: swatchcam library restore FILE --library NEW-FILE",
        "Bring back a backup, on the studio's computer.",
    ),
    "verify-or-restore": On(
        "Check the library with 'swatchcam library verify'. If more is damaged, bring back a backup with"
        " 'swatchcam library restore FILE'.",
        "Have the library checked on the studio's computer. If more is damaged, bring back a backup there.",
    ),
    "allow-writing": On(
        "Give yourself write access to its folder, and try again.",
        "Give write access to its folder, on the studio's computer, and try again.",
    ),
    "use-another-disk": On(
        "Use a library on another disk: name it with --library.", "Start the page with a library on another disk."
    ),
    "use-a-writable-server": On(
        "Give the address of the server that accepts writing.",
        "Start the page with the address of the server that accepts writing.",
    ),
    "give-access-to-its-folder": On(
        "Give yourself access to its folder, and try again.",
        "Give access to its folder, on the studio's computer, and try again.",
    ),
    "ask-for-the-right": "Ask whoever looks after the server for the permission.",
    "look-at-its-folder": On(
        "Check that its folder is there and that you may open it.",
        "Check on the studio's computer that its folder is there and may be opened.",
    ),
    "name-a-file": On(
        "Name a file, such as library.sqlite in that folder.",
        "Start the page with the name of a file, such as library.sqlite in that folder.",
    ),
    "use-its-own-database": "Give the library a database of its own, and use that one.",
    "close-the-other-program": "Close the other program, or wait a minute, and try again.",
    "check-name-and-password": "Check the name and password in the address.",
    "create-it-or-correct-address": "Create it there, or correct the address.",
    "wait-and-try-again": "Wait a minute, and try again.",
    "wait-until-it-runs": "Wait until it is running again, and try again.",
    "start-the-server": "Start it, or check the host and port in the address.",
    "check-the-host": "Check the host in the address, and the network.",
    "check-the-address": "Check the address, and ask whoever looks after the server.",
    "leave-the-letter-out": "Leave it out of names and notes, and try again.",
    "bring-the-photo-back": On(
        "Bring it back from a backup, or add the original again.",
        "Bring it back from a backup, on the studio's computer.",
    ),
    "choose-the-photo-itself": "Choose the photo itself.",
    "measure-it-again": "Measure it again.",
    "name-it-by-its-date": "Give the backup another name, such as today's date.",
    "save-it-elsewhere": "Save it in a folder that you may write to.",
    "restore-into-a-new-file": On(
        "Restore it into a new file: swatchcam library restore FILE --library NEW.sqlite",
        "Restore it into a new file, on the studio's computer.",
    ),
    "use-another-backup": "Use another backup.",
}
