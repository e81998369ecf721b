"""A pot in hand is corrected by additions only, in steps that hardly overshoot."""

from __future__ import annotations

import numpy as np
import pytest

from swatchcam.colorimetry.intervals import unit_metric
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.pot_correction import BEYOND, PARTS, RISK, WORTH_A_BOTTLE, correct, knocks_back, overshoot
from swatchcam.mixing.search import Limits, Target, aim_of, pot_in_hand, weighed
from tests.worlds.inkworld import made_by, off, triple, usual

POT = {"blue": 0.3, "yellow": 0.8}
WANTED = (
    {"blue": 0.5, "yellow": 1.6},
    {"blue": 0.3, "yellow": 0.8, "red": 0.2},
    {"blue": 0.35, "yellow": 0.8},
    {"red": 1.5, "black": 0.1},
    {"blue": 0.05, "yellow": 0.1},
)


@pytest.fixture(scope="module")
def world():
    return usual()[0]


@pytest.fixture(scope="module")
def palette(world):
    """What is known once the pot was drawn down and measured."""
    return learn([*usual()[1].known_strips, world.known_strip(POT, 900)])


@pytest.fixture(scope="module", params=range(len(WANTED)))
def asked(request, palette, world):
    """A target, measured or not, and the correction of the pot towards it."""
    wanted = WANTED[request.param]
    target = made_by(palette, wanted)
    if request.param % 2:
        strip = world.kept(wanted, 950 + request.param)
        target = Target(strip.lab, "a strip", strip)
    return target, correct(palette, target, POT)


def test_the_pot_as_it_is_holds_what_it_holds(palette, asked):
    _, correction = asked
    assert correction.now.amounts == {}
    assert correction.now.shares == pytest.approx(POT)


def test_after_an_addition_the_pot_holds_itself_and_the_addition(asked):
    for addition in asked[1].additions:
        for mix in (addition.mix, addition.whole):
            whole = 1 + sum(mix.amounts.values())
            grams = {name: POT.get(name, 0) / 100 + mix.amounts.get(name, 0) for name in {*POT, *mix.amounts}}
            assert mix.shares == pytest.approx({name: 100 * each / whole for name, each in grams.items()}, rel=1e-9)


def test_nothing_is_ever_taken_out(asked):
    for addition in asked[1].additions:
        assert addition.mix.amounts
        assert min(addition.mix.amounts.values()) > 0
        assert addition.mix.amounts.keys() == addition.whole.amounts.keys()


def test_a_step_is_a_part_of_the_way_that_hardly_overshoots(palette, asked):
    target, correction = asked
    for addition in correction.additions:
        for thing, amount in addition.whole.amounts.items():
            assert addition.mix.amounts[thing] == pytest.approx(addition.part * amount)
        assert addition.overshoot <= RISK or addition.part == PARTS[-1]
        assert addition.overshoot == pytest.approx(overshoot(palette, target, correction.now, addition.mix))


def test_no_longer_step_would_have_done(palette, asked):
    target, correction = asked
    vessel = pot_in_hand(palette, POT)
    for addition in correction.additions:
        for part in PARTS[: PARTS.index(addition.part)]:
            longer = weighed(
                palette, target, vessel, {thing: part * amount for thing, amount in addition.whole.amounts.items()}
            )
            assert overshoot(palette, target, correction.now, longer) > RISK


@pytest.mark.parametrize("part", [0.5, 0.8, 1.0, 1.3])
def test_the_risk_is_the_share_of_draws_that_end_beyond(palette, asked, part):
    """Draws of the ink's colour, measured along the way from now to then, in CIEDE2000 linearised about the aim."""
    target, correction = asked
    addition = correction.additions[0]
    amounts = {thing: part * amount for thing, amount in addition.whole.amounts.items()}
    then = weighed(palette, target, pot_in_hand(palette, POT), amounts)
    aim, metric, count = aim_of(palette, target), unit_metric(aim_of(palette, target)), 20_000
    way = metric @ np.subtract(then.predicted.lab, correction.now.predicted.lab)
    draws = np.random.default_rng(1).multivariate_normal(then.predicted.lab, then.predicted.ink, count)
    beyond = float(np.mean((draws - aim) @ metric.T @ way / np.linalg.norm(way) > BEYOND))
    found = overshoot(palette, target, correction.now, then)
    # Three standard errors of a share of so many draws (binomial).
    assert abs(found - beyond) <= 3 * np.sqrt(max(found * (1 - found), 1 / count) / count)


def test_a_pot_that_does_not_move_does_not_overshoot(palette, asked):
    target, correction = asked
    assert overshoot(palette, target, correction.now, correction.now) == 0


def test_a_longer_step_is_a_greater_risk(palette):
    target = made_by(palette, WANTED[0])
    found = correct(palette, target, POT)
    whole = found.additions[0].whole.amounts
    vessel = pot_in_hand(palette, POT)
    risks = [
        overshoot(palette, target, found.now, weighed(palette, target, vessel, {t: part * a for t, a in whole.items()}))
        for part in (0.4, 0.7, 1.0, 1.5)
    ]
    assert risks == sorted(risks)
    assert risks[0] < RISK
    assert risks[-1] > 0.5


def test_a_pot_that_is_pale_is_brought_nearer(palette):
    target = made_by(palette, WANTED[0])
    found = correct(palette, target, POT)
    best = found.additions[0]
    assert set(best.mix.amounts) == {"blue", "yellow"}
    assert best.whole.distance < 0.05
    assert best.mix.distance < 0.6 * found.now.distance
    assert best.mix.expected < found.now.expected


def test_two_corrections_bring_the_real_ink_to_the_target(world, palette):
    wanted = {"blue": 0.5, "yellow": 1.6, "red": 0.1}
    strip = world.kept(wanted, 970)
    target, shares, known, errors = Target(strip.lab, "a strip", strip), dict(POT), palette, []
    for number in (1, 2):
        errors.append(off(world.lab(shares), world.lab(wanted)))
        shares = correct(known, target, shares).additions[0].mix.shares
        known = learn([*known.known_strips, world.known_strip(shares, 980 + number)])
    errors.append(off(world.lab(shares), world.lab(wanted)))
    assert errors[0] > 8
    assert errors[2] < 2.5  # the strip's own film, and what the phone does to it, are in it
    assert errors[2] < errors[1] < errors[0]


def test_too_green_is_knocked_back_with_what_lies_opposite(palette):
    # A little of the opposite makes a vivid colour greyer.
    target = made_by(palette, {"blue": 0.3, "yellow": 0.8, "red": 0.12})
    best = correct(palette, target, POT).additions[0]
    assert set(best.mix.amounts) == {"red"}
    assert best.whole.shares["red"] == pytest.approx(0.12, rel=0.01)
    now = np.hypot(*palette.predict(POT).lab[1:])
    assert np.hypot(*best.mix.predicted.lab[1:]) < now


@pytest.mark.parametrize(
    ("pigment", "lab", "so"),
    [
        ("red", (60.0, -35.0, -15.0), True),  # a blue green lies opposite red
        ("red", (60.0, 40.0, 20.0), False),  # its own hue
        ("red", (60.0, -2.0, -1.0), False),  # grey already
        ("black", (60.0, -40.0, 0.0), False),  # has no hue
        ("yellow", (40.0, 0.0, -40.0), True),
        ("blue", (70.0, 30.0, 60.0), True),
    ],
)
def test_what_knocks_back_lies_opposite(palette, pigment, lab, so):
    assert knocks_back(palette, pigment, lab) is so


def test_limits_hold_for_the_whole_pot(palette):
    target = made_by(palette, {"red": 4.0, "yellow": 4.0})
    found = correct(palette, target, POT, Limits(most=2.5, each={"red": 0.7}))
    for addition in found.additions:
        assert addition.whole.load <= 2.5 + 1e-9
        assert addition.whole.shares.get("red", 0) <= 0.7 + 1e-9


def test_a_way_that_ends_short_of_the_target_is_gone_at_once(palette):
    target = made_by(palette, {"blue": 3.0, "yellow": 6.0})
    for addition in correct(palette, target, POT, Limits(most=2.0)).additions:
        assert addition.part == 1
        assert addition.mix.shares == pytest.approx(addition.whole.shares)
        assert addition.overshoot < 0.01


def test_only_what_is_on_the_shelf_is_added(palette):
    found = correct(palette, made_by(palette, WANTED[1]), POT, shelf={"black": 1.0, "blue": 1.0})
    assert {thing for addition in found.additions for thing in addition.mix.amounts} <= {"black", "blue"}


def test_few_bottles_come_first_where_more_bring_little(palette):
    found = correct(palette, Target(triple(np.array(palette.predict(POT).lab) - (3, 0, 0)), "darker"), POT)
    first, others = found.additions[0], found.additions[1:]
    assert others
    for other in others:
        fewer = len(other.mix.amounts) < len(first.mix.amounts)
        assert first.whole.expected <= other.whole.expected + (0 if fewer else WORTH_A_BOTTLE)
