"""The card in a photo: a named one first, then what its number says, then the usual one; nothing is taken silently."""

from __future__ import annotations

import pytest

from swatchcam.cards.choice import UsualCard, choose_values, taken_alone, without_number
from swatchcam.cards.collection import tie
from swatchcam.cards.design import designs
from swatchcam.cards.instrument_import import check_claims
from swatchcam.cards.values import load_values
from swatchcam.cards.values_file import read_sheet
from swatchcam.cards.values_folder import edition_name
from swatchcam.colorimetry.colour_frame import TERMS
from swatchcam.errors import CardError
from swatchcam.messages.surface import PAGE, TERMINAL
from tests.cards.test_values import file_text, put
from tests.codes import codes

A5, LIGHT = designs()["a5"], ("D65", 10)
ONE, OTHER = "04821093", "00000007"


@pytest.fixture(autouse=True)
def cards(own_folder):
    """Values of print ONE, and values that say of no print that they are its."""
    own_folder.mkdir()
    put(own_folder, file_text(print=ONE), "numbered.csv")
    put(own_folder, file_text(), "plain.csv")
    return own_folder


def chosen(card=None, number=None):
    values = choose_values(A5, card, *LIGHT, number)
    return values.name, codes(values.flags)


def refused(work):
    with pytest.raises(CardError) as refusal:
        work()
    return refusal.value


def test_the_number_decides_before_the_usual_card_and_a_named_card_before_both():
    assert chosen(number=ONE) == ("numbered", [])
    assert chosen(UsualCard("plain"), ONE) == ("numbered", [])
    assert chosen("plain", ONE) == ("plain", [])


@pytest.mark.parametrize("number", [None, ONE, OTHER])
def test_nominal_colours_can_always_be_chosen(number):
    assert chosen("nominal", number) == ("nominal", ["card-nominal"])


def test_without_a_number_the_usual_card_counts_then_the_only_one_that_is_of_no_print(cards):
    assert chosen(UsualCard("numbered")) == ("numbered", [])
    assert chosen(UsualCard("nominal")) == ("nominal", ["card-nominal"])
    assert chosen() == ("plain", [])
    put(cards, file_text(), "second.csv")
    assert refused(chosen).code == "several-cards"
    assert without_number(A5, None) == ["plain", "second"]


def test_a_usual_card_of_another_size_is_passed_over(cards):
    put(cards, file_text(design="a4"), "large.csv")
    assert chosen(UsualCard("large")) == ("plain", [])


def test_an_unseen_number_is_told_where_only_a_numbered_print_can_be_meant(cards):
    (cards / "plain.csv").unlink()
    assert chosen() == ("numbered", ["print-number-not-seen"])


def test_a_print_without_values_is_nominal_and_told_which_cards_it_may_be(cards):
    assert chosen(UsualCard("plain"), OTHER) == ("nominal", ["card-nominal", "print-without-values"])
    told = TERMINAL.flag(choose_values(A5, None, *LIGHT, OTHER).flags[1])
    assert told.endswith("If it is one of your cards (plain), say so: swatchcam card use plain --print 00000007")
    (cards / "plain.csv").unlink()
    assert chosen(number=OTHER) == ("nominal", ["card-nominal"])


def test_values_of_another_print_are_refused_with_the_way_out():
    error = refused(lambda: chosen("numbered", OTHER))
    told = "The card in the photo is print 0000 0007, but the values 'numbered' belong to print 0482 1093."
    assert TERMINAL.problem(error) == PAGE.problem(error) == told
    assert "swatchcam card use numbered --print 00000007" in TERMINAL.remedy(error)
    tie("numbered", [OTHER])
    assert chosen("numbered", OTHER) == chosen(number=OTHER) == ("numbered", [])


def test_two_files_that_claim_one_print_are_refused_by_name_until_one_is_said(cards):
    put(cards, file_text(print=f"{OTHER}, {ONE}"), "second.csv")
    error = refused(lambda: chosen(number=ONE))
    assert TERMINAL.problem(error).endswith("the values of print 0482 1093: numbered, second.")
    said = tie("second", ["0482 1093"])
    assert (said.before, said.taken_from) == ((OTHER, ONE), ("numbered",))
    assert (chosen(number=ONE)[0], load_values("numbered").numbers) == ("second", ())


def test_saying_whose_values_they_are_changes_nothing_else_in_the_file(cards):
    text = file_text().replace("name,", "# read twice, by Ines\nname,", 1)
    path = put(cards, text, "third.csv")
    tie("third", [ONE, OTHER])
    assert read_sheet(path).header.pop("print") == f"{ONE}, {OTHER}"
    tie("third", [])
    assert path.read_text(encoding="utf-8") == text
    assert len(list((cards / "replaced").glob("third until *"))) == 2


def test_only_ones_own_values_and_real_numbers_can_be_said_to_be_of_a_print():
    assert refused(lambda: tie("sample-card", [ONE])).code == "card-not-in-folder"
    assert refused(lambda: tie("plain", ["1234567"])).code == "print-number-impossible"
    assert refused(lambda: tie("plain", ["99999999"])).code == "print-number-impossible"


def test_a_card_that_hides_one_of_the_tool_says_so(cards):
    put(cards, file_text(), "sample-card.csv")
    assert chosen("sample-card") == ("sample-card", ["card-shadows"])


@pytest.fixture
def photographed(cards):
    """What the first photos made of print OTHER, and of a print without a number."""
    frame = " ".join(["photo", *["0"] * (3 * TERMS)])
    for name, number in ((edition_name("a5", OTHER), OTHER), (edition_name("a5", None), "")):
        put(cards, file_text(grade="photographed", geometry="none", print=number, frame=frame), f"{name}.csv")


def test_values_that_were_read_take_a_print_over_from_its_photos_which_keep_their_number(photographed):
    assert chosen(number=OTHER)[0] == f"print-{OTHER}"
    assert not check_claims("plain", {"print": OTHER})
    said = tie("plain", [OTHER])
    assert said.taken_from == ()
    assert chosen(number=OTHER)[0] == "plain"
    assert load_values(f"print-{OTHER}").numbers == (OTHER,)


def test_what_a_photo_made_of_a_print_without_a_number_is_of_no_numbered_print(photographed, cards):
    (cards / "plain.csv").unlink()
    assert chosen(number="00000009") == ("nominal", ["card-nominal"])
    assert chosen()[0] == "unmeasured-a5"


def test_a_card_without_a_number_that_is_read_later_is_measured_by_its_readings_unasked(photographed):
    assert chosen() == ("plain", [])


@pytest.mark.parametrize(
    ("card", "number", "alone"),
    [
        ("nominal", ONE, True),
        (UsualCard("nominal"), ONE, False),
        (UsualCard("nominal"), None, True),
        (None, None, False),
    ],
)
def test_a_photo_is_taken_alone_where_nominal_colours_count(card, number, alone):
    assert taken_alone(card, number) == alone


def edition(number):
    """Values as the first photo of a print leaves them."""
    return file_text(print=number, grade="photographed"), f"print-{number}.csv"


def test_readings_take_over_from_what_a_first_photo_made_of_the_print(cards):
    text, name = edition(OTHER)
    put(cards, text, name)
    assert not check_claims("press", {"print": OTHER})
    assert [found.code for found in check_claims("press", {"print": ONE})] == ["print-has-values"]
    assert tie("plain", [OTHER]).taken_from == ()
    assert chosen(number=OTHER) == ("plain", [])
    assert (cards / name).read_text(encoding="utf-8") == text  # or a card without a number would be measured with it


def test_colours_that_nobody_measured_are_given_to_no_print(cards):
    put(cards, *edition(OTHER))
    for name in ("nominal", f"print-{OTHER}"):
        assert refused(lambda name=name: tie(name, [ONE])).code == "values-of-no-print"
    assert chosen(number=ONE) == ("numbered", [])


def test_a_pigment_row_is_not_taken_for_a_card():
    assert refused(lambda: chosen("sample-row")).code == "values-of-a-row"
