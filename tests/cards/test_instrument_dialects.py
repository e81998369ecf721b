"""Dialects of instruments' tables: headers with a light, other languages, numbered rows; how a card was read.

The keywords and field names are those of CGATS.17 and ISO 28178; the ways to write a geometry those of CIE 15:2018
(`45°a:0°`, `di:8°`, `8°:de`) and of instruments. The headers with a light, and the words of other languages, are common
practice without a source.
"""

from __future__ import annotations

from functools import cache

import pytest

from swatchcam.cards.design import designs
from swatchcam.cards.instrument_import import import_values
from swatchcam.cards.instrument_readings import read_readings
from swatchcam.cards.reading_settings import gloss_of
from swatchcam.cards.values import nominal_values
from swatchcam.cards.values_file import text_of
from swatchcam.errors import CardError
from tests.codes import findings, lines, tells

READ = {"geometry": "45/0", "date": "2026-01-31"}


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    return tmp_path / "cards"


@cache
def colours():
    """What the card would measure if the printer were perfect, under D65 and 10 degrees."""
    return nominal_values(designs()["a5"]).lab


def put(tmp_path, text):
    path = tmp_path / "readings.txt"
    path.write_text(text, encoding="utf-8")
    return path


def table(header=("name", "L", "a", "b"), names=None, delimiter=";", decimal=".", before="", rows=None):
    rows = rows or list(colours().values())
    names = names or list(colours())
    cells = [
        [name, *(f"{value:.2f}".replace(".", decimal) for value in row)] for name, row in zip(names, rows, strict=False)
    ]
    return before + "\n".join(delimiter.join(row) for row in [list(header), *cells]) + "\n"


def take(path, name="halm-1", **settings):
    readings = read_readings(path, settings.get("illuminant"), settings.get("observer"))
    return import_values(readings, designs()["a5"], name=name, **(READ | settings))


def refused(path, **settings):
    with pytest.raises(CardError) as error:
        take(path, **settings)
    return error.value


# A light in the column's name


@pytest.mark.parametrize(
    "pattern",
    ["{}*(10/D65)", "{}*(D65/10°)", "CIE {}* D65/10", "{}* D65 10°", "CIELAB {}* (D65, 10 deg)", "LAB_{}_D65_10",
     "{}*[D65-10]", "{} (10°/D65)"],
)  # fmt: skip
def test_a_light_in_the_header_is_read(tmp_path, pattern):
    values = take(put(tmp_path, table(["name", *(pattern.format(letter) for letter in "Lab")])))
    assert (values.illuminant, values.observer) == ("D65", 10)
    assert values.lab["B1"] == pytest.approx(colours()["B1"], abs=0.006)


@pytest.mark.parametrize(
    ("pattern", "light"),
    [("{}* D50/2", ("D50", 2)), ("{}*(A/10)", ("A", 10)), ("{}*(10/A)", ("A", 10)), ("{}*(C/2°)", ("C", 2)),
     ("{}*(D50)", ("D50", 0)), ("CIE {}*", ("", 0)), ("LAB_{}", ("", 0))],
)  # fmt: skip
def test_other_lights_in_the_header(tmp_path, pattern, light):
    readings = read_readings(put(tmp_path, table(["name", *(pattern.format(letter) for letter in "Lab")])))
    assert (readings.illuminant, readings.observer) == light


def test_a_header_counts_more_than_a_line_above_and_contradicts_the_command(tmp_path):
    header = ["name", *(f"{letter}*(10/D65)" for letter in "Lab")]
    path = put(tmp_path, table(header, before="Illuminant;D50\n"))
    assert read_readings(path).illuminant == "D65"
    assert tells(refused(path, illuminant="D50"), "setting-contradicted", said="D65", given="D50")


def test_of_columns_for_several_lights_the_wanted_ones_are_taken(tmp_path):
    header = ["name", *(f"{letter}*(10/{lamp})" for lamp in ("A", "D65") for letter in "Lab")]
    path = put(tmp_path, table(header, rows=[(50, 1, 1, *row) for row in colours().values()]))
    with pytest.raises(CardError) as error:
        read_readings(path)
    assert error.value.code == "columns-doubled"
    assert take(path, illuminant="D65").lab["B1"] == pytest.approx(colours()["B1"], abs=0.006)


def test_a_set_from_two_lights_is_refused(tmp_path):
    with pytest.raises(CardError) as error:
        read_readings(put(tmp_path, table(["name", "L*(10/D65)", "a*(10/D65)", "b*(10/D50)"])))
    assert error.value.code == "columns-of-two-lights"


def test_lamps_that_are_not_known_here_and_chromaticities_are_left_alone(tmp_path):
    header = ["name", *(f"{letter}*(10/F11)" for letter in "Lab"), *(f"CIE {letter}" for letter in "xyz")]
    with pytest.raises(CardError):
        read_readings(put(tmp_path, table(header, rows=[(*row, 0.3, 0.3, 0.4) for row in colours().values()])))


# Other languages


@pytest.mark.parametrize(
    "column",
    ["Probe", "Proben-ID", "Probenname", "Messfeld", "Feld", "Échantillon", "Nom de l'échantillon", "Plage", "Muestra",
     "Nombre de la muestra", "Campione", "Nome del campione", "Monster", "Naam van het monster", "Amostra",
     "Nome da amostra", "Sample No.", "Nº", "#"],
)  # fmt: skip
@pytest.mark.parametrize(("delimiter", "decimal"), [(";", ","), ("\t", ",")])
def test_names_in_other_languages_with_decimal_commas(tmp_path, column, delimiter, decimal):
    text = table([column, "L*", "a*", "b*"], delimiter=delimiter, decimal=decimal)
    assert read_readings(put(tmp_path, text)).names == tuple(colours())


@pytest.mark.parametrize("word", ["Papier", "papel", "Carta"])
def test_the_bare_stock_in_other_languages(tmp_path, word):
    names = [word if name == "paper" else name for name in colours()]
    assert take(put(tmp_path, table(names=names)), illuminant="D65", observer=10).lab["paper"][0] == 96


@pytest.mark.parametrize(
    "before",
    ["Lichtart;D65\nBeobachter;10°\nMessgeometrie;45/0\n", "Illuminant: D65\nObservateur: 10°\nGéométrie: 45/0\n",
     "Iluminante;D65\nObservador;10\nGeometría;45/0\n", "Illuminante;D65\nOsservatore;10\nGeometria;45/0\n"],
)  # fmt: skip
def test_lines_above_the_table_in_other_languages(tmp_path, before):
    readings = read_readings(put(tmp_path, table(before=before)))
    assert (readings.illuminant, readings.observer, readings.geometry) == ("D65", 10, "45/0")


# Numbered rows

LIGHT = {"illuminant": "D65", "observer": 10}


@pytest.mark.parametrize("pattern", ["{}", "{:03d}", "Sample {}", "P{:02d}", "No. {}"])
def test_rows_numbered_in_the_order_of_the_map(tmp_path, pattern):
    names = [pattern.format(row) for row in range(1, 70)]
    values = take(put(tmp_path, table(names=names)), **LIGHT)
    for name, colour in colours().items():
        assert values.lab[name] == pytest.approx(colour, abs=0.006)


def test_numbered_rows_of_a_cgats_file(tmp_path):
    rows = "".join(
        f"{row} {' '.join(f'{value:.2f}' for value in lab)}\n" for row, lab in enumerate(colours().values(), 1)
    )
    head = 'CGATS.17\nMEASUREMENT_GEOMETRY "0/45"\nWEIGHTING_FUNCTION "ILLUMINANT, D65"\n'
    head += (
        'WEIGHTING_FUNCTION "OBSERVER, 10 degree"\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\n'
    )
    path = put(tmp_path, f"{head}END_DATA_FORMAT\nNUMBER_OF_SETS 69\nBEGIN_DATA\n{rows}END_DATA\n")
    assert take(path).lab["paper"] == pytest.approx((96, 0, 0), abs=0.01)


def test_numbered_rows_that_are_not_as_many_say_what_is_missing(tmp_path):
    numbers = [row for row in range(1, 69) if row != 14]
    error = refused(put(tmp_path, table(names=map(str, numbers))), **LIGHT)
    assert lines(error) == [
        "the rows only have numbers, so they are taken in the order of the card's map (69, from A1 to paper); "
        "missing: 14 (B2), 69 (paper)"
    ]
    names = [str(row) for row in range(70)]
    rows = [(50.0, 0.0, 0.0), *colours().values()]
    assert tells(refused(put(tmp_path, table(names=names, rows=rows)), **LIGHT), "numbers-do-not-fit", beyond=["0"])


@pytest.mark.parametrize(
    ("order", "paper_first"),
    [(lambda rows: [rows[-1], *rows[:-1]], True), (lambda rows: rows[::-1], False),
     (lambda rows: [*rows[11::-1], *rows[12:]], False), (lambda rows: [*rows[:30], rows[29], *rows[30:-1]], False)],
)  # fmt: skip
def test_numbered_rows_in_another_order_are_refused(tmp_path, order, paper_first):
    """Bare stock first, all backwards, one row of patches backwards, one patch read twice and the last forgotten."""
    rows = order(list(colours().values()))
    error = refused(put(tmp_path, table(names=[str(row) for row in range(1, 70)], rows=rows)), **LIGHT)
    assert error.code == "readings-not-imported"
    told = findings(error)[0]
    assert told.code == "paper-too-dark" or (told.code, told.facts["paper_first"]) == ("order-unlike-card", paper_first)


def test_many_missing_patches_are_one_line(tmp_path):
    error = refused(put(tmp_path, table(names=list(colours())[:20])), **LIGHT)
    assert lines(error) == ["49 patches are missing: B9, B10, B11, B12, B13, and 44 more"]


# How it was read


@pytest.mark.parametrize(
    ("geometry", "gloss"),
    [("45/0", ""), ("0/45", ""), ("45:0", ""), ("45°a:0°", ""), ("45°x:0°", ""), ("0°:45°a", ""), ("45c/0", ""),
     ("45/0 annular", ""), ("d/8", "unknown"), ("8/d", "unknown"), ("d:8°", "unknown"), ("d/0", "unknown"),
     ("di:8°", "included"), ("de:8°", "excluded"), ("8°:di", "included"), ("8°:de", "excluded"), ("d/8:i", "included"),
     ("d/8:e", "excluded"), ("d/8 SCI", "included"), ("d/8 (specular excluded)", "excluded"),
     ("banana", None), ("", None), ("45/1", None), ("di:8:e", None), ("45", None), ("d", None)],
)  # fmt: skip
def test_geometries_as_they_are_written(geometry, gloss):
    assert gloss_of(geometry) == gloss


def test_a_geometry_that_is_none_is_refused_with_the_choices(tmp_path):
    error = refused(put(tmp_path, table()), geometry="banana", **LIGHT)
    assert tells(error, "geometry-unknown", geometry="banana", known=["45/0", "0/45", "d/8", "8/d"])


@pytest.mark.parametrize(
    ("settings", "told"),
    [({"geometry": "d/8", "specular": "included"}, "included"), ({"geometry": "di:8"}, "included"),
     ({"geometry": "8/d", "specular": "excluded"}, "excluded"), ({"geometry": "d/8:e"}, "excluded"),
     ({"geometry": "d/8", "specular": "unknown"}, ""), ({"geometry": "45/0"}, ""),
     ({"geometry": "45/0", "specular": "excluded"}, "")],
)  # fmt: skip
def test_gloss_is_kept_where_a_sphere_may_see_it(tmp_path, settings, told):
    values = take(put(tmp_path, table()), **(LIGHT | settings))
    assert values.specular == told


@pytest.mark.parametrize(
    ("settings", "code"),
    [({"geometry": "d/8"}, "specular-missing"), ({"geometry": "45/0", "specular": "included"}, "gloss-never-seen"),
     ({"geometry": "d/8:i", "specular": "excluded"}, "setting-contradicted")],
)  # fmt: skip
def test_gloss_is_asked_for(tmp_path, settings, code):
    assert [each.code for each in findings(refused(put(tmp_path, table()), **(LIGHT | settings)))] == [code]


@pytest.mark.parametrize(
    ("before", "condition"),
    [("", ""), ('MEASUREMENT_CONDITION "M1"\n', "M1"), ('FILTER "M2"\n', "M2"), ("Measurement mode;M0\n", "M0"),
     ("ISO 13655 M3\n", "M3"), ("Filter: D65\n", ""), ('MEASUREMENT_CONDITION "M1"\nFILTER "M2"\n', "")],
)  # fmt: skip
def test_the_condition_is_read_and_kept(tmp_path, before, condition):
    path = put(tmp_path, table(before=before))
    assert take(path, **LIGHT).condition == condition
    assert take(path, name="halm-2", condition=condition or "M1", **LIGHT).condition == (condition or "M1")
    if condition:
        other = "M3" if condition != "M3" else "M0"
        assert tells(refused(path, condition=other, **LIGHT), "setting-contradicted", key="condition", said=condition)


@pytest.mark.parametrize(("line", "told"), [("Specular component: included", "included"), ("Mode: SCE", "excluded")])
def test_gloss_told_by_the_file(tmp_path, line, told):
    path = put(tmp_path, table(before=f"{line}\nGeometry;d/8\n"))
    assert take(path, geometry=None, **LIGHT).specular == told
    assert f"# specular: {told}" in text_of(tmp_path / "cards" / "halm-1.csv")


# Names


@pytest.mark.parametrize("name", ["sample-card", "Sample-Card", "sample-row", "a5", "nominal"])
def test_a_name_that_comes_with_the_tool_is_refused(tmp_path, own_folder, name):
    assert tells(refused(put(tmp_path, table()), name=name, replace=True, **LIGHT), "card-name-of-tool", name=name)
    assert not own_folder.exists()
