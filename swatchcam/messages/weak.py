"""Why a measured colour may be weak: the light, the card, the strip, the photos together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..text import counted, listed
from .surface import Catalogue, On

MANY = 5  # pots that are named, of those that are left out


def _stained(patches: list[str], off: list[float], **_: Any) -> str:
    looks = "look" if len(patches) > 1 else "looks"
    size = f" (off by {off[0]:.0f})" if len(off) == 1 else f" (off by {off[0]:.0f} to {off[-1]:.0f})" if off else ""
    return f"patch{'es' * (len(patches) > 1)} {', '.join(patches)} {looks} stained or faded{size}"


def _left_out(count: int, others: bool, **_: Any) -> str:
    card = "other cards that were never measured" if others else "a card that was never measured"
    return f"left out: {counted(count, 'strip')} measured with {card}, which can't be compared with the rest"


def _cloth_assumed(count: int, cloth: str, **_: Any) -> str:
    they, records = ("they are", "their records") if count > 1 else ("it is", "its record")
    strips = counted(count, "strip")
    return f"no cloth is noted for {strips}: {they} taken to be on {cloth}; correct {records} if not"


def _unlike_recipe(record: int | None, **_: Any) -> str:
    what = "the strip of this pot" if record is None else f"record {record}"
    return f"{what} does not look like its recipe: was something weighed or noted wrong?"


def _carried_over(known: str, cloth: str, state: str, own: int, **_: Any) -> str:
    said = f"your pigments are carried over from {known or 'the cloth without a name'}"
    if not own:
        return f"{said}: no {state} strip on {cloth} has a recipe yet, so make one to be surer"
    more = "another one makes" if own == 1 else "more of them make"
    return f"{said}, with {counted(own, f'{state} strip')} on {cloth}: {more} it surer"


def _not_read(cloth: str, known: str, **_: Any) -> str:
    return (
        f"photograph bare {cloth} in a window of the card and keep it as shade 'bare cloth': then your strips on"
        f" {known or 'the cloth without a name'} count on {cloth} too"
    )


TOOLS_HELP = {
    "finer-scale": "a scale with steps of {finer:g} g",
    "counted-drops": "finding out what a drop of each bottle weighs",
    "larger-pot": "mixing {larger:g} g",
}


def _coarse_tools(cost: float, step: float, grams: float, helps: Sequence[str], **facts: Any) -> str:
    """What scale and drops cost, and what would help."""
    said = f"your scale and drops cost you about {cost:.1f} CIEDE2000 in a pot of {grams:g} g"
    ways = [TOOLS_HELP[one].format(**facts) for one in helps]
    return f"{said}. What would help: {', or '.join(ways)}" if ways else said


def _leftovers_left_out(pots: Sequence[str], **_: Any) -> str:
    some = listed([*pots[:MANY], *([f"{len(pots) - MANY} more"] if pots[MANY:] else [])])
    why = "the recipe is missing, or has something in it that no strip on this cloth shows"
    return f"left out: {some}; {why}"


FLAGS: Catalogue = {
    "leftovers-left-out": _leftovers_left_out,
    # The light and the phone.
    "light-uneven": "uneven light ({varies:.1%}): move the lamp or the card",
    "greys-differ": "the same grey differs across the card ({spread:.1f} L*): uneven light, or a lamp mirrored in it",
    "light-mixed": "the light's colour changes across the card ({change:.0%}): two kinds of light?",
    "parts-brightened": "the phone brightened what lies beside dark colours: turn off HDR, night mode and scene"
    " optimising",
    "light-warm": "the white is yellow in the photo (blue at {warmth:.0%} of green): a warm lamp or a filter?",
    "lights-alike": "the two lights look much alike to the phone: the second one adds little",
    # The card.
    "card-nominal": "this card was never measured: use it to compare strips, preferably in one photo, and don't rely on"
    " a colour's own numbers",
    "card-from-profile": "the card's colours come from its printer's profile, not from this print, so they are less"
    " sure",
    "card-of-sister": "print {number} was never read: its values are those of its sister print '{values}', so colours"
    " are a little less sure",
    "card-geometry": "the card was read with geometry {geometry}; a phone sees it like 45/0",
    "card-gloss-unknown": On(
        "nobody said whether the card was read with its gloss, so dark colours are less sure: ask whoever read it,"
        " and import the readings again with --specular",
        "nobody said whether the card was read with its gloss, so dark colours are less sure: ask whoever read it",
    ),
    "card-glows-less": "the card's white glows less in this light than where it was read: there is less ultraviolet to"
    " light up the brightener in the paper. This is allowed for, but pale colours are less sure. Bright white cotton"
    " looks duller in this light too",
    "card-glows-more": "the card's white glows more in this light than where it was read: there is more ultraviolet to"
    " light up the brightener in the paper. This is allowed for, but pale colours are less sure. Bright white cotton"
    " looks bluer in this light too",
    "card-values-adapted": "the card's values were adapted from {old_illuminant}/{old_observer}° to"
    " {illuminant}/{observer}°, not measured: off by about {error:.1f} CIEDE2000",
    "card-fits-poorly": "the card's colours fit poorly ({off:.1f}): poor light, an edited photo or an old card?",
    "card-faded": "the card looks faded: its colours are paler than its values say, so what you measure may be off by"
    " about {off:.1f}",
    "card-unlike-values": "the card's colours don't quite match its values, so what you measure may be off by"
    " about {off:.1f}: is it another print, or is the light poor?",
    "patches-left-out": "patches left out: {patches:comma}",
    "patches-stained": _stained,
    "row-misplaced": "the colours in the pigment row are not those of its values, so it was not used: is its"
    " order right?",
    # The strip.
    "bare-cloth": "no ink was found in the window, only what lies around the card: is it bare cloth?",
    "bare-white": "no ink was found in the window, only white like the card's own: is it covered?",
    "looks-wet": "looks wet or glossy: light is mirrored in the ink (about {too_light:.1f} L* too light)",
    "strip-small": "small strip ({area:.0f} mm²)",
    "strip-uneven": "uneven strip (±{uneven:.1f} L* from place to place)",
    "stain-uneven": "uneven stain (±{uneven:.1f} L* from place to place): the average is graded",
    "stained-cloth-whiter": "the cloth that should be stained is whiter than the clean one: are they the wrong way"
    " round?",
    "threads-left-out": "threads, lint or glare left out",
    "too-vivid": "too vivid for the photo's colour space: trust differences, not these Lab values",
    # The photos together, and what the library holds.
    "photos-disagree": "the photos {photos:comma} disagree: did something move?",
    "photo-left-out": "left out, because it disagrees with the other photos",
    "card-unmeasured-between-photos": "the card was never measured, so comparing two photos says little: lay"
    " both strips in one photo",
    "few-heat-set": "only {pairs} strips were measured in both states; with {enough} or more this is surer",
    "colour-not-seen-before": "no earlier strip had such a colour ({axes:comma}), so the prediction is a guess",
    "coat-not-used": "your weight of ink isn't used: it counts only if all strips were weighed, in the same state",
    # Why a difference can't be split into shade, and strength or film.
    "cloth-not-seen": "leave some bare cloth beside the ink: then shade can be told from strength or film",
    "split-of-cut-off-colour": "too vivid for this photo to tell shade from strength or film: save photos as Display P3"
    " or DNG, or measure let-down strips",
    "split-of-black": "nearly black, so shade can't be told from strength or film: measure let-down strips",
    "ink-hides-cloth": "this ink hides the cloth, so a thicker film hardly shows: take the whole difference for shade",
    "split-for-other-light": "shade is told from strength or film only for D65 and 10 degrees",
    # What is known of pigments, and the order.
    "cloth-assumed": _cloth_assumed,
    "strips-left-out": _left_out,
    "all-nominal": "your card was never measured: mix towards a strip that you photograph with it, not towards numbers"
    " from elsewhere",
    "no-clear-base-strip": "no strip of clear base alone yet, so the lightness of the bare cloth is a guess",
    "carried-over-from-cloth": _carried_over,
    "bare-cloth-not-read": _not_read,
    "no-test-series": "no test series yet for {pigments:listed}: make one of {enough} strips or more of each",
    "short-test-series": "only {count:counted strip} of {pigment} alone: make a test series of {enough} strips or more",
    "white-not-seen": "alone on this cloth, {pigment} hardly shows how much it lightens a colour: add a strip of it"
    " with a twentieth of black ink",
    "not-enough-left": "only {left:.3g} g of {what} left on your shelf, and this takes {needed:.3g} g: get more, or mix"
    " less",
    "pot-gone-on": On(
        "batch {batch} went into batch {into} already, so correct that one. If you never did that, take it back:"
        " swatchcam remove --proposal {number}",
        "batch {batch} went into batch {into} already, so correct that one. If you never did that, remove it"
        " on the pot page, under 'One by one'",
    ),
    "recipe-unlike-colour": _unlike_recipe,
    "ratio-nominal": "the card was never measured: the ratio may be further off than its interval says",
    "tools-coarse": _coarse_tools,
    "strip-unlike-recipe": "this strip is {apart:.1f} CIEDE2000 from what the recipe of batch {batch} gives: is it"
    " from that pot, and was everything weighed as noted?",
}
