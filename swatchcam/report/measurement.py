"""Result -> one dict -> text or JSON. The dict is the documented face of the tool: units and flags inside."""

from __future__ import annotations

import numpy as np

from ..colorimetry.cielab import lab_to_lch
from ..colorimetry.srgb import lab_to_srgb
from ..library.records import HEAT_SET
from ..measurement.check import Check
from ..measurement.combine_photos import combine
from ..measurement.error_budget import Colour
from ..measurement.measure import Measurement
from ..measurement.metamerism import TESTS, DifferenceUnder, Metamerism, metamerism, sentence
from ..measurement.pot_verdict import POT, STRIPS, PotVerdict
from ..measurement.single_photo import Look
from ..measurement.verdict import Difference, Outcome, Verdict
from ..recipes.safety import HEAT, care_lines
from .json_types.colours import FORMAT, LabJson
from .json_types.measuring import (
    CheckJson,
    DifferenceJson,
    MeasurementJson,
    MetamerismJson,
    QualityJson,
    RecalledJson,
    SeenJson,
    StatesJson,
    StripJson,
    UsedRowJson,
)
from .pots import pots_dict
from .said import flag_dicts

GRADE_WORDS = {
    "measured": "card values measured with an instrument",
    "transferred": "card values transferred from a measured card",
    "sister": "card values from a sister print",
    "profile": "card values from an ICC profile",
    "photographed": "never measured",
    "nominal": "never measured",
}

WHY = {
    Outcome.SAME: "the difference is certainly within your tolerance of {tolerance:g}",
    Outcome.DIFFERENT: "the difference is certainly beyond your tolerance of {tolerance:g}",
    Outcome.TOO_CLOSE: "your tolerance of {tolerance:g} lies inside the interval",
}


def measurement_dict(measurement: Measurement) -> MeasurementJson:
    """A measurement as plain numbers and words, ready for JSON."""
    values = measurement.values
    used = _used(measurement)
    alone = _radii_of_first_photo(measurement)
    return {
        "format": FORMAT,
        "photo": {
            "path": measurement.photo.path,
            "sha256": measurement.photo.digest,
            "colour_space": measurement.photo.colour_space,
            "taken": measurement.photo.taken,
        },
        "photos": [
            {"path": look.photo.path, "sha256": look.photo.digest, "light": light if look in used else None}
            for look, light in zip(measurement.looks, measurement.lights, strict=True)
        ],
        "card": {
            "design": measurement.pose.design.name,
            "number": measurement.looks[0].number,
            "values": values.name,
            "grade": values.grade,
            "date": values.date,
            "source": values.source,
            "uncertainty_ciede2000": values.uncertainty,
        },
        "row": _row_dict(measurement, used),
        "conditions": {"illuminant": values.illuminant, "observer_deg": values.observer, "space": "CIELAB"},
        "absolute_values_may_be_judged": values.absolute,
        "strips": [strip_dict(colour, radius) for colour, radius in zip(measurement.colours, alone, strict=True)],
        "quality": _quality_dict(measurement),
        "flags": flag_dicts(measurement.flags),
    }


def _quality_dict(measurement: Measurement) -> QualityJson:
    pose, light, fit = measurement.pose, measurement.light, measurement.balance
    return {
        "px_per_mm": round(pose.px_per_mm, 2),
        "tilt_deg": round(float(np.degrees(np.arccos(min(pose.foreshortening, 1.0)))), 1),
        "blur_mm": round(pose.blur_mm, 3),
        "tags_missing": list(pose.missing),
        "light_fall": round(light.fall, 3),
        "white_residual_percent": round(100 * light.white_residual, 2),
        "grey_spread_L": round(light.grey_spread, 2),
        "fit_leave_one_out_ciede2000": round(fit.rms, 2),
        "patches_used": len(fit.left_out),
        "patches_unused": dict(fit.unused),
    }


def _used(measurement: Measurement) -> list[Look]:
    """The photos that the colours rest on; one that the others contradict was left out."""
    kept = {view.photo for view in measurement.colours[0].views}
    return [look for look in measurement.looks if look.photo.digest in kept]


def _radii_of_first_photo(measurement: Measurement) -> list[float | None]:
    """What each colour's interval would be without the further photos; None where there are none."""
    if len(measurement.looks) == 1:
        return [None] * len(measurement.colours)
    colours, _ = combine([measurement.looks[:1]], measurement.row)
    return [colour.radius for colour in colours]


def _row_dict(measurement: Measurement, used: list[Look]) -> UsedRowJson | None:
    row = measurement.row
    if row is None:
        return None
    doubt, seen = row.uncertainty, all(look.anchors for look in used)
    return {"name": row.name, "grade": row.grade, "uncertainty_ciede2000": doubt, "seen": seen}


def strip_dict(colour: Colour, alone: float | None = None) -> StripJson:
    """One strip as plain numbers: CIELAB units, degrees, mm²; `alone` is its interval from the first photo only."""
    balance = colour.balance
    return {
        "name": colour.name,
        **lab_dict(colour.lab, balance.illuminant, balance.observer, colour.radius),
        "interval95_first_photo_ciede2000": None if alone is None else round(alone, 2),
        "standard_uncertainty_lab": [round(float(v), 3) for v in np.sqrt(np.diag(colour.covariance))],
        "error_parts_lab": {
            part: round(float(np.sqrt(np.trace(covariance))), 3) for part, covariance in colour.parts.items()
        },
        "area_mm2": round(colour.strip.area_mm2),
        "unevenness_L": round(colour.strip.uneven, 2),
        "flags": flag_dicts(colour.strip.flags),
    }


def lab_dict(lab: tuple[float, float, float], illuminant: str, observer: int, radius: float) -> LabJson:
    """A CIELAB with its 95 % interval, as plain numbers and as a screen shows it."""
    _, chroma, hue = (float(v) for v in lab_to_lch(np.array(lab)))
    rgb, inside = lab_to_srgb(np.array(lab), illuminant, observer)
    return {
        "L": round(lab[0], 2),
        "a": round(lab[1], 2),
        "b": round(lab[2], 2),
        "C": round(chroma, 2),
        "h_deg": round(hue, 1),
        "interval95_ciede2000": round(radius, 2),
        "srgb_approx": "#" + "".join(f"{round(255 * float(v)):02x}" for v in rgb),
        "srgb_in_gamut": bool(inside),
    }


def difference_dict(difference: Difference) -> DifferenceJson:
    """A difference as plain numbers: sample minus reference."""
    return {
        "sample": difference.sample,
        "reference": difference.reference,
        "ciede2000": round(difference.delta_e, 2),
        "interval95": [round(difference.low, 2), round(difference.high, 2)],
        "delta_L": round(difference.delta_l, 2),
        "delta_C": round(difference.delta_c, 2),
        "delta_H": round(difference.delta_h, 2),
        "cmc_2_1": round(difference.delta_e_cmc, 2),
        "words": list(difference.words),
    }


def metamerism_dict(found: Metamerism, tolerance: float) -> MetamerismJson:
    """Metamerism as plain numbers: CIEDE2000, illuminant by illuminant."""
    guess = "" if found.told else "A guess from one light: "
    return {
        "told": found.told,
        "sentence": guess + sentence(found, tolerance),
        "lights": [{"illuminant": light, **_seen_dict(seen)} for light, seen in found.under.items()],
        "special_index": [{"from": "D65", "to": light, **_seen_dict(found.index[light])} for light in TESTS],
    }


def _seen_dict(seen: DifferenceUnder) -> SeenJson:
    return {
        "ciede2000": round(seen.delta_e, 2),
        "interval95": [round(seen.low, 2), round(seen.high, 2)],
        "standard_uncertainty": round(seen.std, 2),
    }


def check_dict(
    check: Check, recalled: RecalledJson | None = None, judge: str = STRIPS, states: StatesJson | None = None
) -> CheckJson:
    """A check as one object: the verdict first, then all it rests on.

    `recalled` and `states` are what the library gave to it, `judge` whether the strips' verdict counts or the pot's.
    """
    metamers = metamerism(*check.pair) if check.pair else None
    other = measurement_dict(check.reference) if check.reference else None
    sample = measurement_dict(check.sample)
    return verdict_dict(check.verdict, metamers, sample, other, recalled, check.pots, judge, states)


def verdict_dict(
    verdict: Verdict,
    metamers: Metamerism | None,
    sample_photo: MeasurementJson,
    reference_photo: MeasurementJson | None = None,
    recalled: RecalledJson | None = None,
    pots: PotVerdict | None = None,
    judge: str = STRIPS,
    states: StatesJson | None = None,
) -> CheckJson:
    """The same of photos that were measured before, each a `measurement_dict`."""
    return {
        "format": FORMAT,
        "verdict": verdict.outcome.value,
        "tolerance": verdict.tolerance,
        "sentence": verdict_words(verdict),
        "judged": "pot" if pots and judge == POT else "strips",
        "pots": pots_dict(pots) if pots else None,
        "difference": difference_dict(verdict.difference),
        "metamerism": None if metamers is None else metamerism_dict(metamers, verdict.tolerance),
        "sample_photo": sample_photo,
        "reference_photo": reference_photo,
        "recalled": recalled,
        "states": states,
        "care": list(care_lines([HEAT])) if _predicts_heat(states) else [],
    }


def _predicts_heat(states: StatesJson | None) -> bool:
    """Whether the strip is yet to be heat-set."""
    return states is not None and (states["carried_over"], states["compared_in"]) == ("strip", HEAT_SET)


def verdict_words(verdict: Verdict) -> str:
    """What the terminal says of a verdict."""
    return f"{verdict.outcome.capitalize()}: {WHY[verdict.outcome].format(tolerance=verdict.tolerance)}."
