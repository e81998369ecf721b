"""What is weighed and counted, in words: the headline of the sheet to mix by, its lines, and what the tools cost."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ...library.proposals import CORRECTION
from ...recipes.weighing_list import Way
from ...text import counted, listed
from ..json_types import AnswerJson
from ..json_types.messages import FlagJson
from ..json_types.mixing import ChoiceJson, RestJson
from ..json_types.weighing import StepJson
from ..mixing_sentences import rest_words
from ..mixing_text import WORTH_A_LINE

COARSE = "tools-coarse"  # the flag's code

Shown = Callable[[float], str]  # grams -> as the scale shows them


def headline(facts: AnswerJson, choice: ChoiceJson, shown: Shown) -> str:
    """What to weigh for the choice whose weighing list the dict holds, in one sentence without its stop."""
    (weighing,) = facts["weighing"]
    told = listed([*map(_old_ink, facts["rests"]), *doses(weighing["steps"], shown)])
    if choice["roads"]:
        return f"Make a fresh pot: {told}"
    return f"Add {told} to the pot" if facts["kind"] == CORRECTION else f"Weigh {told}"


def _old_ink(rest: RestJson) -> str:
    if "called" in rest:
        return rest_words(rest)
    return f"the {rest['grams']:.10g} g left of batch {rest['batch']}"  # an earlier version said no more


def doses(steps: Sequence[StepJson], shown: Shown) -> list[str]:
    """All that goes into the pot, in order: "48 g of clear base", "6 drops of blue"."""
    return [f"{amount} of {ink(step)}" for step in steps if (amount := amount_of(step, shown))]


def amount_of(step: StepJson, shown: Shown) -> str:
    """ "48 g" or "6 drops"; "" where nothing goes into the pot."""
    if step.get("way") == Way.COUNT and step["drops"] is not None:
        return counted(step["drops"], "drop")
    return f"{shown(step['grams'])} g" if step["grams"] else ""


def ink(step: StepJson) -> str:
    """What goes in: "blue", or "the blue 1 % pre-mix"."""
    return f"the {step['pre_mix']} pre-mix" if step.get("pre_mix") else step["what"]


def name_of(step: StepJson) -> str:
    """What a line of the sheet is called: "blue", "blue 1 % pre-mix", "Make the blue 1 % pre-mix"; "" of the last."""
    if step.get("way") == Way.MAKE:
        return f"Make {ink(step)}"
    return ink(step).removeprefix("the ") if step.get("pre_mix") else step["what"]


def coarse(facts: AnswerJson) -> list[FlagJson]:
    """The flag that says that no way to put it in is good, and what would help."""
    flags: list[FlagJson | str] = [*facts["flags"]]  # an earlier version kept sentences in its answers
    return [flag for flag in flags if not isinstance(flag, str) and flag.get("code") == COARSE]


def tools_words(facts: AnswerJson, choice: ChoiceJson) -> str:
    """What scale and drops may cost; "" where that is nothing, or where a flag says more of it."""
    cost, (weighing,) = choice.get("tools_ciede2000", 0.0), facts["weighing"]
    if cost < WORTH_A_LINE or coarse(facts):
        return ""
    steps = weighing["steps"]
    tools = "scale and drops" if any(step.get("way") == Way.COUNT for step in steps) else "scale"
    return f"With your {tools} it lands about {cost:.1f} further off on average."
