"""What heat setting did is told as it is: the right pairs, intervals that hold the truth, words that fit."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from swatchcam.colorimetry.cielab import lab_to_lch
from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.colorimetry.colour_shift import shift
from swatchcam.colorimetry.grey_scale import grade, grey_scale_difference
from swatchcam.library.heat_shift import pair
from swatchcam.library.records import AIR_DRIED, HEAT_SET, RUBBED, WASHED, WET, State
from swatchcam.measurement.verdict import between
from swatchcam.report.library_text import shift_text
from tests.worlds.studio_records import kept, record

KEPT = kept()


def colour(lab, noise=0.3, photo="a"):
    """A colour as the library keeps it, with an error of its own and nothing that it shares."""
    parts = {name: np.zeros((3, 3)) for name in KEPT.errors.parts} | {"noise": noise**2 * np.diag([0.5, 1.2, 1.0])}
    errors = replace(KEPT.errors, parts=parts, shared=np.zeros((3, 0)), photos=(photo,))
    return replace(KEPT, lab=tuple(map(float, lab)), errors=errors)


def moved(before, after, noise=0.3):
    return shift(colour(before, noise, "a"), colour(after, noise, "b"))


def states(*wanted):
    return [record(number, state=state, measured=day) for number, (state, day) in enumerate(wanted, start=1)]


def numbers(records):
    return [(found.before.number, found.after.number) for found in pair(records)]


def test_dried_goes_with_heat_set_and_heat_set_with_every_wash():
    rows = (State(WET), "2026-01-01"), (State(AIR_DRIED), "2026-01-02"), (State(HEAT_SET), "2026-01-03")
    washes = (State(WASHED, 10), "2026-01-05"), (State(WASHED, 1), "2026-01-04")
    assert numbers(states(*rows, *washes)) == [(2, 3), (3, 5), (3, 4)]


def test_a_rubbed_strip_goes_with_what_it_was_when_heat_set():
    rows = (State(AIR_DRIED), "2026-01-02"), (State(HEAT_SET), "2026-01-03"), (State(RUBBED, how="wet"), "2026-01-04")
    assert numbers(states(*rows)) == [(1, 2), (2, 3)]
    assert numbers(states(rows[0], rows[2])) == []


def test_a_let_down_strip_goes_with_one_let_down_as_far():
    rows = states((State(AIR_DRIED), "2026-01-02"), (State(AIR_DRIED), "2026-01-03"), (State(HEAT_SET), "2026-01-04"))
    ink, pale, set_pale = rows[0], replace(rows[1], let_down=10.0), replace(rows[2], let_down=10.0)
    assert numbers([ink, pale, set_pale]) == [(2, 3)]
    assert numbers([ink, pale, rows[2]]) == [(1, 3)]
    assert numbers([ink, replace(pale, let_down=20.0), set_pale]) == []


def test_the_latest_record_of_a_state_counts_but_none_from_later_than_what_follows():
    rows = states(
        (State(AIR_DRIED), "2026-01-02"),
        (State(AIR_DRIED), "2026-01-03"),
        (State(HEAT_SET), "2026-01-03"),
        (State(HEAT_SET), "2026-01-04"),
        (State(AIR_DRIED), "2026-02-01"),
    )
    assert numbers(rows) == [(2, 4)]
    assert numbers(rows[::-1]) == [(2, 4)]
    assert numbers(rows[2:]) == []


@pytest.mark.parametrize("other", [{"shade": "Salbei"}, {"batch": "B2"}, {"mark": "2"}, {"cloth": "linen"}])
def test_what_is_not_the_same_strip_makes_no_pair(other):
    first, second = states((State(AIR_DRIED), "2026-01-02"), (State(HEAT_SET), "2026-01-03"))
    assert numbers([first, second]) == [(1, 2)]
    assert numbers([first, replace(second, **other)]) == []
    assert numbers([first, replace(second, colour=replace(second.colour, illuminant="A"))]) == []


def test_a_nominal_card_is_paired_with_itself_only():
    first, second = states((State(AIR_DRIED), "2026-01-02"), (State(HEAT_SET), "2026-01-03"))
    dry, set_ = (replace(one, colour=replace(one.colour, absolute=False)) for one in (first, second))
    assert numbers([dry, set_]) == [(1, 2)]
    assert numbers([first, set_]) == numbers([dry, second]) == numbers([dry, replace(set_, card="another")]) == []


def test_a_shift_is_after_minus_before_in_every_way_of_saying_it():
    before, after = (50, 40, 20), (47, 36, 21)
    found, verdict = moved(before, after), between(colour(after, photo="b"), colour(before))
    assert (found.before, found.after) == (before, after)
    (_, chroma, hue), (_, chroma_after, hue_after) = lab_to_lch(before), lab_to_lch(after)
    assert found.lightness.value == pytest.approx(-3)
    assert found.chroma.value == pytest.approx(chroma_after - chroma)
    assert found.hue.value == pytest.approx(hue_after - hue)
    size = found.ciede2000
    assert (size.value, size.low, size.high) == (verdict.delta_e, verdict.low, verdict.high)
    for part in (found.lightness, found.chroma, found.hue, size):
        assert part.low < part.value < part.high


def test_hues_are_told_the_short_way_round_and_not_at_all_of_greys():
    found = moved((50, 40, -2), (50, 40, 2))
    assert found.hue.value == pytest.approx(2 * np.degrees(np.arctan2(2, 40)))
    assert moved((50, 3, 0), (50, 20, 0)).hue is None
    assert moved((50, 20, 0), (50, 0, 3.9)).hue is None


def test_a_shift_of_nothing_is_rarely_called_real_and_a_large_one_always():
    rng = np.random.default_rng(7)
    lab, noise = np.array([45.0, 40.0, 10.0]), 0.3 * np.sqrt([0.5, 1.2, 1.0])
    real = sum(moved(*(lab + rng.normal(0, noise, (2, 3)))).real for _ in range(200))
    assert 1 <= real <= 19  # 5 % of 200, give or take three standard deviations
    assert moved(lab, lab - np.array([2, 0, 0])).real
    assert not moved(lab, lab, noise=0).real
    assert moved(lab, lab + 0.01, noise=0).real


@pytest.mark.parametrize("way", [(0, 0, 0), (-0.4, 0.3, 0), (-2.0, -2.0, 1.0), (1.0, -6.0, 3.0)])
def test_intervals_and_grades_hold_the_truth_as_often_as_they_say(way):
    """Invented shifts and noise; 95 % of 200 is 190, less three standard deviations: 181 at least."""
    rng = np.random.default_rng(105)
    before, noise = np.array([45.0, 30.0, -20.0]), 0.3 * np.sqrt([0.5, 1.2, 1.0])
    after = before + way
    turned = (lab_to_lch(after) - lab_to_lch(before))[1:]
    truth = [way[0], *turned, float(delta_e_2000(after, before))]
    name, held = grade(float(grey_scale_difference(before, after))), np.zeros(5)
    for _ in range(200):
        found = moved(before + rng.normal(0, noise), after + rng.normal(0, noise))
        parts = (found.lightness, found.chroma, found.hue, found.ciede2000)
        held[:4] += [part.low - 1e-9 <= true <= part.high for part, true in zip(parts, truth, strict=True)]
        held[4] += name in found.grades
    assert (held >= 181).all()


def test_words_say_what_it_did_and_how_sure_that_is():
    before, after = (50, 40, 20), (48, 36, 18)
    size = between(colour(after, 0.1, "b"), colour(before, 0.1))
    assert said(moved(before, after, noise=0.1), HEAT_SET) == (
        f"Heat setting made it darker and duller: CIEDE2000 {size.delta_e:.1f} ({size.low:.1f} to {size.high:.1f}),"
        " more than measurement error; grey scale grade for change in colour "
        f"{grade(float(grey_scale_difference(before, after)))}."
    )
    nothing = said(moved((50, 40, 20), (50.1, 40, 20)), WASHED)
    assert nothing.startswith("Washing changed it by no more than the likely measurement error: CIEDE2000 0.1 (0.0 to ")
    assert nothing.endswith("; grey scale grade for change in colour 5 (it may be 4-5).")


def said(shift, state):
    """What is said of a shift, whatever its records are."""
    return shift_text(SimpleNamespace(shift=shift, after=SimpleNamespace(state=State(state, 1))))


def test_a_pair_speaks_of_what_was_done_to_it():
    rows = states((State(AIR_DRIED), "2026-01-02"), (State(HEAT_SET), "2026-01-03"), (State(WASHED, 2), "2026-01-04"))
    assert [shift_text(found).split(" changed")[0] for found in pair(rows)] == ["Heat setting", "Washing"]
