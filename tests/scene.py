"""Photos of a card on cloth, drawn from spectra: what the tests and the benchmark measure.

Light spectrum x reflectance x camera sensitivity gives the colour of each material, never of each pixel; the
plane is drawn square-on, seen through a lens, lit, exposed and developed. The truth comes from the spectra.
No colour code is shared with the package.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from inks import PrintedCard, cloth
from lens import Pose, View, look
from numpy.typing import NDArray
from plane import Answer, Rect, Sheet, paint_tag, tag_modules, tiled, weave
from spectra import BUILD_CAMERAS, Array, cameras, illuminant, reflectance_lab

OVERSAMPLE = 1.25  # sheet pixels per photo pixel, at the nearest point of the card
LARGEST_SHEET = 26e6  # px; a strong tilt would ask for far more than shows


@dataclass(frozen=True)
class Ink:
    """One drawdown: its reflectance (81,)."""

    reflectance: Array


@dataclass(frozen=True)
class Scene:
    """One photo to be taken. Every default is neutral: each effect is off unless it is asked for."""

    card: PrintedCard
    windows: dict[str, Ink | None] = field(default_factory=dict)  # None is bare cloth
    cloth: Array = field(default_factory=lambda: cloth("white"))
    weave: float = 0.0  # amplitude of the cloth's texture, share of its reflectance
    light: Array = field(default_factory=lambda: illuminant("D65"))
    camera: str = BUILD_CAMERAS[0]
    pose: Pose = Pose()  # noqa: RUF009 - a frozen value
    exposure: float = 0.8  # the card's stock, in the channel that fills first, over full scale
    blur: float = 0.0  # px, standard deviation
    seed: int = 0


@dataclass(frozen=True)
class Shot:
    """A photo and the truth about it."""

    pixels: NDArray[np.uint8]  # (h, w, 3) RGB
    truth: dict[str, Array]  # drawdown -> (3,) CIELAB, D65 and 10 degrees, of its mean reflectance
    spectra: dict[str, Array]  # drawdown -> (81,) its mean reflectance
    corners: dict[str, Array]  # "card", "tag 0" ..., patch and window names -> (4, 2) px, clockwise from top-left


def render(scene: Scene, size: tuple[int, int] = (1600, 1200)) -> Shot:
    """Take the photo, `size` px wide and high."""
    view = look(scene.pose, scene.card.design.size_mm, size)
    answer = camera_answer(scene.camera, scene.light)
    sheet, spectra = draw_sheet(scene, view, answer)
    raw = see(sheet, view)
    raw *= scene.exposure / answer(scene.card.paper).max()
    if scene.blur:
        raw = cv2.GaussianBlur(raw, (0, 0), scene.blur)
    pixels = develop(np.minimum(raw, 1), scene)
    truth = {name: reflectance_lab(spectrum) for name, spectrum in spectra.items()}
    return Shot(pixels, truth, spectra, corners(scene, view))


def camera_answer(camera: str, light: Array) -> Answer:
    """Reflectance -> camera RGB under a light; the perfect diffuser's largest channel is 1."""
    weights = cameras()[camera] * light[:, None]
    weights = weights / weights.sum(axis=0).max()
    return lambda reflectance: np.asarray(reflectance) @ weights


def draw_sheet(scene: Scene, view: View, answer: Answer) -> tuple[Sheet, dict[str, Array]]:
    """The plane as the camera would see it square-on in even light, and the mean reflectance of each drawdown."""
    sheet = blank_sheet(view)
    lie_cloth(sheet, scene, answer)
    spectra = {}
    card = scene.card
    kept = {}
    for window in card.design.windows:
        ink = scene.windows.get(window.name)
        rect = (window.box.x, window.box.y, window.box.w, window.box.h)
        if ink is not None:
            spectra[window.name] = lay_ink(sheet, scene, rect, ink, answer)
        found = sheet.cover(rect)
        if found is not None:
            kept[window.name] = (found, sheet.pixels[found[0], found[1]].copy())
    print_on(sheet, scene, answer)
    for found, under in kept.values():
        rows, columns, down, across = found
        sheet.blend(rows, columns, np.outer(down, across), under)
    return sheet, spectra


def blank_sheet(view: View) -> Sheet:
    """A sheet for what the frame sees of the plane, at most a card's size around the card."""
    width, height = view.size
    rim = np.stack(np.meshgrid(np.linspace(-1, width, 25), np.linspace(-1, height, 25)), axis=-1)
    seen = view.unproject(rim).reshape(-1, 2)
    card = np.array(view.card)
    low, high = np.maximum(seen.min(axis=0), -card), np.minimum(seen.max(axis=0), 2 * card)
    at = [(0, 0), (card[0], 0), (0, card[1]), tuple(card), tuple(card / 2)]
    scale = OVERSAMPLE * max(view.scale(np.array(point)) for point in at)
    scale = min(scale, float(np.sqrt(LARGEST_SHEET / np.prod(high - low))))
    columns, rows = np.ceil((high - low) * scale).astype(int)
    return Sheet(np.empty((rows, columns, 3), dtype=np.float32), (float(low[0]), float(low[1])), scale)


def lie_cloth(sheet: Sheet, scene: Scene, answer: Answer) -> None:
    """Cloth all over the plane."""
    sheet.pixels[:] = answer(scene.cloth).astype(np.float32)
    if scene.weave:
        everything = slice(0, sheet.pixels.shape[0]), slice(0, sheet.pixels.shape[1])
        sheet.pixels *= 1 + scene.weave * tiled(weave(round(sheet.scale, 3), 0.36, 1), *everything)[..., None]


def lay_ink(sheet: Sheet, scene: Scene, rect: Rect, ink: Ink, answer: Answer) -> Array:
    """A drawdown; returns its mean reflectance."""
    found = sheet.cover(rect)
    if found is None:
        return ink.reflectance
    rows, columns, down, across = found
    shade = np.ones((len(down), len(across)), dtype=np.float32)
    if scene.weave:
        shade += scene.weave * tiled(weave(round(sheet.scale, 3), 0.36, 1), rows, columns)
    sheet.blend(rows, columns, np.outer(down, across), shade[..., None] * answer(ink.reflectance))
    return ink.reflectance * float(shade.mean())


def print_on(sheet: Sheet, scene: Scene, answer: Answer) -> None:
    """The card's stock, patches, tags and scale bar."""
    card, design = scene.card, scene.card.design
    sheet.paint((0, 0, *design.size_mm), answer(card.paper))
    for patch in design.patches:
        box = patch.box
        sheet.paint((box.x, box.y, box.w, box.h), answer(card.reflectance[patch.name]))
    family = getattr(cv2.aruco, f"DICT_APRILTAG_{design.tag_family.upper()}")
    for tag in design.tags:
        box = tag.box
        paint_tag(sheet, (box.x, box.y, box.w, box.h), tag_modules(family, tag.id), answer(card.black))
    bar = design.scale_bar
    sheet.paint((bar.x, bar.y, bar.w, 0.3), answer(card.black))


def see(sheet: Sheet, view: View) -> NDArray[np.float32]:
    """(h, w, 3) the sheet through the lens."""
    at = (view.maps() - np.array(sheet.origin, dtype=np.float32)) * np.float32(sheet.scale) - np.float32(0.5)
    return cv2.remap(sheet.pixels, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def corners(scene: Scene, view: View) -> dict[str, Array]:
    """Where everything on the card lies in the photo, (4, 2) px."""
    design = scene.card.design
    rects = {"card": (0.0, 0.0, *design.size_mm)}
    rects |= {f"tag {tag.id}": (tag.box.x, tag.box.y, tag.box.w, tag.box.h) for tag in design.tags}
    for item in (*design.patches, *design.windows):
        rects[item.name] = (item.box.x, item.box.y, item.box.w, item.box.h)
    return {
        name: view.project(np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]))
        for name, (x, y, w, h) in rects.items()
    }


# --- development -------------------------------------------------------------------------------------------


def develop(raw: NDArray[np.float32], scene: Scene) -> NDArray[np.uint8]:
    """Camera RGB, 1 at full scale -> the 8-bit picture the phone stores."""
    linear = raw @ development_matrix(scene).T.astype(np.float32)
    codes = np.clip(linear, 0, 1) * np.float32(65535) + np.float32(0.5)
    return tone_table()[codes.astype(np.uint16)]


def development_matrix(scene: Scene) -> Array:
    """(3, 3) camera RGB -> linear sRGB, white balance included, fitted on smooth reflectances."""
    answer = camera_answer(scene.camera, scene.light)
    white = answer(np.ones(81))
    return srgb_fit(scene.camera, scene.light.tobytes()) @ np.diag(1 / white)


@cache
def srgb_fit(camera: str, light: bytes) -> Array:
    """(3, 3) white-balanced camera RGB -> linear sRGB by least squares, white kept white."""
    lamp = np.frombuffer(light)
    answer = camera_answer(camera, lamp)
    seen = answer(training_reflectances()) / answer(np.ones(81))
    target = linear_srgb(training_reflectances())
    # White stays white: fit what each colour has beyond its green, and beyond white.
    a = seen[:, [0, 2]] - seen[:, [1]]
    rows = [np.linalg.lstsq(a, target[:, i] - seen[:, 1], rcond=None)[0] for i in range(3)]
    return np.array([[red, 1 - red - blue, blue] for red, blue in rows])


@cache
def training_reflectances() -> Array:
    """(300, 81) smooth invented reflectances, as a maker would fit a camera on."""
    from spectra import bell, step_up

    rng = np.random.default_rng(7)
    found = []
    for _ in range(300):
        spectrum = np.full(81, rng.uniform(0.02, 0.3))
        for _ in range(rng.integers(1, 3)):
            spectrum = spectrum + rng.uniform(0.05, 0.4) * bell(rng.uniform(400, 700), rng.uniform(30, 90))
        if rng.random() < 0.5:
            spectrum = spectrum + rng.uniform(0.1, 0.5) * step_up(rng.uniform(470, 640), rng.uniform(8, 25))
        found.append(np.clip(spectrum, 0.01, 0.95))
    return np.array(found)


def linear_srgb(reflectance: Array) -> Array:
    """Reflectance -> linear sRGB under D65. Source: IEC 61966-2-1 (inverse of its primaries' matrix)."""
    from spectra import reflectance_xyz, white_xyz

    lamp = illuminant("D65")
    xy = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
    primaries = np.column_stack([xy, 1 - xy.sum(axis=1)]).T / xy[:, 1]
    white = white_xyz(lamp, 2)
    matrix = primaries * np.linalg.solve(primaries, white)
    return reflectance_xyz(reflectance, lamp, 2) @ np.linalg.inv(matrix).T


@cache
def tone_table() -> NDArray[np.uint8]:
    """(65536,) linear code -> 8-bit sRGB code. Source: IEC 61966-2-1."""
    linear = np.arange(65536) / 65535
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.round(curve * 255).astype(np.uint8)


def write_jpeg(shot: Shot, path: Path, quality: int = 92) -> None:
    """Store the photo as a JPEG file."""
    from PIL import Image

    Image.fromarray(shot.pixels).save(path, quality=quality, subsampling=2)
