"""The nearest records are the nearest: no bound lies above a difference, and nothing is missed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.colorimetry.nearest_index import DIGITS, Index, lower_bounds
from swatchcam.errors import UsageError
from tests.benchmarks.nearest import surface_colours

RNG = np.random.default_rng(2000)
BRUTE = 4_000


def numbers_between(low, high):
    # No colour is known to more decimals; products of numbers near 1e-310 would not be numbers any more.
    return st.floats(low, high).map(lambda value: round(value, 12))


colours = st.tuples(numbers_between(0, 100), numbers_between(-150, 150), numbers_between(-150, 150))
sizes = st.tuples(*[numbers_between(0, 12)] * 3)
shares = st.lists(st.tuples(*[st.floats(0, 1)] * 3), min_size=1, max_size=20)


def brute_force(labs, numbers, lab):
    apart = np.round(delta_e_2000(labs, lab), DIGITS)
    order = np.lexsort((numbers, apart))
    return list(zip(numbers[order].tolist(), apart[order].tolist(), strict=True))


def same(found, expected):
    assert [number for number, _ in found] == [number for number, _ in expected]
    assert_array_equal([apart for _, apart in found], [apart for _, apart in expected])


def polar(lightness, chroma, hue):
    angle = np.radians(hue)
    return np.stack(np.broadcast_arrays(lightness, chroma * np.cos(angle), chroma * np.sin(angle)), axis=-1)


def nowhere_above(lab, low, high, inside):
    """No bound is above the difference to a colour in its cell; inside is (cells, points, 3), 0 to 1."""
    points = low[:, None] + inside * (high - low)[:, None]
    exact = delta_e_2000(points, lab)
    assert (lower_bounds(lab, low, high)[:, None] <= exact).all()
    return exact


@settings(max_examples=300, deadline=None)
@example((0.0, 0.0, 1.0), (0.0, 0.0, 0.0), (0.0, 1.0, 0.0), [(0.0, 2.225073858507203e-309, 0.0)])
@given(colours, colours, sizes, shares)
def test_no_colour_of_a_cell_is_nearer_than_its_bound(lab, low, size, inside):
    low = np.array([low])
    nowhere_above(np.array(lab), low, low + size, np.array([inside]))


CORNERS = np.stack(np.meshgrid([0, 0.5, 1], [0, 0.5, 1], [0, 0.5, 1]), axis=-1).reshape(1, -1, 3)
PLACES = {
    "blue, where the axes turn": polar(RNG.uniform(10, 60, 400), RNG.uniform(5, 130, 400), RNG.normal(275, 20, 400)),
    "greys": polar(RNG.uniform(0, 100, 400), RNG.choice([0, 1e-9, 0.1, 3], 400), RNG.uniform(0, 360, 400)),
    "about hue 0": polar(RNG.uniform(0, 100, 400), RNG.uniform(0, 100, 400), RNG.normal(0, 3, 400)),
    "where G changes most": polar(RNG.uniform(0, 100, 400), RNG.uniform(15, 35, 400), RNG.uniform(0, 360, 400)),
    "far out": RNG.uniform(-900, 900, (400, 3)),
}


@pytest.mark.parametrize("cells", PLACES)
@pytest.mark.parametrize("query", PLACES)
def test_bounds_hold_at_the_edges_of_cells_in_hard_places(query, cells):
    middle = PLACES[cells]
    size = RNG.choice([0, 0.1, 2, 20], middle.shape)
    for lab in PLACES[query][:8]:
        nowhere_above(lab, middle - size / 2, middle + size / 2, CORNERS)


def test_bounds_hold_for_opposite_hues():
    middle = polar(50, RNG.uniform(1, 100, 400), RNG.uniform(0, 360, 400))
    for lab, own in zip(-middle[:20] * [-1, 1, 1], middle, strict=False):
        nowhere_above(lab, own[None] - [1, 0.5, 0.5], own[None] + [1, 0.5, 0.5], CORNERS)


def test_bounds_are_not_idle():
    # Away from blue they must come near the difference of a cell that is a point, or nothing would be left out.
    lab = surface_colours(RNG, 2_000)
    ratio = lower_bounds(lab[0], lab[1:], lab[1:]) / delta_e_2000(lab[1:], lab[0])
    assert np.median(ratio) > 0.6


SETS = {
    "clustered": np.repeat(surface_colours(RNG, 8), BRUTE // 8, axis=0) + RNG.normal(0, 0.5, (BRUTE, 3)),
    "uniform": RNG.uniform([0, -100, -100], 100, (BRUTE, 3)),
    "sparse": surface_colours(RNG, 40),
    "a single one": np.array([[50.0, 20.0, -60.0]]),
    "each colour many times": np.round(surface_colours(RNG, BRUTE) / 25) * 25,
    "greys": polar(RNG.uniform(0, 100, BRUTE), 0, 0),
}


@pytest.mark.parametrize("name", SETS)
def test_finds_what_looking_at_every_record_finds(name):
    labs = SETS[name]
    numbers = RNG.permutation(len(labs)) + 7
    index = Index(labs, numbers)
    inside, outside = labs[:6] + RNG.normal(0, 1, labs[:6].shape), [[50, 300, -300], [900, 0, 0], [0, 0, 0]]
    for lab in [*labs[:3], *inside, *outside, (30, 20, -70)]:
        expected = brute_force(labs, numbers, lab)
        for count in (1, 10, 2 * BRUTE):
            same(index.nearest(lab, count), expected[:count])
        for radius in (0.0, 3.0, 30.0):
            same(index.within(lab, radius), [hit for hit in expected if hit[1] <= radius])


def test_of_equal_colours_the_smaller_number_comes_first():
    index = Index(np.full((500, 3), [40.0, 10.0, 20.0]), np.arange(500)[::-1])
    assert index.nearest((40, 10, 20), 4) == [(0, 0.0), (1, 0.0), (2, 0.0), (3, 0.0)]


def test_an_empty_index_holds_nothing():
    index = Index(np.empty((0, 3)), [])
    assert len(index) == 0
    assert index.nearest((50, 0, 0), 3) == []
    assert index.within((50, 0, 0), 100) == []
    assert Index([], []).nearest((50, 0, 0), 1) == []


def test_most_cells_are_left_out(monkeypatch):
    """Speed is held here by what is looked at, as a clock in a test depends on who else is at work."""
    index, looked = Index(surface_colours(RNG, 100_000), np.arange(100_000)), []
    look = index._look
    monkeypatch.setattr(index, "_look", lambda cells, place: looked.append(len(cells) * 50) or look(cells, place))
    for lab in surface_colours(RNG, 20):
        index.nearest(lab, 10)
    assert sum(looked) / 20 < 0.1 * 100_000


@pytest.mark.parametrize("lab", [(1, 2), (1, 2, float("nan")), (0, 0, 1e9)])
def test_what_is_no_colour_is_refused(lab):
    with pytest.raises(UsageError):
        Index([[50, 0, 0]], [1]).nearest(lab, 1)


def test_what_cannot_be_asked_is_refused():
    index = Index([[50, 0, 0]], [1])
    with pytest.raises(UsageError):
        index.nearest((50, 0, 0), 0)
    with pytest.raises(UsageError):
        index.within((50, 0, 0), -1)
    with pytest.raises(UsageError):
        Index([[50, 0, 0], [60, 0, 0]], [1])
