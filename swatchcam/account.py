"""What the library says -> one dict -> text or JSON, as `report` does for a photo."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from .changes import Change
from .colorimetry import lab_to_lch, lab_to_srgb
from .foretell import Foretold
from .heat import Pair, Range, pair
from .history import History, Point, history
from .label import recipe_words
from .library import Library, key
from .recall import Recalled
from .record import STAGES, Batch, Record, Shade
from .report import FORMAT
from .safekeeping import Count, Finding


def record_dict(record: Record) -> dict[str, Any]:
    """A record as plain numbers and words."""
    colour = record.colour
    _, chroma, hue = (float(v) for v in lab_to_lch(np.array(colour.lab)))
    rgb, inside = lab_to_srgb(np.array(colour.lab), colour.illuminant, colour.observer)
    return {
        "number": record.number,
        "shade": record.shade,
        "batch": record.batch,
        "label": record.strip,
        "stage": str(record.stage),
        "measured": record.measured,
        "drawdown": colour.name,
        "L": round(colour.lab[0], 2),
        "a": round(colour.lab[1], 2),
        "b": round(colour.lab[2], 2),
        "C": round(chroma, 2),
        "h_deg": round(hue, 1),
        "interval95_ciede2000": round(colour.radius, 2),
        "absolute_values_may_be_judged": colour.absolute,
        "illuminant": colour.illuminant,
        "observer_deg": colour.observer,
        "srgb_approx": "#" + "".join(f"{round(255 * float(v)):02x}" for v in rgb),
        "srgb_in_gamut": bool(inside),
        "cloth": record.cloth,
        "mesh": record.mesh,
        "squeegee": record.squeegee,
        "card": record.card,
        "card_grade": record.grade,
        "phone": record.phone,
        "light": record.light,
        "photos": [{"name": photo.name, "sha256": photo.digest, "lamp": photo.lamp} for photo in record.photos],
        "flags": list(record.flags),
        "notes": record.notes,
    }


def shade_dict(shade: Shade, batches: Sequence[Batch], last: Record | None) -> dict[str, Any]:
    """A shade with its batches and its last record."""
    return {
        "shade": shade.name,
        "target": None if shade.target is None else dict(zip("Lab", shade.target, strict=True)),
        "tolerance_ciede2000": shade.tolerance,
        "tags": list(shade.tags),
        "notes": shade.notes,
        "batches": [batch_dict(batch) for batch in batches],
        "last": record_dict(last) if last else None,
    }


def batch_dict(batch: Batch) -> dict[str, Any]:
    """A batch with its recipe as given."""
    return {
        "batch": batch.name,
        "mixed": batch.mixed,
        "ink": batch.ink,
        "recipe": recipe_words(batch.recipe) if batch.recipe else "",
        "notes": batch.notes,
    }


def history_dict(past: History) -> dict[str, Any]:
    """A shade's history at one stage, with its control charts."""
    return {
        "stage": past.stage,
        "reference": past.reference,
        "points": [_point_dict(point) for point in past.points],
        "charts": {name: _chart_dict(chart) for name, chart in past.charts.items()},
    }


def _point_dict(point: Point) -> dict[str, Any]:
    return {
        "record": point.record.number,
        "batch": point.record.batch,
        "measured": point.record.measured,
        "ciede2000": round(point.ciede2000, 2),
        "interval95": [round(point.low, 2), round(point.high, 2)],
        "delta_L": round(point.delta_l, 2),
        "delta_C": round(point.delta_c, 2),
        "delta_H": round(point.delta_h, 2),
    }


def _chart_dict(chart: Any) -> dict[str, Any]:
    limits = (chart.centre, chart.lower, chart.upper, chart.range_upper)
    names = ("centre", "lower_limit", "upper_limit", "range_upper_limit")
    rounded = {name: None if value is None else round(value, 2) for name, value in zip(names, limits, strict=True)}
    signals = [{"point": signal.index, "rule": signal.rule, "words": signal.words} for signal in chart.signals]
    return rounded | {"provisional": chart.provisional, "signals": signals, "words": chart.words}


def pair_dict(pair: Pair) -> dict[str, Any]:
    """What heat setting or washing did to one strip."""
    shift = pair.shift
    return {
        "before": pair.before.number,
        "after": pair.after.number,
        "batch": pair.after.batch,
        "label": pair.after.strip,
        "stage": str(pair.after.stage),
        "delta_L": _range(shift.lightness),
        "delta_C": _range(shift.chroma),
        "delta_h_deg": None if shift.hue is None else _range(shift.hue),
        "ciede2000": _range(shift.ciede2000),
        "real": shift.real,
        "grey_scale_grade": shift.grade,
        "grey_scale_grades_possible": list(shift.grades),
        "sentence": pair.words,
    }


def _range(value: Range) -> dict[str, Any]:
    return {"value": round(value.value, 2), "interval95": [round(value.low, 2), round(value.high, 2)]}


def recalled_dict(recalled: Recalled) -> dict[str, Any]:
    """What a drawdown was judged against, for `report.check_dict`."""
    record, shade = recalled.record, recalled.shade
    return {
        "record": None if record is None else record_dict(record),
        "shade": shade.name if shade else "",
        "target": None if record is not None or shade is None else list(shade.target or ()),
        "foretold": None if recalled.foretold is None else foretold_dict(recalled.foretold),
        "notes": list(recalled.notes),
    }


def foretold_dict(foretold: Foretold) -> dict[str, Any]:
    """The colour that a dry strip is going to have."""
    names = dict(zip("Lab", (round(value, 2) for value in foretold.lab), strict=True))
    return names | {"interval95_ciede2000": round(foretold.radius, 2), "pairs": foretold.pairs}


def verify_dict(count: Count, findings: Sequence[Finding]) -> dict[str, Any]:
    """What was looked at, and what is not as it was."""
    return {
        "format": FORMAT,
        "records": count.records,
        "photos": count.photos,
        "findings": [{"what": finding.what, "words": finding.words} for finding in findings],
    }


def record_text(facts: dict[str, Any]) -> str:
    """A record in one line, and its flags."""
    doubt = "" if facts["absolute_values_may_be_judged"] else "  (not for absolute use)"
    label = f", strip {facts['label']}" if facts["label"] else ""
    head = f"record {facts['number']}: {facts['shade']}, batch {facts['batch']}{label}, {facts['stage']}"
    return (
        f"{head}, {facts['measured']}\n  L* {facts['L']:.2f}  a* {facts['a']:.2f}  b* {facts['b']:.2f}"
        f"   ±{facts['interval95_ciede2000']:.2f} CIEDE2000   {facts['srgb_approx']}{doubt}"
    )


def details_text(facts: dict[str, Any]) -> str:
    """A record with all that was said of it."""
    photos = ", ".join(f"{photo['name']} ({photo['sha256'][:12]})" for photo in facts["photos"])
    said = {key: facts[key] for key in ("cloth", "mesh", "squeegee", "light", "phone", "notes") if facts[key]}
    lines = [record_text(facts), f"  {facts['drawdown']} drawdown; card {facts['card']} ({facts['card_grade']})"]
    lines += [f"  {facts['illuminant']}, {facts['observer_deg']}° observer; photos: {photos}"]
    lines += [f"  {name}: {value}" for name, value in said.items()] + [f"  ! {flag}" for flag in facts["flags"]]
    return "\n".join(lines)


def shades_text(shades: Sequence[dict[str, Any]]) -> str:
    """One line for each shade."""
    if not shades:
        return "No shade fits."
    width = max(len(facts["shade"]) for facts in shades)
    return "\n".join(_shade_line(facts, width) for facts in shades)


def _shade_line(facts: dict[str, Any], width: int) -> str:
    last, tags = facts["last"], f"  [{', '.join(facts['tags'])}]" if facts["tags"] else ""
    colour = f"{last['srgb_approx']}  L* {last['L']:6.2f}  a* {last['a']:7.2f}  b* {last['b']:7.2f}" if last else ""
    count = len(facts["batches"])
    return f"{facts['shade']:<{width}}  {colour}  {count} batch{'es' if count != 1 else ''}{tags}".rstrip()


def shade_text(facts: dict[str, Any]) -> str:
    """A shade with its batches, its history and what heat setting did, as `shade show` prints it."""
    target, tolerance = facts["target"], facts["tolerance_ciede2000"]
    lines = [facts["shade"] + (f"  [{', '.join(facts['tags'])}]" if facts["tags"] else "")]
    lines += [f"target L* {target['L']:.2f}  a* {target['a']:.2f}  b* {target['b']:.2f}"] if target else ["no target"]
    lines += [f"tolerance {tolerance:g} CIEDE2000"] if tolerance else []
    lines += [facts["notes"]] if facts["notes"] else []
    for batch in facts["batches"]:
        mixed = f", mixed {batch['mixed']}" if batch["mixed"] else ""
        ink = f", {batch['ink']}" if batch["ink"] else ""
        recipe = f": {batch['recipe']}" if batch["recipe"] else ""
        lines.append(f"batch {batch['batch']}{mixed}{ink}{recipe}")
    for past in facts["history"]:
        lines += ["", *_history_lines(past)]
    if facts["heat_and_wash"]:
        lines += ["", *(_pair_line(pair) for pair in facts["heat_and_wash"])]
    return "\n".join(lines)


def _history_lines(past: dict[str, Any]) -> list[str]:
    lines = [f"{past['stage']}, against the {past['reference']}:" if past["reference"] else past["stage"]]
    for point in past["points"]:
        low, high = point["interval95"]
        lines.append(
            f"  record {point['record']:<4} batch {point['batch']:<12} {point['measured']}"
            f"  CIEDE2000 {point['ciede2000']:5.2f} ({low:.2f} to {high:.2f})"
            f"  ΔL* {point['delta_L']:+.2f}  ΔC* {point['delta_C']:+.2f}  ΔH* {point['delta_H']:+.2f}"
        )
    for name, chart in past["charts"].items():
        lines += [f"  ! {name}: {signal['words']}" for signal in chart["signals"]]
    lines += [f"  {next(iter(past['charts'].values()))['words']}"] if past["charts"] else []
    return lines


def _pair_line(pair: dict[str, Any]) -> str:
    return f"batch {pair['batch']}, record {pair['before']} to {pair['after']} ({pair['stage']}): {pair['sentence']}"


def recalled_lines(facts: dict[str, Any]) -> list[str]:
    """What `check` adds when a drawdown was judged against the library."""
    lines = []
    if facts["foretold"]:
        after = facts["foretold"]
        lines.append(
            f"foretold after heat setting: L* {after['L']:.2f}  a* {after['a']:.2f}  b* {after['b']:.2f}"
            f"   ±{after['interval95_ciede2000']:.2f} CIEDE2000, from {after['pairs']} strips"
        )
    return lines + [f"! {note}" for note in facts["notes"]]


def log_text(changes: Sequence[Change]) -> str:
    """The changes, the newest first."""
    if not changes:
        return "Nothing has been changed since it was kept."
    return "\n".join(
        f"{change.number:>5}  {change.made[:16].replace('T', ' ')}  {change.words}{'  (undone)' * change.undone}"
        for change in changes
    )


def near_dict(found: Sequence[tuple[Record, float]], lab: Sequence[float]) -> dict[str, Any]:
    """The nearest shades: each shade's nearest record, and how far it is."""
    return {
        "format": FORMAT,
        "colour": dict(zip("Lab", (round(float(value), 2) for value in lab), strict=True)),
        "nearest": [{"ciede2000": round(apart, 2), "record": record_dict(record)} for record, apart in found],
    }


def near_text(facts: dict[str, Any]) -> str:
    """One line for each shade, the nearest first."""
    if not facts["nearest"]:
        return "The library holds no record yet."
    return "\n".join(
        f"CIEDE2000 {each['ciede2000']:6.2f}  {each['record']['srgb_approx']}  {each['record']['shade']}"
        f"  (record {each['record']['number']}, batch {each['record']['batch']}, {each['record']['stage']})"
        for each in facts["nearest"]
    )


def kept_dict(record: Record, pairs: Sequence[Pair], place: str) -> dict[str, Any]:
    """What `keep` prints: the record, and what heat setting or washing did to its strip."""
    return {
        "format": FORMAT,
        "library": place,
        "record": record_dict(record),
        "heat_and_wash": [pair_dict(pair) for pair in pairs],
    }


def kept_text(facts: dict[str, Any]) -> str:
    """The same for a person."""
    record = facts["record"]
    taken_over = {name: record[name] for name in ("cloth", "mesh", "squeegee", "light") if record[name]}
    lines = [f"Kept as {record_text(record)}"]
    lines += [f"  {', '.join(f'{name} {value}' for name, value in taken_over.items())}"] if taken_over else []
    lines += [f"  ! {flag}" for flag in record["flags"]]
    lines += [pair["sentence"] for pair in facts["heat_and_wash"]]
    return "\n".join(lines)


def shades_dict(library: Library, tag: str | None = None, text: str | None = None) -> dict[str, Any]:
    """The shades with that tag and that text in what was said of them, each with its batches and last record."""
    last, batches = library.latest(), dict[str, list[Batch]]()
    for batch in library.batches():
        batches.setdefault(batch.shade, []).append(batch)
    found = [
        shade_dict(shade, batches.get(shade.name, []), last.get(shade.name))
        for shade in library.shades()
        if tag is None or key(tag) in shade.tags
    ]
    fit = [facts for facts in found if text is None or text.casefold() in _said(facts)]
    return {"format": FORMAT, "library": str(library.place), "shades": fit}


def _said(facts: dict[str, Any]) -> str:
    """Everything that was said of a shade, in small letters."""
    last = facts["last"] or {}
    words = [facts["shade"], facts["notes"], *facts["tags"], *(str(last.get(name, "")) for name in ("cloth", "notes"))]
    for batch in facts["batches"]:
        words += [batch["batch"], batch["ink"], batch["recipe"], batch["notes"]]
    return "\n".join(words).casefold()


def shade_account(library: Library, name: str) -> dict[str, Any]:
    """Everything about a shade: batches, history at each stage, heat setting and washing."""
    shade = library.shade(name)
    records = library.records(shade.name)
    stages = [stage for stage in STAGES if any(record.stage.name == stage for record in records)]
    facts = shade_dict(shade, library.batches(shade.name), library.latest().get(shade.name))
    return (
        {"format": FORMAT, "library": str(library.place)}
        | facts
        | {
            "history": [history_dict(history(shade, records, stage)) for stage in stages],
            "heat_and_wash": [pair_dict(found) for found in pair(records)],
        }
    )
