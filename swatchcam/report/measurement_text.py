"""What `swatchcam measure` and `swatchcam check` print for a person, from the dicts of `report.measurement`."""

from __future__ import annotations

from ..cards.print_number import spoken
from ..cards.values import PHOTOGRAPHED
from ..recipes.safety import HEAT
from .cautions import care_text
from .json_types.measuring import (
    CheckJson,
    DifferenceJson,
    MeasurementJson,
    RecalledJson,
    StatesJson,
    StripJson,
    UsedRowJson,
)
from .measurement import GRADE_WORDS
from .pots import films_sentence
from .said import flag_lines


def measurement_text(result: MeasurementJson) -> str:
    """What `swatchcam measure` prints, from `measurement_dict`."""
    lines = [_conditions_line(result), ""]
    for colour in result["strips"]:
        lines += [_colour_line(colour), *flag_lines(colour["flags"], "      ")]
    lines += [f"  {line}" for line in (*_together_lines(result), *_row_lines(result["row"]))]
    lines += flag_lines(result["flags"])
    return "\n".join(lines)


def check_text(result: CheckJson, numbers: bool = True) -> str:
    """What `swatchcam check` prints, from `check_dict`: the verdict, and all `numbers` if they are wanted."""
    difference, metamers = result["difference"], result["metamerism"]
    low, high = difference["interval95"]
    words = ", ".join(difference["words"])
    lines = [
        *_first_lines(result),
        "",
        f"  {_sides(result)}: CIEDE2000 {difference['ciede2000']:.2f}  (95 % interval {low:.2f} to {high:.2f})",
        f"  {f'the sample is {words}' if words else 'no clear direction'}{_deltas(difference) if numbers else ''}",
        *([f"  CMC(2:1) {difference['cmc_2_1']:.2f}"] if numbers else []),
        *_pot_lines(result, numbers),
        *([f"  {metamers['sentence']}"] if metamers and metamers["told"] else []),
        *(f"  {line}" for line in _recalled_lines(result["recalled"], result["states"], numbers)),
    ]
    photos = [part for part in (result["sample_photo"], result["reference_photo"]) if part is not None]
    for part in photos if numbers else ():
        lines += ["", measurement_text(part)]
    if not numbers:
        lines += dict.fromkeys(line for part in photos for line in weak_lines(part) if line not in lines)
    # Only a studio that has heat-set strips before is told what heat will do.
    lines += ["", care_text(result["care"], (HEAT,))] if result["care"] else []
    return "\n".join(lines)


def _sides(result: CheckJson) -> str:
    """What is compared with what, and in which states where the library is asked; a record's words say its own."""
    sample, reference, states = result["difference"]["sample"], result["difference"]["reference"], result["states"]
    if states and states["carried_over"] != "strip":
        sample += f" ({states['strip']})"
    target = result["recalled"] and result["recalled"]["target"]
    if states and states["reference"] and target and states["carried_over"] != "reference":
        reference += f" ({states['reference']})"
    return f"{sample} compared with {reference}"


def _first_lines(result: CheckJson) -> list[str]:
    """The verdict that counts: that of the strips, or that of the pot behind them."""
    pots = result["pots"]
    if result["judged"] == "pot" and pots and pots["outcome"]:
        return [_shouted(pots["outcome"], pots["sentences"][0])]
    return [_shouted(result["verdict"], result["sentence"])]


def _shouted(verdict: str, sentence: str) -> str:
    """A sentence with its verdict first, in capital letters."""
    if sentence.lower().startswith(verdict):
        return verdict.upper() + sentence[len(verdict) :]
    return f"{verdict.upper()}: {sentence[:1].lower()}{sentence[1:]}"


def _pot_lines(result: CheckJson, numbers: bool) -> list[str]:
    """What the strips say of the pots: one sentence a line."""
    pots = result["pots"]
    if pots is None:
        return []
    if pots["why_not"]:
        matters = result["verdict"] != "same" or result["judged"] == "pot"
        return flag_lines([pots["why_not"]]) if matters else []
    told = list(pots["sentences"][1:] if result["judged"] == "pot" else pots["sentences"])
    told += [films_sentence(pots["films"])] if numbers else []
    return ["", *(f"  {sentence}" for sentence in told)] if told else []


def _deltas(difference: DifferenceJson) -> str:
    return f"   (ΔL* {difference['delta_L']:+.2f}, ΔC* {difference['delta_C']:+.2f}, ΔH* {difference['delta_H']:+.2f})"


def weak_lines(result: MeasurementJson) -> list[str]:
    """The flags of the photos and of each strip, the strip named."""
    own = [f"{line} ({colour['name']})" for colour in result["strips"] for line in flag_lines(colour["flags"])]
    return [*own, *flag_lines(result["flags"])]


def _recalled_lines(recalled: RecalledJson | None, states: StatesJson | None, numbers: bool) -> list[str]:
    """What came out of the library besides the reference."""
    if recalled is None:
        return []
    after, notes = recalled["predicted"], flag_lines(recalled["notes"], "")
    if after is None or not numbers or states is None:
        return notes
    colour = f"L* {after['L']:.2f}  a* {after['a']:.2f}  b* {after['b']:.2f}"
    doubt = f"±{after['interval95_ciede2000']:.2f} CIEDE2000, from {after['pairs']} strips"
    return [f"predicted once {states['compared_in']}: {colour}   {doubt}", *notes]


def _conditions_line(result: MeasurementJson) -> str:
    card, conditions = result["card"], result["conditions"]
    measured = card["date"] and card["grade"] != PHOTOGRAPHED
    known = f" ({card['values']}, {card['date']})" if measured else ""
    print_ = f" {spoken(card['number'])}" if card["number"] else ""
    return (
        f"{result['photo']['path']}: {card['design']} card{print_}, {GRADE_WORDS[card['grade']]}"
        f"{known}; {conditions['illuminant']}, {conditions['observer_deg']}° observer"
    )


def _colour_line(colour: StripJson) -> str:
    gamut = "" if colour["srgb_in_gamut"] else " (too vivid for a screen)"
    return (
        f"  {colour['name']:<10} L* {colour['L']:6.2f}  a* {colour['a']:7.2f}  b* {colour['b']:7.2f}"
        f"   C* {colour['C']:6.2f}  h {colour['h_deg']:5.1f}°   ±{colour['interval95_ciede2000']:.2f} CIEDE2000"
        f"   {colour['srgb_approx']}{gamut}"
    )


def _together_lines(result: MeasurementJson) -> list[str]:
    """How many photos the colours come from, and what the first alone would have given."""
    lights = [photo["light"] for photo in result["photos"]]
    if len(lights) == 1:
        return []
    other = f", {lights.count(2)} of them under another light" if 2 in lights else ""
    alone = ", ".join(f"{each['name']} ±{each['interval95_first_photo_ciede2000']:.2f}" for each in result["strips"])
    return [f"{len(lights) - lights.count(None)} photos together{other}; the first alone would give {alone}"]


def _row_lines(row: UsedRowJson | None) -> list[str]:
    if row is None:
        return []
    seen = "seen beside the card" if row["seen"] else "not seen whole in every photo, used as knowledge only"
    return [f"row {row['name']} ({row['grade']}): {seen}"]
