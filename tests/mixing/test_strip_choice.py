"""Of a library of years some strips stand for all: nothing of what is asked about is lost, and answers hardly move."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.library.records import DRY
from swatchcam.mixing.dosing.choices import choices
from swatchcam.mixing.known_strip import KnownStrip, shares_of, strip_of
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.search import Target, mixes, new_pot
from swatchcam.mixing.strip_choice import EACH, MOST, choose
from tests.worlds.large_library import CLOTH, LOADS, large_world, strips_of_years

HARDLY = 0.1  # CIEDE2000


@cache
def known(seed, count):
    """What a studio's library of so many strips teaches."""
    drawn = (each for each in strips_of_years(seed, count) if (each.entry.cloth, each.entry.state) == (CLOTH, DRY))
    return tuple(
        KnownStrip(
            *shares_of(each.entry.recipe),
            each.kept,
            strip_of(each.entry.shade, each.entry.batch, each.entry.mark),
            number,
        )
        for number, each in enumerate(drawn)
    )


@cache
def taught(seed, count):
    return learn(known(seed, count))


def photos(known_strips):
    return {known_strip.colour.errors.photos for known_strip in known_strips}


def of_mixes(known_strips):
    return [known_strip for known_strip in known_strips if len(known_strip.shares) > 1]


# --- what stays ------------------------------------------------------------------------------------------


def test_where_there_are_few_all_stay():
    assert choose(known(1, 200)) == known(1, 200)
    assert choose(known(1, 200), most=200) == known(1, 200)


@pytest.mark.parametrize("most", [40, 100, 150])
def test_as_many_stay_as_are_wanted_in_their_order(most):
    found = choose(known(1, 200), [(40.0, 20.0, 20.0)], most=most)
    assert most <= len(found) <= most + 6  # a photo's strips stay together
    assert [each.record for each in found] == sorted(each.record for each in found)
    assert found == choose(known(1, 200), [(40.0, 20.0, 20.0)], most=most)


def test_the_target_s_own_strip_stays_with_those_of_its_photo():
    for target in of_mixes(known(1, 200))[::9]:
        found = choose(known(1, 200), [target.colour], most=40)
        beside = [each for each in known(1, 200) if each.colour.errors.photos == target.colour.errors.photos]
        assert target in beside
        assert set(map(id, beside)) <= set(map(id, found))


def test_all_strips_of_the_pot_in_hand_stay():
    for target in of_mixes(known(1, 200))[::9]:
        shade, batch, _ = target.strip.split("\n")
        found = choose(known(1, 200), [(90.0, 0.0, 0.0)], target.pot, most=40)
        own = [each for each in known(1, 200) if each.strip.startswith(f"{shade}\n{batch}\n")]
        assert target in own
        assert set(map(id, own)) <= set(map(id, found))


def test_strips_of_one_photo_stay_together():
    found = choose(known(1, 200), [(40.0, 20.0, 20.0)], most=100)
    left_out = [each for each in known(1, 200) if each not in found]
    assert not photos(found) & photos(left_out)


def test_the_test_series_stay_from_end_to_end():
    found = choose(known(1, 200), [(40.0, 20.0, 20.0)], most=100)
    for name in large_world(1).pigments:
        alone = [each.shares[name] for each in found if set(each.shares) == {name}]
        assert min(alone) == pytest.approx(LOADS[0], rel=0.05)
        assert max(alone) == pytest.approx(LOADS[-1], rel=0.05)
    assert any(not each.shares for each in found)


def test_a_pigment_that_is_in_mixes_only_stays_known():
    names = large_world(1).pigments
    mixed = [each for each in known(1, 200) if set(each.shares) != {names[0]}]
    found = choose(mixed, [(95.0, 0.0, 0.0)], most=30)
    assert {name for each in found for name in each.shares} == set(names)


def test_of_many_alike_the_newest_stay():
    """Three thousand strips of one pigment: few of each load, and those the last ones."""
    red = next(each for each in known(1, 200) if len(each.shares) == 1)
    (name,) = red.shares
    many = [
        replace(
            red,
            shares={name: LOADS[number % len(LOADS)]},
            colour=replace(red.colour, errors=replace(red.colour.errors, photos=(f"p{number}",))),
            strip=f"s\n{number}\n",
            record=number,
        )
        for number in range(3000)
    ]
    found = choose(many, most=EACH)
    assert len(found) == EACH
    assert min(each.record for each in found) >= 3000 - 100
    one_photo = [replace(each, colour=red.colour) for each in many]
    assert len(choose(one_photo, most=EACH)) == EACH


# --- what comes out --------------------------------------------------------------------------------------


def moved(chosen):
    """CIEDE2000 that predictions of six mixes move in the mean where only chosen strips teach, by the colour asked."""
    whole, world, rng = taught(1, 200), large_world(1), np.random.default_rng(5)
    found = []
    for _ in range(6):
        shares = whole.vector(world.mix(rng))[None]
        wanted = whole.labs(shares)[0]
        found.append(float(delta_e_2000(learn(chosen(tuple(wanted))).labs(shares)[0], wanted)))
    return np.mean(found)


def test_predicted_colours_hardly_move():
    assert moved(lambda wanted: choose(known(1, 200), [wanted], most=150)) < HARDLY


def test_they_move_less_than_if_the_newest_strips_were_taken():
    """The test series and the newest mixes, as many: what was done before there was a choice."""
    alone = [each for each in known(1, 200) if len(each.shares) < 2]
    newest = (*alone, *of_mixes(known(1, 200))[len(alone) - 75 :])
    assert moved(lambda wanted: choose(known(1, 200), [wanted], most=75)) < moved(lambda wanted: newest)


def test_the_recommended_mix_looks_the_same_to_the_model_that_takes_all():
    """Of as many strips as are usually taken none is left out; of half of them the recipe hardly differs."""
    assert len(known(1, 200)) <= MOST
    whole, target = taught(1, 200), of_mixes(known(1, 200))[20].colour
    wanted = Target(target.lab, "a record", target, target.reflectance)
    some = learn(choose(known(1, 200), [target], most=150))
    best = choices(mixes(some, wanted, new_pot(some)))[0]
    assert delta_e_2000(np.array(best.predicted.lab), np.array(whole.predict(best.shares).lab)) < HARDLY


def test_what_nearly_the_same_strips_taught_is_a_good_beginning():
    """With one strip more it comes to the same, whether one begins anew or not."""
    before, world, rng = taught(1, 200), large_world(1), np.random.default_rng(6)
    more = (*known(1, 200), world.known_strip(world.mix(rng), 9000))
    shares = np.array([before.vector(world.mix(rng)) for _ in range(20)])
    assert delta_e_2000(learn(more, before).labs(shares), learn(more).labs(shares)).max() < 0.05
