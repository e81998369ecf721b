"""An amount, a list to weigh, whether an ink is opaque -> one dict -> text: what is put out around a pot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate, pairwise

from ..library.records import Batch
from ..library.shelf.prices import Cost
from ..measurement.stored_colour import Kept
from ..messages.shelf import cost_words
from ..mixing.opacity import Contrast, Opacity
from ..recipes.ink_quantity import Amount
from ..recipes.parser import DROPS
from ..recipes.recipe import BINDER, CLEAR_BASE, called
from ..recipes.safety import DISPOSAL, INK, care_lines
from ..recipes.scale_resolution import as_read
from ..recipes.weighing_list import Way, WeighingList, WeighingStep
from ..text import counted
from .cautions import care_text
from .json_types.colours import FORMAT
from .json_types.weighing import AmountJson, ContrastJson, OpacityJson, RunCostJson, StepJson, WeighingJson
from .measurement import lab_dict
from .mixing_sentences import opacity_words
from .said import flag_dicts, flag_lines

MUCH = 100.0  # g, from which whole grams are enough to read


def amount_dict(amount: Amount, cost: tuple[Batch, Cost] | None = None) -> AmountJson:
    """How much to mix: the sum first, then what it is made of; the lines add up as they are rounded.

    `cost` is what it costs by the recipe of a batch.
    """
    laid = amount.laid
    return {
        "format": FORMAT,
        "grams": round(amount.grams, 1),
        "covers_grams_per_m2": round(amount.covers, 1),
        "grams_range": [round(amount.low, 1), round(amount.high, 1)],
        "millilitres": round(amount.millilitres, 1),
        "pots": amount.pots,
        "pot_millilitres": amount.pot_ml,
        "laid_grams_per_m2": {
            "value": round(laid.best, 1),
            "range": [round(laid.low, 1), round(laid.high, 1)],
            "words": laid.words,
        },
        "lines": [
            {"grams": grams, "words": line.words}
            for grams, line in zip(adding_up([line.grams for line in amount.lines], 1), amount.lines, strict=True)
        ],
        "cost": _cost_dict(*cost) if cost else None,
        "flags": flag_dicts(amount.flags),
        "care": list(care_lines({INK, DISPOSAL})),
    }


def _cost_dict(batch: Batch, cost: Cost) -> RunCostJson:
    price = None if cost.total is None else round(cost.total, 2)
    words = " ".join(cost_words(None, unpriced=cost.unpriced))
    if price is not None:
        words = f"The ink costs about {price:.2f}, going by the recipe of batch {batch.name}."
    return {
        "shade": batch.shade,
        "batch": batch.name,
        "price": price,
        "without_price": list(cost.unpriced),
        "words": words,
    }


def amount_text(facts: AmountJson) -> str:
    """What `swatchcam amount` prints, from `amount_dict`."""
    digits = 0 if facts["grams"] >= MUCH else 1
    grams = adding_up([line["grams"] for line in facts["lines"]], digits)
    whole = f"{sum(grams):.{digits}f}"
    pots = f", {counted(facts['pots'], 'pot')} of {facts['pot_millilitres']:g} ml" if facts["pots"] else ""
    lines = [f"Mix {whole} g of ink ({facts['millilitres']:.{digits}f} ml{pots}). {covered(facts)}", ""]
    lines += [
        f"  {each:{len(whole)}.{digits}f} g  {line['words']}" for each, line in zip(grams, facts["lines"], strict=True)
    ]
    lines += [
        f"  {whole} g  in all",
        "",
        f"  {facts['laid_grams_per_m2']['words']}",
    ]
    lines += ["", facts["cost"]["words"]] if facts["cost"] else []
    return "\n".join([*lines, *flag_lines(facts["flags"]), "", care_text(facts["care"])])


def covered(facts: AmountJson) -> str:
    """What the amount of `amount_dict` covers, in words."""
    likely, most = (f"{laid:.0f}" for laid in (facts["laid_grams_per_m2"]["value"], facts["covers_grams_per_m2"]))
    if most == likely:
        return f"That covers the run as long as a pull lays no more than {likely} g/m²."
    return f"That covers the run, even if a pull lays {most} g/m² instead of {likely}."


def weighing_dict(found: WeighingList) -> WeighingJson:
    """What to weigh and to count, in order, and what will be in the pot."""
    recipe = found.recipe
    return {
        "format": FORMAT,
        "steps": [_step_dict(number, step) for number, step in enumerate(found.steps, start=1)],
        "grams": round(recipe.grams, 4),
        "pot": [
            {
                "what": called(part.what),
                "grams": round(part.grams, 4),
                "percent": round(100 * part.grams / recipe.grams, 4),
            }
            for part in recipe.parts
        ],
        # Programs written for earlier versions look for these.
        "rounding_percent": {part.what: 0.0 for part in recipe.parts if part.what != BINDER},
        "notes": [],
    }


def _step_dict(number: int, step: WeighingStep) -> StepJson:
    dose, making = step.dose, step.making
    counted_in = dose is not None and dose.unit == DROPS
    return {
        "step": number,
        "way": str(step.way),
        "what": called(dose.what) if dose else making.made.pigment if making else "",
        "grams": dose.amount if dose and not counted_in else 0.0,
        "drops": round(dose.amount) if dose and counted_in else None,
        "pre_mix": dose.pre_mix.name if dose and dose.pre_mix else making.made.name if making else None,
        "pigment_grams": round(dose.pigment_g, 5) if dose and dose.what != BINDER else None,
        "make": None
        if making is None
        else {"of": making.of.name if making.of else making.made.pigment, "grams": making.ink_g,
              "clear_base_grams": making.binder_g},
        "words": step.words,
    }  # fmt: skip


def weighing_text(facts: WeighingJson, first: Sequence[str] = (), scale_g: float = 1e-4, new: bool = False) -> str:
    """The list as it hangs beside the scale, from `weighing_dict`.

    Parameters
    ----------
    first : what is done before anything goes into the pot, and after pre-mixes are made
    new : whether it makes a new pot, even one without clear base, such as of pre-mixes alone
    """
    made = [step["words"] for step in facts["steps"] if step.get("way") == Way.MAKE]
    steps = [*made, *first, *(step["words"] for step in facts["steps"] if step.get("way") != Way.MAKE)]
    width = len(str(len(steps)))
    lines = [f"{number:{width}}. {words}" for number, words in enumerate(steps, start=1)]
    whole = new or any(step["what"] == CLEAR_BASE for step in facts["steps"])
    return "\n".join([*lines, f"{'In the pot' if whole else 'Added in all'}: {as_read(facts['grams'], scale_g)} g."])


def opacity_dict(found: Opacity, colours: Mapping[str, tuple[str, Kept]]) -> OpacityJson:
    """Whether an ink is opaque.

    Parameters
    ----------
    colours : "over_light", "over_dark", and "light_cloth" and "dark_cloth" where they were measured -> what it is
        called, and its colour
    """
    passes = {1: found.contrast} | found.passes
    return {
        "format": FORMAT,
        "verdict": str(found.outcome),
        "sentence": opacity_words(found),
        "asked_for": found.criterion,
        "passes": [
            {"passes": count, "measured": count == 1, **_contrast_dict(contrast)} for count, contrast in passes.items()
        ],
        "measured": {
            place: {"what": what, **lab_dict(kept.lab, kept.illuminant, kept.observer, kept.radius)}
            for place, (what, kept) in colours.items()
        },
        "flags": flag_dicts(found.flags),
    }


def opacity_text(facts: OpacityJson) -> str:
    """What `swatchcam opacity` prints, from `opacity_dict`."""
    lines = [facts["sentence"], ""]
    for each in facts["passes"]:
        low, high = each["interval95"]
        lines.append(
            f"  {counted(each['passes'], 'pass', 'passes'):<8}  contrast ratio {each['contrast_ratio']:.3f}"
            f"  (95 % interval {low:.3f} to {high:.3f}){'' if each['measured'] else ', predicted'}"
        )
    lines += [""]
    for place, colour in facts["measured"].items():
        lines.append(
            f"  {place.replace('_', ' '):<11}  L* {colour['L']:6.2f}  a* {colour['a']:7.2f}  b* {colour['b']:7.2f}"
            f"   ±{colour['interval95_ciede2000']:.2f} CIEDE2000   {colour['what']}"
        )
    return "\n".join([*lines, *flag_lines(facts["flags"])])


def adding_up(values: Sequence[float], digits: int) -> list[float]:
    """The values rounded so that they add up to their rounded sum: what one loses, the next gains."""
    sums = [0.0, *(round(total, digits) for total in accumulate(values))]
    return [round(after - before, digits) for before, after in pairwise(sums)]


def _contrast_dict(contrast: Contrast) -> ContrastJson:
    return {
        "contrast_ratio": round(contrast.value, 4),
        "interval95": [round(contrast.low, 4), round(contrast.high, 4)],
    }
