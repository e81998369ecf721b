"""The dicts of `report.library_records` in words, as the terminal shows them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from ..colorimetry.colour_difference import describe_difference
from ..library.heat_shift import BeforeAfter
from ..library.records import HEAT_SET, RUBBED, WASHED
from ..recipes.safety import FIXER, HEAT, POWDER
from ..text import counted, let_down_words, listed
from .cautions import NOBODY, care_text
from .heat_series import heat_series_lines
from .json_types import BatchAccountJson, KeptJson, NearJson, PairJson, RecordJson, ShadeAccountJson
from .json_types.colours import NumberJson
from .json_types.library import BatchJson, HistoryJson, ShadeJson, StainedRecordJson
from .json_types.library_care import ChangeJson, CountJson, FillJson, LogJson, VerifyJson, WhereJson
from .said import flag_lines

CAUSES = {HEAT_SET: "Heat setting", WASHED: "Washing", RUBBED: "Rubbing"}


def record_text(facts: RecordJson, numbers: bool = True, doubt: bool = True) -> str:
    """A record in one line, and its `numbers` in another; `doubt`: say what its numbers are good for."""
    rough = "" if facts["absolute_values_may_be_judged"] or not doubt else "  (for comparison only)"
    mark = f", strip {facts['mark']}" if facts["mark"] else ""
    head = f"record {facts['number']}: {facts['shade']}, {batch_words(facts)}{mark}, {facts['state']}"
    if not numbers:
        return f"{head}, {facts['measured']}{rough}"
    return (
        f"{head}, {facts['measured']}\n  L* {facts['L']:.2f}  a* {facts['a']:.2f}  b* {facts['b']:.2f}"
        f"   ±{facts['interval95_ciede2000']:.2f} CIEDE2000   {facts['srgb_approx']}{rough}"
    )


def batch_words(facts: RecordJson | PairJson | StainedRecordJson) -> str:
    """The batch, and how far the ink of this strip was let down if it was."""
    return ", ".join(filter(None, (f"batch {facts['batch']}", let_down_words(facts["let_down"]))))


def coat_words(facts: RecordJson) -> str:
    """The weight of wet ink on it; "" where nobody weighed it."""
    coat = facts["coat"]
    if not coat:
        return ""
    range_percent = 196 * coat["relative_standard_uncertainty"]  # 95 %, as all that is said with ±
    return f"{coat['g_per_m2']:.1f} g/m² of wet ink (±{range_percent:.0f} %)"


def details_text(facts: RecordJson, numbers: bool = True) -> str:
    """A record with all that was said of it."""
    photos = ", ".join(f"{photo['name']} ({photo['sha256'][:12]})" for photo in facts["photos"])
    everything: Mapping[str, object] = facts
    said = {key: everything[key] for key in ("cloth", "mesh", "squeegee", "light", "phone", "notes") if everything[key]}
    lines = [record_text(facts, numbers), f"  {facts['strip']} strip; card {facts['card']} ({facts['card_grade']})"]
    lines += [f"  {facts['illuminant']}, {facts['observer_deg']}° observer; photos: {photos}"]
    lines += [f"  coat: {words}"] if (words := coat_words(facts)) else []
    lines += [f"  {name}: {value}" for name, value in said.items()]
    if stained := facts["staining"]:
        lines += [f"  {stained['sentence']} ({', '.join(photo['name'] for photo in stained['photos'])})"]
    lines += flag_lines(facts["flags"])
    return "\n".join(lines)


def shades_text(shades: Sequence[ShadeJson], numbers: bool = True) -> str:
    """One line for each shade."""
    if not shades:
        return "No shade fits."
    width = max(len(facts["shade"]) for facts in shades)
    return "\n".join(_shade_line(facts, width, numbers) for facts in shades)


def _shade_line(facts: ShadeJson, width: int, numbers: bool) -> str:
    last, tags = facts["last"], f"  [{', '.join(facts['tags'])}]" if facts["tags"] else ""
    count = counted(len(facts["batches"]), "batch", "batches")
    if not numbers:
        return f"{facts['shade']:<{width}}  {count}{tags}"
    colour = f"{last['srgb_approx']}  L* {last['L']:6.2f}  a* {last['a']:7.2f}  b* {last['b']:7.2f}" if last else ""
    return f"{facts['shade']:<{width}}  {colour}  {count}{tags}"


def shade_text(facts: ShadeAccountJson, numbers: bool = True) -> str:
    """A shade with its batches, its history and what heat setting did, as `shade show` prints it."""
    target, tolerance = facts["target"], facts["tolerance_ciede2000"]
    lines = [facts["shade"] + (f"  [{', '.join(facts['tags'])}]" if facts["tags"] else "")]
    colour = f" L* {target['L']:.2f}  a* {target['a']:.2f}  b* {target['b']:.2f}" if target and numbers else " set"
    lines += [f"target{colour} ({facts['target_state'] or 'state not said'})" if target else "no target"]
    lines += [f"tolerance {tolerance:g} CIEDE2000"] if tolerance else []
    lines += ["judged by the pot, not by single strips"] if facts["judge"] == "pot" else []
    lines += [facts["notes"]] if facts["notes"] else []
    for batch in facts["batches"]:
        lines.append(_batch_line(batch))
    for past in facts["history"]:
        lines += ["", *_history_lines(past, numbers)]
    if facts["heat_and_wash"]:
        lines += [""]
    for pair in facts["heat_and_wash"]:
        lines += [f"{batch_words(pair)}, record {pair['before']} to {pair['after']} ({pair['state']}):"]
        lines += [f"  {line}" for line in _pair_lines(pair, numbers)]
    for cloth in facts["staining"]:
        lines += ["", f"{batch_words(cloth)}, record {cloth['record']} ({cloth['state']}), white cloth:"]
        lines += [f"  {cloth['sentence']}"]
    return "\n".join(lines)


def _batch_line(batch: BatchJson) -> str:
    mixed = f", mixed {batch['mixed']}" if batch["mixed"] else ""
    ink = f", {batch['ink']}" if batch["ink"] else ""
    recipe = f": {batch['recipe']}" if batch["recipe"] else ""
    return f"batch {batch['batch']}{mixed}{ink}{recipe}"


def batch_text(facts: BatchAccountJson, numbers: bool = True) -> str:
    """A batch with its recipe and its records, as `batch` prints it."""
    lines = [f"{facts['shade']}, {_batch_line(facts)}"]
    lines += [] if facts["recipe"] else ["no recipe kept"]
    lines += [facts["notes"]] if facts["notes"] else []
    lines += [record_text(record, numbers) for record in facts["records"]]
    lines += [line for series in facts["heating"] for line in ["", *heat_series_lines(series)]]
    return "\n".join(lines + ([care_text(facts["care"], (FIXER, POWDER, HEAT))] if facts["care"] else []))


def _history_lines(past: HistoryJson, numbers: bool) -> list[str]:
    lines = [f"{past['state']}, compared with {past['reference']}:"]
    for point in past["points"]:
        low, high = point["interval95"]
        deltas = f"  ΔL* {point['delta_L']:+.2f}  ΔC* {point['delta_C']:+.2f}  ΔH* {point['delta_H']:+.2f}"
        lines.append(
            f"  record {point['record']:<4} batch {point['batch']:<12} {point['measured']}"
            f"  CIEDE2000 {point['ciede2000']:5.2f} ({low:.2f} to {high:.2f}){deltas if numbers else ''}"
        )
    for name, chart in past["charts"].items():
        lines += [f"  ! {name}: {signal['sentence']}" for signal in chart["signals"]]
    lines += [f"  {next(iter(past['charts'].values()))['sentence']}"] if past["charts"] else []
    return lines


def _pair_lines(pair: PairJson, numbers: bool) -> list[str]:
    """What became of a strip, and its shift in lightness, chroma and hue with what each may be."""
    if not numbers:
        return [pair["sentence"]]
    hue = pair["delta_h_deg"]
    parts = [f"ΔL* {_ranged(pair['delta_L'])}", f"ΔC* {_ranged(pair['delta_C'])}"]
    return [pair["sentence"], ", ".join([*parts, f"Δh {_ranged(hue)} degrees" if hue else "too grey to have a hue"])]


def _ranged(number: NumberJson) -> str:
    low, high = number["interval95"]
    return f"{number['value']:+.1f} ({low:+.1f} to {high:+.1f})"


def shift_text(pair: BeforeAfter) -> str:
    """What heat setting or washing did to a strip: in which way, by how much, how sure, and its grade."""
    moved, cause = pair.shift, CAUSES.get(pair.after.state.name, "What was done")
    names = listed(describe_difference(moved.after, moved.before))
    did = f"{cause} made it {names}" if names else f"{cause} changed it"
    size = f"CIEDE2000 {moved.ciede2000.value:.1f} ({moved.ciede2000.low:.1f} to {moved.ciede2000.high:.1f})"
    sure = f"{did}: {size}, more than measurement error"
    unsure = f"{cause} changed it by no more than the likely measurement error: {size}"
    others = [name for name in moved.grades if name != moved.grade]
    maybe = f" (it may be {', '.join(others[:-1]) + ' or ' if others[1:] else ''}{others[-1]})" if others else ""
    return f"{sure if moved.real else unsure}; grey scale grade for change in colour {moved.grade}{maybe}."


def done_text(facts: ChangeJson) -> str:
    """What a change did."""
    return f"{facts['sentence'][:1].upper()}{facts['sentence'][1:]}."


def log_text(facts: LogJson) -> str:
    """One line for each change."""
    if not facts["changes"]:
        return "Nothing has been changed since it was kept."
    return "\n".join(
        f"{change['number']:>5}  {change['made'][:16].replace('T', ' ')}  {change['sentence']}"
        f"{'  (undone)' if change['undone'] else ''}"
        for change in facts["changes"]
    )


def where_text(facts: WhereJson) -> str:
    """The same for a person."""
    held = held_text(facts["shades"], facts["batches"], facts["records"])
    return f"Library: {facts['library']}\nPhotos:  {facts['photos']}\n{held}"


def held_text(shades: int, batches: int, records: int) -> str:
    """How much a library holds."""
    return f"{counted(shades, 'shade')}, {counted(batches, 'batch', 'batches')}, {counted(records, 'record')}"


def count_text(facts: CountJson) -> str:
    """The same for a person."""
    lines = [f"{_how_many(facts, 'card file')} {facts['done']} {facts['file']}."]
    for each in facts["aside"]:
        lines += [f"{each['yours']} stayed as it is; the backup's own is saved as {each['from_backup']}."]
    return "\n".join(lines)


def _how_many(facts: CountJson | VerifyJson, card: str) -> str:
    cards = [counted(facts["cards"], card)] if facts["cards"] else []
    return listed([counted(facts["records"], "record"), counted(facts["photos"], "photo"), *cards])


def near_text(facts: NearJson, numbers: bool = True) -> str:
    """One line for each shade, the nearest first."""
    if not facts["nearest"]:
        return "The library holds no record for D65 and 10° yet. Keep one: swatchcam keep PHOTO --shade NAME"
    return "\n".join(
        f"CIEDE2000 {each['ciede2000']:6.2f}{'  ' + each['record']['srgb_approx'] if numbers else ''}"
        f"  {each['record']['shade']}"
        f"  (record {each['record']['number']}, batch {each['record']['batch']}, {each['record']['state']})"
        f"{'' if each['record']['absolute_values_may_be_judged'] else '  (for comparison only)'}"
        for each in facts["nearest"]
    )


def kept_text(facts: KeptJson, numbers: bool = True, known: Collection[str] = NOBODY) -> str:
    """The same for a person; what to take care of in short where it is `known`."""
    lines = [line for record in (facts["record"], *facts["further_records"]) for line in _kept_lines(record, numbers)]
    lines += [line for pair in facts["heat_and_wash"] for line in _pair_lines(pair, numbers)]
    lines += [facts["treatment_before"]["sentence"]] if facts["treatment_before"] else []
    return "\n".join(lines + ([care_text(facts["care"], known)] if facts["care"] else []))


def _kept_lines(record: RecordJson, numbers: bool) -> list[str]:
    everything: Mapping[str, object] = record
    taken_over = {name: everything[name] for name in ("cloth", "mesh", "squeegee", "light") if everything[name]}
    lines = [f"Kept as {record_text(record, numbers, doubt=False)}"]  # the flags below tell it
    lines += [f"  {', '.join(f'{name} {value}' for name, value in taken_over.items())}"] if taken_over else []
    lines += [f"  {words}"] if (words := coat_words(record)) else []
    return [*lines, *flag_lines(record["flags"])]


def fill_text(facts: FillJson) -> str:
    """The same for a person: each refusal by name."""
    kept, there, refused = len(facts["kept"]), len(facts["in_already"]), len(facts["refused"])
    lines = [
        f"Kept {counted(kept, 'strip')}; {counted(there, 'photo was', 'photos were')} already in the library;"
        f" {refused} refused."
    ]
    for each in facts["refused"]:
        lines += [f"  {each['photo']}: {each['problem']}", f"    {each['next']}"]
    return "\n".join(lines)


def verify_text(facts: VerifyJson) -> str:
    """What was looked at, and what is not as it was."""
    head = f"Looked at {_how_many(facts, 'card')}"
    if not facts["findings"]:
        return f"{head}: nothing has changed."
    return "\n".join([f"{head}:", *(f"  ! {each['sentence']}" for each in facts["findings"])])
