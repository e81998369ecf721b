"""Printers drawn at random print what a printer prints, and those of the two splits are of different kinds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swatchcam.cards.design import designs
from tests.worlds.many_printers import COVERS, KINDS, NODES, Engine, even_spread, from_nominal, random_printer
from tests.worlds.printers import BUILD_PRINTERS, print_card
from tests.worlds.spectra import difference

DESIGN = designs()["a5"]
EVERY = [(split, kind) for split, kinds in KINDS.items() for kind in kinds]


@pytest.fixture(scope="module", params=EVERY, ids=" ".join)
def printer(request):
    return random_printer(np.random.default_rng([18, EVERY.index(request.param)]), *request.param)


def test_a_print_reflects_what_a_surface_can(printer):
    spectra = np.array(list(print_card(DESIGN, printer, 1, printer.drift).spectra.values()))
    assert spectra.min() > 0
    assert spectra.max() < 1.03  # a little more than all, by the brightener


def test_greys_are_in_order_and_colours_in_plenty(printer):
    lab = print_card(DESIGN, printer).true_lab()
    greys = [lab[name][0] for name in ("L1", "L5", "L3", "L7", "L2", "L6", "L4")]
    assert (np.diff(greys) < 0).all()
    assert max(np.hypot(*each[1:]) for each in lab.values()) > 35


def test_two_prints_of_a_printer_are_more_alike_than_two_printers(printer):
    other = print_card(DESIGN, BUILD_PRINTERS["inkjet"])
    one, again, different = (
        np.array(list(card.true_lab().values()))
        for card in (print_card(DESIGN, printer, 1, 0.02), print_card(DESIGN, printer, 2, 0.02), other)
    )
    assert 0 < difference(one, again).mean() < 0.5 * difference(one, different).mean()


def test_a_screen_without_spread_mixes_as_neugebauer_has_it():
    """Source: Yule & Nielsen 1951; the printers of the scenes are an own program for the same."""
    machine = BUILD_PRINTERS["inkjet"]
    inks = np.array([machine.cyan, machine.magenta, machine.yellow, machine.black])
    engine = Engine(machine.paper, inks, np.array(4 * [even_spread(machine.gain)]), machine.n, machine.surface)
    covers = np.array([0.4, 0.2, 0.6, 0.1])
    knots = COVERS[[8, 4, 12, 2]]
    assert knots == pytest.approx(covers)
    assert engine.reflect(covers[None])[0] == pytest.approx(machine._halftone(covers))


def test_solid_dye_takes_its_absorbance_from_the_light():
    rng = np.random.default_rng(3)
    engine = replace(random_printer(rng, "final", "dyes").engine, surface=0.0)
    engine = replace(engine, spread=np.array(4 * [COVERS]))
    assert engine.reflect(np.eye(4))[1] == pytest.approx(engine.paper * 10 ** -engine.inks[1])


def test_a_driver_that_looks_up_every_colour_prints_codes_as_they_are_meant():
    """Inside what it can print, at the nodes of its table; its own engine, its own paper."""
    printer = random_printer(np.random.default_rng(4), "build", "photo")
    driver = replace(
        printer.driver, faithful=1.0, tone=1.0, chroma=1.0, hue=(0.0,) * 4, cast=(0.0, 0.0), engine=printer.engine
    )
    codes = NODES[[[3, 3, 3], [4, 3, 2], [3, 4, 4], [5, 5, 4]]]
    assert difference(printer.engine.lab(driver.amounts(codes)), driver.rendered(codes)).max() < 0.5


def test_prints_are_far_from_the_codes_sent(printer):
    off, greys, _ = from_nominal(print_card(DESIGN, printer))
    assert 3 < off < 25
    assert greys < 25
