"""A screen's mesh, and what its geometry says of the ink that it lays; cloth takes up more than the mesh holds."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..errors import UsageError
from .numbers import NUMBER, check_number, number_of

CM_IN_INCH = 2.54
# Threads: coarser and finer are not woven for printing on cloth. Beyond a bare 100 both readings are common.
COARSEST, FINEST, SURE_PER_CM = 5.0, 200.0, 100.0
THICKNESS = 1.5  # mesh thickness in thread diameters; makers print 1.48 to 1.56 for three meshes of 90 threads/cm
WRITTEN = re.compile(
    rf"{NUMBER}\s*(?:-\s*{NUMBER})?\s*(?P<grade>HD|[STst])?\s*(?:threads)?\s*"
    r"(?P<unit>/\s*cm|per cm|/\s*inch|/\s*in|per inch)?"
)


@dataclass(frozen=True)
class Mesh:
    """A plain-woven screen mesh."""

    threads_cm: float
    thread_um: float | None = None  # diameter


def theoretical_volume(open_area: float, thickness_um: float) -> float:
    """Ink, cm³/m², that fills the openings of a mesh; `open_area` is a part, above 0 and below 1.

    Raises
    ------
    UsageError
        A number makes no sense.

    Source
    ------
    Common to the makers of wire cloth and mesh: open area times thickness; 1 µm over 1 m² is 1 cm³.
    """
    if 1 < open_area < 100:
        raise UsageError("open-area-above-whole", "give-open-area-as-part", open_area=open_area, part=open_area / 100)
    check_number(open_area, "open-area", 0.01, 0.99)
    check_number(thickness_um, "mesh-thickness", 10, 1000)
    return open_area * thickness_um


def open_area(mesh: Mesh) -> float:
    """Part of the mesh that is open, from its geometry; makers print figures up to 0.02 above it.

    Raises
    ------
    UsageError
        The thread's diameter is not known, or the threads leave no opening.
    """
    check_number(mesh.threads_cm, "mesh-count", COARSEST, FINEST)
    if mesh.thread_um is None:
        raise UsageError("thread-diameter-missing", "say-the-thread", threads=mesh.threads_cm)
    check_number(mesh.thread_um, "thread-diameter", 10, 1000)
    free = 1 - mesh.threads_cm * mesh.thread_um / 1e4
    if free <= 0:
        raise UsageError(
            "threads-leave-no-opening", "check-mesh-and-thread", threads=mesh.threads_cm, thread=mesh.thread_um
        )
    return free**2


def wet_deposit(mesh: Mesh, thickness_um: float | None = None) -> float:
    """Height of the wet ink that a plain-woven mesh lays, µm, which is cm³/m²; cloth takes up more.

    Raises
    ------
    UsageError
        A number makes no sense, or the thread's diameter is not known.

    Source
    ------
    Trade press, "How Much Ink Do You Need?", April 2000: formulas for up to 42, 43 to 139 and from 140 threads/cm.
    """
    free = open_area(mesh)
    diameter = mesh.thread_um or 0.0
    if mesh.threads_cm < 43:
        return 1.82 * diameter * free
    thickness = THICKNESS * diameter if thickness_um is None else thickness_um
    check_number(thickness, "mesh-thickness", 10, 1000)
    return (0.285 if mesh.threads_cm < 140 else 0.35) * thickness


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
