"""The package reads as a story: a module imports only modules above it, and help is quick."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "swatchcam"

STORY = (
    "errors", "text", "resources", "arrays", "output", "colorimetry",
    "greyscale", "uncertainty", "card", "spectra", "reflectance", "plausible",
    "valuesfile", "values", "exports", "columns", "readings", "paper", "guide", "sheet", "icc", "exif", "header",
    "boxes", "hevc", "heif", "raw", "shading", "sensor", "formats", "decode", "photo", "origin", "tags", "unread",
    "find", "apart", "flatten", "field", "tone", "greys", "surround", "faults", "light", "ink", "shine", "bare",
    "swatch", "strip", "lay", "balance", "response", "faded", "look", "difference", "budget", "anchors", "together",
    "metamerism", "pigments", "measure", "fresh", "learn", "verdict", "check", "written", "recipe", "kept", "record",
    "sitting", "label", "care", "bounds", "mesh", "run", "laid", "quantity", "scale", "letdown", "weighing", "pour",
    "thinning", "proposal", "film", "grounds", "opacity", "tint", "layer", "guess", "palette", "seek", "mixing",
    "dispense", "correcting", "reach", "control", "nearest", "heat", "foretell", "history", "naming", "photolist",
    "place", "schema", "photostore", "rows", "library", "entry", "keeping", "changes", "amend", "safekeeping",
    "recall", "pots", "bench", "choice", "thinner", "propose", "ladder", "lots", "wanted", "mixroom", "hits",
    "search", "fill", "picture", "report", "outline", "svg", "plots", "chartdraw", "dossier", "page", "wallcards",
    "handover", "publish", "account", "spoken", "tally", "advice", "told", "mixplots", "mixpage", "cli",
)  # fmt: skip
WEB = (
    "names", "tray", "ours", "benchwork", "tasks", "worker", "child", "crew", "pairing", "studio", "gate", "wording",
    "view", "forms", "phones", "drawn", "judge", "plain", "answer", "photos", "keep", "changed", "shades", "records",
    "amends", "inhand", "ordered", "offered", "pot", "weigh", "amount", "app", "terminal", "serving",
)  # fmt: skip
SLOW = ("colour", "scipy", "sqlalchemy", "jinja2", "skimage", "reportlab", "pypdfium2", "PIL", "pillow_heif", "rawpy")


def imported(path):
    """Every module of the package that a file imports, wherever in the file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.level == 1:
            yield from [node.module.split(".")[0]] if node.module else [alias.name for alias in node.names]


def test_every_module_has_its_place_in_the_story():
    modules = {path.stem for path in PACKAGE.glob("*.py")} - {"__init__", "__main__"}
    assert modules | {"cli"} == set(STORY)


@pytest.mark.parametrize("module", [name for name in STORY if name != "cli"])
def test_a_module_imports_only_modules_above_it(module):
    below = set(STORY[STORY.index(module) :])
    assert not set(imported(PACKAGE / f"{module}.py")) & below


def test_the_page_s_modules_have_their_place_too():
    modules = {path.stem for path in (PACKAGE / "web").glob("*.py")} - {"__init__"}
    assert modules == set(WEB)


@pytest.mark.parametrize("module", WEB)
def test_a_module_of_the_page_imports_only_those_above_it(module):
    below = set(WEB[WEB.index(module) :])
    assert not set(imported(PACKAGE / "web" / f"{module}.py")) & below
    assert not re.search(r"from \.\.cli", (PACKAGE / "web" / f"{module}.py").read_text(encoding="utf-8"))


def test_the_measuring_road_loads_no_slow_library():
    code = (
        "import sys; from swatchcam.check import check_photo; from swatchcam.report import check_dict;"
        "from swatchcam.picture import draw; import swatchcam.cli.check, swatchcam.cli.measure;"
        f"print([name for name in {SLOW!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_help_loads_neither_numpy_nor_opencv():
    code = (
        "import sys\nfrom swatchcam.cli import main\ntry:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('numpy', 'cv2') if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Usage" in done.stdout
    assert done.stderr.strip() == "[]"
