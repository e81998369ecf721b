"""Shades that can be made of what is left of old pots: one dict, and the same in words."""

from __future__ import annotations

from collections.abc import Sequence

from ...mixing.order import Order
from ...mixing.requests import Answer
from ...recipes.scale_resolution import as_read
from ..json_types import LeftoversJson
from ..json_types.colours import FORMAT
from ..json_types.leftovers import LeftoverShadeJson
from ..mixing import answer_dict
from ..mixing_sentences import OLD_POT
from ..mixing_text import distance_words, put_in_words
from ..said import age_words, flag_lines

NOTHING = "Your leftovers are no use for any of your shades."


def leftovers_dict(answers: Sequence[Answer], order: Order) -> LeftoversJson:
    """The pots of several shades, what saves most first."""
    shades: list[LeftoverShadeJson] = [
        {"shade": answer.shade.name if answer.shade else "", **answer_dict(answer, order)} for answer in answers
    ]
    return {"format": FORMAT, "shades": shades}


def leftovers_text(facts: LeftoversJson) -> str:
    """What to weigh for each shade, and what that saves; then what to look out for."""
    if not facts["shades"]:
        return NOTHING
    lines = ["Your leftovers come nearest to these shades:"]
    for number, answer in enumerate(facts["shades"], start=1):
        lines += _lines(number, answer)
    ages = {rest["called"]: age_words(rest) for answer in facts["shades"] for rest in answer["rests"]}
    lines += ["", *(f"{called[:1].upper()}{called[1:]}: {age}." for called, age in ages.items() if age), OLD_POT]
    lines += ["", "For the steps of one of them, name it: swatchcam mix use-up --shade NAME"]
    return "\n".join([*lines, *flag_lines(facts["shades"][0]["flags"], "")])


def _lines(number: int, answer: LeftoverShadeJson) -> list[str]:
    best = answer["choices"][0]
    saves = best["words"][0]
    return [
        "",
        f"{number}. {answer['shade']}: {saves[0].lower()}{saves[1:]}",
        f"   predicted {distance_words(best)}",
        f"   {put_in_words(best)}",
        f"   {as_read(best['pot_grams'], answer['scale_grams'])} g in the pot after that",
    ]
