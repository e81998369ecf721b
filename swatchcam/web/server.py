"""`swatchcam serve`: where the page can be reached, what is refused before it opens, and the server until Ctrl-C."""

from __future__ import annotations

import asyncio
import errno
import re
import socket
import sqlite3
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from threading import Event, Thread

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from ..cards.values import load_values
from ..cards.values_folder import NOMINAL
from ..errors import UsageError
from ..files import disk_cause
from ..library.connection import find_place
from ..library.library import open_library
from ..measurement.pigment_row import load_row
from ..resources import data_folder
from .app import create_app
from .context import Studio
from .inbox import DAY, Tray
from .jobs.pool import Crew
from .pairing import Door, Phones, link
from .terminal import DAYS, Words, shows_blocks

HERE = "127.0.0.1"
ALL = "0.0.0.0"
NOWHERE = "192.0.2.1"  # RFC 5737: an address that nobody has
CALLERS = 200  # connections at once
SILENCE = 20  # s; so long a connection may be open without a request
PATIENCE = 3  # s; so long what is under way may go on after Ctrl-C
HEADER = 32 * 1024  # bytes, all headers of a request


@dataclass(frozen=True)
class Wishes:
    """What was asked for on the command line."""

    library: str | None = None
    card: str | None = None
    row: str | None = None
    lan: bool = False
    port: int = 8137
    address: str | None = None
    browser: bool = False


def serve(wishes: Wishes, say: Callable[[str], None], encoding: str | None = None) -> None:
    """Open the page, and keep it open until Ctrl-C; `encoding` is that of the terminal which `say` writes to.

    Raises
    ------
    UsageError
        The port is taken, the address is none, or the page is open already.
    LibraryError, CardError
        The library, the card or the row cannot be used.
    """
    name = _name(wishes)
    _check(wishes)
    folder = serving_folder(wishes.library)
    with _alone(folder), closing(_listening(wishes)) as line:
        host = f"{name}:{line.getsockname()[1]}"
        words = Words(say, host, wishes.lan, shows_blocks(encoding))
        studio = _studio(wishes, folder, name, words)
        closed = Event()
        Thread(target=_tidy, args=(studio.tray, closed), daemon=True).start()
        try:
            words.opened(studio.door.code, studio.tray.folder)
            if wishes.browser:
                _browse(link(f"{HERE}:{line.getsockname()[1]}", studio.door.code))
            _run(studio, line)
        except KeyboardInterrupt:
            pass  # the way to close it
        finally:
            closed.set()
            studio.crew.stop()  # after a second Ctrl-C the server does not
    say("The page is closed; what was kept is in the library.")


def serving_folder(library: str | None) -> Path:
    """Where photos wait and phones are listed: beside the library's file, else in the user's data folder.

    Raises
    ------
    UsageError
        It cannot be made.
    """
    place = find_place(library)
    if place.file:
        folder = place.file.with_name(f"{place.file.stem}.serve")
    else:  # what waits for one server's library must not be kept in another's
        digest = sha256(str(place).encode()).hexdigest()
        folder = data_folder() / "serve" / digest[:12]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o700)
    except OSError as error:
        cause = disk_cause(error)
        raise UsageError("page-folder-not-made", "give-folder-access", folder=folder, cause=cause) from error
    return folder


def network_address() -> str:
    """This computer's address in the studio's network.

    Raises
    ------
    UsageError
        It is in none.
    """
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
        line.connect((NOWHERE, 9))  # sends nothing: it only asks by which of its addresses this computer would send
        found: str = line.getsockname()[0]
        if not found.startswith(("127.", ALL)):
            return found
    with suppress(OSError):
        others = socket.gethostbyname_ex(socket.gethostname())[2]
        for other in others:
            if not other.startswith("127."):
                return other
    raise UsageError("no-network", "join-the-network")


def _name(wishes: Wishes) -> str:
    """The name or number by which the page is reached."""
    if wishes.address is None:
        return network_address() if wishes.lan else HERE
    if not wishes.lan:
        raise UsageError("address-without-network", "give-lan-or-no-address")
    if not re.fullmatch(r"[a-z0-9]([a-z0-9.-]{0,250}[a-z0-9])?", wishes.address.lower()):
        raise UsageError("address-unusable", "give-a-bare-address", address=wishes.address[:60])
    return wishes.address.lower()


def _check(wishes: Wishes) -> None:
    """Refuse now what could otherwise only fail at the first photo; a library that is not there yet may come."""
    if wishes.lan and wishes.address in ("localhost", "127.0.0.1", "::1"):
        raise UsageError("address-of-this-computer-only", "leave-out-address-or-lan", address=wishes.address)
    place = find_place(wishes.library)
    if place.file is None or place.file.exists():
        open_library(wishes.library)
    if wishes.card and wishes.card != NOMINAL:
        load_values(wishes.card)
    if wishes.row:
        load_row(wishes.row)


def _studio(wishes: Wishes, folder: Path, name: str, words: Words) -> Studio:
    tray = Tray(folder / "tray")
    tray.tidy(DAYS)
    return Studio(
        tray,
        Crew(tray, more={"mix": {"library": find_place(wishes.library).address}}),
        Door(on_new_code=words.new_code),
        Phones(folder / "phones.json", on_added=words.let_in),
        tuple(dict.fromkeys((name, HERE, "localhost"))),
        wishes.library,
        wishes.card,
        wishes.row,
    )


def _tidy(tray: Tray, closed: Event) -> None:
    """Throw away what is old on each day that the page stays open."""
    while not closed.wait(DAY):
        with suppress(UsageError):  # a disk that fails is told to whoever sends something
            tray.tidy(DAYS)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Two servers would both work on what waits here, and each would forget the other's phones.

    SQLite's lock is one that all systems have, and that goes when its process does, however that ends.
    """
    with closing(sqlite3.connect(folder / "open", timeout=0, isolation_level=None)) as lock:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode == sqlite3.SQLITE_BUSY:
                raise UsageError("page-open-already", "close-the-other-page") from error
        yield


def _listening(wishes: Wishes) -> socket.socket:
    try:
        return socket.create_server((ALL if wishes.lan else HERE, wishes.port))
    except OSError as error:
        taken = error.errno == errno.EADDRINUSE
        raise UsageError(
            "port-taken" if taken else "port-unusable", "choose-another-port", port=wishes.port, cause=disk_cause(error)
        ) from error


def _browse(address: str) -> None:
    """In a thread, for some browsers are done only when they are closed."""
    Thread(target=webbrowser.open, args=(address,), daemon=True).start()


class _Line(H11Protocol):
    """A connection that is cut when it brings no request: two hundred that say nothing would keep everybody out."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self.loop.call_later(SILENCE, self._cut_if_silent)

    def _cut_if_silent(self, answered: object = None) -> None:
        """Cut what brought none, or half a one since that which was `answered` by the last look."""
        if self.cycle is answered and self.timeout_keep_alive_task is None:  # it runs until something is said again
            self.transport.close()
        elif not self.transport.is_closing():
            self.loop.call_later(SILENCE, self._cut_if_silent, self.cycle.response_complete and self.cycle)


def _run(studio: Studio, line: socket.socket) -> None:
    config = uvicorn.Config(
        create_app(studio),
        http=_Line,
        ws="none",
        lifespan="on",
        log_config=None,
        log_level="critical",  # what fails in a page is logged by `request_checks`
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=CALLERS,
        timeout_keep_alive=SILENCE,
        timeout_graceful_shutdown=PATIENCE,
        h11_max_incomplete_event_size=HEADER,
    )
    try:
        uvicorn.Server(config).run(sockets=[line])
    except SystemExit as error:
        raise RuntimeError("the page could not be opened; the reason stands above") from error
