"""Parts of what was proposed, as dicts: a colour, the pot in hand, a choice, how films vary, what would help."""

from __future__ import annotations

import math
from collections.abc import Collection

import numpy as np

from ..colorimetry.cielab import Lab
from ..colorimetry.intervals import interval_of_difference
from ..library.shelf.prices import Cost
from ..messages.mixing import film_words, help_words
from ..messages.shelf import cost_words, making_words
from ..mixing.order import Choice, Order, Rest
from ..mixing.pot_correction import Help
from ..mixing.prior import FilmScatter
from ..mixing.requests import Answer
from ..mixing.search import Mix, Target, aimed_at
from ..mixing.workbench import Bench
from ..recipes.arithmetic import together, weighed
from ..recipes.dosing import Dose
from ..recipes.parser import DROPS
from ..recipes.recipe import BINDER, Recipe, called
from ..text import counted, key
from .json_types.colours import ColourJson, SureColourJson
from .json_types.mixing import ChoiceJson, FilmJson, HelpJson, MixJson, PotJson
from .json_types.weighing import PartJson, PutInJson, RestJson
from .mixing_sentences import chances_words, opposite_words, saved_words, thinning_dict
from .plots.colour_plots import screen_colour
from .said import age_dict


def colour_dict(lab: Lab) -> ColourJson:
    """L, a, b, and roughly how it looks on a screen."""
    lightness, a, b = (round(value, 2) for value in lab)
    return {"L": lightness, "a": a, "b": b, "srgb_approx": screen_colour(lab)[0]}


def sure_colour(lab: Lab, radius: float) -> SureColourJson:
    """A colour and how far the next strip's may lie from it."""
    return {**colour_dict(lab), "interval95_ciede2000": round(radius, 2)}


def rest_dict(rest: Rest, other: bool) -> RestJson:
    """What is left of an old pot; `other` where that may be of another shade than the new one."""
    batch = rest.batch
    return {
        "batch": batch.name,
        "shade": batch.shade,
        "called": f"batch {batch.name} of {batch.shade}" if other else f"batch {batch.name}",
        "grams": rest.grams,
        "left_grams": rest.left,
        **age_dict(batch.mixed),
    }


def pot_dict(answer: Answer, order: Order) -> PotJson | None:
    """The pot in hand; None where there is none."""
    now = answer.proposed.now
    if now is None:
        return None
    return {
        "batch": answer.pot.name if answer.pot else "",
        "record": answer.record.number if answer.record else None,
        "records": [record.number for record in answer.records],
        "strips": answer.proposed.strips,
        "right_probability": round(answer.proposed.right, 3),
        "grams": order.grams,
        **mix_dict(answer.bench, now, answer.proposed.target),
    }


def choice_dict(bench: Bench, target: Target, choice: Choice, recommended: bool) -> ChoiceJson:
    """A choice, and what may come of it."""
    now, whole = bench.cost(weighed_now(choice)), bench.cost(choice.pot)
    return {
        "recommended": recommended,
        "put_in": [put_in_dict(dose) for dose in choice.doses],
        "rests": [rest_dict(rest, other=True) for rest in choice.saved.rests],
        "base_saved_grams": round(choice.saved.base_g, 2),
        "pigment_saved_grams": round(choice.saved.pigment_g, 4),
        "ready_saved_grams": round(choice.saved.ready_g, 2),
        "pot": grams_dict(choice.pot),
        "pot_grams": round(choice.pot.grams, 3),
        "pigment_percent": round(100 * _pigment(choice.pot, bench.ready) / choice.pot.grams, 3),
        "pigment_grams": round(_pigment(choice.added, bench.ready), 4),
        "ready_percent": round(100 * _ready_mixed(choice.pot, bench.ready) / choice.pot.grams, 3),
        "tools_ciede2000": round(choice.tools_cost, 2),
        "price": _money(now),
        "pot_price": _money(whole),
        "without_price": list(dict.fromkeys((*now.unpriced, *whole.unpriced))),
        **mix_dict(bench, choice.mix, target),
        "part_of_the_way": choice.part,
        "overshoot_probability": round(choice.overshoot, 2),
        "nearer_probability": None if choice.chances is None else round(choice.chances.nearer, 3),
        "worse_probability": None if choice.chances is None else round(choice.chances.worse, 4),
        "other_lights_ciede2000": {light: round(value, 1) for light, value in choice.lights.items()},
        "roads": None if choice.roads is None else thinning_dict(choice.roads),
        "opposite_pigments": list(choice.opposite),
        "words": [
            *saved_words(choice.saved),
            *chances_words(choice),
            *(opposite_words(pigment) for pigment in choice.opposite),
            *making_words(
                math.fsum(one.ink_g for one in choice.makings if one.of is None),
                math.fsum(one.binder_g for one in choice.makings),
            ),
            *cost_words(now.total, whole.total, now.unpriced if now.priced else ()),
        ],
    }


def put_in_dict(dose: Dose) -> PutInJson:
    """What is put in, and how: grams of the pigment itself, and what is weighed or counted in words."""
    return {"what": called(dose.what), "grams": round(dose.pigment_g, 4), "words": dose_words(dose)}


def dose_words(dose: Dose) -> str:
    """As "0.3 g", "6 drops", "4 g of the 10 % pre-mix"."""
    much = counted(round(dose.amount), "drop") if dose.unit == DROPS else f"{dose.amount:.10g} g"
    return f"{much} of the {100 * dose.share:g} % pre-mix" if dose.pre_mix else much


def weighed_now(choice: Choice) -> Recipe:
    """All that is weighed for a choice, the clear base of a thinner pot too."""
    if choice.roads is None:
        return choice.added
    return together(weighed({BINDER: choice.roads.fresh.binder_g}, choice.roads.scale_g), choice.added)


def _pigment(recipe: Recipe, ready: Collection[str]) -> float:
    """All pigment in it, g; ready-mixed inks are none."""
    return sum(part.grams for part in recipe.parts if part.what != BINDER) - _ready_mixed(recipe, ready)


def _ready_mixed(recipe: Recipe, ready: Collection[str]) -> float:
    """All ready-mixed inks in it, g."""
    return sum(part.grams for part in recipe.parts if key(part.what) in ready)


def _money(cost: Cost) -> float | None:
    return None if cost.total is None else round(cost.total, 2)


def mix_dict(bench: Bench, mix: Mix, target: Target) -> MixJson:
    """What a mix is predicted to be."""
    predicted = mix.predicted
    dry = bench.palette.of_earlier.predict_all([mix.content]).each[0] if bench.of_later_state else None
    lab = np.array(predicted.lab)
    low, high = interval_of_difference(lab, aimed_at(predicted, target), predicted.ink)
    return {
        "predicted": sure_colour(predicted.lab, predicted.radius),
        "when_dry": None if dry is None else sure_colour(dry.lab, dry.radius),
        "ciede2000_from_target": round(mix.distance, 2),
        "interval95": [round(low, 2), round(high, 2)],
        "expected_ciede2000": round(mix.expected, 2),
    }


def grams_dict(recipe: Recipe) -> list[PartJson]:
    """What is weighed, g."""
    return [{"what": called(part.what), "grams": round(part.grams, 4)} for part in recipe.parts if part.grams]


def film_dict(scatter: FilmScatter) -> FilmJson:
    """How unlike the films of a studio's strips are."""
    std, low, high = (round(100 * value, 1) for value in (scatter.std, scatter.low, scatter.high))
    return {
        "percent": std,
        "interval95": [low, high],
        "strips": scatter.strips,
        "sentence": film_words(std, low, high, scatter.strips),
    }


def help_dict(one: Help, bench: Bench) -> HelpJson:
    """One way to make a correction sure enough."""
    pigments = [bench.names.get(name, name) for name in one.pigments]
    return {
        "code": str(one.means),
        "strips": one.strips,
        "pigments": pigments,
        "sentence": help_words(str(one.means), one.strips, pigments),
    }
