"""What is said of a run: its motif, the mesh, what a pull lays, and how much ink to mix."""

from __future__ import annotations

from .surface import Catalogue, On

PROBLEMS: Catalogue = {
    # The motif and earlier runs.
    "area-given-twice": On(
        "You gave both --motif and --area.", "The motif's width and height and its area are all filled in."
    ),
    "area-missing": On("You gave neither --motif nor --area.", "The size of the motif is missing."),
    "area-unreadable": "'{typed}' can't be read as an area.",
    "coverage-above-whole": "A coverage of {coverage:g} is more than the whole area.",
    "coverage-hardly-a-print": "A coverage of {percent:g} % is hardly a print.",
    "weighing-all-on-screen": "Nothing would have gone onto the cloth: {grams:g} g were used, and {on_screen:g} g stay"
    " on the screen.",
    "weighing-missing": "No weighed run was given.",
    "weighing-unreadable": "'{typed}' can't be read as what a run used.",
    # The mesh.
    "deposit-unknown": "It isn't known how much ink one pull lays down.",
    "mesh-and-ink-volume": "A mesh and its ink volume were both given.",
    "mesh-per-cm-or-inch": "A mesh of {count:g} could be threads per cm or per inch.",
    "mesh-unreadable": "'{typed}' can't be read as a mesh.",
    "open-area-above-whole": "An open area of {open_area:g} is more than the whole mesh.",
    "thread-diameter-missing": "The thread diameter of the mesh with {threads:g} threads/cm is missing.",
    "thread-diameters-differ": "Two thread diameters were given: {in_mesh:g} and {given:g} µm.",
    "threads-leave-no-opening": "{threads:g} threads/cm of {thread:g} µm leave hardly any opening.",
}
REMEDIES: Catalogue = {
    "check-mesh-and-thread": "Check both numbers: the mesh is counted per cm, the thread is in µm.",
    "type-coverage-in-percent": "Type it in percent: {as_percent:g} if you mean {percent:g} of the motif. For less than"
    " {palest:g} %, give a smaller motif.",
    "give-coverage-as-part": "If you meant {coverage:g} %, give {part:g}.",
    "give-one-area": On(
        "Give only one: --motif 30x40 (cm, width x height), or --area 1200 (cm²).",
        "Fill in only one: width and height in cm, or the area in cm².",
    ),
    "give-the-area": On(
        "Give --motif 30x40 (cm, width x height), or --area 1200 (cm²).",
        "Fill in its width and height in cm, or its area in cm².",
    ),
    "ink-volume-alone": "Give only the ink volume: it is more reliable.",
    "one-thread-diameter": "Give only the right one.",
    "give-open-area-as-part": "Give {part:g} for {open_area:g} %.",
    "say-per-cm-or-inch": "Write {count:g}/cm or {count:g}/inch.",
    "say-what-a-pull-lays": On(
        "Best of all, give what a run used (--used '120 g for 40'). If you don't know it, give --ink-volume, or --mesh"
        " with --thread.",
        "Best of all, fill in what an earlier run used. If you don't know it, fill in the ink volume of the mesh, or"
        " mesh and thread.",
    ),
    "say-less-on-screen": On(
        "Say what stays on screen and squeegee with --setup-loss; or weigh only what went onto the cloth, and leave out"
        " 'with the screen'.",
        "Say what stays on screen and squeegee each time, under 'Another motif, the mesh, losses and the pot'; or take"
        " it off the grams yourself.",
    ),
    "say-the-thread": "Give it in µm, such as {threads:.0f}-48, or weigh what a run uses.",
    "weigh-a-run": "Weigh the pot before and after a run, and give the grams used, without what stayed on the screen.",
    "write-a-mesh": "Write it as 77/cm, 77-48 or 195/inch.",
    "write-a-weighing": "Write it as '120 g for 40', or as '120 g for 40 of 30x40 at 35' for another motif and"
    " coverage; add 'with the screen' at the end if the grams include what stayed on the screen.",
    "write-an-area": "Write it as '30 x 40 cm' or '1200 cm²'.",
}
FLAGS: Catalogue = {
    "deposit-from-mesh-alone": "Worked out from the mesh alone: cloth may take up {low:.0f} to {high:.0f} g/m²."
    " Weigh the pot before and after a run, and the next amount is more certain.",
    "few-weighed-runs": "Only {count:counted weighed run}: how much runs differ is assumed, not known. Weigh more"
    " runs.",
    "reserve-may-run-out": On(
        "That reserve may run out: a pull may lay up to {most:.0f} g/m². Leave out --reserve to be given enough.",
        "That reserve may run out: a pull may lay up to {most:.0f} g/m². Leave the reserve empty to be given enough.",
    ),
    "weighing-unusual": "Weighing {number} gives {laid:.0f} g/m², which is unusual: check its grams and its area.",
}
