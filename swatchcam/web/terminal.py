"""What the terminal says while the page is open, and the way in as a square for a phone's camera."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from queue import SimpleQueue
from threading import Thread

import segno

from .pairing import LASTS, Phone, link

DAYS = 60  # so long what was sent waits to be kept
BLOCKS = "█▀▄"
PAINT, BARE = "\x1b[97;40m{}\x1b[0m", "\x1b[37;47m{}\x1b[0m"  # white on black; white on white


class Words:
    """What the terminal says while the page is open; a terminal that is held, or closed, keeps no phone waiting."""

    def __init__(self, say: Callable[[str], None], host: str, lan: bool, blocks: bool) -> None:
        self._say, self._host, self._lan, self._blocks = say, host, lan, blocks
        self._lines: SimpleQueue[str] = SimpleQueue()
        Thread(target=self._speak, daemon=True).start()

    def opened(self, code: str, tray: Path) -> None:
        """The page was opened."""
        alone = "" if self._lan else " For a phone, close it and start it with --lan."
        where = "in the studio's network" if self._lan else "on this computer alone"
        self._say(f"The page is open {where}: http://{self._host}/{alone}\n")
        self._say(self._way_in(code))
        self._say(
            f"The code lets in one phone or computer, within {LASTS // 60} minutes.\n"
            f"Later, open http://{self._host}/pair on the next one, and a new code is shown here.\n"
        )
        if self._lan:
            self._say("What is sent is not encrypted: use only the studio's own network, not one that guests share.\n")
        self._say(f"Photos that are sent wait in {tray}; after {DAYS} days they are removed from there.")
        self._say("Ctrl-C closes the page.")

    def new_code(self, code: str) -> None:
        """Another code counts from now on."""
        self._lines.put("\nThis counts for the next one:\n\n" + self._way_in(code))

    def let_in(self, phone: Phone) -> None:
        """A phone was let in."""
        self._lines.put(f"\n'{phone.name}' was let in.")

    def _way_in(self, code: str) -> str:
        address = link(self._host, code)
        before = "Point a phone's camera at the square, or open this link" if self._lan else "Open this link"
        drawn = f"\n{square(address, self._blocks)}\n" if self._lan else ""
        return f"{before}: {address}\n{drawn}"

    def _speak(self) -> None:
        while True:
            line = self._lines.get()
            with suppress(OSError):
                try:
                    self._say(line)
                except UnicodeError:  # a phone's name may hold signs that the terminal has not
                    self._say(line.encode("ascii", "replace").decode())


def square(address: str, blocks: bool) -> str:
    """The address as a QR code made of block signs, or of # and blanks; painted, so that it is dark on light."""
    made = segno.make(address, micro=False, error="l", boost_error=False)
    rows = [bytes(row) for row in made.matrix_iter(border=4 if blocks else 2)]  # the wide one must fit into 80 columns
    if not blocks:
        return "\n".join("".join("  " if dark else BARE.format("##") for dark in row) for row in rows)
    rows += [bytes(len(rows))] * (len(rows) % 2)
    pairs = (zip(upper, lower, strict=True) for upper, lower in zip(rows[::2], rows[1::2], strict=True))
    return "\n".join(PAINT.format("".join(" ▀▄█"[(not up) + 2 * (not low)] for up, low in pair)) for pair in pairs)


def shows_blocks(encoding: str | None) -> bool:
    """Whether a terminal of this encoding can show the square made of block signs."""
    try:
        BLOCKS.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
