"""A screen's mesh, and the ink that it holds: open area times thickness."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import UsageError
from .numbers import NUMBER, check_number, number_of, parse_amount

CM_IN_INCH = 2.54
# Threads: coarser and finer are not woven for printing on cloth. Beyond a bare 100 both readings are common.
COARSEST, FINEST, SURE_PER_CM = 5.0, 200.0, 100.0
THICKNESS = 1.5  # mesh thickness in thread diameters; makers print 1.48 to 1.56 for three meshes of 90 threads/cm
LEAST_OPEN = 0.01  # part of a mesh; with less nobody prints on cloth. No source
THINNEST, THICKEST = 15.0, 1000.0  # µm, of a mesh; no source
WRITTEN = re.compile(
    rf"{NUMBER}\s*(?:-\s*{NUMBER})?\s*(?P<grade>HD|[STst])?\s*(?:threads)?\s*"
    r"(?P<unit>/\s*cm|per cm|/\s*inch|/\s*in|per inch)?"
)
OPEN_AND_THICK = re.compile(rf"{NUMBER}\s*%\s*(?:of|[x×*])\s*{NUMBER}\s*(?:um|µm|μm)?", re.I)


@dataclass(frozen=True)
class Mesh:
    """A plain-woven screen mesh."""

    threads_cm: float
    thread_um: float | None = None  # diameter


def ink_volume(open_area: float, thickness_um: float) -> float:
    """Ink, cm³/m², that fills the openings of a mesh: as high as a film of so many µm; `open_area` is a part, up to 1.

    Raises
    ------
    UsageError
        A number makes no sense.

    Source
    ------
    Common to the makers of wire cloth and mesh: open area times thickness; 1 µm over 1 m² is 1 cm³.
    """
    if 1 < open_area <= 100:
        raise UsageError("open-area-above-whole", "give-open-area-as-part", open_area=open_area, part=open_area / 100)
    check_number(open_area, "open-area", LEAST_OPEN, 1)
    check_number(thickness_um, "mesh-thickness", THINNEST, THICKEST)
    return open_area * thickness_um


def open_area(mesh: Mesh) -> float:
    """Part of the mesh that is open, from its geometry; makers print figures up to 0.02 beside it.

    Raises
    ------
    UsageError
        The thread's diameter is not known, or the threads leave hardly an opening.
    """
    check_number(mesh.threads_cm, "mesh-count", COARSEST, FINEST)
    if mesh.thread_um is None:
        raise UsageError("thread-diameter-missing", "say-the-thread", threads=mesh.threads_cm)
    check_number(mesh.thread_um, "thread-diameter", THINNEST / THICKNESS, THICKEST / THICKNESS)
    free = max(1 - mesh.threads_cm * mesh.thread_um / 1e4, 0.0) ** 2
    if free < LEAST_OPEN:
        raise UsageError(
            "threads-leave-no-opening", "check-mesh-and-thread", threads=mesh.threads_cm, thread=mesh.thread_um
        )
    return free


def mesh_volume(mesh: Mesh) -> float:
    """Ink, cm³/m², that a mesh holds, from its count and thread alone; a woven mesh is THICKNESS threads thick.

    The trade press gave other formulas for up to 42, for 43 to 139 and from 140 threads/cm ("How Much Ink Do You
    Need?", April 2000). They jump where one takes over from the next (42-80 gave 64, 43-80 gave 34), and gave a third
    less than makers print for 90-40, so they are not followed.

    Raises
    ------
    UsageError
        A number makes no sense, or the thread's diameter is not known.
    """
    return ink_volume(open_area(mesh), THICKNESS * (mesh.thread_um or 0.0))


def parse_ink_volume(text: str) -> float:
    """ "25", "25 cm³/m²", or open area and thickness as a maker prints them, "33 % of 72 µm" -> cm³/m².

    Raises
    ------
    UsageError
        It cannot be read, or makes no sense.
    """
    if found := OPEN_AND_THICK.fullmatch(text.strip()):
        return ink_volume(number_of(found[1]) / 100, number_of(found[2]))
    return parse_amount(text, "cm3/m2")


def parse_mesh(text: str) -> Mesh:
    """ "77", "77/cm", "43T", "77-48" (thread diameter in µm) or "195/inch" -> Mesh.

    A bare number counts threads per cm; above 100 it may as well count them per inch, and is refused.

    Raises
    ------
    UsageError
        It cannot be read, can be read in two ways, or is no mesh for printing.
    """
    found = WRITTEN.fullmatch(" ".join(text.split()))
    if not found:
        raise UsageError("mesh-unreadable", "write-a-mesh", typed=text[:40])
    count, unit = number_of(found[1]), (found["unit"] or "").replace(" ", "")
    # Only threads per cm are written with a diameter or a grade of thread (S, T, HD).
    if count > SURE_PER_CM and not (unit or found[2] or found["grade"]):
        raise UsageError("mesh-per-cm-or-inch", "say-per-cm-or-inch", count=count)
    threads = count / CM_IN_INCH if "in" in unit else count
    check_number(threads, "mesh-count", COARSEST, FINEST)
    return Mesh(threads, number_of(found[2]) if found[2] else None)
