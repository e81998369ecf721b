"""A pot in Studio Halm, from the command line: test series, recipe, correction, a pot too strong, the same shade again.

Every strip is drawn for what really is in the pot (`inks`), photographed and measured; what is said of it is held
against its true colour. Studio, inks and mishaps are invented.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.cli.keyboard import answer
from tests.worlds.inks import strip_reflectance
from tests.worlds.sample_photos import FILM, FOLDER, TERRACOTTA, TINY, pot
from tests.worlds.scene import render, write_jpeg
from tests.worlds.spectra import difference, reflectance_lab

CARD = "--card sample-card"
BESIDE = f"{CARD} --shade terracotta --target-strip left --scale 0.01"
WANTED = reflectance_lab(strip_reflectance(TERRACOTTA, FILM))

pytestmark = pytest.mark.usefixtures("remembered")


@pytest.fixture
def studio(tmp_path, monkeypatch):
    """Type a command in the studio; its JSON."""
    monkeypatch.setenv("SWATCHCAM_LIBRARY", str(tmp_path / "halm.sqlite"))
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "samples").symlink_to(FOLDER, target_is_directory=True)

    return answer


def grams(parts):
    return {part["what"]: part["grams"] for part in parts}


def shares(real):
    whole = sum(real.values())
    return {name: 100 * weight / whole for name, weight in real.items() if name != "clear base"}


def photograph(name, number, real, thickness=1.0):
    """The wanted strip left, a strip of what really is in the pot right."""
    write_jpeg(render(pot(number, shares(real), thickness * FILM), TINY), f"{name}.jpg")


def off(real):
    """True CIEDE2000 of the ink in a pot from what is wanted."""
    return float(difference(reflectance_lab(strip_reflectance(shares(real), FILM)), WANTED))


def holds(mix, true):
    low, high = mix["interval95"]
    return low - 0.01 <= true <= high + 0.01


def test_from_a_photo_to_the_corrected_pot(studio, place, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_LIBRARY", place)
    assert len(studio(f"library fill samples --list samples/series.csv {CARD}")["kept"]) == 17

    first = studio(
        f"mix recipe --target samples/wanted.jpg:left {CARD} --grams 300 --scale 0.01 --shade terracotta --keep --as 1"
    )
    told = first["choices"][0]
    real = grams(told["put_in"])
    assert first["kept"] == {"proposal": 1, "shade": "terracotta", "batch": "1"}
    assert sum(real.values()) == pytest.approx(300, abs=0.01)
    assert first["weighing"][0]["steps"][0]["what"] == "clear base"
    assert off(real) < 2.0
    assert holds(told, off(real))

    # A fifth of the golden stays on the spoon; nobody notices, and the strip comes out a little thick.
    real["golden"] *= 0.8
    before = off(real)
    photograph("first", 3, real, 1.02)
    second = studio(
        f"mix correct first.jpg {CARD} --shade terracotta --target-strip left --in-pot 300 --scale 0.01 --keep"
    )
    assert holds(second["pot"], before)
    assert not second["leave_it"]
    added = grams(second["choices"][0]["put_in"])
    assert max(added, key=added.get) == "golden"
    assert second["kept"]["batch"] == "1.1"
    for name, weight in added.items():
        real[name] = real.get(name, 0.0) + weight
    assert off(real) < min(before, 0.8)
    assert holds(second["choices"][0], off(real))

    photograph("second", 4, real, 0.98)
    third = studio(f"mix correct second.jpg {BESIDE} --in-pot 295 --keep")
    assert holds(third["pot"], off(real))
    # The same photo again keeps nothing twice.
    studio(f"mix correct second.jpg {BESIDE} --in-pot 295 --keep")
    batches = {batch["batch"] for batch in studio("shade show terracotta")["batches"]}
    assert batches == {"1", "1.1"}

    found = studio("mix predictions")
    assert [each["kind"] for each in found["proposals"]] == ["recipe", "correction"]
    assert found["held"] == 2

    # Once more, with what is left of the corrected pot.
    again = studio("mix again terracotta --grams 500 --leftover 1.1=200 --scale 0.01")
    new = grams(again["choices"][0]["put_in"])
    scooped = {name: weight * 200 / sum(real.values()) for name, weight in real.items()}
    mixed = {name: new.get(name, 0.0) + scooped.get(name, 0.0) for name in {*new, *scooped}}
    assert sum(mixed.values()) == pytest.approx(500, abs=0.5)
    assert off(mixed) < 1.5

    studio("library backup pots.zip")
    studio("library restore pots.zip --library other.sqlite")
    assert studio("mix predictions --library other.sqlite")["proposals"] == found["proposals"]


def test_a_pot_that_is_too_strong_is_not_topped_up_unasked(studio):
    studio(f"library fill samples --list samples/series.csv {CARD}")
    strong = {name: round(1.35 * share, 2) for name, share in TERRACOTTA.items()}
    strong["clear base"] = 100 - sum(strong.values())
    recipe = ", ".join(f"{name} {weight:.2f} g" for name, weight in strong.items())
    photograph("strong", 5, strong)
    studio(f'keep strong.jpg {CARD} --shade terracotta --batch old --recipe "{recipe}" --cloth "white cotton"')
    told = studio(f"mix correct strong.jpg {BESIDE} --in-pot 90")
    roads = told["choices"][0]["roads"]
    assert roads["fresh_pot"]["left_over_grams"] > 0
    assert roads["topping_up"]["binder_grams"] > roads["fresh_pot"]["binder_grams"]
    part = roads["fresh_pot"]["strong_ink_grams"] / 100
    thinned = {name: part * weight for name, weight in strong.items()}
    thinned["clear base"] += roads["fresh_pot"]["binder_grams"]
    for name, weight in grams(told["choices"][0]["put_in"]).items():
        thinned[name] = thinned.get(name, 0.0) + weight
    assert off(thinned) < 1.0 < off(strong)

    asked = studio(
        f"mix correct strong.jpg {CARD} --shade terracotta --target-strip left --in-pot 90 --thin 60 --scale 0.01"
    )
    fresh = asked["choices"][0]["roads"]["fresh_pot"]
    assert fresh["strong_ink_grams"] + fresh["binder_grams"] == pytest.approx(60, abs=0.02)
    assert fresh["left_over_grams"] == pytest.approx(90 - fresh["strong_ink_grams"], abs=0.01)


def test_what_no_pigment_gives_is_said_to_be_out_of_reach(studio):
    studio(f"library fill samples --list samples/series.csv {CARD}")
    green = studio("mix recipe --target 60,-60,40 --grams 300")
    assert not green["reach"]["hit"]
    assert "another-pigment" in [need["code"] for need in green["reach"]["needs"]]
    black = studio("mix recipe --target 10,0,0 --grams 300")
    assert any("ready-mixed black" in need["sentence"] for need in black["reach"]["needs"])
    assert np.isfinite(black["choices"][0]["expected_ciede2000"])
