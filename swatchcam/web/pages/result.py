"""Page: the answer to a photo, as a picture, a word and a sentence first, the numbers one tap away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from ...cards.values import NEVER_MEASURED
from ...errors import SwatchcamError, UsageError
from ...library.library import Library
from ...library.proposal_store import proposals
from ...library.proposals import Proposal
from ...library.records import DRY, Record, parse_state
from ...measurement.pot_verdict import STRIPS, PotOutcome, as_outcome
from ...measurement.summary import Sitting, sitting_from
from ...measurement.verdict import Outcome, between, judge
from ...messages.message import Flag
from ...report.json_types import CheckJson
from ...report.plots.colour_plots import interval_bar
from ...text import the_strip
from ..context import Studio
from ..inbox import TrayItem
from ..render import REFUSAL, page
from .chips import filled
from .comparison import (
    SHAPES,
    SIGNS,
    STRIP,
    Question,
    captions,
    judged,
    once_words,
    question_of,
    reference_lab,
    reference_words,
    strip_lab,
)
from .result_words import advice, lead
from .state_fields import TAPS, asked_state, state_typed
from .ways_out import ways_out

ShownStrip = tuple[str, str, str, Markup]  # a strip's name, its words, what is told below them, its chip

PHOTO = "photo"  # the kind of item
NO_INK = "bare-cloth", "bare-white"  # flags of a window: it may be white cloth, clean beside a stained one
LARGE = (400, 320)  # px of a chip; the page fits it in


def answer_page(request: Request, studio: Studio, item: TrayItem, sitting: Sitting, again: dict[str, Any]) -> Response:
    """The answer of an item that gave a sitting; `again` is what the form needs that measures it once more."""
    assert item.answer is not None
    facts, found, question, problem = item.answer["facts"], None, None, None
    try:
        question = question_of(request.query_params, sitting, item.asked)
        found = judged(studio, sitting, facts, question) if question.to else None
    except SwatchcamError as error:
        problem = error
    question = question or question_of({}, sitting, {})
    library = studio.found()
    # That nobody measured the card, the page tells in words of its own; another photo wouldn't help.
    weak = [flag for flag in sitting.flags[question.strip] if flag.code not in NEVER_MEASURED]
    return page(
        request,
        "photo.html.jinja",
        status=REFUSAL if problem else 200,
        item=item,
        facts=facts,
        problem=problem,
        question=question,
        name=the_strip(question.strip),
        strips={kept.name: the_strip(kept.name) for kept in sitting.strips},
        chips=_chips(sitting),
        weak=weak,
        **_states(library, question),
        ways=ways_out(library, sitting, question, problem) if library and problem else [],
        cloth_seen=any(flag.code in NO_INK for flags in sitting.flags.values() for flag in flags),
        records=records_on(library, sitting) if library else {},
        shades=[shade.name for shade in library.shades()] if library else [],
        **again,
        **_verdict(sitting, question, found, weak),
    )


def shows_cloth(item: TrayItem) -> bool:
    """Whether the photos of an item were sent as ones of stained white cloth: there is no ink in them."""
    return bool(item.asked.get("staining"))


def sitting_on(item: TrayItem, *, cloth: bool = False) -> Sitting:
    """What the photos of an item gave; of stained white cloth only if `cloth` is asked for.

    Raises
    ------
    UsageError
        They are not measured, or were refused, or by another version of the program, or show no ink.
    """
    if shows_cloth(item) and not cloth:
        raise UsageError("photo-of-cloth", "measure-it-as-strips")
    if item.kind != PHOTO or item.state != "done" or item.answer is None:
        raise UsageError("photo-without-colours", "take-another-photo")
    try:
        return sitting_from(item.answer["sitting"])
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise UsageError("answer-not-read", "measure-it-again") from error


def records_on(library: Library, sitting: Sitting) -> dict[str, Record]:
    """The records of the strips of a sitting that are kept already, by the strip's name.

    A record of one of its photos alone is another measurement.
    """
    photos = [ref.digest for _, ref in sitting.photos]
    records = library.records(digest=sitting.digest)
    return {one.colour.name: one for one in records if [ref.digest for ref in one.photos] == photos}


def pot_of(library: Library, asked: Mapping[str, Any]) -> Proposal | None:
    """The pot whose strip a photo was sent as, if its mix was kept; `asked` is that of the photo's item."""
    return proposal_of(proposals(library), asked["mix"]) if asked.get("mix") else None


def proposal_of(made: Sequence[Proposal], mix: str) -> Proposal | None:
    """The choice of a mix on the tray that is kept in the library, where one is; `mix` is the item's id."""
    return next((one for one in made if one.facts.get("asked") == mix), None)


def outcome_of(sitting: Sitting) -> str:
    """The verdict on two strips in one photo, at the usual tolerance; "" where there are not two."""
    question = question_of({}, sitting, {})
    if question.to != STRIP:
        return ""
    return judge(between(sitting.strip_named(question.strip), sitting.strip_named(question.other))).outcome


def _verdict(sitting: Sitting, question: Question, found: CheckJson | None, weak: list[Flag]) -> dict[str, Any]:
    """What the page says of a check of photos with these flags; nothing where there was nothing to judge against."""
    if found is None:
        return {"found": None, "add_first": False}
    sample = the_strip(question.strip) + once_words(found, "strip")
    reference, (own, other) = reference_words(question, found), captions(question, found)
    difference, lab = found["difference"], reference_lab(sitting, question, found)
    low, high = difference["interval95"]
    outcome, headline = _judged(found)
    bar = interval_bar(difference["ciede2000"], low, high, found["tolerance"], "Difference (CIEDE2000)")
    return {
        "found": found,
        "headline": headline,
        "of_pots": _below(headline, found["pots"]["sentences"] if found["pots"] else []),
        "sign": SIGNS[outcome],
        "shape": SHAPES[outcome],
        "lead": lead(found, sample, reference),
        "advice": advice(found, _of_first_light(sitting, weak)),
        "add_first": outcome == Outcome.TOO_CLOSE,
        "reference": reference,
        "pair": _as_they_lie(
            sitting,
            (question.strip, *own, filled(strip_lab(sitting, question, found), sample, size=LARGE)),
            (question.other, *other, filled(lab, reference, size=LARGE)),
        ),
        "bar": Markup(bar),
    }


def _judged(found: CheckJson) -> tuple[Outcome, str]:
    """The verdict that counts, of the strips or of the pot behind them, and in which words."""
    pots = found["pots"]
    if found["judged"] == STRIPS or not pots or not pots["outcome"]:
        return Outcome(found["verdict"]), found["verdict"]
    return as_outcome(PotOutcome(pots["outcome"])), pots["outcome"]


def _below(headline: str, sentences: Sequence[str]) -> list[str]:
    """The sentences that stand below a headline, which need not say it again."""
    if not sentences or not sentences[0].lower().startswith(headline):
        return list(sentences)
    rest = sentences[0][len(headline) :].lstrip(".:, ")
    return [rest[:1].upper() + rest[1:], *sentences[1:]]


def _of_first_light(sitting: Sitting, flags: list[Flag]) -> list[Flag]:
    """The flags without those of photos under another lamp, which may be as poor as lamps are."""
    other = {ref.name for _, ref in sitting.photos if ref.light != 1}
    return [flag for flag in flags if flag.photo not in other]


def _as_they_lie(sitting: Sitting, sample: ShownStrip, reference: ShownStrip) -> list[tuple[str, str, Markup]]:
    """Two strips of one photo in their order in it; what the library held goes left, where an old strip lies."""
    order = [kept.name for kept in sitting.strips]
    turned = reference[0] not in order or order.index(reference[0]) < order.index(sample[0])
    return [shown[1:] for shown in ((reference, sample) if turned else (sample, reference))]


def _states(library: Library | None, question: Question) -> dict[str, Any]:
    """The fields of the state for another comparison, and addresses of the same one with the strip in another state."""
    said = state_typed(question.state)
    taken = said or DRY
    others = {state: words for state, words in TAPS.items() if not parse_state(state).like(taken)}
    return {
        "state_fields": asked_state(library, question.shade, said),
        "taken": taken,
        "other_states": {question.address(state=state, after_heat=""): words for state, words in others.items()},
    }


def _chips(sitting: Sitting) -> list[tuple[str, Markup]]:
    names = [(kept, the_strip(kept.name)) for kept in sitting.strips]
    return [(name, filled(kept.lab, name, size=LARGE)) for kept, name in names]
