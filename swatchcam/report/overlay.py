"""Measurement -> the photo with what was found drawn over it, as a PNG for the eye."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..colorimetry.srgb import lab_to_srgb, xyz_to_srgb
from ..files import write_output
from ..geometry.projection import corners_of
from ..measurement.measure import Measurement
from ..photo.photo import Photo, linear

LONG_SIDE = 1600  # px of the drawn photo
INK = (30, 30, 30)
PAPER = (255, 255, 255)
LIGHT = (110, 60, 150)
SHORT = 12  # points of a line of equal light; a shorter one would be all label
# Error of a patch, CIEDE2000, and how it is drawn: mark as well as colour, so that neither is needed alone.
ERROR_STEPS = ((1.0, (40, 150, 70)), (2.0, (230, 170, 30)), (np.inf, (200, 40, 40)))


def write_picture(measurement: Measurement, path: Path) -> None:
    """Write the drawn-over photo as a PNG.

    Raises
    ------
    UsageError
        It cannot be written.
    """
    _, data = cv2.imencode(".png", draw(measurement)[..., ::-1])
    write_output(path, data.tobytes(), "--picture")


def small_jpeg(photo: Photo, side: int, quality: int) -> bytes:
    """A JPEG of the photo in a screen's colours, `side` px along its longer side."""
    scale = side / max(photo.pixels.shape[:2])
    few = cv2.resize(photo.pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    coded = xyz_to_srgb(linear(photo, few) @ photo.to_xyz.T)
    return jpeg(np.round(255 * np.clip(coded, 0.0, 1.0)).astype(np.uint8), quality)


def jpeg(rgb: NDArray[np.uint8], quality: int) -> bytes:
    """(h, w, 3) RGB -> a JPEG file."""
    _, data = cv2.imencode(".jpg", np.ascontiguousarray(rgb[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, quality])
    return bytes(data)


def draw(measurement: Measurement) -> NDArray[np.uint8]:
    """(h, w, 3) RGB: photo, tags, patches by leave-one-out error, windows, sampled ink, light, results below."""
    photo = measurement.photo
    shrink = min(1.0, LONG_SIDE / max(photo.pixels.shape[:2]))
    picture = photo.pixels if photo.pixels.dtype == np.uint8 else (photo.pixels >> 8).astype(np.uint8)
    picture = np.ascontiguousarray(cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA))
    pen = _Pen(measurement, picture, shrink)
    _draw_tags(pen)
    _draw_patches(pen)
    _draw_light(pen)
    for window in measurement.pose.design.windows:
        pen.polygon(corners_of(window.box), PAPER, 1)
    for colour in measurement.colours:
        for outline in colour.strip.outline:
            pen.polygon(np.array(outline), INK, 3)
            pen.polygon(np.array(outline), PAPER, 1)
    return np.concatenate([picture, _legend(measurement, picture.shape[1])])


class _Pen:
    """Draws on the shrunk photo in the card's millimetres."""

    def __init__(self, measurement: Measurement, picture: NDArray[np.uint8], shrink: float) -> None:
        self.measurement, self.picture, self.shrink = measurement, picture, shrink

    def at(self, mm: Array) -> NDArray[np.int32]:
        px = (self.measurement.pose.to_photo(np.asarray(mm, dtype=float)) + 0.5) * self.shrink - 0.5
        return np.round(px).astype(np.int32)

    def polygon(self, mm: Array, colour: tuple[int, int, int], width: int) -> None:
        cv2.polylines(self.picture, [self.at(mm).reshape(-1, 1, 2)], True, colour, width, cv2.LINE_AA)

    def text(self, mm: tuple[float, float], words: str, size: float = 0.42) -> None:
        """Write dark on light and light on dark."""
        x, y = (int(v) for v in self.at(np.array(mm)))
        around = self.picture[max(y - 12, 0) : max(y + 2, 1), max(x, 0) : max(x + 30, 1)]
        dark = around.size > 0 and float(around.mean()) < 128
        _write(self.picture, words, x, y, size, PAPER if dark else INK)

    def line(self, mm: Array, colour: tuple[int, int, int]) -> None:
        cv2.polylines(self.picture, [self.at(mm).reshape(-1, 1, 2)], False, colour, 1, cv2.LINE_AA)

    def label(self, mm: Array, words: str, colour: tuple[int, int, int], size: float = 0.42) -> None:
        """Words on a box of their own, which can be read over anything."""
        x, y = (int(v) for v in self.at(mm))
        (width, height), _ = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, size, 1)
        cv2.rectangle(self.picture, (x - 3, y - height - 4), (x + width + 3, y + 4), colour, -1)
        _write(self.picture, words, x, y, size, PAPER)


def _write(
    picture: NDArray[np.uint8],
    words: str,
    x: int,
    y: int,
    size: float,
    colour: tuple[int, int, int],
) -> None:
    cv2.putText(picture, words, (x, y), cv2.FONT_HERSHEY_SIMPLEX, size, colour, 1, cv2.LINE_AA)


def _draw_tags(pen: _Pen) -> None:
    for tag in pen.measurement.pose.design.tags:
        seen = tag.id in pen.measurement.pose.tags
        pen.polygon(corners_of(tag.box), (60, 130, 220) if seen else (200, 40, 40), 2)
        if not seen:
            pen.text((tag.box.x, tag.box.y + tag.box.h / 2), "not read")


def _draw_patches(pen: _Pen) -> None:
    fit = pen.measurement.balance
    for patch in pen.measurement.pose.design.patches:
        corners = corners_of(patch.box)
        if patch.name not in fit.left_out:
            pen.polygon(corners, (200, 40, 40), 1)
            pen.polygon(corners[[0, 2]], (200, 40, 40), 1)
            pen.polygon(corners[[1, 3]], (200, 40, 40), 1)
            continue
        error = fit.left_out[patch.name]
        colour = next(colour for limit, colour in ERROR_STEPS if error <= limit)
        pen.polygon(corners, colour, 2)
        pen.text((patch.box.x + 0.12 * patch.box.w, patch.box.y + 0.65 * patch.box.h), f"{error:.1f}", 0.42)


def _draw_light(pen: _Pen) -> None:
    """Lines of equal light, as a share of the brightest."""
    from skimage.measure import find_contours  # loads no scipy; only who draws waits for it

    design, field = pen.measurement.pose.design, pen.measurement.light.field
    size, cells = np.array(design.size_mm), np.array([105, 74])
    x, y = (np.linspace(0, size[k], cells[k] + 1) for k in (0, 1))
    level = field.at(np.stack(np.meshgrid(x, y), axis=-1)).mean(axis=-1)
    level /= level.max()
    for share in np.arange(0.3, 1.0, 0.05):
        for line in find_contours(level, share):
            if len(line) > SHORT:
                pen.line(line[:, ::-1] * size / cells, LIGHT)
                pen.label(line[len(line) // 2, ::-1] * size / cells, f"light {share:.0%}", LIGHT)


def _legend(measurement: Measurement, width: int) -> NDArray[np.uint8]:
    """Results under the photo, on neutral grey so that the chips can be judged."""
    rows = len(measurement.colours)
    legend = np.full((74 + 64 * rows, width, 3), 128, dtype=np.uint8)
    for number, colour in enumerate(measurement.colours):
        top = 12 + 64 * number
        rgb, _ = lab_to_srgb(np.array(colour.lab), colour.balance.illuminant, colour.balance.observer)
        code = tuple(round(255 * float(v)) for v in rgb)
        cv2.rectangle(legend, (12, top), (152, top + 52), code, -1)
        words = (
            f"{colour.name}:  L* {colour.lab[0]:.1f}  a* {colour.lab[1]:.1f}  b* {colour.lab[2]:.1f}"
            f"   95 % within {colour.radius:.1f} CIEDE2000"
        )
        _write(legend, words, 168, top + 32, 0.6, PAPER)
    key = (
        "blue: tag found    number: error of that patch (green below 1, yellow below 2, red above, crossed out: not"
        " used)    purple lines: equal light    white outline: ink measured"
    )
    _write(legend, key, 12, legend.shape[0] - 24, 0.42, PAPER)
    return legend
