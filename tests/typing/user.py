"""What a user's script looks like to `mypy --strict`, beside the installed package."""

from __future__ import annotations

import swatchcam


def sizes(photos: list[str]) -> dict[str, float]:
    found: dict[str, float] = {}
    for photo in photos:
        try:
            result: swatchcam.CheckResult = swatchcam.check(photo, card="sample-card", tolerance=1.5)
        except swatchcam.SwatchcamError as error:
            print(error.code, error.remedy, error)
            continue
        low, high = result.interval
        found[f"{photo} ({result.outcome}, {low:.1f} to {high:.1f})"] = result.difference
    return found


def told(photo: str) -> float:
    facts = swatchcam.check(photo, card="sample-card").as_dict()
    difference: float = facts["difference"]["ciede2000"]
    fine: bool = facts["verdict"] == "same" and not facts["sample_photo"]["flags"]
    sentences: list[str] = [flag["sentence"] for flag in facts["sample_photo"]["flags"]]
    print(fine, sentences)
    return difference


def strips(photo: str) -> list[tuple[str, float]]:
    measured: swatchcam.Measurement = swatchcam.measure(photo, card="sample-card", loose=True)
    weak: list[str] = [flag.code for flag in measured.flags]
    print(weak)
    return [(row["name"], row["L"]) for row in measured.rows()]


def recipes(name: str) -> list[dict[str, object]]:
    library = swatchcam.open_library(name)
    records: list[swatchcam.Record] = library.records("rust")
    target = swatchcam.Target(record=records[-1].number)
    rows: list[dict[str, object]] = [*swatchcam.recommend(library, target, 300, scale_g=0.01).rows()]
    rows += swatchcam.correct(library, "pot.jpg", shade="rust", grams=290, target_strip="left").rows()
    return rows
