"""What is said where a database or a disk lets nobody use a library."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    "library-unusable": "The library {place} cannot be used: {cause:problem} ({said}).",
    "library-unusable-as-said": "The library {place} cannot be used: {said}.",
    # Why, behind a colon
    "read-only": "it may be read but not written",
    "held-by-another": "another program is using it",
    "disk-fails": "the disk cannot be read or written",
    "file-not-opened": "its file cannot be opened",
    "no-library-file": "that file is not a library",
    "server-shut": "the server does not let you in",
    "no-such-database": "the server has no such database or user",
    "server-busy": "the server is busy",
    "server-lost": "the connection to the server was lost",
    "server-silent": "the server does not answer",
    "no-such-server": "there is no such server",
    "not-reached": "it cannot be reached",
    "no-right-there": "you may not do that there",
    "other-tables": "there are tables of something else in it",
}
REMEDIES: Catalogue = {
    "verify-or-restore": On(
        terminal="Check it with 'swatchcam library verify', or restore a backup.",
        page="Check it on the studio's computer, or restore a backup there.",
    ),
    "restore-a-backup": On(
        terminal="Restore a backup: swatchcam library restore BACKUP --library NEW-FILE",
        page="Restore a backup on the studio's computer.",
    ),
    "get-write-access": "Give yourself write access to its folder, and try again.",
    "close-the-other": "Close the other program, or wait a minute, and try again.",
    "check-the-disk": "Check that there is room on the disk and that you have access to it, and try again.",
    "check-the-folder": "Check that the folder is there and that you have access to it.",
    "name-another": On(
        terminal="Name another file with --library, or move this one away.", page="Start the page with another library."
    ),
    "name-a-file": "Name a file, such as library.sqlite in that folder.",
    "use-another-disk": "Use a library on another disk.",
    "name-its-writer": "Name the server that may be written to.",
    "check-the-password": "Check the name and password in the address.",
    "create-it-there": "Create it there, or correct the address.",
    "wait-a-minute": "Wait a minute, and try again.",
    "wait-for-the-server": "Wait until the server is running again, and try again.",
    "start-the-server": "Start the server, or check host and port in the address.",
    "check-the-host": "Check the host in the address, and the network.",
    "check-the-address": "Check the address, and ask whoever looks after the server.",
    "ask-for-the-right": "Ask whoever looks after the server for the right to do it.",
    "use-its-own": "Give the library a database of its own, and name that one.",
}
