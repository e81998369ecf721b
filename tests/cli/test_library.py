"""`swatchcam keep`, `near`, `shade`, `batch`, `record`, `remove`, `undo`, `library`: words, objects, exit codes."""

from __future__ import annotations

import json
import shlex
import shutil
from unittest.mock import Mock

import click
import pytest
from click.testing import CliRunner

from swatchcam.cli import COMMANDS, main
from swatchcam.errors import UsageError
from swatchcam.library import search, verify
from swatchcam.library.amend import tag_shade
from swatchcam.library.bulk import batch_import
from swatchcam.library.bulk.photo_table import NAMES
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, State
from swatchcam.library.save import Entry, keep_record

# Those that measure are imported here, before `desk` lets them measure otherwise.
from swatchcam.measurement import check, measure
from swatchcam.recipes.film_weight import parse_coat
from swatchcam.recipes.recipe import parse_recipe
from tests.cli.keyboard import answer, refused, type_in
from tests.colorimetry.spellings import LAB, SPELLINGS
from tests.library.taken import taken
from tests.worlds.cheap_measurements import CARD
from tests.worlds.sample_photos import FOLDER
from tests.worlds.studio_records import HOSTILE

DONE, WRONG_USE, REFUSED = 0, 2, 3
BRICK, PRESSED, SLATE = (50.0, 30.0, 30.0), (47.0, 29.0, 29.0), (60.0, -8.0, -24.0)
HEAT_SET = State("heat-set")


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """A folder with a library: brick dry and heat-set, its next batch, slate, and a slip of the pen."""
    folder = tmp_path_factory.mktemp("shelf")
    library = open_library(str(folder / "halm.sqlite"), create=True)
    said = {"cloth": "cotton", "mesh": "43T", "ink": "halm base"}
    recipe = parse_recipe("binder 500 g, red 3.2 g, black 2 drops")
    rows = (
        (BRICK, "brick", "B1", "2026-03-01", DRY, said | {"recipe": recipe}),
        (PRESSED, "brick", "B1", "2026-03-02", HEAT_SET, {}),
        (BRICK, "brick", "B2", "2026-03-05", DRY, {"notes": "second pot"}),
        (SLATE, "slate", "B1", "2026-03-06", DRY, said),
        (SLATE, "slat", "1", "2026-03-07", DRY, {}),
    )
    for number, (lab, shade, batch, day, state, more) in enumerate(rows, start=1):
        photo = folder / f"photo {number}.jpg"
        photo.write_text(f"drawn {number}")
        keep_record(library, taken(photo, lab), "left", Entry(shade, batch, state, measured=day, **more))
    tag_shade(library, "brick", ["spring"])
    return folder


@pytest.fixture
def desk(shelf, tmp_path, monkeypatch):
    """A copy of it in which commands are typed; whatever photo is named there is taken for the drawn one."""
    folder = tmp_path / "desk"
    shutil.copytree(shelf, folder)
    (folder / "new.jpg").write_text("drawn anew")
    (folder / "bare.jpg").write_text("bare")
    monkeypatch.chdir(folder)
    monkeypatch.setenv("SWATCHCAM_LIBRARY", "halm.sqlite")
    for module in (measure, check, batch_import, verify):
        monkeypatch.setattr(module, "measure", lambda path, card=None, **_: taken(path, SLATE))
    return folder


@pytest.fixture
def library(desk):
    return open_library("halm.sqlite")


# --- every command in words and for programs ----------------------------------------------------------------

SAID = {
    "keep new.jpg --shade brick --batch B3": ["Kept as record 6: brick, batch B3, air-dried", "cloth cotton, mesh 43T"],
    "near 50,30,30": ["CIEDE2000   0.00", "brick  (record 1, batch B1, air-dried)", "slate"],
    "near new.jpg --count 1": ["CIEDE2000   0.00", "slate"],
    "shade list": ["brick", "2 batches  [spring]", "slat", "1 batch"],
    "shade list --tag SPRING": ["brick"],
    "shade list --text 'RED 3.2'": ["brick"],
    "shade show BRICK": [
        "brick  [spring]",
        "no target",
        "batch B1, halm base: clear base 500 g, red 3.2 g, black 2 drops",
        "air-dried, compared with record 1:",
        "Heat setting made it darker",
    ],
    "shade set brick --target 50,30,30 --tolerance 1.5": [
        "Set the target of shade 'brick' to 50, 30, 30, with a tolerance of 1.5."
    ],
    "shade set brick --from-record 2": ["Set the target of shade 'brick' to 47, 29, 29 (heat-set)."],
    "shade set brick --rename 'deep brick'": ["Renamed shade 'brick' to 'deep brick'."],
    "shade set slat --merge-into slate": ["Merged shade 'slat' into 'slate'."],
    "shade set slate --tag spring --tag Linen": ["Tagged shade 'slate': spring, linen."],
    "shade set brick --untag spring": ["Removed tags from shade 'brick': spring."],
    "shade set brick --judge pot": ["Shade 'brick' is now judged by the pot."],
    "shade set brick --notes 'for the curtains'": ["Wrote notes on shade 'brick'."],
    "shade set brick --rename rust --tag red --target 50,30,30": [
        "Set the target of shade 'brick' to 50, 30, 30.\nTagged shade 'brick': red.\nRenamed shade 'brick' to 'rust'.\n"
    ],
    "shade page --output all.html": ["Wrote all.html."],
    "shade page brick slate": ["Wrote shades.html."],
    "shade cards --paper letter": ["Wrote shades.pdf."],
    "batch BRICK b1": [
        "brick, batch B1, halm base: clear base 500 g, red 3.2 g, black 2 drops",
        "record 1: brick, batch B1, air-dried",
        "record 2: brick, batch B1, heat-set",
    ],
    "batch slat 1": ["slat, batch 1\nno recipe kept\nrecord 5: slat"],
    "batch brick b2 --recipe 'binder 400 g, red 2 g'": ["Corrected batch 'B2' of shade 'brick': recipe."],
    "remove --shade slat": ["Removed shade 'slat' with its batches and records.\nTo undo this: swatchcam undo 2"],
    "remove --record 5": ["Removed record 5 of shade 'slat', batch '1'.\nTo undo this: swatchcam undo 2"],
    "undo": ["tagged shade 'brick': spring"],
    "undo 1": ["Undid change 1: tagged shade 'brick': spring."],
    "library where": ["halm.sqlite", "halm.photos", "3 shades, 4 batches, 5 records"],
    "record 3": [
        "record 3: brick, batch B2, air-dried, 2026-03-05",
        "second pot",
        "left strip",
        "photo 3.jpg",
    ],
    "record 3 --state heat-set": ["Corrected record 3 of shade 'brick', batch 'B2': state."],
    "library backup all.zip": ["5 records and 5 photos saved to all.zip."],
    "library verify": ["Looked at 5 records and 5 photos: nothing has changed."],
    "library export csv": ["Wrote shades.csv."],
    "library export json": ["Wrote shades.json."],
    "library export cgats": ["Wrote shades.txt."],
    "library upgrade": ["halm.sqlite is up to date."],
    "library fill . --processes 1": [
        "Kept 1 strip; 5 photos were already in the library; 1 refused.",
        "bare.jpg: No card can be seen",
    ],
}


@pytest.mark.parametrize("words", SAID)
def test_a_command_says_what_it_did(desk, words):
    if "fill" in words:
        keep_right_windows(desk)
    done = type_in(words)
    assert done.exit_code == DONE, done.output
    for said in SAID[words]:
        assert said in done.stdout
    assert done.stderr in ("", "Reading\n", "Measuring\n")


@pytest.mark.parametrize("words", SAID)
def test_a_program_gets_one_object(desk, words):
    facts = answer(words)
    assert facts
    assert "refused" not in facts or "fill" in words


def keep_right_windows(desk):
    """So that a fill, which keeps right windows, finds all but one of the photos in already."""
    library = open_library("halm.sqlite")
    for number in range(1, 6):
        keep_record(library, taken(desk / f"photo {number}.jpg"), "right", Entry("right", str(number)))


def test_no_command_is_left_out_above():
    typed = {" ".join(words.split()[:2]) for words in SAID} | {words.split()[0] for words in SAID}
    here = {name for name in COMMANDS if name in ("keep", "near", "batch", "record", "remove", "undo")}
    for group in ("shade", "library"):
        here |= {f"{group} {name}" for name in main.get_command(None, group).list_commands(None)}
    assert here - typed == {"library restore"}  # which needs an empty library, see below


# --- what the commands did ----------------------------------------------------------------------------------


def test_keep_measures_a_real_photo(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    words = ["keep", str(FOLDER / "season_1_dry.jpg"), "--shade", "rust", "--card", CARD, "--library", "new.sqlite"]
    record = answer(words)["record"]
    (kept,) = open_library("new.sqlite").records()
    assert (kept.shade, kept.colour.name, kept.card) == ("rust", "right", CARD)
    assert record["L"] == round(kept.colour.lab[0], 2)
    assert record["photos"][0]["name"] == "season_1_dry.jpg"
    assert answer("library verify --remeasure --library new.sqlite")["findings"] == []


def test_keep_writes_down_what_was_said(desk, library):
    (desk / "mix.txt").write_text("\ufeffbinder 500 g\nred (R 12) 3.2 g\n", encoding="utf-8")
    facts = answer(
        "keep new.jpg --shade Brick --batch B3 --state 'washed 3' --mark B --cloth linen --mesh 55T"
        " --squeegee '70 shore' --light 'north window' --ink 'other base' --recipe mix.txt"
        " --mixed 2026-03-30 --measured 2026-04-01 --notes 'two  strokes' --strip left"
    )
    record = library.record(facts["record"]["number"])
    assert (record.shade, record.batch, record.mark, str(record.state)) == ("brick", "B3", "B", "washed 3 times")
    assert (record.cloth, record.mesh, record.squeegee, record.light) == ("linen", "55T", "70 shore", "north window")
    assert (record.measured, record.notes, record.colour.name) == ("2026-04-01", "two strokes", "left")
    batch = {batch.name: batch for batch in library.batches("brick")}["B3"]
    assert (batch.ink, batch.mixed) == ("other base", "2026-03-30")
    assert batch.recipe == parse_recipe("binder 500 g, red (R 12) 3.2 g")
    assert "recipe" not in str(library.batches("brick")[0].notes)


def test_keep_notes_what_was_weighed_and_let_down(desk, library):
    words = "keep new.jpg --shade brick --batch B1 --coat '7,2 g on 10 strips of 10x10 cm' --let-down 1:10 --strip left"
    said = type_in(words)
    assert "record 6: brick, batch B1, let down 1:10, air-dried" in said.stdout
    assert "72.0 g/m² of wet ink (±3 %)" in said.stdout  # 95 % of 0.1/√6 g in 7.2 g, and 1 mm in 100 mm twice
    assert (library.record(6).let_down, library.record(6).coat) == (10.0, parse_coat("7.2 g on 10 strips of 10x10 cm"))
    facts = answer("record 6")
    assert facts["coat"] == {"g_per_m2": 72.0, "relative_standard_uncertainty": 0.0152}
    assert facts["let_down"] == 10.0
    assert "72.0 g/m²" in type_in("record 6").stdout
    assert answer("record 1")["coat"] is None
    # The shade's colour is still that of the ink, and the let-down strip stands in its batch as what it is.
    shown = answer("shade show brick")
    assert shown["last"]["number"] == 2  # the finished colour, heat-set; a newer dry strip does not replace it
    assert 6 not in [point["record"] for past in shown["history"] for point in past["points"]]
    assert "record 6: brick, batch B1, let down 1:10, air-dried" in type_in("batch brick B1").stdout
    assert answer("shade list")["shades"][0]["last"]["number"] == 2
    assert "let-down strip" in refused("shade set brick --from-record 6")[0]


def test_a_coat_is_no_surer_than_the_scale_that_was_named(desk):
    assert answer("keep new.jpg --shade brick --coat '0.72 g on 10x10 cm'")["record"]["coat"]["g_per_m2"] == 72.0
    told = type_in("keep new.jpg --shade brick --coat '0.72 g on 10x10 cm' --scale 0.1 --strip right")
    assert told.exit_code == WRONG_USE
    assert "0.72 g of ink is too little for a scale that shows steps of 0.1 g." in told.stderr
    assert "'7.2 g on 10 strips of 10x10 cm'" in told.stderr


def test_a_record_is_corrected_by_weight_and_let_down(desk, library):
    said = type_in("record 3 --coat '0.84 g on 5x20 cm' --let-down 4")
    assert "Corrected record 3 of shade 'brick', batch 'B2': coat, let-down." in said.stdout
    assert (library.record(3).let_down, round(library.record(3).coat.g_m2)) == (4.0, 84)
    type_in("record 3 --let-down 0")
    assert library.record(3).let_down == 0


def test_check_refuses_to_compare_across_states_without_pairs_and_says_both(desk):
    answer("shade set brick --from-record 2")
    words = "check new.jpg --strip left --shade brick --against-target"
    problem, remedy = refused(words, REFUSED)
    assert problem == (
        "One colour is air-dried, the other heat-set. Only 1 strip (ink 'halm base', cloth 'cotton') was measured"
        " in both states, and 3 are needed."
    )
    assert remedy == (
        "Compare with a strip or a target in the same state, or heat-set 2 more strips and keep them again:"
        " records 4 and 3 would help most."
    )
    told = answer(words, REFUSED)["refused"]
    assert (told["code"], told["facts"]["strip"], told["facts"]["reference"]) == (
        "states-differ",
        "air-dried",
        "heat-set",
    )
    assert answer("check new.jpg --strip left --record 2", REFUSED)["refused"]["code"] == "states-differ"
    wet = answer("check new.jpg --strip left --record 2 --state wet", REFUSED)["refused"]
    assert (wet["code"], wet["facts"]["strip"]) == ("wet-not-carried-over", "wet")
    assert wet["next"] == "Let it dry, and measure it again."
    assert "can't be a target" in refused("shade set brick --target 50,30,30 --target-state wet")[0]


def test_shades_whose_targets_are_for_other_states_are_merged_and_it_is_said_which_counts(desk):
    answer("shade set brick --target 60,-10,20 --target-state air-dried")
    answer("shade set slate --target 50,0,0 --target-state 'heat-set 150 C'")
    done = type_in("shade set brick --merge-into slate").stdout
    assert done == (
        "Merged shade 'brick' into 'slate'; its target (air-dried) no longer counts, that of 'slate' (heat-set, 150 °C)"
        " does.\n"
    )
    assert answer("shade show slate")["target_state"] == "heat-set, 150 °C"
    merged, given, *_ = (each["number"] for each in answer("undo")["changes"])
    answer(f"undo {merged}")
    assert answer("shade show brick")["target_state"] == "air-dried"
    answer(f"undo {given}")
    assert (
        "its target (air-dried) no longer counts, and 'slate' has none"
        in type_in("shade set brick --merge-into slate").stdout
    )


def test_check_compares_no_let_down_strip_with_one_of_the_ink(desk):
    (desk / "next.jpg").write_text("drawn next")
    told = type_in("check next.jpg --shade brick --let-down 10 --strip left")
    assert told.exit_code == WRONG_USE
    assert "has no other record that is let down 1:10" in told.stderr
    assert "leave out --let-down" in told.stderr


def test_keep_tells_what_heat_setting_did(desk):
    answer("keep 'photo 4.jpg' --shade slate --batch B1 --state heat-set --measured 2026-03-08 --strip right")
    facts = answer("keep new.jpg --shade slate --batch B1 --state 'washed 1' --measured 2026-03-09")
    (moved,) = facts["heat_and_wash"]
    assert (moved["state"], moved["after"]) == ("washed once", facts["record"]["number"])
    assert moved["sentence"].startswith("Washing changed it by no more than the likely measurement error")


def test_how_a_strip_was_treated_is_said_shown_and_never_guessed(desk, library):
    said = type_in("record 2 --state 'heat-set 150 C 4 min press'").stdout
    assert "Corrected record 2 of shade 'brick', batch 'B1': state." in said
    told = "heat-set, 150 °C, 4 min, press"
    for words in ("record 2", "batch brick B1", "shade show brick"):
        assert told in type_in(words).stdout
    shown = answer("record 2")
    assert (shown["state"], shown["treatment"]) == (told, "150 °C, 4 min, press")
    again = type_in("keep new.jpg --shade brick --batch B2 --state heat-set").stdout
    assert again.splitlines()[-2] == (
        "Record 2 was treated like this: 150 °C, 4 min, press. If this one was too, say so:"
        f" swatchcam record 6 --state '{told}'"
    )
    assert library.record(6).state == HEAT_SET
    # What is proposed can be typed.
    assert type_in(f"record 6 --state '{told}'").exit_code == DONE
    assert str(library.record(6).state) == told
    (desk / "later.jpg").write_text("drawn later")
    facts = answer("keep later.jpg --shade brick --batch B2 --state 'heat-set 2 min' --mark B --strip left")
    assert (facts["treatment_before"], facts["record"]["treatment"]) == (None, "2 min")
    (desk / "dry.jpg").write_text("drawn dry")
    assert answer("keep dry.jpg --shade brick --batch B3")["treatment_before"] is None
    # One history holds them all: like is compared with like, however long it was heated.
    histories = answer("shade show brick")["history"]
    assert [past["state"] for past in histories] == ["air-dried", "heat-set"]


def test_changes_are_logged_and_undone_from_the_command_line(desk, library):
    answer("shade set brick --rename 'deep brick'")
    answer("shade set slat --merge-into slate")
    assert answer("remove --record 3")["number"] == 4
    log = answer("undo")["changes"]
    assert [change["number"] for change in log] == [4, 3, 2, 1]
    for number in (4, 3, 2):
        answer(["undo", str(number)])
    assert "is already undone" in refused("undo 2")[0]
    assert {shade.name for shade in library.shades()} == {"brick", "slat", "slate"}
    assert len(library.records()) == 5
    assert "(undone)" in type_in("undo").stdout


@pytest.mark.parametrize("text", SPELLINGS)
def test_every_spelling_of_a_colour_is_taken(desk, library, monkeypatch, text):
    judged, found = Mock(side_effect=UsageError("Seen.", "Go home.")), Mock(wraps=search.nearest_shades)
    monkeypatch.setattr(check, "against_target", judged)
    monkeypatch.setattr(search, "nearest_shades", found)
    refused(["check", "new.jpg", "--target", text])
    answer(["near", text])
    answer(["shade", "set", "brick", "--target", text])
    assert judged.call_args.args[1] == found.call_args.args[1] == library.shade("brick").target == LAB


def test_a_target_and_a_tolerance_are_kept_apart(desk):
    answer("shade set brick --target 50,30,30")
    answer("shade set brick --tolerance 0.8")
    facts = answer("shade show brick")
    assert facts["target"] == {"L": 50, "a": 30, "b": 30}
    assert facts["tolerance_ciede2000"] == 0.8
    assert (facts["target_state"], facts["history"][0]["reference"]) == (None, "the target (state not said)")
    answer("shade set brick --target-state 'heat-set 150 C'")
    facts = answer("shade show brick")
    assert facts["target_state"] == "heat-set, 150 °C"
    assert facts["history"][0]["reference"] == f"record {facts['history'][0]['points'][0]['record']}"  # that is dry
    assert "tolerance 0.8 CIEDE2000" in type_in("shade show brick").stdout


def test_shades_are_found_by_what_was_said_of_them(desk):
    def found(*words):
        return [shade["shade"] for shade in answer(["shade", "list", *words])["shades"]]

    answer("shade set slate --notes 'For the Autumn curtains'")
    assert found() == ["brick", "slat", "slate"]
    assert found("--text", "autumn") == found("--text", "SLATE") == ["slate"]
    assert found("--text", "cotton") == ["brick", "slate"]
    assert found("--text", "halm base") == ["brick", "slate"]
    assert found("--text", "second pot") == ["brick"]
    assert found("--tag", "spring", "--text", "slate") == []
    assert type_in("shade list --tag nothing").stdout == "No shade fits.\n"


def test_near_shows_as_many_as_are_asked_for_in_order(desk):
    nearest = answer("near 50,30,30 --count 2")["nearest"]
    assert [each["record"]["shade"] for each in nearest] == ["brick", "slate"]
    assert nearest[0]["ciede2000"] == 0 < nearest[1]["ciede2000"]
    assert len(answer("near '50;30;30'")["nearest"]) == 3
    assert answer("near new.jpg:left")["colour"] == {"L": 60, "a": -8, "b": -24}


def test_a_backup_comes_back_in_an_empty_library(desk):
    answer("library backup all.zip")
    assert "already there" in refused("library backup all.zip")[0]
    assert answer("library backup all.zip --replace")["records"] == 5
    facts = answer("library restore all.zip --library again.sqlite")
    assert (facts["records"], facts["photos"]) == (5, 5)
    assert (
        type_in("library restore all.zip --library third.sqlite").stdout
        == "5 records and 5 photos brought back from all.zip.\n"
    )
    assert answer("library where --library again.sqlite")["records"] == 5
    assert "already holds something" in refused("library restore all.zip", REFUSED)[0]
    assert "is not a backup" in refused("library restore new.jpg --library fourth.sqlite", REFUSED)[0]


def test_verify_ends_with_3_where_a_photo_was_damaged(desk, library):
    assert type_in("library verify").exit_code == DONE
    path = library.photos.path(library.record(2).photos[0].digest)
    path.chmod(0o600)
    path.write_bytes(b"something else")
    done = type_in("library verify")
    assert done.exit_code == REFUSED
    assert "Looked at 5 records and 5 photos:" in done.stdout
    assert "of record 2: The photo" in done.stdout
    told = type_in("library verify --json")
    assert told.exit_code == REFUSED
    facts = json.loads(told.stdout)
    assert (facts["broken"], len(facts["findings"])) == (True, 1)
    path.unlink()
    assert "is missing" in type_in("library verify").stdout


def test_a_photo_that_belongs_to_no_record_is_told_but_harmless(desk, library):
    library.photos.add(desk / "new.jpg")
    done = type_in("library verify")
    assert done.exit_code == DONE
    assert "1 photo in the library without a record: harmless" in done.stdout


# --- a folder of photos -------------------------------------------------------------------------------------


@pytest.fixture
def folder(desk):
    path = desk / "shots"
    path.mkdir()
    for name in ("rust, 1.jpg", "rust, 2, heat-set.jpg", "sage, 1, left.jpg"):
        (path / name).write_text(f"drawn for {name}")
    (path / "rust, 3.jpg").write_text("bare")
    (path / "rust, 4, heat-sett.jpg").write_text("drawn for a typing error")
    return path


def test_fill_tells_what_became_of_each_photo(folder):
    done = type_in("library fill shots --processes 1 --ink 'halm base' --cloth silk --library fresh.sqlite")
    assert done.exit_code == DONE
    assert done.stdout.splitlines()[0] == "Kept 3 strips; 0 photos were already in the library; 2 refused."
    assert "rust, 3.jpg: No card can be seen in the photo.\n    Lay the printed card flat.\n" in done.stdout
    assert "heat-sett" in done.stdout
    facts = answer("library fill shots --processes 1 --library fresh.sqlite")
    assert (facts["kept"], len(facts["in_already"]), len(facts["refused"])) == ([], 3, 2)
    library = open_library("fresh.sqlite")
    assert {record.cloth for record in library.records()} == {"silk"}
    assert {batch.ink for batch in library.batches()} == {"halm base"}


def test_fill_by_a_list_with_errors_tells_all_of_them_and_makes_no_library(folder, desk):
    (desk / "photos.csv").write_text('photo,shade,state\n"rust, 1.jpg",rust,burnt\nnone.jpg,rust,\n')
    words = "library fill shots --list photos.csv --library fresh.sqlite"
    done = type_in(words)
    assert (done.exit_code, done.stdout) == (REFUSED, "")
    assert "line 2, state" in done.stderr
    assert "line 3, photo" in done.stderr
    assert "line 2, state" in json.loads(type_in(f"{words} --json").stdout)["refused"]["problem"]
    assert not (desk / "fresh.sqlite").exists()


def test_fill_by_a_list_keeps_what_it_says(folder, desk):
    (desk / "photos.csv").write_text('photo;shade;window;batch\n"rust, 1.jpg";moss;left;9\n')
    facts = answer("library fill shots --list photos.csv --processes 1 --library fresh.sqlite")
    assert len(facts["kept"]) == 1
    (record,) = open_library("fresh.sqlite").records()
    assert (record.shade, record.batch, record.colour.name) == ("moss", "9", "left")


def test_an_empty_folder_or_none_is_refused(desk):
    (desk / "empty").mkdir()
    assert refused("library fill empty --library fresh.sqlite") == (
        "There is no photo to keep.",
        "Choose a folder with photos (JPEG, HEIC, DNG, PNG or TIFF).",
    )
    assert "can't be read" in refused("library fill nowhere", REFUSED)[0]
    assert "can't be read" in refused("library fill empty --list nothing.csv", REFUSED)[0]


# --- what is wrong ------------------------------------------------------------------------------------------

WRONG = {
    "keep new.jpg --shade brick --state burnt": (
        "There is no state 'burnt'.",
        "air-dried, heat-set, rubbed or 'washed 3'",
    ),
    "keep new.jpg --shade brick --state 'washed 0'": ("There is no state 'washed 0'.", "'washed 3'"),
    "keep new.jpg --shade brick --measured 31.3.2026": ("'31.3.2026' is not a date.", "2026-01-31"),
    "keep new.jpg --shade brick --mixed 2026-02-30": (
        "'2026-02-30' is not a date.",
        "the day it was mixed like 2026-01-31",
    ),
    "keep new.jpg --shade brick --recipe 'red a lot'": ("'red a lot' has no amount", "clear base 500 g"),
    "keep new.jpg --shade brick --recipe 'red 1 g' --scale 0": ("scale", "above 0"),
    "keep new.jpg --shade brick --strip left --mark a --mark b": (
        "You gave --mark 2 times for 1 strip.",
        "once for each",
    ),
    "keep new.jpg --shade brick --strip left --strip right --mark a --mark A": (
        "Two strips have the mark 'a'",
        "such as A and B",
    ),
    "keep new.jpg --shade brick --scale much": ("--scale: 'much' can't be read as a number", "2.5"),
    "keep new.jpg --shade ' '": ("The shade has no name.", "Give it one."),
    "keep new.jpg --shade 'a\x07b'": ("can't be the name of the shade", "letters"),
    f"keep new.jpg --shade {'a' * 121}": ("can't be the name of the shade", "at most 120 letters"),
    f"keep new.jpg --shade brick --batch {'a' * 121}": ("can't be the name of the batch", "at most 120 letters"),
    "keep new.jpg --shade brick --strip middle": ("no strip called 'middle'", "Choose one of: left, right"),
    "keep 'photo 1.jpg' --shade brick --strip left": (
        "already kept, as record 1 of 'brick'",
        "swatchcam record 1",
    ),
    "near 1,2,3,4": ("'1,2,3,4' is not three numbers", "L,a,b"),
    "near 500,0,0": ("not a colour that a surface can have", "between 0 and 100"),
    "near new.jpg:middle": ("no strip called 'middle'", "Choose one of: left, right"),
    "shade show brik": ("There is no shade called 'brik'.", "Did you mean brick?"),
    "shade show zzz": ("There is no shade called 'zzz'.", "'swatchcam shade list' shows"),
    "shade set brik --target 50,0,0": ("There is no shade called 'brik'.", "Did you mean brick?"),
    "shade set brick": ("You have not said what to change.", "--help lists them"),
    "shade set brick --target 50,0": ("is not three numbers", "L,a,b"),
    "shade set brick --target 50,0,0 --from-record 1": (
        "You gave both a colour and a record.",
        "Give only one of them.",
    ),
    "shade set brick --from-record 99": ("There is no record 99.", "shade show NAME"),
    "shade set brick --tolerance nan": ("--tolerance: 'nan' can't be read as a number", "2.5"),
    "shade set brick --tolerance inf": ("--tolerance: 'inf' can't be read as a number", "2.5"),
    "shade set brick --tolerance 0": ("A tolerance of 0 makes no sense.", "above 0"),
    "batch brick B9 --ink x": ("no batch called 'B9'", "It has: B1, B2."),
    "batch brick B9": ("no batch called 'B9'", "It has: B1, B2."),
    "batch brick B1 --scale 0.01": ("You have not said what to change.", "--help"),
    "batch brick B1 --rename b2": ("already has a batch called 'b2'", "Choose another"),
    "shade set brick --rename slate": (
        "There is already a shade called 'slate'.",
        'swatchcam shade set "brick" --merge-into',
    ),
    "shade set brick --rename ''": ("The shade has no name.", "Give it one."),
    "shade set brick --merge-into BRICK": ("are the same shade", "Choose two different shades."),
    "shade set brick --merge-into nothing": ("There is no shade called 'nothing'.", "shade list"),
    "shade set brick --merge-into slate --tag x": ("has no settings of its own any more", "--merge-into on its own"),
    "shade set brick --tag x --untag X": ("The tag 'x' can't be added and removed", "Name the tag once."),
    "shade set brick --tag ' '": ("The tag has no name.", "Give it one."),
    "shade set brik --notes text": ("There is no shade called 'brik'.", "Did you mean brick?"),
    "remove --shade brik": ("There is no shade called 'brik'.", "Did you mean brick?"),
    "remove": ("one thing at a time", "--record NUMBER, --shade NAME, --proposal NUMBER"),
    "remove --record 1 --shade brick": ("one thing at a time", "--record NUMBER, --shade NAME, --proposal NUMBER"),
    "remove --proposal 9": ("There is no proposal 9.", "'swatchcam mix predictions' lists them."),
    "record 99": ("There is no record 99.", "shade show"),
    "remove --record 99": ("There is no record 99.", "shade show"),
    "record 99 --cloth x": ("There is no record 99.", "shade show"),
    "record 1 --cloth ''": ("You have not said what to change.", "--help"),
    "undo 99": ("There is no change 99.", "'swatchcam undo' lists them."),
    "library restore 4": ("There is no backup called '4'.", "swatchcam undo 4"),
    "shade page brik": ("There is no shade called 'brik'.", "Did you mean brick?"),
    "shade page --output page.pdf": ("does not end in .html", "ends in .html"),
    "shade page --output nowhere/page.html": ("There is no folder nowhere.", "--output"),
    "shade cards brick BRICK": ("A shade was named twice.", "Name each"),
    "library backup all": ("does not end in .zip", "ends in .zip"),
    "library backup nowhere/all.zip": ("There is no folder nowhere.", "swatchcam library backup"),
    "library export csv --output halm.sqlite": ("does not end in .csv", "ends in .csv"),
    "library where --library mysql://host/shades": ("'mysql://...' is not the address of a library.", "postgresql://"),
}


@pytest.mark.parametrize("words", WRONG)
def test_what_is_wrong_is_told_in_two_lines(desk, words):
    before = {path: path.stat().st_mtime_ns for path in desk.rglob("*.*") if path.is_file()}
    problem, remedy = refused(words)
    assert WRONG[words][0] in problem
    assert WRONG[words][1] in remedy
    after = {path: path.stat().st_mtime_ns for path in desk.rglob("*.*") if path.is_file()}
    assert {path for path in after if not path.name.startswith("halm.sqlite")} <= set(before)
    assert len(open_library("halm.sqlite").records()) == 5


@pytest.mark.parametrize(
    "words",
    [
        "keep",
        "keep new.jpg",
        "near",
        "near 50,0,0 --count 0",
        "shade",
        "shade paint",
        "shade set",
        "batch brick",
        "library",
        "record brick",
        "record 99999999999999999999",
        "remove --record 99999999999999999999",
        "record 99999999999999999999 --cloth x",
        "undo 99999999999999999999",
        "shade set brick --from-record 99999999999999999999",
        "record 0",
        "library export xls",
        "shade cards --paper a3",
        "library fill . --processes 0",
    ],
)
def test_what_cannot_be_read_as_a_command_is_wrong_use(desk, words):
    done = type_in(words)
    assert (done.exit_code, done.stdout) == (WRONG_USE, "")
    assert "Usage: " in done.stderr


@pytest.mark.parametrize("words", ["keep bare.jpg --shade brick", "near bare.jpg"])
def test_a_photo_that_is_refused_ends_with_3(desk, words):
    assert refused(words, REFUSED)[0] == "No card can be seen in the photo."


READS = [words for words in SAID if not words.startswith(("keep", "library fill", "library upgrade"))]


@pytest.mark.parametrize("words", READS)
def test_where_there_is_no_library_none_is_made(desk, words):
    problem, remedy = refused(f"{words} --library nowhere.sqlite", REFUSED)
    assert problem.startswith("There is no library yet at ")
    assert remedy.startswith("Keep a first strip with 'swatchcam keep PHOTO --shade NAME'")
    assert not list(desk.glob("nowhere*"))


def test_a_refused_keep_makes_no_library(desk):
    for words in ("--strip middle", "--measured today", "--state burnt", "--batch 'a\x07'"):
        refused(f"keep new.jpg --shade brick {words} --library fresh.sqlite")
    refused("keep bare.jpg --shade brick --library fresh.sqlite", REFUSED)
    assert not list(desk.glob("fresh*"))


@pytest.mark.parametrize("words", ["shade list", "near 50,0,0", "library verify", "keep new.jpg --shade brick"])
def test_a_file_that_is_no_library_is_left_as_it_is(desk, words):
    before = (desk / "new.jpg").read_bytes()
    problem, remedy = refused(f"{words} --library new.jpg", REFUSED)
    assert "new.jpg" in problem
    assert "--library" in remedy
    assert (desk / "new.jpg").read_bytes() == before


def test_a_library_without_records_says_how_to_begin(desk):
    open_library("empty.sqlite", create=True)
    told = type_in("near 50,0,0 --library empty.sqlite")
    assert told.exit_code == DONE
    assert "swatchcam keep PHOTO --shade NAME" in told.stdout
    assert answer("near 50,0,0 --library empty.sqlite")["nearest"] == []
    for words in ("shade page", "shade cards", "library export csv"):
        assert "holds no record yet" in refused(f"{words} --library empty.sqlite", REFUSED)[0]


# --- names that would break a careless writer ---------------------------------------------------------------


def test_whatever_a_shade_is_called_every_command_takes_it(desk):
    for number, name in enumerate(HOSTILE):
        (desk / f"hostile {number}.jpg").write_text(f"drawn {name}", encoding="utf-8")
        words = ["--batch", name, "--cloth", name, "--notes", name, "--ink", name, "--mark", name[:20]]
        facts = answer(["keep", f"hostile {number}.jpg", "--shade", name, *words])
        assert (facts["record"]["shade"], facts["record"]["batch"], facts["record"]["cloth"]) == (name, name, name)
        assert name in type_in(["shade", "show", name]).stdout
        answer(["shade", "set", name, "--tag", name, "--notes", name, "--target", "50,0,0"])
        assert answer(["shade", "list", "--tag", name])["shades"][0]["shade"] == name
    assert {shade["shade"] for shade in answer("shade list")["shades"]} >= set(HOSTILE)
    for words in ("shade page", "shade cards", "library export csv", "library export json", "library export cgats"):
        answer(words)
    page = (desk / "shades.html").read_text(encoding="utf-8")
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


# --- help ---------------------------------------------------------------------------------------------------


def commands():
    for top in COMMANDS:
        command = main.get_command(None, top)
        if isinstance(command, click.Group):
            yield from ((f"{top} {name}", command.get_command(None, name)) for name in command.list_commands(None))
        else:
            yield top, command


HELP = dict(commands())


@pytest.mark.parametrize("words", HELP)
def test_help_has_an_example_that_can_be_typed(desk, words):
    told = type_in([*words.split(), "--help"]).stdout
    examples = [line.strip() for line in told.splitlines() if line.strip().startswith(f"swatchcam {words}")]
    assert examples
    for example in examples:
        typed = shlex.split(example)[1 + len(words.split()) :]
        HELP[words].make_context(words, typed)  # raises where an option is none or something is missing


def test_fill_s_help_names_every_column_of_a_list():
    told = " ".join(type_in("library fill --help").stdout.split())
    assert all(
        name in told for name in (*NAMES, "state", "measured", "mixed", "recipe", "notes", "again", "other_light")
    )
    assert "coat, let_down" in told


def test_a_change_that_is_no_number_is_refused_in_plain_words():
    done = CliRunner().invoke(main, ["undo", "abc"])
    assert done.exit_code == 2
    assert "'abc' is not a valid number." in done.stderr
