"""Pages of a stained cloth: the grade of the command line, kept with the strip that was rubbed or washed."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.library.library import open_library
from swatchcam.library.records import parse_state
from swatchcam.web.jobs.photo_tasks import TASKS
from tests.paths import SAMPLES
from tests.web.browser import CARD
from tests.web.test_photos import Visit
from tests.worlds.cheap_measurements import put

PHOTO = SAMPLES / "stained.jpg"
FILE = {"photos": ("IMG 7.jpg", PHOTO.read_bytes(), "image/jpeg")}


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """What a worker makes of the photo, sent as one of cloth and sent as one of strips."""
    found = {}
    for staining in (True, False):
        folder = tmp_path_factory.mktemp("worked")
        asked = {"card": CARD, "staining": staining}
        job = {"asked": asked, "files": [str(PHOTO)], "names": ["IMG 7.jpg"], "folder": str(folder)}
        found[staining] = json.dumps(TASKS["photo"](job))
    return found


@pytest.fixture
def visit(tmp_path):
    visit = Visit(tmp_path)
    library = open_library(visit.library, create=True)
    for number, state in enumerate(("rubbed, wet", "air-dried", "washed 3"), start=1):
        put(library, tmp_path / "shots", number, batch=str(number), state=parse_state(state))
    return visit


def sent(visit, answers, **said):
    """The photo on the tray, measured; its address."""
    place = visit.post("/photo", FILE, card=CARD, **said).headers["location"]
    return measured(visit, answers, place)


def measured(visit, answers, place):
    item = visit.studio.tray.item(place.rpartition("/")[2])
    worked = json.loads(answers[bool(item.asked["staining"])].replace(str(PHOTO), str(item.files[0])))
    visit.studio.tray.answer(item.id, worked)
    return place


def typed():
    done = CliRunner().invoke(main, ["check", str(PHOTO), "--staining", "--card", CARD, "--json"])
    return json.loads(done.stdout)


def test_it_says_what_the_command_line_says(visit, answers):
    facts, (status, page) = typed(), visit.get(sent(visit, answers, staining="yes"))
    assert status == 200
    assert page.count(facts["sentence"]) == 1
    low, high = facts["interval95"]
    assert f"Staining difference {facts['difference']:.1f}, in 95 of 100 cases {low:.1f} to {high:.1f}" in page
    assert facts["caution"] in page
    assert not re.search(r"--[a-z]|swatchcam (check|keep|record)", page)
    assert f"staining grade {facts['grade']}" in visit.get("/")[1]


def test_cloth_lying_the_other_way_round_is_one_tap_away(visit, answers):
    place = sent(visit, answers, staining="yes")
    assert "The stained cloth is in the left" in visit.get(place)[1]
    assert "wrong way round" in visit.get(f"{place}?strip=left")[1]
    status, page = visit.get(f"{place}?strip=middle")
    assert (status, "has no strip called 'middle'" in page) == (422, True)


def test_a_photo_sent_as_strips_becomes_one_of_cloth_by_one_button(visit, answers):
    place = sent(visit, answers)
    form = visit.client.get(place).text
    assert "See how much colour came off" in form
    again = visit.post(f"{place}/again", card=CARD, row="", staining="yes").headers["location"]
    assert again != place
    assert typed()["sentence"] in visit.get(measured(visit, answers, again))[1]


@pytest.mark.parametrize("number", [1, 3])
def test_the_grade_is_kept_with_the_strip_and_shown_there(visit, answers, number):
    assert "Grade the white cloth" in visit.get(f"/record/{number}")[1]
    first = visit.client.get(f"/?staining={number}").text
    assert "Grade a stained cloth" in first
    assert f'name="record" value="{number}"' in first
    place = sent(visit, answers, staining="yes", record=str(number))
    assert f'<option value="{number}" selected>' in visit.client.get(place).text
    kept = visit.post(f"{place}/staining", record=str(number), strip="right")
    assert (kept.status_code, kept.headers["location"]) == (303, f"/record/{number}?done=1")
    facts, page = typed(), visit.get(kept.headers["location"])[1]
    assert f"kept staining grade {facts['grade']} with record {number}" in page
    assert facts["sentence"] in page
    assert "IMG 7.jpg" in page
    assert facts["sentence"] in visit.get("/shade?name=Brick")[1]
    assert f"The grade is kept with record {number}" in visit.get(place)[1]
    stored = open_library(visit.library).record(number).staining
    assert (stored.grade, stored.photos[0].name) == (facts["grade"], "IMG 7.jpg")
    assert f"/record/{number}/photo/{stored.photos[0].digest}.jpg" in visit.client.get(f"/record/{number}").text
    visit.post("/changes/1/undo", record=str(number))
    assert facts["sentence"] not in visit.get(f"/record/{number}")[1]


@pytest.mark.parametrize(
    ("record", "problem"),
    [("2", "neither rubbed nor washed"), ("99", "There is no record 99"), ("x", "'x' is not a whole number")],
)
def test_what_it_cannot_be_kept_with_is_told(visit, answers, record, problem):
    kept = visit.post(f"{sent(visit, answers, staining='yes')}/staining", record=record, strip="right")
    assert (kept.status_code, problem in kept.text.replace("&#39;", "'")) == (422, True)


def test_cloth_is_no_strip_and_strips_are_no_cloth(visit, answers):
    cloth, strips = sent(visit, answers, staining="yes"), sent(visit, answers)
    refused = visit.post(f"{cloth}/keep", strip="right", shade="Brick")
    assert "no ink was measured in it" in refused.text
    assert visit.post(f"{strips}/staining", record="1", strip="right").status_code == 422
    assert len(open_library(visit.library).records()) == 3


def test_before_anything_is_kept_the_page_says_what_to_keep_first(tmp_path, answers):
    visit = Visit(tmp_path)
    assert "first keep the strip that was rubbed or washed" in visit.get(sent(visit, answers, staining="yes"))[1]
