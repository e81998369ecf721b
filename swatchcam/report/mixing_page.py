"""A proposal -> the sheet that lies on the mixing table; pages of what a pigment does and how proposals came out.

Each is one HTML page that needs nothing else: no script, no other file, no network. It prints on A4, in black and white
too.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from ..colorimetry.colour_difference import delta_e_2000
from ..library.labels import lab_words
from ..measurement.verdict import DEFAULT_TOLERANCE
from ..recipes.recipe import CLEAR_BASE
from ..recipes.weighing_list import Way
from ..text import listed
from .html_page import environment
from .json_types import AnswerJson, PigmentJson, PredictionsJson
from .json_types.mixing import ChoiceJson, MixJson, TargetJson
from .mixing_sentences import OLD_POT, rest_words
from .mixing_text import KINDS, LIGHTS, flattening
from .plots.colour_plots import OUT_OF_GAMUT, screen_colour
from .plots.mixing_plots import chip_row, distance_bar, lab_of, prediction_plot
from .plots.pigment_plots import strength_plot
from .plots.prediction_plots import prediction_check_plot
from .said import age_words
from .shelf.sheet import amount_of, coarse, headline, name_of, tools_words

if TYPE_CHECKING:
    from jinja2 import Environment


ROUNDED = 0.1  # CIEDE2000; more than the rounding of the colours in a dict explains


def mix_page(facts: AnswerJson, made: str, number: int = 1, tolerance: float = DEFAULT_TOLERANCE) -> str:
    """The sheet of `report.mixing.answer_dict`: what to weigh, with boxes to tick, then where the colours lie.

    Parameters
    ----------
    made : ISO date of the sheet
    number : the choice whose weighing list the dict holds
    tolerance : CIEDE2000 that the predicted distance is drawn against
    """
    choices = list(enumerate(facts["choices"], start=1))
    title = KINDS[facts["kind"]].format(facts["target"]["words"])
    chosen = next((choice for place, choice in choices if place == number), None)
    return _rendered(
        "mix.html.jinja",
        made=made,
        facts=facts,
        title=title[:1].upper() + title[1:],
        number=number,
        chosen=chosen,
        weigh=[_sheet(facts, chosen)] if chosen and facts["weighing"] and not facts["leave_it"] else [],
        others=[(place, choice) for place, choice in choices if facts["leave_it"] or place != number],
        tolerance=tolerance,
        doubted=any(_doubted(choice, facts["target"]) for choice in facts["choices"]),
        chips=chip_row(facts, number),
        plot=prediction_plot(facts, tolerance, number),
    )


def pigment_page(facts: PigmentJson, made: str) -> str:
    """What one pigment does, of `report.mixing.pigment_dict`; `made` is the ISO date of the page."""
    return _rendered("mixpigment.html.jinja", made=made, facts=facts, plot=strength_plot(facts))


def prediction_check_page(facts: PredictionsJson, made: str) -> str:
    """How the proposals came out, of `report.mixing.prediction_check_dict`; `made` is the ISO date of the page."""
    return _rendered("mixpredictions.html.jinja", made=made, facts=facts, plot=prediction_check_plot(facts))


def _rendered(template: str, **values: Any) -> str:
    from markupsafe import Markup

    drawn = {name: Markup(values[name]) for name in ("plot", "chips") if name in values}  # drawings escape their own
    return _templates().get_template(template).render(values | drawn)


@cache
def _templates() -> Environment:
    from markupsafe import Markup

    templates = environment()
    templates.globals |= {
        "OUT_OF_GAMUT": OUT_OF_GAMUT,
        "OLD_POT": OLD_POT,
        "age_words": age_words,
        "distance_bar": lambda mix, tolerance: Markup(distance_bar(mix, tolerance)),
    }
    filters: dict[str, Any] = {
        "lab": lambda colour: lab_words(lab_of(colour)),
        "distance": _distance,
        "put_in": _put_in,
        "lights": _lights,
        "flattening": flattening,
        "vivid": lambda colour: not screen_colour(lab_of(colour))[1],
    }
    templates.filters |= filters
    return templates


def _distance(mix: MixJson) -> str:
    low, high = mix["interval95"]
    return f"{mix['ciede2000_from_target']:.1f} ({low:.1f} to {high:.1f})"


def _doubted(mix: MixJson, target: TargetJson) -> bool:
    """Whether the distance is from where the target is thought to be, and not from where it was measured."""
    drawn = float(delta_e_2000(lab_of(mix["predicted"]), lab_of(target)))
    return abs(drawn - mix["ciede2000_from_target"]) > ROUNDED


def _put_in(choice: ChoiceJson) -> str:
    """All that is weighed, in one line; of a thinner pot clear base and the pot's ink first."""
    fresh = choice["roads"]["fresh_pot"] if choice["roads"] else None
    first = [(CLEAR_BASE, fresh["binder_grams"]), ("ink from the pot", fresh["strong_ink_grams"])] if fresh else []
    parts = [*map(rest_words, choice["rests"]), *(f"{what} {grams:.10g} g" for what, grams in first)]
    return ", ".join([*parts, *(f"{part['what']} {part['words']}" for part in choice["put_in"])])


def _sheet(facts: AnswerJson, choice: ChoiceJson) -> dict[str, Any]:
    """What the sheet says first, and its lines.

    Grams have as many decimals as the finest of them has, so that they stand one below the other.
    """
    (weighing,) = facts["weighing"]
    digits = max(len(f"{step['grams']:.4f}".rstrip("0").partition(".")[2]) for step in weighing["steps"])
    shown = f"{{:.{digits}f}}".format
    return {
        "headline": headline(facts, choice, shown),
        "tools": tools_words(facts, choice),
        "coarse": coarse(facts),
        "lines": [
            {
                "name": name_of(step),
                "amount": amount_of(step, shown),
                "words": step["words"],
                "made": step.get("way") == Way.MAKE,
            }
            for step in weighing["steps"]
        ],
    }


def _lights(choice: ChoiceJson) -> str:
    return listed([f"{value:.1f} {LIGHTS[light]}" for light, value in choice["other_lights_ciede2000"].items()])
