"""Draw sample_images/ and the values of their card anew: `python -m tests.worlds.sample_photos [NAME ...]`.

All of it plays in Studio Halm, an invented cloth-printing studio. The photos are computed from spectra (`scene`);
the strips, the card and the numbers about them exist nowhere else.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from swatchcam.cards.design import designs
from swatchcam.cards.values_file import Sheet, sheet_text
from swatchcam.measurement.pigment_row import ROW, Places
from swatchcam.measurement.pigment_row_sheet import lay_row, places_text
from tests.paths import HOME
from tests.worlds.hidden_studios import dyed
from tests.worlds.inks import PIGMENTS as PIGMENT_TABLE
from tests.worlds.inks import Recipe, cloth, strip_reflectance
from tests.worlds.lens import Pose
from tests.worlds.many_printers import random_printer
from tests.worlds.phone import Phone, matrix_profile
from tests.worlds.printers import AS_READ, READ_AT, PrintedCard, print_card
from tests.worlds.scene import SERIES as SERIES_OF_FILMS
from tests.worlds.scene import Cover, Glare, Ink, Loose, Scene, Shot, ink, render, write_jpeg
from tests.worlds.spectra import (
    BUILD_BAD_LIGHTS,
    BUILD_CAMERAS,
    BUILD_FAIR_LIGHTS,
    WAVELENGTHS,
    Array,
    bell,
    difference,
    reflectance_lab,
    step_up,
)

FOLDER = HOME / "sample_images"
VALUES = HOME / "calibration" / "sample-card.csv"
LARGE, SMALL, TINY = (4000, 3000), (2400, 1800), (1600, 1200)
PRINTER, PRINT, DRIFT = "inkjet", 7, 0.01
INSTRUMENT = 0.25  # rms CIEDE2000 by which the stored values miss the truth, as a good instrument does
FILM = 0.05  # mm
CAMERA = BUILD_CAMERAS[4]  # neither the best nor the worst eye of those measured

RASPBERRY: Recipe = {"red": 0.8, "violet": 0.15, "black": 0.04}
SAGE: Recipe = {"green": 0.3, "golden": 0.22, "black": 0.13}
SLATE: Recipe = {"blue": 0.4, "violet": 0.12, "black": 0.14}
RUST: Recipe = {"red": 0.5, "brown": 0.55}
MAUVE: Recipe = {"violet": 0.5, "golden": 0.3}
REMIXED: Recipe = {"magenta": 0.4952, "blue": 0.1152, "yellow": 0.1503, "black": 0.0732}  # the same in daylight only
OCHRE: Recipe = {"yellow": 0.35, "brown": 0.5}
GROUNDS = ("white", "black")  # cloth below the left and below the right strip
SERIES = (0.1, 0.2, 0.4, 0.8, 1.6, 3.2)  # % of brown, each twice the one before


@dataclass(frozen=True)
class Sample:
    """One picture of the folder: what it shows, and how it is stored."""

    says: str
    scene: Callable[[], Scene]
    size: tuple[int, int] = SMALL
    end: str = "jpg"


def sample_card() -> PrintedCard:
    """The one printed card that lies in all samples."""
    return print_card(designs()["a5"], PRINTER, PRINT, DRIFT)


def strip(recipe: Recipe, thickness: float = FILM, **more) -> Ink:
    """A strip by a practised hand on white cotton."""
    return ink(recipe, thickness, "white", uneven=0.03, **{"specks": 2, **more})


def shifted(recipe: Recipe, towards: Recipe, size: float) -> Recipe:
    """The recipe moved along `towards` (% of the paste) until it lies `size` CIEDE2000 away."""
    here, low, high = reflectance_lab(strip_reflectance(recipe, FILM)), 0.0, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        moved = {name: recipe.get(name, 0) + middle * towards.get(name, 0) for name in {**recipe, **towards}}
        near = float(difference(here, reflectance_lab(strip_reflectance(moved, FILM)))) < size
        low, high = (middle, high) if near else (low, middle)
    return moved


PHONE = Phone(
    exposure=0.78, vignetting=0.12, flare=0.004, blur=0.7, electrons=8000, read_noise=0.001,
    white_error=(0.02, -0.015), matrix_light="D65", saturation=1.05, contrast=0.2, brighten=0.08, sharpen=0.4,
    quality=90,
)  # fmt: skip


def table_top(left: Ink | None, right: Ink | None, **more) -> Scene:
    """The card on white cotton by a window, held by hand a little off square."""
    plain = Scene(
        sample_card(),
        {"left": left, "right": right},
        weave=0.06,
        card_edge=0.3,
        light=BUILD_FAIR_LIGHTS["window north"],
        slope=0.12,
        slope_angle=200,
        bow=0.02,
        pose=Pose(rotation=2.5, tilt_x=6, tilt_y=-4, fraction=0.86, k1=0.01),
        phone=PHONE,
        camera=CAMERA,
        seed=11,
    )
    return replace(plain, **more)


def good_pair() -> Scene:
    return table_top(strip(RASPBERRY), strip(shifted(RASPBERRY, {"red": 0.5, "violet": -0.1}, 0.5)))


def differs() -> Scene:
    today = shifted(SAGE, {"green": -0.2, "golden": 0.12, "black": -0.08}, 4.0)
    pose = Pose(rotation=-3, tilt_x=7, tilt_y=5, fraction=0.84)
    return table_top(strip(SAGE), strip(today), light=BUILD_FAIR_LIGHTS["cool LED b"], pose=pose, seed=12)


def close_call() -> Scene:
    today = shifted(SLATE, {"blue": 0.3, "black": 0.02}, 2.0)
    pose = Pose(rotation=1, tilt_x=-5, tilt_y=6, fraction=0.85)
    return table_top(strip(SLATE), strip(today), pose=pose, seed=13)


def loose() -> Scene:
    by_hand = strip(shifted(RUST, {"red": 0.4, "black": 0.04}, 3.0), ragged=0.8, extent=(0.0, 0.0, 1.0, 1.0))
    pose = Pose(rotation=-2, tilt_x=5, tilt_y=4, fraction=0.66, offset=(0.0, -0.1))
    beside = (Loose("beside-1", (70, 160, 60, 38), by_hand),)
    return table_top(strip(RUST), strip(RUST, 0.052), loose=beside, pose=pose, seed=14)


def tilted() -> Scene:
    pose = Pose(rotation=176, tilt_x=18, tilt_y=17, fraction=0.82)
    scene = table_top(strip(RASPBERRY), strip(shifted(RASPBERRY, {"red": 0.5, "violet": -0.1}, 0.5)))
    return replace(scene, pose=pose, light=BUILD_FAIR_LIGHTS["daylight 5700"], shot=1)


def before_heat() -> Scene:
    return table_top(strip(SLATE), strip(RUST), seed=15)


def after_heat() -> Scene:
    """The same strip once the heat has made it a little darker and duller, by an invented amount."""
    pose = Pose(rotation=4, tilt_x=5, tilt_y=-6, fraction=0.83)
    return table_top(strip(SLATE), strip(RUST | {"black": 0.05}, 0.0515), pose=pose, seed=15, shot=1)


def test_series(first: int) -> Scene:
    left, right = (strip({"brown": load}) for load in SERIES[first : first + 2])
    pose = Pose(rotation=1.5 - first, tilt_x=5 + first / 2, tilt_y=3, fraction=0.85)
    return table_top(left, right, pose=pose, seed=16 + first)


def p3() -> Scene:
    scene = good_pair()
    return replace(scene, phone=replace(PHONE, space="Display P3"), shot=2)


SMEARS = {  # strips by hand, of mauve left and of today's pot right: its recipe, and both films
    "smeared": (MAUVE, 0.94, 1.07),  # one pot, thin and thick
    "one_more": (MAUVE | {"golden": 1.2 * MAUVE["golden"]}, 1.05, 0.97),  # 20 % more of one pigment
    "all_more": ({name: 1.2 * share for name, share in MAUVE.items()}, 1.03, 0.98),  # 20 % more of all
}


def by_hand(name: str) -> Scene:
    """Two strips smeared by hand, with bare cloth beside the ink."""
    recipe, *films = SMEARS[name]
    left, right = (
        strip(each, film * FILM, extent=(0.06, 0.1, 0.95, 0.9), ragged=0.8)
        for each, film in zip((MAUVE, recipe), films, strict=True)
    )
    shot = list(SMEARS).index(name)
    pose = Pose(rotation=2 - shot, tilt_x=5 + shot, tilt_y=shot - 3, fraction=0.86)
    return table_top(left, right, pose=pose, seed=80 + shot, shot=shot)


def two_cloths() -> Scene:
    """One pot of ochre over white and over black cloth, both cloths lying bare below the card on a grey table."""
    left, right = (ink(OCHRE, FILM, ground, uneven=0.03, specks=2) for ground in GROUNDS)
    bare = tuple(Loose(f"beside-{n}", (90 * n - 60, 158, 60, 34), Ink(cloth(g))) for n, g in enumerate(GROUNDS, 1))
    pose = Pose(rotation=1.5, tilt_x=5, tilt_y=-4, fraction=0.68, offset=(0.0, -0.1))
    return table_top(left, right, cloth=cloth("grey"), loose=bare, pose=pose, seed=22)


PIGMENTS: dict[str, Recipe] = {
    "yellow": {"yellow": 0.7},
    "golden": {"golden": 0.6},
    "red": {"red": 0.9},
    "magenta": {"magenta": 0.7},
    "violet": {"violet": 0.5},
    "blue": {"blue": 0.6},
    "green": {"green": 0.6},
    "black": {"black": 0.4},
}


def two_lights(shot: int = 0, light: Array = BUILD_FAIR_LIGHTS["window north"]) -> Scene:
    """Yesterday's mauve and one remixed from other pigments; the studio's own pigments lie below the card."""
    below = tuple(
        Loose(window.name, (window.box.x, window.box.y, window.box.w, window.box.h), strip(PIGMENTS[window.name]))
        for window in sample_places().windows
    )
    pose = Pose(rotation=1.5 - 3 * shot, tilt_x=5, tilt_y=4 * shot - 2, fraction=0.68, offset=(0.0, -0.09))
    scene = table_top(strip(MAUVE), strip(REMIXED), loose=below, pose=pose, light=light, shot=shot, seed=21)
    return replace(scene, phone=replace(PHONE, exposure=PHONE.exposure - 0.1 * shot))


def heated(recipe: Recipe, thickness: float = FILM) -> Ink:
    """A strip after heat setting: a little stronger and duller, by an invented amount that goes with the load."""
    load = sum(recipe.values())
    return strip({name: 1.02 * amount for name, amount in recipe.items()} | {"black": _black(recipe, load)}, thickness)


def _black(recipe: Recipe, load: float) -> float:
    return 1.02 * recipe.get("black", 0.0) + 0.03 + 0.02 * load


def washed(recipe: Recipe) -> Ink:
    """A heat-set strip that has lost some of its ink to three washes."""
    return heated(recipe, 0.93 * FILM)


REMIX: Recipe = {"red": 0.4, "brown": 0.55}  # the second pot of rust, before red was added
REMEDIED: Recipe = {"red": 0.495, "brown": 0.555}


def season(number: int, left: Ink, right: Ink) -> Scene:
    """Two strips of Studio Halm's season, on the same table by the same window, the phone held anew."""
    pose = Pose(rotation=2 - number, tilt_x=4 + number, tilt_y=number - 3, fraction=0.87)
    return table_top(left, right, pose=pose, seed=40 + number, shot=number)


LOADS = (0.1, 0.4, 1.5, 5.0)  # % of each pigment of the mixing table
SHELF = ("red", "golden", "blue", "black")
TERRACOTTA: Recipe = {"red": 0.55, "golden": 0.4, "black": 0.06}  # nobody in the studio knows what is in it


# What `swatchcam mix recipe` proposed for 300 g of it; but 0.3 g of the golden stayed on the spoon.
FIRST_POT: Recipe = {"red": 100 * 1.65 / 300, "golden": 100 * 0.91 / 300, "black": 100 * 0.15 / 300}
# 290 g of it, when the 0.3 g that `swatchcam mix correct` asked for were added.
SECOND_POT: Recipe = {name: share * 290 / 290.3 for name, share in FIRST_POT.items()}
SECOND_POT["golden"] += 100 * 0.3 / 290.3
# The same colour in 50 g on a kitchen scale, as `kitchen.halm` did what the handbook's chapter `kitchen` prints.
KITCHEN_POTS: tuple[Recipe, Recipe] = (
    {"red": 0.5941, "golden": 0.4152, "blue": 0.0266},
    {"red": 0.5738, "golden": 0.4011, "blue": 0.0599},
)


def series_strips(pigment: str, half: int) -> Scene:
    """Two strips of a pigment's test series, by a hand that never lays two films of quite the same thickness."""
    rng = np.random.default_rng([SHELF.index(pigment), half])
    left, right = (
        strip({pigment: load}, FILM * float(np.exp(rng.normal(0, 0.03)))) for load in LOADS[2 * half : 2 * half + 2]
    )
    pose = Pose(rotation=1 - half, tilt_x=4 + half, tilt_y=SHELF.index(pigment) - 2, fraction=0.86)
    return table_top(left, right, pose=pose, seed=60 + 2 * SHELF.index(pigment) + half, shot=half)


def pot(number: int, right: Recipe, thickness: float = FILM) -> Scene:
    """The strip that is wanted left, a strip of what is in the pot right."""
    pose = Pose(rotation=1.5 - number, tilt_x=5, tilt_y=number - 2, fraction=0.86)
    return table_top(strip(TERRACOTTA), strip(right, thickness), pose=pose, seed=70, shot=number)


COPPER: Recipe = {"red": 0.45, "golden": 0.7}  # what the first days' studio wants; it has an unmeasured card
FIRST_LOADS = (0.2, 0.6, 2.0)  # % of red and of golden, on the first day
COPPER_POT: Recipe = {"red": 0.3, "golden": 0.68}  # by eye
# 290 g of it, when the 0.4 g of red that `swatchcam mix correct` asked for were added.
COPPER_MENDED: Recipe = {name: share * 290 / 290.4 for name, share in COPPER_POT.items()}
COPPER_MENDED["red"] += 100 * 0.4 / 290.4
DAYS = ("window north", "cool LED a", "daylight 5700", "cool LED b")  # the lights of the four days


def unmeasured_card() -> PrintedCard:
    """Print 0482 1093, of a printer that nobody measured."""
    printer = random_printer(np.random.default_rng(18), "build", "inkjet")
    return replace(print_card(designs()["a5"], printer, 18, printer.drift), number="04821093")


def day(number: int, right: Recipe, thickness: float = FILM, **more) -> Scene:
    """The strip that is wanted left, another right, on one of the first four days; one phone, held anew each day."""
    rng = np.random.default_rng([18, number])
    phone = replace(PHONE, exposure=float(rng.uniform(0.68, 0.8)), white_error=tuple(rng.normal(0, 0.02, 2)))
    pose = Pose(rotation=2 - number, tilt_x=5, tilt_y=number - 3, fraction=0.86)
    scene = table_top(strip(COPPER), strip(right, thickness), pose=pose, seed=95, shot=number, phone=phone)
    return replace(scene, card=unmeasured_card(), light=BUILD_FAIR_LIGHTS[DAYS[number - 1]], **more)


def first_day() -> Scene:
    """Clear base in the right window; three strips of golden lie above the card, three of red below it."""
    rng = np.random.default_rng(18)
    beside = tuple(
        Loose(
            f"beside-{3 * row + column + 1}",
            (2 + 71 * column, 202 * row - 44, 64, 34),
            strip({pigment: load}, FILM * float(np.exp(rng.normal(0, 0.03)))),
        )
        for row, pigment in enumerate(("golden", "red"))
        for column, load in enumerate(FIRST_LOADS)
    )
    return day(1, {}, loose=beside, pose=Pose(rotation=1, tilt_x=3, tilt_y=-2, fraction=0.62))


def stained() -> Scene:
    """White cloth, clean left; right the same kind of cloth, rubbed with a red print that was not heated enough."""
    white = cloth("white")
    depth = 0.0045 * PIGMENT_TABLE["red"].absorption
    rubbed = Ink(np.array([dyed(share * depth, white) for share in SERIES_OF_FILMS]), 0.08)
    patch = replace(rubbed, extent=(0.35, 0.31, 0.65, 0.68), ragged=0.8)
    pose = Pose(rotation=-2, tilt_x=4, tilt_y=6, fraction=0.85)
    return table_top(Ink(white), patch, cloth=white, pose=pose, seed=90)


def bad_glare() -> Scene:
    return replace(good_pair(), glare=Glare((168, 36), 16, 0.4))


def bad_covered() -> Scene:
    """A finger over the card's upper right corner: one tag and the patches below it."""
    skin = 0.24 + 0.1 * step_up(480, 25) + 0.28 * step_up(592, 18) - 0.04 * bell(545, 20)
    thumb = (Cover((178, -22, 24, 64), skin, True), Cover((182, 30, 15, 11), skin + 0.1, True))
    return replace(good_pair(), covers=thumb)


def bad_warm_lamp() -> Scene:
    phone = replace(PHONE, matrix_light=None, white_error=(0.1, -0.12), exposure=0.68)
    return replace(good_pair(), light=BUILD_BAD_LIGHTS["warm LED 2700"], phone=phone)


def bad_blurred() -> Scene:
    return replace(good_pair(), phone=replace(PHONE, blur=5.0, motion=(9.0, 4.0)))


def bad_no_card() -> Scene:
    """Strips on cloth, the card forgotten: it lies three frames away."""
    strips = [shifted(RUST, {"red": 0.4}, 3.0), RASPBERRY, SAGE]
    down = tuple(Loose(f"strip {n}", (-10 + 80 * n, -150, 64, 84), strip(r)) for n, r in enumerate(strips))
    pose = Pose(rotation=4, tilt_x=5, fraction=0.7, offset=(0.0, 0.95))
    return table_top(None, None, loose=down, pose=pose, seed=20)


SAMPLES: dict[str, Sample] = {
    "good_pair": Sample("last batch left, today right: the same colour", good_pair, LARGE),
    "differs": Sample("today's strip (right) is lighter and yellower than the last batch", differs, LARGE),
    "close_call": Sample("two strips about as far apart as the tolerance of 2", close_call),
    "loose": Sample("a third strip lies loose below the card", loose),
    "tilted": Sample("the strips of good_pair, upside down and at a slant of 25 degrees", tilted),
    "before_heat": Sample("a kept strip left, a fresh print right, before heat setting", before_heat),
    "after_heat": Sample("the same two strips after the right one was heat-set", after_heat),
    "stained": Sample("white cloth, clean left; right rubbed with a print that was not heated enough", stained, TINY),
    "test_series_1": Sample("brown pigment, 0.1 % and 0.2 % of the paste", lambda: test_series(0)),
    "test_series_2": Sample("brown pigment, 0.4 % and 0.8 %", lambda: test_series(2)),
    "test_series_3": Sample("brown pigment, 1.6 % and 3.2 %", lambda: test_series(4)),
    "p3": Sample("good_pair by a phone that stores Display P3", p3),
    "two_lights_window": Sample("two inks that match in daylight only, by a window; own pigments below", two_lights),
    "two_lights_led": Sample(
        "the same scene under a warm LED lamp", lambda: two_lights(1, BUILD_BAD_LIGHTS["warm LED 2700"])
    ),
    "season_1_dry": Sample("slate 1 and rust 1, air-dried", lambda: season(1, strip(SLATE), strip(RUST)), TINY),
    "season_1_set": Sample("the same two strips, heat-set", lambda: season(2, heated(SLATE), heated(RUST)), TINY),
    "season_2_dry": Sample("sage 1 and raspberry 1, air-dried", lambda: season(3, strip(SAGE), strip(RASPBERRY)), TINY),
    "season_2_set": Sample("the same two strips, heat-set", lambda: season(4, heated(SAGE), heated(RASPBERRY)), TINY),
    "season_3_dry": Sample(
        "rust 2, air-dried: as it was mixed, and with red added", lambda: season(5, strip(REMIX), strip(REMEDIED)), TINY
    ),
    "season_3_set": Sample(
        "rust 1 as it was kept and rust 2, both heat-set", lambda: season(6, heated(RUST), heated(REMEDIED)), TINY
    ),
    "season_4_washed": Sample(
        "slate 1 and rust 2 after three washes", lambda: season(7, washed(SLATE), washed(REMEDIED)), TINY
    ),
    **{
        f"series_{pigment}_{half + 1}": Sample(
            f"{pigment} pigment, {LOADS[2 * half]:g} % and {LOADS[2 * half + 1]:g} %",
            partial(series_strips, pigment, half),
            TINY,
        )
        for pigment in SHELF
        for half in (0, 1)
    },
    "wanted": Sample("left the colour that is wanted, right a strip of clear base alone", lambda: pot(0, {}), TINY),
    "pot_1": Sample("the wanted colour left, the first pot right", lambda: pot(1, FIRST_POT), TINY),
    "pot_2": Sample("the same after golden was added", lambda: pot(2, SECOND_POT, 1.02 * FILM), TINY),
    "kitchen_1": Sample(
        "the wanted colour left; right a pot mixed by drops and pre-mixes", lambda: pot(3, KITCHEN_POTS[0]), TINY
    ),
    "kitchen_2": Sample("the same after it was corrected", lambda: pot(4, KITCHEN_POTS[1], 0.98 * FILM), TINY),
    "day_1": Sample(
        "an unmeasured card: the wanted colour, clear base; three strips each of golden above, red below", first_day
    ),
    "day_2": Sample("the same card: the wanted colour left, the first pot right", lambda: day(2, COPPER_POT), TINY),
    "day_3": Sample("the same after red was added", lambda: day(3, COPPER_MENDED, 1.02 * FILM), TINY),
    "day_4": Sample(
        "the same two strips as on day 3, under another lamp", lambda: day(4, COPPER_MENDED, 1.02 * FILM), TINY
    ),
    "two_cloths": Sample("ochre over white and over black cloth; both cloths lie bare below the card", two_cloths),
    "smeared": Sample("one pot of mauve, smeared thin and thick", partial(by_hand, "smeared")),
    "one_more": Sample("mauve left; right a pot with 20 % more golden", partial(by_hand, "one_more")),
    "all_more": Sample("mauve left; right a pot with 20 % more of every pigment", partial(by_hand, "all_more")),
    "bad_glare": Sample("the lamp is mirrored in the card", bad_glare),
    "bad_covered": Sample("a thumb on the card", bad_covered),
    "bad_warm_lamp": Sample("a warm lamp", bad_warm_lamp),
    "bad_blurred": Sample("out of focus and shaken", bad_blurred),
    "bad_no_card": Sample("the card was forgotten", bad_no_card),
}


def path_of(name: str) -> Path:
    """Where a sample lies."""
    return FOLDER / f"{name}.{SAMPLES[name].end}"


def draw(name: str) -> Shot:
    """Draw one sample and store it, with a profile but without a word about a camera."""
    sample = SAMPLES[name]
    shot = render(sample.scene(), sample.size)
    write_jpeg(shot, path_of(name), icc=matrix_profile(shot.scene.phone.space))
    return shot


def write_card_values() -> None:
    """What a spectrophotometer would have read from the card of the samples."""
    card = sample_card()
    lab, spectra = card.values(INSTRUMENT, PRINT), card.read_spectra(np.random.default_rng(PRINT))
    header = {
        "design": "a5",
        "grade": "measured",
        "illuminant": "D65",
        "observer": "10",
        "geometry": "45/0",
        "date": "2025-03-14",
        "source": "Studio Halm (invented): computed from the spectra of the drawn card in sample_images,"
        " with the chance errors of an instrument added; not read from any print",
        "uncertainty": "0.3",
    }
    triples = {name: (float(row[0]), float(row[1]), float(row[2])) for name, row in lab.items()}
    read = {name: tuple(float(value) for value in row[AS_READ]) for name, row in spectra.items()}
    VALUES.write_text(sheet_text(Sheet(header, triples, tuple(READ_AT), read)), encoding="utf-8")


def sample_places() -> Places:
    """Where the studio's own pigments lie in the samples."""
    # Nobody may print a row of this name: it comes with the tool.
    return replace(lay_row("row", list(PIGMENTS), designs()["a5"]), name="sample-row")


def write_row() -> None:
    """The row's places, and what an instrument would have read from it."""
    spectra = {name: strip_reflectance(recipe, FILM)[::2] for name, recipe in PIGMENTS.items()}
    lab = {name: reflectance_lab(strip_reflectance(recipe, FILM)) for name, recipe in PIGMENTS.items()}
    header = {
        "design": ROW,
        "grade": "measured",
        "illuminant": "D65",
        "observer": "10",
        "geometry": "45/0",
        "date": "2025-03-14",
        "source": "Studio Halm (invented): the spectra of the drawn pigments in sample_images; not read from any print",
        "uncertainty": "0.3",
    }
    sheet = Sheet(
        header,
        {name: (float(row[0]), float(row[1]), float(row[2])) for name, row in lab.items()},
        tuple(float(nm) for nm in WAVELENGTHS[::2]),
        {name: tuple(float(value) for value in row) for name, row in spectra.items()},
    )
    (VALUES.parent / "sample-row.toml").write_text(places_text(sample_places()), encoding="utf-8")
    (VALUES.parent / "sample-row.csv").write_text(sheet_text(sheet), encoding="utf-8")


def write_truth(truth: dict[str, dict[str, Array]]) -> None:
    """The true colours of the drawn strips, for the tests and for the curious."""
    with open(FOLDER / "truth.csv", "w", encoding="utf-8", newline="") as file:
        file.write("# True CIELAB (D65, 10 degrees) of the drawn strips: mean reflectance, computed from spectra\n")
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["sample", "strip", "L", "a", "b"])
        for name, strips in truth.items():
            for place, lab in strips.items():
                table.writerow([name, place, *(f"{value:.3f}" for value in lab)])


def read_truth() -> dict[str, dict[str, Array]]:
    """Sample -> strip -> (3,) true CIELAB."""
    found: dict[str, dict[str, Array]] = {}
    if (FOLDER / "truth.csv").exists():
        with open(FOLDER / "truth.csv", encoding="utf-8", newline="") as file:
            for row in csv.DictReader(line for line in file if not line.startswith("#")):
                lab = np.array([float(row[key]) for key in ("L", "a", "b")])
                found.setdefault(row["sample"], {})[row["strip"]] = lab
    return found


def strips_of(shot: Shot) -> dict[str, Array]:
    """The strips of a shot and their true CIELAB; none if no card is in the picture."""
    height, width = shot.pixels.shape[:2]
    corners = shot.corners["card"]
    if (corners < 0).any() or (corners > (width, height)).any():
        return {}
    return {name: lab for name, lab in shot.truth.items() if name != "cloth"}


def main(names: list[str]) -> None:
    FOLDER.mkdir(exist_ok=True)
    write_card_values()
    write_row()
    truth = read_truth()
    for name in names or list(SAMPLES):
        print(f"{path_of(name).name}: {SAMPLES[name].says}", file=sys.stderr)
        truth[name] = strips_of(draw(name))
    write_truth({name: truth[name] for name in SAMPLES if name in truth})


if __name__ == "__main__":
    main(sys.argv[1:])
