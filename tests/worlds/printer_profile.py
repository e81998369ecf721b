"""What a print shop hands out with its printer: an ICC output profile, and cards that were printed through it.

Source of the format: ICC.1:2001-04 (version 2.4), lut16Type, which every program that prints can read.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageCms

from swatchcam.cards.design import CardDesign
from tests.worlds.many_printers import RandomPrinter
from tests.worlds.printers import PrintedCard
from tests.worlds.spectra import WAVELENGTHS, Array, illuminant, reflectance_xyz, white_xyz, xyz_lab

Rng = np.random.Generator
Reflect = Callable[[Array], Array]  # (n, inks or 3) codes of 0 to 1 -> (n, 81)

D50 = white_xyz(illuminant("D50"), 2)
NODES = {"CMYK": 9, "RGB ": 17}
LAB_NODES = 17
INTENTS = {"perceptual": ImageCms.Intent.PERCEPTUAL, "relative": ImageCms.Intent.RELATIVE_COLORIMETRIC}
ACROSS = 0.3  # of its drift, by which a printer varies over one sheet; invented
# Another batch of the same paper: how light it is and how blue or yellow, of the reflectance; invented, within a third
# of what ISO 12647-2 allows paper to vary (print_tolerances.csv: L* 3, a* 2, b* 2).
BATCH = 0.015, 0.02


def reflect_of(printer: RandomPrinter, space: str, errors: Array | float = 0.0) -> Reflect:
    """Codes of a profile's device -> reflectance; `errors` are relative changes of each ink's amount."""
    if space == "CMYK":
        return lambda codes: printer.engine.reflect(codes * (1 + errors))
    return lambda codes: printer.engine.reflect(printer.driver.amounts(codes) * (1 + errors))


def output_profile(printer: RandomPrinter, space: str, errors: Array | float = 0.0, name: str = "Drawn press") -> bytes:
    """The profile of a printer as it was on the day of `errors`; `space` is "CMYK" or "RGB "."""
    reflect = reflect_of(printer, space, errors)
    inks = 4 if space == "CMYK" else 3
    paper = reflectance_xyz(printer.paper, illuminant("D50"), 2)
    codes = grid(NODES[space], inks)
    forward = np.concatenate([relative_lab(reflect(part), paper) for part in np.array_split(codes, 8)])
    tables = {}
    for intent, shown in (("perceptual", pleasing), ("relative", lambda lab, _: lab)):
        sought = shown(np.array([100, 255, 255]) * (grid(LAB_NODES, 3) - [0, 128 / 255, 128 / 255]), forward)
        tables[intent] = separations(sought, reflect, space, printer, paper)
    ahead = lut16(inks, 3, NODES[space], coded(forward))
    back = {intent: lut16(3, inks, LAB_NODES, np.round(table * 65535)) for intent, table in tables.items()}
    text = name.encode("ascii") + b"\0"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + b"\0" * 78,
        b"cprt": b"text\0\0\0\0Public domain\0",
        b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(value * 655.36) for value in paper)),
        b"A2B0": ahead,
        b"A2B1": ahead,
        b"B2A0": back["perceptual"],
        b"B2A1": back["relative"],
    }
    return icc_file(b"prtr", space.encode(), b"Lab ", tags)


def icc_file(kind: bytes, space: bytes, connection: bytes, tags: dict[bytes, bytes]) -> bytes:
    """A profile of version 2.4 with these tags. Source: ICC.1:2001-04, clause 6."""
    start, table, body = 132 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for name, data in tags.items():
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    head = struct.pack(">I4xI4s4s4s6H", start + len(body), 0x02400000, kind, space, connection, 2024, 5, 17, 0, 0, 0)
    head += b"acsp" + b"\0" * 28 + struct.pack(">3i", 63190, 65536, 54061)
    return head.ljust(128, b"\0") + table + body


def grid(nodes: int, axes: int) -> Array:
    """(nodes^axes, axes) of 0 to 1, the last axis running fastest."""
    return np.stack(np.meshgrid(*[np.linspace(0, 1, nodes)] * axes, indexing="ij"), -1).reshape(-1, axes)


def relative_lab(reflectance: Array, paper: Array) -> Array:
    """(n, 3) media-relative CIELAB of the connection space: the paper is white."""
    return xyz_lab(reflectance_xyz(reflectance, illuminant("D50"), 2) / paper * D50, D50)


def coded(lab: Array) -> Array:
    """CIELAB as numbers of 16 bits. Source: ICC.1:2001-04, table of PCSLAB encoding for lut16Type."""
    return np.clip(np.round((lab + np.array([0, 128, 128])) * (652.8, 256, 256)), 0, 65535)


def lut16(inputs: int, outputs: int, nodes: int, table: Array) -> bytes:
    """A lut16Type without curves."""
    head = b"mft2\0\0\0\0" + struct.pack(">4B9i", inputs, outputs, nodes, 0, *(65536 * np.eye(3, dtype=int)).ravel())
    ends = struct.pack(">2H", 0, 65535)
    return head + struct.pack(">2H", 2, 2) + ends * inputs + table.astype(">u2").tobytes() + ends * outputs


def pleasing(lab: Array, forward: Array) -> Array:
    """A perceptual rendering: black is the darkest print, and colours are a little paler."""
    darkest = forward[:, 0].min()
    return np.column_stack([darkest + (1 - darkest / 100) * lab[:, 0], 0.9 * lab[:, 1:]])


def separations(sought: Array, reflect: Reflect, space: str, printer: RandomPrinter, paper: Array) -> Array:
    """(n, inks) codes that come nearest to CIELAB (n, 3): roughly, for the profile itself says what comes of them."""
    codes = grid(15, 3)
    if space == "CMYK":
        black = printer.driver.blacking * codes.min(axis=1, keepdims=True) ** 2
        codes = np.hstack([(codes - black) / (1 - black + 1e-9), black])
    made = relative_lab(reflect(codes), paper)
    return np.concatenate([codes[nearest(part, made)] for part in np.array_split(sought, 16)])


def nearest(sought: Array, made: Array) -> Array:
    square = (sought**2).sum(axis=1)[:, None] - 2 * sought @ made.T + (made**2).sum(axis=1)
    return np.asarray(square.argmin(axis=1))


def print_through(
    profile: bytes,
    printer: RandomPrinter,
    space: str,
    design: CardDesign,
    intent: str = "relative",
    errors: Array | float = 0.0,
    rng: Rng | None = None,
    drift: float = 0.0,
) -> PrintedCard:
    """A card whose codes a program took from sRGB through the profile, printed on the day of `errors`.

    With `rng` the sheet also varies from patch to patch, and its paper is of another batch.
    """
    codes = np.array([*(patch.srgb for patch in design.patches), (0, 0, 0)], dtype=np.uint8)
    device = through(profile, codes, space, intent)
    own = rng.normal(0, ACROSS * drift, (len(codes), 4)) if rng else 0.0
    table = reflect_of(printer, space, errors + own)(device)
    batch = paper_batch(rng) if rng else 1.0
    names = [patch.name for patch in design.patches]
    return PrintedCard(
        design, dict(zip(names, table * batch, strict=False)), printer.paper * batch, (table * batch)[-1]
    )


def through(profile: bytes, codes: Array, space: str, intent: str) -> Array:
    """(n, inks) what a program sends for sRGB codes (n, 3), in steps of 1/255; "none" sends them as they are."""
    if intent == "none":
        return codes / 255
    made_for = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    change = ImageCms.buildTransform(
        ImageCms.createProfile("sRGB"), made_for, "RGB", space.strip(), INTENTS[intent], ImageCms.Flags.NOOPTIMIZE
    )
    return np.asarray(ImageCms.applyTransform(Image.fromarray(codes[None]), change))[0] / 255


def paper_batch(rng: Rng) -> Array:
    """(81,) what the reflectance of a stock is multiplied with in another batch of it."""
    level, tint = rng.normal(0, BATCH)
    return np.asarray(1 - abs(level) + tint * np.exp(-(WAVELENGTHS - 380) / 55))
