"""A strip is judged against what the library holds, and a refusal says what to type next."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.errors import LibraryError, SwatchcamError, UsageError
from swatchcam.library.amend import target_meant
from swatchcam.library.carry_over import shift_model
from swatchcam.library.changes import remove_record, set_target
from swatchcam.library.compare import ReferenceRequest, check_kept
from swatchcam.library.labels import record_words
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, State, parse_state
from swatchcam.library.save import Entry, keep_record
from swatchcam.measurement.pot_verdict import PotStrip
from swatchcam.measurement.stored_colour import keep
from swatchcam.messages.message import flag
from swatchcam.messages.surface import TERMINAL
from tests.codes import codes
from tests.worlds.cheap_measurements import measurement

SET = State("heat-set")
BRICK, SLATE = (50.0, 30.0, 30.0), (60.0, -8.0, -24.0)
HEAT = (-3.0, 1.0, -2.0)  # what heat setting does to the studio's usual ink, CIELAB
OTHER_HEAT = (6.0, -5.0, 4.0)  # and to another


def moved(lab, by):
    return tuple(float(value) for value in np.add(lab, by))


class Studio:
    """Photos, each with a strip on the left, and the library in which they are kept."""

    def __init__(self, folder):
        self.library = open_library(str(folder / "halm.sqlite"), create=True)
        self._folder, self._numbers = folder, count(1)

    def shoot(self, lab=BRICK, *, nominal=False, illuminant="D65"):
        """A new photo in which the left strip has this colour."""
        taken = measurement(self._folder, next(self._numbers), lab)
        look = taken.looks[0]
        if nominal:
            look = replace(look, values=replace(look.values, grade="nominal"))
        seen = [
            [replace(view, balance=replace(view.balance, illuminant=illuminant)) for view in colour.views]
            for colour in taken.colours
        ]
        colours = [replace(colour, views=tuple(views)) for colour, views in zip(taken.colours, seen, strict=True)]
        return replace(taken, looks=(look,), colours=tuple(colours))

    def keep(self, photo=None, state="air-dried", shade="brick", strip="left", **said):
        usual = {"cloth": "cotton", "ink": "halm base"} | said
        return keep_record(self.library, photo or self.shoot(), strip, Entry(shade, state=parse_state(state), **usual))

    def check(self, photo=None, tolerance=None, strip="left", **wanted):
        if "state" in wanted:
            wanted["state"] = parse_state(wanted["state"])
        photo = photo or self.shoot()
        return check_kept(
            self.library, [PotStrip(keep(photo.colour(strip), photo))], ReferenceRequest(**wanted), tolerance
        )

    def pairs(self, heat, number, **said):
        """Strips of several shades before and after heat setting."""
        for place in range(number):
            dry = (40.0 + 5 * place, 10.0 + 8 * place, 20.0 - 6 * place)
            name = f"{said['ink']} {place}"
            self.keep(self.shoot(dry), shade=name, batch="1", **said)
            self.keep(self.shoot(moved(dry, heat)), "heat-set", shade=name, batch="1", **said)


@pytest.fixture
def studio(tmp_path):
    return Studio(tmp_path)


def refused(studio, photo=None, **wanted):
    """Problem and remedy of the refusal that must come."""
    with pytest.raises(SwatchcamError) as caught:
        studio.check(photo, **wanted)
    return TERMINAL.problem(caught.value), TERMINAL.remedy(caught.value)


# --- which record -------------------------------------------------------------------------------------------


def test_a_shade_means_its_last_record_at_the_same_state(studio):
    studio.keep(batch="1", measured="2026-01-01")
    last = studio.keep(batch="2", measured="2026-03-01")
    studio.keep(batch="3", measured="2026-02-01")  # kept later, measured earlier
    studio.keep(studio.shoot(SLATE), "heat-set", batch="2", measured="2026-04-01")
    studio.keep(studio.shoot(SLATE), shade="slate", measured="2026-05-01")
    found = studio.check(shade="BRICK")
    assert found.record.number == last.number
    assert (found.verdict.outcome, found.shade.name) == ("same", "brick")
    assert found.verdict.difference.reference == f"record {last.number} (brick, batch 2, air-dried, 2026-03-01)"


def test_like_is_compared_with_like(studio):
    ink = studio.keep(batch="1", measured="2026-01-01")
    pale = studio.keep(studio.shoot(SLATE), batch="1", let_down=10.0, measured="2026-02-01")
    studio.keep(batch="1", let_down=20.0, measured="2026-03-01")
    assert studio.check(shade="brick").record.number == ink.number
    found = studio.check(studio.shoot(SLATE), shade="brick", let_down=10.0)
    assert (found.record.number, found.verdict.outcome) == (pale.number, "same")
    words = f"record {pale.number} (brick, batch 1, let down 1:10, air-dried, 2026-02-01)"
    assert found.verdict.difference.reference == words
    assert studio.check(studio.shoot(SLATE), record=pale.number, let_down=10.0).record.number == pale.number


def test_where_no_strip_is_let_down_so_those_that_are_there_are_told(studio):
    pale = studio.keep(batch="1", let_down=2.5)
    problem, remedy = refused(studio, shade="brick")
    assert problem == "Shade 'brick' has no other record of the ink itself."
    assert remedy == "There are strips let down 1:2.5. If yours is such a strip, give --let-down 2.5."
    studio.keep(batch="1")
    problem, remedy = refused(studio, shade="brick", batch="1", let_down=10.0)
    assert problem == "Batch '1' of shade 'brick' has no other record that is let down 1:10."
    assert "strips of the ink itself and strips let down 1:2.5" in remedy
    assert "leave out --let-down or give --let-down 2.5" in remedy
    problem, remedy = refused(studio, record=pale.number)
    assert problem == f"Record {pale.number} is let down 1:2.5, but your strip is of the ink itself."
    assert "give --let-down 2.5" in remedy
    problem, remedy = refused(studio, shade="brick", let_down=2.5, state="heat-set")
    assert "no other record that is heat-set" in problem
    assert "It has: air-dried." in remedy


def test_a_let_down_strip_is_no_target_and_not_judged_by_one(studio):
    pale = studio.keep(let_down=10.0)
    set_target(studio.library, "brick", BRICK)
    problem, _ = refused(studio, shade="brick", against_target=True, let_down=10.0)
    assert problem == "A target is a colour of the ink itself, and your strip is let down."
    with pytest.raises(UsageError, match="never the colour of its shade"):
        target_meant(studio.library, None, pale.number, None, None)


def test_a_let_down_strip_is_predicted_after_heat_and_compared_with_one_let_down_as_far(studio):
    studio.pairs(HEAT, 4, ink="halm base", let_down=10.0)
    assert shift_model(studio.library, DRY, SET, "halm base", "cotton").pairs == 4
    shade = "halm base 1"
    found = studio.check(studio.shoot((45.0, 18.0, 14.0)), shade=shade, after_heat=True, let_down=10.0)
    assert (found.record.let_down, str(found.record.state)) == (10.0, "heat-set")
    assert_allclose(found.predicted.lab, moved((45.0, 18.0, 14.0), HEAT), atol=0.5)


def test_a_record_that_was_taken_out_is_not_judged_by(studio):
    first = studio.keep(batch="1", measured="2026-01-01")
    last = studio.keep(batch="2", measured="2026-03-01")
    remove_record(studio.library, last.number)
    assert studio.check(shade="brick").record.number == first.number


def test_the_verdict_follows_the_colour(studio):
    studio.keep()
    far = studio.check(studio.shoot(moved(BRICK, (-9, 0, 0))), shade="brick").verdict
    assert far.outcome == "different"
    assert far.difference.delta_l == pytest.approx(-9)
    assert far.difference.low < far.difference.delta_e < far.difference.high
    near = moved(BRICK, (2, 0, 0))
    close = studio.check(studio.shoot(near), shade="brick", tolerance=float(delta_e_2000(near, BRICK))).verdict
    assert close.outcome == "too close to call"


def test_a_batch_can_be_named_small_and_capital_letters_alike(studio):
    first = studio.keep(batch="March A", measured="2026-01-01")
    studio.keep(batch="2", measured="2026-03-01")
    assert studio.check(shade="brick", batch="march  a").record.number == first.number


def test_any_record_can_be_named_whatever_its_state(studio):
    wanted = studio.keep(studio.shoot(SLATE), "washed 2", shade="slate", mark="B")
    studio.keep()
    found = studio.check(studio.shoot(SLATE), record=wanted.number, state="washed 2")
    assert (found.record.number, found.shade.name, found.verdict.outcome) == (wanted.number, "slate", "same")
    assert ", strip B, washed 2 times, " in record_words(wanted)


def test_washes_must_agree(studio):
    once = studio.keep(state="washed 1", measured="2026-01-01")
    thrice = studio.keep(studio.shoot(SLATE), "washed 3", measured="2026-02-01")
    assert studio.check(shade="brick", state="washed 1").record.number == once.number
    assert studio.check(shade="brick", state="washed 3").record.number == thrice.number
    problem, remedy = refused(studio, shade="brick", state="washed 2")
    assert problem == "Shade 'brick' has no other record that is washed 2 times."
    assert remedy.startswith("It has: washed 3 times, washed once. Give the strip's state with --state")


def test_the_photo_that_is_judged_is_never_its_own_reference(studio):
    first = studio.keep(batch="1", measured="2026-01-01")
    photo = studio.shoot(SLATE)
    itself = studio.keep(photo, batch="2", measured="2026-02-01")
    found = studio.check(photo, shade="brick")
    assert (found.record.number, found.verdict.outcome) == (first.number, "different")
    problem, remedy = refused(studio, photo, record=itself.number)
    assert problem == f"Record {itself.number} is this very strip, so there is nothing to compare."
    assert 'swatchcam shade show "brick"' in remedy
    problem, remedy = refused(studio, photo, shade="brick", batch="2")
    assert problem == "Batch '2' of shade 'brick' has no other record to compare with."
    assert 'swatchcam keep PHOTO --shade "brick"' in remedy
    # The other strip of the photo is another strip: it may be judged by this one if that is named.
    assert studio.check(photo, record=itself.number, strip="right").record.number == itself.number


# --- the target ---------------------------------------------------------------------------------------------


def test_the_target_is_the_shade_s_target(studio):
    studio.keep(studio.shoot(SLATE))
    set_target(studio.library, "brick", moved(BRICK, (1, 0, 0)))
    found = studio.check(shade="brick", against_target=True)
    assert (found.record, found.verdict.difference.reference) == (None, "target")
    assert found.verdict.difference.delta_l == pytest.approx(-1)


def test_without_a_target_there_is_no_target(studio):
    studio.keep()
    problem, remedy = refused(studio, shade="brick", against_target=True)
    assert problem == "Shade 'brick' has no target."
    assert remedy.startswith('Give it one: swatchcam shade set "brick" --target ')


def test_a_target_comes_from_numbers_or_a_record(studio):
    record = studio.keep()
    assert target_meant(studio.library, SLATE, None, None, None) == (SLATE, None)
    assert target_meant(studio.library, None, record.number, None, 1.0) == (BRICK, record.state)
    assert target_meant(studio.library, None, None, None, 1.0) == (None, None)
    assert target_meant(studio.library, None, record.number, record.state, None) == (BRICK, record.state)
    with pytest.raises(UsageError) as refusal:
        target_meant(studio.library, None, record.number, State("washed", 2), None)
    assert refusal.value.code == "target-in-other-state"


def test_a_target_that_would_mislead_is_refused(studio):
    plain, nominal = studio.keep(), studio.keep(studio.shoot(nominal=True))
    other = studio.keep(studio.shoot(illuminant="A"))
    for lab, number, tolerance, problem, remedy in (
        (SLATE, plain.number, None, "You gave both a colour and a record.", "Give only one"),
        (None, None, 0.0, "A tolerance of 0 makes no sense.", "above 0"),
        (SLATE, None, float("nan"), "A tolerance of nan makes no sense.", "above 0"),
        (SLATE, None, float("inf"), "A tolerance of inf makes no sense.", "above 0"),
        (None, None, None, "No target was given.", "--from-record N or --tolerance T"),
        (None, nominal.number, None, "was never measured, so", f"check PHOTO --record {nominal.number}"),
        (None, other.number, None, f"Record {other.number} is for A/10°, but targets are for D65/10°.", "--illuminant"),
        (None, 99, None, "There is no record 99.", "swatchcam shade show NAME"),
    ):
        with pytest.raises(UsageError) as caught:
            target_meant(studio.library, lab, number, None, tolerance)
        assert problem in TERMINAL.problem(caught.value)
        assert remedy in TERMINAL.remedy(caught.value)


# --- tolerance ----------------------------------------------------------------------------------------------


def test_the_tolerance_is_the_one_asked_for_else_the_shade_s_else_the_usual(studio):
    studio.keep()
    assert studio.check(shade="brick").verdict.tolerance == 2
    set_target(studio.library, "brick", None, 0.7)
    assert studio.check(shade="brick").verdict.tolerance == 0.7
    assert studio.check(shade="brick", tolerance=3.5).verdict.tolerance == 3.5


@pytest.mark.parametrize("tolerance", [0.0, -1.0, float("nan"), float("inf")])
def test_a_tolerance_that_is_none_is_not_passed_over(studio, tolerance):
    studio.keep()
    problem, remedy = refused(studio, shade="brick", tolerance=tolerance)
    assert "makes no sense" in problem
    assert "above 0" in remedy


# --- light and card -----------------------------------------------------------------------------------------


def test_another_light_is_refused(studio):
    record = studio.keep(studio.shoot(illuminant="D50"))
    set_target(studio.library, "brick", BRICK)
    for wanted in ({"shade": "brick"}, {"record": record.number}):
        problem, remedy = refused(studio, **wanted)
        assert problem == f"Record {record.number} is for D50/10°, this measurement for D65/10°."
        assert remedy == "Measure with --illuminant D50 --observer 10."
    problem, remedy = refused(studio, studio.shoot(illuminant="D50"), shade="brick", against_target=True)
    assert problem == "The target of shade 'brick' is for D65/10°, this measurement for D50/10°."
    assert remedy == "Measure with --illuminant D65 --observer 10."
    assert studio.check(studio.shoot(illuminant="D50"), shade="brick").verdict.outcome == "same"


@pytest.mark.parametrize(("then", "now"), [(True, True), (True, False), (False, True), (False, False)])
def test_a_card_that_was_never_measured_is_named_whoever_used_it(studio, then, now):
    record = studio.keep(studio.shoot(nominal=then))
    notes = studio.check(studio.shoot(nominal=now), record=record.number).notes
    assert codes(notes) == ["card-unmeasured-between-photos"] * (then or now)
    set_target(studio.library, "brick", BRICK)
    told = studio.check(studio.shoot(nominal=now), shade="brick", against_target=True).notes
    assert ("card-unmeasured-between-photos" in codes(told)) == now


# --- before heat setting ------------------------------------------------------------------------------------


LEAN = 0.5  # CIELAB by which a prediction from few pairs may lean towards what is likely beforehand


@pytest.fixture(scope="module")
def heated(tmp_path_factory):
    """Four strips of the usual ink, five of another, three of the usual one on linen; each test adds its own shades."""
    studio = Studio(tmp_path_factory.mktemp("heated"))
    studio.pairs(HEAT, 4, ink="halm base", cloth="cotton")
    studio.pairs(OTHER_HEAT, 5, ink="other base", cloth="cotton")
    studio.pairs(OTHER_HEAT, 3, ink="Halm Base ", cloth="linen")
    return studio


def test_after_heat_is_predicted_from_the_same_ink_on_the_same_cloth(heated):
    studio = heated
    last = studio.keep(studio.shoot(moved(BRICK, HEAT)), "heat-set", cloth="Cotton", batch="0")
    photo = studio.shoot(BRICK)
    found = studio.check(photo, shade="brick", after_heat=True)
    assert found.record.number == last.number
    assert found.predicted.pairs == 4
    assert_allclose(found.predicted.lab, moved(BRICK, HEAT), atol=LEAN)
    assert found.verdict.difference.delta_e < 0.5
    assert flag("few-heat-set", pairs=4, enough=8) in found.notes
    # As it is, dry, it is another colour: so it is carried over to a record that is heat-set even if nobody asks.
    assert float(delta_e_2000(BRICK, moved(BRICK, HEAT))) > 2.5
    assert studio.check(photo, record=last.number).verdict == found.verdict


def test_the_prediction_of_another_ink_or_cloth_is_another(heated):
    studio = heated
    expected = {
        ("other base", "cotton"): (5, OTHER_HEAT),
        ("halm base", "linen"): (3, OTHER_HEAT),
        ("HALM  BASE", "cotton"): (4, HEAT),
    }
    for (ink, cloth), (pairs, heat) in expected.items():
        shade = f"{ink} on {cloth}"
        studio.keep(studio.shoot(SLATE), "heat-set", shade=shade, ink=ink, cloth=cloth)
        found = studio.check(studio.shoot((50.0, 26.0, 8.0)), shade=shade, after_heat=True).predicted
        assert found.pairs == pairs
        assert_allclose(found.lab, moved((50.0, 26.0, 8.0), heat), atol=LEAN)


def test_too_few_pairs_are_refused_and_their_ink_and_cloth_named(heated):
    studio = heated
    studio.keep(studio.shoot(SLATE), "heat-set", shade="slate", ink="third base", cloth="silk")
    with pytest.raises(LibraryError) as caught:
        studio.check(shade="slate", after_heat=True)
    assert (caught.value.code, caught.value.facts["pairs"]) == ("states-differ", 0)
    said = "One colour is air-dried, the other heat-set. No strip (ink 'third base', cloth 'silk') was measured"
    assert TERMINAL.problem(caught.value).startswith(said)
    studio.keep(studio.shoot(SLATE), "heat-set", shade="bare", ink="", cloth="")
    assert "No strip (no ink noted, no cloth noted) was" in refused(studio, shade="bare", after_heat=True)[0]


def test_pairs_seen_under_another_light_do_not_count(heated):
    with pytest.raises(LibraryError, match=r"No strip \(.*\) was measured in both states"):
        shift_model(heated.library, DRY, SET, "halm base", "cotton", ("D50", 10))
    assert shift_model(heated.library, DRY, SET, "halm base", "cotton").pairs == 4


def test_a_colour_unlike_any_before_is_flagged(heated):
    studio = heated
    set_target(studio.library, "halm base 0", SLATE)
    found = studio.check(studio.shoot((80.0, -50.0, 50.0)), shade="halm base 0", against_target=True, after_heat=True)
    assert "colour-not-seen-before" in codes(found.notes)
    assert found.record is None


def test_what_cannot_be_predicted_is_refused(heated):
    studio = heated
    dry = studio.library.records("halm base 0", state="air-dried")[0]
    problem, remedy = refused(studio, record=dry.number, after_heat=True)
    assert problem == f"Record {dry.number} is air-dried, so a colour after heat setting can't be compared with it."
    assert remedy == "Choose what is heat-set, or leave out --after-heat."
    for state in ("wet", "heat-set", "washed 2"):
        problem, remedy = refused(studio, shade="halm base 0", state=state, after_heat=True)
        assert problem.endswith(f"can be predicted after heat setting; this one is {parse_state(state)}.")
        assert remedy == "Leave out --after-heat or --state."
    studio.keep(shade="only dry")
    problem, remedy = refused(studio, shade="only dry", after_heat=True)
    assert problem == "Shade 'only dry' has no other record that is heat-set."
    assert "It has: air-dried." in remedy


def test_a_shade_without_any_record_has_no_ink_to_predict_by(studio):
    record = studio.keep()
    set_target(studio.library, "brick", BRICK)
    remove_record(studio.library, record.number)
    problem, remedy = refused(studio, shade="brick", against_target=True, after_heat=True)
    assert problem == "Shade 'brick' has no record yet, so its ink and cloth are not known."
    assert 'swatchcam keep PHOTO --shade "brick"' in remedy


# --- what is refused before anything is looked up -----------------------------------------------------------


WRONG = {
    "unknown shade": ({"shade": "brik"}, "There is no shade called 'brik'.", "Did you mean brick?"),
    "unlike shade": ({"shade": "zzz"}, "There is no shade called 'zzz'.", "'swatchcam shade list' shows all"),
    "unknown batch": ({"shade": "brick", "batch": "9"}, "has no batch called '9'", "It has: 1."),
    "unknown record": ({"record": 99}, "There is no record 99.", "'swatchcam shade show NAME' lists"),
    "batch alone": ({"batch": "1"}, "You haven't said what to compare with.", "Name a --shade or a --record."),
    "target alone": (
        {"against_target": True},
        "You haven't said what to compare with.",
        "Name a --shade or a --record.",
    ),
    "heat alone": ({"after_heat": True}, "You haven't said what to compare with.", "Name a --shade or a --record."),
    "both": ({"record": 1, "shade": "brick"}, "You named a record, and also", "Give only one of them."),
    "record and target": (
        {"record": 1, "against_target": True},
        "You named a record, and also",
        "Give only one of them.",
    ),
    "record and batch": ({"record": 1, "batch": "1"}, "You named a record, and also", "Give only one of them."),
    "batch and target": (
        {"shade": "brick", "batch": "1", "against_target": True},
        "You named both a batch and the target.",
        "Leave out --batch or --against-target.",
    ),
    "no such state": (
        {"shade": "brick", "state": "heat-set, 150 °C, 4 min"},
        "Shade 'brick' has no other record that is heat-set.",
        "It has: air-dried. Give the strip's state with --state.",
    ),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_what_is_wrong_is_told_with_what_to_do(studio, wrong):
    wanted, problem, remedy = WRONG[wrong]
    studio.keep(batch="1")
    told = refused(studio, **wanted)
    assert problem in told[0]
    assert remedy in told[1]


def test_a_target_is_offered_only_where_there_is_a_target(studio):
    studio.keep(batch="1")
    set_target(studio.library, "brick", BRICK)
    assert refused(studio, shade="brick", state="wet")[1].endswith("with --state, or compare it with --against-target.")
