"""What people photograph: scenes drawn at random, fair ones and hard ones, for building and for the last look.

`split` keeps two worlds apart: cameras, lights, printers and pigments of "build" may be looked at as often as one
likes; those of "final" only when nothing will be changed any more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchcam.cards.design import CardDesign, designs
from tests.worlds.inks import BUILD_PIGMENTS, FINAL_PIGMENTS, Pigment, Recipe, cloth, near_pair
from tests.worlds.lens import Pose
from tests.worlds.phone import Phone
from tests.worlds.printers import BUILD_PRINTERS, FINAL_PRINTERS, print_card
from tests.worlds.scene import Loose, Scene, ink
from tests.worlds.spectra import (
    BUILD_BAD_LIGHTS,
    BUILD_CAMERAS,
    BUILD_FAIR_LIGHTS,
    FINAL_BAD_LIGHTS,
    FINAL_CAMERAS,
    FINAL_FAIR_LIGHTS,
    Array,
)
from tests.worlds.spoilers import HARD_KINDS, spoil

Rng = np.random.Generator

CLOTHS = {"white": 0.6, "natural": 0.18, "grey": 0.06, "pink": 0.06, "blue": 0.05, "black": 0.05}


@dataclass(frozen=True)
class World:
    """Everything a split may use."""

    cameras: tuple[str, ...]
    fair_lights: dict[str, Array]
    bad_lights: dict[str, Array]
    printers: tuple[str, ...]
    pigments: dict[str, Pigment]


WORLDS = {
    "build": World(BUILD_CAMERAS, BUILD_FAIR_LIGHTS, BUILD_BAD_LIGHTS, tuple(BUILD_PRINTERS), BUILD_PIGMENTS),
    "final": World(FINAL_CAMERAS, FINAL_FAIR_LIGHTS, FINAL_BAD_LIGHTS, tuple(FINAL_PRINTERS), FINAL_PIGMENTS),
}


def random_scene(
    rng: Rng,
    split: str = "build",
    kind: str = "fair",
    design: CardDesign | None = None,
    width: int = 1600,
    anchors: int = 0,
    light: str | None = None,
    camera: str | None = None,
) -> Scene:
    """One scene.

    Parameters
    ----------
    split : "build" or "final"
    kind : "fair", one of HARD_KINDS, or "hard" for any of them
    design : of the card; the A5 card by default
    width : px the photo will be wide; blur that spoils a photo grows with it
    anchors : how many strips of single pigments to lay below the card
    light, camera : names, drawn by chance by default
    """
    world = WORLDS[split]
    scene = fair_scene(rng, world, design or designs()["a5"], anchors, light, camera)
    if kind == "hard":
        kind = str(rng.choice(HARD_KINDS))
    return scene if kind == "fair" else spoil(scene, kind, rng, world, width)


def fair_scene(
    rng: Rng, world: World, design: CardDesign, anchors: int, light: str | None, camera: str | None
) -> Scene:
    """Daylight or cool LED, a light that falls off a little, a camera held nearly straight."""
    light = light or str(rng.choice(sorted(world.fair_lights)))
    lamps = world.fair_lights | world.bad_lights
    ground = str(rng.choice(list(CLOTHS), p=list(CLOTHS.values())))
    first, second = near_pair(rng, rng.uniform(0.05, 5), world.pigments, thickness := rng.uniform(0.03, 0.08), ground)
    slope = rng.uniform(0, 0.25)
    mixed = rng.random() < 0.3
    return Scene(
        print_card(design, str(rng.choice(world.printers)), int(rng.integers(1000)), rng.uniform(0, 0.02)),
        {
            window.name: drawn(rng, recipe, thickness, ground)
            for window, recipe in zip(design.windows, (first, second), strict=False)
        },
        loose=anchor_row(rng, design, anchor_names(rng, {*first, *second}, world, anchors), thickness, ground),
        cloth=cloth(ground),
        cloth_rect=cloth_piece(rng, design) if rng.random() < 0.3 and not anchors else None,
        table=rng.uniform(0.05, 0.6) * cloth(str(rng.choice(["natural", "grey", "white"]))),
        weave=rng.uniform(0.03, 0.12),
        card_edge=rng.uniform(0.15, 0.4),
        light=lamps[light],
        other_light=world.fair_lights[str(rng.choice(sorted(world.fair_lights)))] if mixed else None,
        other_share=(rng.uniform(0, 0.15), rng.uniform(0, 0.15)) if mixed else (0.0, 0.0),
        slope=slope,
        slope_angle=rng.uniform(0, 360),
        bow=rng.uniform(0, 0.05),
        pose=fair_pose(rng, 0.62, 0.15) if anchors else fair_pose(rng),
        camera=camera or str(rng.choice(world.cameras)),
        phone=fair_phone(rng, slope),
        seed=int(rng.integers(2**31)),
        kind="fair",
    )


def drawn(rng: Rng, recipe: Recipe, thickness: float, ground: str):
    """A strip by hand: rather even, not always filling the window."""
    extent, wander = None, 0.0
    if rng.random() < 0.35:
        extent = (rng.uniform(0.02, 0.15), rng.uniform(0.02, 0.15), rng.uniform(0.85, 0.98), rng.uniform(0.85, 0.98))
        wander = rng.uniform(0.3, 1.5)
    specks = int(rng.integers(0, 6))
    return ink(recipe, thickness, ground, rng.uniform(0.02, 0.08), extent=extent, ragged=wander, specks=specks)


def anchor_names(rng: Rng, used: set[str], world: World, count: int) -> list[str]:
    """Which pigments to lay out: those of the recipes twice, then others of the same studio."""
    if not count:
        return []
    others = sorted(set(world.pigments) - used)
    return [*sorted(used), *sorted(used), *(str(name) for name in rng.permutation(others))][:count]


def anchor_row(rng: Rng, design: CardDesign, names: list[str], thickness: float, ground: str) -> tuple[Loose, ...]:
    """Strips of single pigments at chance loads, in a row below the card; called "anchor 1" and so on."""
    width, height = design.size_mm
    side = min(18.0, (width - 4) / max(len(names), 1) - 4)
    return tuple(
        Loose(
            f"anchor {i + 1}",
            (2 + i * (side + 4), height + 8, side, side),
            ink({name: float(rng.uniform(0.2, 2.5))}, thickness, ground, rng.uniform(0.02, 0.05)),
        )
        for i, name in enumerate(names)
    )


def cloth_piece(rng: Rng, design: CardDesign) -> tuple[float, float, float, float]:
    """A piece of cloth a little larger than the card."""
    left, top, right, bottom = rng.uniform(5, 60, 4)
    return -left, -top, design.size_mm[0] + left + right, design.size_mm[1] + top + bottom


def fair_pose(rng: Rng, largest: float = 0.9, astray: float = 0.45) -> Pose:
    """Tilted by up to 25 degrees, the card filling 45 % of the frame or more, `astray` of the room off-centre."""
    tilt, heading = 25 * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
    fraction = rng.uniform(0.45, largest)
    spare = astray * (1 - fraction) * rng.uniform(-1, 1, 2)
    turn = rng.choice([0, 0, 0, 0, 0, 0, 90, -90]) + rng.normal(0, 5)
    return Pose(
        rotation=float(turn),
        tilt_x=float(tilt * np.sin(heading)),
        tilt_y=float(tilt * np.cos(heading)),
        fraction=float(fraction),
        offset=(float(spare[0]), float(spare[1])),
        focal=float(rng.choice([0.7, 0.75, 0.75, 1.1, 1.6])),
        k1=float(rng.normal(0, 0.012)),
        k2=float(rng.normal(0, 0.004)),
        curl=float(max(rng.uniform(-1, 1), 0)),
    )


def fair_phone(rng: Rng, slope: float) -> Phone:
    """A phone that exposes well and then makes the picture pleasing."""
    return Phone(
        exposure=rng.uniform(0.5, 0.88) / (1 + slope / 2),
        vignetting=rng.uniform(0.03, 0.25),
        flare=float(np.exp(rng.uniform(np.log(0.002), np.log(0.01)))),
        blur=rng.uniform(0.5, 0.9),
        electrons=float(np.exp(rng.uniform(np.log(3000), np.log(15000)))),
        read_noise=rng.uniform(0.0005, 0.002),
        white_error=(rng.normal(0, 0.03), rng.normal(0, 0.03)),
        grey_world=rng.uniform(0, 0.2),
        matrix_light=None if rng.random() < 0.5 else "D65",
        saturation=rng.uniform(1, 1.15),
        space="sRGB" if rng.random() < 0.75 else "Display P3",
        contrast=rng.uniform(0, 0.35),
        brighten=rng.uniform(0, 0.15),
        lift=rng.uniform(0, 0.01),
        sharpen=rng.uniform(0, 0.8),
        quality=int(rng.integers(85, 96)),
        subsampling=int(rng.choice([0, 2, 2])),
        orientation=int(rng.choice([1, 1, 1, 3, 6, 8])),
    )


def reshoot(scene: Scene, rng: Rng, light: Array | None = None) -> Scene:
    """Another photo of what lies there: held anew, exposed anew, with other noise; under another lamp if given."""
    pose, phone = scene.pose, scene.phone
    move = rng.normal(0, 1, 5)
    return replace(
        scene,
        shot=scene.shot + 1 + int(rng.integers(1000)),
        light=scene.light if light is None else light,
        other_light=scene.other_light if light is None else None,
        pose=replace(
            pose,
            rotation=pose.rotation + 3 * move[0],
            tilt_x=float(np.clip(pose.tilt_x + 3 * move[1], -25, 25)),
            tilt_y=float(np.clip(pose.tilt_y + 3 * move[2], -25, 25)),
            fraction=float(np.clip(pose.fraction + 0.03 * move[3], 0.45, 0.9)),
            offset=(pose.offset[0] / 2, pose.offset[1] / 2),
        ),
        slope=float(np.clip(scene.slope + 0.04 * move[4], 0, 0.25)),
        phone=replace(
            phone,
            exposure=phone.exposure * rng.uniform(0.9, 1.02),
            white_error=tuple(error + rng.normal(0, 0.01) for error in phone.white_error),
        ),
    )
