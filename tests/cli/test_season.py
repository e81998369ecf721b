"""A season in Studio Halm, from the command line: mix, check, heat-set, wash, mix again; on both kinds of database.

The photos are the drawn ones of sample_images; the studio, its shades and recipes are invented. What must come out
follows from the true colours of the strips (sample_images/truth.csv, computed from spectra).
"""

from __future__ import annotations

import pytest

from tests.cli.keyboard import answer, type_in
from tests.worlds.sample_photos import FOLDER, read_truth
from tests.worlds.spectra import difference

AT = "photos_of_the_phone/season"
CARD = "--card sample-card"
TRUTH = read_truth()
SAME, REFUSED, DIFFERENT, TOO_CLOSE = 0, 3, 4, 5

pytestmark = pytest.mark.usefixtures("remembered")


@pytest.fixture
def studio(place, tmp_path, monkeypatch):
    """Type a command in the studio; its JSON and exit code."""
    monkeypatch.setenv("SWATCHCAM_LIBRARY", place)
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "photos_of_the_phone").symlink_to(FOLDER, target_is_directory=True)

    return answer


def apart(one, other):
    """True CIEDE2000 of two strips, each (sample, window)."""
    return float(difference(TRUTH[one[0]][one[1]], TRUTH[other[0]][other[1]]))


def holds(found, true):
    low, high = found["interval95"]
    return low <= true <= high


def march(studio):
    """March: four shades, dry and heat-set; the whole folder by the studio's list."""
    filled = studio(f"library fill photos_of_the_phone --list {AT}.csv {CARD}")
    assert len(filled["kept"]) == 8
    assert filled["refused"] == []
    assert len(studio(f"library fill photos_of_the_phone --list {AT}.csv {CARD}")["in_already"]) == 4
    shades = {facts["shade"]: facts for facts in studio("shade list")["shades"]}
    assert set(shades) == {"slate", "rust", "sage", "raspberry"}
    assert shades["rust"]["batches"][0]["recipe"] == "clear base 500 g, red 2.5 g, brown 2.7 g"


def what_the_heat_did(studio):
    """What heat setting did is told for each, and is real."""
    rust = studio("shade show rust")
    (moved,) = rust["heat_and_wash"]
    assert moved["real"]
    assert holds(moved["ciede2000"], apart(("season_1_set", "right"), ("season_1_dry", "right")))
    assert moved["delta_L"]["value"] == pytest.approx(-3.3, abs=0.8)


def the_target(studio):
    """The studio settles on the heat-set rust as its target."""
    (past,) = [past for past in studio("shade show rust")["history"] if past["state"] == "heat-set"]
    heat_set = past["points"][0]["record"]
    studio(f"shade set rust --from-record {heat_set} --tolerance 1.5")
    assert studio("shade show rust")["tolerance_ciede2000"] == 1.5


def september(studio):
    """September: a new pot. As mixed it is off; red is added, and then it matches the dry strip of March."""
    first = studio(f"check {AT}_3_dry.jpg --strip left --shade rust {CARD}", DIFFERENT)
    assert first["recalled"]["record"]["batch"] == "1"
    assert holds(first["difference"], apart(("season_3_dry", "left"), ("season_1_dry", "right")))
    assert "lighter" in first["difference"]["words"]
    second = studio(f"check {AT}_3_dry.jpg --shade rust {CARD}", SAME)
    assert second["tolerance"] == 1.5
    assert holds(second["difference"], apart(("season_3_dry", "right"), ("season_1_dry", "right")))


def before_heat_setting(studio):
    """Before it is heat-set: will it match then? The prediction rests on four strips only, and says so."""
    ahead = studio(f"check {AT}_3_dry.jpg --shade rust --after-heat {CARD}", TOO_CLOSE)
    assert ahead["states"] == {
        "strip": "air-dried",
        "reference": "heat-set",
        "carried_over": "strip",
        "compared_in": "heat-set",
        "pairs": 4,
    }
    # The target is the heat-set strip of March: it is the same question, and is answered unasked.
    target = studio(f"check {AT}_3_dry.jpg --shade rust --against-target {CARD}", TOO_CLOSE)
    assert target["recalled"]["predicted"] == ahead["recalled"]["predicted"]
    assert target["difference"]["ciede2000"] == pytest.approx(ahead["difference"]["ciede2000"], abs=0.02)
    assert ahead["recalled"]["predicted"]["pairs"] == 4
    assert ("few-heat-set", 4) in [(note["code"], note["facts"].get("pairs")) for note in ahead["recalled"]["notes"]]
    assert holds(ahead["difference"], apart(("season_3_set", "right"), ("season_1_set", "right")))
    true, told = TRUTH["season_3_set"]["right"], ahead["recalled"]["predicted"]
    assert float(difference((told["L"], told["a"], told["b"]), true)) < told["interval95_ciede2000"]


def the_states_of_both_sides(studio):
    """The line of the answer names them, and a target that is for no state yet says so until somebody tells."""
    dry = type_in(f"check {AT}_3_dry.jpg --shade rust {CARD}").stdout
    assert "right (air-dried) compared with record 2 (rust, batch 1, air-dried, 2026-03-03): CIEDE2000" in dry
    ahead = type_in(f"check {AT}_3_dry.jpg --shade rust --against-target {CARD}").stdout
    assert "right once heat-set (predicted) compared with target (heat-set): CIEDE2000" in ahead
    assert "! the strip is air-dried: its colour once heat-set is predicted" in ahead
    back = type_in(f"check {AT}_3_set.jpg --record 2 --state 'heat-set 150 C' {CARD}").stdout
    assert (
        "right (heat-set, 150 °C) compared with record 2 (rust, batch 1, air-dried, 2026-03-03) once heat-set" in back
    )
    studio("shade set sage --target 50,-10,20")
    asked = f"check {AT}_3_dry.jpg --shade sage --against-target {CARD}"
    assert studio(asked, DIFFERENT)["states"] == {
        "strip": "air-dried",
        "reference": None,
        "carried_over": None,
        "compared_in": None,
        "pairs": None,
    }
    assert 'swatchcam shade set "sage" --target-state heat-set' in type_in(asked).stdout
    studio("shade set sage --target-state air-dried")
    assert "right (air-dried) compared with target (air-dried): CIEDE2000" in type_in(asked).stdout
    assert studio(asked, DIFFERENT)["recalled"]["notes"] == []
    assert studio(f"{asked} --state wet", REFUSED)["refused"]["facts"]["reference"] == "air-dried"


def after_heat_setting(studio):
    """It is kept, heat-set, kept again, and matches the strip of March and the target."""
    recipe = "binder 500 g, red 2.5 g, brown 2.8 g"
    studio(f"keep {AT}_3_dry.jpg --shade rust --batch 2 --recipe '{recipe}' --measured 2026-09-07 {CARD}")
    kept = studio(f"keep {AT}_3_set.jpg --shade rust --batch 2 --state heat-set --measured 2026-09-08 {CARD}")
    assert kept["record"]["cloth"] == "white cotton"  # as in March
    assert len(kept["heat_and_wash"]) == 1
    assert studio(f"check {AT}_3_set.jpg --shade rust --batch 1 --state heat-set {CARD}")["verdict"] == "same"
    assert (
        studio(f"check {AT}_3_set.jpg --shade rust --against-target --state heat-set --tolerance 6 {CARD}")["verdict"]
        == "same"
    )
    twice = studio(f"keep {AT}_3_set.jpg --shade rust --batch 2 --state heat-set {CARD}", 2)
    assert "already kept" in twice["refused"]["problem"]


def three_washes_later(studio):
    """Three washes later."""
    washed = studio(f"keep {AT}_4_washed.jpg --shade rust --batch 2 --state 'washed 3' {CARD}")
    (faded,) = washed["heat_and_wash"]
    assert holds(faded["ciede2000"], apart(("season_4_washed", "right"), ("season_3_set", "right")))
    assert faded["grey_scale_grade"] in ("4", "4-5", "3-4")


def nearest(studio):
    """Which shade is nearest to a client's brick? Rust."""
    near = studio("near 51,30.5,34 --count 2")["nearest"]
    assert near[0]["record"]["shade"] == "rust"
    assert near[0]["ciede2000"] < near[1]["ciede2000"]


def a_slip_of_the_pen(studio):
    """A slip of the pen, mended and undone."""
    studio(f"keep {AT}_4_washed.jpg --strip left --shade slat --state 'washed 3' {CARD}")
    studio("shade set slat --merge-into slate")
    studio("shade set slate --rename 'sea slate'")
    log = studio("undo")["changes"]
    studio(f"undo {log[0]['number']}")
    assert {facts["shade"] for facts in studio("shade list")["shades"]} == {"slate", "rust", "sage", "raspberry"}
    assert studio("shade list --text halm")["shades"]


def on_paper(studio, tmp_path):
    """The page for the wall, the cards, the file for the print shop; a backup; all is as it was."""
    for words, name in (
        ("shade page", "shades.html"),
        ("shade cards", "shades.pdf"),
        ("library export cgats", "shades.txt"),
    ):
        studio(words)
        assert (tmp_path / name).stat().st_size > 1000
    studio("library backup season.zip")
    studio("library restore season.zip --library another.sqlite")
    there = studio("library where --library another.sqlite")
    assert {name: there[name] for name in ("shades", "records")} == {"shades": 4, "records": 12}
    verified = studio("library verify --remeasure")
    assert verified["records"] == 12
    assert verified["findings"] == []


def test_a_season(studio, tmp_path):
    march(studio)
    what_the_heat_did(studio)
    the_target(studio)
    september(studio)
    before_heat_setting(studio)
    the_states_of_both_sides(studio)
    after_heat_setting(studio)
    three_washes_later(studio)
    nearest(studio)
    a_slip_of_the_pen(studio)
    on_paper(studio, tmp_path)
