"""A question at the mixing table, as JSON -> its answers, as JSON: worked out in a process that only reads the library.

What is to be written, the pot's strip and the proposal that is taken, goes back to the server as values.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ...library.entry import Entry
    from ...library.library import Library
    from ...library.proposals import Proposal
    from ...library.records import State
    from ...mixing.order import Order
    from ...mixing.requests import Answer, Hand, PrintConditions
    from ...mixing.target import TargetRequest

Facts = Mapping[str, Any]


def mixed(job: Facts) -> dict[str, Any]:
    """What came out, from the question in `job["asked"]` (`mix_question` makes it), in the library `job["library"]`.

    Returns
    -------
    dict of
        answers : `mixing.answer_dict` with the weighing list of each choice in turn; one where there is no choice
        proposals : each choice as the library would keep it; none where the pot had better be left
        shade : that the answer is of, or ""
        absolute : whether numbers that were measured here mean anything elsewhere
        entries : strips of the pot that are still to be kept, and as what

    Raises
    ------
    SwatchcamError
        As `fresh_pot` and `pot_in_hand`.
    """
    from ...library.library import open_library
    from ...mixing.keep_choice import proposal_for
    from ...report.mixing import answer_dict

    question = job["asked"]
    order = order_from(question)
    answer = _answer(open_library(job["library"]), question, order)
    choices, shade = answer.proposed.choices, answer.shade.name if answer.shade else ""
    proposals = [] if answer.proposed.leave else [proposal_for(answer, choice, shade, "") for choice in choices]
    return {
        "answers": [answer_dict(answer, order, None, number) for number in range(1, max(len(choices), 1) + 1)],
        "proposals": [_proposal_dict(proposal) for proposal in proposals],
        "shade": shade,
        "absolute": answer.bench.absolute,
        "entries": [[strip, _entry_dict(entry)] for strip, entry in answer.entries],
    }


def order_from(question: Facts) -> Order:
    """What was ordered with a question."""
    from ...mixing.order import Order

    return Order(**question["order"] | {"pigments": tuple(question["order"]["pigments"])})


def proposal_from(facts: Facts) -> Proposal:
    """A proposal of the answer, back from JSON."""
    from ...library.proposals import Proposal, Used
    from ...library.records import parse_state
    from ...recipes.recipe import recipe_from_json

    covariance = tuple(tuple(row) for row in facts["covariance"])
    tuples = {name: tuple(facts[name]) for name in ("target", "lab", "reflectance")} | {"covariance": covariance}
    read = {"recipe": recipe_from_json(facts["recipe"]), "state": parse_state(facts["state"])}
    read["target_state"] = _state(facts.get("target_state"))
    read["used"] = tuple(Used(**each) for each in facts.get("used", ()))
    return Proposal(**dict(facts) | tuples | read)


def entry_from(facts: Facts) -> Entry:
    """As what a strip is to be kept, back from JSON."""
    from ...library.entry import entry_of

    return entry_of(**facts)


def _answer(library: Library, question: Facts, order: Order) -> Answer:
    from ...library.proposals import AGAIN, RECIPE
    from ...measurement.summary import sitting_from
    from ...mixing.fresh_pot import new_recipe, repeated
    from ...mixing.pot_in_hand import correct_record, correct_sitting
    from ...mixing.requests import CorrectionRequest
    from ...mixing.target import of_strip

    asked, place = _asked(question), _place(question)
    sitting = sitting_from(question["sitting"]) if question["sitting"] else None
    if question["kind"] == RECIPE:
        wanted = of_strip(sitting, question["strip"]) if sitting else None
        return new_recipe(library, asked, order, place, wanted)
    if question["kind"] == AGAIN:
        return repeated(library, asked, order, place, question["rests"])
    request = CorrectionRequest(asked, order, _hand(question["hand"]), place, question["thinner_g"])
    if sitting:
        return correct_sitting(library, sitting, request)
    return correct_record(library, question["record"], request)


def _hand(said: Facts) -> Hand:
    from ...mixing.requests import Hand

    return Hand(**dict(said) | {"others": tuple(said.get("others", ()))})


def _asked(question: Facts) -> TargetRequest:
    from ...mixing.target import TargetRequest

    return TargetRequest(**question["asked"] | {"state": _state(question["asked"].get("state"))})


def _place(question: Facts) -> PrintConditions:
    from ...mixing.requests import PrintConditions

    return PrintConditions(**question["place"] | {"state": _state(question["place"]["state"])})


def _state(typed: str | None) -> State | None:
    from ...library.records import parse_state

    return parse_state(typed) if typed else None


def _proposal_dict(proposal: Proposal) -> dict[str, Any]:
    from ...recipes.recipe import recipe_json

    states = {name: str(state) if (state := getattr(proposal, name)) else "" for name in ("state", "target_state")}
    used = [vars(each) for each in proposal.used]
    return vars(proposal) | {"recipe": recipe_json(proposal.recipe), "used": used} | states


def _entry_dict(entry: Entry) -> dict[str, Any]:
    said = {name: getattr(entry, name) for name in ("shade", "batch", "mark", "cloth")}
    return said | {"state": str(entry.state)}
