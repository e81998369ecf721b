"""Pages: what can be done for a pot, and the forms that ask for it; the answers are pages of `mix_result`."""

from __future__ import annotations

import json
import secrets
from collections.abc import Sequence
from contextlib import suppress
from functools import partial
from itertools import islice
from typing import Any

from markupsafe import Markup
from starlette.datastructures import FormData, QueryParams
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ...errors import SwatchcamError, UsageError
from ...library.labels import readable
from ...library.library import Library
from ...library.proposal_store import proposals, remove_proposal
from ...library.proposals import AGAIN, CORRECTION, RECIPE, THINNING, USE_UP, Proposal
from ...messages.surface import PAGE
from ...mixing.prediction_check import checked_predictions, prediction_rate
from ...mixing.search import MOST
from ...recipes.recipe import SCALE_G
from ...recipes.scale_resolution import shown
from ...report.json_types import PredictionsJson
from ...report.mixing import prediction_check_dict
from ...report.mixing_text import KINDS
from ...report.plots.prediction_plots import prediction_check_plot
from ...report.shelf.sheet import doses
from ...text import counted, listed
from ..context import Studio, studio_of
from ..forms import FINEST, number_or_none, text, whole
from ..inbox import TrayItem
from ..older_words import fields_today
from ..render import REFUSAL, page
from ..request_checks import posted
from .chips import lab_of
from .mix_options import for_again, for_pot, for_recipe, for_use_up, offered, small_chip, words_of
from .mix_question import SCALES, question, typed
from .pot_strip import with_recipe
from .result import proposal_of
from .studio_form import usual

MIX = "mix"  # the kind of item
LISTED = 12  # mixes on the first page of the pot
PATHS = {
    RECIPE: "/pot/recipe",
    CORRECTION: "/pot/correct",
    THINNING: "/pot/thin",
    AGAIN: "/pot/again",
    USE_UP: "/pot/use-up",
}
FORMS = {RECIPE: for_recipe, CORRECTION: for_pot, THINNING: for_pot, AGAIN: for_again, USE_UP: for_use_up}


def first(request: Request) -> Response:
    """What can be done; below it the mixes on the tray, and how earlier proposals came out."""
    studio = studio_of(request)
    library, every = studio.found(), "all" in request.query_params
    items = list(islice(studio.tray.newest(MIX), None if every else LISTED + 1))
    made = proposals(library) if library else []
    return page(
        request,
        "pot.html.jinja",
        paths=PATHS,
        own=usual(studio),
        teaching=library is None or not any(batch.recipe for batch in library.batches()),
        mixes=[_row(item, made) for item in (items if every else items[:LISTED])],
        more=not every and len(items) > LISTED,
        sentence=_prediction_check(library, made)["sentence"] if library and made else "",
    )


def ask(kind: str) -> Any:
    """The view of the form of this kind, one of `library.proposals.KINDS`."""

    def view(request: Request) -> Response:
        studio = studio_of(request)
        return _form(request, kind, _filled(studio, kind, request.query_params))

    return view


def send(kind: str) -> Any:
    """The view that takes this form: what is asked goes to work; what is refused stands in the form as it was."""

    def view(request: Request, form: FormData) -> Response:
        studio, form = studio_of(request), FormData(fields_today(kind, form.multi_items()))
        try:
            item = _to_work(studio, question(kind, studio, _library(studio), form), form)
        except SwatchcamError as error:
            return _form(request, kind, FormData(typed(form)), error)
        return RedirectResponse(f"/mix/{item.id}", 303)

    return view


def came_out(request: Request) -> Response:
    """How the proposals came out that were kept."""
    library = _library(studio_of(request))
    facts = _prediction_check(library, proposals(library))
    return page(
        request, "predictions.html.jinja", facts=facts, readable=readable, plot=Markup(prediction_check_plot(facts))
    )


def take_out(request: Request, form: FormData) -> Response:
    """Take a proposal out that was never mixed; the page 'Changes' brings it back."""
    library, number = _library(studio_of(request)), whole(form, "number")
    if any(one.number == number for one in proposals(library)):  # else the form arrived before
        remove_proposal(library, number)
    return RedirectResponse("/pot/predictions", 303)


def title(item: TrayItem) -> str:
    """What a mix is called."""
    words = KINDS[item.asked["kind"]].format(item.asked["words"])
    return words[:1].upper() + words[1:]


def _row(item: TrayItem, made: Sequence[Proposal]) -> tuple[TrayItem, str, str, Markup, str]:
    """A mix with what it is called, how far it is, its target as a chip, and what goes into it."""
    kept, answers = proposal_of(made, item.id), (item.answer or {}).get("answers", [])
    if not answers:
        return item, title(item), _state(item, made), Markup(), ""
    facts, number = answers[0], kept.facts.get("choice", 1) if kept else 1
    lists = [] if facts["leave_it"] else [each for one in answers[number - 1 : number] for each in one["weighing"]]
    as_shown = partial(shown, scale_g=item.asked["order"]["scale_g"])
    words = "".join(listed(doses(weighing["steps"], as_shown)) for weighing in lists)
    return item, title(item), _state(item, made), small_chip(lab_of(facts["target"]), "the target"), words


def _state(item: TrayItem, made: Sequence[Proposal]) -> str:
    if item.state == "waiting":
        return "being worked out"
    if item.refusal:
        return f"refused: {PAGE.problem(item.refusal)}"
    kept, answer = proposal_of(made, item.id), item.answer or {}
    if answer.get("leftovers"):
        return f"{counted(len(answer['leftovers']['shades']), 'shade')} found"
    done = "leave the pot as it is" if answer["answers"][0]["leave_it"] else "not kept"
    return f"kept as batch {kept.batch} of {kept.shade}" if kept else done


def _prediction_check(library: Library, made: Sequence[Proposal]) -> PredictionsJson:
    # The other shades' records say nothing of these, and are many.
    records = [record for shade in {one.shade for one in made} for record in library.records(shade)]
    return prediction_check_dict(prediction_rate(checked_predictions(made, records)), made)


def _to_work(studio: Studio, asked: dict[str, Any], form: FormData) -> TrayItem:
    """The same form sent twice is one mix; another question under its key, from a page gone back to, is another."""
    name = "|".join((text(form, "key") or secrets.token_hex(16), json.dumps(asked, sort_keys=True)))
    item = studio.tray.put(name, MIX, asked)
    studio.crew.hand_over(item.id)
    return item


def _library(studio: Studio) -> Library:
    library = studio.found()
    if library is None:
        raise UsageError("pigments-not-known-yet", "teach-the-pigments")
    return library


def _filled(studio: Studio, kind: str, said: QueryParams) -> FormData:
    """What stands in a form at first: what the address says, else what was asked with the mix that it names."""
    with suppress(UsageError):  # it may have been cleared away
        before = studio.tray.item(said.get("like_mix", ""))
        return FormData([(name, value) for name, value in before.asked["typed"]])
    own, last = usual(studio), next(studio.tray.newest(MIX), None)
    scale = own.scale_g or (last.asked["order"]["scale_g"] if last else SCALE_G)
    pot = [("grams", f"{own.pot_g:.10g}")] if own.pot_g and kind in (RECIPE, AGAIN) and "grams" not in said else []
    strip = f"photo:{said['photo']}:{said.get('strip', '')}" if said.get("photo") else ""
    like = f"record:{said['record']}" if said.get("record") else strip
    if like:
        words_of(studio, _library(studio), like)  # refused here, and not shown as an empty form
    return FormData([("scale", f"{scale:g}"), ("like", like), *pot, *fields_today(kind, said.multi_items())])


def _form(request: Request, kind: str, said: FormData, error: SwatchcamError | None = None) -> Response:
    studio = studio_of(request)
    library, own = _library(studio), usual(studio)
    known = with_recipe(library)
    facts: dict[str, Any] = {
        "kind": kind,
        "path": PATHS[kind],
        "key": secrets.token_hex(16),
        "said": said,
        "problem": error,
        "scales": _scales(own.scale_g, said),
        "own": own,
        "here_again": _here(request),
        "most": MOST,
        **offered(library, known),
    }
    template, more = FORMS[kind](studio, library, said, known)
    return page(request, template, status=REFUSAL if error else 200, **facts | more)


def _scales(own: float | None, said: FormData) -> list[str]:
    """The steps of a scale that one tap says: the studio's own among them, and what was said before."""
    typed = [] if own is None else [own]
    with suppress(UsageError):
        typed += filter(None, [number_or_none(said, "scale", "g", least=FINEST)])
    return [f"{step:g}" for step in sorted({*SCALES, *typed})]


def _here(request: Request) -> str:
    """This page, to come back to."""
    return "?".join(filter(None, (request.url.path, request.url.query)))


routes = [
    Route("/pot", first),
    Route("/pot/predictions", came_out),
    Route("/pot/predictions/remove", posted(take_out), methods=["POST"]),
    *[Route(path, ask(kind)) for kind, path in PATHS.items()],
    *[Route(path, posted(send(kind)), methods=["POST"]) for kind, path in PATHS.items()],
]
