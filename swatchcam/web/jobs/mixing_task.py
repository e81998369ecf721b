"""A question at the mixing table, as JSON -> its answers, as JSON: worked out in a process that only reads the library.

What is to be written, the pot's strip and the proposal that is taken, goes back to the server as values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ...library.entry import Entry
    from ...library.library import Library
    from ...library.proposals import Proposal
    from ...library.records import State
    from ...mixing.order import Order
    from ...mixing.requests import Answer, Hand, PrintConditions
    from ...mixing.target import TargetRequest
    from ...recipes.premix import Making, PreMix

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
        leftovers : where no colour is asked for `shelf.leftovers.leftovers_dict`; then there are no answers

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
    if _is_open(question):
        return _shades(open_library(job["library"]), question, order)
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


def _is_open(question: Facts) -> bool:
    """Whether leftovers are to become whatever shade they come nearest to."""
    from ...library.proposals import USE_UP

    wanted = {"shade", "target", "record"} & {name for name, said in question["asked"].items() if said}
    return question["kind"] == USE_UP and not wanted


def _shades(library: Library, question: Facts, order: Order) -> dict[str, Any]:
    """Which shades leftovers come nearest to."""
    from ...library.records import DRY
    from ...library.shelf.studio import studio_of
    from ...mixing.fresh_pot import shades_from_leftovers
    from ...report.shelf.leftovers import leftovers_dict

    state = _state(question["asked"]["state"]) or studio_of(library).state or DRY
    place, given, all_of_it = _place(question), question["given"], question["all_of_it"]
    found = shades_from_leftovers(library, state, order, place, given, all_of_it)
    nothing: dict[str, Any] = {"answers": [], "proposals": [], "shade": "", "absolute": True, "entries": []}
    return nothing | {"leftovers": leftovers_dict(found, order)}


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
    read["makings"] = tuple(_making(each) for each in facts.get("makings", ()))
    return Proposal(**dict(facts) | tuples | read)


def _making(facts: Facts) -> Making:
    from ...recipes.premix import Making

    return Making(**dict(facts) | {"made": _pre_mix(facts["made"]), "of": facts["of"] and _pre_mix(facts["of"])})


def _pre_mix(facts: Facts) -> PreMix:
    from ...recipes.drops import Drops
    from ...recipes.premix import PreMix

    return PreMix(**dict(facts) | {"drops": facts["drops"] and Drops(**facts["drops"])})


def entry_from(facts: Facts) -> Entry:
    """As what a strip is to be kept, back from JSON."""
    from ...library.entry import entry_of

    return entry_of(**facts)


def _answer(library: Library, question: Facts, order: Order) -> Answer:
    from ...library.proposals import AGAIN, RECIPE, USE_UP
    from ...measurement.summary import sitting_from
    from ...mixing.fresh_pot import new_recipe, repeated, used_up
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
    if question["kind"] == USE_UP:
        return used_up(library, asked, order, place, question["given"], question["all_of_it"])
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
    shelf = {"used": [vars(each) for each in proposal.used], "makings": [asdict(each) for each in proposal.makings]}
    return vars(proposal) | {"recipe": recipe_json(proposal.recipe)} | shelf | states


def _entry_dict(entry: Entry) -> dict[str, Any]:
    said = {name: getattr(entry, name) for name in ("shade", "batch", "mark", "cloth")}
    return said | {"state": str(entry.state)}
