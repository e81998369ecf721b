"""What a phone does with the light: sensor, white balance, matrix, tone, sharpening, file.

Steps in the order of the hardware. With the defaults of `Phone` each of them does nothing but the white balance
and the matrix that every colour picture needs.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.worlds.edits import EDITS
from tests.worlds.plane import Answer, times
from tests.worlds.spectra import Array, bell, cameras, illuminant, reflectance_xyz, step_up, white_xyz

PRIMARIES = {  # IEC 61966-2-1 and SMPTE EG 432-1, white D65
    "sRGB": ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)),
    "Display P3": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
}


@dataclass(frozen=True)
class Phone:
    """Settings of the camera and its software; every default is neutral."""

    exposure: float = 0.8  # the card's stock, in the channel that fills first, over full scale
    vignetting: float = 0.0  # share of the light lost in the frame's corner
    flare: float = 0.0  # share of the frame's mean light that veils everything
    blur: float = 0.0  # px, standard deviation
    motion: tuple[float, float] = (0.0, 0.0)  # px the picture moved during the exposure
    electrons: float | None = None  # at full scale; None is a sensor without noise
    read_noise: float = 0.0  # of full scale
    white_error: tuple[float, float] = (0.0, 0.0)  # relative error of the red and the blue gain
    grey_world: float = 0.0  # how far the phone believes that the picture's mean is grey, 0..1
    matrix_light: str | None = None  # the CIE illuminant the matrix was fitted for; None is the scene's own
    saturation: float = 1.0
    space: str = "sRGB"
    contrast: float = 0.0  # share of an S-shaped curve, 0..1
    brighten: float = 0.0  # middle tones raised
    lift: float = 0.0  # black raised
    local: float = 0.0  # local tone mapping, 0..1
    sharpen: float = 0.0
    quality: int = 92  # of the JPEG
    subsampling: int = 2  # of its colour: 0 none, 2 halved both ways
    orientation: int = 1  # EXIF tag: the picture is stored turned, and the tag says how
    edit: tuple[str, float] | None = None  # one of EDITS and how strongly, 0..1
    screenshot: float | None = None  # a screenshot in place of the file; the photo's share of the screen


def camera_answer(camera: str, light: Array) -> Answer:
    """Reflectance -> camera RGB under a light; the perfect diffuser's largest channel is 1."""
    weights = cameras()[camera] * light[:, None]
    weights = weights / weights.sum(axis=0).max()
    return lambda reflectance: np.asarray(reflectance) @ weights


def expose(raw: NDArray[np.float32], phone: Phone, seed: tuple[int, ...]) -> NDArray[np.float32]:
    """Light on the sensor -> what it reads, clipped at 1."""
    if phone.vignetting:
        raw = times(raw, 1 - np.float32(phone.vignetting) * radius_square(raw.shape))
    if phone.flare:
        raw += np.tile(np.float32(phone.flare) * np.array(cv2.mean(raw)[:3], dtype=np.float32), (raw.shape[1], 1))
    if phone.blur:
        raw = cv2.GaussianBlur(raw, (0, 0), phone.blur)
    if any(phone.motion):
        raw = cv2.filter2D(raw, -1, motion_kernel(phone.motion), borderType=cv2.BORDER_REPLICATE)
    if phone.electrons is not None or phone.read_noise:
        shot = 0.0 if phone.electrons is None else 1 / phone.electrons
        spread = np.maximum(raw, 0)
        spread *= np.float32(shot)
        spread += np.float32(phone.read_noise**2)
        np.sqrt(spread, out=spread)
        spread *= np.random.default_rng(seed).standard_normal(raw.shape, dtype=np.float32)
        raw += spread
    return np.minimum(raw, 1)


def radius_square(shape: tuple[int, ...]) -> NDArray[np.float32]:
    """(h, w) squared distance from the frame's middle, 1 in its corners."""
    ys, xs = (np.linspace(-1, 1, count, dtype=np.float32) for count in shape[:2])
    height, width = shape[:2]
    return ((ys * height)[:, None] ** 2 + (xs * width) ** 2) / np.float32(height**2 + width**2)


def motion_kernel(motion: tuple[float, float]) -> NDArray[np.float32]:
    """A line of length and direction `motion`, sum 1."""
    reach = int(np.ceil(max(map(abs, motion)) / 2)) + 1
    fine = np.zeros((2 * reach + 1, 2 * reach + 1), dtype=np.float32)
    for part in np.linspace(-0.5, 0.5, 101):
        x, y = part * motion[0] + reach, part * motion[1] + reach
        i, j = int(x), int(y)
        for down, share in ((j, 1 - (y - j)), (j + 1, y - j)):
            fine[down, i] += share * (1 - (x - i))
            fine[down, i + 1] += share * (x - i)
    return fine / fine.sum()


def develop(raw: NDArray[np.float32], phone: Phone, camera: str, light: Array, white: Array) -> NDArray[np.uint8]:
    """Camera RGB, 1 at full scale -> the 8-bit picture; `white` (3,) is the perfect diffuser's camera RGB."""
    gains = white_gains(raw, phone, white)
    matrix = development_matrix(phone, camera, light) @ np.diag(gains)
    linear = cv2.transform(np.maximum(raw, 0), matrix.astype(np.float32))
    if phone.local:
        linear = tone_map(linear, phone.local)
    codes = np.clip(linear, 0, 1)
    codes *= 65535
    codes += 0.5
    picture = tone_table(phone.contrast, phone.brighten, phone.lift)[codes.astype(np.uint16)]
    if phone.sharpen:
        grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        edges = np.float32(phone.sharpen) * (grey - cv2.GaussianBlur(grey, (0, 0), 1.2))
        picture += cv2.merge([edges, edges, edges])
    finished = np.clip(picture + np.float32(0.5), 0, 255).astype(np.uint8)
    return finished if phone.edit is None else EDITS[phone.edit[0]](finished, phone.edit[1])


def white_gains(raw: NDArray[np.float32], phone: Phone, white: Array) -> Array:
    """(3,) what each channel is multiplied with; green 1."""
    seen = white / white[1]
    if phone.grey_world:
        mean = np.array(cv2.mean(raw)[:3])
        seen = seen ** (1 - phone.grey_world) * (mean / mean[1]) ** phone.grey_world
    return (1 + np.array([phone.white_error[0], 0, phone.white_error[1]])) / seen


def development_matrix(phone: Phone, camera: str, light: Array) -> Array:
    """(3, 3) white-balanced camera RGB -> linear RGB of the phone's colour space, saturation included."""
    lamp = light if phone.matrix_light is None else illuminant(phone.matrix_light)
    luma = rgb_matrix(phone.space)[1] / 100
    boost = phone.saturation * np.eye(3) + (1 - phone.saturation) * np.outer(np.ones(3), luma)
    return boost @ camera_fit(camera, lamp.tobytes(), phone.space)


@cache
def camera_fit(camera: str, light: bytes, space: str) -> Array:
    """(3, 3) white-balanced camera RGB -> linear RGB by least squares over smooth reflectances, white kept."""
    answer = camera_answer(camera, np.frombuffer(light))
    seen = answer(training_reflectances()) / answer(np.ones(81))
    lamp = illuminant("D65")
    wanted = reflectance_xyz(training_reflectances(), lamp, 2) @ np.linalg.inv(rgb_matrix(space)).T
    colourful = seen[:, [0, 2]] - seen[:, [1]]
    rows = [np.linalg.lstsq(colourful, wanted[:, i] - seen[:, 1], rcond=None)[0] for i in range(3)]
    return np.array([[red, 1 - red - blue, blue] for red, blue in rows])


@cache
def training_reflectances() -> Array:
    """(300, 81) smooth invented reflectances, as a maker would fit a camera on."""
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


@cache
def rgb_matrix(space: str) -> Array:
    """(3, 3) linear RGB -> XYZ, white of D65 and 2 degrees at Y = 100."""
    xy = np.array(PRIMARIES[space])
    primaries = (np.column_stack([xy, 1 - xy.sum(axis=1)]) / xy[:, 1:]).T
    return primaries * np.linalg.solve(primaries, white_xyz(illuminant("D65"), 2))


def tone_map(linear: NDArray[np.float32], strength: float) -> NDArray[np.float32]:
    """Dark parts of the picture raised and bright ones lowered, by what surrounds them."""
    grey = np.maximum(cv2.cvtColor(linear, cv2.COLOR_RGB2GRAY), 1e-3)
    height, width = grey.shape
    small = np.log(cv2.resize(grey, (160, max(160 * height // width, 1)), interpolation=cv2.INTER_AREA))
    around = cv2.GaussianBlur(small, (0, 0), 9)
    gain = np.exp(-strength * (around - around.mean()))
    return times(linear, cv2.resize(gain, (width, height), interpolation=cv2.INTER_LINEAR))


@cache
def tone_table(contrast: float, brighten: float, lift: float) -> NDArray[np.float32]:
    """(65536,) linear code -> 0..255: sRGB (IEC 61966-2-1), then the maker's idea of a pleasing picture."""
    linear = np.arange(65536) / 65535
    code = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    code = code ** (1 / (1 + brighten))
    code = (1 - contrast) * code + contrast * code**2 / (code**2 + (1 - code) ** 2)
    return (255 * (lift + (1 - lift) * code)).astype(np.float32)


# --- files --------------------------------------------------------------------------------------------------


def write_jpeg(shot, path: Path, quality: int | None = None, orientation: int | None = None, icc: bytes | None = None):
    """Store a shot as a JPEG file, by its phone's settings unless told otherwise; returns the path.

    The colour profile is written where the phone's space needs one, or as handed in.
    """
    from PIL import Image

    phone = shot.scene.phone
    turned = phone.orientation if orientation is None else orientation
    profile = matrix_profile(phone.space) if icc is None and phone.space != "sRGB" else icc
    exif = Image.Exif()
    exif[0x0112] = turned
    Image.fromarray(stored(shot.pixels, turned)).save(
        path,
        format="JPEG",
        quality=phone.quality if quality is None else quality,
        subsampling=phone.subsampling,
        exif=exif.tobytes() if turned != 1 else b"",
        icc_profile=profile,
    )
    return path


def stored(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """An upright picture as it is stored under an EXIF orientation tag. Source: EXIF 2.3, tag 274."""
    flipped = pixels[:, ::-1]
    turned = {
        1: pixels,
        2: flipped,
        3: np.rot90(pixels, 2),
        4: np.rot90(flipped, 2),
        5: np.rot90(flipped),
        6: np.rot90(pixels),
        7: np.rot90(flipped, -1),
        8: np.rot90(pixels, -1),
    }[orientation]
    return np.ascontiguousarray(turned)


def matrix_profile(space: str) -> bytes:
    """A display profile for a colour space with the sRGB tone curve. Source: ICC.1:2010 (version 4)."""
    bradford = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
    d50 = np.array([0.9642, 1.0, 0.8249])
    matrix = rgb_matrix(space) / 100
    adapt = np.linalg.inv(bradford) @ np.diag(bradford @ d50 / (bradford @ matrix.sum(axis=1))) @ bradford
    columns = (adapt @ matrix).T

    def fixed(*numbers: float) -> bytes:
        return struct.pack(f">{len(numbers)}i", *(round(number * 65536) for number in numbers))

    def words(text: str) -> bytes:
        coded = text.encode("utf-16-be")
        return b"mluc" + struct.pack(">IIIHHII", 0, 1, 12, 0x656E, 0x5553, len(coded), 28) + coded

    curve = b"para" + struct.pack(">IHH", 0, 3, 0) + fixed(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    tags = {b"desc": words(space), b"cprt": words("Public domain"), b"wtpt": b"XYZ \0\0\0\0" + fixed(*d50)}
    tags |= {
        key: b"XYZ \0\0\0\0" + fixed(*column) for key, column in zip((b"rXYZ", b"gXYZ", b"bXYZ"), columns, strict=True)
    }
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
    tags[b"chad"] = b"sf32\0\0\0\0" + fixed(*adapt.ravel())
    table, body = struct.pack(">I", len(tags)), b""
    start = 128 + 4 + 12 * len(tags)
    for key, data in tags.items():
        table += key + struct.pack(">II", start + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    head = struct.pack(">I4xI4s4s4s", start + len(body), 0x04300000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2024, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28 + fixed(*d50)
    return head.ljust(128, b"\0") + table + body
