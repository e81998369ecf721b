"""The printed card is true to size, true to its colour codes, and white where it must be white."""

import base64
import csv
import io
import json
import os
import re
import subprocess
import sys
import zlib
from dataclasses import replace
from unittest.mock import ANY

import cv2
import numpy as np
import pypdfium2
import pytest
from click.testing import CliRunner
from numpy.testing import assert_allclose
from PIL import Image

from swatchcam.cards.design import Box, designs
from swatchcam.cards.print_guide import paper_spot
from swatchcam.cards.print_number import spoken, tag_ids
from swatchcam.cards.print_register import printed_numbers
from swatchcam.cards.print_sheet import arrange, card_sheet, cards_per_sheet, sheet_png
from swatchcam.cards.tag_family import tag_modules
from swatchcam.cli.card_print import print_card
from swatchcam.errors import CardError, UsageError
from swatchcam.messages.surface import TERMINAL
from tests.paths import REFERENCE

DPI = 200
PX = DPI / 25.4  # pixels per millimetre
FITTING = [
    ("a5", "a4", 2),
    ("a5", "letter", 2),
    ("a5", "card", 1),
    ("a6", "a4", 4),
    ("a6", "letter", 2),
    ("a6", "card", 1),
    ("a4", "a4", 1),
    ("a4", "card", 1),
]
CASES = [case[:2] for case in FITTING]
NUMBERS = {(name, paper): [f"{4_000_037 * card:08d}" for card in range(1, count + 1)] for name, paper, count in FITTING}


def table(name):
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {row["name"]: row for row in rows}


def paper_mm(name):
    """ISO 216 and ANSI/ASME Y14.1 sizes: (short, long), mm."""
    row = table("paper_sizes_iso216.csv")[name]
    return float(row["short_mm"]), float(row["long_mm"])


@pytest.fixture(scope="module")
def pdfs():
    return {case: card_sheet(designs()[case[0]], case[1], NUMBERS[case]) for case in CASES}


@pytest.fixture(scope="module")
def pictures(pdfs):
    return {case: decoded(sheet_png(pdf, DPI)) for case, pdf in pdfs.items()}


def decoded(png):
    return np.asarray(Image.open(io.BytesIO(png)))


def inside(picture, box, dx, dy, inset):
    """The pixels of a box, moved by (dx, dy) and shrunk by `inset` on each side, all in mm."""
    left, top = (box.x + dx + inset) * PX, (box.y + dy + inset) * PX
    right, bottom = (box.x + box.w + dx - inset) * PX, (box.y + box.h + dy - inset) * PX
    # Pixel i covers i..i+1 of the picture: keep the pixels that lie wholly inside.
    rows, columns = picture.shape[:2]
    return picture[
        max(int(np.ceil(top - 1e-6)), 0) : min(int(bottom + 1e-6), rows),
        max(int(np.ceil(left - 1e-6)), 0) : min(int(right + 1e-6), columns),
    ]


def page_sizes_mm(pdf):
    document = pypdfium2.PdfDocument(pdf)
    sizes = [np.array(page.get_size()) * 25.4 / 72 for page in document]
    document.close()
    return sizes


def page_texts(pdf):
    document = pypdfium2.PdfDocument(pdf)
    texts = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    return [" ".join(text.split()) for text in texts]


# Paper


def test_pages_have_the_size_of_the_paper(pdfs):
    a4, letter = paper_mm("A4"), paper_mm("US Letter")
    assert_allclose(letter, np.array([8.5, 11]) * 25.4, rtol=0, atol=1e-9)
    for (_, paper), pdf in pdfs.items():
        first, *others = page_sizes_mm(pdf)
        assert len(others) == 2
        if paper != "card":
            assert_allclose(sorted(first), a4 if paper == "a4" else letter, rtol=0, atol=0.01)
        for other in others:
            assert_allclose(other, letter if paper == "letter" else a4, rtol=0, atol=0.01)


def test_the_half_sheet_card_is_an_iso_216_a5_page(pdfs):
    assert_allclose(page_sizes_mm(pdfs["a5", "card"])[0], paper_mm("A5")[::-1], rtol=0, atol=0.01)


@pytest.mark.parametrize(("name", "paper", "count"), FITTING)
def test_as_many_cards_as_fit(name, paper, count):
    assert cards_per_sheet(designs()[name], paper) == count


def test_two_half_sheet_cards_meet_at_the_middle_of_the_paper():
    for paper, name in (("a4", "A4"), ("letter", "US Letter")):
        layout = arrange(designs()["a5"], paper)
        assert layout.cuts_y == (pytest.approx(paper_mm(name)[1] / 2, abs=1e-9),)
        assert layout.cuts_x == ()


@pytest.mark.parametrize("case", CASES)
def test_cards_keep_their_ink_on_the_paper_and_off_the_cuts(case):
    design, layout = designs()[case[0]], arrange(designs()[case[0]], case[1])
    xs, ys = [0, *layout.cuts_x, layout.width], [0, *layout.cuts_y, layout.height]
    for left, top in layout.origins:
        for box in (*(tag.box for tag in design.tags), *(patch.box for patch in design.patches), design.label):
            x, y = left + box.x, top + box.y
            assert min(abs(np.subtract(xs, x)).min(), abs(np.subtract(xs, x + box.w)).min()) >= 4 - 1e-9
            assert min(abs(np.subtract(ys, y)).min(), abs(np.subtract(ys, y + box.h)).min()) >= 4 - 1e-9
            assert not any(x < cut < x + box.w for cut in layout.cuts_x)
            assert not any(y < cut < y + box.h for cut in layout.cuts_y)


@pytest.mark.parametrize(("case", "blank_mm"), [(c, 4.8 if c == ("a5", "letter") else 5.0) for c in CASES])
def test_nothing_is_printed_where_an_office_printer_cannot(pictures, case, blank_mm):
    if case == ("a6", "card"):
        blank_mm = 5.0 * 0.7  # the paper is small, and so is its rim
    ink = (pictures[case] < 255).any(axis=2)
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    layout = arrange(designs()[case[0]], case[1])
    # The inner edges of the outermost pixels: those that an edge crosses are partly ink.
    assert min(rows[0] + 1, columns[0] + 1) / PX >= blank_mm
    assert rows[-1] / PX <= layout.height - blank_mm
    assert columns[-1] / PX <= layout.width - blank_mm


def test_cut_line_is_drawn_where_the_layout_says(pictures):
    for case, middle in ((("a5", "a4"), 148.5), (("a5", "letter"), 139.7)):
        picture = pictures[case]
        band = picture[int((middle - 4) * PX) : int((middle + 4) * PX)]
        rows = np.flatnonzero((band < 255).any(axis=(1, 2))) + int((middle - 4) * PX)
        assert abs((rows.mean() + 0.5) / PX - middle) < 0.1
        assert np.ptp(rows) / PX < 0.4


# Tags


def tags_of(design, number):
    """Every tag on a print, the card's own and those of its number: (number in the family, box)."""
    return [*((tag.id, tag.box) for tag in design.tags), *zip(tag_ids(number), design.number_boxes, strict=True)]


def test_tags_are_of_the_family_that_is_documented():
    facts = table("tag_families.csv")["DICT_APRILTAG_36H11"]  # Olson 2011, Wang & Olson 2016; OpenXR
    last = int(facts["markers"]) - 1
    side = int(facts["side_bits"]) + 2
    modules = np.array([tag_modules("36h11", number) for number in range(last + 1)])
    assert modules.shape == (587, side, side) == (587, int(facts["modules_with_border"]), 8)
    border = np.ones((side, side), bool)
    border[1:-1, 1:-1] = False
    assert modules[:, border].all()
    codes = modules[:, 1:-1, 1:-1].reshape(587, -1)
    nearest = min((codes[i + 1 :] != codes[i]).sum(axis=1).min() for i in range(last))
    assert nearest >= int(facts["documented_min_distance"])
    with pytest.raises(CardError, match="no tag number 587"):
        tag_modules("36h11", last + 1)


@pytest.mark.parametrize("case", CASES)
def test_every_tag_is_read_at_its_true_place(pictures, case):
    design, layout = designs()[case[0]], arrange(designs()[case[0]], case[1])
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(20), parameters)
    corners, ids, _ = detector.detectMarkers(cv2.cvtColor(pictures[case], cv2.COLOR_RGB2GRAY))
    wanted = {
        (number, card): np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * box.w + (box.x + x, box.y + y)
        for card, (x, y) in enumerate(layout.origins)
        for number, box in tags_of(design, NUMBERS[case][card])
    }
    assert sorted(ids.ravel()) == sorted(number for number, _ in wanted)
    found = [(number, (quad[0] + 0.5) / PX) for number, quad in zip(ids.ravel(), corners, strict=True)]
    for (number, _), place in wanted.items():
        nearest = min(abs(quad - place).max() for same, quad in found if same == number)
        assert nearest < 0.1  # mm


@pytest.mark.parametrize("case", CASES)
def test_a_white_module_surrounds_every_tag(pictures, case):
    design, layout = designs()[case[0]], arrange(designs()[case[0]], case[1])
    for (x, y), number in zip(layout.origins, NUMBERS[case], strict=True):
        for _, box in tags_of(design, number):
            module = box.w / 8
            outer = Box(box.x - module, box.y - module, box.w + 2 * module, box.h + 2 * module)
            ring = inside(pictures[case], outer, x, y, 0).copy()
            hole = int(np.floor(module * PX)) - 1
            assert ring[hole:-hole, hole:-hole].min() == 0
            ring[hole:-hole, hole:-hole] = 255
            assert ring.min() == 255


# Colours


@pytest.mark.parametrize("case", CASES)
def test_patches_carry_exactly_the_codes_asked_for(pictures, case):
    design, layout = designs()[case[0]], arrange(designs()[case[0]], case[1])
    for x, y in layout.origins:
        for patch in design.patches:
            pixels = inside(pictures[case], patch.box, x, y, 0.0).astype(int)
            assert pixels.size > 0
            assert abs(pixels - patch.srgb).max() <= 1, patch.name


def test_everything_is_drawn_in_device_rgb(pdfs):
    streams = re.findall(rb"\bstream\r?\n(.*?)~>", pdfs["a5", "a4"], re.DOTALL)
    text = b"\n".join(zlib.decompress(base64.a85decode(stream)) for stream in streams).decode("latin-1")
    operators = {line.split()[-1] for line in text.splitlines() if line.strip()}
    assert {"rg", "RG"} <= operators
    assert not operators & {"g", "G", "k", "K", "cs", "CS", "sc", "scn", "sh", "gs", "Do"}


def test_no_page_holds_a_raster_image(pdfs):
    for pdf in pdfs.values():
        document = pypdfium2.PdfDocument(pdf)
        for page in document:
            kinds = [item.type for item in page.get_objects()]
            assert kinds.count(pypdfium2.raw.FPDF_PAGEOBJ_PATH) > 10
            assert kinds.count(pypdfium2.raw.FPDF_PAGEOBJ_IMAGE) == 0
        document.close()


@pytest.mark.parametrize("case", [("a5", "a4"), ("a5", "letter"), ("a5", "card")])
def test_bare_stock_is_white_wherever_the_design_has_nothing(pictures, case):
    design, layout = designs()["a5"], arrange(designs()["a5"], case[1])
    picture = pictures[case].copy()
    for cut in layout.cuts_y:
        picture[round((cut - 0.2) * PX) : round((cut + 0.2) * PX)] = 255
    for x, y in layout.origins:
        # All writing is in the strip below the frame, 125 to 139 mm down the card.
        items = [item.box for item in (*design.tags, *design.patches, *design.windows)]
        for box in (*items, Box(5, 125, 200, 14)):
            inside(picture, box, x, y, -1 / PX)[:] = 255  # a pixel that an edge crosses is partly ink
    assert picture.min() == 255


def test_the_line_to_cut_a_window_falls_away_with_the_piece(pictures):
    design, picture = designs()["a5"], pictures["a5", "card"]
    for window in design.windows:
        assert inside(picture, window.box, 0, 0, 0).min() < 255
        around = inside(picture, window.box, 0, 0, -2).copy()  # 2 mm of white on every side
        assert around.min() < 255
        edge = int(np.floor(2 * PX)) - 1
        around[edge:-edge, edge:-edge] = 255
        assert around.min() == 255


# The ruler's check


@pytest.mark.parametrize("case", CASES)
def test_scale_bar_is_true_to_size(pictures, case):
    design, layout = designs()[case[0]], arrange(designs()[case[0]], case[1])
    bar, unit = design.scale_bar, design.label.h / 12
    for x, y in layout.origins:
        # Only the ticks of whole centimetres reach so far below the bar.
        row = pictures[case][round((y + bar.y + 2.1 * unit) * PX), :, 0]
        left, right = round((x + bar.x - 1) * PX), round((x + bar.x + bar.w + 1) * PX)
        ticks = darkness_centres(255 - row[left:right].astype(float)) / PX
        assert len(ticks) == bar.w / 10 + 1
        assert ticks[-1] - ticks[0] == pytest.approx(bar.w, abs=0.1)
        assert_allclose(np.diff(ticks), 10, rtol=0, atol=0.1)
    if case[0] == "a5":
        assert bar.w == 100


def darkness_centres(dark):
    runs = np.split(np.arange(len(dark)), np.flatnonzero(np.diff(dark > 0)) + 1)
    return np.array([(run * dark[run]).sum() / dark[run].sum() for run in runs if dark[run[0]] > 0])


def test_picture_has_exactly_the_resolution_it_states(pdfs):
    for dpi, size in ((300, (2480, 3508)), (72, (595, 842)), (150, (1240, 1754))):
        picture = Image.open(io.BytesIO(sheet_png(pdfs["a5", "a4"], dpi)))
        assert picture.size == size == tuple(round(side / 25.4 * dpi) for side in paper_mm("A4"))
        assert picture.info["dpi"] == pytest.approx((dpi, dpi), abs=0.02)  # PNG states whole pixels per metre
        assert picture.mode == "RGB"


# Words


def test_card_says_what_it_is_and_how_to_lay_it(pdfs):
    text = page_texts(pdfs["a5", "a4"])[0]
    for words in (
        "swatchcam card a5",
        "210 × 148 mm",
        "this side up",
        "Card no.",
        "Date printed",
        "cut out",
        "this bar must be 100 mm",
    ):
        assert text.count(words) >= 2, words  # once on each card


def test_instructions_say_what_a_first_time_user_must_know(pdfs):
    for (name, _), pdf in pdfs.items():
        text = page_texts(pdf)[1]
        bar = f"{designs()[name].scale_bar.w:g} mm"
        for words in ("100 %", "actual size", "fit to page", "matt white card stock", bar, "Caution", "steel rule"):
            assert words in text, words
        for words in ("dry for a day", "out of the sun", "strip in each window", "No flash", "square above"):
            assert words in text, words


@pytest.mark.parametrize("case", CASES)
def test_each_card_shows_its_own_number_and_the_steps_ask_for_one_copy(pdfs, case):
    cards, steps, _ = page_texts(pdfs[case])
    for number in NUMBERS[case]:
        assert cards.count(spoken(number)) == 1
    assert "Print one copy only." in steps
    assert "run swatchcam card print again" in steps


def test_a_card_without_a_place_for_a_number_is_numbered_by_hand():
    design = replace(designs()["a5"], number_boxes=())
    assert card_sheet(design, "a4") == card_sheet(designs()["a5"], "a4")
    cards, steps, _ = page_texts(card_sheet(design, "a4"))
    assert not re.search(r"\d{4} \d{4}", cards)
    assert "Write the card number and the date printed in the box" in steps
    assert "One copy" not in steps


def test_map_names_every_patch_and_the_paper(pdfs):
    for (name, _), pdf in pdfs.items():
        words = re.split(r"[\s,:]+", page_texts(pdf)[2])
        assert {patch.name for patch in designs()[name].patches} | {"paper"} <= set(words)


def test_words_and_drawings_stay_on_their_page(pdfs):
    for pdf in pdfs.values():
        document = pypdfium2.PdfDocument(pdf)
        for page in (document[1], document[2]):
            ink = (np.asarray(page.render(scale=1).to_pil()) < 255).any(axis=2)
            rim = round(14 * 72 / 25.4)
            assert ink.any()
            ink[rim:-rim, rim:-rim] = False
            assert not ink.any()
        document.close()


def test_place_to_read_the_paper_is_bare():
    for design in designs().values():
        x, y, radius = paper_spot(design)
        assert radius >= 2  # mm: the smallest common aperture of a hand-held instrument is 4 mm wide
        for item in (*design.tags, *design.patches, *design.windows):
            aside = max(item.box.x - x, x - item.box.x - item.box.w, 0)
            above = max(item.box.y - y, y - item.box.y - item.box.h, 0)
            assert np.hypot(aside, above) > radius
    a5, a6 = (designs()[name] for name in ("a5", "a6"))
    factor = a6.size_mm[0] / a5.size_mm[0]
    assert_allclose(paper_spot(a6), np.multiply(paper_spot(a5), factor), rtol=0, atol=1e-6)


def test_viewers_are_told_to_print_at_true_size_on_one_side(pdfs):
    pdf = pdfs["a5", "a4"]
    assert re.search(rb"/PrintScaling\s*/None", pdf)
    assert re.search(rb"/Duplex\s*/Simplex", pdf)


def test_same_design_gives_the_same_bytes(pdfs):
    pdf = card_sheet(designs()["a5"], "a4", NUMBERS["a5", "a4"])
    assert pdf == pdfs["a5", "a4"]
    document = pypdfium2.PdfDocument(pdf)
    facts = document.get_metadata_dict()
    document.close()
    assert facts["Title"] == "swatchcam card a5"
    assert facts["CreationDate"].startswith("D:20000101")  # not the time of day


# Refusals


def test_card_too_large_for_the_paper_is_refused():
    with pytest.raises(UsageError, match="does not fit on letter paper"):
        card_sheet(designs()["a4"], "letter")


def test_unknown_paper_is_refused():
    with pytest.raises(UsageError, match="no paper 'a3'"):
        cards_per_sheet(designs()["a5"], "a3")


@pytest.mark.parametrize("dpi", [0, 71, 601, -300])
def test_senseless_resolution_is_refused(pdfs, dpi):
    with pytest.raises(UsageError, match="dots per inch"):
        sheet_png(pdfs["a5", "a4"], dpi)


def with_patch(x, y):
    design = designs()["a5"]
    moved = replace(design.patches[0], box=Box(x, y, 10, 10))
    return replace(design, patches=(moved, *design.patches[1:]))


@pytest.mark.parametrize(
    ("design", "problem"),
    [
        (lambda: with_patch(22.0, 10.5), "patch A1 is too close to tag 0"),  # one module is 1.625 mm
        (lambda: with_patch(3.9, 10.5), "has ink too close to its edge"),
        (lambda: with_patch(50.0, 128.0), "patch A1 is too close to the scale bar"),
        (lambda: with_patch(130.0, 128.0), "patch A1 is too close to the label"),
        (lambda: replace(designs()["a5"], tag_family="25h9"), "no tag family '25h9'"),
    ],
)
def test_design_that_would_print_badly_is_refused(design, problem):
    with pytest.raises(CardError, match=problem):
        card_sheet(design(), "a4")


def test_names_of_any_alphabet_do_not_stop_the_printer():
    design = designs()["a5"]
    odd = replace(design.patches[0], name="<b>&朱")
    pdf = card_sheet(replace(design, name="R&D <1>", patches=(odd, *design.patches[1:])), "a4")
    assert len(page_sizes_mm(pdf)) == 3


# Command


@pytest.fixture
def run(tmp_path, tmp_path_factory, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path_factory.mktemp("cards")))
    monkeypatch.chdir(tmp_path)
    return lambda *words: CliRunner().invoke(print_card, words)


def test_command_writes_both_files_and_says_what_is_next(run, tmp_path):
    result = run("--dpi", "72")
    assert result.exit_code == 0
    numbers = re.findall(r"\d{4} \d{4}", result.stdout)
    assert [spoken(number) for number in printed_numbers()] == sorted(numbers)
    pdf = card_sheet(designs()["a5"], "a4", [number.replace(" ", "") for number in numbers])
    assert (tmp_path / "swatchcam-card-a5-a4.pdf").read_bytes() == pdf
    assert decoded((tmp_path / "swatchcam-card-a5-a4.png").read_bytes()).shape == (842, 595, 3)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "swatchcam-card-a5-a4.pdf",
        "swatchcam-card-a5-a4.png",
    ]
    for words in ("swatchcam-card-a5-a4.pdf", "swatchcam-card-a5-a4.png", "100 %", "100 mm", "page 2", "one copy"):
        assert words in result.stdout
    for step in ("Drawing 2 cards", "Writing swatchcam-card-a5-a4.pdf", "72 dots per inch"):
        assert step in result.stderr


def test_command_gives_programs_one_object(run):
    result = run("--design", "a6", "--paper", "letter", "--output", "small.pdf", "--no-png", "--json")
    assert json.loads(result.stdout) == {
        "design": "a6",
        "paper": "letter",
        "cards_per_sheet": 2,
        "numbers": ANY,
        "scale_bar_mm": 70,
        "pdf": "small.pdf",
        "png": None,
        "dpi": None,
    }
    assert sorted(json.loads(result.stdout)["numbers"]) == printed_numbers()
    assert len(printed_numbers()) == 2


def test_each_sheet_has_numbers_of_its_own(run):
    told = [json.loads(run("--no-png", "--replace", "--json").stdout)["numbers"] for _ in range(3)]
    assert len({number for numbers in told for number in numbers}) == 6


def test_command_writes_over_a_file_only_when_told_to(run, tmp_path):
    for name in ("card.pdf", "card.png"):
        mine = tmp_path / name
        mine.write_bytes(b"mine")
        refused = run("--output", "card.pdf", "--dpi", "72").exception
        assert isinstance(refused, UsageError)
        assert f"{name} is already there" in TERMINAL.problem(refused)
        assert refused.remedy == "replace-or-rename"
        assert mine.read_bytes() == b"mine"
        assert run("--output", "card.pdf", "--dpi", "72", "--replace").exit_code == 0
        assert mine.read_bytes() != b"mine"
        (tmp_path / "card.pdf").unlink()


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (("--design", "a7"), "There is no card design called 'a7'"),
        (("--output", "card.txt"), "does not end in .pdf"),
        (("--output", "nowhere/card.pdf"), "no folder nowhere"),
        (("--output", "folder.pdf"), "a folder called folder.pdf"),
        (("--output", "x" * 300 + ".pdf"), "can't be written: its name is too long"),
        (("--design", "a4", "--paper", "letter"), "does not fit on letter paper"),
    ],
)
def test_command_refuses_with_a_reason_and_leaves_nothing_behind(run, tmp_path, words, problem):
    (tmp_path / "folder.pdf").mkdir()
    refused = run(*words).exception
    assert isinstance(refused, UsageError)
    assert problem in TERMINAL.problem(refused)
    assert refused.remedy
    assert [path.name for path in tmp_path.iterdir()] == ["folder.pdf"]
    # A name that the disk won't have shows only when it is written: those two numbers stay unused.
    assert len(printed_numbers()) == (2 if "too long" in problem else 0)


def test_a_disk_that_fails_leaves_the_old_file_whole(run, tmp_path, monkeypatch):
    (tmp_path / "card.pdf").write_bytes(b"mine")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    refused = run("--output", "card.pdf", "--no-png", "--replace").exception
    assert isinstance(refused, UsageError)
    assert "can't be written: the disk is full" in TERMINAL.problem(refused)
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("card.pdf", b"mine")]


def test_help_has_an_example_and_the_defaults(run):
    text = run("--help").stdout
    assert "swatchcam card print --paper letter" in text
    for default in ("a5", "a4", "300"):
        assert re.search(rf"\[default:\s+{default}", text)


def test_help_imports_nothing_heavy():
    code = "import sys, swatchcam.cli.card_print; print([m for m in ('cv2', 'numpy', 'reportlab') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
