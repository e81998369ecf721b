"""`swatchcam studio`: what the studio has and usually does."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from ..errors import UsageError
from ..recipes.recipe import SCALE_G
from .options import DECIMAL, IN_GRAMS, library_options
from .output import tell, tell_changes

if TYPE_CHECKING:
    from ..library.changes import Change
    from ..library.library import Library

    Step = Callable[[Library], Change]

# What may be forgotten -> the field of `library.shelf.studio.Studio`.
FORGET = {
    "scale": "scale_g",
    "spoon": "spoon_ml",
    "pot": "pot_g",
    "card": "card",
    "cloth": "cloth",
    "state": "state",
    "tolerance": "tolerance",
}


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam studio --scale 1 --grams 250 --cloth 'white cotton' --state 'heat-set 150 C 4 min press'\n"
    "  swatchcam studio --drops 'blue: 200 drops = 10.2 g' --drops 'blue 1 %: 250 drops = 11 g'\n"
    "  swatchcam studio --spoon '10 spoons = 48 g'\n"
    "  swatchcam studio",
)
@click.option("--scale", type=IN_GRAMS, help="The smallest step that your scale shows, g.")
@click.option(
    "--spoon",
    metavar="TEXT",
    help="What your usual spoon holds: '5 ml', or weighed: '10 spoons = 48 g' of clear base, '10 spoons of water = 50"
    " g'.",
)
@click.option("--grams", "pot", type=IN_GRAMS, help="How much you usually mix, g.")
@click.option(
    "--card",
    metavar="NAME",
    help="The card you use when a photo shows no number: a name, a file, or nominal. 'card use' sets it too.",
)
@click.option("--cloth", help="The cloth that you usually print on.")
@click.option("--state", help="The state in which you match your shades: 'heat-set 150 C 4 min press', air-dried.")
@click.option("--tolerance", type=DECIMAL, help="Largest difference that counts as the same, CIEDE2000.")
@click.option(
    "--drops",
    multiple=True,
    metavar="TEXT",
    help="Drops counted onto the scale: 'blue: 200 drops = 10.2 g', or of a pre-mix: 'blue 1 %: 250 drops = 11 g'."
    " Repeat it for each bottle.",
)
@click.option("--forget", multiple=True, type=click.Choice(list(FORGET)), help="Forget what you said about this.")
@library_options
def studio(library: str | None, as_json: bool, **said: Any) -> None:
    """Say once what the studio has: other commands then go by it. Without options, see what is known.

    What you say in another command comes first. Each change can be undone: swatchcam undo.
    """
    from ..library.changes import carry_out_together
    from ..library.library import open_library
    from ..report.shelf.studio import studio_dict, studio_text

    anything = any(value not in (None, ()) for value in said.values())
    opened = open_library(library, create=anything)
    if anything:
        tell_changes(carry_out_together(opened, _steps(opened, **said)), as_json)
    else:
        tell(studio_dict(opened), studio_text, as_json)


def _steps(
    library: Library,
    scale: float | None,
    spoon: str | None,
    pot: float | None,
    state: str | None,
    drops: tuple[str, ...],
    forget: tuple[str, ...],
    **rest: Any,
) -> list[Step]:
    """The changes in order: the drops are weighed on the scale that is said with them."""
    from ..library.records import parse_state
    from ..library.shelf.pigments import clear_base
    from ..library.shelf.studio import set_studio, studio_of
    from ..recipes.measures import parse_spoon

    step = scale if scale is not None else studio_of(library).scale_g or SCALE_G
    base = clear_base(library)
    fields: dict[str, Any] = {"scale_g": scale, "pot_g": pot, "state": None if state is None else parse_state(state)}
    fields["spoon_ml"] = None if spoon is None else parse_spoon(spoon, step, base.density if base else None)
    fields |= rest | {"forget": tuple(FORGET[name] for name in forget)}
    steps: list[Step] = []
    if any(value not in (None, ()) for value in fields.values()):
        steps.append(lambda there: set_studio(there, **fields))
    return steps + [_counted(each, step) for each in drops]


def _counted(typed: str, scale: float) -> Step:
    """ "blue: 200 drops = 10.2 g" as a change of the pigment, or of the pre-mix where it says percent."""
    from ..library.shelf.finding import set_drops
    from ..recipes.drops import parse_drops

    name, colon, counted = typed.rpartition(":")
    if not colon or not name.strip():
        raise UsageError("drops-of-nothing", "write-drops-of-a-bottle", typed=typed[:60])
    drops = parse_drops(counted, scale)
    return lambda there: set_drops(there, name, drops)
