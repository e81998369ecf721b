"""What several tests look at: one printed card with its values, and one fair photo of it, drawn once."""

from __future__ import annotations

import os

# Before numpy is loaded, here and in every process that a test starts: a measurement multiplies many small matrices,
# and on those the library's threads wait for each other ten times as long as they work.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import gc
import hashlib
from dataclasses import dataclass
from pathlib import Path

import pytest

from swatchcam.cards.design import designs
from swatchcam.cards.values import load_values
from swatchcam.geometry.pose import find_card
from swatchcam.geometry.rectify import FlatCard, flatten
from swatchcam.illumination.solve import Light
from swatchcam.measurement import measure
from swatchcam.measurement.camera_response import Response
from swatchcam.measurement.colour_matrix import Balance
from swatchcam.measurement.error_budget import View, colour_of
from swatchcam.measurement.single_photo import light_and_eye
from swatchcam.measurement.strip_sample import StripSample, sample_beside, sample_windows, windows_of
from swatchcam.photo.icc_profile import srgb
from swatchcam.photo.photo import Photo
from tests.library.killing import apart  # noqa: F401 - a fixture
from tests.library.postgres_server import HOMES, programs, running
from tests.measurement.remembered import look_once
from tests.web.browser import chromium  # noqa: F401 - a fixture
from tests.worlds.lens import Pose
from tests.worlds.phone import Phone
from tests.worlds.printers import print_card, write_values
from tests.worlds.scene import Scene, Shot, ink, render, write_jpeg
from tests.worlds.spectra import BUILD_CAMERAS, difference

RED = {"red": 1.2, "yellow": 0.4}
NEAR_RED = {"red": 1.2, "yellow": 0.5}
CAMERA = BUILD_CAMERAS[1]  # its green fills first, as in nearly all

# Begun first: a process that came to them last would keep the other one waiting.
LONG = {
    "measurement/test_hard_photos.py",
    "library/test_faults.py",
    "web/test_abuse.py",
    "web/test_pot_story.py",
    "web/test_story.py",
}


def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: "/".join(item.path.parts[-2:]) not in LONG)


# Thousands of tests are made while they are collected, and none of them is garbage: it is looked for less often.
gc.set_threshold(20_000, 50, 100)


def pytest_collection_finish():
    gc.freeze()  # thousands of tests stay to the end: they are not looked through for garbage again and again


@dataclass(frozen=True)
class Taken:
    """A photo as a file, and the truth about it."""

    path: Path
    shot: Shot


@pytest.fixture(scope="session", autouse=True)
def no_cards_of_ones_own(tmp_path_factory):
    """The cards of whoever runs the tests must not change what they find."""
    before = os.environ.get("SWATCHCAM_CARDS")
    os.environ["SWATCHCAM_CARDS"] = str(tmp_path_factory.mktemp("cards"))
    designs.cache_clear()
    yield
    os.environ.pop("SWATCHCAM_CARDS")
    if before is not None:
        os.environ["SWATCHCAM_CARDS"] = before


@pytest.fixture(scope="session", autouse=True)
def no_library_of_ones_own(tmp_path_factory):
    """Nor may the tests touch their library; photos lie beside each library's file."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWATCHCAM_LIBRARY", str(tmp_path_factory.mktemp("library") / "library.sqlite"))
        patch.delenv("SWATCHCAM_PHOTOS", raising=False)
        yield


@pytest.fixture(scope="session")
def server():
    """A PostgreSQL server, where its programs are installed."""
    found = programs()
    if found is None:
        why = f"no PostgreSQL: initdb is neither in {HOMES}/*/bin nor on the path ({os.environ.get('PATH')})"
        if os.environ.get("SWATCHCAM_NEEDS_SERVER"):
            pytest.fail(why)
        pytest.skip(why)
    with running(found) as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request, tmp_path, monkeypatch):
    """The address of a library that is not there yet, in either kind of database; its photos lie in tmp_path/photos."""
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    if request.param == "sqlite":
        return str(tmp_path / "halm.sqlite")
    return request.getfixturevalue("server").empty()


@pytest.fixture
def own_folder(tmp_path, monkeypatch):
    """The folder of the user's own cards: not there yet."""
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    designs.cache_clear()
    yield tmp_path / "cards"
    designs.cache_clear()


@pytest.fixture
def remembered(monkeypatch):
    """The same photo under the same card is looked at once."""
    monkeypatch.setattr(measure, "take_look", look_once)


@pytest.fixture
def remembered_palettes(monkeypatch):
    """The same strips teach the same, and are learned from once."""
    from tests.worlds.mixing_library import remember_palettes

    remember_palettes(monkeypatch)


@pytest.fixture(scope="session")
def finished_stock(tmp_path_factory):
    """A folder with the library of a studio that knows what heat does to its inks; to be copied, not written to."""
    from tests.worlds.mixing_library import finished_shop

    folder = tmp_path_factory.mktemp("finished")
    finished_shop(str(folder / "halm.sqlite"), folder)
    return folder


@pytest.fixture(scope="session")
def printed():
    return print_card(designs()["a5"], "inkjet", seed=3, drift=0.01)


@pytest.fixture(scope="session")
def values_path(tmp_path_factory, printed):
    """The card's true values with their reflectances, as an instrument without error reads them."""
    path = tmp_path_factory.mktemp("values") / "halm-1.csv"
    return write_values(path, "a5", printed.values(), printed.spectra)


@pytest.fixture(scope="session")
def lab_path(tmp_path_factory, printed):
    """The same values from an instrument that says CIELAB only."""
    return write_values(tmp_path_factory.mktemp("values") / "halm-1.csv", "a5", printed.values())


@pytest.fixture(scope="session")
def values(values_path, no_cards_of_ones_own):
    return load_values(values_path)


@pytest.fixture(scope="session")
def plain_scene(printed):
    """Even light and a camera without any fault, but for a soft picture: a bare edge would be jagged."""
    return Scene(
        printed,
        {"left": ink(RED), "right": ink(NEAR_RED)},
        pose=Pose(fraction=0.92),
        phone=Phone(blur=0.6, exposure=0.75),
        camera=CAMERA,
    )


@pytest.fixture(scope="session")
def fair_scene(printed):
    """A photo as people take it."""
    return Scene(
        printed,
        {"left": ink(RED, uneven=0.04), "right": ink(NEAR_RED, uneven=0.04, specks=3)},
        weave=0.06,
        card_edge=0.25,
        slope=0.12,
        slope_angle=35,
        bow=0.03,
        pose=Pose(rotation=3, tilt_x=8, tilt_y=-5, fraction=0.88, k1=0.01),
        phone=Phone(
            exposure=0.7,
            vignetting=0.1,
            flare=0.004,
            blur=0.7,
            electrons=8000,
            read_noise=0.001,
            white_error=(0.03, -0.02),
            contrast=0.2,
            brighten=0.08,
            sharpen=0.3,
        ),
        camera=CAMERA,
        seed=5,
    )


@pytest.fixture(scope="session")
def fair(tmp_path_factory, fair_scene):
    shot = render(fair_scene, (1600, 1200))
    return Taken(write_jpeg(shot, tmp_path_factory.mktemp("fair") / "fair.jpg"), shot)


@pytest.fixture(scope="session")
def as_photo():
    """(h, w, 3) 8-bit pixels -> a photo coded in sRGB, without a file."""
    space = srgb(256)

    def wrap(pixels, path="drawn.png"):
        return Photo(
            path, pixels, space.decode, space.to_xyz, space.name, "", "", hashlib.sha256(pixels).hexdigest(), ()
        )

    return wrap


@dataclass(frozen=True)
class Road:
    """Every state that one drawn photo goes through."""

    shot: Shot
    photo: Photo
    card: FlatCard
    light: Light
    fit: Balance
    response: Response
    strips: dict[str, StripSample]

    def view(self, name):
        return View(self.photo.digest, self.strips[name], self.fit, self.response)

    def colour(self, name):
        return colour_of([self.view(name)])

    def error(self, name):
        """CIEDE2000 from the truth."""
        return float(difference(self.colour(name).lab, self.shot.truth[name]))


@pytest.fixture(scope="session")
def travel(as_photo, values):
    """Scene -> every state of its measurement."""

    def go(scene, size=(1200, 900), beside=False, known=values):
        shot = render(scene, size)
        photo = as_photo(shot.pixels)
        card = flatten(photo, find_card(photo))
        light, fit, response = light_and_eye(card, known)
        strips = sample_windows(card, light, windows_of(card, light)) + (
            sample_beside(photo, card, light) if beside else ()
        )
        return Road(shot, photo, card, light, fit, response, {strip.name: strip for strip in strips})

    return go


@pytest.fixture(scope="session")
def plain(travel, plain_scene):
    return travel(plain_scene)
