"""Values of a print that was read, used for others of the same run."""

from __future__ import annotations

import numpy as np
import pytest
from click.testing import CliRunner

from swatchcam.cards.choice import choose_values
from swatchcam.cards.design import designs
from swatchcam.cards.sister import RUN_SPREAD
from swatchcam.cards.values import load_values
from swatchcam.cli import main
from swatchcam.errors import CardError
from swatchcam.messages.message import flag
from tests.codes import tells
from tests.worlds.many_printers import random_printer
from tests.worlds.printers import print_card, write_values
from tests.worlds.spectra import difference

READ, SISTER, OTHER = "04821093", "04821094", "00000007"
LIGHT = "D65", 10


@pytest.fixture
def halm(own_folder, nominal_a6):
    own_folder.mkdir()
    return write_values(own_folder / "halm.csv", "a6", nominal_a6)


@pytest.fixture(scope="module")
def nominal_a6():
    return choose_values(designs()["a6"], "nominal", *LIGHT).lab


def use(*words):
    result = CliRunner().invoke(main, ["card", "use", *words])
    assert result.exit_code == 0, result.output
    return result.output


def test_a_sister_has_the_values_and_is_less_sure(halm):
    use("halm", "--print", READ)
    assert "0482 1094" in use("halm", "--print", SISTER, "--sister")
    read, sister = (choose_values(designs()["a6"], None, *LIGHT, number) for number in (READ, SISTER))
    assert (read.grade, sister.grade) == ("measured", "sister")
    assert sister.lab == read.lab
    assert sister.uncertainty == pytest.approx(np.hypot(read.uncertainty, RUN_SPREAD))
    assert flag("card-of-sister", number="0482 1094", values="halm") in sister.flags
    assert choose_values(designs()["a6"], "halm", *LIGHT, SISTER) == sister  # named, it is the same


def test_sisters_are_added_and_a_print_of_its_own_is_none(halm):
    use("halm", "--print", SISTER, "--sister")
    use("halm", "--print", OTHER, "--sister")
    assert load_values(halm).sisters == (SISTER, OTHER)
    use("halm", "--print", OTHER)
    assert (load_values(halm).sisters, load_values(halm).numbers) == ((SISTER,), (OTHER,))


def test_a_sister_that_is_read_later_has_its_own_values(halm, nominal_a6):
    use("halm", "--print", SISTER, "--sister")
    write_values(halm.with_name("brix.csv"), "a6", nominal_a6)
    assert "Until now they were measured with halm" in use("brix", "--print", SISTER)
    assert load_values(halm).sisters == ()
    assert choose_values(designs()["a6"], None, *LIGHT, SISTER).name == "brix"


def test_a_number_that_no_sister_has_is_told(halm):
    halm.write_text(halm.read_text(encoding="utf-8").replace("# design", "# sister: 12\n# design"), encoding="utf-8")
    with pytest.raises(CardError) as caught:
        load_values(halm)
    assert tells(caught.value, "print-numbers-unreadable", value="12")


def test_a_sister_needs_its_number(halm):
    result = CliRunner().invoke(main, ["card", "use", "halm", "--sister"])
    assert result.exit_code == 2
    assert "number" in result.stderr


def test_the_spread_of_a_run_is_that_of_drawn_runs():
    off = []
    for number in range(8):
        printer = random_printer(np.random.default_rng([18, number]), "build")
        one, other = (print_card(designs()["a6"], printer, seed, printer.drift).true_lab() for seed in (1, 2))
        off += [float(difference(one[name], other[name])) for name in one]
    assert 0.5 * RUN_SPREAD < np.sqrt(np.mean(np.square(off))) < RUN_SPREAD
