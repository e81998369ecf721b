"""What goes wrong when people photograph: each function spoils a scene in one way."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tests.worlds.edits import EDITS
from tests.worlds.scene import Cover, Glare, Ink, Scene, Shadow
from tests.worlds.spectra import bell, step_up

if TYPE_CHECKING:
    from tests.worlds.random_scenes import Rng, World


def spoil(scene: Scene, kind: str, rng: Rng, world: World, width: int = 1600) -> Scene:
    """The same scene with one thing wrong."""
    return replace(SPOILERS[kind](scene, rng, world, width / 1600), kind=kind)


def tilted(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    size, heading = rng.uniform(25, 40), rng.uniform(0, 2 * np.pi)
    return replace(scene, pose=replace(scene.pose, tilt_x=size * np.sin(heading), tilt_y=size * np.cos(heading)))


def blurred(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, phone=replace(scene.phone, blur=rng.uniform(1.5, 6) * zoom))


def shaken(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    length, heading = rng.uniform(3, 20) * zoom, rng.uniform(0, np.pi)
    move = float(length * np.cos(heading)), float(length * np.sin(heading))
    return replace(scene, phone=replace(scene.phone, motion=move))


def glaring(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    strength = float(np.exp(rng.uniform(np.log(0.03), 0)))
    return replace(scene, glare=Glare(on_card(scene, rng), rng.uniform(4, 30), strength))


def overexposed(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, phone=replace(scene.phone, exposure=rng.uniform(1.0, 1.7)))


def covered_patch(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, covers=some_covers(rng, scene.card.design.patches))


def covered_tag(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, covers=some_covers(rng, scene.card.design.tags))


def shadowed(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    soft = float(np.exp(rng.uniform(0, np.log(40))))
    return replace(scene, shadow=Shadow(on_card(scene, rng), rng.uniform(0, 360), rng.uniform(0.1, 0.7), soft))


def doubled(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    height = scene.card.design.size_mm[1]
    away = 0.0, float(rng.choice([-1, 1]) * rng.uniform(height + 3, height + 40))
    pose = replace(scene.pose, fraction=float(rng.uniform(0.35, 0.5)), offset=(0.0, 0.0))
    return replace(scene, second_card=away, pose=pose)


def mirrored(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, mirrored=True)


def turned(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, pose=replace(scene.pose, rotation=float(180 + rng.normal(0, 12))))


def badly_lit(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, light=world.bad_lights[str(rng.choice(sorted(world.bad_lights)))], other_light=None)


def tone_mapped(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    return replace(scene, phone=replace(scene.phone, local=rng.uniform(0.15, 0.6)))


def reflecting(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    """A small reflection wholly inside a window, which the card's white does not see."""
    box = scene.card.design.windows[rng.integers(len(scene.card.design.windows))].box
    at = box.x + box.w * rng.uniform(0.35, 0.65), box.y + box.h * rng.uniform(0.35, 0.65)
    return replace(scene, glare=Glare((float(at[0]), float(at[1])), rng.uniform(7, 13), rng.uniform(0.03, 0.12)))


def wet(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    """The last strip is still wet, or both are."""
    names = list(scene.windows)[int(rng.integers(2)) :]
    wetted = {name: wetted_ink(scene.windows[name], rng.uniform(0.01, 0.08)) for name in names}
    return replace(scene, windows=scene.windows | wetted)


def bare(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    name = str(rng.choice(list(scene.windows)))
    return replace(scene, windows=scene.windows | {name: Ink(scene.cloth)})


def curled(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    """Both short edges stand up, seen straight on: as a lens would bend it."""
    pose = replace(scene.pose, curl=float(rng.uniform(2, 12)), tilt_x=0.0, tilt_y=0.0, offset=(0.0, 0.0))
    return replace(scene, pose=pose)


def edited(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    edit = str(rng.choice(sorted(EDITS))), float(rng.uniform(0.2, 0.6))
    return replace(scene, phone=replace(scene.phone, edit=edit))


def screenshot(scene: Scene, rng: Rng, world: World, zoom: float) -> Scene:
    pose = replace(scene.pose, fraction=max(scene.pose.fraction, 0.75))
    return replace(scene, pose=pose, phone=replace(scene.phone, screenshot=float(rng.uniform(0.75, 0.95))))


SPOILERS = {
    "tilt": tilted,
    "blur": blurred,
    "motion": shaken,
    "glare": glaring,
    "clipping": overexposed,
    "covered patch": covered_patch,
    "covered tag": covered_tag,
    "shadow": shadowed,
    "two cards": doubled,
    "mirrored": mirrored,
    "upside down": turned,
    "bad light": badly_lit,
    "local tone": tone_mapped,
    "reflection": reflecting,
    "wet": wet,
    "bare window": bare,
    "curl": curled,
    "edited": edited,
    "screenshot": screenshot,
}
HARD_KINDS = tuple(SPOILERS)


def wetted_ink(film: Ink, gloss: float) -> Ink:
    """A wet film is darker, as its smooth surface sends a part of the light back into it, and mirrors the room.

    Source of the form: Lekner & Dorf 1988, doi:10.1364/AO.27.001278, with the share sent back taken as a third.
    """
    return replace(film, reflectance=film.reflectance * (2 / 3) / (1 - film.reflectance / 3), gloss=float(gloss))


def on_card(scene: Scene, rng: Rng) -> tuple[float, float]:
    """Any point of the card, mm."""
    width, height = scene.card.design.size_mm
    return float(rng.uniform(0, width)), float(rng.uniform(0, height))


def some_covers(rng: Rng, items: tuple) -> tuple[Cover, ...]:
    """Covers on one to three items."""
    hit = rng.choice(len(items), rng.integers(1, 4), replace=False)
    return tuple(covering(rng, items[i].box) for i in hit)


def covering(rng: Rng, box) -> Cover:
    """A finger, a scrap of paper or a stain over part of an item or all of it."""
    finger = 0.18 + 0.32 * step_up(590, 18) - 0.05 * bell(545, 20)
    what = [finger, 0.85 * np.ones_like(finger), 0.08 + 0.1 * step_up(600, 60)][rng.integers(3)]
    x, y = box.x + box.w * rng.uniform(0.1, 0.9), box.y + box.h * rng.uniform(0.1, 0.9)
    w, h = box.w * rng.uniform(0.4, 2.0), box.h * rng.uniform(0.4, 2.0)
    return Cover((x - w / 2, y - h / 2, w, h), what, bool(rng.random() < 0.7))
