"""What was proposed, as one dict: for JSON, the terminal and the page alike."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..library.proposals import CORRECTION, USE_UP, Proposal
from ..library.records import HEAT_SET, WASHED, Record
from ..library.shelf.pigments import Pigment
from ..mixing.order import Choice, Order, running_out
from ..mixing.prediction_check import PredictionRate
from ..mixing.requests import Answer
from ..mixing.test_series import SeriesStrip, differs, half_strength, strength_curve, tinting_strength
from ..mixing.workbench import Bench
from ..recipes.arithmetic import together, weighed
from ..recipes.dosing import weighed_dose
from ..recipes.recipe import BINDER
from ..recipes.safety import DISPOSAL, HEAT, INK, WHITE, care_lines, named_in
from ..recipes.weighing_list import weighing_list
from ..text import key
from .json_types import AnswerJson, PaletteJson, PigmentJson, PredictionsJson, SeriesJson
from .json_types.colours import FORMAT
from .json_types.mixing import ProposalJson
from .json_types.pigments import CurveStripJson, ShelfJson
from .json_types.weighing import WeighingJson
from .mixing_parts import (
    choice_dict,
    colour_dict,
    film_dict,
    grams_dict,
    help_dict,
    pot_dict,
    rest_dict,
    sure_colour,
)
from .mixing_sentences import (
    known_strip_name,
    leave_words,
    need_dict,
    prediction_check_words,
    treat_words,
)
from .quantities import weighing_dict
from .said import flag_dicts

WHITES = "white"  # a pigment of which the name says that it is white


def answer_dict(answer: Answer, order: Order, kept: Proposal | None = None, number: int = 1) -> AnswerJson:
    """What was proposed; `number` is the choice whose weighing list is made, and that was kept as `kept`."""
    proposed, bench = answer.proposed, answer.bench
    chosen = proposed.choices[number - 1 : number]
    return {
        "format": FORMAT,
        "kind": proposed.kind,
        "target": {
            "words": proposed.target.words,
            "state": None if proposed.target.state is None else str(proposed.target.state),
            **colour_dict(proposed.target.lab),
        },
        "cloth": bench.cloth,
        "state": str(bench.state),
        "known_strips": len(bench.known_strips),
        "layer": bench.palette.layer.kind,
        "scale_grams": order.scale_g,
        "pot": pot_dict(answer, order),
        "rests": [rest_dict(rest, proposed.kind == USE_UP) for choice in chosen for rest in answer.going_in(choice)],
        "reach": None
        if proposed.reach is None
        else {
            "hit": proposed.reach.hit,
            "ciede2000_of_the_nearest": round(proposed.reach.distance, 2),
            "needs": [need_dict(need, bench.names) for need in proposed.reach.needs],
        },
        "leave_it": proposed.leave is not None,
        "leave_code": None if proposed.leave is None else str(proposed.leave),
        "leave_why": leave_words(proposed),
        "helps": [help_dict(one, bench) for one in proposed.helps],
        "film": film_dict(bench.palette.scatter),
        "treat_next": list(proposed.treat_next),
        "treat_words": treat_words(bench.state, proposed.treat_next),
        "choices": [
            choice_dict(bench, proposed.target, choice, place == 0) for place, choice in enumerate(proposed.choices)
        ],
        "weighing": [_weighing(answer, choice, order) for choice in chosen],
        "care": list(_care(answer, chosen)),
        "flags": flag_dicts((*proposed.flags, *(one for choice in chosen for one in running_out(bench, choice)))),
        "kept": None if kept is None else {"proposal": kept.number, "shade": kept.shade, "batch": kept.batch},
    }


def palette_dict(bench: Bench) -> PaletteJson:
    """The pigments on the shelf and those that have known strips."""
    known = bench.palette.pigments
    strengths = tinting_strength(bench)
    names, shares = sorted({*known, *bench.shelf}), [strip.shares for strip in bench.all_known]
    return {
        "format": FORMAT,
        "cloth": bench.cloth,
        "state": str(bench.state),
        "known_strips": len(bench.all_known),
        "pigments": [
            {
                "pigment": bench.names.get(name, name),
                "known_strips_alone": sum(set(each) == {name} for each in shares),
                "known_strips_in_mixes": sum(name in each and len(each) > 1 for each in shares),
                "strength": round(strengths[name] / max(strengths.values()), 3) if name in strengths else None,
                **shelf_dict(bench.shelf.get(name)),
            }
            for name in names
        ],
        "flags": flag_dicts(bench.warnings),
    }


def shelf_dict(pigment: Pigment | None) -> ShelfJson:
    """What was said of a pigment."""
    if pigment is None:
        pigment = Pigment("", None, None, None, "", ())
    return {
        "most_percent": pigment.most,
        "least_g": pigment.least_g,
        "price_per_100g": pigment.price,
        "ready": pigment.ready,
        "density": pigment.density,
        "notes": pigment.notes,
        "lots": [
            {
                "name": lot.name,
                "since": lot.since,
                "strength": lot.strength,
                "strength_std": lot.strength_std,
                "differs": differs(lot),
            }
            for lot in pigment.lots
        ],
    }


def pigment_dict(bench: Bench, pigment: str) -> PigmentJson:
    """What one pigment does on the bench's cloth."""
    name = key(pigment)
    half, low, high = (bench.weighs(name, share) for share in half_strength(bench.palette, pigment))
    own = [strip for strip in bench.all_known if set(strip.shares) == {name} and bench.shows(strip)]
    return {
        "format": FORMAT,
        "pigment": bench.names.get(name, pigment),
        "cloth": bench.cloth,
        "state": str(bench.state),
        "layer": bench.palette.layer.kind,
        "half_strength_percent": {"value": round(half, 1), "interval95": [round(low, 1), round(high, 1)]},
        "curve": [_series_strip_dict(strip) for strip in strength_curve(bench, pigment)],
        "measured": [
            {
                "percent": round(bench.weighs(name, strip.shares[name]), 4),
                "name": known_strip_name(strip),
                **colour_dict(strip.colour.lab),
            }
            for strip in sorted(own, key=lambda strip: strip.shares[name])
        ],
        "flags": flag_dicts(bench.warnings),
        **shelf_dict(bench.shelf.get(name)),
    }


def series_dict(records: Sequence[Record], place: str, pigment: str = "") -> SeriesJson:
    """The series strips of a pigment that were kept."""
    return {
        "format": FORMAT,
        "library": place,
        "series": [
            {
                "record": record.number,
                "shade": record.shade,
                "batch": record.batch,
                "strip": record.colour.name,
                **sure_colour(record.colour.lab, record.colour.radius),
                "flags": flag_dicts(record.flags),
            }
            for record in records
        ],
        "care": list(care_lines(named_in([pigment]))),
    }


def prediction_check_dict(rate: PredictionRate, proposals: Sequence[Proposal] = ()) -> PredictionsJson:
    """How the proposals came out; those that were not measured yet wait."""
    measured = {one.proposal.number for one in rate.checked}
    return {
        "format": FORMAT,
        "code": str(rate.showing),
        "sentence": prediction_check_words(rate),
        "held": rate.held,
        "of": len(rate.checked),
        "interval95_of_the_share": [round(rate.low, 3), round(rate.high, 3)],
        "mean_miss_ciede2000": {kind: round(value, 2) for kind, value in rate.mean.items()},
        "proposals": [
            {
                **_proposal_dict(one.proposal),
                "record": one.record.number,
                "measured": colour_dict(one.record.colour.lab),
                "miss_ciede2000": round(one.miss, 2),
                "ciede2000_from_target": None if one.to_target is None else round(one.to_target, 2),
                "held": one.within,
            }
            for one in rate.checked
        ],
        "waiting": [
            {**_proposal_dict(one), "made": one.day, "pot": grams_dict(one.recipe)}
            for one in proposals
            if one.number not in measured
        ],
    }


def _proposal_dict(made: Proposal) -> ProposalJson:
    return {
        "proposal": made.number,
        "kind": made.kind,
        "shade": made.shade,
        "batch": made.batch,
        "predicted": sure_colour(made.lab, made.radius),
        "state": str(made.state),
        "target_state": None if made.target_state is None else str(made.target_state),
    }


def _series_strip_dict(strip: SeriesStrip) -> CurveStripJson:
    return {"percent": strip.load, **sure_colour(strip.lab, strip.radius), "working_percent": round(strip.working, 4)}


def _weighing(answer: Answer, choice: Choice, order: Order) -> WeighingJson:
    doses, left = choice.doses, bool(answer.going_in(choice))
    recipe = choice.pot if left else choice.added
    if choice.roads is not None:
        fresh, ink = choice.roads.fresh, f"batch {answer.pot.name}" if answer.pot else "the strong ink"
        poured = {BINDER: fresh.binder_g, ink: fresh.ink_g}  # the strong ink right after the clear base
        doses = (*(weighed_dose(what, grams, order.scale_g) for what, grams in poured.items()), *doses)
        recipe = together(weighed(poured, order.scale_g), choice.added)
    in_hand = answer.proposed.kind == CORRECTION and choice.roads is None
    into = "" if in_hand else "the pot with what was left" if left else "a clean pot"
    return weighing_dict(weighing_list(doses, recipe, choice.makings, order.scale_g, into))


def _care(answer: Answer, chosen: Sequence[Choice]) -> tuple[str, ...]:
    """What to take care of when these are weighed, the strip made, and what is left over thrown away."""
    bench, shelf, names = answer.bench, answer.bench.shelf, answer.bench.names
    shares = [(name, share) for choice in chosen for name, share in choice.mix.shares.items()]
    most = {name: pigment.most or math.inf for name, pigment in shelf.items()}
    over = [names.get(name, name) for name, share in shares if bench.weighs(name, share) > most.get(name, math.inf)]
    finished = answer.shade.target_state if answer.shade else None
    aims = [state.name for state in (answer.bench.state, finished) if state]
    heat = {HEAT} if {HEAT_SET, WASHED} & {*aims} else set()
    white = {WHITE} if any(WHITES in name for name, _ in shares) else set()
    return care_lines({INK, DISPOSAL} | heat | white | named_in(_parts(answer, chosen)), over)


def _parts(answer: Answer, chosen: Sequence[Choice]) -> list[str]:
    """The names of all that is in the new pot: what is weighed, and what old pots bring along."""
    rests = (rest.batch for choice in chosen for rest in answer.going_in(choice))
    pots = [batch.recipe for batch in (answer.pot, *rests) if batch and batch.recipe]
    return [*(name for choice in chosen for name in choice.mix.shares), *(p.what for pot in pots for p in pot.parts)]
