"""Studio Halm, an invented studio: shades, batches and records as the library would hand them over, nothing measured.

Colours come from pigment films on cloth (`inks`), so that each record's CIELAB is that of its reflectance.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchcam.colorimetry.error_covariance import Errors
from swatchcam.colorimetry.intervals import radius_of_lab
from swatchcam.colorimetry.spectra import reflectance_to_lab
from swatchcam.library.records import AIR_DRIED, HEAT_SET, WASHED, WET, Batch, Record, Shade, State
from swatchcam.measurement.stored_colour import DIGITS, PARTS, Kept, PhotoRef
from swatchcam.messages.message import SAID_BEFORE, Flag, flag
from swatchcam.recipes.recipe import DROPS, GRAMS, Part, Recipe
from tests.worlds.inks import strip_reflectance

RECIPE = Recipe(
    (
        Part("binder", 500.0, GRAMS, 500.0, 0.5),
        Part("red", 6.0, GRAMS, 6.0, 0.05, "R 12"),
        Part("yellow", 40.0, DROPS, 1.8, 0.2),
    )
)
HOSTILE = (
    "<script>alert(1)</script>",
    '"Halm\'s" & <b>Rot</b>',
    "=1+1",
    "Grün, süß; „Öl“",
    "🎨 Mohn 🌺",
    "Mohnrot" * 17 + "!",
    "{{ 7 * 7 }}",
    "]]><!-- -->",
)


def kept(red=1.2, yellow=0.4, *, noise=0.15, photo="a", absolute=True) -> Kept:
    """A film of this much pigment (% in the paste), each with an error such as one photo of a measured card has."""
    reflectance = tuple(round(float(v), DIGITS) for v in strip_reflectance({"red": red, "yellow": yellow}))
    lab = reflectance_to_lab(np.array(reflectance))
    sizes = dict(zip(PARTS, (noise, 0.1, 0.3, 0.4, 0.3, 0.2), strict=True))
    parts = {name: size**2 * np.diag([0.5, 1.2, 1.0]) for name, size in sizes.items()}
    shared = np.hstack([0.3 * np.eye(3), 0.4 * np.eye(3)])
    pattern = {f"A{i}": (0.1 * np.sin(i), 0.1 * np.cos(i), 0.05) for i in range(14)}
    covariance = np.sum(list(parts.values()), axis=0)
    return Kept(
        name="left",
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        illuminant="D65",
        observer=10,
        radius=radius_of_lab(lab, covariance),
        absolute=absolute,
        errors=Errors(parts, shared, pattern, (photo,)),
        reflectance=reflectance,
    )


def with_lab(record: Record, lab: tuple[float, float, float]) -> Record:
    """The same record with another colour; its reflectance stays behind."""
    return replace(record, colour=replace(record.colour, lab=lab))


def shade(**changes) -> Shade:
    usual = Shade(1, "Mohnrot", kept().lab, 1.5, ("spring", "wall"), "For the poppy print.\nTwo strokes.")
    return replace(usual, **changes)


def batch(number: int = 1, **changes) -> Batch:
    usual = Batch(number, "Mohnrot", f"B{number}", f"2026-02-{number:02d}", "water-based binder", RECIPE, "")
    return replace(usual, **changes)


def record(number: int = 1, colour: Kept | None = None, **changes) -> Record:
    usual = Record(
        number=number,
        shade="Mohnrot",
        batch="B1",
        mark="",
        state=State(AIR_DRIED),
        cloth="cotton, white",
        mesh="43T",
        squeegee="70 shore",
        measured=f"2026-03-{1 + number % 28:02d}",
        card="halm-1",
        grade="measured",
        phone="studio phone",
        light="daylight",
        colour=colour or kept(photo=f"photo {number}"),
        photos=(PhotoRef(f"{number:064x}", f"strip {number}.jpg", 1),),
        flags=(),
        notes="",
    )
    return replace(usual, **changes)


def three_batches() -> tuple[tuple[Batch, ...], tuple[Record, ...]]:
    """B1 on target, B2 a little off with a flag, B3 far off and read with a nominal card; every state is there."""
    weak = flag("strip-uneven", uneven=1.2)
    rows = (
        ("B1", State(WET), 1.2, 0.4, {}),
        ("B1", State(AIR_DRIED), 1.2, 0.41, {}),
        ("B1", State(HEAT_SET), 1.24, 0.43, {}),
        ("B1", State(WASHED, 3), 1.1, 0.4, {}),
        ("B2", State(AIR_DRIED), 1.3, 0.45, {"flags": (weak,)}),
        ("B2", State(HEAT_SET), 1.34, 0.47, {}),
        ("B3", State(AIR_DRIED), 1.0, 0.7, {"grade": "nominal", "card": "nominal"}),
    )
    records = tuple(
        record(
            number,
            kept(red, yellow, photo=f"photo {number}", absolute=more.get("grade") != "nominal"),
            batch=name,
            state=state,
            measured=f"2026-03-{number:02d}",
            **more,
        )
        for number, (name, state, red, yellow, more) in enumerate(rows, start=1)
    )
    return tuple(batch(number) for number in (1, 2, 3)), records


def hostile() -> list[tuple[Shade, Batch, Record]]:
    """A shade, its batch and one record for each name that would break a careless writer."""
    return [
        (
            shade(number=number, name=name, notes=name, tags=(name,)),
            batch(number, shade=name, name=name, ink=name, notes=name),
            record(
                number,
                shade=name,
                batch=name,
                mark=name[:20],
                cloth=name,
                flags=(Flag(SAID_BEFORE, {"sentence": name}),),
                notes=f"{name}\n{name}",
            ),
        )
        for number, name in enumerate(HOSTILE, start=1)
    ]
