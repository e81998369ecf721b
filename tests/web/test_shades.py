"""The pages of shades and records show what the library says, and their forms change it as the command line does."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from functools import cached_property
from itertools import pairwise
from types import SimpleNamespace
from unittest.mock import Mock
from urllib.parse import urlencode

import numpy as np
import pytest

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.colorimetry.srgb import srgb_to_lab
from swatchcam.errors import UsageError
from swatchcam.library.amend import note_shade, tag_shade
from swatchcam.library.changes import log, remove_record, set_target
from swatchcam.library.entry import entry_of
from swatchcam.library.heat_shift import pair
from swatchcam.library.library import open_library
from swatchcam.library.save import keep_record
from swatchcam.library.search import nearest_shades
from swatchcam.library.shelf.pigments import pigments
from swatchcam.messages.message import flag
from swatchcam.messages.surface import PAGE
from swatchcam.recipes.safety import FIXER, HEAT, LINES
from swatchcam.report.library_records import batch_account, near_dict, pair_dict, shade_account, shades_dict
from swatchcam.report.shade_summary import dossier
from swatchcam.web.inbox import Tray
from swatchcam.web.pages import changes, edits, records, shades
from tests.colorimetry.spellings import LAB, SPELLINGS
from tests.report.html_reader import Read
from tests.web.visitor import studio_in, visitor
from tests.worlds.cheap_measurements import facts, measurement
from tests.worlds.studio_records import HOSTILE

PAGES = [*shades.routes, *records.routes, *edits.routes, *changes.routes]
BRICK, BLUE, MOSS = (41.0, 42.0, 25.0), (42.0, -8.0, -32.0), (45.0, -20.0, 25.0)
JPEG = b"\xff\xd8\xff small"


class Page(Read):
    """A page of the studio; the words of a drawing are its own."""

    def handle_starttag(self, tag, attrs):
        super().handle_starttag(tag, attrs)
        self.handle_data(" " if tag == "dd" else "")

    def handle_data(self, data):
        if "svg" not in [tag for tag, _, _ in self.open]:
            super().handle_data(data)

    @property
    def text(self):
        return self.all("main")[0][1]

    @property
    def links(self):
        return {attrs["href"]: words for attrs, words in self.all("a")}


class Halm:
    """A studio with a library, and a phone that was let in."""

    def __init__(self, folder, place):
        self.folder, self.place, self.taken = folder, place, 0
        self.done = []

        def do(task, job):
            self.done.append(task)
            if job["path"].endswith(".broken"):
                raise UsageError("No photo.", "Take one.")
            with open(job["target"], "wb") as file:
                file.write(JPEG)
            return {"picture": True}

        crew = SimpleNamespace(start=lambda: None, stop=lambda: None, do=do)
        self.studio = studio_in(folder, tray=Tray(folder / "tray"), crew=crew, library=place)
        self.phone = visitor(self.studio, PAGES, self.studio.phones.add("Phone"))

    @cached_property
    def library(self):
        return open_library(self.place, create=True)

    def keep(self, shade, lab=BRICK, nominal=False, **said):
        self.taken += 1
        found = measurement(self.folder, self.taken, lab)
        if nominal:
            look = replace(found.looks[0], values=replace(found.looks[0].values, grade="nominal"))
            found = replace(found, looks=(look,), flags=(flag("card-nominal"), flag("strip-small", area=40.0)))
        return keep_record(self.library, found, "left", entry_of(shade, **said))

    def get(self, path, status=200):
        answer = self.phone.get(path)
        assert answer.status_code == status, answer.text
        page = Page(answer.text)
        assert page.faults == []
        return page

    def post(self, path, **fields):
        return self.phone.post(path, data={"token": self.token, **fields})

    @cached_property
    def token(self):
        forms = self.get(f"/record/{self.library.records()[0].number}").all("input")
        return next(attrs["value"] for attrs, _ in forms if attrs["name"] == "token")

    def sent(self, path, **fields):
        """The page to which a form leads."""
        answer = self.post(path, **fields)
        assert answer.status_code == 303, answer.text
        return self.get(answer.headers["location"])


@pytest.fixture
def halm(tmp_path):
    return Halm(tmp_path, str(tmp_path / "halm.sqlite"))


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """Seven batches of one shade, the last one off, some heat-set; other shades; looked at only."""
    folder = tmp_path_factory.mktemp("season")
    halm = Halm(folder, str(folder / "halm.sqlite"))
    rng = np.random.default_rng(3)
    said = {"cloth": "cotton", "ink": "Halm base", "recipe": "binder 500 g, red 6 g"}
    for number in range(1, 8):
        lab = np.array(BRICK) + rng.normal(0, 0.3, 3) + (3 if number == 7 else 0)
        halm.keep("Brick", tuple(lab.tolist()), batch=str(number), measured=f"2026-02-{number:02d}", **said)
        if number > 5:
            heated = (lab - [2, 1, 1]).tolist()
            day = f"2026-02-{number + 10}"
            halm.keep("Brick", tuple(heated), batch=str(number), state="heat-set", measured=day, **said)
    halm.keep("River blue", BLUE, batch="1", measured="2026-03-01")
    halm.keep("Moss", MOSS, nominal=True, measured="2026-03-02")
    for shade in ("Fog", "Sand"):
        remove_record(halm.library, halm.keep(shade).number)
    set_target(halm.library, "Sand", (70.0, 5.0, 21.0))
    set_target(halm.library, "Brick", (40.0, 41.0, 25.0), 1.5)
    tag_shade(halm.library, "Brick", ["spring", "wall"])
    tag_shade(halm.library, "River blue", ["spring"])
    note_shade(halm.library, "River blue", "for the curtains")
    return halm


# --- the wall -----------------------------------------------------------------------------------------------


def test_before_anything_is_kept_the_wall_leads_to_the_photo(halm):
    page = halm.get("/shades")
    assert "Nothing is kept yet" in page.text
    assert page.links["/"]
    assert "Nothing has been changed" in halm.get("/changes").text
    assert not (halm.folder / "halm.sqlite").exists()


def test_the_wall_shows_every_shade_with_its_batches_and_last_date(season):
    page, known = season.get("/shades"), shades_dict(season.library)["shades"]
    tiles = page.all("li")[4:]  # the first ones lead to the parts of the studio
    assert len(tiles) == len(known) == 5
    for (_, words), shade in zip(tiles, known, strict=True):
        count, last = len(shade["batches"]), shade["last"]
        assert words.startswith(f"{shade['shade']} {count} batch")
        assert (last["measured"] if last else "colour yet" if not shade["target"] else "the target") in words
        assert ("for comparison only" in words) == (shade["shade"] == "Moss")
    drawn = {attrs["aria-label"] for attrs, _ in page.all("svg")}
    assert "No colour of Fog yet" in drawn
    assert any(name.startswith("Chip of the target of Sand, L* 70.0") for name in drawn)


@pytest.mark.parametrize(
    "asked", [{"text": "CURTAINS"}, {"text": "halm base"}, {"tag": "Spring"}, {"tag": "spring", "text": "red 6 g"}]
)
def test_words_and_tags_find_what_the_library_finds(season, asked):
    known = shades_dict(season.library, asked.get("tag"), asked.get("text"))["shades"]
    links = season.phone.get("/shades", params=asked).text
    found = re.findall(r'href="/shade\?name=([^"]*)"', links)
    assert found == [shade["shade"].replace(" ", "%20") for shade in known]
    assert 0 < len(found) < 3


def test_no_two_buttons_of_the_wall_are_called_the_same(season):
    buttons = [words for _, words in season.get("/shades").all("button")]
    assert len(buttons) == len(set(buttons)) == 3


def test_words_that_no_shade_has_are_told(season):
    assert "No shade fits your search" in season.get("/shades?text=granite").text


# --- by colour ----------------------------------------------------------------------------------------------


def nearest(season, lab):
    return near_dict(nearest_shades(season.library, lab, shades.NEAREST), lab)["nearest"]


@pytest.mark.parametrize(
    ("query", "lab"),
    [
        ("lab=44,-15,20", (44, -15, 20)),
        ("record=10", BLUE),
        ("colour=%23b4463c", srgb_to_lab(np.array([180, 70, 60]) / 255)),
    ],
)
def test_the_nearest_shades_come_first_with_their_difference(season, query, lab):
    page, known = season.get(f"/shades?{query}"), nearest(season, lab)
    assert [words for _, words in page.all("h2")] == [each["record"]["shade"] for each in known]
    told = [float(number) for number in re.findall(r": CIEDE2000 ([0-9.]+)\.", page.text)]
    assert told == [each["ciede2000"] for each in known] == sorted(told)
    assert len(known) == 3
    assert ("picked on a screen is rough" in page.text) == query.startswith("colour")


@pytest.mark.parametrize("text", SPELLINGS)
def test_every_spelling_of_a_colour_is_taken(two, monkeypatch, text):
    found = Mock(wraps=shades.nearest_shades)
    monkeypatch.setattr(shades, "nearest_shades", found)
    two.get(f"/shades?{urlencode({'lab': text})}")
    two.sent("/shade/target", name="Brick", lab=text)
    assert found.call_args.args[1] == two.library.shade("Brick").target == LAB


def test_the_difference_is_told_in_words(season):
    target = shade_account(season.library, "River blue")["last"]
    darker = (target["L"] + 5, target["a"], target["b"])
    first = next(
        words
        for _, words in season.get(f"/shades?lab={darker[0]},{darker[1]},{darker[2]}").all("p")
        if "CIEDE" in words
    )
    assert first.startswith("It is darker")
    assert float(delta_e_2000(BLUE, darker)) == pytest.approx(float(first.split()[-1].rstrip(".")), abs=0.0051)


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("lab=1,2", "not three numbers"),
        ("lab=200,0,0", "not a colour that a surface can have"),
        ("colour=red", "not a screen colour"),
        ("colour=%23ffffffff", "not a screen colour"),
        ("record=x", "is not the number of a record"),
        ("record=12345678901234567890", "is not the number of a record"),
        ("record=99", "There is no record 99"),
    ],
)
def test_a_colour_that_is_none_is_refused(season, query, words):
    assert words in season.get(f"/shades?{query}", 422).text


def test_a_record_of_a_nominal_card_is_no_sure_colour_to_look_by(season):
    number = shade_account(season.library, "Moss")["last"]["number"]
    assert "for comparison only" in season.get(f"/shades?record={number}").text


# --- one shade ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def brick(season):
    return season.get("/shade?name=bRICK")


def test_a_shade_tells_the_verdict_of_its_last_strip(season, brick):
    library = season.library
    line = dossier(library.shade("Brick"), library.batches("Brick"), library.records("Brick")).latest
    to_target, to_before = line.to_target.verdict, line.to_before.verdict
    assert (to_target.outcome, to_before.outcome) == ("different", "different")
    assert "Different. The last strip is lighter and more vivid than the target (state not said)." in brick.text
    assert f"Against {to_before.difference.reference}: different." in brick.text
    (bar,) = [attrs["aria-label"] for attrs, _ in brick.all("svg") if "(CIEDE2000)" in attrs["aria-label"]]
    low, high = to_target.difference.low, to_target.difference.high
    assert f"{to_target.difference.delta_e:.1f}, 95 % within {low:.1f} to {high:.1f}, tolerance 1.5" in bar


def test_target_and_last_strip_lie_edge_to_edge(brick):
    html = [attrs for attrs, _ in brick.all("svg")]
    assert html[0]["aria-label"].startswith("Chip of the target of Brick, L* 40.0")
    assert html[1]["aria-label"].startswith("Chip of record 9,")
    assert {html[0]["preserveaspectratio"], html[1]["preserveaspectratio"]} == {"none"}


def test_a_shade_s_numbers_are_those_of_the_library(season, brick):
    known = shade_account(season.library, "Brick")
    for record in season.library.records("Brick"):
        lightness, a, b = (f"{value:.2f}" for value in record.colour.lab)
        assert f"L* {lightness}, a* {a}, b* {b}, ± {record.colour.radius:.2f} CIEDE2000" in brick.text
    assert "Target L* 40.00, a* 41.00, b* 25.00 (D65, 10°)" in brick.text
    for past in known["history"]:
        for chart in past["charts"].values():
            assert chart["sentence"] in brick.text
            assert all(signal["sentence"] in brick.text for signal in chart["signals"])
    assert "See batch 7, record 8." in brick.text
    assert brick.text.count("Recipe clear base 500 g, red 6 g") == len(known["batches"]) == 7


def test_a_shade_shows_its_latest_batches_unless_all_are_asked_for(season, monkeypatch):
    monkeypatch.setattr(shades, "AT_ONCE", 3)
    page = season.get("/shade?name=Brick")
    assert [words[:7] for _, words in page.all("summary") if words.startswith("Batch ")] == [
        "Batch 7",
        "Batch 6",
        "Batch 5",
    ]
    assert "Record 9, batch 7" in page.text
    assert "Record 1, batch 1" not in page.text
    (link,) = [link for link, words in page.links.items() if words == "All 7 batches"]
    every = season.get(link)
    assert "Record 1, batch 1" in every.text
    assert not [words for words in every.links.values() if words.startswith("All 7")]


def test_what_heat_setting_did_is_told_with_its_cautions(season, brick):
    for found in pair(season.library.records("Brick")):
        assert pair_dict(found)["sentence"] in brick.text
    assert all(line in brick.text for line in LINES[HEAT])
    assert LINES[HEAT][0] not in season.get("/shade?name=River+blue").text


def test_a_batch_says_when_heat_no_longer_moves_its_colour_in_the_command_s_words(halm):
    set_brick = BRICK[0] - 3.0, BRICK[1] + 3.0, BRICK[2] + 1.0
    halm.keep("Brick", batch="1", mark="A", measured="2026-01-01")
    assert "no longer" not in halm.get("/batch?shade=Brick&batch=1").text
    for day, time in enumerate(("1 min", "2 min", "4 min", "8 min"), start=2):
        said = {"state": f"heat-set 150 C {time} press", "mark": "A", "measured": f"2026-01-0{day}"}
        halm.keep("Brick", set_brick, batch="1", **said)
    page = halm.get("/batch?shade=Brick&batch=1")
    assert "When does heat no longer move the colour?" in page.text
    (series,) = batch_account(halm.library, "Brick", "1")["heating"]
    assert [time["records"] for time in series["times"]] == [[2], [3], [4], [5]]
    for words in (series["heated"], series["sentence"], series["caution"]["sentence"]):
        assert words in page.text
    assert [attrs["aria-label"] for attrs, _ in page.all("svg")] == ["Colour by time of heating, at 150 °C, press"]
    assert cautions(page)


def cautions(page):
    """What is said on the page under each heading of a caution, and whether it is open."""
    folds = [(attrs, words) for attrs, words in page.all("details") if attrs.get("class") == "care"]
    return [(words, "open" in attrs) for attrs, words in folds]


def test_cautions_on_heat_are_open_for_the_first_heat_set_strip_and_folded_from_then_on(halm):
    halm.keep("Brick", BRICK, batch="1", measured="2026-02-01")
    assert cautions(halm.get("/record/1")) == []
    first = halm.keep("Brick", BRICK, batch="1", state="heat-set", measured="2026-02-02")
    for path in ("/record/1", f"/record/{first.number}?kept=1", "/shade?name=Brick"):
        ((words, is_open),) = cautions(halm.get(path))
        assert words.startswith("Caution: heat")
        assert all(line in words for line in LINES[HEAT])
        assert is_open
    second = halm.keep("Moss", MOSS, batch="1", state="heat-set, 150 °C, 4 min, press", measured="2026-02-03")
    for path in ("/record/1", f"/record/{second.number}?kept=1", "/shade?name=Brick"):
        ((words, is_open),) = cautions(halm.get(path))
        assert all(line in words for line in LINES[HEAT])
        assert not is_open


def test_a_recipe_with_fixer_has_its_cautions_at_its_record_and_its_shade(halm):
    halm.keep("Brick", BRICK, batch="1", recipe="clear base 500 g, red 6 g, Fixer 10 g")
    for path in ("/record/1", "/shade?name=Brick"):
        ((words, is_open),) = cautions(halm.get(path))
        assert words.startswith("Caution: fixer")
        assert all(line in words for line in LINES[FIXER])
        assert is_open
    halm.keep("Brick", BRICK, batch="2", recipe="clear base 500 g, red 6 g, hardener 10 g")
    assert [is_open for _, is_open in cautions(halm.get("/shade?name=Brick"))] == [False]


def test_a_shade_leads_to_what_can_be_done_with_it(season, brick):
    assert {"/?shade=Brick", "/pot/again?shade=Brick", "/pot/recipe?shade=Brick"} <= set(brick.links)
    blue = season.get("/shade?name=River%20blue").links
    assert "/?shade=River%20blue" in blue
    assert not [link for link in blue if link.startswith(("/pot/again", "/pot/recipe"))]  # neither recipe nor target


def test_a_shade_without_any_verdict_says_why(season):
    assert "nothing to compare it with yet" in season.get("/shade?name=River+blue").text
    assert "No colour yet" in season.get("/shade?name=Fog").text
    moss = season.get("/shade?name=Moss").text
    assert "For comparison only" in moss


# --- one record ---------------------------------------------------------------------------------------------


def test_a_record_tells_all_that_was_said_of_it(season):
    page = season.get("/record/7")
    for words in ("Record 7: Brick", "State heat-set", "Cloth cotton", "the left strip", "measured with an instrument"):
        assert words in page.text
    assert "Kept as" not in page.text
    record = season.library.record(7)
    assert "CIELAB L* {:.2f}, a* {:.2f}, b* {:.2f}".format(*record.colour.lab) in page.text
    assert "record 6 to 7: Heat setting made it darker" in page.text
    assert LINES[HEAT][0] in page.text


def test_a_let_down_strip_never_stands_for_its_shade(two):
    two.taken = 2  # photos that are kept already
    two.keep("Brick", MOSS, batch="1", let_down="10", coat="0.72 g on 10x10 cm")
    set_target(two.library, "Brick", (40.0, 41.0, 25.0))
    page = two.get("/shade?name=Brick")
    assert "air-dried, let down 1:10" in page.text
    assert {"/record/1", "/record/3"} <= set(page.links)
    assert "record 3, batch 1" not in " ".join(words for _, words in page.all("option"))  # no target
    assert "To the target: let-down strip." in page.text
    assert "72.0 g/m² of wet ink" in two.get("/record/3").text
    nearest = two.get("/shades?record=3").text
    assert "record 3 (Brick, batch 1, let down 1:10, air-dried)" in nearest
    assert "air-dried, 1" not in nearest
    assert two.library.latest()["Brick"].number == 1


def test_a_record_that_was_just_kept_says_so_and_what_comes_next(season):
    page = season.get("/record/10?kept=1")
    assert "Kept as record 10 under River blue, batch 1." in page.text
    assert {"/", "/pot/correct?record=10", "/shade?name=River%20blue"} <= set(page.links)


def test_flags_and_a_nominal_card_are_told_in_words(halm):
    one = halm.keep("Moss", MOSS, nominal=True)
    page = halm.get(f"/record/{one.number}")
    assert "For comparison only" in page.text
    assert page.text.count("was never measured") == 1
    assert not [words for _, words in page.all("button") if "target" in words]
    assert len(one.flags) == 2
    told = {each.code: f"Note: {PAGE.flag(each)}" in page.text for each in one.flags}
    assert told == {"card-nominal": False, "strip-small": True}  # the page says the first in words of its own


def test_a_small_photo_is_made_once_and_shown(halm):
    one = halm.keep("Brick")
    (source,) = [attrs["src"] for attrs, _ in halm.get(f"/record/{one.number}").all("img")]
    answers = [halm.phone.get(source) for _ in range(2)]
    assert [(answer.status_code, answer.content) for answer in answers] == [(200, JPEG)] * 2
    assert answers[0].headers["content-type"] == "image/jpeg"
    assert halm.done == ["small"]


def test_a_photo_that_cannot_be_shown_is_no_error(halm):
    one, other = halm.keep("Brick"), halm.keep("Blue", BLUE)
    digest = one.photos[0].digest
    assert halm.phone.get(f"/record/{other.number}/photo/{digest}.jpg").status_code == 404  # another record's
    assert halm.phone.get(f"/record/{one.number}/photo/..%2f{digest}.jpg").status_code == 404
    path = halm.library.photos.path(digest)
    path.rename(path.with_suffix(".broken"))
    assert halm.phone.get(f"/record/{one.number}/photo/{digest}.jpg").status_code == 404
    path.with_suffix(".broken").unlink()
    assert not halm.get(f"/record/{one.number}").all("img")


@pytest.mark.parametrize(
    "path",
    ["/shade?name=Granite", "/shade", "/shade?name=%00", "/record/99", "/batch?shade=Brick&batch=99", "/batch?shade=x"],
)
def test_what_is_not_there_is_refused(season, path):
    page = season.get(path, 422)
    assert page.all("h1")[0][1].startswith(("There is no", "Shade 'Brick' has no batch called '99'"))


def test_a_number_that_is_none_has_no_page(season):
    for path in ("/record/x", "/record/12345678901234567890", "/record/-1", "/record/1/photo/x.jpg"):
        assert season.phone.get(path).status_code == 404


# --- the forms ----------------------------------------------------------------------------------------------

FORMS = [
    ("/shade/target", {"lab": "40, 41, 25", "tolerance": "1,5"}, "to 40, 41, 25, with a tolerance of 1.5"),
    ("/shade/target", {"record": "1"}, "target of shade 'Brick' to 41, 42, 25"),
    ("/shade/target", {"tolerance": "0.8"}, "the tolerance of shade 'Brick' to 0.8"),
    ("/shade/tags", {"tags": "spring,  Wall "}, "tagged shade 'Brick': spring, wall"),
    ("/shade/notes", {"notes": "for the\r\ncurtains"}, "wrote notes on shade 'Brick'"),
    ("/shade/rename", {"new_name": "Deep  brick"}, "renamed shade 'Brick' to 'Deep brick'"),
    ("/shade/merge", {"into": "blue"}, "merged shade 'Brick' into 'Blue'"),
    ("/shade/remove", {}, "removed shade 'Brick' with its batches"),
    ("/batch", {"batch": "1", "new_name": "one", "recipe": "binder 500 g\r\nred 4 drops", "drop": "0.04"}, "batch '1'"),
    ("/record/1/amend", {"state": "washed", "washes": "3", "cloth": "linen", "notes": "pale"}, "corrected record 1"),
    ("/record/1/amend", {"coat": "0,72 g on 10x10 cm", "let_down": "10"}, "coat, let-down"),
    ("/record/1/remove", {}, "removed record 1"),
]  # fmt: skip


def state(library):
    return library.shades(), library.batches(), [facts(record) for record in library.records()]


@pytest.fixture(scope="module")
def two_shades(tmp_path_factory):
    folder = tmp_path_factory.mktemp("two")
    halm = Halm(folder, str(folder / "halm.sqlite"))
    halm.keep("Brick", batch="1")
    halm.keep("Blue", BLUE, batch="1")
    return folder


@pytest.fixture
def two(tmp_path, two_shades):
    shutil.copytree(two_shades, tmp_path, dirs_exist_ok=True)
    return Halm(tmp_path, str(tmp_path / "halm.sqlite"))


@pytest.mark.parametrize(("path", "fields", "words"), FORMS, ids=[f"{path} {[*fields]}" for path, fields, _ in FORMS])
def test_a_form_changes_the_library_and_its_undo_brings_back_what_was(two, path, fields, words):
    before = state(two.library)
    page = two.sent(path, name="Brick", **fields)
    assert state(two.library) != before
    (notice,) = [said for attrs, said in page.all("div") if attrs.get("role") == "status"]
    assert words in notice
    (undo,) = [attrs["action"] for attrs, _ in page.all("form") if attrs["action"].startswith("/changes/")]
    hidden = {
        attrs["name"]: attrs["value"]
        for attrs, _ in page.all("input")
        if attrs.get("name") in ("shade", "record", "wall")
    }
    back = two.sent(undo, **hidden)
    assert state(two.library) == before
    assert "undid change 1" in back.text


def test_what_was_undone_can_be_done_again(two):
    note_shade(two.library, "Brick", "pale")
    for number in (1, 2):
        page = two.sent(f"/changes/{number}/undo")
        (undo,) = [
            attrs["action"] for attrs, _ in page.all("form") if attrs["action"] == f"/changes/{number + 1}/undo"
        ][:1]
        assert undo
        assert two.library.shade("Brick").notes == ("" if number == 1 else "pale")


def test_two_shades_are_shown_side_by_side_before_they_are_made_one(two):
    (form,) = [attrs for attrs, _ in two.get("/shade?name=Brick").all("form") if attrs["action"] == "/shade/merge"]
    assert form["method"] == "get"
    page = two.get("/shade/merge?name=Brick&into=blue")
    drawn = [attrs["aria-label"] for attrs, _ in page.all("svg")][:2]
    assert [words.partition(",")[0] for words in drawn] == ["Chip of record 1", "Chip of record 2"]
    assert f"CIEDE2000 {float(delta_e_2000(BRICK, BLUE)):.2f} apart" in page.text
    assert log(two.library) == []
    said = {attrs["name"]: attrs["value"] for attrs, _ in page.all("input")}
    assert "merged shade 'Brick' into 'Blue'" in two.sent("/shade/merge", **said).text
    assert "same shade" in two.get("/shade/merge?name=Blue&into=blue", 422).text


def test_two_shades_without_strips_cannot_be_told_apart(season):
    for one in ("Sand", "Moss"):  # of one there is no strip, and the other's card was never measured
        assert "does not show how far apart they are" in season.get(f"/shade/merge?name={one}&into=Brick").text
    page = season.get("/shade/merge?name=River+blue&into=Brick")
    assert "one strip is air-dried, the other heat-set: that alone may make them differ" in page.text


def test_tags_are_taken_off_and_notes_keep_their_lines(two):
    tag_shade(two.library, "Brick", ["a, b", "spring"])
    two.sent("/shade/tags", name="Brick", off=["a, b"])
    two.sent("/shade/notes", name="Brick", notes="\r\nfor the\r\ncurtains")
    shade = two.library.shade("Brick")
    assert (shade.tags, shade.notes) == (("spring",), "for the\ncurtains")


def test_the_amended_batch_and_record_are_what_was_typed(two):
    two.sent("/batch", name="Brick", **FORMS[8][1])
    two.sent("/record/1/amend", **FORMS[9][1])
    record, batch = two.library.record(1), two.library.batches("Brick")[0]
    assert (str(record.state), record.cloth, record.notes, record.batch) == ("washed 3 times", "linen", "pale", "one")
    assert [(part.what, round(part.grams, 2)) for part in batch.recipe.parts] == [("binder", 500.0), ("red", 0.16)]


def filled(page):
    """What the fields of a page's last form are filled with, as a browser sends it."""
    sent = [attrs for attrs, _ in page.all("input") if "name" in attrs]
    said = {one["name"]: one.get("value", "") for one in sent if one.get("type") != "radio" or "checked" in one}
    return said | {attrs["name"]: words for attrs, words in page.all("textarea")}


def test_forms_are_filled_with_what_is_there_and_then_change_nothing(two):
    two.sent("/batch", name="Brick", batch="1", recipe="binder 287.0903 g\nred 4 drops", drop="0.04", ink="Halm base")
    two.sent("/record/1/amend", state="washed", washes="3", cloth="linen", coat="0.72 g on 10x10 cm", let_down="2,5")
    before = state(two.library)
    for place, form in (("/batch?shade=brick&batch=1", "/batch"), ("/record/1", "/record/1/amend")):
        said = filled(two.get(place))
        assert "Nothing was changed" in two.post(form, **said).text
        cleared = {name: "" for name in ("ink", "cloth") if name in said}
        assert "can't be left empty" in Page(two.post(form, **(said | cleared)).text).text
    assert state(two.library) == before
    two.sent("/batch", **(filled(two.get("/batch?shade=brick&batch=1")) | {"recipe": "binder 300 g\nred 5 drops"}))
    assert [part.grams for part in two.library.batches("Brick")[0].recipe.parts] == [300, pytest.approx(0.2)]


@pytest.mark.parametrize(("button", "kept"), [("Yes, red", "red"), ("No, rad is new", "rad")])
def test_a_pigments_name_that_may_be_a_slip_is_asked_about_with_two_buttons(two, button, kept):
    two.sent("/batch", name="Brick", batch="1", recipe="binder 300 g\nred 4 drops")
    asked = two.post("/batch", **(filled(two.get("/batch?shade=brick&batch=1")) | {"recipe": "binder 300 g, Rad 1 g"}))
    page = Page(asked.text)
    assert "'Rad' is new: did you mean 'red'?" in page.text
    buttons = {words: attrs["value"] for attrs, words in page.all("button") if attrs.get("name") == "spelling"}
    assert list(buttons) == ["Yes, red", "No, Rad is new"]
    two.sent("/batch", **(filled(page) | {"spelling": buttons[button.replace("rad", "Rad")]}))
    (recipe,) = [batch.recipe for batch in two.library.batches("Brick")]
    assert [part.what.casefold() for part in recipe.parts] == ["binder", kept]
    assert {one.name for one in pigments(two.library)} == ({"Rad"} if kept == "rad" else set())


def test_the_drops_of_a_recipe_may_be_weighed_anew(two):
    two.sent("/batch", name="Brick", batch="1", recipe="binder 300 g\nred 4 drops")
    two.sent("/batch", **(filled(two.get("/batch?shade=brick&batch=1")) | {"drop": "0,03"}))
    assert two.library.batches("Brick")[0].recipe.parts[1].grams == pytest.approx(0.12)


@pytest.mark.parametrize(
    ("state", "washes", "found"), [("air-dried", "3", "washed 3 times"), ("washed", "", "washed once")]
)
def test_a_number_of_washes_says_that_it_was_washed(two, state, washes, found):
    two.sent("/record/1/amend", state=state, washes=washes)
    assert str(two.library.record(1).state) == found


def test_a_record_tells_its_batch_s_recipe_and_ink_as_a_scale_shows_it(two):
    two.sent("/batch", name="Brick", batch="1", recipe="binder 287.0903 g, red 0.00412 g", ink="Halm base")
    assert "Recipe clear base 287.09 g, red 0.0041 g Ink Halm base" in two.get("/record/1").text
    assert "Recipe clear base 287.09 g, red 0.0041 g" in two.get("/shade?name=Brick").text


@pytest.mark.parametrize(
    ("path", "fields", "words"),
    [
        ("/shade/target", {}, "Nothing was filled in"),
        ("/shade/target", {"lab": "40,41,25", "record": "1"}, "Numbers and a record"),
        ("/shade/target", {"lab": "40"}, "not three numbers"),
        ("/shade/target", {"tolerance": "0"}, "Tolerance: 0 can't be right. Please type a number from 0.01 to 100."),
        ("/shade/target", {"tolerance": "-1"}, "Tolerance: '-1' can't be read as a number. Please type a number"),
        (
            "/batch",
            {"batch": "1", "recipe": "binder 9 g", "scale": "x"},
            "The scale’s step: 'x' can't be read",
        ),
        ("/shade/tags", {"tags": " , "}, "Nothing was filled in"),
        ("/shade/rename", {"new_name": "BLUE"}, "There is already a shade called 'BLUE'"),
        ("/shade/rename", {"new_name": ""}, "The field 'New name' is empty. Fill it in, and send the form again."),
        ("/shade/merge", {"into": "brick"}, "the same shade"),
        ("/batch", {"batch": "1"}, "Nothing was changed"),
        ("/shade/rename", {"new_name": "Brick"}, "Nothing was changed"),
        ("/batch", {"batch": "1", "recipe": "much red"}, "much red"),
        ("/batch", {"batch": "1", "mixed": "2026-02-30"}, "'2026-02-30' is not a date"),
        ("/record/1/amend", {}, "Nothing was changed"),
        (
            "/record/1/amend",
            {"state": "wet", "washes": "3"},
            "You chose 'wet', but also typed that the strip was washed 3 times.",
        ),
        ("/record/1/amend", {"state": "burnt"}, "not one of the choices"),
        ("/record/1/amend", {"coat": "much"}, "'much' can't be read as a weight"),
        ("/record/1/amend", {"let_down": "a lot"}, "'a lot' does not say how far"),
        ("/changes/77/undo", {}, "There is no change 77"),
    ],
)
def test_a_form_that_makes_no_sense_is_refused_and_changes_nothing(two, path, fields, words):
    before = state(two.library)
    answer = two.post(path, name="Brick", **fields)
    assert answer.status_code == 422
    text = Page(answer.text).text
    assert words in text
    assert "--" not in text
    assert state(two.library) == before
    assert log(two.library) == []


def test_a_recipe_is_never_the_name_of_a_file_on_the_computer(two, monkeypatch):
    file = two.folder / "secret"
    file.write_text("binder 500 g, password 4 g")
    monkeypatch.chdir(two.folder)
    for name in (str(file), "secret"):
        answer = two.post("/batch", name="Brick", batch="1", recipe=name)
        assert answer.status_code == 422
        assert "password" not in answer.text
    assert two.library.batches("Brick")[0].recipe is None


def test_forms_need_their_token(two):
    for path, fields, _ in FORMS:
        assert two.phone.post(path, data={"name": "Brick"} | fields).status_code == 403
    assert two.phone.post("/changes/1/undo").status_code == 403
    assert log(two.library) == []


def test_a_change_that_was_built_upon_is_not_undone(two):
    for name, fresh in (("Brick", "Clay"), ("Clay", "Loam")):
        two.sent("/shade/rename", name=name, new_name=fresh)
    assert "a later change builds on it" in Page(two.post("/changes/1/undo").text).text
    assert [one.undone for one in log(two.library)] == [False, False]


def test_no_address_puts_words_of_its_own_on_a_page(two):
    two.sent("/shade/notes", name="Brick", notes="x")
    for query in ("done=%3Cb%3Ehalm", "done=77", "done=1+1", "done=99999999999999999999", "done=%C2%B9"):
        assert not [words for attrs, words in two.get(f"/shades?{query}").all("div") if attrs.get("role") == "status"]


def test_the_list_of_changes_is_the_newest_first_in_parts(two, monkeypatch):
    monkeypatch.setattr(changes, "AT_ONCE", 3)
    for number in range(7):
        note_shade(two.library, "Brick", str(number))
    assert [words for _, words in two.get("/changes").all("h1", "title")] == ["Changes – swatchcam", "Changes"]
    seen, path = [], "/changes"
    while path:
        page = two.get(path)
        seen += [int(words.partition(":")[0]) for _, words in page.all("h2")]
        path = next((link for link in page.links if link.startswith("/changes?")), None)
    assert seen == [7, 6, 5, 4, 3, 2, 1]
    assert len([words for _, words in two.get("/changes").all("button") if words == "Undo"]) == 3


# --- phones -------------------------------------------------------------------------------------------------


def test_a_page_that_only_the_computer_reaches_shows_no_square(halm):
    page = halm.get("/phones")
    assert "Only the studio's computer itself can reach the page now" in page.text
    assert "http://" not in page.text
    assert not page.all("svg")
    lan = studio_in(halm.folder, hosts=("10.0.0.5", "127.0.0.1"))
    shown = Page(visitor(lan, (), lan.phones.add("Other")).get("/phones").text)
    assert "http://10.0.0.5" in shown.text
    assert shown.all("svg")


def test_a_phone_is_locked_out_by_a_button_in_a_fold(halm):
    halm.studio.phones.add("Other")
    page = halm.get("/phones")
    assert [words for _, words in page.all("button")] == ["Yes, lock this phone out", "Yes, remove Other"]
    assert [words for _, words in page.all("summary")] == ["Lock this phone out", "Remove Other"]
    assert not [attrs for attrs, _ in page.all("details") if "open" in attrs]


# --- names, structure, servers ------------------------------------------------------------------------------


def test_a_hostile_name_is_shown_letter_by_letter_and_its_forms_work(halm):
    for name in HOSTILE:
        halm.keep(name, batch=name, cloth=name, notes=name)
    wall = halm.get("/shades")
    links = [link for link in wall.links if link.startswith("/shade?")]
    assert sorted(halm.get(link).all("h1")[0][1] for link in links) == sorted(HOSTILE)
    for name in HOSTILE[:2]:
        page = halm.sent("/shade/tags", name=name, tags=name)
        hidden = [(attrs["name"], attrs["value"]) for attrs, _ in page.all("input") if "value" in attrs]
        assert {said for field, said in hidden if field == "name"} == {name}
        assert [said for field, said in hidden if field == "off"] == [name.casefold()]
        pot, tagged = (
            next(link for link in page.links if link.startswith(path)) for path in ("/batch?", "/shades?tag=")
        )
        assert halm.get(pot).all("h1")[0][1] == f"Batch {name} of {name}"
        assert name in halm.get(tagged).text
    changes = halm.get("/changes")
    assert all(name.casefold() in changes.text for name in HOSTILE[:2])
    assert [attrs["src"].partition("?")[0] for attrs, _ in changes.all("script")] == ["/static/page.js"]


@pytest.mark.parametrize(
    "path",
    [
        "/shades",
        "/shades?lab=44,-15,20",
        "/shade?name=Brick",
        "/shade?name=Fog",
        "/record/7",
        "/changes",
        "/batch?shade=Brick&batch=3",
        "/shade/merge?name=Brick&into=River+blue",
        "/shade/merge?name=Sand&into=Moss",
        "/phones",
    ],
)
def test_pages_are_in_order_for_those_who_hear_them_and_need_no_script(season, path):
    page = season.get(path)
    levels = [int(tag[1]) for tag, _, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    ids = [attrs["id"] for _, attrs, _ in page.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    labelled = {attrs["for"] for attrs, _ in page.all("label") if "for" in attrs}
    for tag, attrs, _ in page.elements:
        if tag in ("input", "select", "textarea") and attrs.get("type") not in ("hidden", "checkbox", "radio"):
            assert attrs["id"] in labelled
        assert not [name for name in attrs if name == "style" or name.startswith("on")]
        assert attrs.get("aria-describedby", ids[0]) in ids
    for attrs, _ in page.all("form"):
        assert attrs["method"] in ("get", "post")


def test_it_is_the_same_on_a_server(place, tmp_path):
    halm = Halm(tmp_path, place)
    halm.keep("Brick", batch="1")
    halm.keep("Blue", BLUE, batch="1")
    assert "2 shades" in halm.get("/shades").text
    assert [words for _, words in halm.get("/shades?record=2").all("h2")] == ["Blue", "Brick"]
    page = halm.sent("/shade/rename", name="brick", new_name="Clay")
    assert page.all("h1")[0][1] == "Clay"
    halm.sent("/changes/1/undo")
    assert halm.get("/shade?name=Brick").all("h1")[0][1] == "Brick"
    assert "There is no record 999999999" in halm.get("/record/999999999", 422).text
