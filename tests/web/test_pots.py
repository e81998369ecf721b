"""The photo page tells of the pots what the command line tells, from any number of strips."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.library.amend import judge_shade
from swatchcam.library.library import open_library
from swatchcam.measurement.pot_verdict import POT
from swatchcam.web.jobs.photo_tasks import TASKS
from tests.web.browser import CARD, SAMPLES
from tests.web.test_photos import Visit, words

NAMES = ("smeared", "one_more", "all_more", "loose")
HEADLINES = {"smeared": "Different", "one_more": "Different", "all_more": "Different"}  # of the strips
OF_POTS = {"smeared": "Same proportions", "one_more": "Different shade", "all_more": "Same proportions"}


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """What a worker makes of each photo."""
    folder = tmp_path_factory.mktemp("worked")

    def worked(name):
        photo = SAMPLES / f"{name}.jpg"
        asked = {"card": CARD, "beside": name == "loose"}
        job = {"asked": asked, "files": [str(photo)], "names": [photo.name], "folder": str(folder)}
        return json.dumps(TASKS["photo"](job))

    return {name: worked(name) for name in NAMES}


class Pots(Visit):
    """One phone that sends the sample photos."""

    def __init__(self, folder, answers):
        super().__init__(folder)
        self._answers = answers

    def send(self, name, **said):
        """Where the photo's page is, once a worker has answered."""
        photo = SAMPLES / f"{name}.jpg"
        beside = {"beside": "yes"} if name == "loose" else {}
        file = {"photos": (photo.name, photo.read_bytes(), "image/jpeg")}
        sent = self.post("/photo", file, key=f"{name}{len(said)}", card=CARD, **beside, **said)
        place = sent.headers["location"]
        item = self.studio.tray.item(place.rpartition("/")[2])
        self.studio.tray.answer(item.id, json.loads(self._answers[name].replace(str(photo), str(item.files[0]))))
        return place


@pytest.fixture
def phone(tmp_path, answers):
    return Pots(tmp_path, answers)


def by_command(name, *said):
    done = CliRunner().invoke(main, ["check", str(SAMPLES / f"{name}.jpg"), "--card", CARD, *said, "--json"])
    return json.loads(done.stdout)


def headline(phone, place):
    return words(re.search(r"<h1>(.*?)</h1>", phone.client.get(place).text)[1])


@pytest.mark.parametrize("name", HEADLINES)
def test_the_page_says_of_the_pots_what_the_command_line_says(phone, name):
    place = phone.send(name)
    status, page = phone.get(place)
    facts = by_command(name)
    assert status == 200
    assert headline(phone, place) == HEADLINES[name]
    for sentence in facts["pots"]["sentences"]:
        assert page.replace("’", "'").count(sentence) == 1
    split = facts["pots"]["split"]
    assert f"CIEDE2000 {split['shade_ciede2000']:.2f}" in page
    low, high = split["shade_interval95"]
    assert f"({low:.2f} to {high:.2f})" in page
    assert not re.search(r"--[a-z]|swatchcam (check|keep|shade)", page)


@pytest.mark.parametrize("name", OF_POTS)
def test_a_shade_that_is_judged_by_its_pot_says_so_first(phone, name):
    kept = phone.send("smeared")
    assert phone.post(f"{kept}/keep", strip="right", shade="Mauve", batch="1", mark="A").status_code == 303
    judge_shade(open_library(phone.library), "Mauve", POT)
    strip = "left" if name == "smeared" else "right"
    place = phone.send(name, shade="Mauve")
    asked = f"{place}?to=record&record=1&strip={strip}"
    said = "--record", "1", "--strip", strip
    facts = phone.typed("check", str(SAMPLES / f"{name}.jpg"), "--card", CARD, *said)
    assert facts["judged"] == "pot"
    assert headline(phone, asked) == facts["pots"]["outcome"].capitalize() == OF_POTS[name]
    # The headline is not said again below it.
    below = facts["pots"]["sentences"][0].removeprefix("Same proportions. ")
    assert below in phone.get(asked)[1].replace("’", "'")


def test_an_unticked_shade_is_judged_by_its_strips_again(phone):
    kept = phone.send("smeared")
    phone.post(f"{kept}/keep", strip="left", shade="Mauve", batch="1", mark="A")
    for ticked, judge in (({"pot": "yes"}, "pot"), ({}, "strips")):
        assert phone.post("/shade/judge", name="Mauve", **ticked).status_code == 303
        assert open_library(phone.library).shade("Mauve").judge == judge
        box = re.search(r'name="pot" value="yes"( checked)?', phone.client.get("/shade?name=Mauve").text)
        assert bool(box[1]) == (judge == "pot")


def test_further_strips_of_the_photo_are_of_the_same_pot_where_they_are_ticked(phone):
    place = phone.send("loose")
    html = phone.client.get(f"{place}?strip=right&to=strip&other=left&same-beside-1=yes").text
    assert re.search(r'name="same-beside-1" value="yes" checked', html)
    facts = by_command("loose", "--strip", "right", "--strip", "beside-1", "--against", "left")
    low, high = facts["difference"]["interval95"]
    numbers = f"CIEDE2000 {facts['difference']['ciede2000']:.2f}, in 95 of 100 cases {low:.2f} to {high:.2f}"
    assert numbers in words(html)
    alone = phone.client.get(f"{place}?strip=right&to=strip&other=left").text
    assert not re.search(r'name="same-beside-1" value="yes" checked', alone)
    assert numbers not in words(alone)


def test_the_strip_that_is_compared_with_is_never_one_of_the_same_pot(phone):
    place = phone.send("loose")
    asked = f"{place}?strip=right&to=strip&other=left&same-left=yes&same-right=yes&same-nonsense=yes"
    status, page = phone.get(asked)
    facts = by_command("loose", "--strip", "right", "--against", "left")
    low, high = facts["difference"]["interval95"]
    assert status == 200
    assert f"in 95 of 100 cases {low:.2f} to {high:.2f}" in page


def test_the_mean_of_ticked_strips_is_judged_by_numbers(phone):
    asked = "strip=right&to=numbers&numbers=50,30,20&same-beside-1=yes&same-left=yes"
    status, page = phone.get(f"{phone.send('loose')}?{asked}")
    strips = [word for name in ("right", "left", "beside-1") for word in ("--strip", name)]
    facts = by_command("loose", *strips, "--target", "50,30,20")
    assert status == 200
    assert f"CIEDE2000 {facts['difference']['ciede2000']:.2f}" in page


def test_two_strips_in_a_photo_need_no_boxes(phone):
    assert 'name="same-' not in phone.client.get(phone.send("smeared")).text


def test_where_no_cloth_shows_the_page_says_what_to_do(phone):
    place = phone.send("loose")
    _, page = phone.get(f"{place}?strip=right&to=strip&other=left&tolerance=0.2")
    assert "bare cloth" in page
    assert "bare cloth" not in phone.get(f"{place}?strip=right&to=strip&other=left&tolerance=9")[1]
