"""Values from a printer's ICC profile: they are what the drawn printer prints, or the profile is refused."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.cards import printer_profile
from swatchcam.cards.design import designs
from swatchcam.cards.printer_profile import colours_printed, import_profile, is_profile, read_printer_profile
from swatchcam.cards.values import load_values
from swatchcam.errors import CardError
from swatchcam.messages.message import flag
from tests.codes import tells
from tests.worlds.many_printers import random_printer
from tests.worlds.phone import matrix_profile
from tests.worlds.printer_profile import icc_file, output_profile, print_through
from tests.worlds.spectra import difference, reflectance_lab

pytestmark = pytest.mark.usefixtures("own_folder")
PRINTER = random_printer(np.random.default_rng(18), "build")


@pytest.fixture(scope="module")
def profiles():
    """The drawn printer's profile, by what it takes."""
    return {space: output_profile(PRINTER, space, name="Halm press, matt") for space in ("CMYK", "RGB ")}


def put(tmp_path, content):
    path = tmp_path / "press.icc"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    ("space", "intent"), [("CMYK", "relative"), ("CMYK", "perceptual"), ("RGB ", "relative"), ("RGB ", "none")]
)
def test_values_are_what_was_printed_through_the_profile(profiles, tmp_path, space, intent):
    """The truth is summed from the drawn spectra, not looked up in the profile's tables."""
    card = print_through(profiles[space], PRINTER, space, designs()["a5"], intent)
    found = read_printer_profile(put(tmp_path, profiles[space]))
    values = load_values(import_profile(found, designs()["a5"], name="halm", intent=intent).path, "D50", 2)
    off = np.array([difference(np.array(values.lab[name]), lab) for name, lab in card.true_lab("D50", 2).items()])
    # Whole steps of a* and b*, worth 0.7 near grey, and straight lines between the nodes of its table.
    assert np.sqrt((off**2).mean()) < 0.6
    assert off.max() < 1.5
    assert (values.grade, values.date, values.uncertainty) == ("profile", "2024-05-17", 2.8)
    assert "Halm press, matt" in values.source
    assert values.flags == (flag("card-from-profile"),)


def test_black_point_compensation_keeps_dark_colours_apart(profiles, tmp_path):
    found = read_printer_profile(put(tmp_path, profiles["CMYK"]))
    codes = np.repeat(np.array([[0], [24], [48]], dtype=np.uint8), 3, axis=1)
    plain, kept = (colours_printed(found, codes, "relative", black)[:, 0] for black in (False, True))
    assert kept[1] - kept[0] > plain[1] - plain[0]


def test_a_profile_is_known_by_its_content(profiles, tmp_path):
    assert is_profile(put(tmp_path, profiles["CMYK"]))
    assert not is_profile(put(tmp_path, b"name,L,a,b\n" * 20))
    assert not is_profile(tmp_path / "nothing")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({12: b"mntr"}, "profile-not-of-printer"),
        ({12: b"scnr"}, "profile-not-of-printer"),
        ({12: b"spac"}, "profile-not-of-printer"),
        ({12: b"link"}, "profile-not-of-printer"),
        ({12: b"abst"}, "profile-not-of-printer"),
        ({16: b"6CLR"}, "profile-inks-unknown"),
        ({16: b"GRAY"}, "profile-inks-unknown"),
        ({128: struct.pack(">I", 0)}, "profile-without-tables"),
        ({128: struct.pack(">I", 4_000_000)}, "printer-profile-damaged"),
        ({16: b"RGB "}, "printer-profile-damaged"),  # its tables are for four inks
    ],
)
def test_other_profiles_are_refused(profiles, tmp_path, change, code):
    content = bytearray(profiles["CMYK"])
    for at, new in change.items():
        content[at : at + len(new)] = new
    with pytest.raises(CardError) as caught:
        colours_printed(read_printer_profile(put(tmp_path, content)), np.zeros((1, 3), np.uint8), "relative", False)
    assert caught.value.code == code


def test_profiles_of_screens_are_refused(tmp_path):
    with pytest.raises(CardError, match="screen"):
        read_printer_profile(put(tmp_path, matrix_profile("Display P3")))


def test_a_profile_without_white_paper_is_refused(tmp_path):
    # Every mix of inks is one grey, which no white stock is.
    table = b"mft2\0\0\0\0" + struct.pack(">4B9i2H", 3, 3, 2, 0, *(65536 * np.eye(3, dtype=int)).ravel(), 2, 2)
    table += struct.pack(">2H", 0, 65535) * 3 + struct.pack(">3H", 32640, 32768, 32768) * 8
    table += struct.pack(">2H", 0, 65535) * 3
    white = b"XYZ \0\0\0\0" + struct.pack(">3i", 63190, 65536, 54061)
    content = icc_file(b"prtr", b"RGB ", b"Lab ", {b"wtpt": white, b"A2B0": table, b"B2A0": table})
    with pytest.raises(CardError) as caught:
        import_profile(read_printer_profile(put(tmp_path, content)), designs()["a5"], name="halm", intent="none")
    assert tells(caught.value, "paper-too-dark")


def test_codes_cannot_be_cmyk(profiles, tmp_path):
    found = read_printer_profile(put(tmp_path, profiles["CMYK"]))
    with pytest.raises(CardError) as caught:
        import_profile(found, designs()["a5"], name="halm", intent="none")
    assert caught.value.code == "codes-are-not-inks"


def test_a_file_too_large_is_refused(profiles, tmp_path, monkeypatch):
    monkeypatch.setattr(printer_profile, "MOST_BYTES", 1000)
    with pytest.raises(CardError) as caught:
        read_printer_profile(put(tmp_path, profiles["CMYK"]))
    assert caught.value.code == "profile-too-large"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_garbled_profiles_never_crash(profiles, tmp_path, data):
    content = bytearray(profiles[data.draw(st.sampled_from(["CMYK", "RGB "]))])
    for _ in range(data.draw(st.integers(0, 6))):
        at = data.draw(st.one_of(st.integers(0, 700), st.integers(0, len(content) - 1)))
        content[at] = data.draw(st.integers(0, 255))
    path = put(tmp_path, content[: data.draw(st.one_of(st.just(len(content)), st.integers(0, len(content))))])
    try:
        values = import_profile(read_printer_profile(path), designs()["a6"], name="halm", replace=True)
    except CardError:
        return
    assert np.isfinite(list(values.lab.values())).all()


def test_paper_keeps_its_tint(profiles, tmp_path):
    """An absolute colour is relative to no paper (ICC.1:2022, annex D)."""
    found = read_printer_profile(put(tmp_path, profiles["CMYK"]))
    seen = colours_printed(found, np.full((1, 3), 255, np.uint8), "relative", False)[0]
    assert seen == pytest.approx(reflectance_lab(PRINTER.paper, "D50", 2), abs=0.6)
