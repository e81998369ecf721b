"""What counts is the colour after heat setting: recipe, correction and repeat aim at the state of their target."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import swatchcam
from swatchcam.errors import UsageError
from swatchcam.library.changes import set_target
from swatchcam.library.library import open_library
from swatchcam.library.proposal_store import keep_proposal, proposals
from swatchcam.library.records import DRY, State
from swatchcam.messages.surface import TERMINAL
from swatchcam.mixing.fresh_pot import new_recipe, repeated
from swatchcam.mixing.keep_choice import keep_choice, proposal_for
from swatchcam.mixing.order import Order
from swatchcam.mixing.pot_in_hand import correct_record
from swatchcam.mixing.requests import CorrectionRequest, Hand, PrintConditions
from swatchcam.mixing.target import TargetRequest, target_of
from swatchcam.report.mixing import answer_dict
from tests.worlds.inkworld import HEAT, heat_set
from tests.worlds.mixing_library import FINISHED, ORANGE, Camera, Shop, asked_and_kept, finished_shop
from tests.worlds.spectra import difference

pytestmark = pytest.mark.usefixtures("remembered_palettes")

ORDER = Order(480, 0.01)
WASHED = State("washed", 1)
# Mixes that heat moves, and none that is in the library.
HIDDEN = ({"red": 1.2, "yellow": 1.6}, {"blue": 1.0, "yellow": 0.5}, {"blue": 0.6, "red": 0.9})


@pytest.fixture
def shop(finished_stock, tmp_path):
    (tmp_path / "halm.sqlite").write_bytes((finished_stock / "halm.sqlite").read_bytes())
    return Shop(open_library(str(tmp_path / "halm.sqlite")), tmp_path / "shots", drawn=2000, heats=True)


@pytest.fixture
def camera(shop, monkeypatch):
    return Camera(shop.world, monkeypatch)


def seen(world, shares):
    """(3,) what the studio's phone makes of such a strip, whatever the film."""
    return world.seen(world.lab(shares))


def wanted(shop, shares):
    """The finished colour of such a mix, as numbers that the studio's phone would give."""
    return "{:.4f},{:.4f},{:.4f}".format(*seen(heat_set(shop.world), shares))


def recipe(shop, target, state=None):
    return new_recipe(shop.library, TargetRequest(target, state=state), ORDER, PrintConditions())


def pot_of(answer):
    """What is in the recommended pot, %."""
    return {name: share.percent for name, share in answer.proposed.choices[0].pot.shares().items()}


def refused(work):
    with pytest.raises(UsageError) as refusal:
        work()
    assert TERMINAL.problem(refusal.value).endswith(".")
    assert TERMINAL.remedy(refusal.value).endswith((".", ")", '"'))
    return refusal.value


# --- the colour after heat setting is what is hit ------------------------------------------------------------


@pytest.mark.parametrize("hidden", HIDDEN, ids=str)
def test_a_pot_mixed_for_the_finished_colour_comes_nearer_to_it(shop, hidden):
    """Held against the drawn world: what its strip looks like once it is heat-set, and before."""
    target, after = wanted(shop, hidden), heat_set(shop.world)
    aimed, unaware = recipe(shop, target, FINISHED), recipe(shop, target, DRY)
    true = np.array([float(x) for x in target.split(",")])
    off, off_unaware = (float(difference(seen(after, pot_of(each)), true)) for each in (aimed, unaware))
    assert off < 2.5
    assert off < 0.6 * off_unaware
    facts = answer_dict(aimed, ORDER)["choices"][0]
    finished, dry = ([facts[name][axis] for axis in "Lab"] for name in ("predicted", "when_dry"))
    assert difference(finished, seen(after, pot_of(aimed))) <= facts["predicted"]["interval95_ciede2000"]
    assert difference(dry, seen(shop.world, pot_of(aimed))) <= facts["when_dry"]["interval95_ciede2000"]
    # The two are told apart: taken for the finished colour, the dry one would be further off.
    assert difference(dry, seen(after, pot_of(aimed))) > difference(finished, seen(after, pot_of(aimed)))


def test_where_dry_is_what_is_aimed_at_nothing_is_said_of_it(shop):
    facts = answer_dict(recipe(shop, "50,20,10", DRY), ORDER)
    assert facts["state"] == facts["target"]["state"] == "air-dried"
    assert {choice["when_dry"] for choice in facts["choices"]} == {None}
    assert (facts["treat_next"], facts["treat_words"]) == ([], "")


def test_a_dry_strip_of_a_pot_is_corrected_towards_a_heat_set_target(shop, camera, tmp_path):
    more = {"red": 1.3, "yellow": 1.9}
    lab = tuple(float(x) for x in wanted(shop, more).split(","))
    set_target(shop.library, "orange", lab, state=FINISHED)
    photo = camera.lay(tmp_path / "today.jpg", right=ORANGE)
    request = CorrectionRequest(TargetRequest(shade="orange"), ORDER, Hand(strip="right"))
    answer = asked_and_kept(shop.library, [photo], request)
    assert (answer.record.state, answer.bench.state, answer.proposed.target.state) == (DRY, FINISHED, FINISHED)
    kept = keep_choice(shop.library, answer, "", "")
    (stored,) = proposals(shop.library, "orange")
    assert (stored.state, stored.target_state) == (FINISHED, FINISHED) == (kept.state, kept.target_state)
    facts = answer_dict(answer, ORDER)["choices"][0]
    mixed, after = pot_of(answer), heat_set(shop.world)
    dry = [facts["when_dry"][axis] for axis in "Lab"]
    assert difference(dry, seen(shop.world, mixed)) <= facts["when_dry"]["interval95_ciede2000"]
    assert difference(seen(after, mixed), lab) < difference(seen(after, ORANGE), lab)


def test_a_heat_set_strip_of_the_pot_may_be_corrected_towards_a_dry_target(shop):
    record = shop.keep(ORANGE, "orange", "1", state=FINISHED, measured="2026-03-04")
    request = CorrectionRequest(TargetRequest("60,36,39", state=DRY), ORDER)
    answer = correct_record(shop.library, record.number, request)
    assert (answer.bench.state, answer.bench.later) == (DRY, FINISHED.kind)
    assert proposal_for(answer, answer.proposed.choices[0], "orange", "x").state == DRY


# --- whose state it is ---------------------------------------------------------------------------------------


def test_the_state_is_that_of_the_shades_target_a_record_or_a_proposal_else_what_is_said(shop):
    library = shop.library
    record = shop.keep(ORANGE, "orange", "2", state=FINISHED, measured="2026-03-04")

    def state(**asked):
        return target_of(library, TargetRequest(**asked))[0].state

    assert state(target="50,20,10") is None
    assert state(target="50,20,10", state=WASHED) == WASHED
    assert state(record=record.number) == FINISHED
    assert state(shade="orange") == FINISHED  # the finished strip, although a dry one is there too
    assert state(shade="orange", state=DRY) == DRY
    answer = recipe(shop, "50,20,10", FINISHED)
    made = proposal_for(answer, answer.proposed.choices[0], "rust", "1")
    keep_proposal(library, made)
    assert state(shade="rust") == FINISHED
    keep_proposal(library, replace(made, shade="moss", target_state=None))
    assert state(shade="moss") is None
    assert state(shade="moss", state=DRY) == DRY
    set_target(library, "orange", (60.0, 36.0, 39.0))
    assert state(shade="orange") is None
    set_target(library, "orange", None, state=WASHED)
    assert state(shade="orange") == WASHED


def test_what_contradicts_the_library_is_refused(shop):
    record = shop.keep(ORANGE, "orange", "2", state=FINISHED, measured="2026-03-04")
    set_target(shop.library, "orange", (60.0, 36.0, 39.0), state=FINISHED)
    for asked in ({"record": record.number}, {"shade": "orange"}):
        told = refused(lambda asked=asked: target_of(shop.library, TargetRequest(**asked, state=DRY)))
        assert (told.code, told.facts) == ("target-in-other-state", {"said": str(DRY), "known": str(FINISHED)})
        # How hot it was is no contradiction, and what is kept counts.
        said = State("heat-set", how="160 °C")
        assert target_of(shop.library, TargetRequest(**asked, state=said))[0].state == FINISHED


def test_where_nobody_said_it_that_is_flagged(shop):
    (unsaid,) = [one for one in recipe(shop, "50,20,10").bench.flags if one.code == "target-state-unsaid"]
    assert unsaid.facts == {"aimed": "air-dried"}
    assert "target-state-unsaid" not in {one.code for one in recipe(shop, "50,20,10", DRY).bench.flags}


def test_a_third_state_is_refused_and_nothing_is_kept(shop, camera, tmp_path):
    set_target(shop.library, "orange", (60.0, 36.0, 39.0), state=FINISHED)
    photo, before = camera.lay(tmp_path / "today.jpg", right=ORANGE), shop.library.counts()
    place = PrintConditions(state=WASHED)
    request = CorrectionRequest(TargetRequest(shade="orange"), ORDER, Hand(strip="right"), place)
    told = refused(lambda: asked_and_kept(shop.library, [photo], request))
    assert (told.code, told.facts) == ("third-state", {"target": str(FINISHED), "strip": str(WASHED)})
    assert shop.library.counts() == before


def test_a_shade_again_aims_at_its_targets_state_and_says_so(shop):
    set_target(shop.library, "orange", (60.0, 36.0, 39.0), state=FINISHED)
    answer = repeated(shop.library, TargetRequest(shade="orange"), ORDER, PrintConditions())
    assert (answer.bench.state, answer.pot.name) == (FINISHED, "1")
    assert all(choice["when_dry"] for choice in answer_dict(answer, ORDER)["choices"])


# --- which strips to heat-set next ---------------------------------------------------------------------------


@pytest.mark.parametrize("hidden", HIDDEN, ids=str)
def test_the_strips_to_heat_set_next_hold_what_is_in_the_mix(tmp_path, hidden):
    shop = finished_shop(str(tmp_path / "few.sqlite"), tmp_path, pairs=0)
    answer = recipe(shop, wanted(shop, hidden), FINISHED)
    facts = answer_dict(answer, ORDER)
    (few,) = [one for one in answer.bench.flags if one.code == "few-in-state"]
    assert few.facts["count"] == 0
    by_number = {one.record: {*one.shares} for one in answer.bench.known_strips}
    mixed = {name.casefold() for name in pot_of(answer)}
    asked = [by_number[number] for number in facts["treat_next"]]
    assert asked
    assert all(held & mixed for held in asked)
    assert facts["treat_words"].startswith("Heat-set th")


def test_with_enough_of_them_none_is_asked_for(shop):
    answer = recipe(shop, "50,20,10", FINISHED)
    assert answer.proposed.treat_next == ()
    assert "few-in-state" not in {one.code for one in answer.bench.flags}


# --- scripts -------------------------------------------------------------------------------------------------


def test_scripts_say_the_state_as_commands_do(shop, camera, tmp_path):
    target = swatchcam.Target(lab=(60.0, 36.0, 39.0))
    facts = swatchcam.recommend(shop.library, target, 300, state="heat-set 150 C 4 min press").as_dict()
    assert facts["state"] == facts["target"]["state"] == "heat-set, 150 °C, 4 min, press"
    assert facts["choices"][0]["when_dry"]
    photo = camera.lay(tmp_path / "today.jpg", right=ORANGE)
    found = swatchcam.correct(
        shop.library, photo, shade="orange", grams=480, strip="right", target=target, target_state="heat-set"
    ).as_dict()
    assert (found["state"], found["target"]["state"]) == ("heat-set", "heat-set")
    with pytest.raises(UsageError) as refusal:
        swatchcam.recommend(shop.library, target, 300, state="cured")
    assert refusal.value.code == "state-unknown"


def test_heat_does_something_in_the_drawn_world(shop):
    """Else this file would show nothing: heat moves each mix by more than a strip is measured to."""
    assert {*HEAT} == {*shop.world.pigments}
    for shares in (ORANGE, *HIDDEN):
        assert difference(shop.world.lab(shares), heat_set(shop.world).lab(shares)) > 3
