"""What is handed over comes back with the same numbers, through our own reader and the standard library's."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from swatchcam.cards.instrument_columns import is_header
from swatchcam.cards.instrument_readings import read_readings
from swatchcam.cards.instrument_table import read_table
from swatchcam.errors import UsageError
from swatchcam.library.bulk.photo_table import read_list
from swatchcam.library.records import HEAT_SET, WASHED, State, parse_state
from swatchcam.measurement.stored_colour import errors_from_text
from swatchcam.recipes.film_weight import Coat
from swatchcam.report.exporters import COLUMNS, FORMULA_SIGNS, defused, library_cgats, library_csv
from swatchcam.report.library_json import library_json
from tests.worlds import studio_records as studio
from tests.worlds.cheap_measurements import proposal

HALF_OF_LAST_DIGIT = 5.1e-6
BATCHES, RECORDS = studio.three_batches()
HOSTILE = studio.hostile()
BAD_SHADES, BAD_BATCHES, BAD_RECORDS = zip(*HOSTILE, strict=True)


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


def written(folder, name, text):
    path = folder / name
    path.write_bytes(text.encode("utf-8"))
    return path


# --- CSV ----------------------------------------------------------------------------------------------------


def test_csv_comes_back_through_our_own_reader(tmp_path):
    path = written(tmp_path, "halm.csv", library_csv([studio.shade()], BATCHES, RECORDS))
    readings = read_readings(path)
    assert (readings.kind, readings.problems, readings.unreadable) == ("CSV", (), ())
    assert len(set(readings.names)) == len(RECORDS)
    assert_allclose(readings.lab, [record.colour.lab for record in RECORDS], rtol=0, atol=HALF_OF_LAST_DIGIT)


def test_csv_is_as_rfc_4180_has_it():
    text = library_csv(BAD_SHADES, BAD_BATCHES, BAD_RECORDS)
    assert text.count("\r\n") == text.count("\n") == len(BAD_RECORDS) + 1
    table = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert table[0] == list(COLUMNS)
    assert {len(row) for row in table} == {len(COLUMNS)}
    # RFC 4180, section 2.7: a quote inside a quoted field is doubled.
    assert '"""Halm\'s"" & <b>Rot</b>"' in text


def test_csv_says_what_a_record_rests_on():
    row = rows_of(library_csv([studio.shade()], BATCHES, RECORDS))[3]
    assert (row["state"], row["washes"], row["batch"], row["card_grade"]) == (WASHED, "3", "B1", "measured")
    assert row["recipe"] == "clear base 500 g, red (maker R 12) 6 g, yellow 40 drops (about 1.8 g)"
    colour = RECORDS[3].colour
    assert_allclose(float(row["standard_uncertainty_a"]), colour.covariance[1, 1] ** 0.5, atol=HALF_OF_LAST_DIGIT)
    assert_allclose(float(row["interval95_ciede2000"]), colour.radius, atol=HALF_OF_LAST_DIGIT)


@pytest.mark.parametrize(
    "text",
    ["wet", "air-dried", "heat-set 150 C 4 min press", "heat-set", "washed once", "washed 12, 60 C", "rubbed wet"],
)
def test_a_state_and_its_treatment_are_read_back_by_a_list_of_photos(tmp_path, text):
    (tmp_path / "a.jpg").write_bytes(b"drawn")
    record, state = replace(RECORDS[0], state=parse_state(text)), parse_state(text)
    exported = rows_of(library_csv([studio.shade()], BATCHES, [record]))[0]
    table = io.StringIO(newline="")
    writer = csv.DictWriter(table, ["photo", "shade", "state", "washes", "treatment"], extrasaction="ignore")
    writer.writeheader()
    writer.writerow(exported | {"photo": "a.jpg"})
    (row,) = read_list(written(tmp_path, "photos.csv", table.getvalue()), tmp_path)
    assert row.state == state


def test_what_a_target_is_for_goes_with_it():
    pressed = parse_state("heat-set 150 C 4 min press")
    for state, told in ((pressed, "heat-set, 150 °C, 4 min, press"), (None, "")):
        shade = studio.shade(target_state=state)
        assert rows_of(library_csv([shade], BATCHES, RECORDS))[0]["target_state"] == told
        found = json.loads(library_json([shade], BATCHES, RECORDS, [proposal(number=1, target_state=state)]))
        assert [each["target_state"] for each in (*found["shades"], *found["proposals"])] == [told or None] * 2


def test_a_nominal_card_gets_no_distance_from_the_target():
    *others, nominal = rows_of(library_csv([studio.shade()], BATCHES, RECORDS))
    assert (nominal["absolute"], nominal["to_target_ciede2000"]) == ("no", "")
    assert all(float(row["to_target_ciede2000"]) >= 0 for row in others)
    assert float(rows_of(library_csv([studio.shade()], BATCHES, RECORDS[:1]))[0]["to_target_ciede2000"]) == 0


def test_a_strip_in_another_state_gets_no_distance_from_the_target():
    rows = rows_of(library_csv([studio.shade(target_state=State(HEAT_SET))], BATCHES, RECORDS))
    told = [row["state"] for row in rows if row["to_target_ciede2000"]]
    assert told == [HEAT_SET] * len(told)
    assert told


def test_csv_says_what_was_weighed_and_let_down_and_a_let_down_strip_has_no_target():
    pale = replace(RECORDS[0], let_down=10.0, coat=Coat(72.05, 0.0147))
    one, other = rows_of(library_csv([studio.shade()], BATCHES, [pale, RECORDS[1]]))
    assert (float(one["coat_g_m2"]), float(one["coat_relative_uncertainty"]), float(one["let_down"])) == (
        72.05,
        0.0147,
        10.0,
    )
    assert (one["to_target_ciede2000"], "let down 1:10" in one["sample_name"]) == ("", True)
    assert (other["coat_g_m2"], float(other["let_down"])) == ("", 0.0)


def test_no_text_cell_begins_like_a_formula():
    numbers = {"record", *(name for name in COLUMNS if name.startswith(("Lab_", "target_")))}
    for row in rows_of(library_csv(BAD_SHADES, BAD_BATCHES, BAD_RECORDS)):
        assert not [key for key, value in row.items() if key not in numbers and value.startswith(FORMULA_SIGNS)]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "  =1+1", "\t=1+1", "\r\n=1", "＝1+1"])
def test_formulas_are_defused(text):
    assert defused(text).startswith("'")
    assert defused(text)[1:] == " ".join(text.split())


def test_other_text_stays_as_it_is():
    assert defused("Mohnrot = warm") == "Mohnrot = warm"


def test_hostile_names_come_back(tmp_path):
    text = library_csv(BAD_SHADES, BAD_BATCHES, BAD_RECORDS)
    assert [row["shade"] for row in rows_of(text)] == [defused(shade.name) for shade in BAD_SHADES]
    readings = read_readings(written(tmp_path, "bad.csv", text))
    assert_allclose(readings.lab, [record.colour.lab for record in BAD_RECORDS], rtol=0, atol=HALF_OF_LAST_DIGIT)


def test_without_records_there_is_only_the_row_of_names():
    assert library_csv([studio.shade()], [], []) == ",".join(COLUMNS) + "\r\n"


def test_a_record_whose_shade_and_batch_are_gone_still_has_its_row():
    (row,) = rows_of(library_csv([], [], RECORDS[:1]))
    assert (row["shade"], row["target_L"], row["mixed_date"], row["recipe"]) == ("Mohnrot", "", "", "")


# --- JSON ---------------------------------------------------------------------------------------------------


def test_json_is_one_object_with_everything_in_it():
    found = json.loads(library_json([studio.shade()], BATCHES, RECORDS))
    assert found["format"] == "swatchcam-library-2"
    assert found["shades"][0]["target_lab"] == list(studio.shade().target)
    assert [part["grams"] for part in found["batches"][0]["recipe"]] == [500.0, 6.0, 1.8]
    assert [record["lab"] for record in found["records"]] == [list(record.colour.lab) for record in RECORDS]
    assert found["records"][0]["photos"] == [{"sha256": f"{1:064x}", "name": "strip 1.jpg", "light": 1}]


def test_json_holds_the_account_of_each_error():
    record = json.loads(library_json([], [], RECORDS[:1]))["records"][0]
    text = json.dumps(record["errors_lab"] | {"reflectance": record["reflectance_380_to_780_nm"]})
    errors, reflectance, _ = errors_from_text(text)
    assert_allclose(errors.covariance, RECORDS[0].colour.covariance, atol=6 * HALF_OF_LAST_DIGIT)
    assert reflectance == RECORDS[0].colour.reflectance


def test_json_holds_names_as_they_are():
    found = json.loads(library_json(BAD_SHADES, BAD_BATCHES, BAD_RECORDS))
    assert [shade["name"] for shade in found["shades"]] == list(studio.HOSTILE)
    assert json.loads(library_json([], [], []))["records"] == []


# --- CGATS.17 -----------------------------------------------------------------------------------------------


def test_cgats_comes_back_through_our_own_reader(tmp_path):
    readings = read_readings(written(tmp_path, "halm.txt", library_cgats(RECORDS, "2026-04-01", "Studio Halm")))
    assert (readings.kind, readings.problems) == ("CGATS", ())
    assert (readings.illuminant, readings.observer, readings.date) == ("D65", 10, "2026-04-01")
    assert_allclose(readings.lab, [record.colour.lab for record in RECORDS], rtol=0, atol=HALF_OF_LAST_DIGIT)
    assert_allclose(readings.spectra, [record.colour.reflectance for record in RECORDS], rtol=0, atol=1e-12)
    assert readings.wavelengths[:2] == (380.0, 385.0)
    assert readings.wavelengths[-1] == 780.0


def test_cgats_has_spectra_only_if_every_record_has(tmp_path):
    without = replace(RECORDS[0], colour=replace(RECORDS[0].colour, reflectance=()))
    text = library_cgats([without, *RECORDS[1:]], "2026-04-01")
    assert "SPECTRAL" not in text
    readings = read_readings(written(tmp_path, "halm.txt", text))
    assert_allclose(readings.lab, [record.colour.lab for record in RECORDS], rtol=0, atol=HALF_OF_LAST_DIGIT)


def test_cgats_holds_hostile_names(tmp_path):
    path = written(tmp_path, "bad.txt", library_cgats(BAD_RECORDS, "2026-04-01"))
    readings = read_readings(path)
    wanted = [f"{r.shade} / {r.batch} / strip {r.mark.strip()} / air-dried" for r in BAD_RECORDS]
    assert list(readings.names) == [defused(name) for name in wanted]
    assert_allclose(readings.lab, [record.colour.lab for record in BAD_RECORDS], rtol=0, atol=HALF_OF_LAST_DIGIT)


def test_cgats_begins_and_counts_as_the_standard_has_it(tmp_path):
    text = library_cgats(RECORDS[:2], "2026-04-01")
    lines = text.split("\r\n")
    assert lines[0] == "CGATS.17"
    assert [line for line in lines if line.startswith("NUMBER_OF")] == ["NUMBER_OF_FIELDS 86", "NUMBER_OF_SETS 2"]
    table = read_table(written(tmp_path, "two.txt", text), is_header)
    assert table.columns[:5] == ("SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B")
    assert [row[0] for row in table.rows] == ["1", "2"]


def test_cgats_without_records_is_an_empty_table(tmp_path):
    table = read_table(written(tmp_path, "none.txt", library_cgats([], "2026-04-01")), is_header)
    assert (len(table.columns), table.rows) == (5, ())


def test_cgats_of_two_lights_is_refused():
    other = replace(RECORDS[1], colour=replace(RECORDS[1].colour, illuminant="D50", observer=2))
    with pytest.raises(UsageError, match="different lights"):
        library_cgats([RECORDS[0], other], "2026-04-01")
