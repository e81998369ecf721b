"""The pages of the pot ask what the command line asks and show what it answers; nothing typed or ticked is lost."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from datetime import date
from html import unescape
from html.parser import HTMLParser

import pytest

from swatchcam.colorimetry.lab_text import parse_lab
from swatchcam.errors import SwatchcamError, UsageError
from swatchcam.library.changes import remove_record, set_target
from swatchcam.library.labels import readable, recipe_words
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import keep_proposal, proposals
from swatchcam.library.save import Entry, prepare, put
from swatchcam.measurement.summary import sitting_dict, sitting_from, sitting_of
from swatchcam.messages.message import flag, flag_from_json
from swatchcam.messages.surface import PAGE
from swatchcam.mixing.fresh_pot import new_recipe, repeated
from swatchcam.mixing.keep_choice import keep_choice, proposal_for
from swatchcam.mixing.order import Order
from swatchcam.mixing.pot_in_hand import correct_sitting
from swatchcam.mixing.prediction_check import checked_predictions, prediction_rate
from swatchcam.mixing.requests import CorrectionRequest, Hand, PrintConditions
from swatchcam.mixing.target import TargetRequest, of_strip
from swatchcam.recipes.ink_deposit import laid_meant
from swatchcam.recipes.ink_quantity import amount, losses_of
from swatchcam.recipes.print_run import Run
from swatchcam.recipes.recipe import Part, Recipe
from swatchcam.report.mixing import answer_dict, prediction_check_dict
from swatchcam.report.plots.colour_plots import screen_colour
from swatchcam.report.quantities import amount_dict, amount_text
from swatchcam.report.said import flag_dicts
from swatchcam.web.inbox import Tray
from swatchcam.web.jobs.photo_tasks import TASKS
from swatchcam.web.pages import amount as amount_page
from swatchcam.web.pages import mix_form, mix_result, shelf, studio_form
from swatchcam.web.pages.mix_question import lab_typed
from tests.colorimetry.spellings import LAB, SPELLINGS
from tests.web.visitor import studio_in, visitor
from tests.worlds.mixing_facts import in_a_kitchen
from tests.worlds.mixing_library import CLOTH, ORANGE, WANTED, Camera, Shop, asked_and_kept, orange_shop
from tests.worlds.studio_records import HOSTILE

pytestmark = pytest.mark.usefixtures("remembered_palettes")

PALE = {"red": 0.5, "yellow": 0.5}
ORDER = Order(480, 0.01, ("red", "yellow"))
SAID = {"grams": "480,0", "scale": "0.01", "pigments": ["red", "yellow"]}  # the same in a form
PAGES = [*mix_form.routes, *mix_result.routes, *amount_page.routes, *studio_form.routes, *shelf.routes]
COMMANDS = re.compile(r"--[a-z]|swatchcam [a-z]")


class AtOnce:
    """Workers that have done everything as soon as it is handed over; what they say travels as JSON."""

    def __init__(self, tray, library):
        self.tray, self.library, self.asked = tray, library, []

    def start(self):
        pass

    def stop(self):
        pass

    def place(self, id):
        return 0

    def hand_over(self, id):
        item = self.tray.item(id)
        if item.state == "waiting":
            self.asked.append(id)
            self.tray.answer(id, self.done(item))

    def done(self, item):
        try:
            job = json.loads(json.dumps({"asked": item.asked, "library": self.library}, allow_nan=False))
            return json.loads(json.dumps(TASKS[item.kind](job), allow_nan=False))
        except SwatchcamError as error:
            return {"refused": error.as_json()}


class Forms(HTMLParser):
    """The forms of a page, as a browser would send them untouched: action -> [(field, value)]."""

    def __init__(self, html):
        super().__init__()
        self.forms, self.fields, self.select, self.option, self.area = {}, None, None, None, None
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        if tag == "form":
            self.fields = self.forms.setdefault(said["action"], [])
        elif tag == "input" and said.get("name"):
            if said.get("type") not in ("checkbox", "radio") or "checked" in said:
                self.fields.append((said["name"], said.get("value", "")))
        elif tag == "select":
            self.select = [said["name"], None]
        elif tag == "option" and self.select:
            self.option = said
        elif tag == "textarea":
            self.area = said["name"]

    def handle_data(self, data):
        if self.select and self.option:
            value = self.option.get("value", data.strip())
            if self.select[1] is None or "selected" in self.option:
                self.select[1] = value
            self.option = None

    def handle_endtag(self, tag):
        if tag == "select":
            self.fields.append((self.select[0], self.select[1] or ""))
            self.select = None
        elif tag == "textarea":
            self.fields.append((self.area, ""))


class Phone:
    """A phone that was let in, and the studio behind it."""

    def __init__(self, studio, shop):
        self.studio, self.shop, self.tray = studio, shop, studio.tray
        self.client = visitor(studio, key=studio.phones.add("Phone"))

    @property
    def library(self):
        return self.shop.library

    def go(self, path, status=200):
        answer = self.client.get(path)
        assert answer.status_code == status, answer.text
        return words_of(answer)

    def send(self, path, action=None, status=303, **said):
        """Open a page, fill its form in, and send it: where it leads, or the page that comes back."""
        html = self.client.get(path).text
        return self.post(
            action or path.partition("?")[0], form_in(html, action or path.partition("?")[0]), status, said
        )

    def post(self, action, fields, status=303, said=()):
        said = dict(said)
        pairs = [(name, value) for name, value in fields if name not in said]
        for name, value in said.items():
            pairs += [(name, each) for each in (value if isinstance(value, list) else [value])]
        body = {name: [value for key, value in pairs if key == name] for name, _ in pairs}
        answer = self.client.post(action, data=body)
        assert answer.status_code == status, answer.text
        return answer.headers["location"] if status == 303 else words_of(answer)

    def asked(self, path, **said):
        """Send a form that is taken; the mix that comes of it."""
        place = self.send(path, **said)
        assert re.fullmatch(r"/mix/[0-9a-f]{20}", place)
        return self.tray.item(place.rpartition("/")[2])

    def photo(self, camera, path, **strips):
        """A measured photo on the tray."""
        absolute = strips.pop("absolute", True)
        camera.lay(path, absolute, **strips)
        item = self.tray.put(path.name, "photo", {"shade": ""}, [(path, path.name)])
        found = sitting_dict(sitting_of(camera.measure(str(path))))
        found["photos"][0]["path"] = str(item.files[0])
        self.tray.answer(item.id, {"facts": {}, "sitting": found, "picture": True})
        return item.id, sitting_from(found)


def words_of(answer):
    """A page, which speaks of no command."""
    main = answer.text.partition("<main")[2].partition("</main>")[0]
    said = re.sub(r"<svg.*?</svg>", "", main, flags=re.S)
    assert not COMMANDS.search(re.sub(r"<[^>]*>", " ", said)), said
    return answer.text


def form_in(html, action):
    return Forms(html).forms[action]


def plain(words):
    """What is read on a page, on one line."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", words)).split())


def told(answer, order=ORDER):
    """What the command line tells of every choice."""
    facts = [answer_dict(answer, order, None, n) for n in range(1, max(len(answer.proposed.choices), 1) + 1)]
    return json.loads(json.dumps(facts))


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stocked")
    orange_shop(str(folder / "halm.sqlite"), folder)
    return folder


def phone_in(stocked, tmp_path, **shop):
    """A phone in a copy of a stocked studio; `shop` as `Shop` takes it."""
    shutil.copytree(stocked, tmp_path / "shop")
    place = str(tmp_path / "shop" / "halm.sqlite")
    tray = Tray(tmp_path / "tray")
    studio = studio_in(tmp_path, tray=tray, crew=AtOnce(tray, place), library=place)
    return Phone(studio, Shop(open_library(place), tmp_path / "shop" / "shots", drawn=2000, **shop))


@pytest.fixture
def phone(stocked, tmp_path):
    return phone_in(stocked, tmp_path)


@pytest.fixture
def camera(phone, monkeypatch):
    return Camera(phone.shop.world, monkeypatch)


@pytest.fixture
def today(phone, camera, tmp_path):
    """The strip that is wanted in the left window, that of the second pot in the right one: (photo, sitting)."""
    return phone.photo(camera, tmp_path / "today.jpg", left=WANTED, right=ORANGE)


def number_of(phone, batch):
    return next(str(one.number) for one in phone.library.batches("orange") if one.name == batch)


# --- what is asked is what the command line asks ------------------------------------------------------------


def test_a_recipe_for_a_shade_is_the_command_line_s(phone):
    item = phone.asked("/pot/recipe?shade=orange", **SAID)
    assert item.answer["answers"] == told(
        new_recipe(phone.library, TargetRequest(shade="orange"), ORDER, PrintConditions())
    )
    assert item.answer["shade"] == "orange"
    assert "Aimed at: record 15 (orange, batch 2, air-dried)." in plain(phone.go(f"/mix/{item.id}"))


def test_a_form_for_a_colour_says_which_one_and_that_a_photo_is_the_way_in(phone):
    taken = "This is used instead: record 15 (orange, batch 2, air-dried)"
    for path in ("/pot/recipe?shade=orange", "/pot/again?shade=orange"):
        assert taken in plain(phone.go(path))
    set_target(phone.library, "orange", (50.0, 20.0, 10.0))
    page = plain(phone.go("/pot/recipe?shade=orange"))
    assert "This is used instead" not in page
    assert "Usually you start with a photo" in page


def test_a_recipe_for_numbers(phone):
    item = phone.asked("/pot/recipe", numbers="50,5 20,0 10,0", grams="300.5", scale="0.1", things="2", most="4,5")
    order = Order(300.5, 0.1, (), 2, 4.5)
    assert item.answer["answers"] == told(
        new_recipe(phone.library, TargetRequest("50.5,20,10"), order, PrintConditions()), order
    )


@pytest.mark.parametrize("typed", ["50.5, 20, -10", "50.5,20,-10", "50,5; 20; -10", "50,5, 20,0, -10,0", "50.5 20 -10"])
def test_numbers_may_be_typed_with_points_and_commas(typed):
    assert lab_typed(typed) == "50.5,20,-10"


@pytest.mark.parametrize("text", SPELLINGS)
def test_every_spelling_of_a_colour_is_taken(phone, monkeypatch, text):
    monkeypatch.setattr(AtOnce, "done", lambda *_: {"problem": "", "remedy": ""})
    for path, said in (("/pot/recipe", {}), ("/pot/correct?record=15", {"target": "numbers"})):
        item = phone.asked(path, numbers=text, grams="300", **said)
        assert parse_lab(item.asked["asked"]["target"]) == LAB


def test_numbers_are_handed_on_to_the_last_bit():
    assert lab_typed("41,12345678901234 0,1 1e-07") == "41.12345678901234,0.1,1e-07"


@pytest.mark.parametrize("typed", ["50,5,20,0,-10,0", "50 20", "nan, 0, 0", "101, 0, 0", "a, b, c", ",,", "1 2 3 4"])
def test_what_is_no_colour_is_refused(typed):
    with pytest.raises(UsageError, match="L\\*"):
        lab_typed(typed)


def test_a_recipe_for_a_strip_in_a_photo_or_for_a_record(phone, today):
    photo, sitting = today
    item = phone.asked(f"/pot/recipe?photo={photo}&strip=left", **SAID)
    wanted = of_strip(sitting, "left")
    assert item.answer["answers"] == told(new_recipe(phone.library, TargetRequest(), ORDER, PrintConditions(), wanted))
    item = phone.asked("/pot/recipe?record=14", **SAID)
    assert item.answer["answers"] == told(new_recipe(phone.library, TargetRequest(record=14), ORDER, PrintConditions()))


def test_the_pot_in_a_photo_is_corrected_as_on_the_command_line(phone, today):
    photo, sitting = today
    before = phone.library.counts()
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", pot=number_of(phone, "2"), **SAID)
    hand = Hand("2", "right", "left")
    same = correct_sitting(phone.library, sitting, CorrectionRequest(TargetRequest(shade="orange"), ORDER, hand))
    assert item.answer["answers"] == told(same)
    assert phone.library.counts() == before  # a worker writes nothing
    page = phone.go(f"/mix/{item.id}")
    (kept,) = phone.library.records(digest=sitting.digest)
    assert (kept.shade, kept.batch, kept.cloth, kept.colour.name) == ("orange", "2", CLOTH, "right")
    assert f"record {kept.number}" in page


def test_a_strip_is_kept_once_however_often_page_and_form_arrive(phone, today):
    photo, sitting = today
    path = f"/pot/correct?photo={photo}&strip=right"
    fields = form_in(phone.client.get(path).text, "/pot/correct")
    said = {"pot": number_of(phone, "2"), **SAID}
    places = {phone.post("/pot/correct", fields, 303, said) for _ in range(2)}
    assert len(places) == 1
    other = phone.post("/pot/correct", fields, 303, said | {"grams": "470"})  # gone back to, and changed
    assert other not in places
    for place in (*places, *places, other):
        phone.go(place)
    assert len(phone.library.records(digest=sitting.digest)) == 1
    assert len(phone.studio.crew.asked) == 2


def test_a_strip_that_was_taken_out_again_is_not_put_back(phone, today):
    photo, sitting = today
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", pot=number_of(phone, "2"), **SAID)
    phone.go(f"/mix/{item.id}")
    (kept,) = phone.library.records(digest=sitting.digest)
    remove_record(phone.library, kept.number)
    assert f"record {kept.number}" not in phone.go(f"/mix/{item.id}")
    assert not phone.library.records(digest=sitting.digest)


def test_a_strip_of_another_pot_is_refused_and_not_kept(phone, camera, tmp_path):
    photo, sitting = phone.photo(camera, tmp_path / "blue.jpg", left=WANTED, right={"blue": 3.0})
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", pot=number_of(phone, "2"), **SAID)
    page = phone.go(f"/mix/{item.id}")
    assert "probably not from that pot" in page
    assert not phone.library.records(digest=sitting.digest)
    back = re.search(r'href="(/pot/correct\?like_mix=[0-9a-f]+)"', page)[1]
    fields = form_in(phone.go(back), "/pot/correct")
    assert {("grams", "480,0"), ("pot", number_of(phone, "2")), ("pigments", "red"), ("photo", photo)} <= set(fields)


def test_a_pot_is_corrected_from_its_record_alone(phone):
    item = phone.asked("/pot/correct?record=15", **SAID)
    record = phone.library.record(15)
    page = phone.go(f"/mix/{item.id}")
    facts = item.answer["answers"][0]
    assert (facts["kind"], facts["pot"]["record"], facts["pot"]["batch"]) == ("correction", 15, record.batch)
    assert facts["target"]["words"] == "record 14 (orange, batch 1, air-dried)"
    assert 'href="/record/15"' in page


def test_a_record_whose_photo_is_on_the_tray_is_held_against_the_strip_beside_it(phone, camera, today, tmp_path):
    photo, sitting = today
    request = CorrectionRequest(TargetRequest(shade="orange"), ORDER, Hand("2"))
    kept = asked_and_kept(phone.library, [str(tmp_path / "today.jpg")], request).record
    item = phone.asked(f"/pot/correct?record={kept.number}", **SAID)
    hand = Hand("2", "right", "left")
    same = correct_sitting(phone.library, sitting, CorrectionRequest(TargetRequest(shade="orange"), ORDER, hand))
    assert item.answer["answers"] == told(same)
    assert item.answer["entries"] == []
    phone.tray.remove(photo)
    item = phone.asked(f"/pot/correct?record={kept.number}", **SAID)
    assert "batch 1," in item.answer["answers"][0]["target"]["words"]  # nothing lies beside it any more


def test_a_let_down_strip_is_neither_the_pot_in_hand_nor_what_it_is_held_against(phone, camera, today, tmp_path):
    photo, sitting = today  # this time the left strip is the same ink, let down
    put(phone.library, prepare(sitting, "left", Entry("orange", "2", let_down=10.0)))
    ink = put(phone.library, prepare(sitting, "right", Entry("orange", "2")))
    for place in (f"photo={photo}&strip=right", f"record={ink.number}"):
        page = phone.go(f"/pot/correct?{place}")
        assert "strip:left" not in page
        assert "let down" not in page
    phone.tray.remove(photo)
    assert "let down" not in phone.go(f"/pot/correct?record={ink.number}")
    assert f"record={ink.number - 1}" not in phone.go("/pot/correct")
    assert f"record={ink.number}" in phone.go("/pot/correct")
    refused = phone.go(f"/pot/correct?record={ink.number - 1}", 422)
    assert "is of a let-down strip, so its colour is not that of the pot" in refused


def test_a_pot_that_nobody_knows_goes_by_its_colour(phone, camera, today):
    photo, sitting = today
    before = phone.library.counts()
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", unknown="yes", target="shade", shade="orange", **SAID)
    hand = Hand(strip="right", unknown=True)
    same = correct_sitting(phone.library, sitting, CorrectionRequest(TargetRequest(shade="orange"), ORDER, hand))
    assert item.answer["answers"] == told(same)
    phone.go(f"/mix/{item.id}")
    assert phone.library.counts() == before


def test_a_thinner_pot(phone, camera, tmp_path):
    photo, sitting = phone.photo(camera, tmp_path / "strong.jpg", left=PALE, right=ORANGE)
    path = f"/pot/thin?photo={photo}&strip=right"
    item = phone.asked(path, pot=number_of(phone, "2"), want="300,5", **SAID)
    hand = Hand("2", "right", "left")
    same = correct_sitting(
        phone.library, sitting, CorrectionRequest(TargetRequest(shade="orange"), ORDER, hand, PrintConditions(), 300.5)
    )
    assert item.answer["answers"] == told(same)
    page = phone.go(f"/mix/{item.id}")
    roads = item.answer["answers"][0]["choices"][0]["roads"]
    assert roads["sentence"] in plain(page).partition("The pot now")[0]
    assert "hardly see" not in page
    assert f"Make a fresh pot: {roads['fresh_pot']['binder_grams']:.2f} g of clear base" in plain(page)


def test_a_thinner_pot_that_is_too_little_or_hardly_off_says_so_first(phone):
    lab = phone.library.record(15).colour.lab
    numbers = f"{lab[0] + 0.3}, {lab[1]}, {lab[2]}"
    item = phone.asked("/pot/thin?record=15", target="numbers", numbers=numbers, want="900", **SAID)
    facts = item.answer["answers"][0]
    assert facts["choices"][0]["roads"]["short_grams"] > 0
    assert facts["pot"]["ciede2000_from_target"] < mix_result.SEEN
    top = plain(phone.go(f"/mix/{item.id}")).partition("The pot now")[0]
    assert f"Note: {facts['choices'][0]['roads']['sentence']}" in top
    assert f"only {facts['pot']['ciede2000_from_target']:.1f} from the target" in top
    assert "too strong" not in top


def test_a_shade_is_mixed_again_with_what_is_left(phone):
    left = {f"left-{number_of(phone, '2')}": "120,5", f"left-{number_of(phone, '1')}": ""}
    item = phone.asked("/pot/again?shade=orange", **{"grams": "600", "scale": "0.01"} | left)
    order = Order(600, 0.01)
    assert item.answer["answers"] == told(
        repeated(phone.library, TargetRequest(shade="orange"), order, PrintConditions(), ["2=120.5"]), order
    )
    page = plain(phone.go(f"/mix/{item.id}"))
    assert page.index("left of batch 2: 120.5 g") < page.index("clear base:")
    first = item.answer["answers"][0]["choices"][0]["put_in"][0]
    assert f"Weigh the 120.5 g left of batch 2, {first['grams']:.2f} g of clear base" in page


# --- what is refused ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "said", "words"),
    [
        ("/pot/recipe", {"grams": "3oo", "numbers": "50, 20, 10"}, "3oo"),
        ("/pot/recipe", {"grams": "300"}, "No colour was chosen"),
        ("/pot/recipe", {"grams": "300", "numbers": "50, 20, 10", "shade": "orange"}, "more than one colour"),
        ("/pot/recipe", {"grams": "300", "numbers": "50, 200, 10"}, "not a colour that a surface can have"),
        ("/pot/recipe", {"grams": "300", "numbers": "/etc/passwd"}, "not three numbers"),
        (
            "/pot/recipe",
            {"grams": "300", "numbers": "50, 20, 10", "most": "70"},
            "Limit for all pigments together: 70 %",
        ),
        (
            "/pot/recipe",
            {"grams": "300", "numbers": "50, 20, 10", "most": "0"},
            "Limit for all pigments together: 0 % can't be right",
        ),
        ("/pot/recipe", {"grams": "0", "numbers": "50, 20, 10"}, "0 g can't be right"),
        ("/pot/recipe", {"grams": "300", "numbers": "50, 20, 10", "scale": "50"}, "can't be right"),
        ("/pot/recipe", {"grams": "300", "like": "record:999"}, "no record 999"),
        ("/pot/recipe", {"grams": "300", "like": "photo:0:left"}, "not here"),
        ("/pot/correct?record=15", {"grams": ""}, "'What is in the pot now' is empty"),
        ("/pot/correct?record=15", {"grams": "480", "numbers": "50, 20, 10"}, "something else for the pot to become"),
        ("/pot/correct?record=15", {"grams": "480", "target": "numbers"}, "'Numbers' is empty"),
        (
            "/pot/correct?record=15",
            {"grams": "480", "shade": "series red"},
            "but it is to become series red",
        ),
        ("/pot/thin?record=15", {"grams": "480", "want": "much"}, "How much of the thinner ink: 'much'"),
        ("/pot/again?shade=orange", {"grams": "500", "left-15": "-3"}, "What is left of batch 2: '-3'"),
    ],
)
def test_a_refused_form_comes_back_as_it_was_typed(phone, path, said, words):
    page = phone.send(path, status=422, **said)
    assert words in plain(page)
    assert 'class="refused" role="alert"' in page
    fields = form_in(page, path.partition("?")[0])
    chosen = {name: value for name, value in said.items() if name not in ("scale", "like")}
    assert chosen.items() <= dict(fields).items()
    assert not phone.tray.items("mix")


def test_which_pot_a_new_strip_is_of_must_be_said(phone, today):
    photo, sitting = today
    path = f"/pot/correct?photo={photo}&strip=right"
    assert "which pot this strip is from" in phone.send(path, status=422, **SAID)
    assert "Choose the shade" in phone.send(path, status=422, unknown="yes", target="shade", **SAID)
    assert not phone.library.records(digest=sitting.digest)


def test_names_stay_words(phone, today):
    for name in HOSTILE:
        record = phone.shop.keep(ORANGE | {name: 0.1}, name, name, true=ORANGE, cloth=name, ink=name)
    paths = ["/pot", "/pot/recipe", "/pot/again", "/pot/correct", f"/pot/correct?photo={today[0]}&strip=right"]
    for path in (*paths, f"/pot/thin?record={record.number}"):
        assert "<script>alert" not in phone.go(path)
    for name in HOSTILE:
        page = phone.client.get("/pot/again", params={"shade": name}).text
        assert dict(form_in(page, "/pot/again"))["shade"] == name
        assert name in unescape(page.partition("left of old pots")[2])


def test_what_is_typed_stays_words(phone):
    page = phone.send("/pot/recipe", status=422, grams='"><script>alert(1)</script>', numbers="50, 20, 10")
    assert "<script>alert" not in page


@pytest.mark.parametrize("path", ["/pot/correct?record=999", "/pot/correct?record=x", "/pot/again?shade=plum"])
def test_what_is_not_there_is_told(phone, path):
    assert phone.client.get(path).status_code == 422


def test_what_a_worker_refuses_can_be_changed_without_typing_it_again(phone):
    left = {f"left-{number_of(phone, '2')}": "300"}
    item = phone.asked("/pot/again?shade=orange", **{"grams": "200", "scale": "1"} | left)
    assert (item.state, item.asked["rests"]) == ("refused", ["2=300"])
    page = phone.go(f"/mix/{item.id}")
    assert "300 g are left, but only 200 g are wanted." in page
    fields = form_in(phone.go(f"/pot/again?like_mix={item.id}"), "/pot/again")
    assert {("grams", "200"), ("scale", "1"), ("shade", "orange"), *left.items()} <= set(fields)


def test_without_a_library_nothing_is_known_yet(tmp_path):
    tray = Tray(tmp_path / "tray")
    studio = studio_in(tmp_path, tray=tray, crew=AtOnce(tray, ""), library=str(tmp_path / "none.sqlite"))
    phone = Phone(studio, None)
    assert "First the pigments" in phone.go("/pot")
    assert "nothing is known about your pigments" in phone.go("/pot/recipe", 422)
    assert not (tmp_path / "none.sqlite").exists()


def test_the_cloth_of_a_shade_is_taken_and_one_that_was_not_noted_is_no_choice(phone):
    assert "cloth" not in dict(form_in(phone.go("/pot/again?shade=orange"), "/pot/again"))
    record = phone.shop.keep(ORANGE, "peach", cloth="")
    assert "cloth" not in dict(form_in(phone.go("/pot/again?shade=orange"), "/pot/again"))  # it counts as the only one
    phone.shop.keep({"red": 1.0}, "rust", cloth="linen")
    for path in ("/pot/again?shade=orange", "/pot/recipe?shade=orange"):
        page = phone.go(path)
        assert dict(form_in(page, path.partition("?")[0]))["cloth"] == CLOTH
        assert "without a noted cloth can’t be used" in page
    said = SAID | {"numbers": "50, 20, 10"}
    assert dict(form_in(phone.go("/pot/recipe"), "/pot/recipe"))["cloth"] == ""
    refused = phone.asked("/pot/recipe", **said)
    assert "several cloths" in str(refused.refusal)
    phone.studio.crew.hand_over = phone.studio.crew.asked.append  # what is asked is enough
    item = phone.asked("/pot/recipe", **SAID, shade="orange")  # chosen in the list, the cloth left as it is
    assert item.asked["place"]["cloth"] == CLOTH
    assert f'href="/record/{record.number}">Note it' in phone.go(f"/pot/correct?record={record.number}")


def test_a_new_cloth_may_be_chosen_once_a_photo_shows_it_bare(phone):
    said = SAID | {"numbers": "50, 20, 10", "cloth": "linen"}
    assert "Photograph bare linen" in str(PAGE.remedy(phone.asked("/pot/recipe", **said).refusal))
    phone.shop.keep_bare("linen")
    assert '<option value="linen">' in phone.go("/pot/recipe")
    item = phone.asked("/pot/recipe", **said)
    assert "carried over from white cotton" in phone.go(f"/mix/{item.id}")
    said.pop("cloth")
    assert "carried over" not in phone.go(f"/mix/{phone.asked('/pot/recipe', **said).id}")


# --- weighing, and keeping ----------------------------------------------------------------------------------


@pytest.fixture
def recipe(phone):
    """A recipe with several choices, and the same answer of the command line."""
    item = phone.asked("/pot/recipe", numbers="50, 20, 10", grams="480", scale="0.01")
    order = Order(480, 0.01)
    answer = new_recipe(phone.library, TargetRequest("50,20,10"), order, PrintConditions())
    assert item.answer["answers"] == told(answer, order)
    assert len(answer.proposed.choices) > 1
    return item, answer


def ticked(page):
    return re.findall(r'name="tick" value="([^"]+)" checked', page)


def test_the_page_says_what_to_weigh_and_what_to_mind(phone, recipe):
    item, _ = recipe
    first, second = item.answer["answers"][:2]
    page = plain(phone.go(f"/mix/{item.id}"))
    sheet = plain(phone.go(f"/mix/{item.id}").partition('<h2 id="weigh">')[2].partition("Keep this")[0])
    for step in first["weighing"][0]["steps"]:
        assert step["words"] in sheet
    for line in first["care"]:
        assert line in sheet
    low, high = first["choices"][0]["interval95"]
    assert f"{first['choices'][0]['ciede2000_from_target']:.1f} from the target" in page
    assert f"{low:.1f} to {high:.1f}" in page
    assert f'href="/?mix={item.id}">Photograph the strip' in phone.go(f"/mix/{item.id}")
    other = plain(phone.go(f"/mix/{item.id}?choice=2"))
    assert all(step["words"] in other for step in second["weighing"][0]["steps"])
    assert first["weighing"] != second["weighing"]


def test_what_to_weigh_is_the_headline_and_notes_come_after_the_list(phone, recipe):
    facts = in_a_kitchen(told_of(recipe))
    facts["flags"] = flag_dicts([flag("no-test-series", pigments=["red"], enough=4)])
    item = answered(phone, "kitchen", recipe, facts)
    page = plain(phone.go(f"/mix/{item.id}"))
    make, _, counted, _ = facts["weighing"][0]["steps"][:4]
    assert f"<h1>Weigh 48.00\xa0g of clear base, 6\xa0drops of {counted['what']} and" in phone.go(f"/mix/{item.id}")
    assert (
        page.index("it lands about 0.4 further off on average")
        < page.index(make["words"])
        < page.index("no test series")
    )
    assert f"Make the {make['pre_mix']} pre-mix" in page
    assert "6 drops" in phone.go("/pot")
    helps = flag("tools-coarse", cost=2.4, step=1.0, grams=50.0, finer=0.1, helps=["finer-scale"], larger=150.0)
    item = answered(phone, "coarse", recipe, facts | {"flags": flag_dicts([helps])})
    page = plain(phone.go(f"/mix/{item.id}"))
    assert page.count("What would help: a scale with steps of 0.1 g") == 1
    assert page.index("What would help") < page.index(make["words"])


def test_an_answer_of_an_earlier_version_is_still_shown(phone, recipe):
    facts = told_of(recipe)
    for choice in facts["choices"]:
        del choice["tools_ciede2000"]
        for part in choice["put_in"]:
            del part["words"]
    later = ("way", "pre_mix", "pigment_grams", "make")
    (weighing,) = facts["weighing"]
    weighing["steps"] = [{name: step[name] for name in step if name not in later} for step in weighing["steps"]]
    item = answered(phone, "older", recipe, facts | {"weighing": [weighing | {"notes": ["Coarse."]}]})
    page = plain(phone.go(f"/mix/{item.id}"))
    assert f"Weigh {weighing['steps'][0]['grams']:.2f} g of clear base" in page
    assert "Note: Coarse." in page
    assert phone.client.get("/pot").status_code == 200


def told_of(recipe):
    """A copy of what was answered."""
    return json.loads(json.dumps(recipe[0].answer["answers"][0]))


def answered(phone, name, recipe, facts):
    """A mix on the tray with this answer."""
    item = phone.tray.put(name, "mix", recipe[0].asked)
    phone.tray.answer(item.id, recipe[0].answer | {"answers": [facts]})
    return phone.tray.item(item.id)


def test_cautions_are_folded_once_another_recipe_was_kept(phone, recipe):
    item, _ = recipe
    fold = '<details class="care"{}>\n<summary>Caution</summary>'
    assert fold.format(" open") in phone.go(f"/mix/{item.id}")
    phone.send(f"/mix/{item.id}", f"/mix/{item.id}/keep", shade="brick")
    assert fold.format(" open") in phone.go(f"/mix/{item.id}")  # its own does not count
    other = phone.asked("/pot/recipe", numbers="55, 20, 10", grams="480", scale="0.01")
    page = phone.go(f"/mix/{other.id}")
    assert fold.format("") in page
    assert all(line in plain(page) for line in other.answer["answers"][0]["care"])


def test_a_choice_that_is_none_shows_the_recommended_one(phone, recipe):
    for choice in ("0", "9", "x", "-1", "²", "1e9"):
        assert "Choice 1, recommended" in phone.go(f"/mix/{recipe[0].id}?choice={choice}")


def test_ticks_are_there_when_the_phone_is_taken_up_again(phone, recipe):
    item, _ = recipe
    place = f"/mix/{item.id}/ticks"
    fields = form_in(phone.go(f"/mix/{item.id}?choice=2"), place)
    script = phone.client.post(place, data=dict(fields) | {"tick": ["1", "2"]}, headers={"Accept": "application/json"})
    assert script.json() == {"choice": 2, "ticks": ["1", "2"]}
    again = Phone(replace(phone.studio, tray=Tray(phone.tray.folder)), phone.shop)  # the program was started again
    page = again.go(f"/mix/{item.id}")
    assert ticked(page) == ["1", "2"]
    assert "Choice 2" in page
    assert ticked(again.go(f"/mix/{item.id}?choice=1")) == []
    fields = [field for field in form_in(page, place) if field[0] != "tick"]
    assert again.post(place, fields, 303, {"tick": ["2"]}) == f"/mix/{item.id}?choice=2#weigh"  # without script
    assert ticked(again.go(f"/mix/{item.id}")) == ["2"]


def test_two_phones_that_tick_one_list_lose_no_tick(phone, recipe):
    item, _ = recipe
    place = f"/mix/{item.id}/ticks"
    first, second = (form_in(phone.go(f"/mix/{item.id}"), place) for _ in range(2))
    phone.post(place, first, 303, {"tick": ["1"]})
    phone.post(place, second, 303, {"tick": ["2"]})
    assert ticked(phone.go(f"/mix/{item.id}")) == ["1", "2"]

    def by_script(step, on):
        said = dict(first) | {"step": step, "ticked": on}
        answer = phone.client.post(place, data=said, headers={"Accept": "application/json"})
        return answer.json()["ticks"]

    assert by_script("3", "yes") == ["1", "2", "3"]
    assert by_script("1", "") == ["2", "3"]
    assert by_script("no such step", "yes") == ["2", "3"]


def test_a_choice_is_kept_once_and_as_the_command_line_keeps_it(phone, recipe):
    item, answer = recipe
    place = f"/mix/{item.id}/keep"
    fields = form_in(phone.go(f"/mix/{item.id}?choice=2"), place)
    for _ in range(2):
        assert phone.post(place, fields, 303, {"shade": "brick", "batch": "A 7"}) == f"/mix/{item.id}"
    (kept,) = proposals(phone.library)
    same = keep_choice(phone.library, answer, "clay", "A 7", 2)
    facts = {name: value for name, value in kept.facts.items() if name not in ("asked", "choice")}
    assert replace(same, number=kept.number, made=kept.made, shade="brick") == replace(kept, facts=facts)
    page = phone.go(f"/mix/{item.id}")
    assert "as batch A 7 of" in plain(page)
    assert f'action="{place}"' not in page
    assert "Choice 2" in page
    row = phone.go("/pot").partition(f'href="/mix/{item.id}"')[2].partition("</li>")[0]
    assert "kept as batch A 7 of brick" in row
    facts = item.answer["answers"][1]
    assert f'fill="{facts["target"]["srgb_approx"]}"' in row
    assert all(f"{part['grams']:.2f} g of {part['what']}" in row for part in facts["choices"][1]["put_in"])
    told = phone.post(place, [*fields, ("choice", "1")], 422, {"choice": "1", "shade": "brick"})
    assert "Choice 2 of this mix is already kept" in told
    assert len(proposals(phone.library)) == 2


def test_the_colour_of_a_recipe_becomes_the_target_of_a_shade_that_has_none(phone, recipe):
    item, _ = recipe
    place, button = f"/mix/{item.id}", "Make this colour the target of brick"
    assert button not in phone.go(place)
    phone.send(place, f"{place}/keep", shade="brick")
    assert button in plain(phone.go(place))
    assert phone.send(place, "/shade/target").startswith("/shade?name=brick")
    assert phone.library.shade("brick").target == (50.0, 20.0, 10.0)
    assert button not in phone.go(place)


def test_a_choice_that_was_kept_before_the_answer_got_through_is_kept_once(phone, recipe, monkeypatch):
    item, _ = recipe
    place = f"/mix/{item.id}/keep"
    fields = form_in(phone.go(f"/mix/{item.id}"), place)

    def and_die(*said):
        keep_proposal(*said)
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(mix_result, "keep_proposal", and_die)
        with pytest.raises(BaseException):  # noqa: B017, PT011 - whatever the server makes of its end
            phone.post(place, fields, 303, {"shade": "brick"})
    assert len(proposals(phone.library)) == 1
    phone.post(place, fields, 303, {"shade": "brick"})
    assert len(proposals(phone.library)) == 1


def test_a_name_that_is_taken_is_refused_and_stays_in_the_form(phone, recipe):
    item, _ = recipe
    place = f"/mix/{item.id}/keep"
    for said, words in (
        ({"shade": "orange", "batch": "2"}, "already has a batch called '2'"),
        ({"shade": "", "batch": "9"}, "shade"),
    ):
        page = phone.send(f"/mix/{item.id}", place, 422, **said)
        assert words in plain(page)
        assert said.items() <= dict(form_in(page, place)).items()
    assert not proposals(phone.library)


def test_a_correction_is_kept_as_the_next_batch_of_its_pot(phone, today):
    photo, _ = today
    item = phone.asked(f"/pot/correct?photo={photo}&strip=right", pot=number_of(phone, "2"), **SAID)
    phone.send(f"/mix/{item.id}", f"/mix/{item.id}/keep")
    (kept,) = proposals(phone.library)
    assert (kept.shade, kept.from_batch, kept.batch, kept.kind) == ("orange", "2", "2.1", "correction")


def test_grams_that_were_reckoned_are_shown_as_a_scale_would(phone):
    grams = {"binder": 487.09031, "red": 1.4697, "yellow": 0.00456789}
    mix_form = Recipe(tuple(Part(what, amount, "g", amount, 0.01) for what, amount in grams.items()))
    answer = new_recipe(phone.library, TargetRequest(record=14), ORDER, PrintConditions())
    made = keep_proposal(
        phone.library, replace(proposal_for(answer, answer.proposed.choices[0], "orange", "9"), recipe=mix_form)
    )
    words = "clear base 487.09 g, red 1.47 g, yellow 0.0046 g"
    assert words in plain(phone.go("/pot/predictions"))
    assert recipe_words(made.recipe) == words
    assert [readable(grams) for grams in (1.469, 0.0, 500)] == [1.469, 0.0, 500]  # as a scale showed them


def test_a_pot_that_had_better_be_left_is_not_kept(phone):
    seen = phone.asked("/pot/correct?record=15", **SAID).answer["answers"][0]["pot"]["predicted"]
    numbers = f"{seen['L']}, {seen['a']}, {seen['b']}"
    item = phone.asked("/pot/correct?record=15", target="numbers", numbers=numbers, **SAID)
    page = phone.go(f"/mix/{item.id}")
    assert "<h1>Leave it</h1>" in page
    assert "You would not see the difference." in page
    assert f'action="/mix/{item.id}/keep"' not in page
    fields = [*form_in(phone.go("/pot/recipe"), "/pot/recipe")[:1], ("choice", "1")]
    phone.post(f"/mix/{item.id}/keep", fields, 422, {"shade": "orange"})
    assert not proposals(phone.library)


def test_what_waits_says_so_and_is_handed_over_again(phone):
    item = phone.tray.put("a key", "mix", {"kind": "recipe", "words": "moss", "of": "", "order": {"grams": 5}})
    phone.studio.crew.hand_over = phone.studio.crew.asked.append
    page = phone.go(f"/mix/{item.id}")
    assert f'data-watch="/mix/{item.id}/state"' in page
    assert phone.studio.crew.asked == [item.id]
    assert phone.client.get(f"/mix/{item.id}/state").json() == {"state": "waiting", "words": "Being worked out …"}
    assert "A new pot for moss" in phone.go("/pot")


def test_a_photo_is_no_mix(phone, today):
    assert phone.client.get(f"/mix/{today[0]}").status_code == 422
    assert phone.client.get("/mix/../../etc").status_code in (404, 422)


# --- how much, and how it came out --------------------------------------------------------------------------


def test_the_amount_is_the_command_line_s(phone):
    said = {"width": "30", "height": "40,5", "coverage": "35 %", "pieces": "60", "used": "120", "used_for": "40"}
    page = plain(phone.send("/pot/amount", status=200, others="60 g for 40 of 20x30", pot="500", **said))
    run = Run(30 * 40.5, 0.35, 60)
    laid = laid_meant(run, ["120 g for 40", "60 g for 40 of 20x30"])
    facts = amount_dict(amount(run, laid, losses_of(50, 3), pot_ml=500))
    first, _, *lines = [line.split() for line in amount_text(facts).splitlines()]
    assert " ".join(first[:5]) in page
    assert " ".join(first[-14:]) in page
    for line in lines[: len(facts["lines"])]:
        assert " ".join(line) in page
    for line in (*map(PAGE.flag, map(flag_from_json, facts["flags"])), *facts["care"]):
        assert line in page


def test_the_cautions_of_an_amount_are_folded_once_a_recipe_was_kept(phone, recipe):
    said = {"width": "30", "height": "40", "coverage": "35", "pieces": "60", "mesh": "77-48"}
    assert '<details class="care" open>' in phone.send("/pot/amount", status=200, **said)
    item, _ = recipe
    phone.send(f"/mix/{item.id}", f"/mix/{item.id}/keep", shade="brick")
    assert '<details class="care">' in phone.send("/pot/amount", status=200, **said)


def test_grams_that_count_the_screen_are_said_so_with_a_tick(phone):
    said = {"width": "30", "height": "40", "coverage": "35", "pieces": "60", "used_for": "40"}
    without, ticked = (
        phone.send("/pot/amount", status=200, **said, **used)
        for used in ({"used": "120"}, {"used": "170", "with_screen": "yes"})
    )
    headline = re.compile("<h2 id=.answer.>(.*?)</h2>.*?That covers (.*?)</p>", re.S)
    assert headline.search(without).groups() == headline.search(ticked).groups()
    assert 'name="with_screen" value="yes" checked' in ticked
    assert 'name="with_screen" value="yes">' in without


def test_an_amount_leads_to_a_recipe_for_so_much(phone):
    said = {"width": "30", "height": "40", "coverage": "35", "pieces": "60", "mesh": "77-48"}
    page = phone.send("/pot/amount", status=200, **said)
    (path,) = re.findall(r'href="(/pot/recipe\?grams=[0-9.]+)"', page)
    assert dict(form_in(phone.go(path), "/pot/recipe"))["grams"] == path.partition("=")[2]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"width": "30"}, "The size of the motif is missing"),
        ({"width": "30", "height": "40", "area": "1200"}, "its area are all filled in"),
        ({"width": "30", "height": "40", "coverage": ""}, "'How much of it is ink' is empty"),
        ({"width": "30", "height": "40", "coverage": "0,35"}, "hardly a print"),
        ({"width": "30", "height": "40", "used": "120"}, "One number of the earlier run is missing"),
        ({"width": "30", "height": "40"}, "how much ink one pull lays"),
        ({"width": "30", "height": "40", "ink_volume": "33 %"}, "Ink volume: '33 %' can't be read"),
        ({"width": "30", "height": "40", "others": "a lot"}, "'a lot' can't be read as what a run used"),
    ],
)
def test_an_amount_that_cannot_be_told_leaves_the_form_as_it_was(phone, said, words):
    said = {"coverage": "35", "pieces": "60"} | said
    page = phone.send("/pot/amount", status=422, **said)
    assert words in plain(page)
    kept = {name: value for name, value in said.items() if name != "others"}
    assert kept.items() <= dict(form_in(page, "/pot/amount")).items()


def test_how_the_pots_came_out(phone, camera, tmp_path):
    assert "come out as predicted" not in phone.go("/pot")
    answer = new_recipe(phone.library, TargetRequest(record=14), ORDER, PrintConditions())
    keep_choice(phone.library, answer, "orange", "7")
    keep_choice(phone.library, answer, "orange", "8")
    phone.shop.keep(WANTED, "orange", "7", measured=date.today().isoformat())
    made = proposals(phone.library)
    facts = prediction_check_dict(prediction_rate(checked_predictions(made, phone.library.records())), made)
    assert facts["sentence"] in phone.go("/pot").partition("come out as predicted")[2]
    page = plain(phone.go("/pot/predictions"))
    (each,) = facts["proposals"]
    assert f"Measured {each['miss_ciede2000']:.1f} from what was predicted" in page
    assert "orange, batch 8" in page.partition("Not measured yet")[2]
    fields = form_in(phone.go("/pot/predictions"), "/pot/predictions/remove")
    for _ in range(2):
        assert phone.post("/pot/predictions/remove", fields) == "/pot/predictions"
    assert [one.batch for one in proposals(phone.library)] == ["7"]


def test_the_scale_is_that_of_the_last_mix(phone):
    assert dict(form_in(phone.go("/pot/recipe"), "/pot/recipe"))["scale"] == "0.1"
    phone.asked("/pot/recipe?shade=orange", **SAID)
    assert dict(form_in(phone.go("/pot/again?shade=orange"), "/pot/again"))["scale"] == "0.01"


def test_strips_are_offered_where_none_was_named(phone, today):
    photo, _ = today
    page = phone.go("/pot/correct")
    assert f"/pot/correct?photo={photo}&amp;strip=right" in page
    assert "/pot/correct?record=15" in page
    for name in ("left", "right"):
        code = screen_colour(today[1].strip_named(name).lab)[0]
        row = page.partition(f"photo={photo}&amp;strip={name}")[2].partition("</li>")[0]
        assert f'fill="{code}"' in row
    assert "<option>orange" in phone.go("/pot/again")


def test_nothing_is_done_for_who_does_not_come_from_a_page(phone):
    posts = [route.path for route in PAGES if "POST" in route.methods]
    assert len(posts) == 11
    for path in posts:
        answer = phone.client.post(path.replace("{id}", "0" * 20), data={"grams": "5", "token": "x"})
        assert answer.status_code == 403
