"""Whatever stands in a card design, a values file or an instrument's readings: a sound value or a refusal.

Valid files are spoilt at random, and files are built from odd parts. Nothing but a SwatchcamError may come out, no
number that is not finite may get through, and nothing may be written unless all of it is good.
"""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.cards.design import designs, read_design
from swatchcam.cards.instrument_import import import_values
from swatchcam.cards.instrument_readings import read_readings
from swatchcam.cards.validation import ILLUMINANTS, OBSERVERS
from swatchcam.cards.values import load_values, nominal_values, spectra_to_lab
from swatchcam.errors import CardError, SwatchcamError
from swatchcam.messages.surface import TERMINAL

ODD = (
    "", " ", "0", "-0.0", "-1", "100", "1e-320", "1e308", "-1e308", "1e999", "nan", "inf", "-inf", "9" * 5000, "1,5",
    "0x10", "1_0", "٣", "½", "true", "2026-13-45", "paper", "A1", "name", "L", "r400", "#", "# design: a5", '"', "'",
    "[", "]]", "{", "=", ",", ";", "\t", ":", "\0", "\u2028", "\x1c", "\x85", "\ufeff", "\u202e", "é", "BEGIN_DATA",
    "END_DATA", "BEGIN_DATA_FORMAT", "NUMBER_OF_SETS 1", "[[size]]", '"""', "LAB_L", "XYZ_Y",
)  # fmt: skip
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-be", "utf-32", "cp1252", "latin-1")
LINE_ENDS = ("\n", "\r\n", "\r", "\n\n", "\r\r\n", "\v", "\n\t")
SOUND = {"geometry": "45/0", "date": "2026-01-31", "source": "Studio Halm, invented for this test"}

many = settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module", autouse=True)
def own_folder(tmp_path_factory):
    """An empty folder of cards for these tests."""
    with pytest.MonkeyPatch.context() as patch:
        folder = tmp_path_factory.mktemp("fuzz") / "cards"
        folder.mkdir()
        patch.setenv("SWATCHCAM_CARDS", str(folder))
        designs.cache_clear()
        yield folder
    designs.cache_clear()


# --- valid files, and what happens to them ------------------------------------------------------------------


def box(x, y):
    return f"x = {x}\ny = {y}\nw = 10.0\nh = 10.0\n"


CORNERS = (2, 2), (90, 2), (2, 40), (90, 20)
DESIGN = (
    'format = 1\nname = "own"\ntitle = "A card of one\'s own"\nsize_mm = [100.0, 60.0]\ntag_family = "36h11"\n'
    "[scale]\nx = 5.0\ny = 55.0\nlength = 50.0\n"
    f"[label]\n{box(70, 45)}"
    + "".join(f"[[tag]]\nid = {500 + i}\nx = {x}\ny = {y}\nsize = 8.0\n" for i, (x, y) in enumerate(CORNERS))
    + f'[[patch]]\nname = "A1"\nsrgb = [255, 0, 10]\nrole = "colour"\n{box(20, 2)}'
    f'[[patch]]\nname = "A2"\nsrgb = [90, 90, 90]\nrole = "grey"\n{box(40, 2)}'
    f'[[window]]\nname = "left"\n{box(20, 20)}'
    '[[size]]\nname = "own large"\nscale = 2\nfirst_tag = 510\n'
)
PATCHES = (*(patch.name for patch in designs()["a5"].patches), "paper")
NM = range(400, 701, 20)
HEADER = (
    "# design: a5\n# grade: measured\n# illuminant: D65\n# observer: 10\n# geometry: 45/0\n# date: 2026-01-31\n"
    "# source: Studio Halm, invented\n# uncertainty: 0.5\n"
)


def rows(count, low, high, between):
    """One row of numbers for every patch, `paper` with the largest."""
    numbers = np.linspace(low, high, len(PATCHES) * count).reshape(len(PATCHES), count)
    cells = [[name, *(f"{value:.3f}" for value in row)] for name, row in zip(PATCHES, numbers, strict=True)]
    return "".join(f"{between.join(row)}\n" for row in cells)


LAB, SPECTRA = rows(3, 10, 80, ","), rows(len(NM), 0.05, 0.9, ",")
VALUES = (
    f"{HEADER}name,L,a,b\n{LAB}",
    f"{HEADER}name,L,a,b,{','.join(f'r{nm}' for nm in NM)}\n"
    + "".join(
        f"{lab},{spectrum.partition(',')[2]}\n"
        for lab, spectrum in zip(LAB.splitlines(), SPECTRA.splitlines(), strict=True)
    ),
)
CGATS = (
    'CGATS.17\nINSTRUMENTATION "invented"\nNUMBER_OF_FIELDS {fields}\nBEGIN_DATA_FORMAT\nSAMPLE_NAME {columns}\n'
    "END_DATA_FORMAT\nNUMBER_OF_SETS {sets}\nBEGIN_DATA\n{rows}END_DATA\n"
)
READINGS = (
    f"Illuminant,D65\nObserver,10\nname,L,a,b\n{LAB}",
    f"Illuminant;D50\nObserver;2\nname;X;Y;Z\n{rows(3, 4, 84, ';').replace('.', ',')}",
    f"name,{','.join(map(str, NM))}\n{SPECTRA}",
    CGATS.format(fields=4, columns="LAB_L LAB_A LAB_B", sets=len(PATCHES), rows=rows(3, 10, 80, "\t")),
    CGATS.format(
        fields=1 + len(NM),
        columns=" ".join(f"SPECTRAL_{nm}" for nm in NM),
        sets=len(PATCHES),
        rows=rows(len(NM), 5, 90, "\t"),
    ),
)  # fmt: skip


@st.composite
def spoilt(draw, *valid):
    """Bytes of a valid file after one to four mishaps."""
    text = draw(st.sampled_from(valid))
    for _ in range(draw(st.integers(1, 4))):
        text = draw(mishap(text))
    data = text.encode(draw(st.sampled_from(ENCODINGS)), "replace") if draw(st.booleans()) else text.encode()
    if draw(st.integers(0, 3)) == 0:
        at = draw(st.integers(0, len(data)))
        data = data[:at] + draw(st.binary(max_size=4)) + data[at + draw(st.integers(0, 4)) :]
    return data


@st.composite
def mishap(draw, text):
    """The text with one thing wrong."""
    what = draw(st.sampled_from(("field", "field", "number", "insert", "cut", "line", "lines", "ends")))
    start, end = sorted((draw(st.integers(0, len(text))), draw(st.integers(0, len(text)))))
    if what == "cut":
        return text[:start] + text[end:]
    if what == "insert":
        return text[:start] + draw(odd()) + text[start:]
    if what == "ends":
        return draw(st.sampled_from(LINE_ENDS)).join(text.splitlines())
    lines = text.splitlines(keepends=True) or ["\n"]
    at, other = draw(st.integers(0, len(lines) - 1)), draw(st.integers(0, len(lines) - 1))
    if what == "line":
        return "".join([*lines[:at], *lines[at : at + 1] * draw(st.sampled_from((0, 2, 3))), *lines[at + 1 :]])
    if what == "lines":
        return "".join([*lines[:at], lines[other], *lines[at:]])
    between = next((mark for mark in (",", ";", "\t", "=", " ") if mark in lines[at]), "\n")
    cells = lines[at].rstrip("\n").split(between)
    cell = draw(st.integers(0, len(cells) - 1))
    put = draw(st.floats().map(repr)) if what == "number" else draw(odd())
    changed = cells[:cell] + draw(st.sampled_from(([put], [put, put], [cells[cell]] * 2, []))) + cells[cell + 1 :]
    return "".join([*lines[:at], between.join(changed) + "\n", *lines[at + 1 :]])


def odd():
    return st.one_of(st.sampled_from(ODD), st.text(st.characters(exclude_categories=["Cs"]), max_size=6))


# --- what must hold -----------------------------------------------------------------------------------------


def assert_sound(value):
    """No number within a value is infinite or none at all."""
    if is_dataclass(value):
        for field in fields(value):
            assert_sound(getattr(value, field.name))
    elif isinstance(value, dict):
        assert_sound(tuple(value.values()))
    elif isinstance(value, (tuple, list)):
        for item in value:
            assert_sound(item)
    elif isinstance(value, (float, np.ndarray)):
        assert np.isfinite(value).all()


@contextmanager
def as_file(data, ending):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"spoilt{ending}"
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        yield path


def read_or_refused(reader, data, ending):
    """What the reader makes of a file: a sound value, or None if it is refused in whole sentences."""
    with as_file(data, ending) as path:
        try:
            value, refusal = reader(path), None
        except CardError as refused:
            value, refusal = None, refused
    assert refusal is None or (TERMINAL.problem(refusal).strip() and TERMINAL.remedy(refusal).endswith("."))
    assert_sound(value)
    return value


@pytest.mark.parametrize("text", [DESIGN], ids=["design"])
def test_the_valid_design_is_read(text):
    assert [design.name for design in read_or_refused(read_design, text, ".toml")] == ["own", "own large"]


@pytest.mark.parametrize("text", VALUES, ids=["Lab", "spectra"])
def test_the_valid_values_are_read(text):
    assert set(read_or_refused(load_values, text, ".csv").lab) == set(PATCHES)


@pytest.mark.parametrize("text", READINGS, ids=["Lab", "XYZ", "spectra", "CGATS Lab", "CGATS spectra"])
def test_the_valid_readings_are_read(text):
    readings = read_or_refused(read_readings, text, ".txt")
    assert readings.names == PATCHES
    assert readings.problems == ()


# --- card designs -------------------------------------------------------------------------------------------


@given(spoilt(DESIGN))
@many
def test_a_spoilt_design_is_read_or_refused(data):
    for design in read_or_refused(read_design, data, ".toml") or ():
        assert_sound(nominal_values(design))


def toml_values():
    """Anything that a TOML file may hold, as text."""
    plain = st.one_of(
        st.sampled_from(
            ("nan", "-inf", "true", "1e308", "5e-324", "1979-05-27", "07:32:00", "0xff", "9" * 400, "1e400")
        ),
        st.floats(-300, 300).map(repr),
        st.integers(-5, 300).map(str),
        st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=5).map(
            lambda text: json.dumps(text, ensure_ascii=False).replace("\x7f", "")
        ),
    )
    keys = st.sampled_from(("x", "y", "w", "h", "name", "id", "size", "srgb", "role", "scale", "first_tag", "length"))
    return st.recursive(
        plain,
        lambda inner: st.one_of(
            st.lists(inner, max_size=4).map(lambda items: f"[{', '.join(items)}]"),
            st.dictionaries(keys, inner, max_size=6).map(
                lambda pairs: "{" + ", ".join(f"{key} = {value}" for key, value in pairs.items()) + "}"
            ),
        ),
        max_leaves=8,
    )


@given(st.data())
@many
def test_a_design_with_anything_for_a_value_is_read_or_refused(data):
    lines = DESIGN.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.sampled_from([i for i, line in enumerate(lines) if "=" in line]))
        lines[at] = f"{lines[at].split('=')[0]}= {data.draw(toml_values())}"
    for design in read_or_refused(read_design, "\n".join(lines), ".toml") or ():
        assert_sound(nominal_values(design))


@pytest.mark.parametrize(
    "text",
    [
        "x = " + "[" * 100_000,
        "x = " + "{a = " * 20_000,
        ".".join("a" * 2000) + " = 1",
        "[" + ".".join("a" * 2000) + "]\n",
        DESIGN + "[" * 5000,
        "\0" * 1000,
        "",
    ],
    ids=["arrays", "tables", "key", "header", "brackets", "NUL", "empty"],
)
def test_a_design_nested_without_end_is_refused(text):
    assert read_or_refused(read_design, text, ".toml") is None


# --- card import --------------------------------------------------------------------------------------------


@given(spoilt(*VALUES), st.sampled_from(ILLUMINANTS), st.sampled_from(OBSERVERS))
@many
def test_spoilt_values_are_read_or_refused(data, illuminant, observer):
    values = read_or_refused(lambda path: load_values(path, illuminant, observer), data, ".csv")
    assert values is None or set(values.lab) == set(PATCHES)


# --- an instrument's readings -------------------------------------------------------------------------------


def tree(folder):
    """Every file below a folder and what is in it."""
    return {str(path): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def taken_over(path, folder, **wishes):
    """Values taken over from a file, loaded again; None if they were refused and nothing was written."""
    before = tree(folder)
    try:
        values = import_values(read_readings(path), designs()["a5"], **{"name": "fuzz"} | SOUND | wishes)
    except SwatchcamError:
        assert tree(folder) == before
        return None
    assert_sound(values)
    again = load_values(values.path, values.illuminant, values.observer)
    assert (again.lab, again.uncertainty, again.source) == (values.lab, values.uncertainty, values.source)
    assert set(tree(folder)) - set(before) == {values.path}
    os.unlink(values.path)
    return values


@given(spoilt(*READINGS), st.booleans())
@many
def test_spoilt_readings_are_taken_over_whole_or_not_at_all(own_folder, data, average):
    read_or_refused(read_readings, data, ".txt")
    with as_file(data, ".txt") as path:
        taken_over(path, own_folder, average=average, illuminant="D65", observer=10)


@given(
    st.sampled_from(READINGS),
    st.fixed_dictionaries(
        {},
        optional={
            "name": odd(),
            "illuminant": st.sampled_from((*ILLUMINANTS, "E", "")),
            "observer": st.sampled_from((2, 10, 0, 7)),
            "geometry": st.one_of(odd(), st.sampled_from(("0/45", "d/8", "di:8"))),
            "specular": st.sampled_from(("included", "excluded", "unknown", "", None)),
            "condition": st.sampled_from(("M0", "M2", None)),
            "date": odd(),
            "source": odd(),
            "uncertainty": st.floats(),
            "average": st.booleans(),
            "replace": st.booleans(),
        },
    ),
)
@many
def test_readings_with_odd_wishes_are_taken_over_whole_or_not_at_all(own_folder, text, wishes):
    with as_file(text, ".csv") as path:
        taken_over(path, own_folder, **wishes)


# --- what such files have brought to light ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("scale = 2", "scale = 1e308", "a side of inf mm can't be right"),
        ("[100.0, 60.0]", "[1e308, 1e308]", "a side of 1e+308 mm can't be right"),
        ("[100.0, 60.0]", "[1e308, 60.0]", "a side of 1e+308 mm can't be right: it must be between 20 and 2000 mm"),
        ("[100.0, 60.0]", "[5000.0, 3000.0]", "sides of 5000 mm and 3000 mm can't be right: they must be between 20"),
        ('"36h11"', '"25h9"', "tag family '25h9'"),
        ("id = 500", "id = 587", "36h11 has no tags with these numbers: 587"),
        ("id = 500", "id = -1", "36h11 has no tags with these numbers: -1"),
        ("first_tag = 510", "first_tag = 585", "36h11 has no tags with these numbers: 587, 588"),
        ("[[window]]", "[[other]]", "'window' is missing"),
        ("[[tag]]\nid = 503", "[[other]]\nid = 503", "too few tags: at least 4 are needed"),
        ("length = 50.0", "length = -50.0", "these have no area: the scale bar"),
        ("length = 50.0", "length = 500.0", "these lie outside the card: the scale bar"),
        ("x = 70\ny = 45", "x = 95\ny = 45", "these lie outside the card: the label"),
    ],
)
def test_a_design_that_no_photo_could_show_is_refused(tmp_path, old, new, told):
    assert old in DESIGN
    path = tmp_path / "own.toml"
    path.write_text(DESIGN.replace(old, new), encoding="utf-8")
    with pytest.raises(CardError) as refused:
        read_design(path)
    assert told in TERMINAL.problem(refused.value)


@pytest.mark.parametrize("number", ["1e308", "-1e308", "10001"])
@pytest.mark.parametrize("text", READINGS, ids=["Lab", "XYZ", "spectra", "CGATS Lab", "CGATS spectra"])
def test_a_reading_that_would_overflow_is_refused(own_folder, text, number):
    line = next(line for line in text.splitlines() if line.startswith("A2"))
    cells = line.split(line[2])
    with as_file(text.replace(line, line[2].join(["A2", number, *cells[2:]])), ".csv") as path:
        first = read_readings(path).problems[0]
        assert (first.code, first.facts["patch"], first.facts["typed"]) == ("reading-too-large", "A2", number)
        assert taken_over(path, own_folder, illuminant=None) is None


@pytest.mark.parametrize("first", [380.0, 380.3, 379.999])
@pytest.mark.parametrize("step", [10.0, 10.01, 10 / 3, 9.9999999])
def test_wavelengths_need_not_be_whole(first, step):
    wavelengths = np.array([first + step * i for i in range(int(350 / step) + 1)])

    def smooth(nm):
        return 0.05 + 0.7 / (1 + np.exp((560 - nm) / 15))

    fine = np.arange(360.0, 781.0)
    wanted = spectra_to_lab(fine, [smooth(fine)], "D65", 10)
    # 0.003 is what sampling every 10 nm costs, as a whole first wavelength shows too.
    assert np.abs(spectra_to_lab(wavelengths, [smooth(wavelengths)], "D65", 10) - wanted).max() < 0.006


@pytest.mark.parametrize("odd_space", ["\v", "\n", "\x1c", "\x85", "\u2028", "\n# grade: nominal\n"])
def test_what_is_said_of_readings_stays_on_one_line(own_folder, odd_space):
    with as_file(READINGS[0], ".csv") as path:
        values = taken_over(path, own_folder, source=f"a school{odd_space}by hand")
    assert values.grade == "measured"
    assert values.source == " ".join(f"a school{odd_space}by hand".split())
