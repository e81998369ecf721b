"""A card's colours as the commands of `swatchcam card` print them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...cards.print_number import spoken
from ...errors import UsageError
from ...messages.surface import TERMINAL
from ...report.said import flag_dicts
from ...text import listed

if TYPE_CHECKING:
    from ...cards.design import CardDesign
    from ...cards.values import CardValues
    from ...report.json_types import CardJson


def find_design(name: str) -> CardDesign:
    """The design of this name; a refusal lists those there are."""
    from ...cards.design import designs

    found = designs().get(name)
    if found is None:
        raise UsageError("no-such-design", "choose-a-design", name=name, designs=sorted(designs()))
    return found


def card_dict(design: CardDesign, values: CardValues) -> CardJson:
    """Everything about a card's colours, for programs."""
    sent = {patch.name: list(patch.srgb) for patch in design.patches}
    return {
        "card": values.name,
        "design": values.design,
        "grade": values.grade,
        "illuminant": values.illuminant,
        "observer": values.observer,
        "geometry": values.geometry,
        "condition": values.condition,
        "specular": values.specular,
        "date": values.date,
        "source": values.source,
        "uncertainty": {"value": values.uncertainty, "unit": "CIEDE2000", "meaning": "one standard deviation"},
        "numbers": list(values.numbers),
        "path": values.path,
        "flags": flag_dicts(values.flags),
        "patches": [
            {"name": name, "srgb": sent.get(name), "lab": [round(value, 4) for value in lab]}
            for name, lab in values.lab.items()
        ],
    }


def card_text(design: CardDesign, values: CardValues) -> str:
    """A card's colours for a person."""
    from ...cards.values import PHOTOGRAPHED

    sent = {patch.name: patch.srgb for patch in design.patches}
    done = {"profile": "made", PHOTOGRAPHED: "first seen"}.get(values.grade, "read")
    # How far off the colours of a photographed print may be is in its frame: one number for all would be too small.
    good = f"; one value is good to {values.uncertainty:.2g} CIEDE2000 (one standard deviation)"
    read = f", {done} on {values.date}" if values.date else ""
    head = [
        f"Card '{values.name}', design {design.name} ({design.title})",
        f"Values {values.grade}{read}; from {values.source}",
        *([f"Of print {listed([*map(spoken, values.numbers)])}"] if values.numbers else []),
        f"For {values.illuminant}/{values.observer}°{good * (values.grade != PHOTOGRAPHED)}",
        *(f"! {TERMINAL.flag(each)}" for each in values.flags),
        "",
        f"{'patch':<8}{'sent (sRGB)':<16}{'L':>8}{'a':>8}{'b':>8}",
    ]
    rows = [f"{name:<8}{_sent(sent.get(name)):<16}{_columns(lab)}" for name, lab in values.lab.items()]
    return "\n".join(head + rows)


def _sent(codes: tuple[int, int, int] | None) -> str:
    return " ".join(map(str, codes)) if codes else "bare stock"


def _columns(lab: tuple[float, float, float]) -> str:
    # Adding zero turns -0.00 into 0.00.
    return "".join(f"{round(value, 2) + 0:8.2f}" for value in lab)
