"""What the studio has and usually does -> one dict -> text or JSON."""

from __future__ import annotations

from ...library.library import Library
from ...library.shelf.pigments import pigments
from ...library.shelf.pre_mixes import pre_mixes
from ...library.shelf.studio import studio_of
from ..json_types.colours import FORMAT
from ..json_types.shelf import DropsJson, StudioJson

OPTIONS = {"pot": "grams"}  # what is said with an option of another name


def studio_dict(library: Library) -> StudioJson:
    """What was said of the studio, and the drops of its bottles."""
    said = studio_of(library)
    bottles = [(one.name, one.drops) for one in pigments(library) if one.drops]
    bottles += [(jar.name, jar.drops) for jar in pre_mixes(library) if jar.drops]
    drops: list[DropsJson] = [
        {"of": name, "grams": round(each.grams, 5), "percent_std": round(100 * each.std, 1)} for name, each in bottles
    ]
    return {
        "format": FORMAT,
        "library": str(library.place),
        "scale_grams": said.scale_g,
        "spoon_millilitres": None if said.spoon_ml is None else round(said.spoon_ml, 3),
        "pot_grams": said.pot_g,
        "card": said.card,
        "cloth": said.cloth,
        "state": str(said.state or ""),
        "tolerance_ciede2000": said.tolerance,
        "drops": drops,
    }


def studio_text(facts: StudioJson) -> str:
    """What `swatchcam studio` prints: a line for each thing that was said, then what was not."""
    grams, tolerance = facts["scale_grams"], facts["tolerance_ciede2000"]
    lines = {
        "scale": "" if grams is None else f"steps of {grams:g} g",
        "spoon": "" if facts["spoon_millilitres"] is None else f"{facts['spoon_millilitres']:.3g} ml",
        "pot": "" if facts["pot_grams"] is None else f"{facts['pot_grams']:.10g} g",
        "card": facts["card"],
        "cloth": facts["cloth"],
        "state": facts["state"],
        "tolerance": "" if tolerance is None else f"{tolerance:g} CIEDE2000",
    }
    width = max(map(len, lines))
    said = [f"  {name:<{width}}  {words}" for name, words in lines.items() if words]
    said += [_drops(each, width, place == 0) for place, each in enumerate(facts["drops"])]
    open_ = [f"--{OPTIONS.get(name, name)}" for name, words in lines.items() if not words]
    open_ += ["--drops"] * (not facts["drops"])
    head = ["What the studio has and usually does:", *said] if said else ["Nobody has said yet what the studio has."]
    return "\n".join([*head, *([f"Not said yet: {', '.join(open_)}."] if open_ else [])])


def _drops(each: DropsJson, width: int, first: bool) -> str:
    sure = f"give or take {2 * each['percent_std']:.0f} %"  # in 95 of 100 cases
    return f"  {'drops' if first else '':<{width}}  {each['of']}: {each['grams']:.3g} g a drop, {sure}"
