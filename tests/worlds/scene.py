"""Photos of a card on cloth, drawn from spectra: what the tests and the benchmark measure.

Light spectrum x reflectance x camera sensitivity gives the colour of each material, never of each pixel; the
plane is drawn square-on (`plane`), seen through a lens (`lens`), lit, exposed and developed (`phone`). The truth
comes from the spectra. No colour code is shared with the package.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from swatchcam.cards.print_number import tag_ids
from tests.worlds.edits import screenshot
from tests.worlds.inks import Recipe, cloth, strip_reflectance, strip_series
from tests.worlds.lens import Pose, View, look
from tests.worlds.lighting import COARSE, Glare, Shadow, glare_field, light_field, other_share, smooth
from tests.worlds.phone import Phone, camera_answer, develop, expose, write_jpeg
from tests.worlds.plane import (
    Answer,
    Rect,
    Sheet,
    film_map,
    mean_reflectance,
    paint_dirt,
    paint_tag,
    ragged,
    sheen,
    tag_modules,
    texture,
    times,
    tinted,
    woven,
)
from tests.worlds.printers import PrintedCard
from tests.worlds.spectra import BUILD_CAMERAS, Array, illuminant, reflectance_lab

__all__ = ["Cover", "Glare", "Ink", "Loose", "Phone", "Pose", "Scene", "Shadow", "Shot", "ink", "render", "write_jpeg"]

OVERSAMPLE = 1.25  # sheet pixels per photo pixel, at the nearest point of the card
LARGEST_SHEET = 26e6  # px; a strong tilt would ask for far more than shows
SERIES = np.linspace(0.4, 1.8, 15)  # relative thicknesses at which an uneven film is computed


@dataclass(frozen=True)
class Ink:
    """One strip: its reflectance (81,), or for an uneven film a row for each thickness of SERIES."""

    reflectance: Array
    uneven: float = 0.0  # standard deviation of the relative thickness
    blotch: float = 6.0  # mm, the size of thicker and thinner places
    extent: tuple[float, float, float, float] | None = None  # left, top, right, bottom, as shares of the place
    ragged: float = 0.0  # mm the edge wanders
    specks: int = 0  # lint and dust on the film
    gloss: float = 0.0  # mean light mirrored by a wet film, of white; no part of the truth
    taper: float = 0.0  # mm from the edge over which an uneven film grows to its thickness


@dataclass(frozen=True)
class Loose:
    """A strip lying beside the card: where (mm on the card's plane) and what."""

    name: str
    rect: Rect
    ink: Ink


@dataclass(frozen=True)
class Cover:
    """Something over the card: a rectangle or, if `round`, an ellipse in it."""

    rect: Rect
    reflectance: Array
    round: bool = False


@dataclass(frozen=True)
class Scene:
    """One photo to be taken. Every default is neutral: each effect is off unless it is asked for."""

    card: PrintedCard
    windows: dict[str, Ink | None] = field(default_factory=dict)  # None is bare cloth
    loose: tuple[Loose, ...] = ()
    cloth: Array = field(default_factory=lambda: cloth("white"))
    cloth_rect: Rect | None = None  # the piece of cloth; None is cloth all over
    table: Array = field(default_factory=lambda: 0.35 * cloth("natural"))
    weave: float = 0.0  # amplitude of the cloth's texture, share of its reflectance
    card_edge: float = 0.0  # how dark the cloth is right beside the card's stock, from its thickness
    covers: tuple[Cover, ...] = ()
    second_card: tuple[float, float] | None = None  # mm from the first card's corner to a second one's
    second_print: PrintedCard | None = None  # what the second card is; None is the same print again
    light: Array = field(default_factory=lambda: illuminant("D65"))
    other_light: Array | None = None  # a second lamp, of the same brightness
    other_share: tuple[float, float] = (0.0, 0.0)  # its share at the card's left and right edge
    slope: float = 0.0  # relative change of the light over the card's length
    slope_angle: float = 0.0  # degrees; where it grows brighter, 0 right, 90 down
    bow: float = 0.0  # relative loss of light at the card's corner, growing with the square of the distance
    shadow: Shadow | None = None
    glare: Glare | None = None
    pose: Pose = Pose()  # noqa: RUF009 - a frozen value
    camera: str = BUILD_CAMERAS[0]
    phone: Phone = Phone()  # noqa: RUF009 - a frozen value
    mirrored: bool = False
    seed: int = 0  # of everything that lies there: the ink's unevenness, lint
    shot: int = 0  # number of the photo: its noise
    kind: str = "plain"


@dataclass(frozen=True)
class Shot:
    """A photo and the truth about it."""

    pixels: NDArray[np.uint8]  # (h, w, 3) RGB
    truth: dict[str, Array]  # strip, and "cloth" -> (3,) CIELAB, D65 and 10 degrees, of the mean reflectance
    spectra: dict[str, Array]  # the same -> (81,) mean reflectance
    corners: dict[str, Array]  # "card", "tag 0", names of patches, windows, loose -> (4, 2) px, from top-left
    clipped: dict[str, float]  # strip -> share of its pixels with a channel at the end of the phone's scale
    scene: Scene


def ink(recipe: Recipe, thickness: float = 0.05, ground: str | Array = "white", uneven: float = 0.0, **more) -> Ink:
    """A strip of a recipe, as an even film or an uneven one."""
    if not uneven:
        return Ink(strip_reflectance(recipe, thickness, ground), **more)
    return Ink(strip_series(recipe, thickness, ground, SERIES), uneven, **more)


def render(scene: Scene, size: tuple[int, int] = (1600, 1200)) -> Shot:
    """Take the photo, `size` px wide and high."""
    raw, spectra, view = sensor(scene, size)
    white = camera_answer(scene.camera, scene.light)(np.ones(81))
    pixels = develop(raw, scene.phone, scene.camera, scene.light, white)
    places = corners(scene, view)
    if scene.mirrored:
        pixels = np.ascontiguousarray(pixels[:, ::-1])
        places = {name: np.array([size[0] - 1, 0]) + four * (-1, 1) for name, four in places.items()}
    if scene.phone.screenshot is not None:
        pixels, places = screenshot(pixels, places, scene.phone.screenshot)
    truth = {name: reflectance_lab(spectrum) for name, spectrum in spectra.items()}
    clipped = {name: clipped_share(pixels, places[name], scene.phone) for name in spectra if name in places}
    return Shot(pixels, truth, spectra, places, clipped, scene)


def clipped_share(pixels: NDArray[np.uint8], four: Array, phone: Phone) -> float:
    """Share of the pixels in the middle of a place that the phone could not store: too bright or too vivid."""
    middle = four.mean(axis=0) + 0.6 * (four - four.mean(axis=0))
    low, high = np.floor(middle.min(axis=0)).astype(int), np.ceil(middle.max(axis=0)).astype(int) + 1
    low, high = np.maximum(low, 0), np.minimum(high, pixels.shape[1::-1])
    part = pixels[low[1] : max(high[1], low[1]), low[0] : max(high[0], low[0])]
    if not part.size:
        return 0.0
    mask = cv2.fillPoly(np.zeros(part.shape[:2], np.uint8), [np.rint(middle - low).astype(np.int32)], 1) > 0
    ends = (part <= round(255 * phone.lift)) | (part == 255)
    return float(ends.any(axis=-1)[mask].mean()) if mask.any() else 0.0


def sensor(scene: Scene, size: tuple[int, int]) -> tuple[NDArray[np.float32], dict[str, Array], View]:
    """(h, w, 3) camera RGB, 1 at full scale, not yet developed; the strips' mean reflectance; the view."""
    view = look(scene.pose, scene.card.design.size_mm, size)
    answer = camera_answer(scene.camera, scene.light)
    sheet, spectra = draw_sheet(scene, view, answer)
    maps = view.maps(sheet.origin, sheet.scale)
    raw = see(sheet, maps)
    field = (maps[COARSE // 2 :: COARSE, COARSE // 2 :: COARSE].astype(float) + 0.5) / sheet.scale + sheet.origin
    if scene.other_light is not None:
        # Both lamps are seen by themselves; a mixed lamp is the mixture of what each would show.
        other = see(draw_sheet(scene, view, camera_answer(scene.camera, scene.other_light))[0], maps)
        raw += times(other - raw, smooth(other_share(scene, field), size))
    lit = light_field(scene, field)
    if lit is not None:
        raw = times(raw, smooth(lit, size))
    if scene.glare is not None:
        raw += tinted(smooth(glare_field(scene.glare, field), size), answer(np.ones(81)))
    raw *= np.float32(scene.phone.exposure / answer(scene.card.paper).max())
    return expose(raw, scene.phone, (scene.seed, scene.shot)), spectra, view


def draw_sheet(scene: Scene, view: View, answer: Answer) -> tuple[Sheet, dict[str, Array]]:
    """The plane as the camera would see it square-on in even light, and the mean reflectance of each strip."""
    sheet = blank_sheet(view)
    rng = np.random.default_rng(scene.seed)
    spectra = {"cloth": scene.cloth}
    lie_cloth(sheet, scene, answer)
    for piece in scene.loose:
        spectra[piece.name] = lay_ink(sheet, scene, piece.rect, piece.ink, answer, rng)
    cards = [(scene.card, 0.0, 0.0)]
    if scene.second_card is not None:
        cards.append((scene.second_print or scene.card, *scene.second_card))
    for card, dx, dy in cards:
        for window in card.design.windows:
            content = scene.windows.get(window.name)
            if content is not None:
                place = (window.box.x + dx, window.box.y + dy, window.box.w, window.box.h)
                found = lay_ink(sheet, scene, place, content, answer, rng)
                spectra.setdefault(window.name, found)
        lay_card(sheet, scene, answer, card, dx, dy)
    for cover in scene.covers:
        sheet.paint(cover.rect, answer(cover.reflectance), cover.round)
    return sheet, spectra


def blank_sheet(view: View) -> Sheet:
    """A sheet for what the frame sees of the plane, at most one and a half cards around the card."""
    width, height = view.size
    rim = np.stack(np.meshgrid(np.linspace(-1, width, 25), np.linspace(-1, height, 25)), axis=-1)
    seen = view.unproject(rim).reshape(-1, 2)
    card = np.array(view.card)
    low, high = np.maximum(seen.min(axis=0), -1.5 * card), np.minimum(seen.max(axis=0), 2.5 * card)
    at = [(0, 0), (card[0], 0), (0, card[1]), tuple(card), tuple(card / 2)]
    scale = OVERSAMPLE * max(view.scale(np.array(point)) for point in at)
    scale = min(scale, float(np.sqrt(LARGEST_SHEET / np.prod(high - low))))
    columns, rows = np.ceil((high - low) * scale).astype(int)
    return Sheet(np.empty((rows, columns, 3), dtype=np.float32), (float(low[0]), float(low[1])), scale)


def lie_cloth(sheet: Sheet, scene: Scene, answer: Answer) -> None:
    """Cloth over the plane, or a piece of it on a table."""
    colour = answer(scene.cloth).astype(np.float32)
    height, width = sheet.pixels.shape[:2]
    if scene.cloth_rect is None and scene.weave:
        woven(sheet, slice(0, height), slice(0, width), scene.weave, colour, out=sheet.pixels)
        return
    sheet.pixels[:] = np.tile(colour if scene.cloth_rect is None else answer(scene.table), (width, 1))
    found = None if scene.cloth_rect is None else sheet.cover(scene.cloth_rect)
    if found is not None:
        sheet.fill(found, woven(sheet, *found[:2], scene.weave, colour))


def lay_ink(sheet: Sheet, scene: Scene, place: Rect, content: Ink, answer: Answer, rng: np.random.Generator) -> Array:
    """A strip in a place; returns its mean reflectance, specks left out."""
    x, y, w, h = place
    left, top, right, bottom = content.extent or (0.0, 0.0, 1.0, 1.0)
    found = sheet.cover((x + left * w, y + top * h, (right - left) * w, (bottom - top) * h))
    noise = rng.integers(2**32)  # drawn in every case, so that one effect does not change the others' chance
    if found is None:
        return np.atleast_2d(content.reflectance)[len(np.atleast_2d(content.reflectance)) // 2]
    rows, columns, down, across = found
    shade = texture(sheet, rows, columns, scene.weave)
    step = film_map(sheet, rows, columns, shade, content.uneven, content.blotch, SERIES, int(noise), content.taper)
    table = np.atleast_2d(content.reflectance)
    alpha = np.outer(down, across)
    if content.ragged and content.extent is not None:
        alpha = alpha * ragged(sheet, rows, columns, content.ragged, int(noise))
    even = step is None
    film = tinted(shade, answer(table[len(table) // 2])) if even else times(pick(answer(table), step), shade)
    if content.gloss:
        film = film + tinted(sheen(sheet, rows, columns, content.gloss, int(noise)), answer(np.ones(81)))
    if content.ragged:
        sheet.blend(rows, columns, alpha, film)
    else:
        sheet.fill(found, film)
    if content.specks:
        paint_dirt(sheet, rows, columns, content.specks, answer(0.8 * scene.cloth), int(noise))
    return mean_reflectance(table, step, shade * alpha, alpha)


def pick(colours: Array, step: NDArray[np.float32]) -> NDArray[np.float32]:
    """Colours (n, 3) at fractional rows `step` (h, w)."""
    places = np.arange(len(colours))
    fine = np.linspace(0, len(colours) - 1, 2048)
    table = np.stack([np.interp(fine, places, colours[:, i]) for i in range(3)], axis=-1).astype(np.float32)
    return table[np.rint(step * (2047 / (len(colours) - 1))).astype(np.int32)]


def lay_card(sheet: Sheet, scene: Scene, answer: Answer, card: PrintedCard, dx: float, dy: float) -> None:
    """A print with its windows cut out, over what lies there; (dx, dy) mm is its corner."""
    design = card.design

    def at(box):
        return box.x + dx, box.y + dy, box.w, box.h

    if scene.card_edge:
        sheet.darken_outside((dx, dy, *design.size_mm), scene.card_edge)
        for window in design.windows:
            sheet.darken_inside(at(window.box), scene.card_edge)
    under = [
        (found, sheet.pixels[found[:2]].copy()) for window in design.windows if (found := sheet.cover(at(window.box)))
    ]
    sheet.paint((dx, dy, *design.size_mm), answer(card.paper))
    for patch in design.patches:
        sheet.paint(at(patch.box), answer(card.reflectance[patch.name]))
    family = getattr(cv2.aruco, f"DICT_APRILTAG_{design.tag_family.upper()}")
    number = zip(tag_ids(card.number), design.number_boxes, strict=True) if card.number else ()
    for tag, box in [*((tag.id, tag.box) for tag in design.tags), *number]:
        paint_tag(sheet, at(box), tag_modules(family, tag), answer(card.black))
    bar = design.scale_bar
    sheet.paint((bar.x + dx, bar.y + dy, bar.w, 0.3), answer(card.black))
    for found, shown in under:
        sheet.fill(found, shown)


def see(sheet: Sheet, maps: NDArray[np.float32]) -> NDArray[np.float32]:
    """(h, w, 3) the sheet through the lens."""
    return cv2.remap(sheet.pixels, maps, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def corners(scene: Scene, view: View) -> dict[str, Array]:
    """Where everything on the card lies in the photo, (4, 2) px."""
    design = scene.card.design
    rects = {"card": (0.0, 0.0, *design.size_mm)} | {piece.name: piece.rect for piece in scene.loose}
    for name, box in [(f"tag {tag.id}", tag.box) for tag in design.tags] + [
        (item.name, item.box) for item in (*design.patches, *design.windows)
    ]:
        rects[name] = (box.x, box.y, box.w, box.h)
    return {
        name: view.project(np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]))
        for name, (x, y, w, h) in rects.items()
    }
