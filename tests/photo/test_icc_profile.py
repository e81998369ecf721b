"""Colour profiles: what a photo's numbers mean, against published values and another implementation."""

from __future__ import annotations

import io

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from PIL import Image, ImageCms

from swatchcam.errors import FileError
from swatchcam.messages.message import flag
from swatchcam.messages.surface import TERMINAL
from swatchcam.photo.icc_profile import display_p3, read_profile, srgb
from tests.worlds.picture_files import (
    D50,
    SRGB_CURVE,
    chad,
    colorants,
    display_p3_profile,
    fixed,
    formula_curve,
    gamma_curve,
    identity_curve,
    matrix,
    profile,
    reference,
    srgb_profile,
    table_curve,
)

WHITE = (95.047, 100, 108.883)  # ASTM E308: D65, 2 degrees
TO_XYZ = matrix("srgb_iec61966.csv", "srgb_rgb_to_xyz_from_primaries")  # Lindbloom, 7 digits
TO_D50 = matrix("adaptation.csv", "xyz_to_xyz", "bradford d65 to d50")
SRGB = colorants("srgb_xy")
DECODED = [(int(row[1]), float(row[2])) for row in reference("srgb_iec61966.csv", "decode_8bit")]
CURVES = {
    "table": table_curve(np.linspace(0, 1, 1024) ** 1.9),
    "gamma": gamma_curve(2.19921875),
    "formula 0": formula_curve(0, 1.8),
    "formula 1": formula_curve(1, 2.2, 0.9, 0.1),
    "formula 2": formula_curve(2, 2.2, 0.915, 0.08, 0.01),
    "formula 3": SRGB_CURVE,
    "formula 4": formula_curve(4, 2.4, 0.949, 0.05, 0.08, 0.04, 0.002, 0.0005),
}


def test_srgb_decodes_as_published():
    # IEC 61966-2-1; the tables are float32
    codes, values = zip(*DECODED, strict=True)
    for levels, step in ((256, 1), (65536, 257)):
        decode = srgb(levels).decode
        assert decode.shape == (levels, 3)
        for channel in range(3):
            assert_allclose(decode[np.array(codes) * step, channel], values, rtol=6e-8, atol=5.1e-11)


def test_srgb_has_the_published_matrix():
    assert_allclose(srgb(256).to_xyz / 100, TO_XYZ, atol=5.1e-8, rtol=0)


def test_display_p3_has_the_published_matrix_under_the_same_white():
    # The published one has the white of chromaticity 0.3127, 0.3290, ours that of ASTM E308; each primary keeps
    # its chromaticity, and the three add up to white.
    ours, published = display_p3(256).to_xyz, matrix("srgb_iec61966.csv", "display_p3_rgb_to_xyz")
    assert_allclose(ours / ours.sum(axis=0), published / published.sum(axis=0), atol=1e-6)
    assert_allclose(ours @ [1, 1, 1], WHITE, rtol=1e-12)
    assert_allclose(display_p3(256).decode, srgb(256).decode, rtol=0)


@pytest.mark.parametrize("levels", [256, 65536])
def test_a_profile_of_published_primaries_is_known_by_its_numbers_not_by_its_name(levels):
    for data, known in ((srgb_profile(), srgb(levels)), (display_p3_profile(), display_p3(levels))):
        space = read_profile(data, levels)
        assert space.name == known.name
        assert space.flags == ()
        assert_allclose(space.to_xyz, known.to_xyz, atol=0.05)  # of 100: white of 0.3127, 0.3290 against ASTM E308
        assert_allclose(space.to_xyz @ [1, 1, 1], WHITE, rtol=1e-12)
        assert_allclose(space.decode, known.decode, atol=2e-5)  # parameters rounded to 1/65536


def test_the_srgb_profile_of_littlecms_is_srgb():
    space = read_profile(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(), 256)
    assert space.name == "sRGB"
    assert_allclose(space.to_xyz, srgb(256).to_xyz, atol=0.03)


def test_colorants_under_d50_come_back_to_d65():
    # sRGB colorants under D50: adaptation.csv, srgb_colorant_d50, 5 digits
    rows = [[float(value) for value in row[3:6]] for row in reference("adaptation.csv", "srgb_colorant_d50")]
    space = read_profile(profile(np.array(rows).T, SRGB_CURVE), 256)
    assert space.name == "sRGB"
    assert_allclose(space.to_xyz / 100, TO_XYZ, atol=1.5e-4, rtol=0)


@pytest.mark.parametrize("adaptation", ["none", "D65", "D50"])
def test_a_stated_adaptation_is_undone_only_if_it_leads_to_d65(adaptation):
    more = {"none": [], "D65": [chad(TO_D50)], "D50": [chad(np.eye(3))]}[adaptation]
    space = read_profile(profile(SRGB, SRGB_CURVE, more=more), 256)
    assert space.name == "sRGB"
    assert_allclose(space.to_xyz, srgb(256).to_xyz, atol=0.05)


def test_an_adaptation_other_than_bradfords_is_undone_by_itself():
    # CAT02 (adaptation.csv); the same primaries, stated under D50 in another way
    lms = matrix("adaptation.csv", "xyz_to_lms", "cat02")
    to_d50 = np.linalg.inv(lms) @ (((lms @ D50) / (lms @ (np.array(WHITE) / 100)))[:, None] * lms)
    space = read_profile(profile(to_d50 @ (srgb(256).to_xyz / 100), SRGB_CURVE, more=[chad(to_d50)]), 256)
    assert_allclose(space.to_xyz, srgb(256).to_xyz, atol=0.01)  # 100 steps of 1/65536, through an inverse


@pytest.mark.parametrize("version", [2, 4])
@pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES.keys())
def test_littlecms_reads_the_same_colours(curve, version):
    # LittleCMS, by Pillow: relative colorimetric to sRGB, 8 bits. Colours near the edge are clipped there.
    data = profile(colorants("display_p3_xy"), curve, version=version)
    coded = np.random.default_rng(3).integers(90, 190, (40, 40, 3), dtype=np.uint8)
    theirs = np.asarray(
        ImageCms.profileToProfile(
            Image.fromarray(coded), io.BytesIO(data), ImageCms.createProfile("sRGB"), renderingIntent=1
        )
    )
    space = read_profile(data, 256)
    light = np.stack([space.decode[coded[..., i], i] for i in range(3)], axis=-1)
    ours = (
        colour.RGB_COLOURSPACES["sRGB"].cctf_encoding(light @ (np.linalg.inv(srgb(256).to_xyz) @ space.to_xyz).T) * 255
    )
    inside = ((theirs > 3) & (theirs < 252)).all(axis=-1)
    assert inside.mean() > 0.5
    assert np.abs(ours - theirs)[inside].max() < 0.65  # half a code of rounding; LittleCMS works in 16-bit steps


def test_curves_follow_their_formulas():
    # ICC.1:2022, table 68, and 10.6 for tables
    x = np.linspace(0, 1, 65536)
    wanted = {
        identity_curve(): x,
        gamma_curve(2.5): x**2.5,
        table_curve([0, 0.1, 0.5, 1]): np.interp(x, [0, 1 / 3, 2 / 3, 1], [0, 0.1, 0.5, 1]),
        formula_curve(0, 1.75): x**1.75,
        formula_curve(1, 2, 1.25, -0.25): np.where(x >= 0.2, (1.25 * x - 0.25) ** 2, 0),
        formula_curve(2, 2, 1.25, -0.25, 0.01): np.where(x >= 0.2, (1.25 * x - 0.25) ** 2 + 0.01, 0.01),
        formula_curve(3, 2, 1, 0, 0.25, 0.25): np.where(x >= 0.25, x**2, x / 4),
        formula_curve(4, 2, 1, 0, 0.25, 0.25, 0, 0): np.where(x >= 0.25, x**2, x / 4),
    }
    for curve, values in wanted.items():
        decode = read_profile(profile(SRGB, curve), 65536).decode
        assert_allclose(decode[:, 1], np.clip(values, 0, 1), atol=2e-5)


def test_each_channel_has_its_own_curve():
    decode = read_profile(profile(SRGB, [gamma_curve(1.5), gamma_curve(2), gamma_curve(2.5)]), 256).decode
    assert_allclose(decode[128], (128 / 255) ** np.array([1.5, 2, 2.5]), rtol=1e-6)


@pytest.mark.parametrize("version", [2, 4])
def test_an_unknown_profile_goes_by_its_own_name(version):
    assert read_profile(profile(SRGB, gamma_curve(1.8), "Halm 1\x07.8", version=version), 256).name == "Halm 1.8"
    assert read_profile(profile(SRGB, gamma_curve(1.8), leave_out=[b"desc"]), 256).name == "unnamed colour profile"


def test_tables_beside_the_curves_are_flagged():
    space = read_profile(profile(SRGB, SRGB_CURVE, more=[(b"A2B0", b"mft2" + bytes(48))]), 256)
    assert space.flags == (flag("profile-tables-unused"),)


def test_tables_are_read_only():
    space = srgb(256)
    assert not space.decode.flags.writeable
    assert not space.to_xyz.flags.writeable


TRC = (b"rTRC", b"gTRC", b"bTRC")
BAD = {
    "empty": (b"", "profile-damaged"),
    "no signature": (srgb_profile().replace(b"acsp", b"ascp"), "profile-damaged"),
    "cut": (srgb_profile()[:-40], "profile-incomplete"),
    "cut in the table": (srgb_profile()[:150], "profile-incomplete"),
    "more tags than any profile": (
        srgb_profile()[:128] + b"\0\0\0\x65" + srgb_profile()[132:].ljust(2000, b"\0"),
        "profile-incomplete",
    ),
    "for inks": (profile(SRGB, SRGB_CURVE, space=b"CMYK"), "profile-not-rgb"),
    "for greys": (profile(SRGB, SRGB_CURVE, space=b"GRAY"), "profile-not-rgb"),
    "a link": (profile(SRGB, SRGB_CURVE, kind=b"link"), "profile-not-rgb"),
    "tables only": (
        profile(SRGB, SRGB_CURVE, leave_out=TRC),
        "profile-by-tables",
    ),
    "Lab": (profile(SRGB, SRGB_CURVE, pcs=b"Lab "), "profile-by-tables"),
    "not white": (profile(SRGB * [[1], [1], [1.3]], SRGB_CURVE), "profile-white-off"),
    "one primary": (profile(np.outer(D50, [0.3, 0.3, 0.4]), SRGB_CURVE), "profile-white-off"),
    "falling": (profile(SRGB, table_curve([0, 0.6, 0.5, 1])), "profile-curve-odd"),
    "inverted": (profile(SRGB, table_curve([1, 0])), "profile-curve-odd"),
    "dim": (profile(SRGB, table_curve([0, 0.5])), "profile-curve-odd"),
    "overflow": (profile(SRGB, formula_curve(1, -9, 1, 0)), "profile-curve-odd"),
    "no such formula": (profile(SRGB, b"para" + bytes(4) + b"\0\x09\0\0"), "profile-curve-damaged"),
    "short formula": (profile(SRGB, b"para" + bytes(4) + b"\0\x03\0\0" + fixed(2.4)), "profile-damaged"),
    "short table": (profile(SRGB, b"curv" + bytes(4) + b"\0\0\x09\0"), "profile-curve-damaged"),
    "other curve": (profile(SRGB, b"bend" + bytes(60)), "profile-curve-damaged"),
    "short chad": (profile(SRGB, SRGB_CURVE, more=[(b"chad", b"sf32" + bytes(12))]), "profile-damaged"),
}


@pytest.mark.parametrize(("data", "code"), BAD.values(), ids=BAD.keys())
def test_a_profile_that_cannot_be_trusted_is_refused(data, code):
    with pytest.raises(FileError) as refusal:
        read_profile(data, 256)
    assert refusal.value.code == code
    assert "colour profile" in TERMINAL.problem(refusal.value)
    assert TERMINAL.remedy(refusal.value) == (
        "Export the photo from its app or editor as sRGB with the profile embedded, and use that copy."
    )


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.integers(0, 2**16), st.binary(min_size=1, max_size=4)), max_size=6), st.integers(0, 2**16))
def test_a_spoilt_profile_gives_sound_numbers_or_a_refusal(spots, end):
    data = bytearray(display_p3_profile())
    for place, content in spots:
        start = place % len(data)
        data[start : start + len(content)] = content
    try:
        space = read_profile(bytes(data[: end % (2 * len(data))]), 256)
    except FileError:
        return
    assert np.isfinite(space.decode).all()
    assert space.decode.min() >= 0
    assert space.decode.max() <= 1
    assert_allclose(space.to_xyz @ [1, 1, 1], WHITE, rtol=1e-9)
