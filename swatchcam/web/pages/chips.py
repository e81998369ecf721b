"""Colours as the pages show them: chips that fill whatever room they are given, and lie edge to edge."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from markupsafe import Markup

from ...colorimetry.cielab import Lab
from ...library.heat_shift import BeforeAfter
from ...library.records import USUAL_LIGHT, Record, ViewingLight, light_of
from ...report.json_types.library import ShadeJson
from ...report.library_records import pair_dict
from ...report.plots.colour_plots import chip
from ...report.plots.svg import box, drawing, line_style, path, words

TILE, WIDE, HALF = (132, 84), (640, 240), (400, 260)  # px: on the wall, alone, one of two
WHITE = "#ffffff"


def filled(lab: Lab, name: str, light: ViewingLight = USUAL_LIGHT, size: tuple[int, int] = WIDE) -> Markup:
    """A chip that its place may stretch."""
    # Kept in shape it would leave gaps of grey, and two colours are not compared across a gap.
    return Markup(chip(lab, name, *light, size).replace("<svg ", '<svg preserveAspectRatio="none" ', 1))


def record_chip(record: Record, size: tuple[int, int] = WIDE) -> Markup:
    """The colour of a record."""
    return filled(record.colour.lab, f"record {record.number}", light_of(record), size)


def shade_tile(facts: ShadeJson) -> Markup:
    """A shade of `library_records.shades_dict`: its last colour, else its target, else a tile marked as empty."""
    last, target = facts["last"], facts["target"]
    if last:
        return filled(lab_of(last), facts["shade"], (last["illuminant"], last["observer_deg"]), TILE)
    if target:
        return filled(lab_of(target), f"the target of {facts['shade']}", USUAL_LIGHT, TILE)
    rim = path(box(1, 1, TILE[0] - 2, TILE[1] - 2), closed=True, style=line_style(WHITE, 1.5, "6 4"))
    told = words((TILE[0] / 2, TILE[1] / 2), "no colour yet", anchor="middle", colour=WHITE)
    return Markup(drawing(*TILE, f"No colour of {facts['shade']} yet", "An empty tile", [rim, told]))


def lab_of(facts: Mapping[str, Any]) -> Lab:
    """The L, a and b of a dict."""
    return facts["L"], facts["a"], facts["b"]


def mix_chips(facts: Mapping[str, Any], number: int) -> list[tuple[str, Markup]]:
    """The target between the pot as it is and the pot as predicted, as far as they are there."""
    seen = []
    if facts["pot"]:  # of a pot for a later state it is not what its dry strip looks like
        seen = [("pot now, finished" if facts["pot"].get("when_dry") else "pot now", facts["pot"]["predicted"])]
    seen += [("target", facts["target"])]
    choices = [] if facts["leave_it"] else facts["choices"][number - 1 : number]
    seen += [("predicted", choice["predicted"]) for choice in choices]
    return [(name, filled(lab_of(colour), name)) for name, colour in seen]


def dry_and_finished(facts: Mapping[str, Any], number: int) -> dict[str, Any] | None:
    """Of the choice to weigh its finished colour and that of its dry strip; None where dry is what is aimed at."""
    for choice in [] if facts["leave_it"] else facts["choices"][number - 1 : number]:
        if dry := choice.get("when_dry"):  # an earlier version did not tell it
            finished = filled(lab_of(choice["predicted"]), "the finished colour")
            return {"finished": finished, "chip": filled(lab_of(dry), "when dry"), "facts": dry}
    return None


def heat_pairs(pairs: Iterable[BeforeAfter]) -> list[dict[str, Any]]:
    """What heat setting or washing did to strips: `report.library_records.pair_dict`, each with its two chips."""
    return [pair_dict(found) | {"chips": _halves(found)} for found in pairs]


def _halves(found: BeforeAfter) -> tuple[Markup, Markup]:
    return record_chip(found.before), record_chip(found.after)
