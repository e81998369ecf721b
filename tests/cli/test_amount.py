"""`swatchcam amount`: what a printmaker types, the answer in grams, and one sentence with a remedy for each slip."""

from __future__ import annotations

import json
import shlex

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.cli.amount import amount
from swatchcam.cli.groups import RefusingGroup
from swatchcam.recipes import ink_deposit, ink_quantity
from tests.cli import keyboard

DONE, WRONG_USE = 0, 2
USUAL = "--motif 30x40 --coverage 35 --pieces 60"
WEIGHED = f"{USUAL} --used '120 g for 40' --used '125 g for 40' --used '118 g for 40'"
MAIN = RefusingGroup("swatchcam", lazy={"amount": "swatchcam.cli.amount:amount"})


def type_in(words):
    return keyboard.type_in(["amount", *keyboard.split(words)])


def answer(words):
    return keyboard.answer(["amount", *keyboard.split(words)])


def refused(words):
    return keyboard.refused(["amount", *keyboard.split(words)])


# --- the answer ---------------------------------------------------------------------------------------------


def test_a_run_with_weighings_worked_out_by_hand():
    # 121 g for 40 x 0.12 m2 x 0.35 = 1.68 m2; 60 pieces are 2.52 m2 and take 181.5 g. With 50 g on the screen and
    # 3 % of the whole in the pot that is 238.66 g; 15 % more is 274.46 g.
    facts = answer(WEIGHED)
    assert facts["grams"] == 274.5
    assert facts["lines"][0]["grams"] == 181.5
    assert facts["flags"] == []


def test_grams_come_first_in_the_words():
    told = type_in(f"{WEIGHED} --pot 100 --density 1").stdout.splitlines()
    assert told[0].startswith("Mix 274 g of ink (274 ml, 3 pots of 100 ml). That covers the run, even if a pull lays ")
    assert told[6] == "  274 g  in all"


@pytest.mark.parametrize(
    "same",
    [
        f"{WEIGHED} --mesh 77/cm --ink-volume 25",  # weighings go before figures of the mesh
        WEIGHED.replace("--motif 30x40", "--area '1200 cm2'"),
        WEIGHED.replace("--motif 30x40", "--motif '0,3 x 0.4 m'"),
        WEIGHED.replace("--coverage 35", "--coverage '35 %'"),
        WEIGHED.replace("for 40'", "for 40 of 30x40 at 35 in 1 pass'"),
        f"{USUAL} --used '170 g for 40 with the screen' --used '125 g for 40' --used '168 g for 40, with the screen'",
        f"{WEIGHED} --passes 1 --setups 1 --setup-loss 50g --rest 3 --reserve 15% --density '1,05 g/ml'",
    ],
)
def test_the_same_said_otherwise_gives_the_same(same):
    assert answer(same) == answer(WEIGHED)


def test_a_weighing_of_another_kind_of_print_counts_for_its_own_area():
    half = answer(f"{USUAL} --used '120 g for 40 of 30x40 at 35'")
    assert answer(f"{USUAL} --used '120 g for 40 of 60x40 at 17.5'") == half


def test_two_passes_and_set_ups_need_their_ink():
    once, twice = answer(f"{USUAL} --ink-volume 25"), answer(f"{USUAL} --ink-volume 25 --passes 2 --setups 3")
    grams = [[line["grams"] for line in facts["lines"]] for facts in (once, twice)]
    assert grams[1][0] == pytest.approx(2 * grams[0][0], abs=0.1)
    assert (grams[0][1], grams[1][1]) == (50, 150)


def test_figures_of_the_mesh_are_flagged():
    for mesh in ("--mesh 77/cm --thread 55", "--mesh 77-55", "--mesh 195.58/inch --thread 55"):
        told = type_in(f"{USUAL} {mesh}").stdout
        assert "cloth takes up 1.1 times that" in told
        assert "  ! Worked out from the mesh alone" in told


def test_what_is_usual_is_what_the_library_takes():
    usual = {option.name: option.default for option in amount.params}
    assert float(usual["setup_loss"]) == ink_quantity.SETUP_LOSS_G
    assert float(usual["rest"]) == 100 * ink_quantity.REST_IN_POT
    (reserve,) = [option for option in amount.params if option.name == "reserve"]
    assert f"at least {100 * ink_quantity.LEAST_RESERVE:g}]" in reserve.help
    assert float(usual["density"]) == ink_deposit.DENSITY


# --- slips of the pen ---------------------------------------------------------------------------------------

WRONG = {
    USUAL: ("It isn't known how much ink one pull lays down.", "--used '120 g for 40'"),
    "--coverage 35 --pieces 60 --ink-volume 25": ("You gave neither --motif nor --area.", "--motif 30x40"),
    f"{WEIGHED} --area 1200": ("You gave both --motif and --area.", "Give only one"),
    f"{WEIGHED} --motif 30": ("'30' can't be read as an area.", "'30 x 40 cm'"),
    f"{WEIGHED} --motif 30x40inch": ("can't be read as an area", "'30 x 40 cm'"),
    f"{WEIGHED} --coverage 0.35": ("A coverage of 0.35 % is hardly a print.", "Type it in percent: 35"),
    f"{WEIGHED} --coverage 350": ("Coverage: 350 % can't be right.", "between 1 and 100 %, such as 35"),
    f"{WEIGHED} --coverage much": ("--coverage: 'much' can't be read as a number.", "2.5 %"),
    f"{WEIGHED} --pieces sixty": ("--pieces: 'sixty' is not a whole number from 1", "whole number"),
    f"{WEIGHED} --pieces 0": ("--pieces: '0' is not a whole number from 1", "whole number, such as 60"),
    f"{WEIGHED} --passes 1.5": ("--passes: '1.5'", "whole number"),
    f"{WEIGHED} --used '120 g'": ("'120 g' can't be read as what a run used.", "'120 g for 40'"),
    f"{WEIGHED} --used '0 g for 40'": (
        "Ink used: 0 g can't be right.",
        "such as 85 if 85 g went onto the cloth",
    ),
    f"{WEIGHED} --reserve 0.15": ("Reserve: 0.15 % is hardly anything.", "15 if you mean 0.15"),
    f"{WEIGHED} --rest 80": ("Ink left in the pot: 80 % can't be right.", "between 0 and 50 %, for example 3."),
    f"{WEIGHED} --setup-loss=-5": ("--setup-loss: '-5' can't be read as a number.", "2.5 g: only digits"),
    f"{WEIGHED} --density 0": ("Density of the ink: 0 g/ml can't be right.", "1.05"),
    f"{WEIGHED} --pot 0": ("Size of a pot: 0 ml can't be right.", "500"),
    f"{USUAL} --used '40 g for 40 with the screen'": (
        "Nothing would have gone onto the cloth",
        "Say what stays on screen and squeegee with --setup-loss",
    ),
    f"{USUAL} --ink-volume '33 %'": ("--ink-volume: '33 %' can't be read as a number.", "2.5 cm³/m²"),
    f"{USUAL} --ink-volume '33 % of 7200'": ("Thickness of the mesh: 7200 µm can't be right.", "for example 72"),
    f"{USUAL} --ink-volume 2500": ("Ink volume of the mesh: 2500 cm³/m² can't be right.", "such as 24"),
    f"{USUAL} --mesh 77/cm": (
        "The thread diameter of the mesh with 77 threads/cm is missing.",
        "weigh what a run",
    ),
    f"{USUAL} --mesh 195 --thread 55": ("could be threads per cm or per inch", "195/inch"),
    f"{USUAL} --mesh fine --thread 55": ("'fine' can't be read as a mesh.", "77/cm"),
    f"{USUAL} --mesh 77-48 --ink-volume 25": ("both given", "Give only the ink volume"),
}


@pytest.mark.parametrize("words", WRONG)
def test_a_slip_is_told_in_one_sentence_with_a_remedy(words):
    problem, remedy = refused(words)
    assert WRONG[words][0] in problem
    assert WRONG[words][1] in remedy


@pytest.mark.parametrize("words", ["", "--coverage 35", "--pieces 60", "--colour red", f"{WEIGHED} more"])
def test_what_cannot_be_read_as_a_command_is_wrong_use(words):
    done = type_in(words)
    assert (done.exit_code, done.stdout) == (WRONG_USE, "")
    assert "Usage: " in done.stderr


def test_help_has_examples_that_can_be_typed():
    told = type_in("--help").stdout
    examples = [line.strip() for line in told.splitlines() if line.strip().startswith("swatchcam amount")]
    assert len(examples) == 5
    for example in examples:
        assert type_in(example.removeprefix("swatchcam amount")).exit_code == DONE


# --- whatever is typed --------------------------------------------------------------------------------------

SENSIBLE = {
    "--motif": ("30x40", "30 x 40 cm", "0.1x0.1mm"), "--area": ("1200", "0.01"), "--coverage": ("35", "100", "0.2"),
    "--pieces": ("60", "999999"), "--passes": ("2",), "--setups": ("3",),
    "--used": ("120 g for 40", "1 kg for 9 at 80", "1 kg for 9 with the screen"),
    "--ink-volume": ("25", "33 % of 72"), "--mesh": ("77/cm", "77-55", "195"),
    "--thread": ("55",), "--setup-loss": ("0", "1e5"), "--rest": ("0", "50"), "--reserve": ("200",),
    "--density": ("1.05", "9"), "--pot": ("500", "1"),
}  # fmt: skip
ODD = ("", " ", "-", "--", "-1", "nan", "inf", "1e999", "9" * 400, "½", "٣", "\u202e", "\n", "x" * 300, "%s", "{}")


@st.composite
def typed(draw):
    """Options of the command, mostly sensible, some odd."""
    characters = st.characters(exclude_characters="\0", exclude_categories=["Cs"])
    anything = st.one_of(st.sampled_from(ODD), st.text(characters, max_size=12))
    words = draw(st.sampled_from([WEIGHED, USUAL, ""])).replace("'", '"')
    given = shlex.split(words)
    for option in draw(st.lists(st.sampled_from(sorted(SENSIBLE)), max_size=5)):
        usual = st.sampled_from(SENSIBLE[option])
        given += [option, draw(st.one_of(usual, usual, anything))]
    return given + draw(st.sampled_from([[], [], ["--json"]]))


@given(typed())
@settings(max_examples=150, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_any_words_get_an_answer(words):
    done = type_in(words)
    assert done.exit_code in (DONE, WRONG_USE)
    if done.stdout.startswith("{"):
        facts = json.loads(done.stdout, parse_constant=pytest.fail)
        assert ("refused" in facts) == (done.exit_code == WRONG_USE)
    elif done.exit_code == DONE:
        assert done.stdout.startswith("Mix ")
    else:
        assert done.stderr.strip()
