"""A spectrophotometer's readings of one card -> a values file in the user's folder.

Nothing is written unless every patch of the design is there once, readable and possible; all that is wrong is
told at once.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Unpack

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import white_point, xyz_to_lab
from ..colorimetry.colour_difference import delta_e_2000
from ..errors import CardError
from ..messages.message import Message, finding
from ..resources import calibration_folder, user_folder
from .design import CardDesign
from .instrument_readings import Readings
from .map_order import as_on_card, check_order, map_order, missing_together, numbers_that_do_not_fit, read_again
from .print_number import parse_number, spoken
from .reading_settings import Settings, header_of
from .validation import PAPER, check_lab, check_names, check_spectrum, number
from .values import CardValues, load_values, spectra_to_lab
from .values_file import Sheet, header_in, numbers_in, sheet_of, sheet_text, write_sheet
from .values_folder import NOMINAL, is_edition, values_of_print

LARGEST_SPREAD = 3.0  # CIEDE2000 between a reading and the patch's mean: more is a slip, not scatter
LARGEST_DISAGREEMENT = 1.0  # Euclidean CIELAB between a file's spectra and its own Lab; summing differs by 0.3


def import_values(
    readings: Readings,
    design: CardDesign,
    *,
    name: str,
    average: bool = False,
    numbers: Sequence[str] = (),
    replace: bool = False,
    **settings: Unpack[Settings],
) -> CardValues:
    """Check the readings against the design and write them to the user's folder as the values of one card.

    Parameters
    ----------
    name : of the card; becomes the file's name
    average : several readings of a patch are averaged (spectra and XYZ as light, Lab as it is); what remains of
        their spread is added to the uncertainty
    numbers : of the prints that have these values, as they were typed
    replace : values of this name may be there already; they are kept in the folder `replaced`
    settings : how it was read, where the file does not say it

    Raises
    ------
    CardError
        Anything is missing, doubled, misspelt or impossible; nothing is written then.
    """
    header, problems = header_of(readings.said, settings, design.name, bool(readings.spectra))
    target = user_folder() / f"{name}.csv"
    header |= {"print": ", ".join(map(parse_number, numbers))} if numbers else {}
    problems = [*check_card_name(name, target, replace), *check_claims(name, header), *problems, *readings.problems]
    all_names = [*readings.names, *readings.unreadable]
    patches, numbered = as_on_card(all_names, design)
    names = [patches[name] for name in readings.names]
    problems += _check_patches(all_names, patches, numbered, design)
    problems += [] if average else read_again([patches[name] for name in all_names])
    check = check_spectrum if readings.spectra else check_lab
    for own, row in zip(names, readings.spectra or readings.lab, strict=False):
        problems += check(own, row)
    sheet = Sheet(header, wavelengths=readings.wavelengths)
    if not problems:
        # Read back before it is written: what is rounded or spelt oddly must not become a file that is refused.
        problems = _fill(sheet, readings, names, design) or sheet_of(sheet_text(sheet)).problems
        if numbered and not problems:
            problems = check_order(sheet.lab, design, (header["illuminant"], int(header["observer"])))
    if problems:
        raise CardError("readings-not-imported", "correct-or-read-again", path=readings.path, problems=problems)
    write_sheet(target, sheet)
    return load_values(target, header["illuminant"], int(header["observer"]))


def check_card_name(name: str, target: Path, replace: bool) -> list[Message]:
    """A finding if values cannot be kept under a name: an impossible one, or one that is taken already."""
    if not re.fullmatch(r"[\w][\w .-]{0,63}", name) or name.endswith((" ", ".")):
        return [finding("card-name-unusable", name=name)]
    if target.with_suffix(".toml").exists():
        return [finding("card-name-of-design", name=name)]
    if name.casefold() in {NOMINAL, *(path.stem.casefold() for path in calibration_folder().glob("*.*"))}:
        return [finding("card-name-of-tool", name=name)]
    if target.exists() and not replace:
        return [finding("card-name-taken", name=name)]
    return []


def check_claims(name: str, header: Mapping[str, str]) -> list[Message]:
    """A finding for each print of a values file that was read before; what its first photo made of it gives way."""
    others = {number: values_of_print(number) for number in numbers_in(header)}
    return [
        finding("print-has-values", number=spoken(number), name=other.stem)
        for number, other in others.items()
        if other and other.stem != name and number in numbers_in(header_in(other)) and not is_edition(other, number)
    ]


def _check_patches(names: Sequence[str], patches: dict[str, str], numbered: bool, design: CardDesign) -> list[Message]:
    """A finding for each patch that is not there, or is none of the card's; all that are missing in one if many are."""
    if numbered:
        return numbers_that_do_not_fit(patches, design)
    if not set(map_order(design)) & set(patches.values()):
        return [finding("no-patch-of-design", design=design.name, paper=PAPER, names=list(names[:3]))]
    return missing_together(check_names(dict.fromkeys(patches.values()), design))


def _fill(sheet: Sheet, readings: Readings, names: list[str], design: CardDesign) -> list[Message]:
    """Put the colours of all patches into the sheet, in the design's order; a finding for each impossible one."""
    light = sheet.header["illuminant"], int(sheet.header["observer"])
    rows = {name: [i for i, own in enumerate(names) if own == name] for name in map_order(design)}
    numbers = np.array(readings.spectra or readings.lab or readings.xyz)
    means = np.array([numbers[indices].mean(axis=0) for indices in rows.values()])
    single, mean = lab_of(readings, numbers, light), lab_of(readings, means, light)
    told = readings.lab and not readings.spectra
    problems = [] if told else [found for i, name in enumerate(names) for found in check_lab(name, single[i])]
    spread = {
        name: np.asarray(delta_e_2000(single[indices], mean[[place]]))
        for place, (name, indices) in enumerate(rows.items())
    }
    problems += [
        finding("readings-far-apart", patch=name, apart=apart.max())
        for name, apart in spread.items()
        if apart.max() > LARGEST_SPREAD
    ]
    sheet.lab = {name: (float(lab[0]), float(lab[1]), float(lab[2])) for name, lab in zip(rows, mean, strict=True)}
    if readings.spectra:
        sheet.spectra = {name: tuple(map(float, row)) for name, row in zip(rows, means, strict=True)}
        problems += _check_agreement(readings, names)
    scatter = _standard_error(list(spread.values()))
    sheet.header["uncertainty"] = f"{math.hypot(number(sheet.header['uncertainty']), scatter):.3g}"
    return problems


def lab_of(readings: Readings, numbers: Array, light: tuple[str, int]) -> Array:
    """(n, 3) CIELAB of rows of the kind that the readings are: spectra, Lab or XYZ."""
    if readings.spectra:
        return spectra_to_lab(readings.wavelengths, numbers, *light)
    return numbers if readings.lab else xyz_to_lab(numbers, white_point(*light))


def _standard_error(spread: list[Array]) -> float:
    """1-sigma CIEDE2000 of a patch's mean that the scatter of its readings leaves; 0 for single readings.

    The scatter of one reading is pooled over all patches, because two or three readings tell little by themselves.
    """
    freedom = sum(len(apart) - 1 for apart in spread)
    if not freedom:
        return 0.0
    variance = sum(float((apart**2).sum()) for apart in spread) / freedom
    return math.sqrt(variance * float(np.mean([1 / len(apart) for apart in spread])))


def _check_agreement(readings: Readings, names: list[str]) -> list[Message]:
    """A finding if the file's own Lab is not what its spectra give; only where the file says for which light."""
    if not (readings.lab and readings.illuminant and readings.observer):
        return []
    own = spectra_to_lab(readings.wavelengths, readings.spectra, readings.illuminant, readings.observer)
    apart = np.linalg.norm(own - np.array(readings.lab), axis=1)
    if apart.max() <= LARGEST_DISAGREEMENT:
        return []
    worst = names[int(apart.argmax())]
    return [finding("lab-contradicts-spectra", patch=worst, apart=apart.max())]
