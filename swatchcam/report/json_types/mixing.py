"""What the mixing table proposes, and how predictions came out."""

from __future__ import annotations

from typing import Annotated, TypedDict

from .colours import ColourJson, HeadJson, Interval, SureColourJson
from .messages import FlagJson
from .weighing import PartJson, PutInJson, RestJson, WeighingJson


class TargetJson(ColourJson):
    """The colour that is wanted."""

    words: Annotated[str, "what it is"]
    state: Annotated[str | None, "what was done to the cloth that has it; null if nobody said"]


class MixJson(TypedDict):
    """What a mix is predicted to be."""

    predicted: Annotated[SureColourJson, "the colour predicted for the next strip, D65 and 10 degrees"]
    when_dry: Annotated[SureColourJson | None, "the same while that strip is air-dried; null where that is the aim"]
    ciede2000_from_target: Annotated[float, "how far it will be from the target"]
    interval95: Annotated[Interval, "[low, high] of that distance"]
    expected_ciede2000: Annotated[
        float, "the distance to be expected, its uncertainty included; choices are ranked by it"
    ]


class PotJson(MixJson):
    """The pot in hand, as it is now."""

    batch: Annotated[str, "its batch; empty if it is not known"]
    record: Annotated[int | None, "number of the record of its strip, or null"]
    records: Annotated[list[int], "numbers of the records of all strips of it that were named"]
    strips: Annotated[int, "how many strips of the pot it rests on, each a film of its own"]
    right_probability: Annotated[float, "0 to 1: chance that it is right, and only its strips look off by their films"]
    grams: Annotated[float, "what is in it, g"]


class NeedJson(TypedDict):
    """What is needed to come nearer."""

    code: Annotated[str, "`stronger-load`, `more-pigments`, `ready-mixed-black` or `another-pigment`"]
    ciede2000: Annotated[float | None, "how near that would come; null if it cannot be told"]
    load_percent: Annotated[float | None, "all pigment then, g in 100 g, of a stronger load; else null"]
    over_limit_percent: Annotated[dict[str, float], "pigments beyond their own limit then, g in 100 g"]
    pigments: Annotated[list[str], "what would go into the pot, of more pigments"]
    direction: Annotated[list[str], "which way the target lies from all mixes, in words"]
    sentence: Annotated[str, "the same in words"]


class ReachJson(TypedDict):
    """How near the pigments come."""

    hit: Annotated[bool, "true if the target can be reached"]
    ciede2000_of_the_nearest: Annotated[float, "how far the nearest mix is"]
    needs: Annotated[list[NeedJson], "what is needed to come nearer"]


class RoadJson(TypedDict):
    """A way to thin a pot."""

    strong_ink_grams: Annotated[float, "of the strong ink, g"]
    binder_grams: Annotated[float, "of clear base, g"]
    left_over_grams: Annotated[float, "what is left over, g"]
    words: Annotated[str, "the same in words"]


class RoadsJson(TypedDict):
    """Two ways to thin a pot."""

    fresh_pot: Annotated[RoadJson, "some of the strong ink into a fresh pot"]
    topping_up: Annotated[RoadJson, "clear base into the strong pot"]
    most_grams: Annotated[float, "the most that can be made, g"]
    short_grams: Annotated[float, "what is missing of the amount wanted, g; 0 if nothing is"]
    code: Annotated[str, "which to take: `fresh-pot`, `either` or `mix-the-rest`"]
    sentence: Annotated[str, "the same in words"]


class ChoiceJson(MixJson):
    """A choice."""

    recommended: Annotated[bool, "true for one of them, the first"]
    put_in: Annotated[list[PutInJson], "what is put in now, in order"]
    rests: Annotated[list[RestJson], "old ink that is used up before that; empty for other kinds"]
    base_saved_grams: Annotated[float, "clear base that old ink saves compared with a fresh pot, g"]
    pigment_saved_grams: Annotated[float, "pigment that it saves, g; below 0 if more is weighed than for a fresh pot"]
    ready_saved_grams: Annotated[float, "the same of ready-mixed inks, g"]
    pot: Annotated[list[PartJson], "what is in the pot then"]
    pot_grams: Annotated[float, "all that is in the pot then, g"]
    pigment_percent: Annotated[float, "pigment in it, g in 100 g; ready-mixed inks don't count"]
    pigment_grams: Annotated[float, "pigment weighed now, g; ready-mixed inks don't count"]
    ready_percent: Annotated[float, "ready-mixed inks in it, g in 100 g"]
    tools_ciede2000: Annotated[float, "how much further off the target your scale and drops make it"]
    price: Annotated[float | None, "price of all that is weighed now, in your own money, or null"]
    pot_price: Annotated[float | None, "price of all that is in the pot then, or null"]
    without_price: Annotated[list[str], "what has no price yet"]
    part_of_the_way: Annotated[float, "of a correction, 0 to 1: less than 1 if it stops on the way to measure again"]
    overshoot_probability: Annotated[float, "of a correction, 0 to 1: risk of going past the target"]
    nearer_probability: Annotated[
        float | None, "of what becomes of a pot in hand, 0 to 1: chance that it truly comes nearer to the target"
    ]
    worse_probability: Annotated[float | None, "the same: chance that it gets worse by more than 0.5"]
    other_lights_ciede2000: Annotated[
        dict[str, float], "how far a match in daylight would be off under `A` and `LED-B3`; a guess"
    ]
    roads: Annotated[RoadsJson | None, "two ways to thin a pot; null if it is not thinned"]
    opposite_pigments: Annotated[list[str], "pigments that make the colour greyer"]
    words: Annotated[list[str], "what else is to be said"]


class FilmJson(TypedDict):
    """How unlike the films of the studio's strips are."""

    percent: Annotated[float, "standard deviation of the film's thickness from strip to strip, %"]
    interval95: Annotated[Interval, "[low, high] of that"]
    strips: Annotated[int, "how many strips it is judged from"]
    sentence: Annotated[str, "the same in words"]


class HelpJson(TypedDict):
    """What would make a correction sure enough to be proposed."""

    code: Annotated[str, "`more-strips`, `whole-colour`, `finer-scale` or `longer-series`"]
    strips: Annotated[int, "how many more strips of the pot; 0 if it is not about strips"]
    pigments: Annotated[list[str], "whose test series"]
    sentence: Annotated[str, "the same in words"]


class ProposalKeptJson(TypedDict):
    """As what a choice was kept."""

    proposal: Annotated[int, "number of the proposal"]
    shade: Annotated[str, "its shade"]
    batch: Annotated[str, "its batch"]


class AnswerJson(HeadJson):
    """What `swatchcam mix recipe --json`, `mix correct`, `mix again`, `mix use-up` print: what goes into the pot."""

    kind: Annotated[str, "`recipe`, `correction`, `thinning`, `again` or `use-up`"]
    target: Annotated[TargetJson, "the colour wanted, D65 and 10 degrees"]
    cloth: Annotated[str, "the cloth it holds for, or empty"]
    state: Annotated[str, "the state it aims at: all colours and distances are for that"]
    known_strips: Annotated[int, "how many strips of known recipe it rests on"]
    layer: Annotated[str, "the theory that fits them, `film`, `dyed` or `sunk`"]
    scale_grams: Annotated[float, "the step of the scale that it is weighed on, g"]
    pot: Annotated[PotJson | None, "the pot in hand as it is now, or null"]
    rests: Annotated[list[RestJson], "what is left of old pots and goes in first"]
    reach: Annotated[ReachJson | None, "how near the pigments come to the target, or null"]
    leave_it: Annotated[bool, "true if the pot had better be left as it is"]
    leave_code: Annotated[
        str | None,
        "why: `no-visible-difference`, `too-fine-to-weigh`, `not-sure-enough`, `nothing-helps` or `state-unseen`; or"
        " null",
    ]
    leave_why: Annotated[str, "why, in words, or empty"]
    helps: Annotated[list[HelpJson], "what would make an addition sure enough, where none is"]
    film: Annotated[FilmJson, "how unlike the films of your strips are"]
    treat_next: Annotated[list[int], "records of dry strips that would tell most if they were heat-set or washed too"]
    treat_words: Annotated[str, "the same in words, or empty"]
    choices: Annotated[list[ChoiceJson], "the best first"]
    weighing: Annotated[list[WeighingJson], "the list to weigh for the choice that was taken"]
    care: Annotated[list[str], "cautions, in words"]
    flags: Annotated[list[FlagJson], "weaknesses"]
    kept: Annotated[ProposalKeptJson | None, "as what it was kept; null without `--keep`"]


class ProposalJson(TypedDict):
    """Which proposal, and what it predicted."""

    proposal: Annotated[int, "number of the proposal"]
    kind: Annotated[str, "`recipe`, `correction`, `thinning` or `again`"]
    shade: Annotated[str, "its shade"]
    batch: Annotated[str, "its batch"]
    predicted: Annotated[SureColourJson, "the colour that was predicted"]
    state: Annotated[str, "what is done to the strip that it was predicted for"]
    target_state: Annotated[str | None, "what was done to the cloth that has the colour wanted; null if nobody said"]


class MeasuredProposalJson(ProposalJson):
    """A proposal that was measured."""

    record: Annotated[int, "number of the record"]
    measured: Annotated[ColourJson, "the colour that came out"]
    miss_ciede2000: Annotated[float, "how far that is from what was predicted"]
    ciede2000_from_target: Annotated[float | None, "how far it is from the target, or null"]
    held: Annotated[bool, "true if it lies within the interval predicted"]


class WaitingProposalJson(ProposalJson):
    """A proposal that was not measured yet."""

    made: Annotated[str, "the day it was made"]
    pot: Annotated[list[PartJson], "what is in the pot"]


class PredictionsJson(HeadJson):
    """What `swatchcam mix predictions --json` prints: how well predictions came out."""

    code: Annotated[str, "`none-measured`, `too-few`, `as-expected` or `less-sure`"]
    sentence: Annotated[str, "the same in words"]
    held: Annotated[int, "how many lay within their interval"]
    of: Annotated[int, "how many were measured"]
    interval95_of_the_share: Annotated[Interval, "[low, high] of the share that holds, 0 to 1"]
    mean_miss_ciede2000: Annotated[dict[str, float], "how far predictions were off on average, by kind"]
    proposals: Annotated[list[MeasuredProposalJson], "those that were measured"]
    waiting: Annotated[list[WaitingProposalJson], "those that were not measured yet"]
