"""What is left on the shelf, and what to weigh for a pre-mix -> one dict -> text or JSON."""

from __future__ import annotations

from collections.abc import Sequence

from ...library.changes import Change
from ...library.library import Library
from ...library.proposals import PIGMENT, POT, PRE_MIX
from ...library.shelf.ledger import Holding, holdings
from ...library.shelf.pre_mixes import pre_mixes
from ...recipes.premix import Making
from ...recipes.recipe import CLEAR_BASE
from ...recipes.safety import INK, care_lines, named_in
from ...recipes.scale_resolution import FINE_G, as_read
from ..cautions import care_text
from ..json_types.colours import FORMAT
from ..json_types.shelf import LeftJson, MakingJson, PotLeftJson, PreMixJson, ShelfJson
from ..library_care import done_dict
from ..library_text import done_text
from ..said import age_dict, age_words

DIGITS = 4  # of grams, as the library keeps them


def shelf_dict(library: Library) -> ShelfJson:
    """What is left of everything on the shelf."""
    there, jars = holdings(library), {jar.number: jar for jar in pre_mixes(library)}
    return {
        "format": FORMAT,
        "library": str(library.place),
        "pots": [_pot(one) for one in there if one.of == POT],
        "pre_mixes": [
            {
                "pre_mix": one.name,
                "pigment": jars[one.number].pigment,
                "percent": round(100 * jars[one.number].share, 4),
                "percent_std": round(100 * jars[one.number].share * jars[one.number].std, 4),
                **_left(one),
                **age_dict(one.mixed),
                "lot": one.lot,
            }
            for one in there
            if one.of == PRE_MIX and one.number in jars
        ],
        "pigments": [{"pigment": one.name, **_left(one), "lot": one.lot} for one in there if one.of == PIGMENT],
    }


def shelf_text(facts: ShelfJson) -> str:
    """What `swatchcam shelf list` prints: pots, pre-mixes and pigments, a line each."""
    groups = {
        "Pots": [(f"{pot['shade']}, {pot['batch']}", [_grams(pot), age_words(pot)]) for pot in facts["pots"]],
        "Pre-mixes": [(jar["pre_mix"], [_grams(jar), age_words(jar), _lot(jar["lot"])]) for jar in facts["pre_mixes"]],
        "Pigments": [(each["pigment"], [_grams(each), _lot(each["lot"])]) for each in facts["pigments"]],
    }
    lines = []
    for title, rows in groups.items():
        width = max((len(name) for name, _ in rows), default=0)
        lines += [f"{title}:"] if rows else []
        lines += [f"  {name:<{width}}  {', '.join(filter(None, words))}" for name, words in rows]
    return "\n".join(lines or ["Nothing is on the shelf yet."])


def pre_mix_dict(makings: Sequence[Making], kept: Change | None) -> PreMixJson:
    """What to weigh, in order."""
    found: list[MakingJson] = [
        {
            "pre_mix": each.made.name,
            "of": each.of.name if each.of else each.made.pigment,
            "ink_grams": round(each.ink_g, DIGITS),
            "clear_base_grams": round(each.binder_g, DIGITS),
            "percent": round(100 * each.made.share, 4),
            "percent_std": round(100 * each.made.share * each.made.std, 4),
        }
        for each in makings
    ]
    # What is kept was weighed before.
    care = () if kept else care_lines({INK} | named_in(each.made.pigment for each in makings))
    return {"format": FORMAT, "makings": found, "kept": done_dict(kept) if kept else None, "care": list(care)}


def pre_mix_text(facts: PreMixJson) -> str:
    """What `swatchcam shelf pre-mix` prints: a line for each pre-mix that is made, or what was kept; then the label
    and what to take care of."""
    lines = [done_text(facts["kept"])] if facts["kept"] else _weighings(facts["makings"])
    last = facts["makings"][-1]
    lines.append(
        f"Write on it: {last['pre_mix']}, the date and the lot. It holds {last['percent']:.3g} % of pigment, give or"
        f" take {2 * last['percent_std']:.1g} %."
    )
    return "\n".join([*lines, *(["", care_text(facts["care"])] if facts["care"] else [])])


def _weighings(makings: Sequence[MakingJson]) -> list[str]:
    weigh = [f"{number}. Weigh" for number in range(1, len(makings) + 1)] if len(makings) > 1 else ["Weigh"]
    return [
        f"{start} {each['ink_grams']:.10g} g of {each['of']} and {each['clear_base_grams']:.10g} g of {CLEAR_BASE}, and"
        f" mix well: that is {each['pre_mix']}."
        for start, each in zip(weigh, makings, strict=True)
    ]


def _pot(one: Holding) -> PotLeftJson:
    return {"shade": one.shade, "batch": one.name, **_left(one), **age_dict(one.mixed)}


def _left(one: Holding) -> LeftJson:
    return {"grams": one.grams, "taken_beyond_grams": one.beyond}


def _grams(left: LeftJson) -> str:
    if left["grams"] is None:
        return "not weighed yet"
    if left["taken_beyond_grams"]:
        return f"0 g (weigh it: {left['taken_beyond_grams']:.10g} g more were taken than was known to be there)"
    return f"{as_read(left['grams'], FINE_G)} g"


def _lot(name: str) -> str:
    return f"lot {name}" if name else ""
