"""`swatchcam card test`: do card, values and phone measure right, as far as one photo can tell?"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..groups import json_option
from ..options import card_option, numbers_option
from ..output import tell

if TYPE_CHECKING:
    from ...measurement.prints.card_test import CardTest, PairTest, WhiteTest
    from ...report.json_types import CardTestJson
    from ...report.json_types.cards import GreyPairJson, WhiteTestJson

PASSED, FAILED, CANNOT_TELL = "passed", "failed", "cannot tell"
EXIT_CODES = {PASSED: 0, FAILED: 4, CANNOT_TELL: 5}
PAIRS = {
    PASSED: "the grey scale comes out as it should.",
    FAILED: "the grey scale does not come out as it should.",
    CANNOT_TELL: "this photo isn't sure enough to tell that pair from the next one.",
}
WHITE = {
    PASSED: "the card's white is what its values say.",
    FAILED: "the card's white is not what its values say.",
}
CARD = {
    PASSED: "the card fits its values.",
    FAILED: "the card does not fit its values.",
    CANNOT_TELL: "this photo can't say whether the values are this card's.",
}
NEXT_PAIRS = {
    FAILED: "Check that it is the pair you named and that it is clean, and take another photo in daylight. If it fails"
    " again, don't trust small differences from this phone in this light.",
    CANNOT_TELL: "Take another photo in daylight, with the card filling the picture, or try a pair of another grade.",
}
NEXT_WHITE = {
    FAILED: "If the values say a bluer white than the photo shows, the card was read with ultraviolet that your lamp"
    " doesn't have: take photos in daylight, or have the card read without ultraviolet (ISO 13655 M2). If not, the"
    " values are for another paper.",
}
NEXT_CARD = {
    FAILED: "Check that the values are those of this print, and that it is clean. If both are right, it has faded:"
    " print a new card.",
    CANNOT_TELL: "With a grey scale (ISO 105-A02) you can test its differences: lay a pair in the left window, its"
    " dividing line upright in the middle, and add --left and its grade.",
}

SAID = {"pairs": (PAIRS, NEXT_PAIRS), "white": (WHITE, NEXT_WHITE), "card": (CARD, NEXT_CARD)}


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam card test sample_images/good_pair.jpg --card sample-card\n"
    "  swatchcam card test greys.jpg --left 3 --right 4-5\n\n"
    "\b\nExit code: 0 passed, 4 failed, 5 can't tell, 3 refused, 2 wrong use.",
)
@click.argument("photo", metavar="PHOTO", type=click.Path())
@click.option("--left", metavar="GRADE", help="Grade of the grey scale's pair in the left window: 5, 4-5, 4 ... 1.")
@click.option("--right", metavar="GRADE", help="The same for the right window.")
@click.option(
    "--white",
    metavar="WINDOW",
    help="The window in which PTFE of at least 0.5 mm lies, to test the card's white.",
)
@card_option
@numbers_option
@json_option
def test(
    photo: str, left: str | None, right: str | None, white: str | None, card: str | None, numbers: bool, as_json: bool
) -> None:
    """Test whether a card measures right with your phone, in your light.

    Without a grey scale this says how well the card in PHOTO fits its values, and how far you can trust what is
    measured with it. If you have a grey scale for change in colour (ISO 105-A02), lay one of its pairs in a window,
    its dividing line upright in the middle, and name its grade: the difference must come out as the standard says. With
    PTFE in a window (see 'card learn') you see whether the card's white looks as its values say, in your light.
    """
    from ...measurement.prints.card_test import check_card

    pairs = {window: grade for window, grade in (("left", left), ("right", right)) if grade is not None}
    found = check_card(photo, card, pairs=pairs, white=white)
    tell(as_dict(found), partial(as_text, photo=photo, numbers=numbers), as_json)
    click.get_current_context().exit(EXIT_CODES[found.outcome])


def as_dict(found: CardTest) -> CardTestJson:
    """The outcome first, then all it rests on."""
    from ...report.said import flag_dicts

    values, outcome = found.look.values, str(found.outcome)
    words, advice = SAID[next(part for part, came_out in found.parts.items() if came_out == outcome)]
    return {
        "outcome": outcome,
        "sentence": words[outcome],
        "next": [advice[outcome]] if outcome in advice else [],
        "pairs": [_pair_dict(pair) for pair in found.pairs],
        "white": _white_dict(found.white) if found.white else None,
        "fits_values": str(found.card),
        "patches_off_ciede2000": round(found.look.balance.rms, 2),
        "values": values.name,
        "grade": values.grade,
        "number": found.look.number,
        "absolute95_ciede2000": round(found.own, 2),
        "difference95_ciede2000": round(found.between, 2),
        "flags": flag_dicts(found.flags),
    }


def _pair_dict(pair: PairTest) -> GreyPairJson:
    return {
        "window": pair.window,
        "grade": pair.step.grade,
        "wanted": pair.step.nominal,
        "tolerance": pair.step.tolerance,
        "measured": round(pair.difference, 2),
        "interval95": [round(pair.low, 2), round(pair.high, 2)],
        "outcome": str(pair.outcome),
    }


def _white_dict(white: WhiteTest) -> WhiteTestJson:
    return {
        "window": white.window,
        "lab": [round(value, 2) for value in white.lab],
        "stated": [round(value, 2) for value in white.stated],
        "ciede2000": round(white.apart, 2),
        "allowed_ciede2000": round(white.allowed, 2),
        "outcome": str(white.outcome),
    }


def as_text(found: CardTestJson, photo: str, numbers: bool) -> str:
    """The same for a person."""
    from ...cards.print_number import spoken
    from ...cards.values import UNREAD
    from ...report.measurement import GRADE_WORDS
    from ...report.said import flag_lines

    number = f"print {spoken(found['number'])}, " if found["number"] else ""
    off = f"; its patches are off by {found['patches_off_ciede2000']:.1f} (CIEDE2000)" if numbers else ""
    known = GRADE_WORDS[found["grade"]] + ("" if found["grade"] in UNREAD else f" ({found['values']})")
    lines = [
        f"{found['outcome'].upper()}: {found['sentence']}",
        "",
        *(f"  {_pair_line(pair)}" for pair in found["pairs"]),
        *([f"  {_white_line(found['white'])}"] if found["white"] else []),
        f"  Card in {Path(photo).name}: {number}{known}{off}",
        f"  Photo: {'see below' if found['flags'] else 'nothing wrong with the light or the picture'}",
        f"  {_trust_line(found)}",
        *flag_lines(found["flags"]),
        *(f"  {line}" for line in found["next"]),
    ]
    return "\n".join(lines)


def _pair_line(pair: GreyPairJson) -> str:
    low, high = pair["interval95"]
    return (
        f"{pair['window']}: grade {pair['grade']}, {pair['measured']:.1f} ({low:.1f} to {high:.1f}) where the standard"
        f" says {pair['wanted']:.1f} ± {pair['tolerance']:g}: {pair['outcome']}"
    )


def _white_line(white: WhiteTestJson) -> str:
    here, stated = (" ".join(f"{round(value, 1) + 0:.1f}" for value in lab) for lab in (white["lab"], white["stated"]))
    apart, allowed = white["ciede2000"], white["allowed_ciede2000"]
    return (
        f"{white['window']}: L* a* b* of the card's white is {here} by the PTFE, {stated} by its values; {apart:.1f}"
        f" apart (CIEDE2000) where up to {allowed:.1f} is likely measurement error: {white['outcome']}"
    )


def _trust_line(found: CardTestJson) -> str:
    difference, own = found["difference95_ciede2000"], found["absolute95_ciede2000"]
    return (
        f"You can trust the difference between two similar strips in this photo to about {difference:.1f}, and a"
        f" colour's own numbers to about {own:.1f} (CIEDE2000)"
    )
