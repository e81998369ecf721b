"""Pages, cards and exports of a small library: whole, true to its colours, and there even if a photo is not."""

from __future__ import annotations

import base64
import csv
import io
import json
import re
from contextlib import closing

import cv2
import numpy as np
import pypdfium2
import pytest
from numpy.testing import assert_allclose
from PIL import Image, ImageCms

from swatchcam.cards.instrument_readings import read_readings
from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.changes import remove_shade, set_target
from swatchcam.library.library import open_library
from swatchcam.library.save import Entry, keep_record
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.recipes.recipe import parse_recipe
from swatchcam.report.publish import ENDINGS, SMALL, small_photos, write_cards, write_export, write_page
from tests.worlds.cheap_measurements import of_file, put
from tests.worlds.phone import matrix_profile

COLOURS = np.array([(200, 90, 60), (60, 120, 150), (240, 235, 228), (90, 100, 60)], dtype=np.uint8)
BRICK, SLATE = (50.0, 30.0, 30.0), (60.0, -8.0, -24.0)


def drawn(path, profile=None, size=(800, 600)):
    """Four fields in a row, coded as the profile says."""
    pixels = np.repeat(np.repeat(COLOURS[None], size[0] // 4, axis=1), size[1], axis=0)
    Image.fromarray(pixels).save(path, icc_profile=profile)
    return path


@pytest.fixture
def library(tmp_path):
    """Two batches of brick, one on a photo coded in Display P3, and one of slate, whose photo is upright."""
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    shots = tmp_path / "shots"
    shots.mkdir()
    wide = drawn(shots / "p3.png", matrix_profile("Display P3"))
    keep_record(library, of_file(wide, BRICK), "left", Entry("brick", batch="B1", measured="2026-03-01"))
    keep_record(library, of_file(drawn(shots / "plain.png"), BRICK), "left", Entry("brick", batch="B2"))
    upright = drawn(shots / "upright.png", size=(600, 800))
    keep_record(library, of_file(upright, SLATE), "left", Entry("slate", batch="B1", notes="=1+1"))
    set_target(library, "brick", BRICK)
    return library


@pytest.fixture
def empty(tmp_path):
    return open_library(str(tmp_path / "empty.sqlite"), create=True)


def photos_of(html):
    """(h, w, 3) RGB of every photo in a page."""
    coded = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', html)
    return [cv2.imdecode(np.frombuffer(base64.b64decode(one), np.uint8), cv2.IMREAD_COLOR)[..., ::-1] for one in coded]


def fields(picture):
    """(4, 3) mean of each field."""
    quarter = picture.shape[1] // 4
    inner = slice(quarter // 4, quarter - quarter // 4)
    parts = [picture[:, start * quarter : (start + 1) * quarter][:, inner] for start in range(4)]
    return np.array([part.reshape(-1, 3).mean(axis=0) for part in parts])


# --- pages --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("names", "title", "shades", "photos"),
    [
        ((), "All shades", {"brick", "slate"}, 3),
        (("BRICK",), "brick", {"brick"}, 2),
        (("slate", "brick"), "Shades", {"brick", "slate"}, 3),
    ],
)
def test_a_page_holds_what_was_asked_for(library, tmp_path, names, title, shades, photos):
    target = tmp_path / "page.html"
    assert write_page(library, names, target) == target
    html = target.read_text(encoding="utf-8")
    assert html.startswith("<!DOCTYPE html>")
    assert html.rstrip().endswith("</html>")
    assert title in re.search(r"<title>(.*?)</title>", html)[1]
    assert {shade for shade in ("brick", "slate") if shade in html} == shades
    assert len(photos_of(html)) == photos


def test_a_wide_gamut_photo_has_the_colours_of_srgb_on_a_page(library, tmp_path):
    """Source of what they must be: Little CMS, by the profile in the photo."""
    wide, plain = library.records("brick")
    small = small_photos(library, [wide, plain])
    pictures = [
        photos_of(f'src="data:image/jpeg;base64,{base64.b64encode(data).decode()}"')[0] for data in small.values()
    ]
    profiles = ImageCms.ImageCmsProfile(io.BytesIO(matrix_profile("Display P3"))), ImageCms.createProfile("sRGB")
    expected = np.array(ImageCms.profileToProfile(Image.fromarray(COLOURS[None]), *profiles))[0]
    assert np.abs(expected.astype(float) - COLOURS).max() > 15  # as they are coded they would be wrong
    assert_allclose(fields(pictures[0]), expected, atol=2.5)  # what a small JPEG costs
    assert_allclose(fields(pictures[1]), COLOURS, atol=2.5)


def test_photos_are_made_small(library):
    sizes = {}
    for record in library.records():
        (data,) = small_photos(library, [record]).values()
        sizes[record.photos[0].name] = Image.open(io.BytesIO(data)).size
        assert len(data) < 100_000
    assert sizes == {"p3.png": (SMALL, 360), "plain.png": (SMALL, 360), "upright.png": (360, SMALL)}


@pytest.mark.parametrize("how", ["missing", "cut", "no picture"])
def test_a_photo_that_is_lost_does_not_stop_a_page(library, tmp_path, how):
    lost = library.photos.path(library.records("brick")[0].photos[0].digest)
    data = lost.read_bytes()
    lost.chmod(0o600)
    lost.unlink()
    if how != "missing":
        lost.write_bytes(data[: len(data) // 3] if how == "cut" else b"no picture")
    target = write_page(library, (), tmp_path / "page.html")
    assert len(photos_of(target.read_text(encoding="utf-8"))) == 2


def test_a_shade_that_was_taken_out_is_not_on_the_page(library, tmp_path):
    remove_shade(library, "slate")
    assert "slate" not in write_page(library, (), tmp_path / "page.html").read_text(encoding="utf-8")


# --- cards and exports --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("names", "shades"), [((), ["brick", "slate"]), (("slate",), ["slate"])])
def test_cards_hang_on_the_wall_by_name(library, tmp_path, names, shades):
    target = write_cards(library, names, "a4", tmp_path / "cards.pdf")
    pdf = pypdfium2.PdfDocument(target.read_bytes())
    words = pdf[0].get_textpage().get_text_range()
    pdf.close()
    assert [shade for shade in ("brick", "slate") if shade in words] == shades


def test_test_series_are_no_shades_for_the_wall(library, tmp_path):
    put(library, tmp_path / "series", 1, shade="series Red", batch="1 %", recipe=parse_recipe("binder 99 g, red 1 g"))
    put(library, tmp_path / "series", 2, shade="series 7", batch="1", recipe=parse_recipe("binder 99 g, red 1 g"))

    def words(*names):
        target = write_cards(library, names, "a4", tmp_path / f"{len(names)}.pdf", replace=True)
        with closing(pypdfium2.PdfDocument(target.read_bytes())) as pdf:
            return "".join(page.get_textpage().get_text_range() for page in pdf)

    assert "series 7" in words()  # a shade of the studio's that is only called so
    assert "series Red" not in words()
    assert "series Red" in words("series Red")


def test_other_paper_is_refused_and_nothing_written(library, tmp_path):
    with pytest.raises(UsageError, match="paper"):
        write_cards(library, (), "a3", tmp_path / "cards.pdf")
    assert not (tmp_path / "cards.pdf").exists()


def test_what_is_handed_on_holds_every_record(library, tmp_path):
    expected = [record.colour.lab for record in library.records()]
    for form in ENDINGS:
        target = write_export(library, form, tmp_path / f"shades{ENDINGS[form]}")
        if form == "json":
            assert len(json.loads(target.read_text(encoding="utf-8"))["records"]) == 3
        else:
            readings = read_readings(target)
            assert (readings.problems, readings.unreadable) == ((), ())
            assert_allclose(readings.lab, expected, atol=1e-4)
    with (tmp_path / "shades.csv").open(encoding="utf-8", newline="") as table:
        assert not any(cell.startswith("=") for row in csv.reader(table) for cell in row)


# --- what is refused ----------------------------------------------------------------------------------------

WRITERS = {
    "page": (lambda library, target, **how: write_page(library, (), target, **how), "page.html"),
    "cards": (lambda library, target, **how: write_cards(library, (), "a4", target, **how), "cards.pdf"),
    "csv": (lambda library, target, **how: write_export(library, "csv", target, **how), "shades.csv"),
    "json": (lambda library, target, **how: write_export(library, "json", target, **how), "shades.json"),
    "cgats": (lambda library, target, **how: write_export(library, "cgats", target, **how), "shades.txt"),
}


@pytest.mark.parametrize("kind", WRITERS)
def test_a_file_is_never_written_over_unasked(library, tmp_path, kind):
    write, name = WRITERS[kind]
    target = tmp_path / name
    target.write_bytes(b"as it was")
    with pytest.raises(UsageError, match="is already there") as caught:
        write(library, target)
    assert caught.value.remedy == "replace-or-rename"
    assert target.read_bytes() == b"as it was"
    write(library, target, replace=True)
    assert target.stat().st_size > 500
    for wrong in (tmp_path / "nowhere" / name, tmp_path / "shades.doc"):
        with pytest.raises(UsageError):
            write(library, wrong)
        assert not wrong.exists()


@pytest.mark.parametrize("kind", WRITERS)
def test_an_empty_library_says_how_to_begin(empty, tmp_path, kind):
    write, name = WRITERS[kind]
    with pytest.raises(LibraryError, match="holds no record yet") as caught:
        write(empty, tmp_path / name)
    assert TERMINAL.remedy(caught.value) == "Keep a first strip: swatchcam keep PHOTO --shade NAME"
    assert PAGE.remedy(caught.value) == "Keep a first strip on the page 'Photo'."
    assert not (tmp_path / name).exists()


@pytest.mark.parametrize(
    "write", [write_page, lambda library, names, target: write_cards(library, names, "a4", target)]
)
def test_shades_that_are_not_there_or_named_twice_are_refused(library, tmp_path, write):
    target = tmp_path / f"out{'.html' if write is write_page else '.pdf'}"
    with pytest.raises(UsageError, match="no shade called 'slat'") as caught:
        write(library, ("brick", "slat"), target)
    assert TERMINAL.remedy(caught.value) == "Did you mean slate?"
    with pytest.raises(UsageError, match="named twice"):
        write(library, ("brick", "BRICK"), target)
    assert not target.exists()
