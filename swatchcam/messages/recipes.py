"""What is said of recipes, of weighing, and of numbers that a person typed."""

from __future__ import annotations

from typing import Any

from .surface import Catalogue, On

SIGNS = {"cm2": "cm²", "um": "µm", "cm3/m2": "cm³/m²"}  # how a unit is written, where it is typed in another way
TINY = 1e-5  # a smaller bound is said as "above 0"
# What a number is of -> what it is called, its unit, and what one would give.
QUANTITIES = {
    "coat": ("Wet ink on the strip", "g/m²", "such as 72 if 0.72 g lie on 10 × 10 cm"),
    "coat-grams": ("Weight of the wet ink", "g", "for example 0.72"),
    "coverage-part": ("Coverage", "", "such as 0.35 if 35 % of the motif is ink"),
    "coverage-percent": ("Coverage", "%", "such as 35 if about a third of the motif is ink"),
    "cup-grams": ("Ink in the cup", "g", "for example 100"),
    "density": ("Density of the ink", "g/ml", "for example 1.05"),
    "drop-grams": ("Weight of one drop", "g", "for example 0.05"),
    "growth": ("Growth of the pot, as a part of it", "", "for example 0.05"),
    "ingredient-grams": ("Amount of {of}", "g", "for example 3.2"),
    "ink-grams": ("Amount of ink", "g", "for example 500"),
    "ink-in-pot": ("Ink in the pot", "g", "for example 480"),
    "ink-used": ("Ink used", "g", "such as 85 if 85 g went onto the cloth"),
    "ink-volume": ("Ink volume of the mesh", "cm³/m²", "such as 24; the maker of the mesh prints it"),
    "least-grams": ("Smallest amount you can dispense", "g", "for example 0.5"),
    "let-down": ("Parts of clear base to one part of ink", "", "for example 10"),
    "lot-strength": ("Strength of the lot", "", "such as 0.9 if it is weaker than the one of the test series"),
    "lot-strength-error": ("Likely error of the lot's strength", "", "for example 0.05"),
    "mesh-count": ("Mesh", "threads/cm", "written as 77/cm or 195/inch"),
    "mesh-thickness": ("Thickness of the mesh", "µm", "for example 72"),
    "open-area": ("Open area of the mesh", "", "for example 0.33"),
    "passes": ("Number of passes", "", "for example 2"),
    "pieces": ("Number of pieces", "", "for example 60"),
    "pigment-count": ("Maximum number of pigments", "", "for example 3"),
    "pigment-grams": ("Amount of pigment", "g", "for example 3.2"),
    "pigment-least": ("Smallest amount of the pigment", "g", "for example 0.5"),
    "pigment-limit": ("Limit for all pigments together", "%", "for example 8"),
    "pigment-most": ("Maximum load of the pigment", "g in 100 g of ink", "for example 8"),
    "pigment-price": ("Price of 100 g", "", "for example 4.5"),
    "pot-size": ("Size of a pot", "ml", "for example 500"),
    "pre-mix-percent": ("Pigment in the pre-mix", "%", "such as 10 or 1"),
    "printed-area": ("Area of the motif", "cm²", "such as 1200 for a motif of 30 × 40 cm"),
    "reserve-part": ("Reserve, as a part of the whole", "", "such as 0.15 for 15 %"),
    "reserve-percent": ("Reserve", "%", "for example 15"),
    "rest-part": ("Ink left in the pot, as a part of the whole", "", "such as 0.03 for 3 %"),
    "rest-percent": ("Ink left in the pot", "%", "for example 3"),
    "scale-step": ("Smallest step of the scale", "g", "for example 0.1"),
    "set-ups": ("Number of set-ups", "", "for example 1"),
    "setup-grams": ("Ink left on screen and squeegee", "g", "for example 50"),
    "spoon-size": ("Size of the spoon", "ml", "for example 5"),
    "stock-grams": ("Weight of the ink", "g", "for example 212"),
    "strip-side": ("Side of the strip", "mm", "such as 100 for 10 cm"),
    "thread-diameter": ("Diameter of the thread", "µm", "for example 48"),
    "tip-grams": ("Weight of one spoon tip", "g", "for example 0.1"),
    "usual-pot": ("What you usually mix", "g", "for example 500"),
    "wanted-grams": ("Amount you want", "g", "for example 500"),
}
LIKE_THIS = "Write it like this: 'clear base 500 g, yellow 3.2 g, black 2 drops'."


def _in(unit: str) -> str:
    """The unit as it stands after a number."""
    return f" {SIGNS.get(unit, unit)}" if unit else ""


def _out_of_range(quantity: str, value: float | str, of: str, **_: Any) -> str:
    called, unit, _example = QUANTITIES[quantity]
    return f"{called.format(of=of)}: {float(value):g}{_in(unit)} can't be right."


def _within_range(quantity: str, least: float, most: float, **_: Any) -> str:
    _called, unit, example = QUANTITIES[quantity]
    bounds = f"between {least:.10g} and {most:.10g}" if least > TINY or least <= 0 else f"above 0 and up to {most:.10g}"
    return f"It must be {bounds}{_in(unit)}, {example}."


def _hardly_anything(quantity: str, percent: float, **_: Any) -> str:
    return f"{QUANTITIES[quantity][0]}: {percent:g} % is hardly anything."


def _a_number(unit: str, **_: Any) -> str:
    return f"Please type a number such as 2.5{_in(unit)}: only digits, with a point or a comma."


def _a_signed_number(unit: str, **_: Any) -> str:
    return f"Please type a number such as 2.5{_in(unit)}, with one point or one comma."


PROBLEMS: Catalogue = {
    # Numbers.
    "count-unreadable": "'{typed}' is not a whole number from 1 to 999999.",
    "number-out-of-range": _out_of_range,
    "number-unreadable": "'{typed}' can't be read as a number.",
    "percent-like-a-part": _hardly_anything,
    # A recipe as it is written.
    "amount-beyond-any-pot": "'{entry}' is not an amount for a pot.",
    "amount-not-above-zero": "'{entry}' is not an amount above 0.",
    "amount-unreadable": "'{number}' in '{entry}' can't be read as a number.",
    "brackets-hold-too-much": "The brackets in '{entry}' hold more than a maker's number.",
    "brackets-open": "The brackets in '{line}' do not match.",
    "comma-with-two-meanings": "The comma in '{entries}' may separate two parts or be a decimal comma.",
    "count-with-two-meanings": "The {count} in '{entry}' may belong to the name, or the amount may be {count}{number}.",
    "dash-or-minus": "The dash in '{entry}' may be a minus.",
    "decimals-mixed": "The recipe writes decimals both with a point and with a comma.",
    "ingredient-twice": "'{what}' is in the recipe twice.",
    "name-cannot-be-shown": "'{entry}' has a name that can't be shown.",
    "name-missing": "'{entry}' does not say what it is an amount of.",
    "no-amount": "'{entry}' has no amount in g, kg, mg, ml, drops, spoons or tips.",
    "no-clear-base": "The recipe has no clear base.",
    "part-too-long": "'{entry}' is too long for one part.",
    "thousands-or-decimals": "'{number}' in '{entry}' may be {whole}{decimals}, or a little over {whole}.",
    "two-amounts": "'{entry}' has two amounts.",
    "kept-recipe-unreadable": "A recipe in the library can't be read ({cause}).",
    # Weighing and thinning.
    "clear-base-below-scale": "The scale can't weigh as little as {grams:.2g} g of clear base.",
    "factor-does-not-thin": "A factor of {factor:g} does not thin the pot.",
    "pot-heavier-than-recipe": "There are {grams:g} g in the pot, but its recipe makes only {recipe_grams:g} g.",
    "strong-ink-below-scale": "The scale can't weigh as little as {grams:.2g} g of the strong ink.",
}
REMEDIES: Catalogue = {
    "add-up-or-rename": "Add up its amounts, or give the two different names.",
    "close-the-brackets": "Close each bracket on its own line.",
    "correct-or-leave-out": "Correct the amount, or leave the part out.",
    "give-a-factor-below-one": "Give a number above 0 and below 1, such as 0.8.",
    "give-an-amount-for-a-pot": "Give between 0.001 mg and 1000 kg.",
    "keep-decimals-alike": "Use one of them throughout.",
    "keep-names-plain": "Use at most {longest} letters, digits and spaces.",
    "keep-within-range": _within_range,
    "leave-out-the-dash": "Leave the dash out.",
    "leave-pot-or-finer-scale": "Leave the pot as it is, or use a finer scale.",
    "make-more-or-finer-scale": "Make at least {least:.2g} g, or use a finer scale.",
    "one-amount-a-part": "Separate the parts with ',' or ';', or put each on its own line.",
    "type-in-percent": "Type it in percent: {as_percent:g} if you mean {percent:g} of the whole, or 0.",
    "say-if-there-is-none": "Add it, such as 'clear base 200 g', or 'clear base 0 g' if there is none in the pot.",
    "separate-the-parts": "Separate the parts with ';', put each on its own line, or write decimals with a point.",
    "set-the-number-apart": "Write 'No. {count}' or put ':' after the name. If it is {count}{number}, leave out the"
    " space.",
    "type-a-count": "Please type a whole number, such as 60.",
    "type-a-number": _a_number,
    "type-a-signed-number": _a_signed_number,
    "weigh-or-correct-recipe": On(
        "Weigh the pot without its jar, or correct the recipe with 'swatchcam batch SHADE BATCH --recipe TEXT'.",
        "Weigh the pot without its jar, or correct the recipe on the page of its batch.",
    ),
    "write-a-recipe": LIKE_THIS,
    "write-out-thousands": "Write {whole}{decimals}, or {whole}.{decimals}0 with a fourth decimal.",
}
