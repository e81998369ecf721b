"""What is installed measures: the wheel has its card files and needs nothing of the checkout."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.paths import HOME

SOURCES = ("swatchcam", "calibration", "pyproject.toml", "README.md", "LICENSE")


def call(*words, **more):
    return subprocess.run([str(word) for word in words], capture_output=True, text=True, check=False, **more)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    tree, out = tmp_path_factory.mktemp("tree"), tmp_path_factory.mktemp("dist")
    for name in SOURCES:
        source = HOME / name
        if source.is_dir():
            shutil.copytree(source, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
        elif source.exists():
            shutil.copy2(source, tree)
    done = call(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", out, tree)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = out.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """A command in a folder elsewhere, with the installed package and not the checkout."""
    target, elsewhere = tmp_path_factory.mktemp("installed"), tmp_path_factory.mktemp("elsewhere")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "install", "--no-deps", "--no-index"]
    done = call(*pip, "--target", target, wheel)
    assert done.returncode == 0, done.stderr

    def run(*words):
        environment = {**os.environ, "PYTHONPATH": str(target)}
        return call(sys.executable, *words, cwd=elsewhere, env=environment)

    found = run("-c", "import swatchcam; print(swatchcam.__file__)")
    assert Path(found.stdout.strip()).is_relative_to(target)
    return run


def test_the_wheel_holds_every_module_every_chapter_and_every_card_file(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    modules = {str(path.relative_to(HOME)) for path in (HOME / "swatchcam").rglob("*.py")}
    chapters = {str(path.relative_to(HOME)) for path in (HOME / "swatchcam" / "handbook" / "chapters").glob("*.md")}
    cards = {f"swatchcam/calibration/{path.name}" for path in (HOME / "calibration").iterdir() if path.is_file()}
    assert modules <= names
    assert chapters
    assert chapters <= names
    assert "swatchcam/calibration/a5.toml" in cards
    assert cards <= names
    assert not [name for name in names if name.startswith(("tests/", "sample_images/"))]


def test_the_installed_tool_measures_a_photo_outside_the_checkout(installed, fair, values_path):
    command = "from swatchcam.cli import main; main(prog_name='swatchcam')"
    done = installed("-c", command, "measure", fair.path, "--card", values_path, "--json")
    assert done.returncode == 0, done.stderr
    facts = json.loads(done.stdout)
    assert [colour["name"] for colour in facts["strips"]] == ["left", "right"]
    # What the checkout says, to the last digit.
    from swatchcam.measurement.measure import measure
    from swatchcam.report.measurement import measurement_dict

    assert facts == measurement_dict(measure(str(fair.path), str(values_path)))


def test_the_installed_tool_knows_its_cards(installed):
    done = installed("-c", "from swatchcam.cards.design import designs; print(*sorted(designs()))")
    assert done.stdout.split() == ["a4", "a5", "a6"]


def test_the_installed_tool_shows_its_handbook(installed):
    command = "from swatchcam.cli import main; main(prog_name='swatchcam')"
    assert installed("-c", command, "handbook", "photo").stdout.startswith("# Take the photo\n")


def test_a_strict_script_of_a_user_passes_against_what_is_installed(installed, tmp_path):
    shutil.copy(HOME / "tests" / "typing" / "user.py", tmp_path / "user.py")
    done = installed("-m", "mypy", "--strict", "--cache-dir", tmp_path / "cache", tmp_path / "user.py")
    assert done.returncode == 0, done.stdout


def test_a_mistake_of_a_user_is_found_by_the_types(installed, tmp_path):
    wrong = tmp_path / "wrong.py"
    wrong.write_text("import swatchcam\n\nprint(swatchcam.check('photo.jpg').outcom)\n", encoding="utf-8")
    done = installed("-m", "mypy", "--strict", "--cache-dir", tmp_path / "cache", wrong)
    assert '"CheckResult" has no attribute "outcom"' in done.stdout


def test_importing_the_package_loads_nothing_else(installed):
    code = (
        "import sys; import swatchcam;"
        "print([name for name in sys.modules if name.startswith('swatchcam.') or name in ('numpy', 'cv2', 'click')])"
    )
    assert installed("-c", code).stdout.strip() == "[]"
