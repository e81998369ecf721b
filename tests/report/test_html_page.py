"""Pages are whole, valid and safe: read back with the standard library's parser, whatever a shade is called."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
import pytest

from swatchcam.colorimetry.srgb import decode_srgb
from swatchcam.errors import UsageError
from swatchcam.library.records import AIR_DRIED, HEAT_SET, State
from swatchcam.recipes.recipe import parse_recipe
from swatchcam.recipes.safety import FIXER, HEAT, LINES, POWDER
from swatchcam.report.html_page import library_page, shade_page
from swatchcam.report.library_text import shift_text
from swatchcam.report.shade_summary import dossier
from tests.report.html_reader import Read
from tests.worlds import studio_records as studio

BATCHES, RECORDS = studio.three_batches()
FULL = dossier(studio.shade(), BATCHES, RECORDS)
EMPTY = dossier(studio.shade(target=None, tolerance=None), [], [])
HOSTILE = [dossier(shade, [batch], [record]) for shade, batch, record in studio.hostile()]
MADE = "2026-04-01"
JPEG = cv2.imencode(".jpg", np.full((12, 16, 3), 128, np.uint8))[1].tobytes()
PHOTOS = {RECORDS[0].photos[0].digest: JPEG}


PAGES = {
    "full": shade_page(FULL, MADE, PHOTOS),
    "empty": shade_page(EMPTY, MADE),
    "library": library_page([FULL, EMPTY, *HOSTILE], "Studio Halm", MADE, PHOTOS),
    "no shades": library_page([], "Studio Halm", MADE),
    **{f"hostile {i}": shade_page(one, MADE) for i, one in enumerate(HOSTILE)},
}
every_page = pytest.mark.parametrize("html", PAGES.values(), ids=PAGES)


# --- structure ----------------------------------------------------------------------------------------------


@every_page
def test_tags_are_closed_in_order(html):
    assert Read(html).faults == []
    assert html.startswith("<!DOCTYPE html>")


@every_page
def test_a_page_says_its_language_and_name(html):
    page = Read(html)
    assert page.all("html")[0][0]["lang"] == "en"
    ((_, title),) = [found for found in page.all("title") if found[1] == page.all("h1")[0][1]]
    assert title


@every_page
def test_headings_come_in_order(html):
    levels = [int(tag[1]) for tag, _, _ in Read(html).elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


@every_page
def test_tables_have_headers_with_scope_and_rows_of_one_width(html):
    page = Read(html)
    assert all(attrs.get("scope") in ("col", "row") for attrs, _ in page.all("th"))
    for table in re.findall("<table.*?</table>", html, re.DOTALL):
        rows = [len(re.findall("<t[hd][ >]", row)) for row in re.findall("<tr>.*?</tr>", table, re.DOTALL)]
        assert len(set(rows)) == 1
        assert "<caption>" in table


@every_page
def test_every_picture_has_words_for_those_who_do_not_see_it(html):
    page = Read(html)
    assert all(attrs["alt"] for attrs, _ in page.all("img"))
    assert all(attrs["role"] == "img" and attrs["aria-label"] for attrs, _ in page.all("svg"))


@every_page
def test_nothing_comes_from_outside_and_nothing_runs(html):
    page = Read(html)
    assert not {tag for tag, _, _ in page.elements} & {"script", "link", "iframe", "object", "embed", "form", "base"}
    ids = [attrs["id"] for _, attrs, _ in page.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    for _, attrs, _ in page.elements:
        assert not [name for name in attrs if name.startswith("on")]
        assert "href" not in attrs or attrs["href"].removeprefix("#") in ids
        assert attrs.get("src", "data:image/jpeg;base64,").startswith("data:image/jpeg;base64,")
    assert "url(" not in html
    assert "@import" not in html


def luminance(code):
    return float(decode_srgb([int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)]) @ [0.2126, 0.7152, 0.0722])


def test_words_stand_out_from_the_paper():
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1, by its formula of relative luminance.
    inks = set(re.findall(r"[^-]color: (#[0-9a-f]{6})", PAGES["full"])) | set(
        re.findall(r'<text[^>]*fill="(#[0-9a-f]{6})"', PAGES["full"])
    )
    assert len(inks) >= 3
    assert min(1.05 / (luminance(ink) + 0.05) for ink in inks) >= 4.5


def test_a_page_is_made_to_be_printed():
    html = PAGES["full"]
    for rule in ("size: A4", "print-color-adjust: exact", "display: table-header-group", "break-inside: avoid"):
        assert rule in html


# --- what it says -------------------------------------------------------------------------------------------


def test_a_page_tells_target_tolerance_and_batches():
    text = Read(PAGES["full"]).text
    for words in (
        "L* 51.8 a* 50.7 b* 43.8 (D65, 10°)",
        "CIEDE2000 1.5",
        "clear base 500 g, red (maker R 12) 6 g, yellow 40 drops (about 1.8 g)",
        "washed 3 times",
        "2026-03-05",
        "Record 5: uneven strip (±1.2 L* from place to place)",
    ):
        assert words in text, words


def test_verdicts_are_those_of_the_verdict_module():
    line = FULL.chapters[1].lines[1]
    difference = line.to_target.verdict.difference
    words = f"{difference.delta_e:.1f} ({difference.low:.1f} to {difference.high:.1f}) {line.to_target.verdict.outcome}"
    row = next(text for _, text in Read(PAGES["full"]).all("tr") if text.startswith("6 "))
    assert words in row
    assert "batch B1, record 3" in row


def test_a_dry_strip_gets_no_verdict_against_a_target_for_heat_set_ones():
    line = FULL.chapters[1].lines[0]
    assert (line.record.state.name, line.to_target.why_not) == (AIR_DRIED, "not heat-set yet")
    dry = [record for record in RECORDS if record.state.name != HEAT_SET]
    assert dossier(studio.shade(), BATCHES, dry).chapters[1].lines[0].to_target.verdict


def test_only_a_strip_in_the_state_of_the_target_is_judged_by_it():
    of = studio.shade(target_state=State(HEAT_SET, how="150 °C"))
    for chapter in dossier(of, BATCHES, RECORDS).chapters[:2]:  # the third is of a card that was never measured
        for line in chapter.lines:
            judged = line.record.state.name == HEAT_SET
            assert (line.to_target.verdict is not None) == judged
            assert line.to_target.why_not == ("" if judged else "the target is for heat-set ink")


def test_a_let_down_strip_is_listed_as_what_it_is_and_never_stands_for_the_shade():
    pale = studio.record(99, studio.kept(0.1, 0.03), measured="2027-01-01", batch="B3", let_down=10.0)
    found = dossier(studio.shade(), BATCHES, [*RECORDS, pale])
    line = found.chapters[-1].lines[-1]
    assert (line.record.number, line.to_target.why_not) == (99, "let-down strip")
    assert "let down 1:10" in line.to_before.why_not
    assert found.latest.record.number == FULL.latest.record.number
    assert [one.chart.values for one in found.series] == [one.chart.values for one in FULL.series]
    page = Read(shade_page(found, MADE))
    (row,) = [text for _, text in page.all("tr") if text.startswith("99 ")]
    assert "air-dried, let down 1:10" in row
    assert f"a*b* plot of {len(RECORDS)} records" in " ".join(text for _, text in page.all("title"))


def test_a_nominal_card_is_marked_and_its_distance_from_the_target_is_not_told():
    page = Read(PAGES["full"])
    (row,) = [text for _, text in page.all("tr") if "nominal" in text]
    assert "for comparison only" in row
    assert "not told by a nominal card" in row
    assert "nobody has measured" in page.text
    clean = Read(shade_page(dossier(studio.shade(), BATCHES, RECORDS[:6]), MADE)).text
    assert "for comparison only" not in clean


def test_heat_setting_is_told_in_words_with_a_caution():
    text = Read(PAGES["full"]).text
    assert shift_text(FULL.pairs[0]) in text
    assert "Caution: heat" in text
    assert all(line in text for line in LINES[HEAT])
    cold = [record for record in RECORDS if record.state == State(AIR_DRIED)]
    assert "Caution" not in Read(shade_page(dossier(studio.shade(), BATCHES, cold), MADE)).text


def test_a_printed_recipe_with_fixer_or_powder_has_its_cautions():
    made = parse_recipe("clear base 500 g, dry red 6 g, fixer 10 g")
    page = Read(shade_page(dossier(studio.shade(), [replace(batch, recipe=made) for batch in BATCHES], ()), MADE))
    assert "Caution: fixer and powder" in page.text
    assert all(line in page.text for line in (*LINES[FIXER], *LINES[POWDER]))
    assert page.all("details") == []  # what is printed is not folded


def test_out_of_gamut_is_told_in_words_beside_the_chip():
    vivid = dossier(studio.shade(target=(60.0, 110.0, 90.0)), [], [])
    captions = [text for _, text in Read(shade_page(vivid, MADE)).all("figcaption")]
    assert captions == ["Target more vivid than a screen shows"]
    assert not [text for _, text in Read(PAGES["full"]).all("figcaption") if "vivid" in text]


def test_plots_and_histories_are_there():
    labels = [attrs["aria-label"] for attrs, _ in Read(PAGES["full"]).all("svg")]
    assert sum("plot of 7 records" in label for label in labels) == 2
    assert sum(label.startswith("History of") for label in labels) == 3


def test_photos_are_in_the_page_with_their_names():
    ((attrs, _),) = Read(PAGES["full"]).all("img")
    assert attrs["alt"] == "Photo strip 1.jpg of record 1: batch B1, wet"
    with pytest.raises(UsageError, match="not a JPEG"):
        shade_page(FULL, MADE, {"ab" * 32: b"<svg onload=alert(1)>"})


def test_an_empty_shade_and_an_empty_library_say_so():
    assert "No batch yet." in Read(PAGES["empty"]).text
    assert "none yet" in Read(PAGES["empty"]).text
    assert "No shade yet." in Read(PAGES["no shades"]).text


def test_the_overview_leads_to_every_shade():
    page = Read(PAGES["library"])
    assert [text for _, text in page.all("a")] == [text for attrs, text in page.all("h2")][1:]


@pytest.mark.parametrize("number", range(len(HOSTILE)))
def test_a_hostile_name_is_shown_letter_by_letter(number):
    page = Read(PAGES[f"hostile {number}"])
    assert page.all("h1")[0][1] == studio.HOSTILE[number]
    assert f"Record {number + 1}: {studio.HOSTILE[number]}" in page.text


def test_what_turns_or_hides_letters_is_not_shown():
    html = shade_page(dossier(studio.shade(name="a\u202eb", notes="x\0y\x1bz\u2028w"), [], []), MADE)
    assert not set("\u202e\0\x1b\u2028") & set(html)


# --- dossiers -----------------------------------------------------------------------------------------------


def test_200_records_make_a_page():
    many = [replace(RECORDS[i % 7], number=i, batch=f"B{i % 9}", mark=str(i)) for i in range(200)]
    page = Read(shade_page(dossier(studio.shade(), [], many), MADE))
    assert page.faults == []
    assert sum(attrs.get("scope") == "row" for attrs, _ in page.all("th")) == 200


def test_records_of_other_shades_and_lost_batches():
    other = replace(RECORDS[0], shade="Blau")
    found = dossier(studio.shade(), BATCHES[:1], [*RECORDS, other])
    assert [chapter.batch.name for chapter in found.chapters] == ["B1", "B2", "B3"]
    assert found.records == RECORDS


def test_the_batch_before_is_the_last_that_can_be_compared():
    first, second, third = (
        replace(RECORDS[1], number=i, batch=f"B{i}", state=State(name), cloth=cloth, measured=f"2026-03-{i:02d}")
        for i, name, cloth in ((1, AIR_DRIED, "jute"), (2, HEAT_SET, "jute"), (3, AIR_DRIED, "jute"))
    )
    chapters = dossier(studio.shade(), BATCHES, [first, second, third]).chapters
    assert chapters[0].lines[0].to_before.why_not == "first batch"
    assert "no earlier batch heat-set" in chapters[1].lines[0].to_before.why_not
    assert chapters[2].lines[0].to_before.verdict.difference.reference == "batch B1, record 1"
    (silk,) = dossier(studio.shade(), BATCHES, [first, replace(third, cloth="silk")]).chapters[2].lines
    assert "on this cloth" in silk.to_before.why_not


def test_a_nominal_card_is_compared_with_itself_only():
    measured, nominal = RECORDS[1], RECORDS[6]
    for card in ("nominal", measured.card):
        told = dossier(studio.shade(), BATCHES, [measured, replace(nominal, card=card)]).chapters[2].lines[0].to_before
        assert told.verdict is None
    earlier = replace(nominal, number=1, batch="B1")
    found = dossier(studio.shade(), BATCHES, [earlier, nominal]).chapters[2].lines[0].to_before
    assert found.verdict.outcome == "same"


def test_a_record_for_another_light_is_not_held_to_the_target():
    other = replace(RECORDS[0], colour=replace(RECORDS[0].colour, illuminant="D50", observer=2))
    found = dossier(studio.shade(), BATCHES, [other])
    assert found.latest.to_target.why_not == "the target is for D65, 10°"
    assert dossier(studio.shade(), BATCHES, [other], light=("D50", 2)).latest.to_target.verdict is not None
