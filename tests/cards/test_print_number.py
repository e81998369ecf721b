"""A print's number: what it says in digits it says in tags, and no two prints from one computer bear the same."""

from __future__ import annotations

import csv
import re
import subprocess
import sys

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.cards import print_register
from swatchcam.cards.design import designs
from swatchcam.cards.print_number import (
    FIRST_ID,
    IDS,
    PER_TAG,
    TAGS,
    agreeing,
    number_of,
    parse_number,
    spoken,
    tag_ids,
)
from swatchcam.cards.print_register import new_numbers, printed_numbers
from swatchcam.errors import CardError
from swatchcam.messages.surface import TERMINAL
from swatchcam.resources import calibration_folder
from tests.paths import REFERENCE

NUMBERS = st.integers(0, PER_TAG**TAGS - 1).map("{:08d}".format)


@given(NUMBERS)
def test_a_number_comes_back_from_its_tags_and_from_its_words(number):
    tags = tag_ids(number)
    assert len(tags) == 3
    assert all(331 <= tag <= 586 for tag in tags)
    assert number_of(tags) == number
    assert re.fullmatch(r"\d{4} \d{4}", spoken(number))
    assert parse_number(f" {spoken(number)} ") == number


@given(NUMBERS, st.integers(0, TAGS - 1), NUMBERS)
def test_two_tags_are_no_number_but_say_which_known_print_it_may_be(number, hidden, other):
    seen = [None if place == hidden else tag for place, tag in enumerate(tag_ids(number))]
    assert number_of(seen) is None
    alike = all(a == b for a, b in zip(seen, tag_ids(other), strict=True) if a is not None)
    assert agreeing(seen, [other, number]) == [other] * alike + [number]


@pytest.mark.parametrize("text", ["", "0482 109", "048210933", "9999 9999", "1677 7216", "0482-1093", "٠٤٨٢١٠٩٣"])
def test_what_is_no_number_is_refused_with_an_example(text):
    with pytest.raises(CardError) as refused:
        parse_number(text)
    assert "0482 1093" in TERMINAL.refusal(refused.value)


def test_its_tags_are_as_far_apart_as_the_family_promises_and_no_card_uses_them():
    # Rows of the family as OpenCV has them; the distance is the one that Olson 2011 promises.
    lines = (REFERENCE / "tag_families.csv").read_text(encoding="utf-8").splitlines()
    facts = {row["name"]: row for row in csv.DictReader(line for line in lines if not line.startswith("#"))}
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36H11)
    assert FIRST_ID + PER_TAG == len(family.bytesList) == int(facts["DICT_APRILTAG_36H11"]["markers"])
    codes = np.array([cv2.aruco.generateImageMarker(family, tag, 8)[1:-1, 1:-1].ravel() > 0 for tag in IDS])
    nearest = min((codes[i + 1 :] != codes[i]).sum(axis=1).min() for i in range(PER_TAG - 1))
    assert nearest >= int(facts["DICT_APRILTAG_36H11"]["min_distance"]) == 11
    assert all(tag.id < FIRST_ID for design in designs().values() for tag in design.tags)


# --- numbers given out ---------------------------------------------------------------------------------------


def test_no_number_is_given_out_twice_even_if_chance_draws_it_again(own_folder, monkeypatch):
    draws = iter(["00000001", "00000001", "00000002", "00000002", "00000001", "00000003"])
    monkeypatch.setattr(print_register, "_draw", lambda: next(draws))
    assert new_numbers(1) == ["00000001"]
    assert new_numbers(2) == ["00000002", "00000003"]
    assert printed_numbers() == ["00000001", "00000002", "00000003"]


def test_two_programs_at_once_never_take_the_same_number(own_folder):
    # All draw the same few numbers in the same order, so that each is wanted by all of them.
    code = (
        "import random; from swatchcam.cards import print_register as r; chance = random.Random(1);"
        "r._draw = lambda: f'{chance.randrange(400):08d}'; print(*r.new_numbers(60))"
    )
    running = [subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) for _ in range(3)]
    taken = [number for one in running for number in one.communicate()[0].split()]
    assert len(taken) == len(set(taken)) == 180
    assert printed_numbers() == sorted(taken)


def test_numbers_are_drawn_from_all_there_are_and_not_from_a_cards_own_tags(own_folder):
    own_folder.mkdir()
    mine = (calibration_folder() / "a5.toml").read_text(encoding="utf-8").replace('"a5"', '"mine"')
    mine = re.sub(r"(?s)\[\[size\]\].*?(?=\[scale\])|\[\[number\]\].*?(?=\[\[tag\]\])", "", mine)
    mine = re.sub(r"(?m)^id = (\d+)$", lambda match: f"id = {int(match[1]) + 400}", mine)
    (own_folder / "mine.toml").write_text(mine, encoding="utf-8")
    designs.cache_clear()
    assert designs()["mine"].number_boxes == ()
    drawn = [tag_ids(number) for number in new_numbers(300)]
    seen = {tag for tags in drawn for tag in tags}
    assert not seen & {400, 401, 402, 403, 404, 405}
    assert len(seen) > 230  # of 250: each is missed by 300 prints with a chance of 3 %
    assert all(len(set(tags)) == 3 for tags in drawn)


def test_what_else_lies_among_the_numbers_does_not_matter(own_folder):
    (own_folder / print_register.FOLDER).mkdir(parents=True)
    for name in (".DS_Store", "99999999", "notes.txt", "00000007"):
        (own_folder / print_register.FOLDER / name).touch()
    assert printed_numbers() == ["00000007"]
    assert len(new_numbers(2)) == 2


def test_numbers_that_cannot_be_kept_are_refused(own_folder):
    own_folder.mkdir()
    (own_folder / print_register.FOLDER).write_text("not a folder", encoding="utf-8")
    assert printed_numbers() == []
    with pytest.raises(CardError) as refused:
        new_numbers(1)
    assert "The numbers of your cards can't be saved in" in TERMINAL.refusal(refused.value)
