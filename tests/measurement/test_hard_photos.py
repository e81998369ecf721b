"""Spoilt photos of every kind: refused with a remedy, or measured within what was stated; and the run that counts them.

Ten photos of each kind are drawn here, and about 110 of them are measured: if one such photo in 37 were further off
than three intervals, it would come to light 95 times in 100. Rarer faults are for a long run to find:
`python -m tests.benchmarks.hard_photos --count 10000`.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace

import pytest

from tests.benchmarks import hard_photos as hardrun
from tests.benchmarks.hard_photos import (
    FULL,
    SIZE,
    OtherRun,
    Run,
    closer,
    go_on,
    hard_photos,
    hard_scene,
    photo_of,
    table,
)
from tests.worlds.spoilers import HARD_KINDS
from tests.worlds.trial import is_wrong

COUNT = 10 * len(HARD_KINDS)
RUN = Run(seed=1, split="build", kinds=HARD_KINDS, size=SIZE, code="")
# What is spoilt beyond use, and what most often can be measured all the same.
NEVER_MEASURED = ("mirrored", "two cards")
MOSTLY_MEASURED = ("upside down", "curl", "local tone")


@pytest.fixture(scope="module")
def photos():
    return list(hard_photos(RUN, range(COUNT), processes=2))


def accepted(photos):
    return [photo for photo in photos if hardrun.accepted(photo)]


def test_no_accepted_photo_is_further_off_than_three_intervals(photos):
    assert [(photo["number"], photo["kind"]) for photo in accepted(photos) if is_wrong(photo)] == []


def test_nothing_crashes(photos):
    assert [photo["crash"] for photo in photos if photo["crash"]] == []


def test_every_kind_is_seen(photos):
    seen = Counter(photo["kind"] for photo in photos)
    assert set(seen) == set(HARD_KINDS)
    assert max(seen.values()) - min(seen.values()) <= 1


def test_many_are_measured_and_many_are_refused(photos):
    assert len(accepted(photos)) >= COUNT * 0.35
    assert len(photos) - len(accepted(photos)) >= COUNT * 0.25


def test_what_cannot_be_measured_is_not_and_what_can_be_is(photos):
    assert not [photo["kind"] for photo in accepted(photos) if photo["kind"] in NEVER_MEASURED]
    for kind in MOSTLY_MEASURED:
        of = [photo for photo in photos if photo["kind"] == kind]
        assert len(accepted(of)) > len(of) / 2, kind


def test_every_refusal_says_what_is_wrong_and_what_to_do(photos):
    refusals = [photo["refused"] for photo in photos if photo["refused"]]
    for refusal in refusals:
        assert refusal["error"] in ("FindError", "LightError", "StripError", "FitError", "FileError", "CardError")
        assert refusal["problem"].endswith((".", "?"))
        assert refusal["remedy"].endswith(".")
    assert len({refusal["error"] for refusal in refusals}) >= 3


# --- the run itself -----------------------------------------------------------------------------------------


def measured(number, true=1.0, kind="glare"):
    """Facts of a photo that was said to show a difference of 1.0 ± 0.2."""
    told = {"true": true, "low": 0.8, "high": 1.2, "absolute": [0.5, 0.5], "radius": [1.0, 1.0], "flags": []}
    return {"number": number, "kind": kind, "refused": None, "crash": "", **told}


@pytest.fixture
def drawn(monkeypatch):
    """Numbers that were drawn, none of them in truth."""
    numbers = []

    def pretend(run, wanted, processes):
        for number in wanted:
            numbers.append(number)
            yield measured(number)

    monkeypatch.setattr(hardrun, "hard_photos", pretend)
    return numbers


def test_a_photo_is_wrong_beyond_three_intervals_only():
    assert not is_wrong(measured(0, true=1.59))
    assert is_wrong(measured(0, true=1.61))
    assert is_wrong(measured(0) | {"absolute": [0.5, 3.1]})


def test_the_table_counts_and_names_what_is_wrong():
    refused = {"number": 2, "kind": "blur", "refused": {"error": "FindError"}, "crash": ""}
    crashed = {"number": 3, "kind": "blur", "refused": None, "crash": "Traceback"}
    lines = table([measured(0), measured(1, true=9.0), refused, crashed]).splitlines()
    assert [line.split() for line in lines[1:4]] == [
        ["blur", "1", "0", "0", "0"],
        ["glare", "0", "2", "0", "1"],
        ["all", "1", "2", "0", "1"],
    ]
    assert lines[4:] == ["Further off than 3 intervals: 1 (glare)", "The tool crashed: 3 (blur)"]


def test_a_stopped_run_goes_on_where_it_stopped(drawn, tmp_path):
    path = tmp_path / "results.jsonl"
    go_on(path, RUN, 3, processes=1)
    with open(path, "a", encoding="utf-8") as file:
        file.write('{"number": 3, "ki')
    photos = go_on(path, RUN, 5, processes=1)
    assert drawn == [0, 1, 2, 3, 4]
    assert [photo["number"] for photo in photos] == drawn
    assert [json.loads(line)["number"] for line in path.read_text(encoding="utf-8").splitlines()[1:]] == drawn


def test_a_run_that_is_done_draws_nothing_and_a_shorter_one_counts_its_own(drawn, tmp_path):
    path = tmp_path / "results.jsonl"
    go_on(path, RUN, 4, processes=1)
    assert len(go_on(path, RUN, 4, processes=1)) == 4
    assert len(go_on(path, RUN, 2, processes=1)) == 2
    assert drawn == [0, 1, 2, 3]


@pytest.mark.parametrize(
    "other",
    [{"seed": 2}, {"split": "final"}, {"size": (800, 600)}, {"kinds": ("blur",)}, {"code": "other"}],
    ids=lambda other: next(iter(other)),
)
def test_results_of_another_run_are_left_alone_unless_begun_anew(drawn, tmp_path, other):
    path = tmp_path / "results.jsonl"
    go_on(path, RUN, 2, processes=1)
    before = path.read_bytes()
    with pytest.raises(OtherRun, match=f"another {next(iter(other))}"):
        go_on(path, replace(RUN, **other), 2, processes=1)
    assert path.read_bytes() == before
    assert len(go_on(path, replace(RUN, **other), 3, processes=1, fresh=True)) == 3
    assert drawn == [0, 1, 0, 1, 2]


@pytest.mark.parametrize("text", ["# For developers\n", "[1]\n", '{"a": 1}\n', "{", "\n", '{"hard photos": 3}\n'])
@pytest.mark.parametrize("fresh", [False, True])
def test_a_file_of_something_else_is_never_written_over(drawn, tmp_path, text, fresh):
    path = tmp_path / "notes.md"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(OtherRun, match="no file of hard photos"):
        go_on(path, RUN, 2, processes=1, fresh=fresh)
    assert path.read_text(encoding="utf-8") == text


def test_the_photos_of_a_kind_do_not_depend_on_which_kinds_there_are():
    few = replace(RUN, kinds=("shadow", "glare"))
    places = {photo_of(run, number): (run, number) for run in (few, RUN) for number in range(len(run.kinds) * 2)}
    for kind, nth in (("glare", 0), ("shadow", 1)):
        number = next(number for number in range(4) if photo_of(few, number) == (kind, nth))
        one, _, _ = hard_scene(few, number)
        other, _, _ = hard_scene(*places[kind, nth])
        assert (one.kind, one.seed, one.pose, one.phone) == (other.kind, other.seed, other.pose, other.phone)
        assert (one.glare, one.shadow) == (other.glare, other.shadow)


def test_kinds_come_in_turn_in_another_order_each_time():
    count = len(HARD_KINDS)
    rounds = [[photo_of(RUN, number)[0] for number in range(i * count, (i + 1) * count)] for i in range(3)]
    assert all(sorted(kinds) == sorted(HARD_KINDS) for kinds in rounds)
    assert rounds[0] != rounds[1] != rounds[2]


def test_the_card_comes_closer_but_two_cards_keep_their_room():
    for number in range(2 * len(HARD_KINDS)):
        scene, size, _ = hard_scene(RUN, number)
        if scene.kind == "two cards":
            assert size == FULL
        else:
            assert size == SIZE
            assert 0.75 <= scene.pose.fraction <= 0.95


def test_coming_closer_keeps_the_card_within_the_frame(plain_scene):
    far = replace(plain_scene, pose=replace(plain_scene.pose, fraction=0.45, offset=(0.2, -0.2)))
    pose = closer(far).pose
    assert pose.fraction == pytest.approx(0.75)
    assert pose.fraction / 2 + max(map(abs, pose.offset)) < 0.5
