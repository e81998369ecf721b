"""States as people type them, and as the library keeps them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.errors import UsageError
from swatchcam.library.records import AIR_DRIED, DRY, HEAT_SET, RUBBED, WASHED, WET, State, parse_state

TYPED = {
    "air-dried": DRY,
    "Air dried": DRY,
    "heat-set": State(HEAT_SET),
    "heatset": State(HEAT_SET),
    "heat set at 150 C for 4 min, heat press": State(HEAT_SET, how="150 °C, 4 min, press"),
    "heat-set (4 min, 150 °C, press)": State(HEAT_SET, how="150 °C, 4 min, press"),
    "heat-set 150 degrees celsius 1 min 30 s in the tunnel drier": State(HEAT_SET, how="150 °C, 1 min, 30 s, dryer"),
    "heat-set 320F 45 sec iron": State(HEAT_SET, how="320 °F, 45 s, iron"),
    "heat-set iron 2 dots 3,5 min": State(HEAT_SET, how="3.5 min, 2 dots, iron"),
    "washed": State(WASHED, 1),
    "washed twice": State(WASHED, 2),
    "washed 3": State(WASHED, 3),
    "washed 3 x": State(WASHED, 3),
    "washed 3x 40C": State(WASHED, 3, "40 °C"),
    "washed 3 times at 40 C": State(WASHED, 3, "40 °C"),
    "washed 60 C": State(WASHED, 1, "60 °C"),
    "washed 40": State(WASHED, 40),
    "rubbed": State(RUBBED),
    "rubbed wet, 20 strokes": State(RUBBED, how="wet, 20 strokes"),
    "wet": State(WET),
}


@pytest.mark.parametrize(("typed", "state"), TYPED.items())
def test_states_are_read_as_people_type_them(typed, state):
    assert parse_state(typed) == state


def test_what_was_typed_is_read_as_numbers():
    set_ = parse_state("heat-set 302 F 1 min 30 s press")
    assert set_.celsius == pytest.approx(150, abs=0.01)  # (302 - 32) / 1.8
    assert set_.seconds == 90
    assert set_.tool == "press"
    assert (DRY.celsius, DRY.seconds, DRY.tool) == (None, None, "")


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("cured", "state-unknown"),
        ("", "state-unknown"),
        ("heat-setting", "state-unknown"),
        ("washed 0", "state-unknown"),
        ("washed 1000", "state-unknown"),
        ("air-dried 150 C", "state-unknown"),
        ("wet 2 min", "state-unknown"),
        ("heat-set 150", "treatment-unreadable"),  # of which unit?
        ("heat-set 150 C gently", "treatment-unreadable"),
        ("heat-set 1500 C", "temperature-impossible"),
        ("heat-set 150 F", None),
        ("washed 3 times 150 C", "temperature-impossible"),
        ("heat-set 150 C 0 min", "time-impossible"),
        ("heat-set 150 C 30 h", "time-impossible"),
    ],
)
def test_what_cannot_be_meant_is_refused(typed, code):
    if code is None:  # 66 °C is an iron hardly warm, and possible
        assert parse_state(typed).celsius == pytest.approx(65.6, abs=0.1)
        return
    with pytest.raises(UsageError) as refused:
        parse_state(typed)
    assert refused.value.code == code


@st.composite
def states(draw):
    """Any state that can be kept."""
    name = draw(st.sampled_from([WET, AIR_DRIED, HEAT_SET, WASHED, RUBBED]))
    numbers = st.integers(60, 260)
    if name == HEAT_SET:
        parts = [
            draw(st.one_of(st.just(""), numbers.map("{} °C".format))),
            draw(st.one_of(st.just(""), st.integers(1, 600).map("{} s".format))),
            draw(st.sampled_from(["", "iron", "press", "dryer", "oven"])),
        ]
        return State(name, how=", ".join(filter(None, parts)))
    if name == WASHED:
        return State(name, draw(st.integers(1, 999)), draw(st.sampled_from(["", "40 °C", "95 °C", "104 °F"])))
    if name == RUBBED:
        return State(name, how=draw(st.sampled_from(["", "dry", "wet", "wet, 20 strokes"])))
    return State(name)


@given(states())
def test_what_is_written_is_read_back(state):
    assert parse_state(str(state)) == state
    assert parse_state(str(state).upper()) == state
    assert parse_state(str(state.kind)) == state.kind
    assert state.kind.order == state.order


@pytest.mark.parametrize(
    ("one", "other", "unlike"),
    [
        ("heat-set 150 C", "heat-set 160 C", False),
        ("heat-set 150 C", "heat-set 161 C", True),
        ("heat-set 150 C", "heat-set 302 F", False),  # the same: (302 - 32) / 1.8
        ("heat-set 4 min", "heat-set 6 min", False),  # half as long again
        ("heat-set 6 min 10 s", "heat-set 4 min", True),
        ("heat-set 240 s", "heat-set 4 min iron", False),
        ("heat-set 150 C", "heat-set 10 min", False),  # nothing that both say
        ("heat-set", "heat-set 200 C 10 min", False),
        ("washed 3 times 40 C", "washed 3 times 60 C", True),
        ("rubbed dry", "rubbed wet", True),
        ("rubbed wet", "rubbed wet 20 strokes", False),
        ("heat-set 150 C dryer", "heat-set 150 C", False),
        ("air-dried", "heat-set 150 C", False),  # of another kind
    ],
)
def test_strips_of_one_kind_may_be_treated_unlike(one, other, unlike):
    """More than 10 °C apart, more than half as long again, or one wet and one dry: limits without a source."""
    first, second = parse_state(one), parse_state(other)
    assert first.treated_unlike(second) == second.treated_unlike(first) == unlike
