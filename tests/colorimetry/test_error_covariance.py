"""What two measured colours' errors have in common is half of what cancels in their difference (JCGM 100:2008)."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.error_covariance import Errors, covariance_of_difference, shared_errors
from swatchcam.measurement.stored_colour import PARTS, errors_as_text, errors_from_text
from tests.worlds.studio_records import kept


def pattern(patches, phone, own, rng):
    """What a balance leaves on so many patches: what the phone always leaves, and some that is this photo's own."""
    return {f"A{i}": tuple(phone[i] + own * rng.normal(size=3)) for i in range(patches)}


def colour(number, lab, photo, rng, left):
    """A colour of that CIELAB, its errors of any shape."""
    roots = rng.normal(size=(len(PARTS), 3, 3)) * 0.4
    parts = {name: root @ root.T for name, root in zip(PARTS, roots, strict=True)}
    errors = Errors(parts, rng.normal(size=(3, 7)), left, (photo,))
    return replace(kept(), name=f"colour {number}", lab=tuple(lab), errors=errors)


@pytest.fixture(scope="module")
def colours():
    """Nine colours: two or three in each of four photos; the fourth knows eight patches, the third is unlike all."""
    rng = np.random.default_rng(4)
    phone = rng.normal(size=(20, 3))
    left = [pattern(20, phone, 0.1, rng), pattern(20, phone, 0.8, rng), pattern(20, -phone, 0, rng)]
    left.append(pattern(8, phone, 0, rng))
    labs = np.array([50, 20, 10]) + rng.normal(size=(9, 3)) * 15
    photos = [0, 0, 0, 1, 1, 2, 2, 3, 3]
    return [colour(n, lab, f"photo {p}", rng, left[p]) for n, (lab, p) in enumerate(zip(labs, photos, strict=True))]


def test_what_is_shared_is_half_of_what_cancels(colours):
    found = shared_errors(colours, colours)
    for (i, one), (j, other) in product(enumerate(colours), enumerate(colours)):
        if i != j:
            both = one.covariance + other.covariance
            assert_allclose(found[i, j], (both - covariance_of_difference(one, other)) / 2, atol=1e-12)


@pytest.fixture(scope="module")
def framed(colours):
    """The same, the first five by one unmeasured print, the next two by another."""
    rng = np.random.default_rng(18)
    frames = ["one"] * 5 + ["other"] * 2
    return [
        replace(one, errors=replace(one.errors, frame=frame, frame_shift=rng.normal(size=(3, 8))))
        for one, frame in zip(colours, frames, strict=False)
    ] + colours[7:]


def test_colours_of_unmeasured_prints_share_what_cancels_too(framed):
    test_what_is_shared_is_half_of_what_cancels(framed)
    test_a_colour_shares_all_of_its_error_with_itself(framed)
    test_the_other_way_round_the_same_is_shared(framed)


def test_one_frame_moves_two_days_alike_and_another_does_not(colours):
    shift = np.random.default_rng(5).normal(size=(3, 8))
    one, other = (
        replace(each, lab=colours[0].lab, errors=replace(each.errors, frame="print", frame_shift=shift))
        for each in (colours[0], colours[3])
    )
    stranger = replace(other, errors=replace(other.errors, frame="another"))
    assert_allclose(one.covariance, colours[0].covariance + shift @ shift.T)
    apart = covariance_of_difference(one, stranger) - covariance_of_difference(one, other)
    assert np.trace(apart) >= 2 * np.trace(shift @ shift.T) * 0.999


def test_a_colour_shares_all_of_its_error_with_itself(colours):
    found = shared_errors(colours, colours)
    for i, one in enumerate(colours):
        assert_allclose(found[i, i], one.covariance, atol=1e-12)


def test_the_other_way_round_the_same_is_shared(colours):
    few, many = colours[:3], colours[2:]
    assert_allclose(shared_errors(few, many), np.swapaxes(shared_errors(many, few), 0, 1), atol=1e-12)
    assert_allclose(shared_errors(few, many), shared_errors(colours, colours)[:3, 2:], atol=1e-12)


def test_photos_of_another_phone_share_nothing(colours):
    assert_allclose(shared_errors(colours[:5], colours[5:7]), 0, atol=1e-12)


def test_photos_of_one_phone_share_the_less_the_more_colours_differ(colours):
    here = colours[0]
    near, far = (replace(colours[3], lab=tuple(np.add(here.lab, (away, 0, 0)))) for away in (1.0, 40.0))
    shares = shared_errors([here], [near, far])[0]
    assert 0 < np.trace(shares[1]) < 0.3 * np.trace(shares[0])


def sharing_only(colour, part):
    """The colour with no error but that part, and that of its photos."""
    nothing = {name: np.zeros((3, 3)) for name in PARTS}
    errors = replace(colour.errors, parts=nothing | {part: colour.errors.parts[part]}, shared=np.zeros((3, 7)))
    return replace(colour, errors=errors)


def test_colours_of_unlike_pigments_share_so_much_less_of_the_ink_error(colours):
    kin = np.random.default_rng(5).uniform(0, 1, (9, 9))
    for part, share in (("ink", kin[..., None, None]), ("card", 1.0), ("eye", 1.0)):
        only = [sharing_only(each, part) for each in colours]
        apart = ~np.eye(9, dtype=bool)  # a colour is kin to itself
        assert_allclose(shared_errors(only, only, kin)[apart], (share * shared_errors(only, only))[apart], atol=1e-12)


def test_what_other_photos_share_is_believed_as_far_as_is_said(colours):
    found, half = shared_errors(colours, colours), shared_errors(colours, colours, between_photos=0.5)
    for i, j in product(range(9), range(9)):
        same = colours[i].errors.photos == colours[j].errors.photos
        assert_allclose(half[i, j], found[i, j] * (1.0 if same else 0.5), atol=1e-12)


def test_a_colour_that_was_read_from_the_library_twice_is_still_itself():
    first = kept()
    again = replace(first, errors=errors_from_text(errors_as_text(first))[0])
    assert_allclose(shared_errors([first], [again])[0, 0], first.covariance, atol=1e-4)


def test_a_colour_from_more_photos_shares_with_one_from_fewer_as_any_other(colours):
    wider = Errors(colours[0].errors.parts, np.random.default_rng(6).normal(size=(3, 14)), {}, ("photo 8", "photo 9"))
    twice = replace(colours[0], errors=wider)
    for few, many in (([twice], colours), (colours, [twice])):
        whole = shared_errors([*few, *many], [*few, *many])
        assert_allclose(shared_errors(few, many), whole[: len(few), len(few) :], atol=1e-12)
