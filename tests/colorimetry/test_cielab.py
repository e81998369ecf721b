"""The formulas of colour agree with every published number at hand, and with two colour libraries."""

from __future__ import annotations

import csv
from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from swatchcam.colorimetry.cielab import BRADFORD, adapt, lab_to_lch, lab_to_xyz, white_point, xyz_to_lab
from swatchcam.colorimetry.colour_difference import delta_e_2000, delta_e_cmc, delta_lch, describe_difference
from swatchcam.colorimetry.srgb import (
    SRGB_TO_XYZ,
    decode_srgb,
    encode_srgb,
    lab_to_srgb,
    srgb_to_lab,
    srgb_to_xyz,
    xyz_to_srgb,
)
from swatchcam.errors import UsageError
from swatchcam.messages.surface import TERMINAL
from tests.paths import REFERENCE


def reference(file_name, **wanted):
    with open(REFERENCE / file_name, encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    rows = [row for row in rows if all(row[key] == value for key, value in wanted.items())]
    assert rows, f"{file_name} holds nothing with {wanted}"
    return rows


def columns(rows, *names):
    return np.array([[float(row[name]) for name in names] for row in rows])


def pairs(count=20_000):
    """Random colours, and others a hair, a shade and a world away."""
    rng = np.random.default_rng(2000)
    lab = rng.uniform([0, -120, -120], [100, 120, 120], (count, 3))
    lab[:: count // 100] *= [1, 0, 0]
    return lab, lab + rng.normal(size=(count, 3)) * rng.choice([0.001, 1, 40], (count, 1))


SHARMA = reference("ciede2000_sharma.csv")  # Sharma, Wu & Dalal 2005, table 1
ONE, OTHER = columns(SHARMA, "L1", "a1", "b1"), columns(SHARMA, "L2", "a2", "b2")
PRINTED = columns(SHARMA, "dE00")[:, 0]


def test_ciede2000_matches_every_published_pair():
    assert len(PRINTED) == 34
    assert_allclose(delta_e_2000(ONE, OTHER), PRINTED, rtol=0, atol=5.1e-5)  # the table has 4 decimals
    assert_allclose(delta_e_2000(OTHER, ONE), PRINTED, rtol=0, atol=5.1e-5)


@pytest.mark.parametrize("scale", [1, 1 / 3, -1])
def test_ciede2000_is_symmetrical_also_for_exactly_opposite_hues(scale):
    # Hues 180 degrees apart have two middles (Sharma et al. 2005, on the discontinuities of the formula).
    lab, near = pairs()
    opposite = near * [1, 0, 0] - lab * [0, scale, scale]
    for one, other in ((lab, near), (lab, opposite)):
        assert_allclose(delta_e_2000(one, other), delta_e_2000(other, one), rtol=1e-12, atol=1e-12)


def test_ciede2000_of_opposite_hues_takes_the_middle_that_the_paper_means():
    # Eq. 14 for hues of 170 and 350 degrees: their mean is 260, in the blue, where the rotation term bites.
    hue = np.radians(170)
    lab = np.array([50, 40 * np.cos(hue), 40 * np.sin(hue)])
    turned = np.radians(350 - 1e-7)
    just_short = np.array([50, 30 * np.cos(turned), 30 * np.sin(turned)])
    opposite = np.array([50, 0, 0]) - lab * [0, 0.75, 0.75]
    assert_allclose(delta_e_2000(lab, opposite), delta_e_2000(lab, just_short), rtol=1e-6)


def test_ciede2000_agrees_with_both_libraries():
    import colour
    from skimage.color import deltaE_ciede2000

    lab, target = pairs()
    ours = delta_e_2000(lab, target)
    assert_allclose(ours, colour.delta_E(lab, target, method="CIE 2000"), rtol=1e-7, atol=1e-9)
    assert_allclose(ours, deltaE_ciede2000(lab, target), rtol=1e-7, atol=1e-9)


def test_ciede2000_broadcasts():
    lab, target = pairs(300)
    grid = delta_e_2000(lab[:, None], target[None, :7])
    assert grid.shape == (300, 7)
    assert grid[200, 5] == pytest.approx(delta_e_2000(lab[200], target[5]), rel=1e-12)
    assert delta_e_2000([50, 0, 0], [50, 0, 0]) == 0


# Clarke, McDonald & Rigg 1984; values of web calculators and libraries, and computed ones that two libraries agree on.
CMC = reference("cmc.csv", formula="CMC")


def test_cmc_matches_every_reference_value():
    standard, lab = columns(CMC, "L1", "a1", "b1"), columns(CMC, "L2", "a2", "b2")
    ours = [
        delta_e_cmc(sample, against, float(row["l"]), float(row["c"]))
        for sample, against, row in zip(lab, standard, CMC, strict=True)
    ]
    assert_allclose(ours, columns(CMC, "dE")[:, 0], rtol=0, atol=5.1e-7)  # 6 decimals


def test_cmc_agrees_with_both_libraries_in_the_textile_ratio():
    import colour
    from skimage.color import deltaE_cmc

    lab, standard = pairs()
    standard = np.maximum(standard, [0, -np.inf, -np.inf])
    ours = delta_e_cmc(lab, standard)
    assert_allclose(ours, colour.delta_E(standard, lab, method="CMC", l=2, c=1), rtol=1e-7, atol=1e-8)
    # The other library rounds the hue difference of all but equal colours away.
    apart = np.linalg.norm(lab - standard, axis=1) > 0.1
    assert_allclose(ours[apart], deltaE_cmc(standard, lab, kL=2, kC=1)[apart], rtol=1e-6)


@pytest.mark.parametrize("row", reference("whitepoints.csv", series="astm_e308"), ids=lambda row: row["illuminant"])
def test_white_points_are_those_of_astm_e308(row):
    white = white_point(row["illuminant"], int(row["observer_deg"]))
    assert_array_equal(white, columns([row], "X", "Y", "Z")[0])


def test_white_points_lie_within_rounding_of_those_of_cie_15():
    for row in reference("whitepoints.csv", series="cie_015_2018"):
        white = white_point(row["illuminant"], int(row["observer_deg"]))
        # The file says that the two series differ by at most 0.016.
        assert_allclose(white, columns([row], "X", "Y", "Z")[0], rtol=0, atol=0.0165)


@pytest.mark.parametrize(("illuminant", "observer"), [("F11", 10), ("D65", 5), ("d65", 10), (["D65"], 10)])
def test_an_unknown_light_is_refused_with_the_choice_there_is(illuminant, observer):
    with pytest.raises(UsageError) as refused:
        white_point(illuminant, observer)
    assert "A, C, D50 or D65" in str(refused.value)
    assert str(observer) in TERMINAL.problem(refused.value)


def test_lab_of_published_examples():
    # Sharma et al. 2005 and CIE 142-2001, 4 decimals; CIE 15 for the neutrals, exact by definition.
    # The neutrals' XYZ have 8 decimals, of which half a unit in X and Y each is 4.2e-7 of a* near black.
    for kind, lab_digit, xyz_digit in (("xyz_to_lab", 5.1e-5, 1.5e-4), ("neutral", 4.2e-7, 5.1e-9)):
        rows = reference("lab_examples.csv", kind=kind)
        xyz, white, lab = (columns(rows, *names) for names in (("X", "Y", "Z"), ("Xn", "Yn", "Zn"), ("L", "a", "b")))
        assert_allclose(xyz_to_lab(xyz, white), lab, rtol=0, atol=lab_digit)
        assert_allclose(lab_to_xyz(lab, white), xyz, rtol=0, atol=xyz_digit)


def test_lab_and_back_is_the_same_colour_from_black_to_beyond_white():
    xyz = np.geomspace(1e-6, 150, 900).reshape(100, 3, 3)
    white = white_point("A", 2)
    assert_allclose(lab_to_xyz(xyz_to_lab(xyz, white), white), xyz, rtol=1e-12, atol=1e-13)
    below = np.array([-0.5, -0.1, -2.0])
    assert_allclose(lab_to_xyz(xyz_to_lab(below, white), white), below, rtol=1e-12)


def test_lab_has_no_step_where_its_two_branches_meet():
    # CIE 15: Y/Yn = (6/29)^3, where L* is 8.
    edge = 100 * (6 / 29) ** 3 * np.array([1 - 1e-9, 1, 1 + 1e-9])
    lab = xyz_to_lab(edge[:, None] * np.ones(3), np.full(3, 100.0))
    assert_allclose(lab[:, 0], 8, rtol=0, atol=2e-8)


def test_lab_agrees_with_both_libraries():
    import colour
    import skimage.color

    xyz = np.random.default_rng(3).uniform(0, 100, (2000, 3))
    white = white_point("D65", 2)
    ours = xyz_to_lab(xyz, white)
    assert_allclose(ours, colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(white)), rtol=0, atol=2e-10)
    # The other library writes 0.008856 and 7.787 for the exact fractions.
    theirs = skimage.color.xyz2lab(xyz / 100, illuminant="D65", observer="2")
    assert_allclose(ours, theirs, rtol=0, atol=2e-3)


def test_hue_angles_go_once_round():
    lab = [[50, 3, 0], [50, 0, 3], [50, -3, 0], [50, 0, -3], [50, 3, -1e-17], [50, 0, 0]]
    lch = lab_to_lch(lab)
    assert_allclose(lch[:, 2], [0, 90, 180, 270, 0, 0], rtol=0, atol=1e-12)
    assert_allclose(lch[:, 1], [3, 3, 3, 3, 3, 0], rtol=0, atol=1e-15)


def test_lightness_chroma_and_hue_make_up_the_whole_difference():
    # CIE 15: ΔE*ab² = ΔL*² + ΔC*² + ΔH*².
    lab, target = pairs()
    assert_allclose((delta_lch(lab, target) ** 2).sum(-1), ((lab - target) ** 2).sum(-1), rtol=1e-9, atol=1e-15)


def test_hue_difference_is_counted_from_the_target_upwards():
    lab, target = pairs(2000)
    (_, c1, h1), (_, c2, h2) = lab_to_lch(lab).T, lab_to_lch(target).T
    turn = (h1 - h2 + 180) % 360 - 180
    expected = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))  # CIE 15
    assert_allclose(delta_lch(lab, target)[:, 2], expected, rtol=0, atol=1e-9)
    assert delta_lch([50, 0, 9], [50, 9, 0])[2] > 0 > delta_lch([50, 9, 0], [50, 0, 9])[2]
    assert delta_lch([50, 0, 0], [60, 9, 9])[2] == 0


@pytest.mark.parametrize(("name", "to_d50"), [("bradford d65 to d50", True), ("bradford d50 to d65", False)])
def test_adaptation_matches_the_published_matrices(name, to_d50):
    whites = white_point("D65", 2), white_point("D50", 2)
    matrix = columns(reference("adaptation.csv", kind="xyz_to_xyz", name=name), "v1", "v2", "v3")
    ours = adapt(np.eye(3), *(whites if to_d50 else whites[::-1])).T
    assert_allclose(ours, matrix, rtol=0, atol=5.1e-8)  # 7 decimals


def test_adaptation_of_cloth_colours():
    # reference/adaptation.csv, agreed with colour-science, 6 decimals; the Bradford matrix as in ICC.1.
    assert_array_equal(BRADFORD, columns(reference("adaptation.csv", name="bradford")[:3], "v1", "v2", "v3"))
    for row in reference("adaptation.csv", kind="example_d65_to_d50", name="bradford"):
        xyz = [float(part) for part in row["row_or_input"].split()[-3:]]
        ours = adapt(xyz, white_point("D65", 2), white_point("D50", 2))
        assert_allclose(ours, columns([row], "v1", "v2", "v3")[0], rtol=0, atol=5.1e-7)


def test_primaries_under_d50_are_the_colorants_of_the_srgb_profile():
    # ICC profile of sRGB, in whose 16 bit numbers and other rounding of D50 the last digits differ by 0.0001.
    rows = reference("adaptation.csv", kind="srgb_colorant_d50")
    ours = adapt(srgb_to_xyz(np.eye(3)), white_point("D65", 2), white_point("D50", 2)) / 100
    assert_allclose(ours, columns(rows, "v1", "v2", "v3"), rtol=0, atol=1e-4)


def test_srgb_matrix_follows_from_the_primaries_and_white():
    # IEC 61966-2-1: chromaticities; the matrix that makes white out of them.
    corners = columns(reference("srgb_iec61966.csv", section="srgb_xy")[:3], "v1", "v2").T
    xyz = np.vstack([corners, 1 - corners.sum(axis=0)]) / corners[1]
    expected = xyz * np.linalg.solve(xyz, white_point("D65", 2) / 100)
    assert_allclose(SRGB_TO_XYZ, expected, rtol=0, atol=5.1e-8)  # 7 decimals
    printed = reference("srgb_iec61966.csv", section="srgb_rgb_to_xyz_from_primaries")
    assert_array_equal(SRGB_TO_XYZ, columns(printed, "v1", "v2", "v3"))
    # The standard's own four digits come from another rounding of white, off by up to 2.3e-4 (reference README).
    iec = columns(reference("srgb_iec61966.csv", section="srgb_rgb_to_xyz_iec"), "v1", "v2", "v3")
    assert_allclose(SRGB_TO_XYZ, iec, rtol=0, atol=2.4e-4)


def test_srgb_curve_at_every_reference_code():
    # IEC 61966-2-1, 10 decimals; one code of W3C's tests, 5 decimals.
    decode = reference("srgb_iec61966.csv", section="decode_8bit")
    assert_allclose(decode_srgb(columns(decode, "name") / 255), columns(decode, "v1"), rtol=0, atol=5.1e-11)
    encode = reference("srgb_iec61966.csv", section="encode_linear")
    assert_allclose(encode_srgb(columns(encode, "name")), columns(encode, "v1"), rtol=0, atol=5.1e-11)
    (green,) = reference("srgb_iec61966.csv", section="css_srgb_linear")
    assert decode_srgb(128 / 255) == pytest.approx(float(green["v2"]), abs=5.1e-6)


def test_srgb_there_and_back():
    code = np.concatenate([np.linspace(-0.2, 1.3, 301), [0.04045, 0.04045 + 1e-12]])
    # The standard rounds where its two branches meet: between them lies a gap of a few 1e-8.
    assert_allclose(encode_srgb(decode_srgb(code)), code, rtol=0, atol=1e-7)
    rgb = np.random.default_rng(4).uniform(0, 1, (50, 4, 3))
    assert_allclose(xyz_to_srgb(srgb_to_xyz(rgb)), rgb, rtol=0, atol=1e-7)


def test_lab_of_srgb_colours():
    # reference/srgb_iec61966.csv, computed from the seven-digit matrix, 4 decimals.
    for row in reference("srgb_iec61966.csv", section="srgb8_to_lab_d65"):
        code = np.array([float(part) for part in row["name"].split()[1:]]) / 255
        lab = xyz_to_lab(srgb_to_xyz(code), white_point("D65", 2))
        assert_allclose(lab, columns([row], "v1", "v2", "v3")[0], rtol=0, atol=5.1e-5)
        assert_allclose(srgb_to_lab(code, "D65", 2), lab, rtol=0, atol=1e-9)  # its own white: nothing to adapt


def test_lab_of_srgb_colours_for_another_light():
    # W3C tests, CIELAB under D50, 2 degrees -> 8 bit sRGB: the other way round it lies within what rounds to that code.
    rows = reference("lab_examples.csv", kind="lab_d50_to_srgb8")
    rounding = 0.56 * np.array(list(product((-1, 1), repeat=3)))  # of a code; for 0.56 see the test of `lab_to_srgb`
    for row in rows:
        corners = srgb_to_lab((columns([row], "X", "Y", "Z") + rounding) / 255, "D50", 2)
        lab = columns([row], "L", "a", "b")[0]
        assert np.all((corners.min(axis=0) <= lab) & (lab <= corners.max(axis=0))), row["name"]


@pytest.mark.parametrize("light", [("D65", 10), ("D50", 2), ("A", 10), ("C", 2)])
def test_a_screen_s_colour_comes_back_through_lab_under_every_light(light):
    codes = np.vstack(
        [np.eye(3), 1 - np.eye(3), np.zeros(3), np.ones(3), np.random.default_rng(6).uniform(size=(200, 3))]
    )
    back, inside = lab_to_srgb(srgb_to_lab(codes, *light), *light)
    assert_allclose(back, codes, rtol=0, atol=1e-7)  # as `test_srgb_there_and_back`
    assert inside.all()
    assert_allclose(srgb_to_lab([1, 1, 1], *light), [100, 0, 0], rtol=0, atol=2e-4)  # the matrix has seven digits


def test_srgb_curve_agrees_with_a_library():
    import colour

    code = np.linspace(0, 1, 1001)
    assert_allclose(decode_srgb(code), colour.eotf(code, "sRGB"), rtol=0, atol=1e-14)


@pytest.mark.parametrize("row", reference("lab_examples.csv", kind="lab_d50_to_srgb8"), ids=lambda row: row["name"])
def test_a_colour_is_shown_as_in_the_web_standard(row):
    # W3C tests: CIELAB under D50, 2 degrees -> 8 bit sRGB, here from the very white they use.
    lab, white, code = (columns([row], *names)[0] for names in (("L", "a", "b"), ("Xn", "Yn", "Zn"), ("X", "Y", "Z")))
    shown = xyz_to_srgb(adapt(lab_to_xyz(lab, white), white, white_point("D65", 2)))
    assert_array_equal(np.rint(255 * shown), code)
    # ASTM's D50 differs from theirs by 0.01 in X and Z: 0.06 of a code at most.
    rgb, inside = lab_to_srgb(lab, "D50", 2)
    assert_allclose(255 * rgb, code, rtol=0, atol=0.56)
    assert inside


@pytest.mark.parametrize("light", [("D65", 10), ("D50", 2), ("A", 10), ("C", 2)])
def test_white_stays_white_and_in_gamut_under_every_light(light):
    rgb, inside = lab_to_srgb([[100, 0, 0], [0, 0, 0]], *light)
    assert_allclose(rgb, [[1, 1, 1], [0, 0, 0]], rtol=0, atol=1e-6)
    assert inside.all()


def test_a_colour_no_screen_has_is_clipped_and_said_to_be():
    rgb, inside = lab_to_srgb([[50, -80, -20], [50, 10, 10], [110, 0, 0]])
    assert inside.tolist() == [False, True, False]
    assert (rgb >= 0).all()
    assert (rgb <= 1).all()


def test_inputs_are_left_alone():
    lab, target = (array.copy() for array in pairs(300))
    for array in (lab, target):
        array.setflags(write=False)
    for function in (delta_e_2000, delta_e_cmc, delta_lch):
        function(lab, target)
    xyz_to_lab(lab, white_point())
    lab_to_xyz(lab, white_point())
    before = pairs(300)
    assert_array_equal(lab, before[0])
    assert_array_equal(target, before[1])


DESCRIBED = [
    ((52, 40, 20), (50, 40, 20), ("lighter",)),
    ((48, 40, 20), (50, 40, 20), ("darker",)),
    ((50, 44, 22), (50, 40, 20), ("more vivid",)),
    ((50, 36, 18), (50, 40, 20), ("duller",)),
    ((54, 43, 21.5), (50, 40, 20), ("lighter", "more vivid")),
    ((50.1, 40.1, 20), (50, 40, 20), ()),
    ((50, 40, 20), (50, 40, 20), ()),
    # Turning up from orange leads to yellow, down to red; a red can only turn to blue or yellow; and so on round.
    ((60, 38, 42), (60, 42, 38), ("yellower",)),
    ((60, 42, 38), (60, 38, 42), ("redder",)),
    ((45, 50, 18), (45, 50, 22), ("bluer", "duller")),
    ((80, -3, 70), (80, 3, 70), ("greener",)),
    ((80, 3, 70), (80, -3, 70), ("redder",)),
    ((50, -40, 8), (50, -40, 13), ("bluer", "duller")),
    ((50, -40, 18), (50, -40, 13), ("yellower", "more vivid")),
    ((40, -12, -40), (40, -17, -40), ("redder", "duller")),
    ((40, -22, -40), (40, -17, -40), ("greener", "more vivid")),
    ((40, 16, -45), (40, 12, -45), ("redder", "more vivid")),
    ((40, 8, -45), (40, 12, -45), ("bluer", "duller")),
    # Of greys the direction itself is told.
    ((50, 1, 0), (50, 0, 0), ("redder",)),
    ((50, -1, -3), (50, 0, 0), ("bluer", "greener")),
    ((50, -1, 3), (50, 1, 0), ("yellower", "greener")),
    # So it is of hues that have little in common.
    ((50, -8, 0), (50, 8, 0), ("greener",)),
]


@pytest.mark.parametrize(("lab", "target", "words"), DESCRIBED)
def test_a_difference_is_told_in_words_largest_share_first(lab, target, words):
    assert describe_difference(lab, target) == words


def test_swapping_sample_and_target_swaps_every_word():
    opposites = {"lighter": "darker", "more vivid": "duller", "redder": "greener", "yellower": "bluer"}
    opposites |= {after: before for before, after in opposites.items()}
    for lab, target in (((52, 1, -2), (50, -1, 1)), ((70, 1, 1.5), (72, 0, 0)), ((30, 44, 30), (33, 40, 24))):
        there, back = describe_difference(lab, target), describe_difference(target, lab)
        assert len(there) >= 2
        hue_free = {"lighter", "darker", "more vivid", "duller"}
        grey = np.hypot(*target[1:]) < 4
        assert [opposites[word] for word in there if grey or word in hue_free] == [
            word for word in back if grey or word in hue_free
        ]
