"""Rows of an instrument's table -> patches of the card: by their names, or numbered in the order of the card's map."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from ..colorimetry.cielab import Lab
from ..colorimetry.colour_difference import delta_e_2000
from ..messages.message import Message, finding
from .design import CardDesign
from .validation import PAPER
from .values import nominal_values

PAPER_WORDS = ("papier", "papel", "carta")  # the bare stock in the other languages that names are read in
MANY = 3  # more patches than this that are missing get one line together
# CIEDE2000 of one patch from the colour sent. The drawn printers reach 32; rows read in another order reach 70 or more.
LARGEST_OFF = 50.0


def map_order(design: CardDesign) -> list[str]:
    """Every patch in the order in which the card's map says to read them; the bare stock is last."""
    return [*(patch.name for patch in design.patches), PAPER]


def as_on_card(names: Sequence[str], design: CardDesign) -> tuple[dict[str, str], bool]:
    """For each name in a file the card's own spelling, and whether the rows are only numbered.

    Numbers count in the order of the card's map, from 1, with the same words before each (`Sample 1`) or none; a
    name or a number that the card hasn't stays as it is.
    """
    order = map_order(design)
    own = dict.fromkeys(PAPER_WORDS, PAPER) | {name.casefold(): name for name in order}
    numbers = {} if any(name.casefold() in own for name in names) else _numbers(names)
    if numbers:
        return {name: dict(enumerate(order, 1)).get(number, name) for name, number in numbers.items()}, True
    return {name: name if name in order else own.get(name.casefold(), name) for name in names}, False


def _numbers(names: Sequence[str]) -> dict[str, int]:
    """The number of each name, if all are numbers with the same words before them."""
    matches = {name: re.fullmatch(r"(\D*?)\s*0*(\d{1,4})", name, re.ASCII) for name in names}
    found = {name: (match[1], int(match[2])) for name, match in matches.items() if match}
    alike = len(found) == len(matches) and len({before for before, _ in found.values()}) == 1
    return {name: number for name, (_, number) in found.items()} if alike else {}


def numbers_that_do_not_fit(patches: Mapping[str, str], design: CardDesign) -> list[Message]:
    """A finding if numbered rows are not exactly those of the card's map."""
    order = map_order(design)
    missing = [f"{order.index(name) + 1} ({name})" for name in order if name not in patches.values()]
    beyond = [name for name, patch in patches.items() if patch not in order]
    facts = {"design": design.name, "first": order[0], "count": len(order), "missing": missing, "beyond": beyond}
    return [finding("numbers-do-not-fit", **facts)] if missing or beyond else []


def check_order(colours: Mapping[str, Lab], design: CardDesign, light: tuple[str, int]) -> list[Message]:
    """A finding if numbered rows can't have been read in the order of the card's map: the colours are too far off."""
    order = map_order(design)
    read = np.array([colours[name] for name in order])
    sent = np.array(list(nominal_values(design, *light).lab.values()))
    off = np.asarray(delta_e_2000(read, sent))
    if off.max() <= LARGEST_OFF:
        return []
    # With the bare stock read first, each row belongs to the patch before.
    paper_first = float(np.max(delta_e_2000(np.roll(read, -1, axis=0), sent))) <= LARGEST_OFF
    row = int(off.argmax())
    return [finding("order-unlike-card", row=row + 1, patch=order[row], paper_first=paper_first)]


def missing_together(problems: Sequence[Message]) -> list[Message]:
    """The same findings, but one for all patches that are missing if these are many."""
    missing = [own for own in problems if own.code == "patch-missing"]
    if len(missing) <= MANY:
        return list(problems)
    others = [own for own in problems if own not in missing]
    return [*others, finding("patches-missing", patches=[own.facts["patch"] for own in missing])]


def read_again(names: Sequence[str]) -> list[Message]:
    """A finding for the patches that are there several times, all in one."""
    times = {name: names.count(name) for name in dict.fromkeys(names) if names.count(name) > 1}
    if not times:
        return []
    return [finding("patches-read-again", patches=list(times), times=sorted(set(times.values())))]
