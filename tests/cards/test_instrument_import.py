"""Readings from instruments: every common shape of file is read, nothing doubtful is taken over."""

from __future__ import annotations

import io
from datetime import date
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.cards.design import designs
from swatchcam.cards.instrument_import import import_values
from swatchcam.cards.instrument_readings import read_readings
from swatchcam.cards.values import load_values, spectra_to_lab
from swatchcam.errors import CardError
from swatchcam.messages.surface import TERMINAL
from tests.codes import lines

NM = tuple(range(380, 731, 10))
ASK = "look in the instrument's settings, or ask whoever read the card, and give it with"
SETTINGS = {"geometry": "45/0", "date": "2026-01-31", "source": "Studio Halm, invented for this test"}


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    """Values come into it, never a design: what designs there are need not be read anew."""
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    return tmp_path / "cards"


@cache
def patches():
    return [*(patch.name for patch in designs()["a5"].patches), "paper"]


def spectrum(name):
    """A smooth reflectance of its own for every patch, 0 to 1."""
    at = np.array(NM, dtype=float)
    if name == "paper":
        return np.full(len(NM), 0.86)
    place = patches().index(name)
    return 0.05 + 0.6 * np.exp(-(((at - 420 - 4 * place) / 60) ** 2))


def lab(name):
    place = patches().index(name)
    return (95.0, 0.5, -1.0) if name == "paper" else (20.0 + place, 30.0 - place, place - 20.0)


def put(tmp_path, text, name="readings.txt"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def table(columns, row_of, names=None, delimiter=",", decimal="."):
    out = io.StringIO()
    out.write(delimiter.join(columns) + "\n")
    for name in names or patches():
        cells = [name, *(f"{value:.4f}".replace(".", decimal) for value in row_of(name))]
        out.write(delimiter.join(cells) + "\n")
    return out.getvalue()


def cgats(columns=("SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B"), row_of=lab, names=None, *, wrap=100, sets=None, head=""):
    """CGATS.17 text with the structure of ISO 28178: keywords, data format, data."""
    names = names or patches()
    cells = [cell for name in names for cell in (f'"{name}"', *(f"{value:.4f}" for value in row_of(name)))]
    lines = [
        "CGATS.17",
        'ORIGINATOR "Studio Halm"',
        'CREATED "2026-01-31" # the day of the reading',
        'INSTRUMENTATION "test bench"',
        'MEASUREMENT_GEOMETRY "45/0"',
        'WEIGHTING_FUNCTION "ILLUMINANT, D50"',
        'WEIGHTING_FUNCTION "OBSERVER, 2 degree"',
        *head.splitlines(),
        "# a comment",
        f"NUMBER_OF_FIELDS {len(columns)}",
        "BEGIN_DATA_FORMAT",
        " ".join(columns),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {sets or len(names)}",
        "BEGIN_DATA",
        *(" ".join(cells[i : i + wrap]) for i in range(0, len(cells), wrap)),
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def take(readings, name="halm-1", **settings_):
    return import_values(readings, designs()["a5"], name=name, **(SETTINGS | settings_))


# Shapes of files


@pytest.mark.parametrize("name_column", ["name", "SAMPLE_ID", "SAMPLE_NAME", "patch", "Sample Name"])
@pytest.mark.parametrize("columns", [("L", "a", "b"), ("LAB_L", "LAB_A", "LAB_B"), ("L*", "a*", "b*")])
def test_lab_columns_by_their_usual_names(tmp_path, name_column, columns):
    readings = read_readings(put(tmp_path, table([name_column, *columns], lab)))
    assert readings.names == tuple(patches())
    assert readings.lab == tuple(lab(name) for name in patches())
    assert (readings.xyz, readings.spectra, readings.problems) == ((), (), ())


@pytest.mark.parametrize(("delimiter", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")])
def test_every_separator_and_decimal_sign(tmp_path, delimiter, decimal):
    text = table(["name", "L", "a", "b"], lab, delimiter=delimiter, decimal=decimal)
    assert read_readings(put(tmp_path, text)).lab == tuple(lab(name) for name in patches())


def test_quoted_decimal_commas_between_commas(tmp_path):
    rows = [
        f'{name},"{lab(name)[0]:.1f}","{lab(name)[1]:.1f}","{lab(name)[2]:.1f}"'.replace(".", ",") for name in patches()
    ]
    assert read_readings(put(tmp_path, "name,L,a,b\n" + "\n".join(rows))).lab == tuple(lab(name) for name in patches())


@pytest.mark.parametrize(
    "pattern", ["nm{}", "SPECTRAL_NM{}", "SPECTRAL_NM_{}", "R_{}", "r{}", "R{}", "{} nm", "{}nm", "{}"]
)
@pytest.mark.parametrize("full", [1, 100])
def test_spectral_columns_by_their_usual_names_and_scales(tmp_path, pattern, full):
    columns = ["SAMPLE_NAME", *(pattern.format(nm) for nm in NM)]
    readings = read_readings(put(tmp_path, table(columns, lambda name: spectrum(name) * full, delimiter=";")))
    assert readings.wavelengths == NM
    expected = np.array([spectrum(name) for name in patches()])
    assert np.array(readings.spectra) == pytest.approx(expected, abs=6e-5)  # four decimals were written


@pytest.mark.parametrize("columns", [("X", "Y", "Z"), ("XYZ_X", "XYZ_Y", "XYZ_Z")])
@pytest.mark.parametrize("full", [1, 100])
def test_xyz_columns_on_either_scale(tmp_path, columns, full):
    def xyz(name):
        return np.array([0.8, 0.85, 0.7]) * (full if name == "paper" else full / 2)

    readings = read_readings(put(tmp_path, table(["name", *columns], xyz)))
    assert readings.xyz[-1] == pytest.approx((80, 85, 70))
    assert readings.xyz[0] == pytest.approx((40, 42.5, 35))


def test_other_columns_and_lines_before_the_table_do_no_harm(tmp_path):
    text = "Report;17\nIlluminant;D50\nObserver;2\nGeometry;45/0\n\nNo.;SAMPLE_NAME;R;G;B;L;a;b;x;y;Remark\n"
    for i, name in enumerate(patches()):
        text += f"{i};{name};1;2;3;{';'.join(map(str, lab(name)))};0.3;0.3;\n"
    readings = read_readings(put(tmp_path, text))
    assert readings.lab == tuple(lab(name) for name in patches())
    assert (readings.illuminant, readings.observer, readings.geometry) == ("D50", 2, "45/0")


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_what_other_systems_call_text(tmp_path, encoding):
    path = tmp_path / "readings.csv"
    path.write_bytes(
        ("Gerät;°\n" + table(["name", "L", "a", "b"], lab, delimiter=";")).replace("\n", "\r\n").encode(encoding)
    )
    assert read_readings(path).lab == tuple(lab(name) for name in patches())


def test_cgats_says_its_light_its_geometry_and_its_day(tmp_path):
    readings = read_readings(put(tmp_path, cgats()))
    assert readings.kind == "CGATS"
    assert readings.lab == tuple(lab(name) for name in patches())
    assert (readings.illuminant, readings.observer, readings.geometry) == ("D50", 2, "45/0")
    assert (readings.date, readings.instrument) == ("2026-01-31", "test bench")


@pytest.mark.parametrize("wrap", [1, 3, 4, 7])
def test_cgats_tables_wrapped_over_lines(tmp_path, wrap):
    assert read_readings(put(tmp_path, cgats(wrap=wrap))).lab == tuple(lab(name) for name in patches())


def test_cgats_names_beside_numbers_and_spectra(tmp_path):
    columns = ["SAMPLE_ID", "SAMPLE_NAME", *(f"SPECTRAL_NM{nm}" for nm in NM)]
    text = cgats(columns, spectrum).replace('"A1"', '1 "A1"', 1)
    for i, name in enumerate(patches()[1:], 2):
        text = text.replace(f' "{name}"', f' {i} "{name}"').replace(f'\n"{name}"', f'\n{i} "{name}"')
    readings = read_readings(put(tmp_path, text))
    assert readings.names == tuple(patches())
    assert readings.wavelengths == NM


def test_two_lights_in_one_file_count_as_not_said(tmp_path):
    readings = read_readings(put(tmp_path, cgats(head='WEIGHTING_FUNCTION "ILLUMINANT, D65"')))
    assert (readings.illuminant, readings.observer) == ("", 2)


# Files that are refused


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no row of column names"),
        ("hello\nworld\n", "no row of column names"),
        ("name,L,a\nA1,50,0\n", "no row of column names"),
        ("name,L,a,X\nA1,50,0,1\n", "no complete set of colour columns"),
        ("name,L,a,b,b\nA1,50,0,0,0\n", "several columns for the same thing: b, b"),
        ("name,name,L,a,b\nA1,A1,50,0,0\n", "two columns of patch names"),
        ("name,L,a,b\n,50,0,0\n", "has no patch names"),
        ("name,L,a,b\nA1,50,1,0,2,0,1\n", "'A1' has 7; decimal commas need semicolons"),
        ("name;L;a;b\nA1;50,1;0.2;0\n", "both decimal commas and decimal points"),
        ('name,L,a,b\n"A1,50,0,0\n', "rows with other numbers of entries|the table can't be read"),
        ("name,X,Y,Z\nA1,4,5,6\n", "XYZ values reach 5. They may be out of 1 or out of 100"),
        ("name,400,410,420\nA1,2,5,6\n", "reflectance values reach 6. They may be out of 1 or out of 100"),
    ],
)
def test_a_file_that_can_be_read_in_two_ways_is_refused(tmp_path, text, told):
    with pytest.raises(CardError, match=told) as refused:
        read_readings(put(tmp_path, text))
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("END_DATA\n", "", r"ends too early \(END_DATA is missing\)"),
        ("END_DATA_FORMAT\n", "", "BEGIN_DATA is in the wrong place"),
        ("BEGIN_DATA_FORMAT\n", "", "END_DATA_FORMAT is in the wrong place"),
        ("NUMBER_OF_SETS 69", "NUMBER_OF_SETS 70", "says NUMBER_OF_SETS 70, but there are 69"),
        ("NUMBER_OF_FIELDS 4", "NUMBER_OF_FIELDS 5", "says NUMBER_OF_FIELDS 5, but there are 4"),
        (" LAB_B\n", "\n", "says NUMBER_OF_SETS 69, but there are 92"),
        ('"A1" ', "", "do not fill rows of 4 columns"),
        ("END_DATA\n", 'END_DATA\nBEGIN_DATA\n"A1" 1 2 3\nEND_DATA\n', "holds 2 tables of data"),
        ("LAB_L LAB_A LAB_B", "CMYK_C CMYK_M CMYK_Y", "no complete set of colour columns"),
    ],
)
def test_a_broken_cgats_file_is_refused(tmp_path, old, new, told):
    text = cgats()
    assert old in text
    with pytest.raises(CardError, match=told) as refused:
        read_readings(put(tmp_path, text.replace(old, new, 1)))
    assert refused.value.remedy


def test_files_that_are_no_text_are_refused(tmp_path):
    for data in (b"\x89PNG\r\n\x1a\n\0\0\0", b"\xff\xfeA", bytes(range(256))):
        (tmp_path / "x").write_bytes(data)
        with pytest.raises(CardError):
            read_readings(tmp_path / "x")
    (tmp_path / "x").write_bytes(b"a" * 5_000_001)
    with pytest.raises(CardError, match="too large"):
        read_readings(tmp_path / "x")
    for missing in (tmp_path / "missing", tmp_path, "a\0b"):
        with pytest.raises(CardError, match="can't be read"):
            read_readings(missing)


# Taking over


def spectral_file(tmp_path, row_of=spectrum, names=None, name="spectra.csv"):
    return read_readings(put(tmp_path, table(["name", *(f"{nm} nm" for nm in NM)], row_of, names), name))


@pytest.mark.parametrize(("illuminant", "observer"), [(None, None), ("D50", 2), ("A", 10)])
def test_spectra_are_summed_for_the_wanted_light_and_kept(tmp_path, own_folder, illuminant, observer):
    values = take(spectral_file(tmp_path), illuminant=illuminant, observer=observer)
    light = (illuminant or "D65", observer or 10)
    assert (values.illuminant, values.observer, values.grade, values.flags) == (*light, "measured", ())
    rows = [[round(value, 4) for value in spectrum(name)] for name in patches()]
    expected = spectra_to_lab(NM, rows, *light)
    assert np.array([values.lab[name] for name in patches()]) == pytest.approx(expected, abs=5e-5)  # four decimals
    again = load_values("halm-1", "C", 2)
    assert np.array([again.lab[name] for name in patches()]) == pytest.approx(
        spectra_to_lab(NM, rows, "C", 2), abs=5e-3
    )
    assert again.flags == ()
    assert [path.name for path in own_folder.iterdir()] == ["halm-1.csv"]


def test_lab_is_kept_for_the_light_the_file_says(tmp_path):
    values = import_values(read_readings(put(tmp_path, cgats())), designs()["a5"], name="halm-1")
    assert (values.illuminant, values.observer) == ("D50", 2)
    assert values.lab == {name: lab(name) for name in patches()}
    assert (values.date, values.geometry, values.source) == ("2026-01-31", "45/0", "test bench, readings.txt")
    assert values.uncertainty == 0.5


def test_xyz_becomes_lab_under_its_own_white(tmp_path):
    # D65, 10 degrees: 94.811 100 107.304 (ASTM E308); half of it is L 76.0693 (CIE 15: 116 x 0.5 ** (1/3) - 16).
    def xyz(name):
        return np.array([94.811, 100, 107.304]) * (0.9 if name == "paper" else 0.5)

    readings = read_readings(put(tmp_path, table(["name", "X", "Y", "Z"], xyz)))
    values = take(readings, illuminant="D65", observer=10)
    assert values.lab["A1"] == pytest.approx((76.0693, 0, 0), abs=1e-3)


def test_capitals_do_not_matter_and_the_cards_order_is_kept(tmp_path):
    names = [name.swapcase() for name in reversed(patches())]
    readings = spectral_file(tmp_path, lambda name: spectrum(name.swapcase()), names)
    assert list(take(readings).lab) == patches()


def refusal_of(readings, **settings_):
    with pytest.raises(CardError) as refused:
        take(readings, **settings_)
    assert (refused.value.code, refused.value.remedy) == ("readings-not-imported", "correct-or-read-again")
    return lines(refused.value)


def test_everything_wrong_is_told_at_once_and_nothing_is_written(tmp_path, own_folder):
    text = table(["name", "L", "a", "b"], lab)
    rows = {line.partition(",")[0]: line for line in text.splitlines()}
    rows["A1"] = "Al,50,0,0"
    rows["A2"] = "A2,120,0,0"
    rows["A3"] = "A3,n/a,0,0"
    rows["A4"] += f"\n{rows['A4']}"
    rows["B1"] = "B1,50,-180,0"
    del rows["paper"]
    assert refusal_of(read_readings(put(tmp_path, "\n".join(rows.values()))), date="", geometry="") == [
        f"the file does not say the illuminant: {ASK} --illuminant",
        f"the file does not say the observer: {ASK} --observer",
        f"the file does not say the geometry: {ASK} --geometry",
        "the file does not say the date: give the day when it was read with --date, written year-month-day",
        "A3: 'n/a' in column L is not a number",
        "'Al' is not a patch of design 'a5' (is 'A1' meant?)",
        "patch A1 is missing",
        "patch paper is missing",
        "patch A4 is in the file 2 times: keep one reading, or add --average",
        "A2 has L 120, which must lie between 0 and 100",
        "B1 has a -180 and b 0, which no print reaches (limit 140)",
    ]
    assert not own_folder.exists()


@pytest.mark.parametrize(
    ("settings_", "told"),
    [
        ({"name": "../x"}, "'../x' can't be the name of a card: use letters, digits, spaces, points and hyphens"),
        ({"name": ""}, "'' can't be the name of a card: use letters, digits, spaces, points and hyphens"),
        ({"name": "a\n"}, "'a\n' can't be the name of a card: use letters, digits, spaces, points and hyphens"),
        ({"date": "yesterday"}, "date 'yesterday' is not a day written like 2026-01-31"),
        ({"uncertainty": 0}, "uncertainty '0' is not a CIEDE2000 between 0 and 50"),
        ({"uncertainty": -1}, "uncertainty '-1' is not a CIEDE2000 between 0 and 50"),
        ({"uncertainty": float("nan")}, "uncertainty 'nan' is not a CIEDE2000 between 0 and 50"),
        ({"illuminant": "F2"}, "illuminant 'F2' is not one of A, C, D50, D65"),
    ],
)
def test_wrong_settings_are_refused(tmp_path, own_folder, settings_, told):
    assert "\n".join(refusal_of(spectral_file(tmp_path), **settings_)) == told
    assert not own_folder.exists()


def test_a_light_other_than_the_file_says_is_refused(tmp_path):
    readings = read_readings(put(tmp_path, cgats()))
    assert refusal_of(readings, illuminant="D65", observer=10) == [
        "the file says illuminant D50, but you gave D65",
        "the file says observer 2, but you gave 10",
    ]


def test_names_that_are_all_foreign_get_one_line(tmp_path):
    readings = read_readings(put(tmp_path, "name,L,a,b\nx,50,0,0\n7b,50,0,0\n"))
    assert refusal_of(readings, illuminant="D50", observer=2) == [
        "no row has the name of a patch of design 'a5' (A1, paper, ...); the names there are: x, 7b"
    ]


def test_dark_paper_and_impossible_reflectance_are_refused(tmp_path):
    dark = spectral_file(tmp_path, lambda name: np.full(len(NM), 0.2))
    assert refusal_of(dark) == ["'paper' has L 51.8372, but white card stock has more than 70"]
    low = spectral_file(tmp_path, lambda name: spectrum(name) - 0.2 * (name == "B2"))
    assert refusal_of(low)[0].startswith("B2 has reflectance -0.")


def test_spectra_that_contradict_the_files_own_lab_are_refused(tmp_path):
    columns = ["SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B", *(f"nm{nm}" for nm in NM)]
    own = {
        name: row
        for name, row in zip(patches(), spectra_to_lab(NM, list(map(spectrum, patches())), "D50", 2), strict=True)
    }

    def row(name, slip=0.0):
        return [*(own[name] + [slip * (name == "C3"), 0, 0]), *spectrum(name)]

    assert take(read_readings(put(tmp_path, cgats(columns, row)))).illuminant == "D65"
    wrong = read_readings(put(tmp_path, cgats(columns, lambda name: row(name, 4))))
    assert refusal_of(wrong, name="halm-2") == [
        "the file's Lab and its spectra give different colours, by up to 4.0 (patch C3)"
    ]


def test_several_readings_are_averaged_only_when_asked(tmp_path, own_folder):
    rng = np.random.default_rng(5)
    names = [name for name in patches() for _ in range(3)]
    readings = spectral_file(tmp_path, lambda name: spectrum(name) * (1 + rng.normal(0, 0.01)), names)
    assert refusal_of(readings) == [
        "69 patches are in the file 3 times each (A1, A2, A3, A4, A5, ...): keep one reading of each, or add --average"
    ]
    assert not own_folder.exists()
    values = take(readings, average=True)
    mean = np.mean([row for name, row in zip(readings.names, readings.spectra, strict=True) if name == "A1"], axis=0)
    assert values.lab["A1"] == pytest.approx(spectra_to_lab(NM, [mean], "D65", 10)[0], abs=5e-5)
    assert values.uncertainty > 0.5


@pytest.mark.parametrize("scatter", [0.3, 1.0])
def test_the_scatter_of_readings_is_found_in_the_uncertainty(tmp_path, scatter):
    """Greys with a known scatter in L near 50, where CIEDE2000 is the difference in L (Sharma et al. 2005)."""
    rng = np.random.default_rng(6)
    text = "name,L,a,b\n" + "".join(
        f"{name},{(90 if name == 'paper' else 50) + scatter * rng.normal():.4f},0,0\n"
        for name in patches()
        for _ in range(4)
    )
    readings = read_readings(put(tmp_path, text))
    values = take(readings, illuminant="D65", observer=10, average=True, uncertainty=0.2)
    # 69 x 3 degrees of freedom: the scatter is known to 5 %.
    assert values.uncertainty == pytest.approx(np.hypot(0.2, scatter / np.sqrt(4)), rel=0.1)


def test_a_slip_is_not_averaged_away(tmp_path, own_folder):
    text = table(["name", "L", "a", "b"], lab) + "A1,60,0,0\n"
    told = refusal_of(read_readings(put(tmp_path, text)), illuminant="D65", observer=10, average=True)
    assert len(told) == 1
    assert told[0].startswith("the readings of patch A1 lie up to ")
    assert not own_folder.exists()


def test_a_card_is_replaced_only_when_asked_and_the_old_one_is_kept(tmp_path, own_folder):
    readings = spectral_file(tmp_path)
    take(readings)
    before = (own_folder / "halm-1.csv").read_bytes()
    assert refusal_of(readings, source="again") == [
        "there is already a card called 'halm-1': choose another name, or add --replace"
    ]
    assert (own_folder / "halm-1.csv").read_bytes() == before
    assert take(readings, source="again", replace=True).source == "again"
    assert take(readings, source="once more", replace=True).source == "once more"
    today = date.today().isoformat()
    kept = own_folder / "replaced"
    assert {path.name for path in kept.iterdir()} == {f"halm-1 until {today}.csv", f"halm-1 until {today} (2).csv"}
    assert (kept / f"halm-1 until {today}.csv").read_bytes() == before


def test_a_failed_write_leaves_everything_as_it_was(tmp_path, own_folder, monkeypatch):
    readings = spectral_file(tmp_path)
    take(readings)
    before = (own_folder / "halm-1.csv").read_bytes()

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(CardError, match=r"could not be written .*the disk is full\. Make room"):
        take(readings, replace=True, source="again")
    assert (own_folder / "halm-1.csv").read_bytes() == before
    assert [path.name for path in own_folder.iterdir() if path.is_file()] == ["halm-1.csv"]


# Whatever comes


def outcome(call):
    try:
        return call(), None
    except CardError as refused:
        return None, refused


SEEDS = [b"", b"name,L,a,b\nA1,50,0,0\n", b"name;400;410;420\nA1;0,5;0,5;0,5\n"]


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_whatever_stands_in_readings_only_a_refusal_comes_out(tmp_path, own_folder, data):
    seeds = [*SEEDS, table(["name", "L", "a", "b"], lab).encode(), cgats(wrap=4).encode()]
    raw = data.draw(
        st.one_of(
            st.binary(max_size=150),
            st.text(max_size=150).map(lambda text: text.encode("utf-8", "replace")),
            st.sampled_from(seeds),
        )
    )
    bits = st.one_of(
        st.binary(max_size=4), st.sampled_from([b'"', b",", b";", b"\t", b"BEGIN_DATA\n", b"END_DATA ", b"#"])
    )
    for _ in range(data.draw(st.integers(0, 4))):
        place = data.draw(st.integers(0, len(raw)))
        raw = raw[:place] + data.draw(bits) + raw[place + data.draw(st.integers(0, 8)) :]
    path = tmp_path / "fuzz"
    path.write_bytes(raw)
    readings, refused = outcome(lambda: read_readings(path))
    assert (readings is None) != (refused is None)
    if readings is not None:
        values, refused = outcome(lambda: take(readings, illuminant="D50", observer=2, replace=True))
        assert (values is None) != (refused is None)
        assert values is None or np.isfinite(list(values.lab.values())).all()
        assert (own_folder / "halm-1.csv").exists() >= (values is not None)
    assert refused is None or (TERMINAL.problem(refused) and refused.remedy)
