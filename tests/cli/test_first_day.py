"""The first four days of a studio with a card that nobody measured: the chapter `first_day`, held against the truth.

Print, lamps, strips and pots are drawn (`tests.worlds.sample_photos`); the print is of a printer that was drawn at
random (`many_printers`), and nothing is known of it but its number.
"""

from __future__ import annotations

import pytest

from tests.cli.keyboard import answer, type_in
from tests.page_outputs import told, workplace
from tests.worlds.inks import strip_reflectance
from tests.worlds.sample_photos import COPPER, COPPER_MENDED, COPPER_POT, FILM, read_truth
from tests.worlds.spectra import difference, reflectance_lab

TRUTH = read_truth()
KEEP, GOLDEN, RED, POT, CORRECT, MENDED, AGAIN = (thing.words for thing in told("first_day"))

pytestmark = pytest.mark.usefixtures("remembered")


def off(pot):
    """True CIEDE2000 of what is in a pot from what is wanted, in a film of usual thickness."""
    lab, wanted = (reflectance_lab(strip_reflectance(recipe, FILM)) for recipe in (pot, COPPER))
    return float(difference(lab, wanted))


def holds(interval, true):
    low, high = interval
    return low - 0.01 <= true <= high + 0.01


def test_a_pot_comes_near_after_one_correction_with_a_card_that_nobody_measured():
    with workplace():
        for words in (KEEP, GOLDEN, RED, POT):
            assert type_in(words).output.count("never measured") == 1
        correction = answer(CORRECT)
        assert holds(correction["pot"]["interval95"], off(COPPER_POT))
        # The drawn pot got 0.4 g: a slip of one step of the scale.
        assert [(part["what"], part["grams"]) for part in correction["choices"][0]["put_in"]] == [("red", 0.3)]
        assert off(COPPER_POT) > 4
        assert off(COPPER_MENDED) < 1

        mended = answer(MENDED)
        assert mended["sample_photo"]["card"]["number"] == "04821093"
        true = TRUTH["day_3"]
        assert holds(mended["difference"]["interval95"], float(difference(true["right"], true["left"])))

        again = answer(AGAIN, 5)
        assert holds(
            again["difference"]["interval95"], float(difference(TRUTH["day_4"]["left"], TRUTH["day_1"]["left"]))
        )
        assert not again["recalled"]["notes"]  # both days were measured alike
