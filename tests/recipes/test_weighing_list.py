"""A list to weigh: a line a step, pre-mixes first, in the order that was given, in words for the workshop."""

from __future__ import annotations

from swatchcam.recipes.dosing import counted_dose, weighed_dose
from swatchcam.recipes.drops import Drops
from swatchcam.recipes.premix import making
from swatchcam.recipes.recipe import BINDER, Recipe
from swatchcam.recipes.weighing_list import Way, weighing_list

STRONG = making("yellow", 0.1, 1.0, 4.0)
DOSES = (
    weighed_dose(BINDER, 46.0, 1.0),
    weighed_dose("yellow", 4.0, 1.0, STRONG.made),
    weighed_dose("red", 60.0, 1.0),
    counted_dose("blue", 1, Drops(0.05, 0.05)),
    counted_dose("black", 6, Drops(0.05, 0.05)),
)


def steps():
    return weighing_list(DOSES, Recipe(tuple(dose.part() for dose in DOSES)), (STRONG,), 1.0).steps


def test_each_thing_has_its_line_and_the_lid_comes_last():
    assert [step.way for step in steps()] == [
        Way.MAKE, Way.WEIGH, Way.WEIGH, Way.WEIGH, Way.COUNT, Way.COUNT, Way.CLOSE,
    ]  # fmt: skip
    assert [step.dose for step in steps() if step.dose] == list(DOSES)
    assert "airtight lid" in steps()[-1].words


def test_a_pre_mix_that_is_not_there_is_made_first_and_labelled():
    words = steps()[0].words
    assert words.startswith("Make the yellow 10 % pre-mix: 20 g of yellow and 180 g of clear base.")
    assert "write 'yellow 10 %' and the date on it" in words


def test_drops_and_pre_mixes_are_told_in_words():
    base, yellow, red, blue, black = (step.words for step in steps() if step.dose)
    assert base == "Weigh 46 g of clear base into a clean pot."
    assert yellow == "With a clean spoon add 4 g of the yellow 10 % pre-mix, and mix until there are no streaks."
    assert red == "Add 60 g of red, and mix until there are no streaks."
    assert blue == "Count in 1 drop of blue, and mix until there are no streaks."
    assert black == "Count in 6 drops of black, bit by bit, and mix after each bit until there are no streaks."


def test_grams_have_the_decimals_of_the_scale():
    doses = (weighed_dose(BINDER, 46.0, 0.01), weighed_dose("red", 1.5, 0.01))
    found = weighing_list(doses, Recipe(tuple(dose.part() for dose in doses)), (), 0.01, "the pot with what was left")
    onto = "Weigh 46.00 g of clear base into the pot with what was left, and mix until there are no streaks."
    assert found.steps[0].words == onto
    assert "1.50 g of red" in found.steps[1].words


def test_pigment_alone_goes_onto_old_ink_bit_by_bit():
    doses = (weighed_dose("red", 2.0, 1.0),)
    found = weighing_list(doses, Recipe((doses[0].part(),)), (), 1.0, "the pot with what was left")
    assert found.steps[0].words.startswith("Weigh 2 g of red into the pot with what was left, bit by bit")
