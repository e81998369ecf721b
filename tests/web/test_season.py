"""A season by command and by page: a heat-set target, a pot mixed for it, dry, set, washed, rubbed; told alike by both.

Command and page have a library each, which start the same; each asks and keeps by itself, in both kinds of database.
The test series are strips of a drawn studio (`inkworld`). Each strip of a pot is drawn for what really is in that pot,
photographed and measured, and what is said of it is held against the drawn truth. Studio and mishaps are invented.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from urllib.parse import urlencode

import numpy as np
import pytest

from swatchcam.library.library import open_library
from swatchcam.library.records import parse_state
from swatchcam.measurement import single_photo
from swatchcam.web.inbox import Tray
from swatchcam.web.jobs.photo_tasks import TASKS
from tests.cli.keyboard import answer, type_in
from tests.measurement.remembered import look_once
from tests.paths import SAMPLES
from tests.web.browser import CARD
from tests.web.test_pot import AtOnce, Phone, form_in, plain
from tests.web.visitor import studio_in
from tests.worlds.inkworld import heat_set
from tests.worlds.lens import Pose
from tests.worlds.mixing_library import CLOTH, FINISHED, LOADS, Shop, studio
from tests.worlds.sample_photos import TINY, table_top
from tests.worlds.scene import SERIES, Ink, render, write_jpeg
from tests.worlds.spectra import difference

WANTED = {"blue": 0.6, "red": 0.9}  # % in the print that is wanted; nobody in the studio knows it
LAST = {"blue": 0.6, "red": 0.7}  # % in the pot that was printed last
DRY, SET, WASHED, RUBBED = "air-dried", "heat-set 150 C 4 min press", "washed 3 times 40 C", "rubbed wet"
FILM = {WASHED: 0.93, RUBBED: 0.97}  # of the film is left after it; invented
SHOTS = "wanted", "dry", "again", "set", "washed", "rubbed"
PAIRS = 8
INK = "halm base"
KEEP = f"--card {CARD} --ink '{INK}' --cloth '{CLOTH}'"
PAGE_ONLY = "asked", "choice"  # facts of a proposal that say where on the page it was chosen
SAME, REFUSED, DIFFERENT, TOO_CLOSE = 0, 3, 4, 5
VERDICTS = {"same": SAME, "different": DIFFERENT, "too close to call": TOO_CLOSE}

pytestmark = pytest.mark.usefixtures("remembered", "remembered_palettes")
HOT = heat_set(studio()[0])
STRIPS = dict(enumerate(((name, load) for name in studio()[0].pigments for load in LOADS), start=1))


# --- the studio, drawn -------------------------------------------------------------------------------------------


def world(state):
    return studio()[0] if state == DRY else HOT


def lab(shares, state=DRY):
    """(3,) true CIELAB of a strip of such ink."""
    return world(state).lab(shares)


@cache
def photo(name, shares, state):
    """JPEG of the print that is wanted, left, and of a strip of so much of each pigment, right."""
    films = ((HOT, WANTED, 1.0), (world(state), dict(shares), FILM.get(state, 1.0)))
    strips = [Ink(np.array([of.truth(ink, film * each) for each in SERIES]), 0.03, specks=2) for of, ink, film in films]
    number = SHOTS.index(name)
    pose = Pose(rotation=2 - number, tilt_x=4 + number, tilt_y=number - 3, fraction=0.86)
    shot = render(table_top(*strips, pose=pose, seed=120 + number, shot=number), TINY)
    path = write_jpeg(shot, Path(f"{name}.jpg"))
    return path.read_bytes()


def photograph(name, shares, state=DRY):
    Path(f"{name}.jpg").write_bytes(photo(name, tuple((one, round(shares[one], 5)) for one in sorted(shares)), state))


def percent(grams):
    whole = sum(grams.values())
    return {name: 100 * weight / whole for name, weight in grams.items() if name != "clear base"}


def put_in(facts):
    return {part["what"]: part["grams"] for part in facts["choices"][0]["put_in"]}


# --- a phone beside the keyboard ---------------------------------------------------------------------------------


class Worker(AtOnce):
    """It measures photos too."""

    def done(self, item):
        if item.kind != "photo":
            return super().done(item)
        files = [str(file) for file in item.files]
        job = {"asked": item.asked, "files": files, "names": item.names, "folder": str(self.tray.path(item.id))}
        return json.loads(json.dumps(TASKS["photo"](job), allow_nan=False))


@dataclass
class Season:
    """The same studio twice: `typed` works in the one, `phone` in the other."""

    desk: str
    page: str
    folder: Path
    sent: dict[str, str] = field(default_factory=dict)  # photo -> its place on the page

    @cached_property
    def phone(self):
        tray = Tray(self.folder / "tray")
        parts = {"tray": tray, "crew": Worker(tray, self.page), "library": self.page, "card": CARD}
        return Phone(studio_in(self.folder, **parts), self.shops[1])

    @cached_property
    def shops(self):
        made = [open_library(place, create=True) for place in (self.desk, self.page)]
        return [Shop(library, self.folder / "shots", heats=True) for library in made]

    def keep(self, *shares_and_names, **said):
        for shop in self.shops:
            shop.keep(*shares_and_names, ink=INK, **said)

    def typed(self, words, code=SAME):
        return answer(f"{words} --library '{self.desk}'", code)

    def read(self, words):
        return type_in(f"{words} --library '{self.desk}'").stdout

    def send(self, name, path="/", **said):
        """A photo from the first page; its address."""
        fields = dict(form_in(self.phone.client.get(path).text, "/photo")) | {"photos": "", "other_light": ""} | said
        file = SAMPLES / "stained.jpg" if name == "stained" else Path(f"{name}.jpg")
        files = {"photos": (file.name, file.read_bytes(), "image/jpeg")}
        fields = {key: value for key, value in fields.items() if key not in ("photos", "other_light")}
        answered = self.phone.client.post("/photo", data=fields, files=files)
        assert answered.status_code == 303, plain(answered.text)
        return answered.headers["location"]

    def kept(self, place, strip, batch, state):
        """Keep a strip of a photo on the page; the number of its record."""
        said = {"shade": "plum", "batch": batch, "state": state, "ink": INK, "cloth": CLOTH}
        there = self.phone.send(f"{place}/keep?strip={strip}", f"{place}/keep", **said)
        return int(re.match(r"/record/(\d+)", there)[1])

    def check(self, name, state):
        """The strip against the target, by command and by page: the command's dict."""
        words = f"check {name}.jpg --shade plum --against-target --state '{state}' --card {CARD}"
        done = type_in(f"{words} --json --library '{self.desk}'")
        facts = json.loads(done.stdout)
        assert done.exit_code == VERDICTS[facts["verdict"]]
        self.sent[name] = place = self.send(name)
        numbers_of(self.show(f"{place}?" + urlencode({"to": "target", "shade": "plum", "state": state})), facts)
        return facts

    def keep_strip(self, name, state):
        """The pot's strip, by command and by page; what the last treatment did, as the command tells it."""
        facts = self.typed(f"keep {name}.jpg --shade plum --batch 1.1 --state '{state}' --card {CARD}")
        place = self.sent.get(name) or self.send(name)
        assert self.kept(place, "right", "1.1", state) == facts["record"]["number"]
        page = self.show(f"/record/{facts['record']['number']}")
        for moved in facts["heat_and_wash"]:
            assert moved["sentence"] in page
        return facts["heat_and_wash"]

    def mixed(self, path, facts, **said):
        """What was mixed at the desk is asked on the page, comes out the same, and is kept there too."""
        item = self.phone.asked(path, **said)
        assert unkept(item.answer["answers"][0]) == unkept(facts)
        choices_of(self.show(f"/mix/{item.id}"), facts)
        kept = facts["kept"]
        self.phone.send(f"/mix/{item.id}", f"/mix/{item.id}/keep", shade=kept["shade"], batch=kept["batch"])

    def pot(self, batch):
        """The number of a batch in the page's library."""
        return next(str(one.number) for one in self.shops[1].library.batches("plum") if one.name == batch)

    def record(self, state):
        """The number of the strip of plum in that state."""
        found = [one for one in self.shops[0].library.records("plum") if one.batch == "1.1"]
        return next(one.number for one in found if one.state == parse_state(state))

    def show(self, path, status=200):
        return plain(self.phone.go(path, status))


@pytest.fixture
def season(request, place, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(single_photo, "take_look", look_once)
    return Season(place, another(request, place, "page"), tmp_path)


def another(request, place, name):
    """The address of one more empty place, in the same kind of database."""
    return request.getfixturevalue("server").empty() if "://" in place else f"{name}.sqlite"


# --- told alike --------------------------------------------------------------------------------------------------


def numbers_of(page, facts):
    """Verdict, difference and interval of a check are those of the command's dict."""
    found = facts["difference"]
    low, high = found["interval95"]
    assert f"CIEDE2000 {found['ciede2000']:.2f}, in 95 of 100 cases {low:.2f} to {high:.2f}" in page
    assert facts["verdict"].capitalize() in page
    for side in ("strip", "reference"):
        assert facts["states"][side] in page
    if after := facts["recalled"]["predicted"]:
        assert f"L* {after['L']:.2f}, a* {after['a']:.2f}, b* {after['b']:.2f}" in page


def unkept(facts):
    """What came out, but for what was kept of it: the desk keeps at once, the page when it is seen."""
    pot = facts["pot"] and facts["pot"] | {"record": None, "records": []}
    return facts | {"pot": pot, "kept": None}


def choices_of(page, facts):
    """Grams, predicted colours and those of the dry strip are those of the command's dict."""
    for part in facts["weighing"][0]["steps"]:
        assert part["words"] in page
    for choice in facts["choices"]:
        for colour in (choice["predicted"], choice["when_dry"]):
            assert f"L* {colour['L']:.2f}, a* {colour['a']:.2f}, b* {colour['b']:.2f}" in page


def holds(found, true):
    low, high = found["interval95"]
    return low <= true <= high


def off(shares, state=SET):
    """True CIEDE2000 of such ink in that state from the print that is wanted."""
    return float(difference(lab(shares, state), lab(WANTED, SET)))


def hits(colour, true):
    """Whether a predicted colour is as near to the truth as it says."""
    return float(difference([colour[axis] for axis in "Lab"], true)) <= colour["interval95_ciede2000"]


# --- the story ---------------------------------------------------------------------------------------------------


def the_series(season):
    """Each pigment at three strengths, dry; nobody has heated any of them yet."""
    season.keep({}, "binder alone", number=0)
    for number, (name, load) in STRIPS.items():
        season.keep({name: load}, f"series {name}", f"{load:g} %", number=number)


def the_target(season):
    """An old print hangs on the wall. Its numbers are the target, then its record, whose state is the target's."""
    photograph("wanted", LAST)
    kept = season.typed(f"keep wanted.jpg --strip left --shade plum --batch old --state '{SET}' {KEEP}")["record"]
    assert kept["state"] == str(FINISHED)
    for said in (f"--target 50,40,30 --target-state '{SET}'", f"--from-record {kept['number']}"):
        (change,) = season.typed(f"shade set plum {said}")["changes"]
        assert change["facts"]["state"] == str(FINISHED)

    place = season.send("wanted")
    record = season.kept(place, "left", "old", SET)
    assert record == kept["number"]
    season.phone.send("/shade?name=plum", "/shade/target", record=str(record))
    assert "target heat-set, 150 °C, 4 min, press" in season.show("/shade?name=plum")
    return place


def before_there_are_pairs(season, place):
    """A dry strip against the heat-set target: nobody can tell, and both states are named."""
    refused = season.typed(f"check wanted.jpg --shade plum --against-target --card {CARD}", REFUSED)["refused"]
    told = {name: refused["facts"][name] for name in ("strip", "reference", "pairs")}
    assert (refused["code"], told) == (
        "states-differ",
        {"strip": DRY, "reference": str(FINISHED), "pairs": 0},
    )
    assert refused["problem"] in season.show(f"{place}?to=target&shade=plum&state={DRY}", 422)


def the_pairs(season):
    """Some of the series' strips are heat-set, and kept again."""
    for number, (name, load) in list(STRIPS.items())[-PAIRS:]:
        said = {"state": FINISHED, "measured": "2026-03-02", "photo": 5000 + number}
        season.keep({name: load}, f"series {name}", f"{load:g} %", number=number, **said)


def a_pot_for_it(season):
    """The recipe aims at the finished colour, and says what the dry strip must look like."""
    order = "--shade plum --grams 300 --scale 0.01"
    facts = season.typed(f"mix recipe {order} --keep --as 1")
    assert facts["state"] == facts["target"]["state"] == str(FINISHED)
    (first, *_), mixed = facts["choices"], percent(put_in(facts))
    assert off(mixed) < first["interval95"][1]
    assert off(mixed) < off(LAST)
    assert hits(first["predicted"], lab(mixed, SET))
    assert hits(first["when_dry"], lab(mixed))

    season.mixed("/pot/recipe?shade=plum", facts, grams="300", scale="0.01")
    return put_in(facts)


def its_dry_strip(season, grams):
    """Two fifths of the blue stayed on the spoon. The strip is carried over; the correction aims at heat-set."""
    real = grams | {"blue": 0.6 * grams["blue"]}
    photograph("dry", percent(real))
    checked = season.check("dry", DRY)
    assert checked["states"]["carried_over"] == "strip"
    assert checked["states"]["compared_in"] == "heat-set"
    assert checked["states"]["pairs"] == PAIRS
    assert holds(checked["difference"], off(percent(real)))
    assert hits(checked["recalled"]["predicted"], lab(percent(real), SET))

    facts = season.typed(f"mix correct dry.jpg --shade plum --in-pot 300 --scale 0.01 --card {CARD} --keep")
    assert facts["state"] == facts["target"]["state"] == str(FINISHED)
    added = put_in(facts)
    assert set(added) == {"blue"}
    scale = 300 / sum(real.values())  # what was spilt is not in the pot; it holds 300 g of what is
    mended = {name: scale * weight + added.get(name, 0.0) for name, weight in real.items()}
    assert off(percent(mended)) < 0.5 * off(percent(real))
    assert hits(facts["choices"][0]["when_dry"], lab(percent(mended)))

    place = season.sent["dry"].rpartition("/")[2]
    season.mixed(
        f"/pot/correct?photo={place}&strip=right", facts, pot=season.pot("1"), target="shade", grams="300", scale="0.01"
    )
    return percent(mended)


def dry_set_washed_rubbed(season, mended):
    """The corrected pot's strip is kept in each state, and held against the target."""
    for name, state in (("again", DRY), ("set", SET), ("washed", WASHED), ("rubbed", RUBBED)):
        photograph(name, mended, state)
    assert season.check("again", DRY)["verdict"] != "different"
    season.keep_strip("again", DRY)
    found = season.check("set", SET)
    assert found["states"]["carried_over"] is None
    assert holds(found["difference"], off(mended))
    (moved,) = season.keep_strip("set", SET)
    assert holds(moved["ciede2000"], float(difference(lab(mended, SET), lab(mended))))
    (faded,) = season.keep_strip("washed", WASHED)
    assert faded["grey_scale_grade"]
    season.keep_strip("rubbed", RUBBED)


def the_stained_cloth(season):
    """The white cloth that the strip was rubbed with is graded, and the grade kept with the strip."""
    number = season.record(RUBBED)
    season.typed(f"record {number} --stained '{SAMPLES / 'stained.jpg'}' --card {CARD}")
    kept = season.typed(f"record {number}")["staining"]
    place = season.send("stained", f"/?staining={number}")
    page = season.show(place)
    low, high = kept["interval95"]
    assert kept["sentence"] in page
    assert f"{kept['difference']:.1f}, in 95 of 100 cases {low:.1f} to {high:.1f}" in page
    season.phone.send(place, f"{place}/staining", record=str(number))
    assert kept["sentence"] in season.show(f"/record/{number}")


def what_is_written(place):
    """All that can be read of a library about plum, but for where it lies, and when and on which page it was asked."""
    words = "shade show plum", "batch plum 1.1", "mix predictions"
    told = [answer(f"{each} --library '{place}'") | {"library": ""} for each in words]
    for form in ("json", "csv"):
        answer(f"library export {form} --output all.{form} --replace --library '{place}'")
    everything = json.loads(Path("all.json").read_text(encoding="utf-8"))
    everything["proposals"] = [
        each | {"made": "", "facts": {name: fact for name, fact in each["facts"].items() if name not in PAGE_ONLY}}
        for each in everything["proposals"]
    ]
    return [*told, everything, Path("all.csv").read_text(encoding="utf-8-sig").splitlines()]


def both_libraries_are_alike(season, restored):
    """What the page kept is what the desk kept, and a library that was restored from a backup is the same again."""
    desk, page = (what_is_written(place) for place in (season.desk, season.page))
    assert page == desk
    shade, shown = desk[0], season.show("/shade?name=plum")
    assert [past["state"] for past in shade["history"]] == [DRY, "heat-set", "washed 3 times", "rubbed"]
    for each in (*shade["heat_and_wash"], *shade["staining"]):
        assert each["sentence"] in shown
    season.typed("library backup season.zip")
    answer(f"library restore season.zip --library '{restored}'")
    assert what_is_written(restored) == desk


def test_a_season_by_command_and_by_page(season, request):
    the_series(season)
    place = the_target(season)
    before_there_are_pairs(season, place)
    the_pairs(season)
    mended = its_dry_strip(season, a_pot_for_it(season))
    dry_set_washed_rubbed(season, mended)
    the_stained_cloth(season)
    both_libraries_are_alike(season, another(request, season.desk, "restored"))
