"""`swatchcam mix`: from the colour that is wanted to what is weighed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import click

from ..errors import UsageError
from .groups import LazyGroup
from .options import (
    IN_GRAMS,
    IN_PERCENT,
    NUMBER,
    library_options,
    numbers_option,
    photo_options,
    refuse_more_than_strips,
    scale_option,
    strips_option,
    with_options,
)
from .output import tell
from .studio_defaults import grams_as_usual
from .written import check_page, page_options, write_page

_WANTED: tuple[Callable[..., Any], ...] = (
    click.option("--target", default="", metavar="L,a,b|PHOTO[:STRIP]", help="The colour that is wanted."),
    click.option("--record", type=NUMBER, metavar="N", help="The colour of this record is wanted."),
    click.option(
        "--target-state",
        metavar="STATE",
        help="What was done to the cloth that has this colour: air-dried, heat-set, 'washed 3'. [default: what the"
        " library says of it, else the state in which the studio matches shades]",
    ),
)
_WEIGHED: tuple[Callable[..., Any], ...] = (
    scale_option,
    click.option(
        "--pigments", default="", metavar="A,B,C", help="Use only these. [default: all that have known strips]"
    ),
    click.option(
        "--max-pigments", type=click.IntRange(1, 4), metavar="N", help="Maximum number of pigments. [default: 3]"
    ),
    click.option(
        "--max-load",
        type=IN_PERCENT,
        metavar="PERCENT",
        default=10.0,
        show_default=True,
        help="All pigments together without ready-mixed inks, g in 100 g. (10 is from memory, no source: ask the ink's"
        " maker.)",
    ),
)
_BENCH: tuple[Callable[..., Any], ...] = (
    click.option("--cloth", default="", help="The cloth. [default: the pot's, else the studio's, else the only one]"),
    click.option("--ink", default="", help="The ink's family. [default: all]"),
)
_KEPT: tuple[Callable[..., Any], ...] = (
    click.option(
        "--choice", type=click.IntRange(1, 9), metavar="N", default=1, show_default=True, help="The choice to weigh."
    ),
    click.option("--keep", is_flag=True, help="Keep that choice in the library, because you are going to mix it."),
    click.option("--as", "as_batch", default="", metavar="BATCH", help="With --keep: the name of the new pot."),
    numbers_option,
    page_options,
)


def mixing_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """What all commands ask that work out a pot."""
    return with_options((*_WANTED, *_WEIGHED, *_BENCH, *_KEPT), command)


@click.group(cls=LazyGroup, lazy={"use-up": "swatchcam.cli.mixing.use_up:use_up"})
def mix() -> None:
    """Find a recipe, correct a pot, thin one that is too strong, or mix a shade again.

    All rests on strips whose recipe is known: test series ('swatchcam pigment series') and every batch that was kept
    with its recipe. Pigment cannot be taken out again: what is proposed for a pot is only ever an addition.

    \b
    Example:
      swatchcam mix recipe --target 41.2,-8.0,-32.5 --grams 500
    """


@mix.command()
@grams_as_usual(type=IN_GRAMS)
@click.option("--shade", default="", metavar="NAME", help="The shade: its colour is wanted, or it is kept under it.")
@mixing_options
@photo_options
@library_options
def recipe(grams: float, shade: str, library: str | None, **rest: Any) -> None:
    """Find recipes for a colour: few pigments first, each with the colour you can expect.

    \b
    Examples:
      swatchcam mix recipe --shade "river blue" --grams 500 --scale 0.01 --keep
      swatchcam mix recipe --target wanted.jpg:left --target-state heat-set --grams 250 --pigments blue,black,white
    """
    from ..library.library import open_library
    from ..mixing.fresh_pot import new_recipe

    check_kept(rest)
    opened = open_library(library)
    answer = new_recipe(opened, asked_of(rest | {"shade": shade}), order_of(grams, rest), place_of(rest))
    tell_answer(opened, answer, shade, grams, rest)


@mix.command()
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--shade", default="", metavar="NAME", help="The shade that you want the pot to match.")
@click.option("--batch", default="", metavar="NAME", help="The batch in the pot. [default: the shade's last one]")
@click.option("--in-pot", "grams", type=IN_GRAMS, required=True, metavar="GRAMS", help="What is in the pot now.")
@strips_option("A strip of the pot")
@click.option(
    "--mark",
    "marks",
    multiple=True,
    help="What you wrote on the strip; once for each --strip. All strips of a pot without a mark count as one and the"
    " same. [default: A, B ... for several]",
)
@click.option(
    "--target-strip",
    "target_strip",
    default=None,
    metavar="STRIP",
    help="The strip in the same photo that is the target, such as left: the surest way.",
)
@click.option("--state", help="What was done to the strips of the pot: air-dried, heat-set. [default: air-dried]")
@click.option("--unknown", is_flag=True, help="Nobody knows what is in the pot: go by its colour alone.")
@click.option(
    "--thin",
    type=IN_GRAMS,
    metavar="GRAMS",
    help="The pot is too strong: make this much ink, a fresh pot of clear base with some of the strong ink.",
)
@mixing_options
@photo_options
@library_options
def correct(photos: tuple[Path, ...], grams: float, thin: float | None, **rest: Any) -> None:
    """Find out what to add to a pot that is off: only what very likely helps.

    PHOTO shows strips of the pot. No two strips smeared by hand are alike: with two or three strips of the pot, a
    correction is far surer than with one. The target is the strip that --target-strip names, else --target or
    --record, else the shade's own. With --thin you also see what topping up the strong pot would take.

    Nothing is kept without --keep. With it the pot's strips are kept, and make the next prediction better, even if
    the pot is best left as it is.

    \b
    Examples:
      swatchcam mix correct today.jpg --shade "river blue" --batch 3 --in-pot 480 --target-strip left
      swatchcam mix correct today.jpg --shade "river blue" --in-pot 480 --strip right --strip beside-1 --keep
      swatchcam mix correct strong.jpg --shade "river blue" --in-pot 480 --thin 500
      swatchcam mix correct old_pot.jpg --unknown --in-pot 300 --target 41.2,-8.0,-32.5
    """
    _pot(photos, grams, thin, rest)


@mix.command()
@click.argument("shade", metavar="SHADE")
@grams_as_usual(type=IN_GRAMS)
@click.option(
    "--leftover", "rests", multiple=True, metavar="BATCH=GRAMS", help="What is left of an old batch; it goes in first."
)
@mixing_options
@photo_options
@library_options
def again(shade: str, grams: float, rests: tuple[str, ...], library: str | None, **rest: Any) -> None:
    """Mix a shade again: old pots are used up first, and new lots of pigment count by their strength.

    \b
    Example:
      swatchcam mix again "river blue" --grams 600 --leftover 3=140 --scale 0.01
    """
    from ..library.library import open_library
    from ..mixing.fresh_pot import repeated

    check_kept(rest)
    opened = open_library(library)
    answer = repeated(opened, asked_of(rest | {"shade": shade}), order_of(grams, rest), place_of(rest), rests)
    tell_answer(opened, answer, shade, grams, rest)


@mix.command("predictions")
@click.option("--shade", default=None, metavar="NAME", help="Only this shade.")
@page_options
@library_options
def predictions_of(shade: str | None, page: Path | None, replace: bool, library: str | None, as_json: bool) -> None:
    """See how well earlier recipes and corrections came out, and which are not measured yet.

    \b
    Example:
      swatchcam mix predictions
    """
    from ..library.library import open_library
    from ..library.proposal_store import proposals
    from ..mixing.prediction_check import checked_predictions, prediction_rate
    from ..report.mixing import prediction_check_dict
    from ..report.mixing_text import prediction_check_text

    check_page(page, replace)
    opened = open_library(library)
    name = opened.shade(shade).name if shade else None
    made = proposals(opened, name)
    facts = prediction_check_dict(prediction_rate(checked_predictions(made, opened.records(name))), made)
    if page:
        from ..report.mixing_page import prediction_check_page

        write_page(page, prediction_check_page(facts, date.today().isoformat()))
    tell(facts, prediction_check_text, as_json)


def _pot(photos: tuple[Path, ...], grams: float, thin: float | None, rest: dict[str, Any]) -> None:
    from ..library.library import open_library
    from ..mixing.pot_in_hand import correct_sitting, photographed, strips_kept
    from ..mixing.requests import CorrectionRequest, Hand

    check_kept(rest)
    opened = open_library(rest["library"])
    refuse_more_than_strips(rest["strips"], mark=rest["marks"])
    first, *others = rest["strips"] or (None,)
    hand = Hand(rest["batch"], first, rest["target_strip"], rest["unknown"], tuple(others), rest["marks"])
    request = CorrectionRequest(asked_of(rest), order_of(grams, rest), hand, place_of(rest), thin)
    sitting = photographed([str(photo) for photo in photos], request)
    answer = correct_sitting(opened, sitting, request)
    tell_answer(opened, answer, rest["shade"], grams, rest, partial(strips_kept, opened, sitting))


def check_kept(rest: dict[str, Any]) -> None:
    """Before any work: the page may be written, and a name is given only to a pot that is kept."""
    check_page(rest["page"], rest["replace"])
    if rest["as_batch"] and not rest["keep"]:
        raise UsageError("pot-named-but-not-kept", "keep-or-leave-out-the-name")


def asked_of(rest: dict[str, Any]) -> Any:
    """The colour that is wanted."""
    from ..mixing.target import TargetRequest

    how = {"other_light": [str(photo) for photo in rest["other_light"]], "row": rest["row"]}
    state = state_of(rest["target_state"])
    return TargetRequest(rest["target"], rest["record"], rest["shade"], rest["card"], how, state)


def place_of(rest: dict[str, Any]) -> Any:
    """What is mixed for."""
    from ..mixing.requests import PrintConditions

    return PrintConditions(rest["cloth"], state_of(rest.get("state")), rest["ink"])


def state_of(typed: str | None) -> Any:
    """The state that was typed; None where none was."""
    from ..library.records import parse_state

    return None if typed is None else parse_state(typed)


def order_of(grams: float, rest: dict[str, Any]) -> Any:
    """How much, and of what."""
    from ..mixing.order import Order

    names = tuple(name.strip() for name in rest["pigments"].split(",") if name.strip())
    return Order(grams, rest["scale"], names, rest["max_pigments"], rest["max_load"])


def tell_answer(
    library: Any, answer: Any, shade: str, grams: float, rest: dict[str, Any], with_strips: Any = lambda same: same
) -> None:
    """Keep the choice if that is wanted, write the sheet, and say what was found."""
    from ..library.search import handled
    from ..mixing.keep_choice import choice_of, keep_choice
    from ..recipes.safety import HEAT
    from ..report.mixing import answer_dict
    from ..report.mixing_text import answer_text

    if answer.proposed.choices or rest["choice"] > 1:
        choice_of(answer, rest["choice"])
    answer, kept = with_strips(answer) if rest["keep"] else answer, None
    if rest["keep"] and not answer.proposed.leave:  # of a pot that had better be left the strip alone is kept
        kept = keep_choice(library, answer, shade, rest["as_batch"], rest["choice"])
    facts = answer_dict(answer, order_of(grams, rest), kept, rest["choice"])
    if rest["page"]:
        from ..report.mixing_page import mix_page

        write_page(rest["page"], mix_page(facts, date.today().isoformat(), rest["choice"]))
    known = {*handled(library, [HEAT])}  # what is weighed is taken care of in full every time
    tell(facts, partial(answer_text, numbers=rest["numbers"], known=known), rest["as_json"])
