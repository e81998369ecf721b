"""The common error of all colours of an unmeasured print."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.colour_frame import TERMS, WAYS, ColourFrame, frame_of, is_frame

RNG = np.random.default_rng(18)
LAB = np.column_stack([RNG.uniform(20, 95, 60), RNG.uniform(-50, 60, 60), RNG.uniform(-50, 70, 60)])


def smooth(lab: np.ndarray, ways: int) -> np.ndarray:
    """Changes (ways, n, 3) that are linear in CIELAB."""
    slopes = np.random.default_rng(3).normal(0, 0.03, (ways, 3, 3))
    return np.einsum("wij,nj->wni", slopes, lab) + np.array([1.0, 0.5, -0.5])


def test_a_smooth_doubt_comes_back_at_every_colour_and_between_them():
    frame, rest = frame_of("photo", LAB, smooth(LAB, 4))
    assert rest < 0.1 * np.sqrt((smooth(LAB, 4) ** 2).sum(axis=(0, 2)).mean())
    for at in (LAB[7], np.array([60.0, 10.0, 20.0])):
        wanted = smooth(at[None], 4)[:, 0].T
        shift = frame.shift(at)
        assert shift.shape == (3, 4)
        # The ways may be turned, what they make together may not.
        assert_allclose(shift @ shift.T, wanted @ wanted.T, rtol=0.1, atol=0.1)


def test_more_unknowns_than_ways_keep_most_of_the_spread():
    changes = smooth(LAB, 20)
    frame, _ = frame_of("photo", LAB, changes)
    assert len(frame.terms) == WAYS * 3 * TERMS
    kept = np.mean([(frame.shift(lab) ** 2).sum() for lab in LAB])
    assert 0.9 < kept / (changes**2).sum(axis=(0, 2)).mean() < 1.1


def test_what_is_no_smooth_change_is_told_as_the_rest():
    rough = RNG.normal(0, 1.0, (3, len(LAB), 3))
    assert frame_of("photo", LAB, rough)[1] > 2.0


def test_text_and_back():
    frame, _ = frame_of("photo", LAB, smooth(LAB, 5))
    assert ColourFrame.of_text(frame.text) == frame
    assert is_frame(frame.text)


@pytest.mark.parametrize("text", ["", "key", "key 1 2 3", "key " + "1 " * 29, "key " + "x " * 30, "key " + "nan " * 30])
def test_a_damaged_text_is_no_frame(text):
    assert not is_frame(text)
