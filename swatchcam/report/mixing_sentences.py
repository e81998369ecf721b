"""What the mixing table found, in sentences: the same for JSON, the terminal and the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..library.proposals import AGAIN, CORRECTION, RECIPE, THINNING, USE_UP
from ..library.records import HEAT_SET, RUBBED, WASHED, State
from ..messages.mixing import better_left, odds_words
from ..mixing.gamut import Means, Need
from ..mixing.known_strip import KnownStrip
from ..mixing.opacity import Contrast, Opacity, Outcome
from ..mixing.order import Choice, Proposed, Saved
from ..mixing.pot_correction import BEYOND
from ..mixing.prediction_check import ENOUGH, LEVEL, PredictionRate, Showing
from ..recipes.scale_resolution import FINE_G, as_read, shown
from ..recipes.thinning import Advice, Road, Thinning
from ..text import counted, listed
from .json_types.mixing import NeedJson, RoadJson, RoadsJson
from .json_types.weighing import RestJson

MANY_OF_KIND = {
    RECIPE: "first recipes",
    CORRECTION: "corrections",
    THINNING: "thinnings",
    AGAIN: "repeats",
    USE_UP: "pots of old ink",
}
OLD_POT = "Look and smell first: throw it away if it smells foul, has lumps or has a skin (common practice, no source)."
LITTLE = 0.05  # g of pigment that are not worth telling; no source


def leave_words(proposed: Proposed) -> str:
    """Why a pot is best left as it is, behind "Leave it:"; "" where it is not."""
    return better_left(str(proposed.leave), proposed.nearest) if proposed.leave else ""


def need_words(need: Need, names: Mapping[str, str]) -> str:
    """What would be needed to come nearer to a target, in a list; `names` as the studio writes its pigments."""
    if need.means == Means.STRONGER_LOAD:
        over = [f"{share:.2g} % of {names.get(name, name)}" for name, share in need.over.items()]
        load = listed(over) if over else f"about {need.load:.2g} % of pigment"
        limit = "but that is more than the limit, and the print may rub off and wash out"
        return f"a stronger load: {load} would come to {need.nearest:.1f}, {limit}"
    if need.means == Means.MORE_PIGMENTS:
        together = listed([names.get(name, name) for name in need.pigments])
        return f"{len(need.pigments)} pigments: {together} would come to {need.nearest:.1f}"
    if need.means == Means.READY_BLACK:
        why = "so much pigment goes into a full black that printers usually buy it ready-mixed"
        return f"a ready-mixed black: {why} (common practice, no source)"
    return f"another pigment: the target is {listed(need.direction)} than anything these give"


def fresh_pot_words(thinning: Thinning) -> str:
    """What goes into a fresh pot, and what stays."""
    fresh, step = thinning.fresh, thinning.scale_g
    made = f"{shown(fresh.ink_g + fresh.binder_g, step)} g"
    put_in = f"{shown(fresh.binder_g, step)} g of clear base and {shown(fresh.ink_g, step)} g of the strong ink"
    left = "no" if fresh.left is None else f"{shown(thinning.topped.ink_g - fresh.ink_g, step)} g of"
    return f"Fresh pot: {put_in} make {made}, with {left} strong ink left over."


def topping_up_words(thinning: Thinning) -> str:
    """What goes into the strong pot, and what that makes."""
    topped, step = thinning.topped, thinning.scale_g
    more = f", {shown(topped.left.grams, step)} g more than you want" if topped.left else ""
    put_in = f"{shown(topped.binder_g, step)} g of clear base into the strong pot"
    return f"Topping up: {put_in} makes {shown(topped.ink_g + topped.binder_g, step)} g{more}."


def advice_words(thinning: Thinning) -> str:
    """Which of the two ways to take, and why."""
    fresh, topped = thinning.fresh, thinning.topped
    if thinning.advice == Advice.MIX_THE_REST:
        most = f"This pot makes at most {thinning.most_g:.0f} g, {thinning.short_g:.0f} g less than you want"
        return f"{most}: mix the rest from clear base and pigments."
    if fresh.left is None or topped.left is None or thinning.advice == Advice.EITHER:
        return "You need all of the strong ink, so both ways come to the same and leave nothing."
    return (
        f"Take the fresh pot: it needs {fresh.binder_g:.0f} g of clear base instead of {topped.binder_g:.0f} g and"
        f" keeps {fresh.left.grams:.0f} g of the strong ink for other shades. Topping up would leave you with"
        f" {topped.left.grams:.0f} g of thinned ink that nobody asked for."
    )


def opposite_words(pigment: str) -> str:
    """Of a pigment that knocks the colour back."""
    return f"A little {pigment} lies opposite this colour and makes it greyer: add it bit by bit."


def saved_words(saved: Saved) -> list[str]:
    """What a pot of old ink saves, in a sentence; none of other pots."""
    if not saved.rests:
        return []
    things = {"pigment": saved.pigment_g, "ready-mixed ink": saved.ready_g}
    saves = [f"{saved.base_g:.0f} g of clear base", *(f"{g:.1f} g of {n}" for n, g in things.items() if g > LITTLE)]
    takes = [f"{-g:.1f} g more {name}" for name, g in things.items() if g < -LITTLE]
    used = f"Uses up {as_read(saved.grams, FINE_G)} g of old ink and saves {listed(saves)}"
    return [f"{used}, but takes {listed(takes)} than a fresh pot." if takes else f"{used}."]


def rest_words(rest: RestJson) -> str:
    """How much of what is left of a pot goes in."""
    grams, left = (as_read(each, FINE_G) for each in (rest["grams"], rest["left_grams"]))
    if rest["grams"] < rest["left_grams"]:
        return f"{grams} g of the {left} g left of {rest['called']}"
    return f"the {grams} g left of {rest['called']}"


def treat_words(state: State, records: Sequence[int]) -> str:
    """Which dry strips to heat-set, wash or rub next; "" for none."""
    if not records:
        return ""
    do = {HEAT_SET: "Heat-set", WASHED: "Heat-set and wash", RUBBED: "Heat-set and rub"}[state.name]
    which = f"record {records[0]}" if len(records) == 1 else f"records {listed([str(one) for one in records])}"
    return f"{do} {'this dry strip' if len(records) == 1 else 'these dry strips'} next: {which}. That would help most."


def chances_words(choice: Choice) -> list[str]:
    """How likely it is that an addition helps, in a sentence; none of what is not added to a pot."""
    return [odds_words(choice.chances.nearer, choice.chances.worse, BEYOND)] if choice.chances else []


def prediction_check_words(rate: PredictionRate) -> str:
    """How the predictions came out."""
    count, showing = len(rate.checked), rate.showing
    if showing == Showing.NOTHING:
        return "No proposal has been measured yet."
    if showing == Showing.TOO_FEW:
        held = f"{rate.held} of {counted(count, 'prediction')} held"
        return f"{held}. That is too few to judge by: at least {ENOUGH} are needed."
    by_kind = [f"{value:.1f} for {MANY_OF_KIND[kind]}" for kind, value in rate.mean.items()]
    missed = listed(by_kind).replace(" for", " CIEDE2000 for", 1)
    told = f"{rate.held} of {count} predictions held ({100 * LEVEL:.0f} % expected)."
    less = " That is too few: your pots are less certain than predicted." if showing == Showing.LESS_SURE else ""
    return f"{told}{less} On average they missed by {missed}."


def opacity_words(found: Opacity) -> str:
    """Whether an ink is opaque, by how much, and what to do next."""
    said = f"contrast ratio {_interval(found.contrast)}, {found.criterion:g} wanted"
    if found.outcome == Outcome.COVERS:
        return f"Opaque in one pass: {said}."
    if not found.passes:
        one = "Not opaque in one pass" if found.contrast.high < found.criterion else "Too close to tell for one pass"
        return f"{one}: {said}. To see what a second pass would do, measure both cloths bare too."
    said += f"; with two passes {_interval(found.passes[2])}"
    if found.outcome == Outcome.SECOND_PASS:
        return f"Opaque in two passes: {said}."
    if found.outcome == Outcome.CANNOT_TELL:
        return f"Too close to tell: {said}. Pull a second pass and look."
    enough = found.passes[3].low >= found.criterion
    third = f" Three passes would be opaque too: {_interval(found.passes[3])}." if enough else ""
    return f"Not opaque, even in two passes: {said}. Print a white (or lighter) base first.{third}"


def known_strip_name(known_strip: KnownStrip) -> str:
    """What a known strip is called."""
    return "the pot" if known_strip.record is None else f"record {known_strip.record}"


def need_dict(need: Need, names: Mapping[str, str]) -> NeedJson:
    """One way to come nearer: its code, what is known of it, and the sentence."""
    return {
        "code": str(need.means),
        "ciede2000": None if need.nearest is None else round(need.nearest, 2),
        "load_percent": None if need.load is None else round(need.load, 3),
        "over_limit_percent": {names.get(name, name): round(share, 3) for name, share in need.over.items()},
        "pigments": [names.get(name, name) for name in need.pigments],
        "direction": list(need.direction),
        "sentence": need_words(need, names),
    }


def thinning_dict(roads: Thinning) -> RoadsJson:
    """Two ways to thin a pot: their amounts, the code of which to take, and the sentences."""
    return {
        "fresh_pot": _road(roads.fresh, fresh_pot_words(roads)),
        "topping_up": _road(roads.topped, topping_up_words(roads)),
        "most_grams": round(roads.most_g, 2),
        "short_grams": round(roads.short_g, 2),
        "code": str(roads.advice),
        "sentence": advice_words(roads),
    }


def _road(road: Road, words: str) -> RoadJson:
    left = 0.0 if road.left is None else road.left.grams
    return {
        "strong_ink_grams": round(road.ink_g, 3),
        "binder_grams": round(road.binder_g, 3),
        "left_over_grams": round(left, 3),
        "words": words,
    }


def _interval(contrast: Contrast) -> str:
    return f"{contrast.value:.3f} ({contrast.low:.3f} to {contrast.high:.3f})"
