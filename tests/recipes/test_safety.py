"""The words of care are there when they are needed, and only then."""

from __future__ import annotations

import pytest

from swatchcam.recipes.safety import (
    DISPOSAL,
    FIXER,
    HEAT,
    INK,
    LINES,
    POWDER,
    WHITE,
    care_lines,
    named_in,
    subjects_of,
)

# What has to be said of each, as the hazards were listed for this job; common practice, no source.
TOLD = {
    INK: ("safety data sheet", "gloves", "apron", "do not eat", "preservative", "rash", "splash", "safety glasses",
          "never goes back to the kitchen", "Label every pot"),
    FIXER: ("isocyanate", "aziridine", "allergic", "Wear gloves and safety glasses", "air the room", "pot life",
            "Never heat fixer, or ink with it, beyond what its data sheet says"),
    POWDER: ("dust", "damp", "mask that its data sheet names"),
    WHITE: ("from the bottom",),
    HEAT: ("press", "dryer", "iron", "steam", "temperature of the ink's maker", "licence or training", "ammonia",
           "formaldehyde", "wet screens", "wet hands"),
    DISPOSAL: ("local rules", "down the drain", "Scrape screen and squeegee"),
}  # fmt: skip
ALL = care_lines(LINES, over_limit=["red"])


def test_the_data_sheet_comes_first_where_ink_is_mixed():
    assert "safety data sheet first" in care_lines([INK])[0]
    assert care_lines({DISPOSAL, HEAT, FIXER, INK})[0] == care_lines([INK])[0]


@pytest.mark.parametrize("subject", TOLD)
def test_each_subject_says_what_it_has_to_and_nothing_else_comes_with_it(subject):
    lines = care_lines([subject])
    assert [word for word in TOLD[subject] if word not in " ".join(lines)] == []
    assert lines == LINES[subject]
    assert subjects_of(lines) == (subject,)


def test_what_may_hurt_comes_before_what_spoils_the_print():
    lines = care_lines({INK, FIXER, POWDER, HEAT, WHITE, DISPOSAL}, over_limit=["red"])
    hurts = [lines.index(line) for subject in (INK, FIXER, POWDER, HEAT) for line in LINES[subject]]
    spoils = [place for place, line in enumerate(lines) if "beyond the most" in line or line in LINES[WHITE]]
    assert max(hurts) < min(spoils)


def test_pigments_above_the_makers_limit_are_named():
    assert "black is beyond the most" in " ".join(care_lines([INK], over_limit=["black"]))
    assert "black, red and blue are beyond" in " ".join(care_lines((), over_limit=["black", "red", "blue"]))


def test_every_line_is_short_and_said_once_and_no_subject_has_many():
    assert len(set(ALL)) == len(ALL)
    for line in ALL:
        assert line.endswith(".")
        assert len(line) < 220
    assert all(len(lines) <= 4 for lines in LINES.values())


@pytest.mark.parametrize(
    ("names", "found"),
    [
        (["Fixer"], {FIXER}),
        (["fixative B", "red"], {FIXER}),
        (["CROSS-LINKER"], {FIXER}),
        (["crosslinker 5"], {FIXER}),
        (["cross linking agent"], {FIXER}),
        (["Hardener"], {FIXER}),
        (["Vernetzer"], {FIXER}),
        (["Härter"], {FIXER}),
        (["réticulant"], {FIXER}),
        (["fijador"], {FIXER}),
        (["red powder"], {POWDER}),
        (["Dry  Red"], {POWDER}),
        (["ultramarine (dry)"], {POWDER}),
        (["Pigmentpulver"], {POWDER}),
        (["poudre bleue"], {POWDER}),
        (["dry pigment", "fixer"], {FIXER, POWDER}),
        (["red", "blue", "binder", "clear base"], set()),
        (["dryad green", "laundry blue", "phoenix red", "crossroads brown"], set()),
        ([], set()),
    ],
)
def test_a_fixer_or_a_powder_is_known_by_its_name(names, found):
    assert named_in(names) == found
