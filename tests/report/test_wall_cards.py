"""Wall cards hold what they must, and nothing runs over a cut, whatever a shade is called."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest

from swatchcam.cards.paper import MM, SIZES, lay_out
from swatchcam.errors import UsageError
from swatchcam.library.records import parse_state
from swatchcam.report.plots.colour_plots import screen_colour
from swatchcam.report.shade_summary import dossier
from swatchcam.report.wall_cards import (
    CHIP,
    CUT_OFF,
    EDGE,
    ROOM,
    SIZE,
    SMALLEST,
    STRIP,
    _width,
    fitted,
    printable,
    wall_cards,
)
from tests.worlds import studio_records as studio

BATCHES, RECORDS = studio.three_batches()
FULL = dossier(studio.shade(), BATCHES, RECORDS)
HOSTILE = [dossier(shade, [batch], [record]) for shade, batch, record in studio.hostile()]
LONG = "M" * 120


def opened(pdf):
    return pypdfium2.PdfDocument(pdf)


def text_of(pdf):
    return "\n".join(page.get_textpage().get_text_bounded() for page in opened(pdf))


def picture(pdf, dpi=100):
    """(h, w, 3) of the first page."""
    return np.asarray(opened(pdf)[0].render(scale=dpi / 72).to_pil().convert("RGB"))


def at(image, paper, box_x, box_y):
    """The pixel this many mm from the corner of the first card."""
    x, y = lay_out(SIZE, (0.0, 0.0), paper).origins[0]
    return tuple(int(v) for v in image[round((y + box_y) / 25.4 * 100), round((x + box_x) / 25.4 * 100)])


def test_a_card_says_what_hangs_on_the_wall():
    text = text_of(wall_cards([FULL]))
    for words in (
        "Mohnrot",
        "Heat-set L* 49.9 a* 52.1 b* 44.9, ± 1.1",
        "Target L* 51.8 a* 50.7 b* 43.8, tolerance 1.5",
        "B2, heat-set, 2026-03-06",
        "clear base 500 g, red (maker R 12) 6 g, yellow 40 drops",
        "cotton, white, 43T",
        "glue the strip here, 20 mm",
    ):
        assert words in " ".join(text.split()), words


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_six_cards_share_a_sheet_of_true_size(paper):
    document = opened(wall_cards([FULL] * 7, paper))
    assert len(document) == 2
    assert document[0].get_size() == pytest.approx([side * MM for side in SIZES[paper]], abs=0.01)
    assert document[0].get_textpage().get_text_bounded().count("Mohnrot") == 6


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_chip_strip_and_cuts_lie_where_they_should(paper):
    image = picture(wall_cards([FULL], paper))
    code = screen_colour(FULL.shade.target)[0]
    wanted = tuple(int(code[i : i + 2], 16) for i in (1, 3, 5))
    assert at(image, paper, *CHIP.centre) == pytest.approx(wanted, abs=1)
    assert at(image, paper, CHIP.x + CHIP.w - 1, CHIP.y + 1) == pytest.approx(wanted, abs=1)
    assert (STRIP.w, STRIP.h) == (20.0, 20.0)
    assert at(image, paper, STRIP.x + 2, STRIP.y + 2) == (255, 255, 255)
    assert min(at(image, paper, STRIP.x + d, STRIP.y + 10) for d in (0, 0.1, 0.2)) < (250, 250, 250)


def test_a_colour_out_of_gamut_has_its_corner_cut_and_says_so():
    vivid = dossier(studio.shade(target=(60.0, 110.0, 90.0)), [], [])
    pdf = wall_cards([vivid])
    assert at(picture(pdf), "a4", CHIP.x + CHIP.w - CUT_OFF / 4, CHIP.y + CUT_OFF / 4) == (255, 255, 255)
    assert "more vivid than a screen shows" in text_of(pdf)
    assert "more vivid" not in text_of(wall_cards([FULL]))


def test_a_let_down_strip_is_never_the_colour_of_a_card():
    pale = studio.record(99, studio.kept(0.1, 0.03), measured="2027-01-01", batch="B3", let_down=10.0)
    assert text_of(wall_cards([dossier(studio.shade(), BATCHES, [*RECORDS, pale])])) == text_of(wall_cards([FULL]))
    only = text_of(wall_cards([dossier(studio.shade(target=None), BATCHES, [pale])]))
    assert "no colour yet" in only


def test_under_the_strip_stands_what_was_done_to_it():
    state = parse_state("heat-set 150 C 4 min press")
    text = text_of(wall_cards([replace(FULL, shade=replace(FULL.shade, target_state=state))]))
    assert re.search(r"20 mm\s+heat-set\s+150 °C, 4 min\s+press\s+Mohnrot", text)


def test_without_a_target_the_finished_colour_is_shown_and_without_that_nothing():
    assert "chip: last strip" in text_of(wall_cards([replace(FULL, shade=studio.shade(target=None))]))
    empty = text_of(wall_cards([dossier(studio.shade(target=None), [], [])]))
    assert "no colour yet" in empty
    assert "No target" in empty


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_letter_of_a_hostile_name_runs_over_the_cut(paper):
    long = replace(studio.record(), batch=LONG, shade=LONG, cloth=LONG, mesh=LONG)
    recipe = studio.RECIPE.__class__(tuple(replace(part, what=LONG, number=LONG) for part in studio.RECIPE.parts))
    worst = dossier(studio.shade(name=LONG), [studio.batch(shade=LONG, name=LONG, recipe=recipe)], [long])
    for card in (worst, *HOSTILE):
        page = opened(wall_cards([card], paper))[0].get_textpage()
        x, y = lay_out(SIZE, (0.0, 0.0), paper).origins[0]
        top = SIZES[paper][1]
        boxes = np.array([page.get_charbox(i) for i in range(page.count_chars())]) / MM
        boxes = boxes[(boxes[:, 2] > boxes[:, 0]) & (boxes[:, 3] > boxes[:, 1])]
        assert len(boxes) > 50
        assert boxes[:, 0].min() >= x + EDGE - 0.5
        assert boxes[:, 2].max() <= x + SIZE[0] - EDGE + 0.5
        assert top - boxes[:, 1].min() <= y + SIZE[1] - 3


@pytest.mark.parametrize("words", ["Rot", LONG, "Mohn " * 40, "x" * 2000, ""])
@pytest.mark.parametrize("most", [1, 2])
def test_words_wrap_then_shrink_then_end_in_an_ellipsis(words, most):
    lines, size = fitted(words, 5.0, most)
    assert len(lines) <= most
    assert SMALLEST <= size <= 5.0
    assert all(_width(line, size, False) <= ROOM for line in lines)
    whole = "".join(lines).replace(" ", "") == words.replace(" ", "")
    assert whole != (bool(lines) and lines[-1].endswith("…"))


def test_short_words_keep_their_size():
    assert fitted("Mohnrot", 5.0, 2, bold=True) == (["Mohnrot"], 5.0)


def test_letters_that_no_viewer_has_are_replaced():
    assert printable("Grün „Öl“ ± 5°") == "Grün „Öl“ ± 5°"
    assert printable("červená 🎨 ﬁ") == "cervená ? fi"


def test_the_same_cards_are_the_same_bytes():
    assert wall_cards([FULL]) == wall_cards([FULL])


def test_200_cards_take_34_sheets():
    assert len(opened(wall_cards([FULL] * 200))) == 34


def test_other_paper_and_no_shades_are_refused():
    with pytest.raises(UsageError, match="no paper 'a5'"):
        wall_cards([FULL], "a5")
    with pytest.raises(UsageError, match="no shade"):
        wall_cards([])
