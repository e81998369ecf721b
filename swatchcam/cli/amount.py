"""`swatchcam amount`: how much ink to mix for a run."""

from __future__ import annotations

from typing import Any

import click

from ..recipes.mesh import parse_ink_volume
from .options import COUNT, Typed, amount_in, library_options
from .output import tell


@click.command(
    epilog="\b\nExamples:\n"
    "  swatchcam amount --motif 30x40 --coverage 35 --pieces 60 --used '120 g for 40'\n"
    "  swatchcam amount --motif 30x40 --coverage 35 --pieces 60 --used '120 g for 40' --used '60 g for 40 of 20x30'\n"
    "  swatchcam amount --motif 30x40 --coverage 35 --pieces 60 --used '170 g for 40 with the screen'\n"
    "  swatchcam amount --area 1200 --coverage 35 --pieces 60 --ink-volume 25 --pot 500\n"
    "  swatchcam amount --motif 30x40 --coverage 80 --pieces 12 --mesh 77/cm --thread 55 --passes 2",
)
@click.option("--motif", default="", metavar="WxH", help="Width x height of the motif, cm, such as 30x40.")
@click.option("--area", type=amount_in("cm2"), metavar="CM²", help="The area of the motif instead, cm².")
@click.option(
    "--coverage",
    required=True,
    type=amount_in("%"),
    metavar="PERCENT",
    help="How much of the motif is ink, percent; a rough guess will do, such as 35.",
)
@click.option("--pieces", required=True, type=COUNT, metavar="N", help="How many are printed.")
@click.option(
    "--passes", type=COUNT, default="1", show_default=True, metavar="N", help="Passes (pulls of ink) on each piece."
)
@click.option(
    "--setups",
    type=COUNT,
    default="1",
    show_default=True,
    metavar="N",
    help="How many times you ink up the screen.",
)
@click.option(
    "--used",
    multiple=True,
    metavar="WEIGHING",
    help="What went onto the cloth in an earlier run, without what stayed on the screen: '120 g for 40', or"
    " '120 g for 40 of 30x40 at 35 in 2 passes' if it was of another kind. Add 'with the screen' if the grams"
    " include what stayed there: --setup-loss is then taken off. Repeat it for each run that you weighed. It counts"
    " before any figure for the mesh.",
)
@click.option(
    "--ink-volume",
    type=Typed("volume", parse_ink_volume),
    metavar="CM³/M²",
    help="The ink volume that the mesh's maker prints; or its open area and thickness: '33 % of 72 um'.",
)
@click.option("--mesh", default="", metavar="MESH", help="The mesh: 77/cm, 195/inch, or 77-55 with its thread in µm.")
@click.option("--thread", type=amount_in("um"), metavar="UM", help="Diameter of the mesh's thread, µm.")
@click.option(
    "--setup-loss",
    type=amount_in("g"),
    default="50",
    show_default=True,
    metavar="G",
    help="What stays on screen and squeegee at each set-up, g.",
)
@click.option(
    "--rest",
    type=amount_in("%"),
    default="3",
    show_default=True,
    metavar="PERCENT",
    help="What you can't get out of the pot, percent of the whole.",
)
@click.option(
    "--reserve",
    type=amount_in("%"),
    metavar="PERCENT",
    help="So much more of everything, so that you need no second batch. [default: enough for the most that a pull may"
    " lay, and at least 15]",
)
@click.option(
    "--density",
    type=amount_in("g/ml"),
    default="1.05",
    show_default=True,
    metavar="G/ML",
    help="Density of the ink.",
)
@click.option("--pot", type=amount_in("ml"), metavar="ML", help="What one pot holds, ml.")
@click.option(
    "--shade",
    default="",
    metavar="NAME",
    help="Also say what the ink costs, going by this shade's last recipe.",
)
@library_options
def amount(
    motif: str,
    area: float | None,
    coverage: float,
    pieces: int,
    passes: int,
    setups: int,
    used: tuple[str, ...],
    ink_volume: float | None,
    mesh: str,
    thread: float | None,
    setup_loss: float,
    rest: float,
    reserve: float | None,
    density: float,
    pot: float | None,
    shade: str,
    library: str | None,
    as_json: bool,
) -> None:
    """Work out how much ink to mix for a run: what lies on the cloth, what stays on screen and pot, and a reserve.

    What earlier runs took (--used) says best how much ink a pull lays down. Figures for the mesh give only a rough
    idea. What stays on the screen is counted once, as --setup-loss.
    """
    from ..recipes.ink_deposit import laid_meant
    from ..recipes.ink_quantity import amount as reckoned
    from ..recipes.ink_quantity import losses_of
    from ..recipes.print_run import Run, area_meant, coverage_of
    from ..report.quantities import amount_dict, amount_text

    run = Run(area_meant(motif, area), coverage_of(coverage), pieces, passes, setups)
    laid = laid_meant(run, used, mesh, thread, ink_volume, density, setup_loss)
    losses = losses_of(setup_loss, rest, reserve)
    found = reckoned(run, laid, losses, density=density, pot_ml=pot)
    tell(amount_dict(found, _cost(library, shade, found.grams) if shade else None), amount_text, as_json)


def _cost(library: str | None, shade: str, grams: float) -> Any:
    """What so much ink of a shade costs, and of which batch the recipe is."""
    from ..library.library import open_library
    from ..library.shelf.prices import cost_of_run
    from ..mixing.pot_lookup import pot_of, recipe_in

    opened = open_library(library)
    pot = pot_of(opened, opened.shade(shade), "")
    return pot, cost_of_run(opened, recipe_in(pot), grams)
