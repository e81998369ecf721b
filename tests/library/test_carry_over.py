"""Nothing is compared across states without a word: carried over by pairs with its doubt, or refused with both states.

Studios are invented: each has a true shift of its own from state to state, which nobody has published for any ink.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from swatchcam.colorimetry.colour_difference import delta_e_2000
from swatchcam.colorimetry.error_covariance import Errors
from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.carry_over import REFERENCE, STRIP, States, shift_model
from swatchcam.library.changes import remove_record, set_target
from swatchcam.library.compare import ReferenceRequest, check_kept
from swatchcam.library.entry import Entry
from swatchcam.library.heat_prediction import ENOUGH, LEAST
from swatchcam.library.heat_shift import pairs_between, unpaired
from swatchcam.library.library import open_library
from swatchcam.library.records import DRY, State, parse_state
from swatchcam.measurement.pot_verdict import PotStrip
from swatchcam.measurement.stored_colour import PARTS
from swatchcam.messages.surface import PAGE, TERMINAL
from tests.codes import codes
from tests.worlds.mixing_library import put_kept
from tests.worlds.studio_records import batch, kept, record

SET, HOT, LONG = (parse_state(f"heat-set{how}") for how in ("", " 150 C 4 min", " 170 C 1 min"))
WASHED, RUBBED, WET = parse_state("washed 3"), parse_state("rubbed wet"), State("wet")
DRY_LAB = (45.0, 40.0, 20.0)
# What becomes of a colour in the invented studio up to each state, CIELAB.
MOVED = {"air-dried": (0, 0, 0), "heat-set": (-3, 1, -2), "washed": (-1, -4, -3), "rubbed": (-2, -1, -4)}
NOISE = 0.25


def in_state(lab, state):
    return tuple(float(value) for value in np.add(lab, MOVED[state.name]))


def colour(lab, photo, noise=NOISE):
    """A colour with an error of its own and none that it shares."""
    parts = {name: np.zeros((3, 3)) for name in PARTS} | {"noise": noise**2 * np.eye(3)}
    return replace(kept(), lab=tuple(map(float, lab)), errors=Errors(parts, np.zeros((3, 1)), {}, (photo,)))


class Shelf:
    """A library of records that were never written."""

    def __init__(self, records, ink="water-based binder"):
        self._records = records
        self._batches = [batch(number, ink=ink) for number in range(1, 100)]

    def batches(self):
        return self._batches

    def records(self, *, state):
        return [one for one in self._records if one.state.name == state]


def strips_in(lab, number, *states):
    """One strip, measured in each state on the day after."""
    rows = enumerate(states, start=1)
    return [
        record(
            10 * number + day,
            colour(in_state(lab, state), f"strip {number} day {day}"),
            batch=f"B{number}",
            state=state,
            measured=f"2026-04-{day:02d}",
        )
        for day, state in rows
    ]


def labs(count, seed=1):
    rng = np.random.default_rng(seed)
    return DRY_LAB + rng.normal(0, 8, (count, 3))


def shelf(count, *states):
    return Shelf([one for number, lab in enumerate(labs(count), start=1) for one in strips_in(lab, number, *states)])


def model(library, start, end):
    return shift_model(library, start, end, "water-based binder", "cotton, white")


# --- pairs --------------------------------------------------------------------------------------------------


def test_any_two_states_of_one_strip_make_a_pair():
    (strip,) = [strips_in(DRY_LAB, 1, DRY, SET, WASHED, RUBBED)]
    for start, end in ((DRY, SET), (DRY, WASHED), (SET, WASHED), (SET, RUBBED), (WASHED, RUBBED)):
        (found,) = pairs_between(strip, start, end)
        assert (found.before.state.kind, found.after.state.kind) == (start.kind, end.kind)
    assert pairs_between(strip, DRY, State("washed", 2)) == []
    assert pairs_between(strip, SET, DRY) == []  # a strip is never dry again


def test_of_a_strip_heated_twice_that_counts_which_was_heated_as_wanted():
    strip = strips_in(DRY_LAB, 1, DRY, LONG, HOT)
    assert [one.after.state for one in pairs_between(strip, DRY, LONG)] == [LONG]
    assert [one.after.state for one in pairs_between(strip, DRY, HOT)] == [HOT]
    assert [one.after.state for one in pairs_between(strip, DRY, SET)] == [HOT]  # the latest, where nobody says how


def test_strips_without_a_pair_are_known_by_their_last_record():
    paired, alone = strips_in(DRY_LAB, 1, DRY, SET), strips_in(DRY_LAB, 2, DRY, DRY)
    records = [*paired, *alone]
    assert unpaired(records, DRY, pairs_between(records, DRY, SET)) == [alone[1]]


# --- what becomes of a colour ------------------------------------------------------------------------------


@pytest.mark.parametrize(("start", "end"), [(DRY, SET), (DRY, WASHED), (SET, WASHED), (SET, RUBBED)])
def test_a_colour_is_carried_from_any_state_to_any_later_one(start, end):
    found = model(shelf(ENOUGH, start, end), start, end).carry([colour(in_state(DRY_LAB, start), "new")])
    true = in_state(DRY_LAB, end)
    off = float(delta_e_2000(found.predicted.lab, true))
    assert off <= found.predicted.radius
    assert off < 0.2 * float(delta_e_2000(in_state(DRY_LAB, start), true))  # had it been left as it was
    assert found.predicted.pairs == ENOUGH
    assert not found.predicted.flags


def test_the_truth_lies_within_the_interval_as_often_as_it_says():
    """Studios with a shift and a scatter of their own: 95 % of 200, give or take three standard deviations."""
    rng, held = np.random.default_rng(16), 0
    for _ in range(200):
        shift, scatter = rng.normal(0, 2, 3), 0.6
        dry = DRY_LAB + rng.normal(0, 8, (11, 3))
        truth = dry + shift + rng.normal(0, scatter, dry.shape)
        seen, after = (lab + rng.normal(0, NOISE, dry.shape) for lab in (dry, truth))
        pairs = [
            record(10 * number + day, colour(lab[number], f"{number} {day}"), batch=f"B{number + 1}", state=state)
            for number in range(10)
            for day, (lab, state) in enumerate(((seen, DRY), (after, SET)))
        ]
        found = model(Shelf([replace(one, measured="2026-04-01") for one in pairs]), DRY, SET).carry(
            [colour(seen[10], "new")]
        )
        held += float(delta_e_2000(found.predicted.lab, truth[10])) <= found.predicted.radius
    assert 0.95 * 200 - 3 * np.sqrt(200 * 0.95 * 0.05) <= held


def test_what_is_not_known_of_the_shift_is_one_for_all_strips_of_a_pot():
    library = shelf(ENOUGH, DRY, SET)
    one = model(library, DRY, SET).carry([colour(DRY_LAB, "a")])
    several = model(library, DRY, SET).carry([colour(DRY_LAB, str(photo)) for photo in range(20)])
    assert_allclose(several.doubt, one.doubt)
    assert_allclose(several.predicted.covariance - several.doubt, np.eye(3) * NOISE**2 / 20, atol=1e-9)


def test_a_target_is_known_exactly_but_not_what_becomes_of_it():
    found = model(shelf(ENOUGH, DRY, SET), DRY, SET).carry(DRY_LAB)
    assert float(delta_e_2000(found.predicted.lab, in_state(DRY_LAB, SET))) < found.predicted.radius
    assert_allclose(found.predicted.covariance, found.doubt)


def heated(count, state, other, others):
    """`count` strips heated as `state` says, `others` as `other` says, these three times as far."""
    alike = [one for number, lab in enumerate(labs(count), start=1) for one in strips_in(lab, number, DRY, state)]
    unlike = [
        replace(one, colour=replace(one.colour, lab=tuple(np.add(lab, 3 * np.array(MOVED["heat-set"])))))
        if one.state.name == "heat-set"
        else one
        for number, lab in enumerate(labs(others, 2), start=count + 1)
        for one in strips_in(lab, number, DRY, other)
    ]
    return Shelf([*alike, *unlike])


def test_strips_heated_otherwise_count_only_where_others_are_few():
    enough = model(heated(ENOUGH, HOT, LONG, 6), DRY, HOT)
    assert (enough.pairs, enough.flags) == (ENOUGH, ())
    assert_allclose(enough.carry(DRY_LAB).predicted.lab, in_state(DRY_LAB, SET), atol=0.05)
    few = model(heated(ENOUGH - 1, HOT, LONG, 6), DRY, HOT)
    assert (few.pairs, codes(few.flags)) == (ENOUGH + 5, ["pairs-treated-otherwise"])
    said = (
        f"6 of the {ENOUGH + 5} strips behind this prediction were not treated the same way (heat-set, 150 °C, 4 min)"
    )
    assert TERMINAL.flag(few.flags[0]) == said
    # Where nobody says how, no strip was heated otherwise.
    assert model(heated(ENOUGH, SET, LONG, 6), DRY, SET).pairs == ENOUGH + 6


def test_too_few_pairs_are_refused_and_the_strips_to_heat_next_named():
    """The one that is furthest from what is known, then the one furthest from both."""
    paired = strips_in((50.0, 0.0, 0.0), 1, DRY, SET)
    near, far, beside_far = (
        strips_in(lab, number, DRY)[0]
        for number, lab in enumerate([(50.0, 1.0, 0.0), (50.0, 60.0, 0.0), (50.0, 55.0, 0.0)], start=2)
    )
    library = Shelf([*paired, near, far, beside_far])
    with pytest.raises(LibraryError) as caught:
        model(library, DRY, SET)
    facts = caught.value.facts
    assert (caught.value.code, facts["start"], facts["end"]) == ("states-differ", "air-dried", "heat-set")
    assert (facts["pairs"], facts["least"], facts["more"]) == (1, LEAST, LEAST - 1)
    assert facts["next"] == [far.number, beside_far.number]
    assert "was measured in both states, and 3 are needed" in TERMINAL.problem(caught.value)
    assert "heat-set 2 more strips and keep them again: records 31 and 41 would help most" in str(caught.value)
    with pytest.raises(LibraryError, match="or wash 3 more strips 3 times and keep them again"):
        model(library, SET, WASHED)
    with pytest.raises(LibraryError, match=r"No strip \(ink .* was measured in both"):
        shift_model(library, DRY, SET, "another ink", "cotton, white")


# --- every pair of states ------------------------------------------------------------------------------------


KINDS = [None, WET, DRY, SET, HOT, LONG, State("washed", 1), WASHED, RUBBED, parse_state("rubbed dry")]
SAID = [state for state in KINDS if state]


@given(st.sampled_from(SAID), st.sampled_from(KINDS), st.booleans())
def test_both_sides_end_in_one_state(strip, reference, after_heat):
    found = States.of(strip, reference, after_heat=after_heat)
    if reference is None:
        assert found.side == (STRIP if after_heat else "")
    elif strip.like(reference):
        assert found.side == ""
    else:
        assert {found.start, found.end} == {strip, reference}
        assert found.start.order < found.end.order
        assert found.side == (STRIP if found.start == strip else REFERENCE)
        assert codes(found.flags) == ["carried-over"]


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """A studio that has heat-set and washed its strips, but rubbed none; a shade for each state of a target."""
    return filled(open_library(str(tmp_path_factory.mktemp("season") / "halm.sqlite"), create=True), tmp_path_factory)


def filled(library, tmp_path_factory):
    folder, number = tmp_path_factory.mktemp("drawn"), iter(range(1000))

    def keep(lab, shade, state, day=1):
        entry = Entry(shade, "1", state=state, cloth="cotton", ink="halm base", measured=f"2026-04-{day:02d}")
        return put_kept(library, folder, colour(in_state(lab, state), f"photo {next(number)}"), entry)

    for place, lab in enumerate(labs(4), start=1):
        for day, state in enumerate((DRY, SET, WASHED), start=1):
            keep(lab, f"pair {place}", state, day)
    of = {}
    for state in KINDS:
        name = f"for {state}"
        keep(DRY_LAB, name, DRY)
        if state != WET:  # a wet colour is no target
            set_target(library, name, in_state(DRY_LAB, state) if state else DRY_LAB, None, state)
        of[name] = library.records(name)[0].number
    moved = {state: in_state(DRY_LAB, state) if state != WET else DRY_LAB for state in SAID}
    kept_in = {}
    for state in SAID:
        entry = Entry("any", str(state), state=state, cloth="cotton", ink="halm base", measured="2026-05-01")
        kept_in[state] = put_kept(library, folder, colour(moved[state], f"photo {next(number)}"), entry).number
    return SimpleNamespace(library=library, moved=moved, records=kept_in, folder=folder)


def judged(season, strip, **wanted):
    lab = season.moved[strip]
    return check_kept(season.library, [PotStrip(colour(lab, "today"))], ReferenceRequest(state=strip, **wanted))


def asked(season, strip, wanted):
    """What came of it, or the refusal."""
    try:
        return judged(season, strip, **wanted), None
    except (LibraryError, UsageError) as refusal:
        return None, refusal


COMPARED = ("heat-set", "washed", "air-dried")  # states that this studio has pairs of


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(strip=st.sampled_from(SAID), reference=st.sampled_from(KINDS), by_record=st.booleans())
def test_no_two_states_are_compared_without_a_word(season, strip, reference, by_record):
    """The strip is of the same ink as the reference, so what is compared at all must come out the same."""
    by_record = (by_record and reference is not None) or reference == WET
    target = {"shade": f"for {reference}", "against_target": True}
    found, refusal = asked(season, strip, {"record": season.records[reference]} if by_record else target)
    if refusal and reference is None:
        assert (refusal.code, strip) == ("wet-against-target", WET)
        return
    if refusal:
        assert refusal.code in ("states-differ", "wet-not-carried-over")
        assert (refusal.facts["strip"], refusal.facts["reference"]) == (str(strip), str(reference))
        assert not strip.like(reference)
        # What is wet is never carried over; nothing was rubbed here, or washed once.
        assert {strip.name, reference.name} & {"wet", "rubbed"} or 1 in (strip.washes, reference.washes)
        return
    told = codes(found.notes)
    if reference is None:
        assert told == ["target-without-state"]
    elif strip.like(reference):
        assert found.predicted is None
        assert told == ["treated-differently"] * strip.treated_unlike(reference)
        assert found.verdict.difference.delta_e < 0.01
    else:
        assert {strip.name, reference.name} <= set(COMPARED)
        assert told[:2] == ["carried-over", "few-heat-set"]
        assert found.pots is None
        assert found.predicted.pairs == 4
        difference = found.verdict.difference
        assert difference.delta_e < found.predicted.radius
        assert difference.high > 1  # the doubt of the shift
        carried, other = difference.sample, difference.reference
        if found.states.side == REFERENCE:
            carried, other = other, carried
        assert carried.endswith(f" once {found.states.end.short} (predicted)")
        assert "(predicted)" not in other


def test_the_first_side_is_carried_over_whichever_it_is(season):
    forth, back = (judged(season, strip, record=season.records[of]) for strip, of in ((DRY, SET), (SET, DRY)))
    assert (forth.states.side, back.states.side) == (STRIP, REFERENCE)
    assert forth.verdict.difference.high == pytest.approx(back.verdict.difference.high, rel=0.05)
    target = judged(season, SET, shade="for air-dried", against_target=True)
    assert target.verdict.difference.reference == "target once heat-set (predicted)"
    assert float(delta_e_2000(target.predicted.lab, in_state(DRY_LAB, SET))) < target.predicted.radius


def test_several_strips_are_carried_over_together(season):
    strips = [PotStrip(colour(DRY_LAB, photo)) for photo in ("one", "two")]
    wanted = ReferenceRequest(shade="for heat-set", against_target=True)
    found, alone = check_kept(season.library, strips, wanted), check_kept(season.library, strips[:1], wanted)
    assert found.verdict.difference.sample == "left and left once heat-set (predicted)"
    assert found.predicted.pairs == 4
    weighed = [replace(one, coat=(70.0, 0.05)) for one in strips]
    assert "coat-not-used" in codes(check_kept(season.library, weighed, wanted).notes)
    # Two strips measure the pot better, but what heat will do to it is as unsure as before.
    own, both = ((one.predicted.covariance[0, 0]) for one in (alone, found))
    assert own - both == pytest.approx(NOISE**2 / 2)


def test_after_heat_is_the_same_as_a_target_that_is_heat_set(season):
    wanted = {"shade": "for heat-set", "against_target": True}
    one, other = (judged(season, DRY, after_heat=after_heat, **wanted) for after_heat in (False, True))
    assert (one.verdict, one.states, one.notes) == (other.verdict, other.states, other.notes)
    asked = judged(season, DRY, shade="for None", against_target=True, after_heat=True)
    assert codes(asked.notes)[:2] == ["target-without-state", "carried-over"]
    with pytest.raises(UsageError, match="The target of shade 'for air-dried' is air-dried, so a colour after heat"):
        judged(season, DRY, shade="for air-dried", against_target=True, after_heat=True)


def test_a_shade_that_has_no_record_is_refused_with_both_states(season):
    put = Entry("bare", "1", state=DRY, cloth="cotton", ink="halm base")
    number = put_kept(season.library, season.folder, colour(DRY_LAB, "bare"), put).number
    set_target(season.library, "bare", DRY_LAB, None, SET)
    remove_record(season.library, number)
    with pytest.raises(LibraryError) as caught:
        judged(season, DRY, shade="bare", against_target=True)
    assert caught.value.code == "shade-without-record"
    assert (caught.value.facts["strip"], caught.value.facts["reference"]) == ("air-dried", "heat-set")


def test_both_databases_carry_over_alike(library, tmp_path_factory, season):
    again = filled(library, tmp_path_factory)
    for strip, reference in ((DRY, SET), (SET, WASHED), (WASHED, DRY)):
        one, other = (judged(at, strip, record=at.records[reference]) for at in (season, again))
        assert one.verdict == replace(other.verdict, difference=one.verdict.difference)
        assert one.verdict.difference.high == pytest.approx(other.verdict.difference.high)
        assert_allclose(one.predicted.lab, other.predicted.lab)


def test_the_flag_of_a_target_without_a_state_says_where_to_say_it(season):
    (note,) = judged(season, DRY, shade="for None", against_target=True).notes
    assert 'swatchcam shade set "for None" --target-state heat-set' in TERMINAL.flag(note)
    assert "swatchcam" not in PAGE.flag(note)


def test_strips_heated_differently_are_named(season):
    (note,) = judged(season, HOT, record=season.records[LONG]).notes
    assert TERMINAL.flag(note) == "both are heat-set, but not in the same way: 150 °C, 4 min; 170 °C, 1 min"
