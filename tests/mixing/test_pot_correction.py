"""A pot in hand is corrected by additions only, and only by what very likely helps and hardly ever harms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from swatchcam.colorimetry.intervals import unit_metric
from swatchcam.mixing.known_strip import KnownStrip, slipped
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.pot_correction import (
    BEYOND,
    HARM,
    MORE_STRIPS,
    PARTS,
    SURE_ENOUGH,
    WORTH_A_BOTTLE,
    Means,
    chances,
    correct,
    helps_for,
    knocks_back,
    may_be_right,
    overshoot,
)
from swatchcam.mixing.pot_correction import RIGHT as RIGHT_BEFORE
from swatchcam.mixing.search import Limits, Target, aim_of, pot_in_hand, weighed
from tests.worlds.inkworld import film_world, kept_of, made_by, off, triple, usual
from tests.worlds.spectra import difference, reflectance_lab

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


def test_what_is_proposed_very_likely_helps_and_hardly_ever_harms(palette, asked):
    target, correction = asked
    for addition in correction.additions:
        assert addition.chances.nearer >= SURE_ENOUGH
        assert addition.chances.worse <= HARM
        assert addition.part in PARTS
        assert addition.overshoot == pytest.approx(overshoot(palette, target, correction.now, addition.mix))


def test_of_what_is_sure_enough_the_nearest_is_proposed(asked):
    correction = asked[1]
    good = [step for step in correction.tried if step.chances.good]
    assert bool(good) == bool(correction.additions)
    if good:
        best = min(step.mix.expected for step in good)
        assert correction.additions[0].mix.expected <= best + WORTH_A_BOTTLE


def test_the_chances_are_those_of_draws_of_both_colours_together(palette, asked):
    """Drawn anew by a general library from the covariance of now and then; distances by colour-science.

    A pot that may be right is left out here: what is drawn then is tested below.
    """
    target, correction = asked
    for step in correction.tried[::4]:
        contents, seen, count = [correction.now.content, step.mix.content], np.zeros(2), 4000
        for likely, known in palette.by_scatter:
            joint = known.predict_all(contents, target.measured)
            mean = np.concatenate([np.array(one.lab) for one in joint.each])
            whole = np.block([[joint.covariance[i, j] for j in (0, 1)] for i in (0, 1)])
            draws = multivariate_normal(mean, whole, allow_singular=True, seed=5).rvs(count).reshape(-1, 2, 3)
            before, after = (difference(draws[:, at], aim_of(known, target)) for at in (0, 1))
            seen += likely * np.array([np.mean(after < before), np.mean(after > before + BEYOND)])
        told = step.chances
        right = may_be_right(palette, target, correction.now)
        # Three standard errors of a share, of both sets of draws (binomial), and what a right pot may add or take.
        for chance, share in ((told.nearer, seen[0]), (told.worse, seen[1])):
            assert abs(chance - share) <= 3 * np.sqrt(2 * max(chance * (1 - chance), 1 / count) / count) + right


def test_a_pot_that_looks_off_by_its_film_may_be_right_and_one_of_another_shade_is_not(by_hand):
    world, series = by_hand
    found = []
    for wanted, thick in ((RIGHT, 1.0), (RIGHT, 1 / THICK), (RIGHT | {"red": 0.2}, 1.0)):
        target = wanted_of(world, wanted)
        palette, correction = corrected(series, [pot_strip(world, 1, thick=thick)], target)
        found.append(may_be_right(palette, target, correction.now))
    assert found[0] > RIGHT_BEFORE  # nothing speaks against it
    assert 0.01 < found[1] < found[0]
    assert found[2] < 0.001


@pytest.mark.parametrize("part", [0.5, 0.8, 1.0, 1.3])
def test_the_risk_is_the_share_of_draws_that_end_beyond(palette, asked, part):
    """Draws of the ink's colour, measured along the way from now to then, in CIEDE2000 linearised about the aim."""
    target, correction = asked
    addition = correction.tried[0]
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
    whole = found.tried[0].whole.amounts
    vessel = pot_in_hand(palette, POT)
    risks = [
        overshoot(palette, target, found.now, weighed(palette, target, vessel, {t: part * a for t, a in whole.items()}))
        for part in (0.4, 0.7, 1.0, 1.5)
    ]
    assert risks == sorted(risks)
    assert risks[0] < 0.25
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
    target, shares, known, errors, pot = Target(strip.lab, "a strip", strip), dict(POT), palette, [], "strip 900"
    for number in (1, 2):
        errors.append(off(world.lab(shares), world.lab(wanted)))
        found = correct(known, target, shares, pot=pot)
        shares = dict((found.additions[0].mix if found.additions else found.now).shares)
        strip, pot = world.known_strip(shares, 980 + number), f"shade\npot {number}"
        known = learn([*known.known_strips, replace(strip, strip=f"{pot}\n")])
    errors.append(off(world.lab(shares), world.lab(wanted)))
    assert errors[0] > 8
    assert errors[2] < 2.5  # the strip's own film, and what the phone does to it, are in it
    assert errors[1] < errors[0]


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


# --- strength or film ----------------------------------------------------------------------------------------

RIGHT = {"blue": 0.4, "yellow": 0.8, "red": 0.1}
THICK = 1.2


def pot_strip(world, number, shares=RIGHT, thick=1.0):
    """A strip of the pot, measured exactly but for noise, whose film is so thick."""
    seen = world.truth(shares, thick)
    colour = kept_of(reflectance_lab(seen), seen, 0.0, f"photo {number}", noise=0.1)
    return KnownStrip(dict(RIGHT), slipped(RIGHT, dict.fromkeys(RIGHT, 0.0)), colour, f"shade\npot\n{number}")


def wanted_of(world, shares=RIGHT):
    seen = world.reflectance(shares)
    colour = kept_of(reflectance_lab(seen), seen, 0.0, "photo 0", noise=0.1)
    return Target(colour.lab, "a strip", colour)


@pytest.fixture(scope="module")
def by_hand():
    """A studio that smears by hand, and its test series."""
    world = film_world(1, spread=0.08)
    return world, world.series()


def corrected(series, strips, target):
    palette = learn([*series, *strips])
    return palette, correct(palette, target, RIGHT, pot="shade\npot")


def test_one_thick_strip_of_a_right_pot_is_no_reason_to_add_anything(by_hand):
    """Right proportions, and all that is seen is a film 20 % too thick, or too thin."""
    world, series = by_hand
    for thick in (THICK, 1 / THICK):
        strip = pot_strip(world, 1, thick=thick)
        assert off(strip.colour.lab, wanted_of(world).lab) > 1.5
        _, found = corrected(series, [strip], wanted_of(world))
        assert found.additions == () or found.now.distance <= BEYOND


def test_three_strips_that_say_the_same_are(by_hand):
    """All a fifth too thin: one may be chance, three are hardly, and strength is mended."""
    world, series = by_hand
    target = wanted_of(world)
    one, three = ([pot_strip(world, number, thick=1 / THICK) for number in range(1, n + 1)] for n in (1, 3))
    assert not corrected(series, one, target)[1].additions
    palette, many = corrected(series, three, target)
    # As strips of this pot look, which is what they say of its ink.
    seen = [reflectance_lab(world.truth(shares, 1 / THICK)) for shares in (RIGHT, many.additions[0].mix.shares)]
    assert off(seen[1], target.lab) < off(seen[0], target.lab) - 0.5
    assert len({palette.known_strips[at].strip for at in palette.of_pot("shade\npot")}) == 3


def test_shade_is_mended_with_one_strip_however_thick(by_hand):
    """Too little red by half: that is no film."""
    world, series = by_hand
    target = wanted_of(world, RIGHT | {"red": 0.2})
    for thick in (1 / THICK, 1.0, THICK):
        _, found = corrected(series, [pot_strip(world, 1, thick=thick)], target)
        assert "red" in found.additions[0].mix.amounts
        assert off(world.lab(found.additions[0].mix.shares), target.lab) < off(world.lab(RIGHT), target.lab)


def test_what_would_make_it_surer_is_another_strip(by_hand):
    world, series = by_hand
    target, one = wanted_of(world), [pot_strip(world, 1, thick=1 / THICK)]
    palette, found = corrected(series, one, target)
    helps = {each.means: each for each in helps_for(palette, target, found.now, [step.mix for step in found.tried])}
    count = helps[Means.MORE_STRIPS].strips
    assert count in MORE_STRIPS
    # It does: as many more strips that look the same make it sure enough.
    more = [pot_strip(world, 2 + number, thick=1 / THICK) for number in range(count)]
    assert corrected(series, [*one, *more], target)[1].additions


def test_a_colour_that_was_cut_off_is_measured_whole_first(by_hand):
    world, series = by_hand
    target = wanted_of(world, {name: 1.1 * share for name, share in RIGHT.items()})
    strip = pot_strip(world, 1)
    errors = strip.colour.errors
    wide = replace(errors, parts=dict(errors.parts) | {"ink": 9.0 * np.eye(3)})
    cut = replace(strip, colour=replace(strip.colour, errors=wide))
    for seen, so in ((strip, False), (cut, True)):
        palette, found = corrected(series, [seen], target)
        helps = helps_for(palette, target, found.now, [step.mix for step in found.tried])
        assert (Means.WHOLE_COLOUR in {one.means for one in helps}) is so


def test_nothing_gained_is_no_chance(palette, asked):
    target, correction = asked
    (same,) = chances(palette, target, correction.now, [correction.now])
    assert same.worse == 0.0
    assert not same.good  # nearer or not by less than a computer's rounding
