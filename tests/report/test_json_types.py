"""What is built has exactly the keys of its type; every key says what it is; every command's type names it."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import get_type_hints

import pytest

from swatchcam.cli import main
from swatchcam.errors import LightError
from swatchcam.handbook.reference import keys, keys_reference, leaves
from swatchcam.library.backup import Count
from swatchcam.library.heat_shift import pair
from swatchcam.library.history import history, states
from swatchcam.library.shelf.pigments import Lot, Pigment
from swatchcam.library.verify import Finding
from swatchcam.measurement.check import check_photo
from swatchcam.measurement.pot_verdict import POT, STRIPS
from swatchcam.messages.message import Flag, finding, flag
from swatchcam.mixing.opacity import Contrast, Opacity, Outcome
from swatchcam.report import json_types
from swatchcam.report.json_types import JSON_OBJECTS, LibraryJson, colours, library, measuring, mixing
from swatchcam.report.library_care import verify_dict
from swatchcam.report.library_json import library_json
from swatchcam.report.library_records import history_dict, kept_dict, near_dict, pair_dict, record_dict, shade_dict
from swatchcam.report.measurement import check_dict
from swatchcam.report.mixing import palette_dict, series_dict
from swatchcam.report.quantities import opacity_dict
from swatchcam.report.results import CheckResult, CheckRow, StripRow
from swatchcam.report.said import flag_dicts, refusal_dict
from tests.report.typed import PRINTED, faults
from tests.worlds import mixing_facts
from tests.worlds import studio_records as studio
from tests.worlds.cheap_measurements import proposal
from tests.worlds.sample_photos import path_of

COMMANDS = {
    words.removeprefix("swatchcam ")
    for words, command in leaves(main)
    if any("--json" in option.opts for option in command.params)
}
BATCHES, RECORDS = studio.three_batches()
RED = Pigment("red", 6.0, 0.05, 11.5, "Stir well.", (Lot("R-2", "2026-01-05", 0.9, 0.02),))


@pytest.fixture(scope="module")
def checked():
    pair, window, led = (str(path_of(name)) for name in ("good_pair", "two_lights_window", "two_lights_led"))
    return {
        "two windows": check_photo(pair, "sample-card"),
        "two photos": check_photo(pair, "sample-card", against=[str(path_of("before_heat"))]),
        "a target": check_photo(pair, "sample-card", target="50,40,10"),
        "two lights": check_photo(window, "sample-card", other_light=[led]),
        "two pots": check_photo(str(path_of("one_more")), "sample-card"),
        "several strips": check_photo(
            str(path_of("smeared")), "sample-card", strips=["right", "left"], against=[f"{path_of('all_more')}:left"]
        ),
    }


# --- the checker itself -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"L": "50"}, ".L: '50' is no <class 'float'>"),
        ({"L": True}, ".L: True is no <class 'float'>"),
        ({"L": None}, ".L: None is no <class 'float'>"),
        ({"more": 1}, ".more is in no type"),
    ],
)
def test_the_checker_sees_what_is_not_as_its_type_says(change, told):
    good = {"L": 50, "a": 1.5, "b": -2.0}
    assert faults(good, colours.AxesJson) == []
    assert faults(good | change, colours.AxesJson) == [told]


def test_the_checker_looks_into_lists_names_and_what_may_be_left_out():
    flag = {"code": "x", "facts": {}, "sentence": "X."}
    assert faults([flag, flag | {"photo": "a.jpg"}], list[json_types.FlagJson]) == []
    assert faults({"A": [flag | {"strip": 3}]}, dict[str, list[json_types.FlagJson]]) == [
        ".A[0].strip: 3 is no <class 'str'>"
    ]
    assert faults({"L": 1.0, "a": 2.0}, colours.AxesJson) == [".b is missing"]
    assert faults(None, colours.AxesJson | None) == []
    assert faults([(1.0, 2.0)], list[list[float]]) == ["[0]: a tuple"]


# --- what is built ------------------------------------------------------------------------------------------


KINDS = ["two windows", "two photos", "a target", "two lights", "two pots", "several strips"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_check_and_its_rows(checked, kind):
    found = CheckResult(checked[kind])
    for judge in (STRIPS, POT):
        assert faults(check_dict(checked[kind], judge=judge), json_types.CheckJson) == []
    assert faults(found.rows(), list[CheckRow]) == []
    assert faults(found.sample.rows(), list[StripRow]) == []
    assert faults(found.sample.as_dict(), json_types.MeasurementJson) == []


def test_both_kinds_of_check_are_there(checked):
    assert check_dict(checked["two windows"])["metamerism"] is not None
    assert check_dict(checked["two photos"])["reference_photo"] is not None
    assert check_dict(checked["a target"])["metamerism"] is None


def test_each_part_of_the_verdict_on_pots_is_there(checked):
    unseen, told, several = (
        check_dict(checked[kind])["pots"] for kind in ("two windows", "two pots", "several strips")
    )
    assert (unseen["why_not"]["code"], unseen["split"], unseen["outcome"]) == ("cloth-not-seen", None, None)
    assert (told["why_not"], told["outcome"]) == (None, "different shade")
    assert told["split"]["shade_words"]
    assert several["strips"] == {"reference": 1, "sample": 2}
    assert check_dict(checked["a target"])["pots"] is None


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: str(record.number))
def test_a_record(record):
    assert faults(record_dict(record), json_types.RecordJson) == []


def test_that_no_ink_was_found_is_no_news_of_bare_cloth():
    flags = (flag("bare-cloth"),)
    codes = {
        shade: [one["code"] for one in record_dict(replace(RECORDS[0], shade=shade, flags=flags))["flags"]]
        for shade in ("bare cloth", "Bare Cloth", "plum")
    }
    assert codes == {"bare cloth": [], "Bare Cloth": [], "plum": ["bare-cloth"]}


def test_a_shade_its_history_and_what_heat_did():
    shade = studio.shade()
    facts = shade_dict(shade, BATCHES, RECORDS[-1])
    assert faults(facts, library.ShadeJson) == []
    assert faults(shade_dict(studio.shade(target=None, tolerance=None), [], None), library.ShadeJson) == []
    pasts = [history_dict(history(shade.target, RECORDS, state)) for state in states(RECORDS)]
    assert any(past["charts"] for past in pasts)
    assert faults(pasts, list[library.HistoryJson]) == []
    pairs = pair(RECORDS)
    assert pairs
    assert faults([pair_dict(each) for each in pairs], list[json_types.PairJson]) == []
    assert faults(kept_dict(RECORDS[:2], pairs, "halm.sqlite"), json_types.KeptJson) == []


def test_the_nearest_shades():
    assert faults(near_dict([(record, 1.5) for record in RECORDS], (50, 1, 2)), json_types.NearJson) == []


def test_what_verify_found():
    found = [Finding(finding("photo-missing", name="a.jpg")), Finding(finding("photo-of-no-record"), harmless=True)]
    facts = verify_dict(Count(3, 2), found)
    assert facts["broken"]
    assert faults(facts, json_types.VerifyJson) == []


@pytest.mark.parametrize("kind", ["recipe", "correction", "thinning", "left", "again", "use-up", "far"])
def test_what_the_mixing_table_answers(kind):
    assert faults(mixing_facts.answers()[kind], json_types.AnswerJson) == []


def test_the_answers_hold_each_part_that_may_be_null():
    told = list(mixing_facts.answers().values())
    assert any(facts["pot"] for facts in told)
    assert any(facts["rests"] for facts in told)
    assert any(choice["roads"] for facts in told for choice in facts["choices"])
    assert any(facts["reach"] and facts["reach"]["needs"] for facts in told)


def test_pigments_and_predictions():
    assert faults(mixing_facts.pigment_facts(), json_types.PigmentJson) == []
    assert faults(palette_dict(mixing_facts.bench()), json_types.PaletteJson) == []
    assert faults(series_dict(RECORDS, "halm.sqlite"), json_types.SeriesJson) == []
    for count in (0, 1, 6):
        assert faults(mixing_facts.prediction_check_facts(count), json_types.PredictionsJson) == []
    assert mixing_facts.pigment_facts()["lots"]


@pytest.mark.parametrize("passes", [{}, {2: Contrast(0.25, 0.2, 0.3), 3: Contrast(0.4, 0.3, 0.5)}])
def test_whether_an_ink_is_opaque(passes):
    found = Opacity(Contrast(0.1, 0.09, 0.11), passes, 0.98, Outcome.NEEDS_BASE, (Flag("ratio-nominal"),))
    facts = opacity_dict(found, {"over_light": ("left", studio.kept()), "over_dark": ("right", studio.kept())})
    assert faults(facts, json_types.OpacityJson) == []


def test_the_whole_library():
    shades = [studio.shade(), studio.shade(number=2, name="bare", target=None)]
    batches = [*BATCHES, studio.batch(9, recipe=None)]
    made = [proposal(number=1, target=(50.0, 1.0, 2.0), from_batch="B1"), proposal(number=2)]
    facts = json.loads(library_json(shades, batches, RECORDS, made, [RED]))
    assert faults(facts, LibraryJson) == []
    assert facts["proposals"][0]["target"] == [50.0, 1.0, 2.0]
    assert facts["pigments"][0]["lots"][0]["strength"] == 0.9


def test_flags_and_refusals():
    flags = [Flag("ratio-nominal"), Flag("ratio-nominal", photo="a.jpg", strip="left")]
    assert faults(flag_dicts(flags), list[json_types.FlagJson]) == []
    error = LightError("light-too-steep", "move-the-lamp-away", fall=2.5)
    error.at("in-photo", photo="a.jpg")
    told = refusal_dict(error)
    assert faults({"refused": told}, json_types.RefusedJson) == []
    assert {name: told[name] for name in error.as_json()} == error.as_json()


# --- the types ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("found", JSON_OBJECTS, ids=lambda found: found.__name__)
def test_every_key_says_what_it_is(found):
    assert found.__doc__
    assert "\n" not in found.__doc__
    assert not [path for path, said in keys(found) if not said]


def test_every_command_has_a_type_that_names_it():
    assert set(PRINTED) == COMMANDS
    for command, types in PRINTED.items():
        for each in types:
            assert each in JSON_OBJECTS
            assert re.search(rf"`(swatchcam )?{command}\b", each.__doc__)


def test_the_reference_has_a_table_for_each_and_describes_no_object_twice():
    text = keys_reference(JSON_OBJECTS)
    assert text.count("\n## ") + 1 == len(JSON_OBJECTS)
    assert "| `strips[].flags` |" in text
    assert "sample_photo." not in text
    assert "flags[]." not in text
    assert "| `history[].charts.NAME.signals[].sentence` |" in text
    assert "| `photo` | the photo it is about; left out if it is about all of them |" in text
    assert "| `difference.interval95` | [low, high] of the true difference, CIEDE2000 |" in text


def test_the_number_of_the_form_is_the_one_that_is_said():
    for found in JSON_OBJECTS:
        hint = get_type_hints(found).get("format")
        assert hint is None or hint.__args__ in [(colours.FORMAT,), ("swatchcam-library-2",)]
    assert colours.FORMAT == "swatchcam-result-2"
    assert get_type_hints(measuring.MeasurementJson)["format"] == get_type_hints(mixing.AnswerJson)["format"]
