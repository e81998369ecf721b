"""Pages of a photo: judged against anything, kept as it was said, refused in words with what was typed still there."""

from __future__ import annotations

import json
import re
from html import unescape
from unittest.mock import Mock
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from swatchcam.library.entry import entry_of
from swatchcam.library.library import open_library
from swatchcam.library.save import keep_record
from swatchcam.library.shelf.pigments import set_pigment
from swatchcam.recipes.film_weight import parse_coat
from swatchcam.recipes.safety import HEAT, LINES
from swatchcam.web.inbox import Tray
from swatchcam.web.jobs.photo_tasks import TASKS
from swatchcam.web.pages import comparison
from swatchcam.web.pages.result_words import advice, lead
from tests.colorimetry.spellings import LAB, SPELLINGS
from tests.web.browser import CARD, SAMPLES
from tests.web.visitor import studio_in, visitor
from tests.worlds.cheap_measurements import measurement

PHOTO = SAMPLES / "before_heat.jpg"
FILE = {"photos": ("IMG 1.jpg", PHOTO.read_bytes(), "image/jpeg")}


class Visit:
    """One phone in a studio, and its library at the computer."""

    def __init__(self, folder):
        self.library = str(folder / "halm.sqlite")
        self.studio = studio_in(folder, tray=Tray(folder / "tray"), library=self.library, card=CARD)
        self.client = visitor(self.studio, key=self.studio.phones.add("test"))

    def get(self, path):
        answer = self.client.get(path)
        return answer.status_code, words(answer.text)

    def token(self):
        return re.search(r'name="token" value="(\w+)"', self.client.get("/").text)[1]

    def post(self, path, files=None, **fields):
        return self.client.post(path, data={"token": self.token(), "key": "k"} | fields, files=files)

    def typed(self, *said):
        done = CliRunner().invoke(main, [*said, "--library", self.library, "--json"])
        assert done.exit_code in (0, 4, 5), done.output
        return json.loads(done.stdout)


def words(html):
    """What is read on a page."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


@pytest.fixture(scope="module")
def answer(tmp_path_factory):
    """What a worker makes of the photo."""
    folder = tmp_path_factory.mktemp("worked")
    job = {"asked": {"card": CARD}, "files": [str(PHOTO)], "names": ["IMG 1.jpg"], "folder": str(folder)}
    return json.dumps(TASKS["photo"](job)), folder


@pytest.fixture
def phone(tmp_path, answer):
    visit = Visit(tmp_path)
    sent = visit.post("/photo", FILE, card=CARD, shade="")
    visit.place = sent.headers["location"]
    visit.id = visit.place.rpartition("/")[2]
    item = visit.studio.tray.item(visit.id)
    assert item.state == "waiting"
    visit.worked = json.loads(answer[0].replace(str(PHOTO), str(item.files[0])))
    visit.studio.tray.answer(visit.id, visit.worked)
    return visit


@pytest.fixture
def kept(phone):
    """The left strip is batch 1 of Brick; the shade has a target and a tolerance."""
    assert phone.post(f"{phone.place}/keep", strip="left", shade="Brick", batch="1").status_code == 303
    phone.typed("shade", "set", "Brick", "--target", "50,30,20", "--tolerance", "3")
    return phone


# --- judged ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("", []),
        ("?strip=left", ["--strip", "left"]),
        ("?to=numbers&numbers=50,30,20", ["--target", "50,30,20"]),
        ("?to=numbers&numbers=50,30,20&tolerance=40", ["--target", "50,30,20", "--tolerance", "40"]),
        ("?to=target&shade=brick", ["--shade", "Brick", "--against-target"]),
    ],
)
def test_it_is_judged_as_the_command_line_does(kept, asked, said):
    status, page = kept.get(kept.place + asked)
    facts = kept.typed("check", str(PHOTO), "--card", CARD, *said) if "--shade" in said else check(*said)
    low, high = facts["difference"]["interval95"]
    assert status == 200
    assert f"CIEDE2000 {facts['difference']['ciede2000']:.2f}, in 95 of 100 cases {low:.2f} to {high:.2f}" in page
    assert facts["verdict"].capitalize() in page
    assert f"Tolerance {facts['tolerance']:g}" in page


def test_a_strip_that_is_judged_as_it_will_be_once_heat_set_has_the_cautions_folded(kept, tmp_path):
    library = kept.studio.opened()
    for number in range(1, 4):
        for state, lab in (("air-dried", (50, 30, 20)), ("heat-set", (48, 29, 19))):
            said = entry_of("Brick", state, batch=f"B{number}")
            keep_record(library, measurement(tmp_path, 2 * number + (state == "heat-set"), lab), "left", said)
    asked = f"{kept.place}?to=shade&shade=Brick&batch=B3"
    assert 'class="care"' not in kept.client.get(asked).text
    page = kept.client.get(f"{asked}&after_heat=1").text
    assert '<details class="care">\n<summary>Caution: heat</summary>' in page
    assert all(line in words(page) for line in LINES[HEAT])


@pytest.mark.parametrize("text", SPELLINGS)
def test_every_spelling_of_a_colour_is_taken(kept, monkeypatch, text):
    judged = Mock(wraps=comparison.mean_against_target)
    monkeypatch.setattr(comparison, "mean_against_target", judged)
    assert kept.get(f"{kept.place}?{urlencode({'to': 'numbers', 'numbers': text})}")[0] == 200
    assert judged.call_args.args[1] == LAB


def test_the_side_that_is_predicted_is_called_and_drawn_as_it_will_be():
    after = {"L": 47.0, "a": 31.0, "b": 28.0, "interval95_ciede2000": 1.0, "pairs": 4}
    recalled = {"record": None, "shade": "Brick", "target": [50.0, 30.0, 30.0], "predicted": after}
    states = {"strip": "air-dried", "reference": "heat-set", "compared_in": "heat-set", "pairs": 4}
    question = comparison.Question("left", comparison.TARGET, shade="Brick")

    found = {"recalled": recalled, "states": states | {"carried_over": "strip"}}
    assert comparison.once_words(found, "strip") == " once heat-set"
    assert comparison.reference_words(question, found) == "the target of Brick (heat-set)"
    assert comparison.strip_lab(None, question, found) == (47.0, 31.0, 28.0)
    assert comparison.reference_lab(None, question, found) == (50.0, 30.0, 30.0)

    found = {"recalled": recalled, "states": states | {"carried_over": "reference", "reference": "air-dried"}}
    assert comparison.once_words(found, "strip") == ""
    assert comparison.reference_words(question, found) == "the target of Brick once heat-set"
    assert comparison.reference_lab(None, question, found) == (47.0, 31.0, 28.0)


def check(*said):
    done = CliRunner().invoke(main, ["check", str(PHOTO), "--card", CARD, *said, "--json"])
    return json.loads(done.stdout)


@pytest.mark.parametrize(
    ("asked", "problem"),
    [
        ("?strip=middle", "IMG 1.jpg has no strip called 'middle'"),
        ("?to=strip&strip=left&other=left", None),  # the other one is taken
        ("?to=shade", "No shade was chosen"),
        ("?to=shade&shade=Ochre", "no shade called 'Ochre'"),
        ("?to=record&record=x", "'x' is not the number of a record"),
        ("?to=record&record=99", "There is no record 99"),
        ("?to=record&record=1&strip=left", "Record 1 is this very strip"),
        ("?to=numbers&numbers=red", "The colour 'red' is not three numbers"),
        ("?to=numbers", "not three numbers"),
        ("?to=numbers&numbers=50,30,20&tolerance=wide", "wide"),
        ("?to=numbers&numbers=50,30,20&tolerance=0", "tolerance"),
        ("?to=shade&shade=Brick&state=dry", "no state 'dry'"),
        ("?to=nonsense", "nothing to compare this strip with"),
        ("?to=numbers&numbers=50,30,20&after_heat=1", "To compare a strip as it will be once heat-set"),
        ("?to=target&shade=Brick&after_heat=1", "strips"),
        ("?to=shade&shade=Brick&let_down=10", "has no other record to compare with"),
        ("?to=record&record=1&state=heat-set", "One colour is air-dried, the other heat-set."),
        ("?to=record&record=1&state=wet", "One colour is wet, the other air-dried"),
        ("?to=record&record=1&let_down=10", "Record 1 is of the ink itself, but your strip is let down 1:10."),
        ("?to=target&shade=Brick&let_down=10", "your strip is let down"),
        ("?to=shade&shade=Brick&let_down=a+lot", "'a lot' does not say how far the ink was let down"),
    ],
)
def test_what_cannot_be_judged_is_told_and_the_colours_stay(kept, asked, problem):
    status, page = kept.get(kept.place + asked)
    assert status == (422 if problem else 200)
    assert (problem or "What next") in page
    assert not re.search(r"--[a-z]|swatchcam (check|keep|shade)|/tray/", page)
    assert "The left strip" in page


def test_before_anything_is_kept_there_is_no_library_to_be_asked(phone):
    status, page = phone.get(f"{phone.place}?to=shade&shade=Brick")
    assert (status, "This studio has no library yet" in page) == (422, True)
    assert not open_files(phone)


def open_files(phone):
    return [path for path in phone.studio.tray.folder.parent.iterdir() if path.suffix == ".sqlite"]


def found(verdict, *said):
    return {"verdict": verdict, "difference": {"words": list(said)}}


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        (found("different", "lighter", "duller"), "The right strip is lighter and duller than the left strip."),
        (found("different"), "The right strip is another colour, not that of the left strip."),
        (found("same"), "The right strip and the left strip are the same: "),
        (found("too close to call", "redder"), "If anything, the right strip is redder."),
    ],
)
def test_one_sentence_says_it(facts, sentence):
    assert sentence in lead(facts, "the right strip", "the left strip")


# --- kept --------------------------------------------------------------------------------------------------


def test_a_strip_is_kept_with_all_that_was_said(phone):
    said = {
        "shade": "Brick & Söhne <b>",
        "state": "washed",
        "washes": "3",
        "recipe": "binder 500 g\nblack 4 drops",
        "drop": "0,04",
        "cloth": "linen",
        "notes": "pale\nat the rim",
        "mixed": "2026-03-01",
        "coat": "7,2 g on 10 strips of 10x10 cm",
        "let_down": "2,5",
    }
    kept = phone.post(f"{phone.place}/keep", strip="right", **said)
    assert (kept.status_code, kept.headers["location"]) == (303, "/record/1?kept=1")
    library = open_library(phone.library)
    record, batch = library.record(1), library.batches()[0]
    assert (record.shade, str(record.state), record.cloth, record.notes) == (
        "Brick & Söhne <b>",
        "washed 3 times",
        "linen",
        "pale\nat the rim",
    )
    assert (record.coat, record.let_down) == (parse_coat("7.2 g on 10 strips of 10x10 cm"), 2.5)
    assert phone.post(f"{phone.place}/keep", strip="right", **said).headers["location"] == "/record/1?kept=1"
    assert record.photos[0].name == "IMG 1.jpg"
    assert [round(part.grams, 3) for part in batch.recipe.parts] == [500, 0.16]
    assert batch.mixed == "2026-03-01"


@pytest.mark.parametrize(("chosen", "kept_as"), [("known", "black"), ("new", "blakc")])
def test_a_new_pigment_that_may_be_a_slip_is_asked_about_before_a_strip_is_kept(phone, chosen, kept_as):
    library = open_library(phone.library, create=True)
    set_pigment(library, "black")
    said = {"strip": "right", "shade": "Brick", "recipe": "binder 500 g\nblakc 4 drops", "notes": "two\nlines"}
    asked = phone.post(f"{phone.place}/keep", **said)
    assert (asked.status_code, library.records()) == (422, [])
    assert "'blakc' is new: did you mean 'black'?" in words(asked.text)
    assert "two\nlines" in asked.text
    answer = said | {"spelling-name": "blakc", "spelling-near": "black", "spelling": chosen}
    assert phone.post(f"{phone.place}/keep", **answer).status_code == 303
    assert [part.what for part in library.batches()[0].recipe.parts] == ["binder", kept_as]


def test_a_form_that_arrives_twice_keeps_once_and_another_shade_is_refused(kept):
    again = kept.post(f"{kept.place}/keep", strip="left", shade="brick", batch="1")
    assert (again.status_code, again.headers["location"]) == (303, "/record/1?kept=1")
    more = kept.post(f"{kept.place}/keep", strip="left", shade="brick", batch="1", recipe="binder 500 g, red 25 g")
    assert (more.status_code, "What you typed now was not kept" in words(more.text)) == (422, True)
    assert "red 25 g" in more.text
    other = kept.post(f"{kept.place}/keep", strip="left", shade="Slate", batch="7")
    assert other.status_code == 422
    assert "already kept, as record 1" in words(other.text)
    assert 'value="Slate"' in other.text
    assert 'value="7"' in other.text
    assert len(open_library(kept.library).records()) == 1


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ({"shade": " "}, "The field 'Shade' is empty"),
        ({"shade": "x" * 200}, "too long"),
        ({"shade": "Brick", "recipe": "a bit of red"}, "red"),
        ({"shade": "Brick", "state": "dry"}, "not one of the choices"),
        ({"shade": "Brick", "state": "washed", "washes": "often"}, "not a whole number"),
        ({"shade": "Brick", "mixed": "yesterday"}, "'yesterday' is not a date"),
        ({"shade": "Brick", "measured": "2999-12-31"}, "is in the future"),
        ({"shade": "Brick", "state": "washed"}, "The field 'How often it was washed' is empty"),
        ({"shade": "Brick", "scale": "0", "recipe": "binder 500 g"}, "The scale’s step"),
        ({"shade": "Brick", "scale": "fine", "recipe": "binder 500 g"}, "The scale’s step: 'fine'"),
        ({"shade": "Bri\0ck"}, "a character in it that can't be stored"),
        ({"shade": "Brick", "coat": "much"}, "'much' can't be read as a weight"),
        ({"shade": "Brick", "coat": "0.72 g on 10x10 cm", "scale": "0,1"}, "7.2 g on 10 strips of 10x10 cm"),
        ({"shade": "Brick", "let_down": "5000"}, "5000 can't be right"),
    ],
)
def test_what_cannot_be_kept_is_told_and_stays_typed(phone, said, problem):
    answer = phone.post(f"{phone.place}/keep", strip="left", batch="marked so", **said)
    assert answer.status_code == 422
    assert problem in words(answer.text)
    assert 'value="marked so"' in answer.text
    assert not open_files(phone) or not open_library(phone.library).records()


def test_a_recipe_is_never_read_from_a_file_of_the_computer(phone, tmp_path):
    secret = tmp_path / "1.txt"
    secret.write_text("binder 500 g, secret red 3 g")
    answer = phone.post(f"{phone.place}/keep", strip="left", shade="Brick", recipe=str(secret))
    assert answer.status_code == 422
    assert "secret red" not in answer.text


# --- on the tray -------------------------------------------------------------------------------------------


def test_a_photo_under_another_light_joins_the_scene_as_an_item_of_its_own(phone):
    added = phone.post(f"{phone.place}/add", {"photos": ("led.jpg", b"other bytes", "image/jpeg")}, light="other")
    item = phone.studio.tray.item(added.headers["location"].rpartition("/")[2])
    assert (item.asked["lights"], item.names) == ([1, 2], ("IMG 1.jpg", "led.jpg"))
    assert [path.read_bytes() for path in item.files] == [PHOTO.read_bytes(), b"other bytes"]
    assert phone.get(added.headers["location"])[1].count("Waiting for 2 before this one") == 1
    assert phone.studio.tray.item(phone.id).state == "done"


def test_the_same_photo_can_be_measured_as_another_card_or_taken_away(phone):
    again = phone.post(f"{phone.place}/again", card="", beside="yes")
    item = phone.studio.tray.item(again.headers["location"].rpartition("/")[2])
    assert (item.asked["card"], item.asked["beside"]) == (None, True)
    assert phone.post(f"{phone.place}/remove").headers["location"] == "/"
    assert phone.get(phone.place)[0] == 422
    assert phone.get("/")[0] == 200


def test_nominal_colours_are_a_choice_and_the_studio_s_card_is_none(phone):
    for card in ("nominal", ""):
        again = phone.post(f"{phone.place}/again", card=card)
        item = phone.studio.tray.item(again.headers["location"].rpartition("/")[2])
        assert (item.asked["card"], item.asked["usual_card"]) == (card or None, phone.studio.card)


@pytest.mark.parametrize("fields", [{"card": "/etc/passwd"}, {"row": "../x"}])
def test_only_cards_and_strips_of_the_studio_can_be_chosen(phone, fields):
    answer = phone.post("/photo", FILE, **fields)
    assert (answer.status_code, "not one of the choices" in words(answer.text)) == (422, True)


def test_a_form_without_a_photo_says_so(phone):
    assert "There is no photo in the form" in words(phone.post("/photo").text)
    assert "There is no photo in the form" in words(phone.post(f"{phone.place}/add").text)


def test_the_first_page_tells_what_became_of_each_photo(kept):
    assert "kept: Brick, batch 1" in kept.get("/")[1]
    outcome = check()["verdict"]
    assert outcome in kept.get("/")[1]
    kept.studio.tray.answer(kept.id, kept.worked | {"sitting": {"format": "swatchcam-sitting-0"}})
    assert kept.get("/")[0] == 200  # one photo of an older program spoils no page
    status, page = kept.get(kept.place)
    assert (status, "can no longer be read" in page) == (422, True)


def test_a_strip_is_judged_and_kept_in_the_state_that_was_said(kept):
    sent = kept.post("/photo", FILE, key="set", card=CARD, shade="Brick", state="heat-set")
    id = sent.headers["location"].rpartition("/")[2]
    kept.studio.tray.answer(id, kept.worked)
    status, page = kept.get(f"/photo/{id}")
    assert (status, "has no other record to compare with" in page) == (422, True)
    assert re.search(r'name="state" value="heat-set"', kept.client.get(f"/photo/{id}?strip=right&state=heat-set").text)
    assert re.search(r'value="heat-set" checked', kept.client.get(f"/photo/{id}/keep?strip=right").text)
    assert re.search(r'value="washed" checked', kept.client.get(f"/photo/{id}/keep?strip=right&state=washed+3+x").text)


def test_a_let_down_strip_is_judged_kept_and_shown_as_what_it_is(kept):
    assert kept.post(f"{kept.place}/keep", strip="right", shade="Brick", batch="1", let_down="10").status_code == 303
    sent = kept.post("/photo", FILE, key="pale", card=CARD, shade="")
    id = sent.headers["location"].rpartition("/")[2]
    again = json.loads(json.dumps(kept.worked).replace(kept.worked["sitting"]["photos"][0]["digest"], "f" * 64))
    kept.studio.tray.answer(id, again)
    status, page = kept.get(f"/photo/{id}?to=shade&shade=Brick&let_down=1:10")
    assert (status, "batch 1 of Brick (let down 1:10, air-dried)" in page) == (200, True)
    assert "/pot/correct" not in kept.client.get(f"/photo/{id}?to=shade&shade=Brick&let_down=10").text
    keeping = re.search(
        rf'href="(/photo/{id}/keep[^"]*let_down=10[^"]*)"',
        kept.client.get(f"/photo/{id}?to=shade&shade=Brick&let_down=10").text,
    )[1]
    assert 'name="let_down" value="10"' in kept.client.get(unescape(keeping)).text
    status, page = kept.get("/record/2")
    assert "Let-down strip 1 part of the ink in 10 parts of clear base" in page
    assert "/pot/correct" not in kept.client.get("/record/2").text
    assert "Make it the target" not in page
    assert "Make it the target" in kept.get("/record/1")[1]


def test_what_a_pot_was_to_become_is_what_its_strip_is_judged_against(phone):
    mix = phone.studio.tray.put("a mix", "mix", {"kind": "recipe"})
    target = {"words": "wanted", "L": 50.0, "a": 30.0, "b": 20.0}
    phone.studio.tray.answer(mix.id, {"answers": [{"target": target}]})
    assert 'name="aim" value="50.00,30.00,20.00"' in phone.client.get(f"/?mix={mix.id}").text
    sent = phone.post("/photo", FILE, key="aim", card=CARD, aim="50.00,30.00,20.00")
    id = sent.headers["location"].rpartition("/")[2]
    phone.studio.tray.answer(id, phone.worked)
    assert "Compared with left" in phone.get(f"/photo/{id}")[1]  # beside it lies the strip that is wanted
    alone = phone.worked | {"sitting": phone.worked["sitting"] | {"strips": phone.worked["sitting"]["strips"][1:]}}
    phone.studio.tray.answer(id, alone)
    assert "the numbers" in phone.get(f"/photo/{id}")[1]


def test_a_shade_that_holds_only_a_recipe_spoils_no_form(kept):
    from swatchcam.library.proposal_store import keep_proposal
    from tests.worlds.cheap_measurements import proposal

    keep_proposal(open_library(kept.library), proposal(shade="Planned", batch="1"))
    assert "last batch 1" in kept.get(f"{kept.place}/keep")[1]


def test_a_surer_answer_from_more_photos_is_not_said_to_be_kept(kept):
    added = kept.post(f"{kept.place}/add", {"photos": ("led.jpg", b"other bytes", "image/jpeg")}, light="same")
    id = added.headers["location"].rpartition("/")[2]
    photos = kept.worked["sitting"]["photos"]
    more = [*photos, photos[0] | {"digest": "0" * 64, "name": "led.jpg"}]
    kept.studio.tray.answer(id, kept.worked | {"sitting": kept.worked["sitting"] | {"photos": more}})
    assert "is kept as" not in kept.get(f"/photo/{id}")[1]
    kept.studio.tray.answer(id, {"problem": "It is blurred.", "remedy": "Shoot again."})
    assert "Back to the answer without this photo" in kept.get(f"/photo/{id}")[1]


def test_an_unknown_shade_is_not_greeted(kept):
    assert "Ochre" not in kept.get("/?shade=Ochre")[1]
    assert "Compare a strip with Brick" in kept.get("/?shade=brick")[1]


def test_a_refusal_of_the_worker_stands_on_the_page_in_its_words(phone):
    told = {"problem": "IMG 1.jpg: no card <b>.", "remedy": "Choose the card in the photo."}
    phone.studio.tray.answer(phone.id, told)
    status, page = phone.get(phone.place)
    assert status == 200
    assert "IMG 1.jpg: no card <b>." in page
    assert "Choose the card in the photo." in page
    assert json.loads(phone.client.get(f"{phone.place}/state").text) == {"state": "refused", "words": "Done."}


def test_the_strip_of_a_pot_is_kept_as_that_pot(kept):
    from swatchcam.library.proposal_store import keep_proposal
    from tests.worlds.cheap_measurements import proposal

    mix = kept.studio.tray.put("a mix", "mix", {"kind": "recipe", "order": {"scale_g": 0.1}})
    kept.studio.tray.answer(mix.id, {"answers": [{"target": {"words": "wanted", "L": 50.0, "a": 30.0, "b": 20.0}}]})
    made = proposal(shade="Terracotta", batch="1", facts={"asked": mix.id, "choice": 1})
    keep_proposal(open_library(kept.library), made)
    assert f'name="mix" value="{mix.id}"' in kept.client.get(f"/?mix={mix.id}").text
    sent = kept.post("/photo", FILE, key="pot", card=CARD, mix=mix.id)
    id = sent.headers["location"].rpartition("/")[2]
    kept.studio.tray.answer(id, kept.worked)
    form = kept.client.get(f"/photo/{id}/keep?strip=right&state=heat-set").text
    assert re.search(r'name="shade" value="Terracotta"', form)
    assert re.search(r'name="batch" value="1"', form)
    correct = kept.client.get(f"/pot/correct?photo={id}&strip=right").text
    assert re.search(r"<option value=.[0-9]+. selected>Terracotta, batch 1<", correct)


def test_a_changed_day_of_a_kept_strip_is_told(kept):
    more = kept.post(f"{kept.place}/keep", strip="left", shade="brick", batch="1", measured="2026-02-01")
    assert (more.status_code, "was not kept" in words(more.text)) == (422, True)


def test_a_match_that_may_not_hold_elsewhere_is_minded():
    lights = [{"illuminant": "A", "interval95": [0.5, 3.0]}]
    facts = found("same") | {"tolerance": 2.0, "pots": None, "metamerism": {"told": True, "lights": lights}}
    assert "other light" in advice(facts)
    assert "other light" not in advice(facts | {"metamerism": {"told": False, "lights": lights}})
    assert advice(facts | {"metamerism": None}, ["blurred"]).startswith("The photo is weak")


def test_an_unmeasured_card_is_told_once_and_its_number_with_the_numbers(tmp_path, monkeypatch):
    monkeypatch.setenv("SWATCHCAM_CARDS", str(tmp_path / "cards"))
    visit, photo = Visit(tmp_path), (SAMPLES / "day_2.jpg").read_bytes()
    sent = visit.post("/photo", {"photos": ("day.jpg", photo, "image/jpeg")}, card="", shade="")
    id = sent.headers["location"].rpartition("/")[2]
    files = [str(path) for path in visit.studio.tray.item(id).files]
    job = {"asked": {"card": None}, "files": files, "names": ["day.jpg"], "folder": str(tmp_path)}
    visit.studio.tray.answer(id, json.loads(json.dumps(TASKS["photo"](job))))
    _, told = visit.get(sent.headers["location"])
    assert told.count("was never measured") == 1
    assert "print 0482 1093, never measured" in told
    assert "The photo is weak" not in told  # another photo wouldn't help
