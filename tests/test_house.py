"""The house stays easy to enter: few rooms, small modules, and nothing heavy is imported where it is not needed.

Who may import whom is import-linter's contract, in pyproject.toml.
"""

from __future__ import annotations

import ast
import subprocess
import sys

import pytest

from tests.paths import HOME, SAMPLES

PACKAGE = HOME / "swatchcam"
FOLDERS = sorted({path.parent for path in PACKAGE.rglob("__init__.py")})
SLOW = ("colour", "scipy", "sqlalchemy", "jinja2", "skimage", "reportlab", "pypdfium2", "PIL", "pillow_heif", "rawpy")


def test_the_package_has_few_entries():
    assert len([path for path in PACKAGE.iterdir() if path.name != "__pycache__"]) <= 22


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_room_is_small_and_says_what_comes_in_and_what_goes_out(folder):
    modules = [path for path in folder.glob("*.py") if path.name != "__init__.py"]
    assert len(modules) <= 26
    said = ast.get_docstring(ast.parse((folder / "__init__.py").read_text(encoding="utf-8")))
    assert said
    assert "\n" not in said


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_no_module_is_long(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 300


def test_the_measuring_road_loads_no_slow_library():
    code = (
        "import sys; from swatchcam.measurement.check import check_photo; import swatchcam.library.compare;"
        "from swatchcam.report.measurement import check_dict;"
        "from swatchcam.report.overlay import draw; import swatchcam.cli.check, swatchcam.cli.measure;"
        f"print([name for name in {SLOW!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


CHECKS = f"from swatchcam.cli import main; main(['check', {str(SAMPLES / 'good_pair.jpg')!r}], standalone_mode=False)"
STARTS = {CHECKS: SLOW, "import swatchcam.web.jobs.worker": (*SLOW, "numpy", "cv2")}


@pytest.mark.parametrize(("does", "slow"), STARTS.items(), ids=["check", "worker"])
def test_a_check_without_a_library_and_a_worker_load_no_slow_library(does, slow):
    code = f"import sys\ntry:\n    {does}\nfinally:\n    print([each for each in {slow!r} if each in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1] == "[]"


def test_help_loads_neither_numpy_nor_opencv():
    code = (
        "import sys\nfrom swatchcam.cli import main\ntry:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('numpy', 'cv2') if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Usage" in done.stdout
    assert done.stderr.strip() == "[]"
