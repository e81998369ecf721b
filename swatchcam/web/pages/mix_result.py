"""Pages: what came out for a pot, its weighing list that is ticked off, and the choice that is kept as a batch."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from threading import Lock
from typing import Any

from markupsafe import Markup, escape
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from ...errors import SwatchcamError, UsageError
from ...library.entry import Entry
from ...library.library import Library
from ...library.proposal_store import keep_proposal, proposals
from ...library.proposals import RECIPE, Proposal
from ...library.records import Record
from ...library.save import prepare, put
from ...measurement.summary import Sitting, sitting_from
from ...recipes.scale_resolution import shown
from ...report.cautions import first_time
from ...report.mixing_sentences import OLD_POT
from ...report.mixing_text import LIGHTS
from ...report.plots.mixing_plots import distance_bar, prediction_plot
from ...report.said import age_words
from ...report.shelf import sheet
from ...text import key
from ..context import Studio, item_of, studio_of
from ..forms import text, texts, ticked, whole
from ..inbox import TrayItem
from ..jobs.mixing_task import entry_from, proposal_from
from ..render import REFUSAL, page
from ..request_checks import posted, wants_json
from .chips import dry_and_finished, mix_chips
from .leftovers import leftovers_page
from .mix_form import MIX, PATHS, title
from .result import proposal_of, records_on

MOST = 9  # choices
SEEN = 1.0  # CIEDE2000 that is just seen side by side, as the page says
DOING = "Being worked out …"
LEFT = "left {}"  # the box of what is left of an old pot
TICKS, STRIP = "ticks", "strip"  # names of notes on the tray
_WRITING = Lock()  # what is there already is looked up and then written: two phones may press at once


def show(request: Request) -> Response:
    """How far a mix is, why it was refused, or what came out."""
    studio, item = studio_of(request), item_of(request, MIX)
    if item.state == "waiting":
        studio.crew.hand_over(item.id)  # it is there already, unless the program was stopped meanwhile
        return page(request, "mixing.html.jinja", item=item, title=title(item), words=studio.progress(item, DOING))
    if item.state == "refused":
        return page(request, "mix_refused.html.jinja", title=title(item), told=item.refusal, back=_back(item))
    return leftovers_page(request, item) if "leftovers" in (item.answer or {}) else _answer(request, item)


def state(request: Request) -> Response:
    """The same for a script."""
    studio, item = studio_of(request), item_of(request, MIX)
    return JSONResponse({"state": item.state, "words": studio.progress(item, DOING)})


def tick(request: Request, form: FormData) -> Response:
    """Note what was ticked or unticked, so that nothing is lost when the phone is put away.

    Only that is sent or counted: another phone may have ticked other boxes of the same list meanwhile.
    """
    studio, item = studio_of(request), item_of(request, MIX)
    number = whole(form, "choice", most=MOST)
    on, off = _changed(form)
    with _WRITING:
        noted = studio.tray.noted(item.id, TICKS)
        before = noted.get("ticks", {})
        now = [
            box for box in _boxes(item, number) if box in on or (box in before.get(str(number), []) and box not in off)
        ]
        ticks = before | {str(number): now}
        studio.tray.note(item.id, TICKS, {"choice": number, "ticks": ticks})
    if wants_json(request):
        return JSONResponse({"choice": number, "ticks": ticks[str(number)]})
    return RedirectResponse(f"/mix/{item.id}?choice={number}#weigh", 303)


def _changed(form: FormData) -> tuple[set[str], set[str]]:
    """The boxes that were ticked, and those that were unticked: one that a script sends, else what the form changed."""
    if "step" in form:
        one = {text(form, "step")}
        return (one, set()) if ticked(form, "ticked") else (set(), one)
    then, now = set(texts(form, "was")), set(texts(form, "tick"))
    return now - then, then - now


def _boxes(item: TrayItem, number: int) -> list[str]:
    """The boxes of a choice's weighing list, in its order."""
    answers = (item.answer or {}).get("answers", [])[number - 1 : number]
    return [
        box
        for facts in answers
        for box in (
            *(LEFT.format(place) for place, _ in enumerate(facts["rests"], start=1)),
            *(str(step["step"]) for weighing in facts["weighing"] for step in weighing["steps"]),
        )
    ]


def keep(request: Request, form: FormData) -> Response:
    """Keep a choice as a batch that is going to be mixed, once, however often the form arrives."""
    studio, item = studio_of(request), item_of(request, MIX)
    number = whole(form, "choice", most=MOST)
    said = {"shade": text(form, "shade"), "batch": text(form, "batch")}
    try:
        with _WRITING:
            _kept(studio, item, number, **said)
    except SwatchcamError as error:
        if not (item.answer or {}).get("answers"):
            raise
        return _answer(request, item, number, said, error)
    return RedirectResponse(f"/mix/{item.id}", 303)


def _kept(studio: Studio, item: TrayItem, number: int, shade: str, batch: str) -> Proposal:
    library, found = studio.opened(), _choices(item)
    if number > len(found):
        raise UsageError("no-such-choice", "choose-on-the-page")
    there = proposal_of(proposals(library), item.id)
    if there:
        if (before := there.facts.get("choice")) != number:
            facts = {"choice": before, "batch": there.batch, "shade": there.shade}
            raise UsageError("another-choice-kept", "weigh-that-choice", **facts)
        return there
    proposal = proposal_from(found[number - 1])
    # By this it is known when the form arrives again, even if the program was stopped in between.
    facts = proposal.facts | {"asked": item.id, "choice": number}
    return keep_proposal(library, replace(proposal, shade=shade or proposal.shade, batch=batch, facts=facts))


def _answer(
    request: Request,
    item: TrayItem,
    number: int = 0,
    said: Mapping[str, str] | None = None,
    error: SwatchcamError | None = None,
) -> Response:
    """The page of what came out; `number` is the choice to weigh, `error` why what was `said` was not kept."""
    studio, answer = studio_of(request), item.answer
    assert answer is not None
    record, problem = _strip(studio, item)
    library = studio.found()
    kept = proposal_of(proposals(library), item.id) if library else None
    noted = studio.tray.noted(item.id, TICKS)
    number = _chosen(request, number, kept, noted, len(answer["answers"]))
    facts = answer["answers"][number - 1]
    said_so = partial(shown, scale_g=item.asked["order"]["scale_g"])
    choices = [
        (place, choice, sheet.headline(own, choice, said_so) if own["weighing"] else "")
        for place, (own, choice) in enumerate(zip(answer["answers"], facts["choices"], strict=False), start=1)
    ]
    return page(
        request,
        "mix.html.jinja",
        status=REFUSAL if error else 200,
        item=item,
        title=title(item),
        facts=facts,
        number=number,
        hardly_off=facts["pot"] is not None and facts["pot"]["ciede2000_from_target"] < SEEN,
        chosen=facts["choices"][number - 1] if facts["choices"] else None,
        headline=choices[number - 1][2] if choices else "",
        others=[one for one in choices if facts["leave_it"] or one[0] != number],
        sheet=sheet,
        ticks=noted.get("ticks", {}).get(str(number), []),
        said=said or {"shade": answer["shade"], "batch": ""},
        shades=[one.name for one in library.shades()] if library else [],
        problem=error or problem,
        kept=kept,
        care_open=first_time(library, facts["care"], own=1 if kept else 0),
        aim=_aim(library, item, kept),
        record=record,
        back=_back(item),
        chips=mix_chips(facts, number),
        when_dry=dry_and_finished(facts, number),
        linked=_linked,
        plot=Markup(prediction_plot(facts, number=number)),
        bar=lambda mix: Markup(distance_bar(mix)),
        by_shade=not {*item.asked["asked"]} - {"shade", "state"} and not item.asked["hand"].get("beside"),
        lights=LIGHTS,
        shown=said_so,
        old_pot=OLD_POT,
        age_words=age_words,
    )


def _aim(library: Library | None, item: TrayItem, kept: Proposal | None) -> str:
    """The target of a recipe that was kept, as its shade may take it for its own; "" where it has one, or cannot."""
    answer = item.answer or {}
    if library is None or kept is None or kept.kind != RECIPE or not answer.get("absolute"):
        return ""
    here = [shade for shade in library.shades() if key(shade.name) == key(kept.shade)]
    target = answer["answers"][0]["target"]
    return ", ".join(f"{target[axis]:.2f}" for axis in "Lab") if here and here[0].target is None else ""


def _strip(studio: Studio, item: TrayItem) -> tuple[Record | None, SwatchcamError | None]:
    """The record of the pot's strip, which is kept now where its form said so; or why it cannot be."""
    if not _entries(item):
        return None, None
    try:
        with _WRITING:
            return _kept_strip(studio, item), None
    except SwatchcamError as error:
        return None, error


def _kept_strip(studio: Studio, item: TrayItem) -> Record | None:
    library, noted = studio.opened(), studio.tray.noted(item.id, STRIP)
    if noted:
        try:
            return library.record(noted["record"])
        except UsageError:  # whoever took it out does not want it back
            return None
    sitting = sitting_from(item.asked["sitting"])
    records = [_kept_as(library, sitting, strip, entry_from(said)) for strip, said in _entries(item)]
    studio.tray.note(item.id, STRIP, {"record": records[0].number})
    return records[0]


def _entries(item: TrayItem) -> list[tuple[str, Mapping[str, Any]]]:
    """Strips of the pot that are to be kept, and as what; an answer of before there were several has one."""
    answer = item.answer or {}
    if "entries" in answer:
        return [(strip, said) for strip, said in answer["entries"]]
    return [(item.asked["hand"]["strip"], answer["entry"])] if answer.get("entry") else []


def _kept_as(library: Library, sitting: Sitting, strip: str, entry: Entry) -> Record:
    record = records_on(library, sitting).get(strip) or put(library, prepare(sitting, strip, entry))
    if (key(record.shade), key(record.batch)) != (key(entry.shade), key(entry.batch)):
        raise UsageError(
            "strip-kept-meanwhile",
            "ask-for-that-pot",
            record=record.number,
            shade=record.shade,
            batch=record.batch,
        )
    return record


def _chosen(request: Request, number: int, kept: Proposal | None, noted: Mapping[str, Any], most: int) -> int:
    """The choice to weigh: the one named, kept or begun; else the recommended one."""
    named = request.query_params.get("choice", "")
    begun = noted.get("choice", 1)
    usual = kept.facts.get("choice", begun) if kept else begun
    wanted = number or (int(named) if named.isascii() and named.isdecimal() and len(named) == 1 else usual)
    return wanted if 1 <= wanted <= most else 1


def _choices(item: TrayItem) -> list[dict[str, Any]]:
    """The choices of a mix that may be kept.

    Raises
    ------
    UsageError
        There are none.
    """
    found: list[dict[str, Any]] = (item.answer or {}).get("proposals", [])
    if not found:
        raise UsageError("nothing-to-keep", "ask-for-a-mix-first")
    return found


def _linked(sentence: str, records: Sequence[int]) -> Markup:
    """A sentence in which the numbers of these records lead to them."""
    found = str(escape(sentence))
    for number in records:
        found = re.sub(rf"\b{number}\b", f'<a href="/record/{number}">{number}</a>', found, count=1)
    return Markup(found)


def _back(item: TrayItem) -> str:
    """The form with what was asked in it."""
    return f"{PATHS[item.asked['kind']]}?like_mix={item.id}"


routes = [
    Route("/mix/{id}", show),
    Route("/mix/{id}/state", state),
    Route("/mix/{id}/ticks", posted(tick), methods=["POST"]),
    Route("/mix/{id}/keep", posted(keep), methods=["POST"]),
]
