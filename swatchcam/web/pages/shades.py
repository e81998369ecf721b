"""Pages: the wall of shades, the shades nearest to a colour, and one shade with all that is known of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ...colorimetry.cielab import Lab
from ...colorimetry.colour_difference import describe_difference
from ...colorimetry.lab_text import parse_lab
from ...colorimetry.srgb import srgb_to_lab
from ...errors import UsageError
from ...library.history import CHARTED, history, states
from ...library.labels import lab_words, target_words
from ...library.library import Library
from ...library.records import USUAL_LIGHT, WET, Record, Shade, finished, light_of, of_the_ink, parse_state
from ...library.search import nearest_shades, series_shades
from ...measurement.verdict import DEFAULT_TOLERANCE, between, judge
from ...report.cautions import care_of_recipes, first_time, heat_in
from ...report.library_records import batch_dict, near_dict, record_dict, shade_dict, shades_dict
from ...report.measurement import difference_dict
from ...report.plots.colour_plots import ab_plot, interval_bar, lc_plot
from ...report.plots.control_chart_plot import history_chart
from ...report.shade_summary import Chapter, Dossier, RecordLine, ShadeVerdict, dossier
from ...report.staining import stained_records
from ...text import counted
from ...text import listed as joined
from ..context import studio_of
from ..forms import SHOWN
from ..render import page
from .changes import done, number_in
from .chips import HALF, TILE, filled, heat_pairs, record_chip, shade_tile
from .comparison import SHAPES, SIGNS
from .result_words import lead
from .state_fields import FOR_STATE, TAPS, WORDS, asked_state

NEAREST = 8  # shades that are shown beside a colour
AT_ONCE = 12  # batches on a shade's page, and strips that were heated, unless all are asked for
LAST = "the last strip"
WAYS = dict(zip(CHARTED, ("Lightness", "Vividness", "Hue"), strict=True))


@dataclass(frozen=True)
class NearestTo:
    """A colour that shades are looked for by."""

    lab: Lab
    words: str
    rough: bool = False  # from a screen
    absolute: bool = True


def wall(request: Request) -> Response:
    """Every shade, or those that fit; with a colour in the address those nearest to it."""
    library, asked = studio_of(request).found(), request.query_params
    if library is None or not library.shades():
        told = done(library, request) if library else None
        return page(request, "wall.html.jinja", shades=None, done=told)
    colour = _asked(library, asked)
    if colour is not None:
        return _near(request, library, colour)
    tag, typed = asked.get("tag", ""), asked.get("text", "")
    fit = shades_dict(library, tag or None, typed or None)["shades"]
    return page(
        request,
        "wall.html.jinja",
        shades=[(facts, shade_tile(facts)) for facts in fit],
        tags=sorted({tag for shade in library.shades() for tag in shade.tags}),
        tag=tag,
        text=typed,
        counted=counted,
        done=done(library, request),
    )


def _asked(library: Library, asked: Mapping[str, str]) -> NearestTo | None:
    if asked.get("record"):
        return _of_record(library.record(_record_number(asked["record"])))
    if asked.get("lab"):
        lab = parse_lab(asked["lab"])
        return NearestTo(lab, f"the colour {lab_words(lab)}")
    if asked.get("colour"):
        return NearestTo(_of_screen(asked["colour"]), "the colour picked on the screen", rough=True)
    return None


def _of_record(record: Record) -> NearestTo:
    if light_of(record) != USUAL_LIGHT:
        raise UsageError(
            "record-of-other-light",
            "search-by-another-record",
            record=record.number,
            illuminant=record.colour.illuminant,
            observer=record.colour.observer,
        )
    words = f"record {record.number} ({record.shade}, {record.batch_words}, {record.state})"
    return NearestTo(record.colour.lab, words, absolute=record.colour.absolute)


def _of_screen(code: str) -> Lab:
    if not re.fullmatch("#[0-9a-fA-F]{6}", code):
        raise UsageError("screen-colour-unreadable", "pick-a-colour")
    rgb = [value / 255 for value in bytes.fromhex(code[1:])]
    lightness, a, b = (float(value) for value in srgb_to_lab(rgb))
    return lightness, a, b


def _record_number(typed: str) -> int:
    number = number_in(typed)
    if number is None:
        raise UsageError("typed-not-a-record", "look-up-the-number", typed=typed[:SHOWN])
    return number


def _near(request: Request, library: Library, asked: NearestTo) -> Response:
    found = nearest_shades(library, asked.lab, NEAREST, series_shades(library))
    facts = near_dict(found, asked.lab)["nearest"]
    near = [
        (each, record_chip(record), joined(describe_difference(record.colour.lab, asked.lab)))
        for each, (record, _) in zip(facts, found, strict=True)
    ]
    return page(request, "near.html.jinja", asked=asked, chip=filled(asked.lab, asked.words), near=near)


def shade(request: Request) -> Response:
    """One shade: its finished colour, what it is mixed of, how it held, and what can be done with it."""
    library = studio_of(request).opened()
    one, shown = library.shade(request.query_params.get("name", "")), AT_ONCE
    batches, records = library.batches(one.name), library.records(one.name)
    own = of_the_ink(records)
    if request.query_params.get("all"):
        shown = len(batches)
    found = dossier(one, batches, records)
    newest = [*reversed(found.chapters)][:shown]
    care = care_of_recipes([batch.recipe for batch in batches], heat_in(pair.after.state for pair in found.pairs))
    return page(
        request,
        "shade.html.jinja",
        facts=shade_dict(one, batches, finished(own)),
        done=done(library, request),
        target=filled(one.target, f"the target of {one.name}", found.light, HALF) if one.target else None,
        last=found.finished and _last(found.finished, target_words(one.target_state)),
        newer=found.latest if found.latest is not found.finished else None,
        tolerance=found.tolerance,
        batches=[_batch(chapter) for chapter in newest],
        shown=shown,
        mixed=any(chapter.batch.recipe for chapter in found.chapters),
        pasts=[
            past for state in states(records) if (past := history(one.target, records, state, one.target_state)).points
        ],
        pairs=heat_pairs([*reversed(found.pairs)][:shown]),
        stained=stained_records(records),
        ways=WAYS,
        care=care,
        care_open=first_time(library, care, own=1),
        charts=[(series.name, Markup(history_chart(series))) for series in found.series],
        planes=_planes(found, of_the_ink(line.record for chapter in newest for line in chapter.lines)),
        **_choices(library, one, found.records),
        **_target_state(library, one),
    )


def merging(request: Request) -> Response:
    """Both shades side by side, before they are made one."""
    library, asked = studio_of(request).opened(), request.query_params
    one, other = library.shade(asked.get("name", "")), library.shade(asked.get("into", ""))
    if one.number == other.number:
        raise UsageError("shade-merged-with-itself", "choose-another-shade")
    last = library.latest()
    both = [last.get(shade.name) for shade in (one, other)]
    return page(
        request,
        "merge.html.jinja",
        names=(one.name, other.name),
        chips=[record and record_chip(record, HALF) for record in both],
        records=both,
        states={record.state.short for record in both if record},
        told=_apart(both[0], both[1], one, other),
    )


def _apart(record: Record | None, beside: Record | None, one: Shade, other: Shade) -> dict[str, Any] | None:
    """How far the last strips of two shades are apart; None where that cannot be told."""
    if record is None or beside is None or light_of(record) != light_of(beside):
        return None
    absolute = record.colour.absolute, beside.colour.absolute
    if not all(absolute) and (any(absolute) or record.card != beside.card):
        return None  # what is wrong with a nominal card cancels between two of its own strips only
    limit = DEFAULT_TOLERANCE if other.tolerance is None else other.tolerance
    verdict = judge(between(record.colour, beside.colour, other.name), limit)
    return _told(ShadeVerdict(verdict), f"the last strip of {one.name}", other.name)


def _last(line: RecordLine, target: str) -> dict[str, Any]:
    record = line.record
    return {
        "facts": record_dict(record),
        "chip": record_chip(record, HALF),
        "to_target": _told(line.to_target, LAST, target),
        "to_before": _told(line.to_before, LAST, "the batch before"),
    }


def _told(finding: ShadeVerdict, sample: str, reference: str) -> dict[str, Any]:
    """A finding as the page of a photo tells it, or why there is no verdict."""
    verdict = finding.verdict
    if verdict is None:
        return {"verdict": "", "why_not": finding.why_not, "reference": reference}
    found = verdict.difference
    facts = {
        "verdict": verdict.outcome,
        "difference": difference_dict(found),
        "tolerance": verdict.tolerance,
        "reference": reference,
    }
    bar = interval_bar(found.delta_e, found.low, found.high, verdict.tolerance, f"From {reference} (CIEDE2000)")
    return facts | {
        "sign": SIGNS[verdict.outcome],
        "shape": SHAPES[verdict.outcome],
        "lead": lead(facts, sample, reference),
        "bar": Markup(bar),
    }


def _batch(chapter: Chapter) -> dict[str, Any]:
    lines = [(line, record_dict(line.record), record_chip(line.record, TILE)) for line in chapter.lines]
    records = counted(len(lines), "record")
    return {"facts": batch_dict(chapter.batch), "records": records, "lines": lines}


def _planes(found: Dossier, records: Sequence[Record]) -> list[Markup]:
    """Where these records lie; the drawings escape what users wrote."""
    return [Markup(draw(records, found.shade.target, found.tolerance)) for draw in (ab_plot, lc_plot) if records]


def _choices(library: Library, one: Shade, records: Iterable[Record]) -> dict[str, Any]:
    """What the forms offer: records that can be the target, and shades to be made one with."""
    return {
        "aims": [one for one in of_the_ink(records) if one.colour.absolute and light_of(one) == USUAL_LIGHT],
        "others": [other.name for other in library.shades() if other.number != one.number],
    }


def _target_state(library: Library, one: Shade) -> dict[str, Any]:
    """The fields that ask what the target is for, and buttons of which each says it in one tap."""
    asked = asked_state(library, one.name, one.target_state)
    taps = TAPS | {str(last.record.state): f"{last.record.state}, as last time" for last in asked["last"].values()}
    in_order = sorted(taps, key=lambda said: ([*WORDS].index(parse_state(said).name), not parse_state(said).how))
    dry = {said: taps[said] for said in in_order if parse_state(said).name != WET}  # a wet colour is no target
    asked["states"] = {state: words for state, words in WORDS.items() if state != WET}
    return {"for_state": FOR_STATE, "state_asked": asked, "taps": dry}


routes = [Route("/shades", wall), Route("/shade", shade), Route("/shade/merge", merging)]
