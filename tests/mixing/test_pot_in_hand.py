"""At the mixing table: which colour is meant, which pot is in hand, and what the library keeps of it."""

from __future__ import annotations

import shutil
from datetime import date, timedelta

import numpy as np
import pytest

from swatchcam.errors import LibraryError, SwatchcamError, UsageError
from swatchcam.library.changes import remove_record, set_target
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import proposals
from swatchcam.library.proposals import AGAIN, CORRECTION, RECIPE, THINNING
from swatchcam.library.records import State
from swatchcam.library.shelf.pigments import add_lot, pigment, pigments, set_pigment
from swatchcam.measurement.summary import sitting_of
from swatchcam.messages.surface import TERMINAL
from swatchcam.mixing.fresh_pot import new_recipe, repeated
from swatchcam.mixing.keep_choice import keep_choice
from swatchcam.mixing.known_strip import POT_STD
from swatchcam.mixing.order import Order
from swatchcam.mixing.pot_in_hand import correct_record, correct_sitting
from swatchcam.mixing.prediction_check import checked_predictions
from swatchcam.mixing.requests import CorrectionRequest, Hand, PrintConditions
from swatchcam.mixing.target import TargetRequest, of_strip, target_of
from swatchcam.mixing.test_series import new_lot
from swatchcam.mixing.workbench import set_up
from swatchcam.report.mixing import answer_dict
from tests.colorimetry.spellings import LAB, SPELLINGS
from tests.worlds.inkworld import off, triple
from tests.worlds.mixing_library import CLOTH, ORANGE, WANTED, Camera, Shop, asked_and_kept, orange_shop

pytestmark = pytest.mark.usefixtures("remembered_palettes")

ORDER = Order(480, 0.01, ("red", "yellow"))
ANY = Order(480, 0.01)
TODAY = date.today()
YESTERDAY, LONG_AGO = ((TODAY - timedelta(days=days)).isoformat() for days in (1, 400))


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stocked")
    orange_shop(str(folder / "halm.sqlite"), folder)
    return folder


@pytest.fixture
def shop(stocked, tmp_path):
    """A copy of it."""
    shutil.copytree(stocked, tmp_path / "shop")
    return Shop(open_library(str(tmp_path / "shop" / "halm.sqlite")), tmp_path / "shop" / "shots", drawn=2000)


@pytest.fixture
def camera(shop, monkeypatch):
    return Camera(shop.world, monkeypatch)


@pytest.fixture
def pot_photo(camera, tmp_path):
    """The strip that is wanted in the left window, the pot's strip in the right one."""
    return camera.lay(tmp_path / "today.jpg", left=WANTED, right=ORANGE)


def refused(work, kind=UsageError):
    with pytest.raises(kind) as refusal:
        work()
    assert TERMINAL.problem(refusal.value)
    assert refusal.value.remedy
    return refusal.value


def recipe_of(shop, asked, order=ORDER, **place):
    return new_recipe(shop.library, asked, order, PrintConditions(**place))


def correct(shop, photo, asked, order=ORDER, place=None, thinner_g=None, **hand):
    return asked_and_kept(
        shop.library, [photo], CorrectionRequest(asked, order, Hand(**hand), place or PrintConditions(), thinner_g)
    )


def once_more(shop, asked, order, rests=()):
    return repeated(shop.library, asked, order, PrintConditions(), rests)


def shares(recipe):
    return {name: share.percent for name, share in recipe.shares().items()}


# --- which colour is wanted --------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["41.2,-8,-32.5", "41.2;-8;-32.5", " 41.2, -8, -32.5 "])
def test_numbers_are_a_target(shop, text):
    target, shade = target_of(shop.library, TargetRequest(text))
    assert (target.lab, target.measured, target.reflectance, shade) == ((41.2, -8.0, -32.5), None, None, None)


def test_a_strip_in_a_photo_is_a_target(shop, camera, tmp_path):
    photo = camera.lay(tmp_path / "wanted.jpg", left=WANTED, right=ORANGE)
    left, _ = target_of(shop.library, TargetRequest(f"{photo}:left", card="halm-1", how={"row": "reds"}))
    assert (left.words, left.measured, left.lab) == (
        "wanted.jpg:left",
        camera.seen[photo, "left"],
        camera.seen[photo, "left"].lab,
    )
    assert len(left.reflectance) == 81
    assert camera.asked == [(photo, "halm-1", {"beside": False, "row": "reds"})]
    usual, _ = target_of(shop.library, TargetRequest(photo))
    assert usual.words == "wanted.jpg:right"  # where today's strip lies


def test_a_loose_strip_is_looked_for_where_it_is_named(shop, camera, tmp_path):
    photo = camera.lay(tmp_path / "wanted.jpg", left=WANTED)
    camera.seen[photo, "beside-1"] = camera.seen[photo, "left"]
    with pytest.raises(SwatchcamError):  # the photo that all are taken for shows none
        target_of(shop.library, TargetRequest(f"{photo}:beside-1"))
    assert camera.asked[0][2]["beside"] is True


def test_a_record_is_a_target_and_so_is_a_shade(shop):
    record = shop.library.records("orange", "1")[0]
    by_number, none = target_of(shop.library, TargetRequest(record=record.number))
    assert (by_number.lab, none) == (record.colour.lab, None)
    assert f"record {record.number} (orange, batch 1, air-dried)" == by_number.words
    last, shade = target_of(shop.library, TargetRequest(shade="ORANGE"))
    assert shade.name == "orange"
    assert last.lab == shop.library.records("orange", "2")[0].colour.lab
    set_target(shop.library, "orange", (60.0, 40.0, 50.0))
    aimed, _ = target_of(shop.library, TargetRequest(shade="orange"))
    assert (aimed.lab, aimed.words, aimed.measured) == ((60.0, 40.0, 50.0), "the target of orange", None)


@pytest.mark.parametrize("text", SPELLINGS)
def test_every_spelling_of_a_colour_is_taken(shop, text):
    assert target_of(shop.library, TargetRequest(text))[0].lab == LAB


def test_a_record_that_was_taken_out_is_no_target(shop):
    record = shop.library.records("orange", "2")[0]
    remove_record(shop.library, record.number)
    refused(lambda: target_of(shop.library, TargetRequest(record=record.number)))
    assert "batch 1" in target_of(shop.library, TargetRequest(shade="orange"))[0].words


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (TargetRequest(), "You haven't said which colour you want."),
        (TargetRequest("50,0,0", 1), "both named"),
        (TargetRequest(record=999), "no record 999"),
        (TargetRequest(shade="plum"), "'plum'"),
        (TargetRequest("50,0,999"), "is not a colour that a surface can have"),
        (TargetRequest("50,0,0,0"), "neither three numbers nor a photo"),
        (TargetRequest("nan,0,0"), "not three numbers"),
        (TargetRequest("52 ,9 46"), "read in two ways"),
    ],
)
def test_what_is_no_colour_is_refused(shop, asked, words):
    assert words in TERMINAL.problem(refused(lambda: target_of(shop.library, asked)))


def test_a_shade_without_a_record_at_that_state_is_no_target(shop):
    told = refused(lambda: target_of(shop.library, TargetRequest(shade="orange", state=State("heat-set"))))
    assert told.code == "nothing-to-mix-towards"
    assert told.facts == {"shade": "orange", "state": "heat-set"}
    assert 'shade set "orange" --target' in TERMINAL.remedy(told)


def test_a_target_that_is_too_long_for_a_file_is_refused(shop):
    refused(lambda: target_of(shop.library, TargetRequest("a" * 300)), SwatchcamError)


# --- a new pot ---------------------------------------------------------------------------------------------


def test_a_recipe_is_kept_as_a_batch_that_is_going_to_be_mixed(place, tmp_path, monkeypatch):
    shop = orange_shop(place, tmp_path)
    camera = Camera(shop.world, monkeypatch)
    photo = camera.lay(tmp_path / "wanted.jpg", left={"blue": 0.5, "yellow": 0.5})
    answer = recipe_of(shop, TargetRequest(f"{photo}:left"), ANY)
    kept = keep_choice(shop.library, answer, "Meadow", "")
    assert (kept.kind, kept.shade, kept.batch, kept.from_batch) == (RECIPE, "Meadow", TODAY.isoformat(), None)
    assert (kept.cloth, kept.state, kept.target_words) == (CLOTH, State("air-dried"), "wanted.jpg:left")
    best = answer.proposed.choices[0]
    assert (kept.recipe, kept.lab, kept.radius) == (best.pot, best.mix.predicted.lab, best.mix.predicted.radius)
    assert kept.target == camera.seen[photo, "left"].lab
    assert proposals(shop.library) == [kept]
    (batch,) = shop.library.batches("meadow")
    assert batch.recipe == best.pot


def test_any_choice_can_be_kept_under_any_name(shop):
    answer = recipe_of(shop, TargetRequest("50,20,10"), ANY)
    assert len(answer.proposed.choices) > 1
    kept = keep_choice(shop.library, answer, "brick", "A 7", 2)
    assert (kept.batch, kept.recipe) == ("A 7", answer.proposed.choices[1].pot)
    refused(lambda: keep_choice(shop.library, answer, "brick", "a 7", 1))


@pytest.mark.parametrize("number", [0, -1, 9])
def test_there_are_only_so_many_choices(shop, number):
    answer = recipe_of(shop, TargetRequest("50,20,10"), ANY)
    told = refused(lambda: keep_choice(shop.library, answer, "brick", "", number))
    assert told.code == "no-choice-of-that-number"
    assert told.facts == {"number": number, "count": len(answer.proposed.choices)}


def test_it_must_be_said_for_which_shade_it_is_kept(shop):
    answer = recipe_of(shop, TargetRequest("50,20,10"), ANY)
    assert refused(lambda: keep_choice(shop.library, answer, "", "")).code == "no-shade-to-keep-for"
    own = recipe_of(shop, TargetRequest(shade="orange"), ORDER)
    assert keep_choice(shop.library, own, "", "").shade == "orange"


def test_a_cloth_without_all_series_has_no_recipe(shop):
    refused(lambda: recipe_of(shop, TargetRequest("50,20,10"), ORDER, cloth="silk"), LibraryError)


# --- the pot in hand ---------------------------------------------------------------------------------------


def test_a_pot_is_corrected_towards_the_strip_beside_it(shop, camera, pot_photo):
    answer = correct(shop, pot_photo, TargetRequest(shade="orange"), ORDER, beside="left")
    assert (answer.pot.name, answer.shade.name, answer.proposed.kind) == ("2", "orange", CORRECTION)
    assert answer.proposed.target.words == "today.jpg:left"
    best = answer.proposed.choices[0]
    added = {part.what: part.grams for part in best.added.parts}
    assert "yellow" in added
    # By the truth the pot comes nearer.
    world = shop.world
    before, after = (off(world.lab(each), world.lab(WANTED)) for each in (ORANGE, shares(best.pot)))
    assert after < 0.6 * before


def test_the_pots_strip_is_kept_once(shop, camera, pot_photo):
    def ask():
        return correct(shop, pot_photo, TargetRequest(shade="orange"), ORDER, batch="2", beside="left")

    before = len(shop.library.records())
    first, second = ask(), ask()
    assert len(shop.library.records()) == before + 1
    assert first.record.number == second.record.number
    assert (first.record.batch, first.record.colour.name, first.record.cloth) == ("2", "right", CLOTH)
    assert first.record.number in [known_strip.record for known_strip in second.bench.known_strips]


def test_the_same_question_has_the_same_answer(shop, pot_photo):
    one, other = (correct(shop, pot_photo, TargetRequest(shade="orange"), beside="left").proposed.now for _ in range(2))
    # What the library keeps of an error is rounded.
    assert one.distance == pytest.approx(other.distance, abs=0.02)


def test_a_correction_is_kept_with_the_pot_that_it_corrects_under_the_next_name(shop, camera, pot_photo, tmp_path):
    answer = correct(shop, pot_photo, TargetRequest(shade="orange"), ORDER, beside="left")
    kept = keep_choice(shop.library, answer, "", "")
    assert (kept.kind, kept.from_batch, kept.batch, kept.shade) == (CORRECTION, "2", "2.1", "orange")
    again_photo = camera.lay(tmp_path / "later.jpg", left=WANTED, right=shares(kept.recipe))
    next_answer = correct(shop, again_photo, TargetRequest(shade="orange"), ORDER, beside="left")
    assert next_answer.pot.name == "2.1"
    assert next_answer.proposed.now.distance < answer.proposed.now.distance
    (checked,) = checked_predictions(proposals(shop.library), shop.library.records())
    assert checked.within
    once_more = correct(shop, pot_photo, TargetRequest(shade="orange"), ORDER, beside="left")
    (gone,) = [one for one in once_more.proposed.flags if one.code == "pot-gone-on"]
    assert gone.facts == {"batch": "2", "into": "2.1", "number": kept.number}
    assert "pot-gone-on" not in {one.code for one in (*answer.proposed.flags, *next_answer.proposed.flags)}


def test_the_cloth_is_that_for_which_the_pot_was_proposed(shop, camera, tmp_path):
    shop.keep({"red": 1.0}, "series red", "linen 1", cloth="linen")
    shop.keep(ORANGE, "orange", "0", cloth="linen", measured="2026-06-01")  # the shade's last strip is on linen
    answer = recipe_of(shop, TargetRequest(record=shop.library.records("orange", "1")[0].number), ORDER, cloth=CLOTH)
    kept = keep_choice(shop.library, answer, "orange", "7")
    photo = camera.lay(tmp_path / "today.jpg", right=shares(kept.recipe))
    order = Order(400, 0.01, ("red", "yellow"))
    found = correct(shop, photo, TargetRequest("60,40,50", shade="orange"), order, batch="7")
    assert (found.record.cloth, found.bench.cloth) == (CLOTH, CLOTH)
    linen = camera.lay(tmp_path / "linen.jpg", right=shares(kept.recipe))
    found = correct(shop, linen, TargetRequest("60,40,50", shade="orange"), order, PrintConditions("linen"), batch="7")
    assert (found.record.cloth, found.bench.cloth) == ("linen", "linen")


def test_a_pot_whose_strip_has_no_noted_cloth_can_be_corrected(shop):
    record = shop.keep(ORANGE, "orange", "9", cloth="")
    asked = TargetRequest("60,40,50")
    assert correct_record(shop.library, record.number, CorrectionRequest(asked, ORDER)).bench.cloth == CLOTH
    shop.keep({"red": 1.0}, "series red", "linen 1", cloth="linen")
    told = refused(lambda: correct_record(shop.library, record.number, CorrectionRequest(asked, ORDER)))
    assert told.code == "cloth-not-named"
    named = CorrectionRequest(asked, ORDER, place=PrintConditions(CLOTH))
    answer = correct_record(shop.library, record.number, named)
    assert answer.bench.cloth == CLOTH
    assert record.number in [one.record for one in answer.bench.known_strips]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (TargetRequest("60,40,50", shade="orange"), "60,40,50"),
        (TargetRequest(record=14, shade="orange"), "record 14"),
        (TargetRequest(shade="orange"), "batch 1,"),  # the shade's last record of another batch
    ],
)
def test_without_a_strip_beside_it_the_target_is_what_was_named_or_the_shades_own(shop, pot_photo, asked, words):
    assert words in correct(shop, pot_photo, asked, ORDER).proposed.target.words


@pytest.mark.parametrize(
    ("said", "asked", "words"),
    [
        ({"batch": "9"}, TargetRequest(shade="orange"), "'9'"),
        ({"strip": "left", "beside": "left"}, TargetRequest(shade="orange"), "are the same strip"),
        ({"beside": "middle"}, TargetRequest(shade="orange"), "'middle'"),
        ({}, TargetRequest(shade="plum"), "'plum'"),
        ({}, TargetRequest(), "which shade the pot should become"),
        ({"batch": "blank"}, TargetRequest(shade="orange"), "Batch blank of"),
        ({"unknown": True}, TargetRequest(), "which colour you want"),
    ],
)
def test_what_cannot_be_corrected_is_refused(shop, pot_photo, said, asked, words):
    shop.keep(ORANGE, "orange", "blank", recipe=None)
    assert words in TERMINAL.problem(refused(lambda: correct(shop, pot_photo, asked, ORDER, **({"batch": "2"} | said))))


@pytest.mark.parametrize("order", [Order(-5), Order(900)])
def test_a_refused_order_leaves_nothing_behind(shop, pot_photo, order):
    before = len(shop.library.records())
    refused(lambda: correct(shop, pot_photo, TargetRequest(shade="orange"), order, beside="left"))
    assert len(shop.library.records()) == before


def test_a_pot_that_nobody_knows_goes_by_its_colour_and_nothing_is_kept(shop, pot_photo):
    before = shop.library.counts()
    deeper = ",".join(str(value) for value in shop.world.seen(shop.world.lab(WANTED)))
    order = Order(300, 0.01, ("red", "yellow"))
    answer = correct(shop, pot_photo, TargetRequest(deeper), order, unknown=True)
    assert (answer.pot, answer.record) == (None, None)
    assert answer.proposed.choices[0].pot.grams > 300
    assert shop.library.counts() == before
    kept = keep_choice(shop.library, answer, "stray", "")
    assert (kept.kind, kept.from_batch) == (CORRECTION, None)


def test_a_thinner_pot_is_kept_as_a_thinning(shop, camera, tmp_path):
    pale = {"red": 0.5, "yellow": 0.5}
    photo = camera.lay(tmp_path / "today.jpg", left=pale, right=ORANGE)
    answer = correct(shop, photo, TargetRequest(shade="orange"), ORDER, beside="left", thinner_g=300.0)
    assert answer.proposed.kind == THINNING
    kept = keep_choice(shop.library, answer, "", "")
    assert (kept.kind, kept.from_batch, kept.batch) == (THINNING, "2", "2.1")
    assert kept.recipe.grams == pytest.approx(300, abs=5)
    usual = correct(shop, photo, TargetRequest(shade="orange"), ORDER, batch="2", beside="left")
    assert usual.proposed.kind == CORRECTION
    assert keep_choice(shop.library, usual, "", "pale").kind == THINNING  # for that is its first choice


def test_a_pot_of_the_old_lot_is_not_made_stronger_by_a_new_one(shop, camera, pot_photo):
    set_pigment(shop.library, "red")
    add_lot(shop.library, "red", "R-2", TODAY.isoformat(), 1.5)
    answer = correct(shop, pot_photo, TargetRequest(shade="orange"), ORDER, beside="left")
    # What was written, but for what the pot's own strip tells of slips.
    assert answer.proposed.now.shares == pytest.approx(ORANGE, rel=POT_STD)


def test_a_nominal_target_is_not_held_against_measured_strips(shop, camera, tmp_path):
    photo = camera.lay(tmp_path / "nominal.jpg", absolute=False, left=WANTED, right=ORANGE)
    told = refused(lambda: correct(shop, photo, TargetRequest(shade="orange"), beside="left"))
    assert (told.code, told.facts) == ("cards-unlike", {"known_measured": True})
    assert "--card" in TERMINAL.remedy(told)


def test_nor_is_a_nominal_strip_of_the_pot(shop, camera, tmp_path):
    photo = camera.lay(tmp_path / "nominal.jpg", absolute=False, right=ORANGE)
    refused(lambda: correct(shop, photo, TargetRequest("47,48,50", shade="orange")))


def sitting_in(camera, photo):
    return sitting_of(camera.measure(photo))


def told_of(answer, order=ORDER):
    """All that is told of an answer but the number of the pot's record."""
    facts = answer_dict(answer, order)
    return facts | {"pot": facts["pot"] and facts["pot"] | {"record": None, "records": []}}


def test_what_is_only_considered_is_not_kept(shop, camera, pot_photo):
    before = shop.library.counts()
    hand = Hand("2", beside="left")
    answer = correct_sitting(
        shop.library, sitting_in(camera, pot_photo), CorrectionRequest(TargetRequest(shade="orange"), ORDER, hand)
    )
    assert shop.library.counts() == before
    assert (answer.record, answer.entry.shade, answer.entry.batch, answer.entry.cloth) == (None, "orange", "2", CLOTH)
    kept = correct(shop, pot_photo, TargetRequest(shade="orange"), batch="2", beside="left")
    assert told_of(kept) == told_of(answer)
    assert (kept.entry, kept.record.batch) == (None, "2")


def test_a_strip_of_another_pot_is_refused_before_it_is_kept(shop, camera, tmp_path):
    before, photo = shop.library.counts(), camera.lay(tmp_path / "blue.jpg", left=WANTED, right={"blue": 3.0})
    hand = Hand("2", beside="left")
    told = refused(
        lambda: correct_sitting(
            shop.library, sitting_in(camera, photo), CorrectionRequest(TargetRequest(shade="orange"), ORDER, hand)
        )
    )
    assert (told.code, told.facts["batch"]) == ("strip-not-of-pot", "2")
    assert told.facts["apart"] > 15
    assert shop.library.counts() == before


def test_a_pot_is_corrected_from_its_record_as_from_its_photo(shop, camera, pot_photo):
    record = correct(shop, pot_photo, TargetRequest(shade="orange"), batch="2").record
    for asked in (TargetRequest(shade="orange"), TargetRequest("60,40,50", shade="orange")):
        by_photo = correct(shop, pot_photo, asked, batch="2")
        by_record = correct_record(shop.library, record.number, CorrectionRequest(asked, ORDER))
        assert told_of(by_record) == told_of(by_photo)
        assert (by_record.pot, by_record.shade) == (by_photo.pot, by_photo.shade)
        assert by_record.record.number == record.number


def test_a_record_says_its_shade_itself(shop):
    record = shop.library.records("orange", "2")[0]
    answer = correct_record(shop.library, record.number, CorrectionRequest(TargetRequest(), ORDER))
    assert (answer.shade.name, answer.pot.name) == ("orange", "2")
    assert "batch 1," in answer.proposed.target.words


def test_a_pot_can_be_thinned_from_its_record(shop):
    record = shop.library.records("orange", "2")[0]
    pale = ",".join(str(value) for value in shop.world.seen(shop.world.lab({"red": 0.5, "yellow": 0.5})))
    answer = correct_record(
        shop.library, record.number, CorrectionRequest(TargetRequest(pale), ORDER, Hand(), PrintConditions(), 300.0)
    )
    assert answer.proposed.kind == THINNING


def test_a_record_of_a_pot_that_nobody_knows_goes_by_its_colour(shop):
    record = shop.keep(ORANGE, "orange", "blank", recipe=None, measured="2026-04-01")
    told = refused(lambda: correct_record(shop.library, record.number, CorrectionRequest(TargetRequest(), ORDER)))
    assert (told.code, told.facts) == ("batch-without-recipe", {"shade": "orange", "batch": "blank"})
    answer = correct_record(shop.library, record.number, CorrectionRequest(TargetRequest(), ORDER, Hand(unknown=True)))
    assert (answer.pot, answer.record) == (None, None)
    assert "batch 2," in answer.proposed.target.words  # not the pot itself, which is the shade's last record


@pytest.mark.parametrize(
    ("asked", "hand", "place", "words"),
    [
        (TargetRequest(record=15), Hand(), PrintConditions(), "are the same strip"),
        (TargetRequest(shade="plum"), Hand(), PrintConditions(), "'plum'"),
        (TargetRequest(shade="series red"), Hand(), PrintConditions(), "shade 'orange' instead of 'series red'"),
        (TargetRequest(), Hand("1"), PrintConditions(), "batch '2' instead of '1'"),
        (TargetRequest(), Hand(), PrintConditions("linen"), f"cloth '{CLOTH}' instead of 'linen'"),
        (TargetRequest(), Hand(), PrintConditions(state=State("heat-set")), "state 'air-dried' instead of 'heat-set'"),
    ],
)
def test_a_record_is_not_corrected_as_what_it_is_not(shop, asked, hand, place, words):
    assert shop.library.record(15).batch == "2"
    assert words in TERMINAL.problem(
        refused(lambda: correct_record(shop.library, 15, CorrectionRequest(asked, ORDER, hand, place)))
    )


def test_nor_is_a_nominal_record_beside_measured_ones(shop):
    record = shop.keep(ORANGE, "orange", "3", nominal=True)
    told = refused(
        lambda: correct_record(shop.library, record.number, CorrectionRequest(TargetRequest("60,40,50"), ORDER))
    )
    assert (told.code, told.facts) == ("cards-unlike", {"known_measured": True})


def test_a_recipe_may_aim_at_a_colour_that_is_known_already(shop, camera, pot_photo):
    wanted = of_strip(sitting_in(camera, pot_photo), "left")
    answer = new_recipe(shop.library, TargetRequest(), ORDER, PrintConditions(), wanted)
    assert told_of(answer) == told_of(recipe_of(shop, TargetRequest(f"{pot_photo}:left"), ORDER))
    assert answer.shade is None


# --- the same again ----------------------------------------------------------------------------------------


def test_a_shade_is_mixed_again_from_the_pot_that_came_nearest(shop):
    set_target(shop.library, "orange", triple(shop.world.seen(shop.world.lab(WANTED))))
    answer = once_more(shop, TargetRequest(shade="orange"), Order(600, 0.01), ["2=120 g"])
    assert (answer.proposed.kind, answer.pot.name) == (AGAIN, "1")
    ((batch, left),) = answer.rests
    assert (batch.name, left) == ("2", 120.0)
    best = answer.proposed.choices[0]
    assert best.pot.grams == pytest.approx(600, abs=0.01)
    assert best.added.grams == pytest.approx(480, abs=0.01)
    kept = keep_choice(shop.library, answer, "", "")
    assert (kept.kind, kept.from_batch, kept.batch) == (AGAIN, None, TODAY.isoformat())


@pytest.mark.parametrize("text", ["2", "=120", "2=-5", "2=nan", "2=inf", "9=10", "2=501"])
def test_what_is_no_rest_of_a_batch_is_refused(shop, text):
    refused(lambda: once_more(shop, TargetRequest(shade="orange"), Order(600, 0.01), [text]))


def test_of_one_batch_no_more_can_be_left_than_was_mixed(shop):
    refused(lambda: once_more(shop, TargetRequest(shade="orange"), Order(900, 0.01), ["2=300", "2=300"]))


def test_a_shade_without_any_recipe_cannot_be_mixed_again(shop):
    shop.keep(ORANGE, "plum", "1", recipe=None)
    told = refused(lambda: once_more(shop, TargetRequest(shade="plum"), ORDER))
    assert (told.code, told.facts) == ("shade-without-recipe", {"shade": "plum"})


# --- lots --------------------------------------------------------------------------------------------------


def lots(shop, name="red"):
    return {lot.name: (lot.since, lot.strength, lot.strength_std) for lot in pigment(shop.library, name).lots}


def test_a_lots_strength_comes_from_its_test_mix(shop):
    test = shop.keep({"red": 1.0}, "lot test", "R-2", true={"red": 1.3}, measured=YESTERDAY)
    noted = new_lot(shop.library, "red", "R-2", YESTERDAY, test.number)
    since, strength, std = lots(shop)["R-2"]
    assert since == YESTERDAY
    assert abs(strength - 1.3) <= 1.96 * std
    assert noted.what.code == "lot-added"
    assert noted.what.facts == {
        "lot": "R-2", "pigment": "red", "known": "tested",
        "strength": pytest.approx(strength), "interval95": pytest.approx(1.96 * std),
    }  # fmt: skip
    assert f"{strength:.2f} ±{1.96 * std:.2f} times as strong" in TERMINAL.change(noted.what)


def test_a_lots_strength_may_be_said(shop):
    set_pigment(shop.library, "red")
    assert new_lot(shop.library, "red", "R-2", YESTERDAY, strength=1.1).what.facts["known"] == "said"
    assert new_lot(shop.library, "RED", "R-3", TODAY.isoformat()).what.facts["known"] == "assumed"
    said = {name: (since, strength) for name, (since, strength, _) in lots(shop).items()}
    assert said == {"R-2": (YESTERDAY, 1.1), "R-3": (TODAY.isoformat(), 1.0)}
    assert all(0.05 < std < 0.2 for _, _, std in lots(shop).values())  # nobody tested them


def test_a_strength_that_the_pots_mixed_since_then_speak_against_is_refused(shop):
    for batch in ("8", "9"):
        shop.keep(ORANGE, "orange", batch, measured=YESTERDAY)
    told = refused(lambda: new_lot(shop.library, "red", "R-2", YESTERDAY, strength=3.0))
    assert (told.code, told.facts["pots"]) == ("lot-unlike-its-pots", 2)
    low, high = told.facts["range"]
    assert low < 1 < high < 3
    assert f"--test-mix {told.facts['record']}" in TERMINAL.remedy(told)
    assert "red" not in {one.name for one in pigments(shop.library)}
    assert new_lot(shop.library, "red", "R-2", TODAY.isoformat(), strength=3.0)  # no pot was mixed since then


def test_a_said_strength_is_the_one_that_is_applied(shop):
    asked, order = TargetRequest(record=14), Order(400, 0.01, ("red", "yellow"))

    def red():
        return added_of(recipe_of(shop, asked, order))["red"]

    before = red()
    for batch in ("8", "9"):
        shop.keep(ORANGE, "orange", batch, measured=YESTERDAY, true=ORANGE | {"red": 1.5 * ORANGE["red"]})
    new_lot(shop.library, "red", "R-2", YESTERDAY, strength=1.5)
    assert before / red() == pytest.approx(1.5, rel=0.1)


def added_of(answer):
    return {part.what: part.grams for part in answer.proposed.choices[0].added.parts}


def test_what_does_not_tell_of_a_lot_is_refused(shop):
    test = shop.keep(ORANGE, "lot test", "R-2", measured=YESTERDAY).number
    blank = shop.keep(ORANGE, "lot test", "blank", recipe=None).number
    later = (TODAY + timedelta(days=1)).isoformat()
    for words, work in (
        ("is in the future", lambda: new_lot(shop.library, "red", "R-2", later, strength=1.0)),
        ("both given", lambda: new_lot(shop.library, "red", "R-2", YESTERDAY, test, 1.1)),
        ("no record 999", lambda: new_lot(shop.library, "red", "R-2", YESTERDAY, 999)),
        ("no blue in this test mix", lambda: new_lot(shop.library, "blue", "B-2", YESTERDAY, test)),
        ("The test mix (batch", lambda: new_lot(shop.library, "red", "R-2", YESTERDAY, blank)),
        ("'ochre'", lambda: new_lot(shop.library, "ochre", "O-2", YESTERDAY, strength=1.0)),
    ):
        assert words in TERMINAL.problem(refused(work))


def test_a_lot_is_in_use_from_a_day(shop):
    assert refused(lambda: new_lot(shop.library, "red", "R-2", "soon", strength=1.0)).code == "day-unreadable"


def test_the_test_mix_of_a_lot_counts_as_that_lot(shop):
    test = shop.keep({"red": 1.0}, "lot test", "R-2", true={"red": 1.3}, measured=YESTERDAY)
    told = refused(lambda: new_lot(shop.library, "red", "R-2", TODAY.isoformat(), test.number))
    assert told.code == "test-mix-before-lot"
    assert told.facts == {"mixed": YESTERDAY, "since": TODAY.isoformat()}
    assert f"--since {YESTERDAY}" in TERMINAL.remedy(told)
    new_lot(shop.library, "red", "R-2", YESTERDAY, test.number)
    (known_strip,) = [
        known_strip for known_strip in set_up(shop.library).known_strips if known_strip.record == test.number
    ]
    assert known_strip.shares["red"] == pytest.approx(lots(shop)["R-2"][1])


def test_a_second_strip_of_the_test_mix_does_not_speak_against_it(shop):
    alone = shop.keep({"red": 1.0}, "lot test", "R-2", true={"red": 1.3}, measured=YESTERDAY)
    new_lot(shop.library, "red", "R-2", YESTERDAY, alone.number)
    shop.keep({"red": 1.0}, "lot test", "R-3", true={"red": 1.3}, measured=LONG_AGO)
    second = shop.keep({"red": 1.0}, "lot test", "R-3", true={"red": 1.3}, measured=LONG_AGO)
    new_lot(shop.library, "red", "R-3", LONG_AGO, second.number)
    (_, one, one_std), (_, other, other_std) = (lots(shop)[name] for name in ("R-2", "R-3"))
    assert abs(one - other) < 1.96 * np.hypot(one_std, other_std)
    assert other > 1.15


# --- several strips of a pot -----------------------------------------------------------------------------------


@pytest.fixture
def both_windows(camera, tmp_path):
    """A strip of the pot in each window."""
    return camera.lay(tmp_path / "both.jpg", left=ORANGE, right=ORANGE)


def test_each_strip_of_a_pot_is_a_film_of_its_own_and_kept_with_a_mark(shop, both_windows):
    wanted = TargetRequest(record=shop.library.records("orange", "1")[0].number, shade="orange")
    answer = correct(shop, both_windows, wanted, batch="2", strip="right", others=("left",))
    assert answer.proposed.strips == 3  # the one that was kept before, without a mark, and these two
    assert [(record.mark, record.colour.name) for record in answer.records] == [("A", "right"), ("B", "left")]
    again = correct(shop, both_windows, wanted, batch="2", strip="right", others=("left",))
    assert [record.number for record in again.records] == [record.number for record in answer.records]
    assert again.proposed.strips == 3
    assert len(shop.library.records("orange", "2")) == 3


def test_the_next_letter_is_the_next_that_is_free(shop, camera, tmp_path):
    wanted = TargetRequest(shade="orange")
    first = camera.lay(tmp_path / "first.jpg", left=WANTED, right=ORANGE)
    correct(shop, first, wanted, batch="2", beside="left", marks=("b",))
    photo = camera.lay(tmp_path / "second.jpg", left=ORANGE, right=ORANGE)
    answer = correct(shop, photo, wanted, batch="2", strip="left", others=("right",))
    assert [record.mark for record in answer.records] == ["A", "C"]


def test_one_strip_alone_has_no_mark_and_counts_as_the_one_kept_before(shop, pot_photo):
    answer = correct(shop, pot_photo, TargetRequest(shade="orange"), batch="2", beside="left")
    assert answer.record.mark == ""
    assert answer.proposed.strips == 1
    assert answer_dict(answer, ORDER)["pot"]["strips"] == 1


@pytest.mark.parametrize(
    ("hand", "code"),
    [
        ({"strip": "right", "others": ("right",)}, "strip-named-twice"),
        ({"strip": "right", "others": ("left",), "beside": "left"}, "pot-is-target"),
        ({"strip": "right", "others": ("beside-2",)}, "strip-not-there"),
    ],
)
def test_strips_that_are_named_wrongly_are_refused_and_nothing_is_kept(shop, both_windows, hand, code):
    before = shop.library.counts()
    told = refused(lambda: correct(shop, both_windows, TargetRequest(shade="orange"), batch="2", **hand))
    assert told.code == code
    assert shop.library.counts() == before


def test_a_pot_of_unknown_recipe_is_known_by_all_its_strips(shop, both_windows):
    wanted = TargetRequest(record=shop.library.records("orange", "1")[0].number)
    answer = correct(shop, both_windows, wanted, unknown=True, strip="right", others=("left",))
    assert answer.proposed.strips == 2
    assert answer.records == ()
