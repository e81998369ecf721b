"""What a script calls gives what the commands give, in forms that tables and notebooks take."""

from __future__ import annotations

import pytest

import swatchcam
from swatchcam.errors import UsageError
from swatchcam.measurement.check import check_photo
from swatchcam.report.measurement import check_dict
from tests.worlds.cheap_measurements import put
from tests.worlds.mixing_library import orange_shop
from tests.worlds.sample_photos import path_of

PAIR = path_of("good_pair")


@pytest.fixture(scope="module")
def result():
    return swatchcam.check(PAIR, card="sample-card")


def test_every_public_name_is_there_and_no_other():
    assert all(getattr(swatchcam, name) for name in swatchcam.__all__)
    assert set(swatchcam.__all__) <= set(dir(swatchcam))
    with pytest.raises(AttributeError, match="no attribute 'measured'"):
        _ = swatchcam.measured


def test_a_check_gives_what_the_command_prints(result):
    facts = check_dict(check_photo(str(PAIR), "sample-card"))
    assert result.as_dict() == facts
    assert (result.outcome, round(result.difference, 2)) == (facts["verdict"], facts["difference"]["ciede2000"])
    assert [round(bound, 2) for bound in result.interval] == facts["difference"]["interval95"]


def test_several_strips_of_one_pot_are_named_in_a_list():
    smeared, other = path_of("smeared"), f"{path_of('all_more')}:left"
    target = swatchcam.Target(photo=other)
    found = swatchcam.check(smeared, card="sample-card", strip=["left", "right"], target=target)
    facts = check_dict(check_photo(str(smeared), "sample-card", strips=["left", "right"], against=[other]))
    assert found.as_dict() == facts
    assert facts["pots"]["strips"] == {"reference": 1, "sample": 2}
    alone = swatchcam.check(smeared, card="sample-card", strip="left", target=target)
    assert alone.as_dict()["pots"]["strips"] == {"reference": 1, "sample": 1}


def test_rows_are_flat_and_one_for_each_strip(result):
    rows = result.sample.rows()
    assert [row["name"] for row in rows] == ["left", "right"]
    assert all(isinstance(value, str | int | float | bool) for row in [*rows, *result.rows()] for value in row.values())
    assert {row["photo"] for row in rows} == {str(PAIR)}
    assert result.rows()[0]["ciede2000"] == result.as_dict()["difference"]["ciede2000"]


def test_a_notebook_shows_strips_verdict_and_interval(result):
    shown = result._repr_html_()
    low, high = result.as_dict()["difference"]["interval95"]
    assert result.as_dict()["sentence"] in shown
    assert f"{low:.2f} to {high:.2f}" in shown
    assert all(strip["srgb_approx"] in shown for strip in result.sample.as_dict()["strips"])


def test_what_a_notebook_shows_is_escaped(result):
    table = swatchcam.Measurement(result.sample.found)
    row = table.rows()[0] | {"name": "<b>left</b>"}
    from swatchcam.report.results import _table

    assert "<b>left" not in _table([row], ("name",))
    assert "&lt;b&gt;left" in _table([row], ("name",))


def test_a_target_is_numbers_or_a_strip_in_another_photo():
    near = swatchcam.check(PAIR, card="sample-card", target=swatchcam.Target(lab=(52.9, 45.8, 13.7)))
    other = swatchcam.check(PAIR, card="sample-card", target=swatchcam.Target(photo=path_of("differs")))
    assert near.as_dict()["difference"]["reference"] == "target"
    assert other.reference.found.photo.path == str(path_of("differs"))
    with pytest.raises(UsageError) as refusal:
        swatchcam.check(PAIR, card="sample-card", target=swatchcam.Target(photo=f"{PAIR}:right"))
    assert refusal.value.code == "strip-against-itself"


def test_a_target_of_the_library_needs_the_library():
    with pytest.raises(UsageError) as refusal:
        swatchcam.check(PAIR, card="sample-card", target=swatchcam.Target(shade="rust"))
    assert refusal.value.code == "target-needs-library"


def test_a_let_down_strip_is_judged_by_one_let_down_as_far(tmp_path):
    library = swatchcam.open_library(str(tmp_path / "halm.sqlite"), create=True)
    put(library, tmp_path, 1, "Rust")
    pale = put(library, tmp_path, 2, "Rust", let_down=10.0)
    target = swatchcam.Target(shade="rust")
    found = swatchcam.check(PAIR, card="sample-card", target=target, library=library, let_down=10)
    assert found.as_dict()["recalled"]["record"]["number"] == pale.number
    with pytest.raises(UsageError) as refusal:
        swatchcam.check(PAIR, card="sample-card", target=target, library=library, let_down=20)
    assert refusal.value.facts["there"] == [0.0, 10.0]


def test_recipes_are_those_of_the_mixing_table(tmp_path):
    orange_shop(str(tmp_path / "halm.sqlite"), tmp_path)
    library = swatchcam.open_library(str(tmp_path / "halm.sqlite"))
    target = swatchcam.Target(lab=(60.0, 36.0, 39.0))
    found = swatchcam.recommend(library, target, 300, scale_g=0.01)
    best = found.as_dict()["choices"][0]
    row = found.rows()[0]
    assert row["ciede2000"] == best["ciede2000_from_target"]
    assert {part["what"]: part["grams"] for part in best["put_in"]} == {
        name.removesuffix(" (g)"): value for name, value in row.items() if name.endswith(" (g)")
    }
    assert f"<td>{row['ciede2000']}</td>" in found._repr_html_()
