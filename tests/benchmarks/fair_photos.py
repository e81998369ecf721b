"""Fair scenes put to the tool in every way it can measure them: what the benchmark's tables are made of.

One photo; four photos together; a row of the studio's own pigments beside the card; a second light; row and
second light. And one photo of a scene from which one trouble was taken away, to see what that trouble costs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from swatchcam.errors import SwatchcamError
from swatchcam.measurement.measure import Measurement, from_looks
from swatchcam.measurement.pigment_row import PigmentRow, load_row
from swatchcam.measurement.single_photo import take_look
from tests.worlds.printers import read_spectra, write_values
from tests.worlds.random_scenes import WORLDS, random_scene, reshoot
from tests.worlds.scene import SERIES, Ink, Scene
from tests.worlds.spectra import reflectance_lab
from tests.worlds.trial import Facts, draw, facts, read_card

SIZE = 1600, 1200
PHOTOS = 4  # of each fair scene
ANCHORS = 10
DAY = ("daylight", "window")  # how the names of lights begin that come from the sky
Job = tuple[int, int, str, str]  # seed, number, split, folder of card values


def fair_scene(job: Job) -> Facts:
    """Photos of one fair scene under one light: each alone, and all together."""
    seed, number, split, folder = job
    rng = np.random.default_rng([seed, number])
    scene = random_scene(rng, split, "fair")
    card, photo = (Path(folder) / f"fair-{number}.{end}" for end in ("csv", "jpg"))
    read_card(scene, rng, card)
    result = {"light": name_of_light(scene, split), "camera": scene.camera, "refused": [], "photos": [], "all": None}
    looks = []
    for shot in range(PHOTOS):
        drawn = draw(scene if shot == 0 else reshoot(scene, rng), SIZE, photo)
        try:
            looks.append(take_look(str(photo), str(card)))
            result["photos"].append(facts(from_looks([looks[-1:]]), drawn.truth))
        except SwatchcamError as refusal:
            result["refused"].append(str(refusal))
    if len(looks) == PHOTOS:
        result["all"] = facts(from_looks([looks]), drawn.truth)
    return result


def own_pigments(job: Job) -> Facts:
    """One scene with a row beside the card, photographed under two lights: modes -> facts, or who refused."""
    seed, number, split, folder = job
    rng = np.random.default_rng([seed, 55, number])
    scene = random_scene(rng, split, "fair", anchors=ANCHORS)
    card, photo = (Path(folder) / f"own-{number}.{end}" for end in ("csv", "jpg"))
    read_card(scene, rng, card)
    row = write_row(scene, rng, Path(folder) / "cards", f"row-{number}")
    other = other_light(scene, split, rng)
    result: Facts = {"light": name_of_light(scene, split), "camera": scene.camera, "other": other, "refused": []}
    lights = WORLDS[split].fair_lights | WORLDS[split].bad_lights
    looks = []
    for taken in (scene, reshoot(scene, rng, lights[other])):
        drawn = draw(taken, SIZE, photo)
        try:
            looks.append(take_look(str(photo), str(card), row))
        except SwatchcamError as refusal:
            result["refused"].append(str(refusal))
            return result
    first, second = looks
    plain = [replace(look, anchors=()) for look in looks]
    ways: dict[str, Callable[[], Measurement]] = {
        "one": lambda: from_looks([plain[:1]]),
        "row": lambda: from_looks([[first]], row),
        "two": lambda: from_looks([plain[:1], plain[1:]]),
        "both": lambda: from_looks([[first], [second]], row),
    }
    return result | {way: facts(measured(), drawn.truth) for way, measured in ways.items()}


def write_row(scene: Scene, rng: np.random.Generator, folder: Path, name: str) -> PigmentRow:
    """The scene's loose strips as a row: where they lie, and what a spectrophotometer reads from them."""
    folder.mkdir(exist_ok=True)
    places = "".join(
        f'[[window]]\nname = "{piece.name}"\n'
        + "".join(f"{key} = {value:g}\n" for key, value in zip("xywh", piece.rect, strict=True))
        for piece in scene.loose
    )
    design = scene.card.design.name
    head = f'format = 1\nkind = "row"\nname = "{name}"\ncard = "{design}"\n'
    (folder / f"{name}.toml").write_text(head + places, encoding="utf-8")
    mean = {piece.name: middle(piece.ink) for piece in scene.loose}
    lab = {strip: reflectance_lab(row) + rng.normal(0, 0.2, 3) for strip, row in mean.items()}
    write_values(folder / f"{name}.csv", "row", lab, read_spectra(mean, rng))
    return load_row(name)


def middle(ink: Ink) -> Any:
    """(81,) the reflectance of the film at its own thickness."""
    table = np.atleast_2d(ink.reflectance)
    return table[np.argmin(np.abs(SERIES - 1))] if len(table) > 1 else table[0]


def other_light(scene: Scene, split: str, rng: np.random.Generator) -> str:
    """The name of a light of another kind: a white LED or a bulb against daylight, daylight against a light."""
    world = WORLDS[split]
    by_day = name_of_light(scene, split).startswith(DAY)
    names = [name for name in world.fair_lights if name.startswith(DAY) != by_day]
    names += [name for name in world.bad_lights if by_day and name.startswith("warm")]
    return str(rng.choice(sorted(names)))


def name_of_light(scene: Scene, split: str) -> str:
    """What the scene's light is called."""
    every = WORLDS[split].fair_lights
    return next(name for name, light in every.items() if np.array_equal(light, scene.light))


# --- what each trouble costs ----------------------------------------------------------------------------------


def _phone(**changes: Any) -> Callable[[Scene], Scene]:
    return lambda scene: replace(scene, phone=replace(scene.phone, **changes))


def _even_ink(scene: Scene) -> Scene:
    windows = {name: None if ink is None else Ink(middle(ink)) for name, ink in scene.windows.items()}
    return replace(scene, windows=windows, weave=0.0, card_edge=0.0)


TROUBLES: dict[str, Callable[[Scene], Scene]] = {
    "nothing taken away": lambda scene: scene,
    "no sensor noise, no JPEG": _phone(electrons=None, read_noise=0.0, quality=100, subsampling=0),
    "no tone curve, no sharpening": _phone(contrast=0.0, brighten=0.0, lift=0.0, sharpen=0.0),
    "no flare": _phone(flare=0.0),
    "even light, one light": lambda scene: _phone(vignetting=0.0)(
        replace(scene, slope=0.0, bow=0.0, other_light=None, other_share=(0.0, 0.0))
    ),
    "even ink on smooth cloth": _even_ink,
    "wide colour space": _phone(space="Display P3", saturation=1.0),
    "straight, large, flat": lambda scene: replace(
        scene, pose=replace(scene.pose, tilt_x=0.0, tilt_y=0.0, fraction=0.85, offset=(0.0, 0.0), curl=0.0)
    ),
}


def without(job: Job) -> Facts:
    """One scene with each trouble taken away in turn, and with all of them: trouble -> facts."""
    seed, number, split, folder = job
    rng = np.random.default_rng([seed, 66, number])
    scene = random_scene(rng, split, "fair")
    card, photo = (Path(folder) / f"without-{number}.{end}" for end in ("csv", "jpg"))
    read_card(scene, rng, card)
    every = scene
    for taken_away in TROUBLES.values():
        every = taken_away(every)
    result: Facts = {}
    for name, taken in [(name, change(scene)) for name, change in TROUBLES.items()] + [("all of these", every)]:
        drawn = draw(taken, SIZE, photo)
        try:
            result[name] = facts(from_looks([[take_look(str(photo), str(card))]]), drawn.truth)
        except SwatchcamError:
            return {}  # only scenes that are measured with every trouble can be compared
    return result
