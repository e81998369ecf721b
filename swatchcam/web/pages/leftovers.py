"""Page: which of the studio's shades its leftovers come nearest to."""

from __future__ import annotations

from functools import partial
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response

from ...library.proposals import USE_UP
from ...recipes.scale_resolution import shown
from ...report.mixing_sentences import OLD_POT
from ...report.shelf.sheet import headline
from ..inbox import TrayItem
from ..render import page
from .chips import filled, lab_of
from .mix_form import PATHS, title


def leftovers_page(request: Request, item: TrayItem) -> Response:
    """The shades that were found, what saves most first; each leads to the form for it, filled in."""
    shades = (item.answer or {})["leftovers"]["shades"]
    back = f"{PATHS[USE_UP]}?like_mix={item.id}"
    return page(
        request,
        "leftovers.html.jinja",
        item=item,
        title=title(item),
        shades=[_told(item, facts) for facts in shades],
        old_pot=OLD_POT,
        back=back,
    )


def _told(item: TrayItem, facts: Any) -> dict[str, Any]:
    choice = facts["choices"][0]
    fields = [(name, value) for name, value in item.asked["typed"] if name not in ("shade", "numbers")]
    return {
        "facts": facts,
        "choice": choice,
        "saved": choice["words"][0],
        "headline": headline(facts, choice, partial(shown, scale_g=item.asked["order"]["scale_g"])),
        "target": filled(lab_of(facts["target"]), facts["shade"]),
        "predicted": filled(lab_of(choice["predicted"]), "predicted"),
        "path": f"{PATHS[USE_UP]}?{urlencode([*fields, ('shade', facts['shade'])])}",
    }
