"""What all pages share: where photos wait, who works on them, who may come in, and which library is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from starlette.requests import Request

from ..errors import UsageError
from ..library.connection import find_place
from .pairing import Door, Phones

if TYPE_CHECKING:
    from ..library.library import Library
    from .inbox import Tray, TrayItem
    from .jobs.pool import Crew


def _today() -> str:
    return date.today().isoformat()


@dataclass(frozen=True)
class Studio:
    """One studio behind one page."""

    tray: Tray
    crew: Crew
    door: Door
    phones: Phones
    hosts: tuple[str, ...]  # names by which the page may be reached, without port; the first is shown to phones
    library: str | None = None  # as for `open_library`
    card: str | None = None  # the usual card and row of a measurement, as for `measure`
    row: str | None = None
    today: Callable[[], str] = _today  # ISO date

    def opened(self, create: bool = False) -> Library:
        """The library; `create` makes it where there is none yet. Raises as `open_library`."""
        from ..library.library import open_library

        return open_library(self.library, create=create)

    def found(self) -> Library | None:
        """The library, or None where nothing was kept yet."""
        file = find_place(self.library).file
        return None if file is not None and not file.exists() else self.opened()

    def progress(self, item: TrayItem, doing: str) -> str:
        """How far something on the tray is; `doing` is said while it is at work."""
        if item.state != "waiting":
            return "Done."
        before = self.crew.place(item.id)
        return doing if before == 0 else f"Waiting for {before} before this one …"


def studio_of(request: Request) -> Studio:
    """The studio behind the page that is asked for."""
    studio: Studio = request.app.state.studio
    return studio


def item_of(request: Request, kind: str) -> TrayItem:
    """What of this kind lies on the tray under the number in the page's address.

    Raises
    ------
    UsageError
        There is none.
    """
    item = studio_of(request).tray.item(request.path_params["id"])
    if item.kind != kind:
        raise UsageError("not-on-tray", "choose-from-the-tray", kind=kind)
    return item
