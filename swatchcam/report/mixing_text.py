"""The dicts of `report.mixing` in words, as the terminal shows them."""

from __future__ import annotations

from collections.abc import Collection

from ..library.labels import readable
from ..library.proposals import CORRECTION
from ..messages.mixing import right_words
from ..recipes.recipe import CLEAR_BASE
from ..recipes.scale_resolution import as_read
from ..text import counted, listed
from .cautions import NOBODY, care_text
from .json_types import AnswerJson, PaletteJson, PigmentJson, PredictionsJson, SeriesJson
from .json_types.colours import AxesJson
from .json_types.mixing import (
    ChoiceJson,
    MixJson,
    PotJson,
    WaitingProposalJson,
)
from .json_types.pigments import LotJson, PalettePigmentJson, ShelfJson
from .json_types.weighing import RestJson
from .mixing_sentences import OLD_POT, rest_words
from .quantities import weighing_text
from .said import age_words, flag_lines

LIGHTS = {"A": "under a bulb", "LED-B3": "under an LED lamp"}
WORTH_TELLING = 0.1  # chance that a pot is right, from which on it is told; no source
WORTH_A_LINE = 0.1  # CIEDE2000 that the tools cost, from which on it is told; no source
VAGUE = 4.0  # an interval whose ends differ by more than this factor is no number to be told
KINDS = {
    "recipe": "A new pot for {}",
    "correction": "Correcting this pot towards {}",
    "thinning": "Thinning this pot towards {}",
    "again": "Another pot for {}",
    "use-up": "Using up leftovers for {}",
}


def answer_text(facts: AnswerJson, numbers: bool = True, known: Collection[str] = NOBODY) -> str:
    """What was proposed: the pot as it is, the choices, what to weigh, what to look out for, in short where `known`."""
    lines = [_head(facts, numbers), ""]
    if facts["pot"]:
        lines += [f"{_pot_words(facts['pot'])}: {distance_words(facts['pot'])}.", ""]
    lines += _verdict(facts) + _help_lines(facts) + _reach_lines(facts)
    for number, choice in enumerate(facts["choices"], start=1):
        lines += _choice_lines(facts, number, choice)
    for weighing in [] if facts["leave_it"] else facts["weighing"]:
        first = [_left_words(rest, place) for place, rest in enumerate(facts["rests"])]
        listed_steps = weighing_text(weighing, first, facts["scale_grams"], new=facts["kind"] != CORRECTION)
        lines += ["", "What to weigh:", *(f"  {line}" for line in listed_steps.splitlines())]
        lines += ["", _then(facts)]
    lines += [*([""] if lines[-1] else []), treat] if (treat := facts["treat_words"]) else []
    lines += [*([""] if lines[-1] else []), film] if (film := facts["film"]["sentence"]) else []
    lines += [""] if facts["flags"] else []
    lines += flag_lines(facts["flags"], "")
    lines += ["", care_text(facts["care"], known)] if facts["choices"] and not facts["leave_it"] else []
    if facts["kept"]:
        lines += ["", f"Kept as batch {facts['kept']['batch']} of {facts['kept']['shade']}."]
        lines += [_target(facts, facts["kept"]["shade"])] if facts["kind"] == "recipe" else []
    lines += ["", said] if (said := _strip_words(facts)) else []
    return "\n".join(lines)


def _left_words(rest: RestJson, place: int) -> str:
    """What to do with what is left of a pot; the first one goes into a clean pot, the next ones into the same."""
    age = f" ({age_words(rest)})" if rest["days_old"] is not None else ""
    put = f"Add {rest_words(rest)}{age}." if place else f"Put {rest_words(rest)}{age} into a clean pot."
    return f"{put} {OLD_POT}"


def palette_text(facts: PaletteJson) -> str:
    """One line for each pigment, and what is weak."""
    where = f" on {facts['cloth']}" if facts["cloth"] else ""
    pigments, known = counted(len(facts["pigments"]), "pigment"), counted(facts["known_strips"], "known strip")
    lines = [f"{pigments}{where}, {known} ({facts['state']}):"]
    width = max(len(each["pigment"]) for each in facts["pigments"])
    lines += [f"  {each['pigment']:<{width}}  {_shelf_words(each)}" for each in facts["pigments"]]
    return "\n".join([*lines, *flag_lines(facts["flags"], "")])


def pigment_text(facts: PigmentJson) -> str:
    """What one pigment does, load by load."""
    where = f" on {facts['cloth']}" if facts["cloth"] else ""
    lines = [f"{facts['pigment']}{where}, {facts['state']}, predicted from its known strips:"]
    for strip in facts["curve"]:
        lines.append(
            f"  {strip['percent']:>5g} %  {strip['srgb_approx']}  {_lab(strip)}  ±{strip['interval95_ciede2000']:.1f}"
            f"  acts like {strip['working_percent']:.2g} %"
        )
    lines.append(flattening(facts))
    lines += ["measured:"] if facts["measured"] else []
    lines += [
        f"  {known_strip['percent']:>5.3g} %  {known_strip['srgb_approx']}  {_lab(known_strip)}  {known_strip['name']}"
        for known_strip in facts["measured"]
    ]
    lines += [said] if (said := _said_of(facts)) else []
    return "\n".join([*lines, *flag_lines(facts["flags"], "")])


def flattening(facts: PigmentJson) -> str:
    """Where more of a pigment stops helping, from `pigment_dict`."""
    half, (low, high) = facts["half_strength_percent"]["value"], facts["half_strength_percent"]["interval95"]
    if facts["ready"] and half > 100:
        return "More of it helps all the way up to 100 %."
    if high > VAGUE * low:
        return (
            "Too few strips to tell when more pigment stops helping: half of its strength is lost somewhere between"
            f" {low:.0f} and {high:.0f} %."
        )
    return f"Half of its strength is lost at about {half:.0f} % (95 % interval {low:.0f} to {high:.0f} %)."


def series_text(facts: SeriesJson, known: Collection[str] = NOBODY) -> str:
    """One line for each series strip that was kept, then what to take care of, in short where it is `known`."""
    lines, each = list[str](), [flag_lines(strip["flags"]) for strip in facts["series"]]
    every = [line for line in each[0] if all(line in own for own in each)] if each else []
    for strip in facts["series"]:
        lines.append(
            f"Kept as record {strip['record']}: {strip['shade']}, {strip['batch']}  {_lab(strip)}"
            f"  ±{strip['interval95_ciede2000']:.2f} CIEDE2000   {strip['srgb_approx']}"
        )
        lines += [line for line in flag_lines(strip["flags"]) if line not in every]
    return "\n".join([*lines, *every, *([care_text(facts["care"], known)] if facts["care"] else [])])


def prediction_check_text(facts: PredictionsJson) -> str:
    """How the predictions came out, and one line for each proposal."""
    lines = [facts["sentence"]]
    for each in facts["proposals"]:
        target = each["ciede2000_from_target"]
        tail = "" if target is None else f", {target:.1f} from the target"
        outside = "" if each["held"] else "  (outside its interval)"
        lines.append(
            f"  {each['kind']:<10} {each['shade']}, batch {each['batch']}, record {each['record']} ({each['state']}):"
            f" {each['miss_ciede2000']:.1f} CIEDE2000 from what was predicted{tail}{outside}"
        )
    return "\n".join([*lines, *map(_waiting_line, facts["waiting"])])


def _waiting_line(made: WaitingProposalJson) -> str:
    pot = ", ".join(f"{part['what']} {readable(part['grams']):.10g} g" for part in made["pot"])
    strip = f"{made['shade']}, batch {made['batch']} ({made['state']})"
    return f"  not measured yet: proposal {made['proposal']}, {strip}: {pot}"


def _head(facts: AnswerJson, numbers: bool) -> str:
    where = f", on {facts['cloth']}" if facts["cloth"] else ""
    words = KINDS[facts["kind"]].format(facts["target"]["words"])
    colour = f": {_lab(facts['target'])}  {facts['target']['srgb_approx']}" if numbers else ""
    return f"{words}{colour}{where}, {facts['state']}"


def _target(facts: AnswerJson, shade: str) -> str:
    target = facts["target"]
    lab = ",".join(f"{target[axis]:.2f}" for axis in ("L", "a", "b"))
    state = f' --target-state "{target["state"]}"' if target["state"] else ""  # nobody's state is guessed
    command = f'swatchcam shade set "{shade}" --target {lab}{state}'
    return f"To compare all its batches with this colour: {command}"


def _then(facts: AnswerJson) -> str:
    dry = next((choice["when_dry"] for choice in facts["choices"] if choice["recommended"]), None)
    if dry is None:
        return "Then make a strip, let it dry, and measure it before you print."
    return (
        f"Then make a strip and let it dry. When dry, it must look like this: {dry['srgb_approx']} ({_lab(dry)}), give"
        f" or take {dry['interval95_ciede2000']:.1f}. What counts is the colour once it is {facts['state']}."
    )


def _lab(facts: AxesJson) -> str:
    return f"L* {facts['L']:6.2f}  a* {facts['a']:7.2f}  b* {facts['b']:7.2f}"


def distance_words(mix: MixJson) -> str:
    """How far a mix is predicted to be from the target."""
    low, high = mix["interval95"]
    return f"CIEDE2000 {mix['ciede2000_from_target']:.1f} from the target (95 % interval {low:.1f} to {high:.1f})"


def _verdict(facts: AnswerJson) -> list[str]:
    if not facts["leave_it"]:
        return []
    rest = " If you want to go on anyway:" if facts["choices"] else ""
    return [f"Leave it: {facts['leave_why']}.{rest}", ""]


def _help_lines(facts: AnswerJson) -> list[str]:
    if facts["leave_code"] != "not-sure-enough":
        return []
    pot = facts["pot"]
    right = [right_words(pot["right_probability"])] if pot and pot["right_probability"] >= WORTH_TELLING else []
    helps = [f"  - {each['sentence']}" for each in facts["helps"]]
    if not helps:
        return [*right, "Even two more strips of the pot would not make it sure enough.", ""]
    return [*right, "What would make it surer:", *helps, ""]


def _pot_words(pot: PotJson) -> str:
    records = [str(number) for number in pot["records"]]
    kept = f", strip kept as record {listed(records)}" if len(records) == 1 else ""
    kept = f", strips kept as records {listed(records)}" if len(records) > 1 else kept
    batch = f" (batch {pot['batch']}{kept})" if pot["batch"] else ""
    own = f" and {counted(pot['strips'], 'strip')} of the pot" if pot["strips"] else ""
    return f"The pot now{batch}, judging from your test series{own}"


def _strip_words(facts: AnswerJson) -> str:
    """Whether the strip of a pot in hand is kept, where nothing else is."""
    pot = facts["pot"]
    if facts["kept"] or pot is None or not pot["batch"]:
        return ""
    if not pot["records"]:
        return "Nothing was kept. Add --keep to keep the strip: the next prediction is better for it."
    return "Only the strip is kept: there is nothing to mix." if facts["leave_it"] else ""


def _choice_lines(facts: AnswerJson, number: int, choice: ChoiceJson) -> list[str]:
    mark = "  (recommended)" if choice["recommended"] and not facts["leave_it"] else ""
    lines = [f"{number}. {put_in_words(choice)}{mark}", f"   predicted {distance_words(choice)}"]
    if facts["leave_it"]:
        return lines
    if choice["tools_ciede2000"] >= WORTH_A_LINE:
        lines.append(
            f"   with your scale and drops it lands about {choice['tools_ciede2000']:.1f} further off on average"
        )
    if choice["part_of_the_way"] < 1:
        part = 100 * choice["part_of_the_way"]
        lines.append(f"   this takes you {part:.0f} % of the way: measure again before you go on")
    lines.append(f"   {_effort(choice, facts['scale_grams'])}")
    if choice["other_lights_ciede2000"]:
        lights = [f"{value:.1f} {LIGHTS[light]}" for light, value in choice["other_lights_ciede2000"].items()]
        lines.append(f"   a match in daylight would be off by {listed(lights)} (a guess: a phone measures no spectra)")
    if choice["roads"] and number == 1:
        roads = choice["roads"]
        lines.append("   the pot is too strong for the target. Two ways to thin it:")
        lines += [f"   - {road['words']}" for road in (roads["fresh_pot"], roads["topping_up"])]
        lines.append(f"   {roads['sentence']}")
    return lines + [f"   {line}" for line in choice["words"]]


def put_in_words(choice: ChoiceJson) -> str:
    """All that goes in, in one line; old ink first."""
    parts = [*map(rest_words, choice["rests"]), *(f"{part['what']} {part['words']}" for part in choice["put_in"])]
    roads = choice["roads"]
    if roads:
        fresh = roads["fresh_pot"]
        parts = [
            f"{CLEAR_BASE} {fresh['binder_grams']:.10g} g",
            f"ink from the pot {fresh['strong_ink_grams']:.10g} g",
            *parts,
        ]
    return ", ".join(parts)


def _effort(choice: ChoiceJson, scale_g: float) -> str:
    ready = f", {choice['ready_percent']:.3g} % ready-mixed ink" if choice["ready_percent"] else ""
    whole = as_read(choice["pot_grams"], scale_g)
    return f"{whole} g in the pot after that, {choice['pigment_percent']:.2g} % pigment{ready}"


def _reach_lines(facts: AnswerJson) -> list[str]:
    reach = facts["reach"]
    if reach is None or reach["hit"]:
        return []
    nearest = f"the nearest you can get is CIEDE2000 {reach['ciede2000_of_the_nearest']:.1f} from the target"
    by = "Adding to the pot can't reach the target" if facts["kind"] == "correction" else "Out of reach"
    lines = [f"{by}: {nearest}."] + (["To get nearer you would need:"] if reach["needs"] else [])
    return [*lines, *(f"  - {need['sentence']}" for need in reach["needs"]), ""]


def _shelf_words(each: PalettePigmentJson) -> str:
    strength = "" if each["strength"] is None else f"strength {each['strength']:.2f}  "
    alone, mixed = each["known_strips_alone"], each["known_strips_in_mixes"]
    known_strips = f"{counted(alone, 'series strip')}, {counted(mixed, 'mix', 'mixes')}"
    said = _said_of(each)
    return f"{strength}{known_strips}{f'  {said}' if said else ''}"


def _said_of(facts: ShelfJson) -> str:
    most, least, price = facts["most_percent"], facts["least_g"], facts["price_per_100g"]
    parts = ["ready-mixed"] if facts["ready"] else []
    parts += [f"at most {most:g} %"] if most is not None else []
    parts += [f"smallest amount {least:.10g} g"] if least is not None else []
    parts += [f"{price:g} for 100 g"] if price is not None else []
    parts += [f"{facts['density']:g} g/ml"] if facts["density"] is not None else []
    parts += [f"lot {lot['name']}, in use since {lot['since']}: {_lot(lot)}" for lot in facts["lots"]]
    return ", ".join(parts + ([facts["notes"]] if facts["notes"] else []))


def _lot(lot: LotJson) -> str:
    doubt = f" ±{1.96 * lot['strength_std']:.2f}" if lot["strength_std"] else ""
    return (
        f"{lot['strength']:.2f}{doubt} times as strong{'' if lot['differs'] else ' (no more than measurement error)'}"
    )
