"""Page: how much ink to mix for a run."""

from __future__ import annotations

from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ...errors import SwatchcamError, UsageError
from ...recipes.ink_deposit import DENSITY, laid_meant
from ...recipes.ink_quantity import LEAST_RESERVE, REST_IN_POT, amount, losses_of
from ...recipes.mesh import parse_ink_volume
from ...recipes.print_run import SETUP_LOSS_G, Run, area_meant, coverage_of
from ...report.cautions import first_time
from ...report.json_types import AmountJson
from ...report.quantities import MUCH, adding_up, amount_dict, covered
from ..context import studio_of
from ..forms import number_or_none, text, ticked, whole, whole_or_none
from ..render import REFUSAL, page
from ..request_checks import posted
from .mix_question import TypedFields, typed

SIDE = 10_000.0  # cm
SIDES = (("width", "Width of the motif"), ("height", "Height of the motif"))
USUAL: TypedFields = [
    ("passes", "1"),
    ("setups", "1"),
    ("setup_loss", f"{SETUP_LOSS_G:g}"),
    ("rest", f"{100 * REST_IN_POT:g}"),
    ("density", f"{DENSITY:g}"),
]
LINES = 2000  # letters
SHARE = "How much of it is ink"


def ask(request: Request) -> Response:
    """The form, with what is usual in it."""
    return _page(request, said=FormData(list(USUAL)), problem=None, facts=None)


def reckon(request: Request, form: FormData) -> Response:
    """The answer on the same page."""
    facts: AmountJson | None = None
    problem: SwatchcamError | None = None
    try:
        facts = _reckoned(form)
    except SwatchcamError as error:
        problem = error
    status, said = REFUSAL if problem else 200, FormData(typed(form))
    read = _read(facts) | {"care_open": first_time(studio_of(request).found(), facts["care"])} if facts else {}
    return _page(request, status, said=said, problem=problem, facts=facts, **read)


def _page(request: Request, status: int = 200, **shown: Any) -> Response:
    return page(request, "amount.html.jinja", status, least_reserve=100 * LEAST_RESERVE, **shown)


def _reckoned(form: FormData) -> AmountJson:
    """`report.quantities.amount_dict` of what was typed."""
    run = Run(
        _area(form),
        coverage_of(_share_of_ink(form)),
        whole(form, "pieces", label="Pieces to print"),
        whole_or_none(form, "passes", label="Passes on each piece") or 1,
        whole_or_none(form, "setups", label="How many times you ink up the screen") or 1,
    )
    density = _usual(form, "density", "g/ml", "Density of the ink")
    thread = number_or_none(form, "thread", "um", label="The mesh’s thread")
    setup_loss = _usual(form, "setup_loss", "g", "What stays on screen and squeegee each time")
    laid = laid_meant(run, _weighings(form), text(form, "mesh"), thread, _ink_volume(form), density, setup_loss)
    losses = losses_of(
        setup_loss,
        _usual(form, "rest", "%", "What you can’t get out of the pot"),
        number_or_none(form, "reserve", "%", label="Reserve"),
    )
    pot = number_or_none(form, "pot", "ml", label="What one pot holds")
    return amount_dict(amount(run, laid, losses, density=density, pot_ml=pot))


def _read(facts: AmountJson) -> dict[str, Any]:
    """The numbers with as many digits as the command line prints."""
    digits = 0 if facts["grams"] >= MUCH else 1
    lines = adding_up([line["grams"] for line in facts["lines"]], digits)
    read = f"{{:.{digits}f}}".format
    shown = list(zip(map(read, lines), facts["lines"], strict=True))
    return {"read": read, "grams": read(sum(lines)), "covered": covered(facts), "lines": shown}


def _area(form: FormData) -> float:
    """The motif's area, cm², from its sides, or as it is."""
    sides = [number_or_none(form, name, "cm", most=SIDE, label=label) for name, label in SIDES]
    area = number_or_none(form, "area", "cm2", label="The motif’s area")
    if area is None and None in sides:
        raise UsageError("area-missing", "give-the-area")
    if area is not None and sides != [None, None]:
        raise UsageError("area-given-twice", "give-one-area")
    return area_meant("x".join(f"{side:.10f}" for side in sides) if area is None else "", area)


def _weighings(form: FormData) -> list[str]:
    """What earlier runs took, as `recipes.print_run.parse_weighing` reads it."""
    grams = number_or_none(form, "used", "g", label="Ink that was used")
    pieces = whole_or_none(form, "used_for", label="For how many pieces")
    if (grams is None) != (pieces is None):
        raise UsageError("earlier-run-incomplete", "give-grams-and-pieces")
    screen = " with the screen" if ticked(form, "with_screen") else ""
    own = [f"{grams:.10f} g for {pieces}{screen}"] if grams is not None else []
    others = text(form, "others", longest=LINES, lines=True, label="Earlier runs of other motifs")
    return own + [line.strip() for line in others.splitlines() if line.strip()]


def _ink_volume(form: FormData) -> float | None:
    """What the mesh's maker prints of the ink that it holds."""
    typed = text(form, "ink_volume", label="Ink volume")
    try:
        return parse_ink_volume(typed) if typed else None
    except UsageError as error:
        error.at("in-field", field="Ink volume")
        raise


def _share_of_ink(form: FormData) -> float:
    found = number_or_none(form, "coverage", "%", label=SHARE)
    if found is None:
        raise UsageError("field-empty", "fill-in-the-share-of-ink", field=SHARE)
    return found


def _usual(form: FormData, name: str, unit: str, label: str) -> float:
    """What was typed, else what is usual."""
    found = number_or_none(form, name, unit, label=label)
    return float(str(dict(USUAL)[name])) if found is None else found


routes = [
    Route("/pot/amount", ask),
    Route("/pot/amount", posted(reckon), methods=["POST"]),
]
