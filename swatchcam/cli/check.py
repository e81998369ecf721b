"""`swatchcam check`: is today's strip the same as the last batch, or as the target?"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import UsageError
from .options import DECIMAL, LET_DOWN, NUMBER, judge_option, library_option, measuring_options, numbers_option
from .output import said_options, tell
from .studio_defaults import studio_of
from .written import check_picture, draw_picture

if TYPE_CHECKING:
    from ..report.json_types.measuring import StainingJson

# What only a strip of ink has; the formula of the grade is for D65 and 10 degrees.
NOT_OF_STAINING = (
    *("target", "shade", "batch", "against_target", "record", "state", "after_heat", "let_down", "coats", "judge"),
    *("tolerance", "illuminant", "observer", "loose"),
)


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam check sample_images/good_pair.jpg --card sample-card\n"
    "  swatchcam check today.jpg --target 41.2,38.0,-12.5 --tolerance 1.5\n"
    "  swatchcam check today.jpg --against march.jpg:left\n"
    "  swatchcam check one.jpg two.jpg three.jpg --other-light lamp.jpg\n"
    '  swatchcam check today.jpg --shade "river blue"\n'
    '  swatchcam check today.jpg --shade "river blue" --after-heat\n'
    '  swatchcam check thinned.jpg --shade "river blue" --let-down 10\n'
    "  swatchcam check today.jpg --strip right --strip second.jpg:right --against left --judge pot\n"
    "  swatchcam check stained.jpg --staining\n\n"
    "\b\nExit code: 0 same, 4 different, 5 too close to call, 3 refused, 2 wrong use.\n"
    "Of a pot: 0 same ink, 4 different shade or strength, 5 same proportions or too close to call.\n"
    "Of a staining: 0 graded, whatever the grade.",
)
@click.argument("photos", metavar="PHOTO...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--strip",
    "strips",
    multiple=True,
    metavar="STRIP",
    help="The strip to compare: left, right, beside-1 ..., or PHOTO:STRIP. Repeat it for several strips of one pot."
    " [default: right, today's strip]",
)
@click.option("--target", metavar="L,a,b", help="Compare with these CIELAB values.")
@click.option(
    "--against",
    multiple=True,
    metavar="STRIP|PHOTO[:STRIP]",
    help="Compare with this strip, or with one in another photo (by default the one of the same name). Repeat it"
    " for several strips of one pot.",
)
@click.option("--shade", default="", metavar="NAME", help="Compare with the last batch of this shade in the library.")
@click.option("--batch", default="", metavar="NAME", help="With --shade: compare with this batch, not the last one.")
@click.option("--against-target", is_flag=True, help="With --shade: compare with its target, in the target's state.")
@click.option("--record", type=NUMBER, metavar="N", help="Compare with this record of the library.")
@click.option(
    "--state",
    show_default="air-dried",
    help="What was done to the strip: wet, air-dried, 'heat-set 150 C 4 min press', 'washed 3' or rubbed. With --shade"
    " it is compared with a strip in the same state. If a record or target is in another state, the colour of the"
    " earlier one is predicted in the later state.",
)
@click.option(
    "--after-heat",
    is_flag=True,
    help="With --shade: predict the colour of this dry strip once it is heat-set, and compare it with the last heat-set"
    " strip.",
)
@LET_DOWN(
    help="The strip is let down with so many parts of clear base to one part of ink: 10, or 1:10. With --shade or"
    " --record it is compared with a strip let down as far."
)
@click.option(
    "--coat",
    "coats",
    multiple=True,
    metavar="TEXT",
    help="With --shade or --record: wet ink on the strip by weight, such as '0.72 g on 10x10 cm'; once for each"
    " --strip.",
)
@click.option(
    "--staining",
    is_flag=True,
    help="The windows hold white cloth, the left one clean, the right one rubbed on or washed with a print: grade how"
    " much colour came off.",
)
@judge_option("What the first line and the exit code are about")
@click.option(
    "--tolerance",
    type=DECIMAL,
    default=None,
    help="Largest difference that counts as the same, CIEDE2000. [default: the shade's own, else the studio's, else 2]",
)
@numbers_option
@measuring_options
@library_option
def check(
    photos: tuple[Path, ...],
    strips: tuple[str, ...],
    target: str | None,
    against: tuple[str, ...],
    shade: str,
    batch: str,
    against_target: bool,
    record: int | None,
    state: str | None,
    after_heat: bool,
    let_down: str,
    coats: tuple[str, ...],
    staining: bool,
    judge: str | None,
    tolerance: float | None,
    card: str | None,
    illuminant: str,
    observer: str,
    other_light: tuple[Path, ...],
    row: str | None,
    loose: bool,
    picture: Path | None,
    replace: bool,
    library: str | None,
    numbers: bool,
    as_json: bool,
) -> None:
    """Check whether the strip in PHOTO is the same as the last batch, a target, or a strip you kept.

    Without any of these, the right window (today's strip) is compared with the left one (the last batch).
    Several photos of the same scene under the same light are measured together; the first is the one that is named
    and drawn. A strip is not the ink: where bare cloth shows beside the ink, the answer also tells a different shade
    from a stronger ink or a thicker film.
    """
    from ..library.compare import ReferenceRequest, check_recalled
    from ..library.records import parse_state
    from ..measurement.check import Check, check_photo
    from ..measurement.pot_verdict import POT, STRIPS
    from ..measurement.verdict import Outcome
    from ..recipes.film_weight import parse_coat
    from ..recipes.let_down import parse_let_down
    from ..report.measurement import check_dict
    from ..report.measurement_text import check_text
    from ..report.staining import staining_text

    check_picture(picture, replace, (*photos, *other_light))
    first, *again = (str(photo) for photo in photos)
    how: dict[str, Any] = {
        "again": again,
        "other_light": [str(photo) for photo in other_light],
        "row": row,
        "illuminant": illuminant,
        "observer": int(observer),
        "beside": loose,
    }
    if staining:
        _grade(first, card, strips, against, how, picture, partial(staining_text, numbers=numbers), as_json)
        return
    wanted = ReferenceRequest(
        shade, batch, record, against_target, parse_state(state or "air-dried"), after_heat, parse_let_down(let_down)
    )
    if judge == POT and (target or against_target):
        raise UsageError("pot-against-numbers", "compare-with-strips")
    if coats and not wanted.anything:
        raise UsageError("coat-without-kept-strip", "name-shade-or-record")
    if state and not wanted.anything:
        raise UsageError("state-without-kept-strip", "name-shade-or-record")
    if wanted.let_down and not wanted.anything:
        raise UsageError("let-down-without-kept-strip", "name-shade-or-record")
    weighed = [parse_coat(text) for text in coats]
    if not wanted.anything:
        if tolerance is None:
            tolerance = getattr(studio_of(click.get_current_context()), "tolerance", None)
        found = check_photo(first, card, strips=strips, target=target, against=against, tolerance=tolerance, **how)
        from_library, states, own = None, None, STRIPS
    elif target or against:
        raise UsageError("two-references", "name-one-of-the-two")
    else:
        from ..library.library import open_library
        from ..report.library_records import recalled_dict, states_dict

        recalled, sample = check_recalled(
            open_library(library), first, card, wanted, strips=strips, tolerance=tolerance, coats=weighed, **how
        )
        found = Check(recalled.verdict, sample, pots=recalled.pots)
        from_library, states = recalled_dict(recalled), states_dict(recalled)
        own = recalled.shade.judge if recalled.shade else STRIPS
    facts = check_dict(found, from_library, judge or own, states)
    tell(facts, partial(check_text, numbers=numbers), as_json)
    draw_picture(found.sample, picture)
    exit_codes = {Outcome.SAME: 0, Outcome.DIFFERENT: 4, Outcome.TOO_CLOSE: 5}
    click.get_current_context().exit(exit_codes[found.outcome(judge or own)])


def _grade(
    photo: str,
    card: str | None,
    strips: tuple[str, ...],
    against: tuple[str, ...],
    how: dict[str, Any],
    picture: Path | None,
    text: Callable[[StainingJson], str],
    as_json: bool,
) -> None:
    """Grade a stained cloth, and refuse what else was asked of the photo.

    Raises
    ------
    UsageError
        An option was given that a stained cloth has no use for.
    """
    from ..measurement.staining import check_staining
    from ..report.staining import staining_dict

    context = click.get_current_context()
    if others := [name for name in NOT_OF_STAINING if said_options(context, [name])]:
        spelt = [param.opts[0] for param in context.command.params if param.name in others]
        raise UsageError("staining-with-others", "grade-staining-alone", options=spelt)
    found = check_staining(photo, card, strips=strips, against=against, **how)
    tell(staining_dict(found), text, as_json)
    draw_picture(found.sample, picture)
