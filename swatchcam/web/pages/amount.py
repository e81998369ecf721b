"""Page: how much ink to mix for a run."""

from __future__ import annotations

from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ...errors import SwatchcamError, UsageError
from ...recipes.ink_deposit import DENSITY, laid_meant
from ...recipes.ink_quantity import RESERVE, REST_IN_POT, SETUP_LOSS_G, amount, losses_of
from ...recipes.print_run import Run, area_meant, coverage_of
from ...report.quantities import MUCH, adding_up, amount_dict
from ..forms import number_or_none, text, whole, whole_or_none
from ..render import REFUSAL, page
from ..request_checks import posted
from .mix_question import TypedFields, typed

SIDE = 10_000.0  # cm
USUAL: TypedFields = [
    ("passes", "1"),
    ("setups", "1"),
    ("setup_loss", f"{SETUP_LOSS_G:g}"),
    ("rest", f"{100 * REST_IN_POT:g}"),
    ("reserve", f"{100 * RESERVE:g}"),
    ("density", f"{DENSITY:g}"),
]
LINES = 2000  # letters


def ask(request: Request) -> Response:
    """The form, with what is usual in it."""
    return page(request, "amount.html.jinja", said=FormData(list(USUAL)), problem=None, facts=None)


def reckon(request: Request, form: FormData) -> Response:
    """The answer on the same page."""
    facts: dict[str, Any] | None = None
    problem: SwatchcamError | None = None
    try:
        facts = _reckoned(form)
    except SwatchcamError as error:
        problem = error
    status, said = REFUSAL if problem else 200, FormData(typed(form))
    return page(
        request, "amount.html.jinja", status, said=said, problem=problem, facts=facts, **(_read(facts) if facts else {})
    )


def _reckoned(form: FormData) -> dict[str, Any]:
    """`report.quantities.amount_dict` of what was typed."""
    run = Run(
        _area(form),
        coverage_of(_number(form, "coverage", "%", "share of ink")),
        whole(form, "pieces"),
        whole_or_none(form, "passes") or 1,
        whole_or_none(form, "setups", label="set-ups") or 1,
    )
    density = _usual(form, "density", "g/ml", "density")
    thread = number_or_none(form, "thread", "um")
    volume = number_or_none(form, "ink_volume", "cm3/m2")
    laid = laid_meant(run, _weighings(form), text(form, "mesh"), thread, volume, density)
    losses = losses_of(
        _usual(form, "setup_loss", "g", "what stays on the screen"),
        _usual(form, "rest", "%", "what cannot be got out of the pot"),
        _usual(form, "reserve", "%", "reserve"),
    )
    pot = number_or_none(form, "pot", "ml", label="what one pot holds")
    return amount_dict(amount(run, laid, losses, density=density, pot_ml=pot))


def _read(facts: dict[str, Any]) -> dict[str, Any]:
    """The numbers with as many digits as the command line prints."""
    digits = 0 if facts["grams"] >= MUCH else 1
    lines = adding_up([line["grams"] for line in facts["lines"]], digits)
    read = f"{{:.{digits}f}}".format
    return {"read": read, "grams": read(sum(lines)), "lines": list(zip(map(read, lines), facts["lines"], strict=True))}


def _area(form: FormData) -> float:
    """The motif's area, cm², from its sides, or as it is."""
    sides = [number_or_none(form, name, "cm", most=SIDE) for name in ("width", "height")]
    area = number_or_none(form, "area", "cm2")
    if area is None and None in sides:
        raise UsageError("Nobody said how large the motif is.", "Type its width and its height in cm.")
    if area is not None and sides != [None, None]:
        raise UsageError("The motif's sides and its area were both given.", "Empty one or the other.")
    return area_meant("x".join(f"{side:.10f}" for side in sides) if area is None else "", area)


def _weighings(form: FormData) -> list[str]:
    """What earlier runs took, as `recipes.print_run.parse_weighing` reads it."""
    grams = number_or_none(form, "used", "g", label="grams that were used")
    pieces = whole_or_none(form, "used_for", label="pieces that they were used for")
    if (grams is None) != (pieces is None):
        raise UsageError(
            "Of the earlier run one number is missing.", "Say how many grams it took, and for how many pieces."
        )
    own = [f"{grams:.10f} g for {pieces}"] if grams is not None else []
    others = text(form, "others", longest=LINES, lines=True, label="other runs")
    return own + [line.strip() for line in others.splitlines() if line.strip()]


def _number(form: FormData, name: str, unit: str, label: str) -> float:
    found = number_or_none(form, name, unit, label=label)
    if found is None:
        raise UsageError(f"The field '{label}' is empty.", "Fill it in: how much of the motif is ink, such as 35.")
    return found


def _usual(form: FormData, name: str, unit: str, label: str) -> float:
    """What was typed, else what is usual."""
    found = number_or_none(form, name, unit, label=label)
    return float(str(dict(USUAL)[name])) if found is None else found


routes = [
    Route("/pot/amount", ask),
    Route("/pot/amount", posted(reckon), methods=["POST"]),
]
