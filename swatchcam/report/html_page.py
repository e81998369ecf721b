"""Dossiers -> one HTML page that needs nothing else: no script, no other file, no network. It prints on A4."""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

from ..colorimetry.cielab import Lab
from ..errors import UsageError
from ..library.labels import NOT_ABSOLUTE, lab_words, recipe_words
from ..library.records import Record, Shade
from ..messages.surface import TERMINAL
from ..text import let_down_words, tidy
from .cautions import care_heading, care_of_recipes, heat_in
from .library_text import shift_text
from .plots.colour_plots import OUT_OF_GAMUT, ab_plot, chip, lc_plot, screen_colour
from .plots.control_chart_plot import history_chart
from .shade_summary import Dossier, ShadeVerdict

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

JPEG = b"\xff\xd8\xff"
LARGE, SMALL = (132, 84), (54, 34)  # px, of chips
KEEP_TOGETHER = 8  # records; a batch of so few is not torn apart at the end of a sheet
NO_PHOTOS: Mapping[str, bytes] = {}


def shade_page(found: Dossier, made: str, photos: Mapping[str, bytes] = NO_PHOTOS) -> str:
    """The page of one shade.

    Parameters
    ----------
    made : ISO date of the page
    photos : digest -> a small JPEG; of records whose photo is not there none is shown

    Raises
    ------
    UsageError
        A photo is no JPEG.
    """
    return _rendered("shade.html.jinja", made, photos, found=found)


def library_page(found: Sequence[Dossier], title: str, made: str, photos: Mapping[str, bytes] = NO_PHOTOS) -> str:
    """The page of a whole library: an overview that leads to a section for each shade; parameters as `shade_page`."""
    return _rendered("library.html.jinja", made, photos, dossiers=found, title=title)


def _rendered(template: str, made: str, photos: Mapping[str, bytes], **values: Any) -> str:
    pictures = {digest: _data_uri(digest, data) for digest, data in photos.items()}
    return _templates().get_template(template).render(made=made, photos=pictures, **values)


def environment() -> Environment:
    """Templates of the house: everything is escaped, a value that is not there is a fault."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    templates = Environment(
        loader=PackageLoader("swatchcam.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_seen,
    )
    templates.filters["let_down"] = let_down_words
    templates.filters["unbroken"] = _unbroken
    return templates


def _unbroken(text: str) -> Markup:
    """The same with numbers and their units on one line."""
    from markupsafe import Markup, escape

    return Markup(re.sub(r"(\d) (g|%|drops?)(?!\w)", "\\1\N{NO-BREAK SPACE}\\2", str(escape(tidy(text)))))


@cache
def _templates() -> Environment:
    templates = environment()
    templates.globals |= {
        "ab_plot": lambda found: _drawn(ab_plot(found.ink_records, found.shade.target, found.tolerance)),
        "lc_plot": lambda found: _drawn(lc_plot(found.ink_records, found.shade.target, found.tolerance)),
        "history_chart": lambda history: _drawn(history_chart(history)),
        "target_chip": _target_chip,
        "record_chip": _record_chip,
        "in_gamut": lambda lab, light: screen_colour(lab, *light)[1],
        "light_of": lambda record: (record.colour.illuminant, record.colour.observer),
        "flagged": lambda found: [record for record in found.records if record.flags],
        "pictured": lambda found, photos: [(r, p) for r in found.records for p in r.photos if p.digest in photos],
        "care_of": _care_of,
        "KEEP_TOGETHER": KEEP_TOGETHER,
        "OUT_OF_GAMUT": OUT_OF_GAMUT,
        "NOT_ABSOLUTE": NOT_ABSOLUTE,
    }
    templates.filters |= {"terminal_flag": TERMINAL.flag, "finding": TERMINAL.finding, "shift": shift_text}
    templates.filters |= {"lab": lab_words, "recipe": recipe_words, "verdict": _verdict_words}
    templates.filters["care_heading"] = care_heading
    return templates


def _care_of(found: Dossier) -> list[str]:
    recipes = [chapter.batch.recipe for chapter in found.chapters]
    return care_of_recipes(recipes, heat_in(pair.after.state for pair in found.pairs))


def _seen(value: Any) -> Any:
    """What cannot be seen is no use on a page, and some of it turns the order of the letters around."""
    if not isinstance(value, str) or hasattr(value, "__html__"):
        return value
    return "".join(sign if sign.isprintable() or sign == "\n" else " " for sign in value)


def _drawn(svg: str) -> Markup:
    """A drawing, which has escaped its words itself."""
    from markupsafe import Markup

    return Markup(svg)


def _target_chip(shade: Shade, light: tuple[str, int], large: bool) -> Markup:
    target: Lab = shade.target or (0.0, 0.0, 0.0)
    return _drawn(chip(target, f"the target of {shade.name}", *light, LARGE if large else SMALL))


def _record_chip(record: Record, large: bool) -> Markup:
    colour = record.colour
    size = LARGE if large else SMALL
    return _drawn(chip(colour.lab, f"record {record.number}", colour.illuminant, colour.observer, size))


def _verdict_words(finding: ShadeVerdict) -> str:
    """CIEDE2000, its interval and what that means."""
    if finding.verdict is None:
        return finding.why_not
    difference = finding.verdict.difference
    return f"{difference.delta_e:.1f} ({difference.low:.1f} to {difference.high:.1f})"


def _data_uri(digest: str, data: bytes) -> str:
    if not data.startswith(JPEG):
        raise UsageError("small-photo-damaged", "make-small-photos-again", digest=digest[:12])
    return "data:image/jpeg;base64," + base64.b64encode(data).decode("ascii")
