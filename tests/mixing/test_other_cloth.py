"""Pigments carried to another cloth: held to drawn studios on two cloths, and to the film's equation over a ground."""

from __future__ import annotations

import shutil
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.intervals import radius_of_lab
from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.entry import Entry
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, HEAT_SET, State
from swatchcam.messages.surface import PAGE, TERMINAL
from swatchcam.mixing.film_model import SUNK, Layer
from swatchcam.mixing.known_strip import shares_of
from swatchcam.mixing.order import Order
from swatchcam.mixing.other_cloth import ENOUGH, BareCloths, layers_of, moves_of
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.pot_in_hand import correct_record
from swatchcam.mixing.requests import CorrectionRequest
from swatchcam.mixing.target import TargetRequest
from swatchcam.mixing.workbench import bench_of_pigments, set_up
from swatchcam.report.mixing import answer_dict
from tests.worlds.hidden_studios import dyed, hidden_studio
from tests.worlds.inks import PIGMENTS, cloth, film_reflectance, saunderson
from tests.worlds.inkworld import World, film_world, guessed, off
from tests.worlds.mixing_library import CLOTH, INKS, ORANGE, WANTED, Shop, put_kept
from tests.worlds.other_cloths import on_other_cloth
from tests.worlds.spectra import WAVELENGTHS, reflectance_lab

NAMES = "red", "blue"
SURFACE = 0.02, 0.3
SHARES = np.array([[0.3, 1.5], [4.0, 0.02], [0.0, 0.0]])
STUDIOS, MIXES = 3, 15
REGION = 7.815  # 95 % of chi-square with three degrees of freedom (Pearson 1900)
LINEN = "natural"  # of the drawn cloths
HOT = State(HEAT_SET, how="150 °C, 4 min, press")


# --- the layer ----------------------------------------------------------------------------------------------


def layer_on_two(new=LINEN):
    return Layer(NAMES, SUNK, cloth("white"), two_states=True, later_cloth=cloth(new))


def numbers(layer, uptake=1.0, sunk=0.2):
    """Those of two drawn pigments; what another cloth adds is that it takes up so many times the ink."""
    theta, adds = np.zeros(layer.of_one_state), np.zeros(layer.of_one_state)
    for p, name in enumerate(layer.pigments):
        theta[layer.absorption_of(p)] = np.log(0.05 * PIGMENTS[name].absorption[::4])
        theta[layer.scatter_of(p)], theta[layer.crowding_of(p)] = np.log(0.0012), np.log(20.0)
        adds[layer.absorption_of(p)] = adds[layer.scatter_of(p)] = np.log(uptake)
    theta[layer.binder :] = np.log(0.0175), *SURFACE, np.log(sunk / (1 - sunk))
    adds[layer.binder] = np.log(uptake)
    return np.concatenate([theta, adds])


@pytest.mark.parametrize("new", [LINEN, "grey", "blue"])
def test_over_another_ground_it_is_the_film_over_that_ground(new):
    """Kubelka 1948 and Saunderson 1942 as the drawn worlds have them, and dyed cloth where ink has sunk in."""
    layer, thick = layer_on_two(new), 1.3
    shares = SHARES / (1 + SHARES / 20.0)
    nodes = [np.log(0.05 * PIGMENTS[name].absorption[::4]) for name in NAMES]
    k = shares @ np.exp([layer.between @ each for each in nodes])
    s = 0.0175 + shares.sum(axis=1, keepdims=True) * 0.0012 * 550 / WAVELENGTHS
    for ground, times, later in ((cloth("white"), 1.0, False), (cloth(new), thick, True)):
        films = [saunderson(film_reflectance(*each, times, ground), *SURFACE) for each in zip(k, s, strict=True)]
        expected = 0.8 * np.array(films) + 0.2 * dyed(times * k, ground)
        assert_allclose(layer.reflectance(numbers(layer, thick), SHARES, later=later), expected, atol=1e-12)


def test_its_slopes_are_those_of_its_colours():
    layer, step = layer_on_two(), 1e-5
    theta = numbers(layer, 1.2)
    for later in (False, True):
        slopes = layer.slopes(theta, SHARES, later=later).theta
        for at in (*range(0, layer.unknowns, 7), layer.of_one_state - 1, layer.unknowns - 1):
            unit = step * np.eye(layer.unknowns)[at]
            up, down = (layer.reflectance(theta + sign * unit, SHARES, later=later) for sign in (1, -1))
            assert_allclose(slopes[:, :, at], (up - down) / (2 * step), rtol=1e-4, atol=1e-7)


def test_where_another_cloth_is_the_same_and_adds_nothing_nothing_changes():
    layer = layer_on_two("white")
    theta = numbers(layer)
    one = Layer(NAMES, SUNK, cloth("white"))
    for later in (False, True):
        assert_allclose(
            layer.reflectance(theta, SHARES, later=later), one.reflectance(theta[: one.unknowns], SHARES), atol=1e-12
        )


def test_one_cloth_has_the_theories_that_it_had():
    assert [layer.kind for layer in layers_of(NAMES, None, two_states=False)] == ["film", "dyed"]
    assert not any(layer.two_states for layer in layers_of(NAMES, None, two_states=False))


def test_what_another_cloth_takes_up_moves_all_pigments_and_the_binder_together():
    layer = layer_on_two()
    covariance = moves_of(layer)[0]
    places = [layer.absorption_of(0).start, layer.absorption_of(1).stop - 1, layer.scatter_of(1), layer.binder]
    own = covariance[np.ix_(places, places)]
    assert (own > 0).all()
    assert np.linalg.eigvalsh(covariance).min() > -1e-12
    # The factor, in 95 of 100 cases: what cloths are said to take up, and no more than twice that.
    assert 0.6 < np.exp(-1.96 * np.sqrt(own[0, 0])) < 0.7
    assert own[0, 1] / np.sqrt(own[0, 0] * own[1, 1]) > 0.95


# --- what is learned ----------------------------------------------------------------------------------------


@cache
def two_cloths(number):
    """A hidden studio on its cloth and on a new one: two worlds, and what the phone makes of the new one, bare."""
    studio = hidden_studio("build", number)
    new = on_other_cloth(studio, number)
    known = World(700 + number, tuple(sorted(studio.pigments)), studio.reflectance, spread=studio.spread)
    bare = guessed(known.seen(reflectance_lab(new.bare())))
    return known, replace(known, truth=new.reflectance), bare


@cache
def taught(number, checks):
    known, new, bare = two_cloths(number)
    rng = np.random.default_rng([number, 8])
    strips = [replace(new.known_strip(new.mix(rng), 5000 + at), later=True) for at in range(checks)]
    return learn([*known.series(), *strips], cloths=BareCloths(None, bare))


@cache
def outcomes(checks):
    """Of mixes on a new cloth: studio, error, whether the region held, radius; error if it were as the known one."""
    found = []
    for number in range(STUDIOS):
        (_, new, _), palette = two_cloths(number), taught(number, checks)
        rng = np.random.default_rng([number, 9])
        for mix in [new.mix(rng) for _ in range(MIXES)]:
            true, predicted = new.lab(mix), palette.predict(mix)
            miss = true - np.array(predicted.lab)
            inside = miss @ np.linalg.solve(predicted.ink, miss) <= REGION
            radius = radius_of_lab(np.array(predicted.lab), predicted.ink)
            found.append(
                (number, off(predicted.lab, true), inside, radius, off(palette.of_earlier.predict(mix).lab, true))
            )
    return np.array(found, dtype=float)


def test_check_strips_bring_mixes_nearer():
    none, one, two = (outcomes(checks)[:, 1].mean() for checks in (0, 1, 2))
    assert two < one < none < outcomes(0)[:, 4].mean() / 2  # the new cloth looks otherwise
    assert two < 2.5


@pytest.mark.parametrize("checks", [0, 1, 2])
def test_a_colour_on_a_new_cloth_lies_where_it_is_said_to(checks):
    assert outcomes(checks)[:, 2].mean() >= 0.93


def test_more_check_strips_never_leave_more_open():
    for number in range(STUDIOS):
        radii = [outcomes(checks)[outcomes(checks)[:, 0] == number, 3].mean() for checks in (0, 1, 2)]
        assert radii == sorted(radii, reverse=True)


def test_what_the_known_cloth_teaches_is_worth_more_than_a_few_strips_on_the_new_one():
    carried, alone = [], []
    for number in range(2):
        _, new, _ = two_cloths(number)
        own = [replace(one, later=False) for one in taught(number, 4).known_strips if one.later]
        palette = learn(own)
        for mix in ({name: 0.5 for name in palette.pigments[:2]}, {palette.pigments[0]: 1.0}):
            carried.append(off(taught(number, 4).predict(mix).lab, new.lab(mix)))
            alone.append(off(palette.predict(mix).lab, new.lab(mix)))
    assert np.mean(carried) < np.mean(alone) / 2


# --- from the library ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    """A folder with a library of test series on white cotton."""
    folder = tmp_path_factory.mktemp("cotton")
    Shop(open_library(str(folder / "halm.sqlite"), create=True), folder / "shots").all_series()
    return folder


@pytest.fixture
def shop(stocked, tmp_path):
    """The studio that has it."""
    shutil.copytree(stocked, tmp_path / "studio")
    return Shop(open_library(str(tmp_path / "studio" / "halm.sqlite")), tmp_path / "studio" / "shots")


def on_linen(shop):
    """The same studio, its strips on linen; that takes up 1.2 times the ink."""
    return replace(shop, world=film_world(1, INKS, LINEN, 1.2), drawn=shop.drawn + 500)


def said_of(flags):
    return {flag.code: flag.facts for flag in flags}


def refused(work, kind, code):
    with pytest.raises(kind) as refusal:
        work()
    assert refusal.value.code == code
    for surface in (TERMINAL, PAGE):
        assert "linen" in f"{surface.problem(refusal.value)} {surface.remedy(refusal.value)}".lower()
    return refusal.value


def test_a_mix_for_a_new_cloth_is_carried_over_and_says_so(shop):
    shop.keep_bare("Linen", LINEN)
    bench, linen = set_up(shop.library, "linen"), on_linen(shop).world
    facts = said_of(bench.flags)["carried-over-from-cloth"]
    assert (facts["known"], facts["own"]) == (CLOTH, 0)
    assert len(bench.known_strips) == 13
    for mix in ({"red": 1.0, "yellow": 0.5}, {"blue": 2.0}):
        found = bench.palette.predict(mix)
        assert off(found.lab, linen.lab(mix)) < found.radius
        assert found.radius > set_up(shop.library, CLOTH).palette.predict(mix).radius + 1


def test_a_check_strip_makes_it_surer(shop):
    shop.keep_bare("Linen", LINEN)
    before = set_up(shop.library, "linen").palette.predict({"red": 1.0, "yellow": 0.5})
    linen = on_linen(shop)
    linen.keep({"red": 1.0, "blue": 0.4}, "plum", cloth="linen")
    bench = set_up(shop.library, "linen")
    assert said_of(bench.flags)["carried-over-from-cloth"]["own"] == 1
    after = bench.palette.predict({"red": 1.0, "yellow": 0.5})
    assert after.radius < before.radius - 1
    assert off(after.lab, linen.world.lab({"red": 1.0, "yellow": 0.5})) < after.radius


def test_a_new_cloth_that_no_photo_shows_bare_is_refused_with_what_to_photograph(shop):
    error = refused(lambda: set_up(shop.library, "Linen"), LibraryError, "no-bare-cloth")
    for surface in (TERMINAL, PAGE):
        assert "photograph bare linen" in surface.remedy(error).lower()
        assert CLOTH in surface.remedy(error)


def test_a_slip_in_the_name_of_a_cloth_is_asked_about(shop):
    linen = on_linen(shop)
    linen.keep({}, "bare cloth", cloth="linen")
    error = refused(lambda: set_up(shop.library, "linnen"), LibraryError, "no-bare-cloth")
    for surface in (TERMINAL, PAGE):
        assert surface.remedy(error).startswith("Did you mean 'linen'? If not, photograph bare linnen")


def test_any_photo_that_shows_the_cloth_bare_will_do(shop):
    reading = tuple(guessed(reflectance_lab(cloth(LINEN))).tolist())
    kept = replace(on_linen(shop).world.kept({"red": 3.0}, 77), cloth=reading)
    put_kept(shop.library, shop.folder, kept, Entry("found", cloth="linen", take_over=False))  # without a recipe
    assert_allclose(set_up(shop.library, "linen").carried.cloths.new, reading, atol=1e-5)


def test_clear_base_alone_shows_the_cloth_too(shop):
    linen = on_linen(shop)
    linen.keep({}, "clear", cloth="linen")
    palette = set_up(shop.library, "linen").palette
    for mix in ({"red": 0.3}, {"red": 1.0, "yellow": 0.5}, {"blue": 2.0}):
        found = palette.predict(mix)
        assert off(found.lab, linen.world.lab(mix)) < found.radius


def test_few_strips_without_a_photo_of_the_bare_cloth_stand_alone_and_say_what_would_help(shop):
    on_linen(shop).keep({"red": 1.0}, "brick", cloth="linen")
    bench = set_up(shop.library, "linen")
    assert (bench.carried, len(bench.known_strips)) == (None, 1)
    assert said_of(bench.flags)["bare-cloth-not-read"] == {"cloth": "linen", "known": CLOTH}


def test_a_cloth_with_enough_strips_of_its_own_needs_no_other(shop):
    shop.keep_bare("Linen", LINEN)
    linen = on_linen(shop)
    for number in range(ENOUGH * len(INKS)):
        assert number == 0 or set_up(shop.library, "linen").carried
        linen.keep({INKS[number % 4]: 1.0 + number % 3}, "tests", f"{number}", cloth="linen")
    assert set_up(shop.library, "linen").carried is None
    assert set_up(shop.library, CLOTH).carried is None


def test_the_strip_of_a_pot_on_both_cloths_is_two_strips_of_one_pot(shop):
    shop.keep_bare("Linen", LINEN)
    shop.keep({"red": 1.0, "blue": 0.4}, "plum")
    on_linen(shop).keep({"red": 1.0, "blue": 0.4}, "plum", cloth="linen")
    own = [one for one in set_up(shop.library, "linen").known_strips if len(one.shares) > 1]
    assert len({one.strip for one in own}) == 2
    assert len({one.pot for one in own}) == 1
    assert [one.later for one in own] == [False, True]


def test_a_pot_is_corrected_by_its_own_strip_on_the_new_cloth(shop):
    shop.keep_bare("Linen", LINEN)
    linen = on_linen(shop)
    record = linen.keep(ORANGE, "orange", cloth="linen")
    wanted = linen.world.lab(WANTED)
    asked = TargetRequest(",".join(str(value) for value in linen.world.seen(wanted)))
    answer = correct_record(shop.library, record.number, CorrectionRequest(asked, Order(480, 0.01, ("red", "yellow"))))
    assert answer.bench.carried
    choice = answer.proposed.choices[0]
    then = linen.world.lab(shares_of(choice.pot)[0])
    assert off(then, wanted) < off(linen.world.lab(ORANGE), wanted) / 2
    facts = answer_dict(answer, Order(480, 0.01))
    assert (facts["layer"], facts["choices"][0]["when_dry"]) == (SUNK, None)
    assert not facts["treat_next"]


def test_what_is_mixed_for_in_another_state_is_carried_over_in_that_state_alone(shop):
    shop.keep_bare("Linen", LINEN)
    refused(lambda: set_up(shop.library, "Linen", HOT), LibraryError, "no-cloth-in-that-state")
    shop.keep({"red": 1.0}, "brick", state=HOT)
    refused(lambda: set_up(shop.library, "Linen", HOT, strips=DRY), UsageError, "new-cloth-in-two-states")
    bench = set_up(shop.library, "linen", HOT)
    assert [one.shares for one in bench.known_strips] == [{"red": pytest.approx(1.0)}]
    assert bench.is_later(HOT)
    assert not bench.of_later_state
    assert bench_of_pigments(shop.library, "linen", HOT).cloth == "linen"
