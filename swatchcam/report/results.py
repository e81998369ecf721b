"""Results for scripts and notebooks: each knows its JSON, its rows for a table, and how a notebook shows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any, NotRequired, TypedDict

from ..measurement import measure as measuring
from ..measurement.check import Check
from ..measurement.verdict import Verdict
from ..messages.message import Flag
from .json_types import AnswerJson, CheckJson, MeasurementJson
from .json_types.colours import LabJson
from .json_types.measuring import StripJson, StripNameJson
from .measurement import check_dict, difference_dict, measurement_dict, verdict_words

if TYPE_CHECKING:  # the database and the mixing table are loaded where they are used
    from ..library.compare import Recalled
    from ..mixing.order import Order
    from ..mixing.requests import Answer


class PhotoOfRow(TypedDict):
    """Where a strip was seen."""

    photo: str  # the file
    card: str  # name of its values
    grade: str  # one of `cards.validation.GRADES`


class StripRow(PhotoOfRow, StripNameJson, LabJson):
    """One strip in a table; CIELAB units, degrees, mm²."""

    interval95_first_photo_ciede2000: NotRequired[float]  # where there are several photos
    area_mm2: int
    unevenness_L: float


class CheckRow(TypedDict):
    """One verdict in a table; CIEDE2000 but where CIELAB units are named."""

    verdict: str
    tolerance: float
    sample: str
    reference: str
    ciede2000: float
    delta_L: float  # CIELAB units, as delta_C and delta_H
    delta_C: float
    delta_H: float
    cmc_2_1: float  # CMC(2:1)
    interval95_low: float
    interval95_high: float


@dataclass(frozen=True)
class Measurement:
    """The strips that photos of one scene show."""

    found: measuring.Measurement

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Why the numbers may be weak: of the photos, then of each strip."""
        return (*self.found.flags, *(flag for colour in self.found.colours for flag in colour.strip.flags))

    def as_dict(self) -> MeasurementJson:
        """The JSON of `swatchcam measure`."""
        return measurement_dict(self.found)

    def rows(self) -> list[StripRow]:
        """One flat dict a strip: the photo, CIELAB, the 95 % interval."""
        facts = self.as_dict()
        card = facts["card"]
        of: PhotoOfRow = {"photo": facts["photo"]["path"], "card": card["values"], "grade": card["grade"]}
        return [_strip_row(of, strip) for strip in facts["strips"]]

    def _repr_html_(self) -> str:
        return _table(self.rows(), ("name", "L", "a", "b", "interval95_ciede2000"))


@dataclass(frozen=True)
class CheckResult:
    """A strip judged against another colour."""

    found: Check
    recalled: Recalled | None = None

    @property
    def sample(self) -> Measurement:
        """The strips of the photo that was checked."""
        return Measurement(self.found.sample)

    @property
    def reference(self) -> Measurement | None:
        """Those of the other photo, where there is one."""
        return Measurement(self.found.reference) if self.found.reference else None

    @property
    def outcome(self) -> str:
        """ "same", "different" or "too close to call"."""
        return str(self.found.verdict.outcome)

    @property
    def difference(self) -> float:
        """CIEDE2000."""
        return self.found.verdict.difference.delta_e

    @property
    def interval(self) -> tuple[float, float]:
        """What holds the true CIEDE2000 in 95 of 100 cases."""
        return self.found.verdict.difference.low, self.found.verdict.difference.high

    def as_dict(self) -> CheckJson:
        """The JSON of `swatchcam check`."""
        from .library_records import recalled_dict, states_dict

        if self.recalled is None:
            return check_dict(self.found)
        return check_dict(self.found, recalled_dict(self.recalled), states=states_dict(self.recalled))

    def rows(self) -> list[CheckRow]:
        """One flat dict: the verdict, the difference and its interval."""
        return [_check_row(self.found.verdict)]

    def _repr_html_(self) -> str:
        low, high = self.interval
        size = f"CIEDE2000 {self.difference:.2f} (95 % interval {low:.2f} to {high:.2f})."
        line = escape(f"{verdict_words(self.found.verdict)} {size}")
        return f"<p><strong>{line}</strong></p>{self.sample._repr_html_()}"


@dataclass(frozen=True)
class Recommendation:
    """Recipes for a colour, or what to add to a pot; the recommended choice first."""

    answer: Answer
    order: Order

    def as_dict(self) -> AnswerJson:
        """The JSON of `swatchcam mix recipe` and `swatchcam mix correct`."""
        from .mixing import answer_dict

        return answer_dict(self.answer, self.order)

    def rows(self) -> list[dict[str, object]]:
        """One flat dict for each choice: grams of what is weighed, and how far from the target it is expected to be."""
        found: list[dict[str, object]] = []
        for number, choice in enumerate(self.as_dict()["choices"], start=1):
            low, high = choice["interval95"]
            grams = {f"{part['what']} (g)": part["grams"] for part in choice["put_in"]}
            found.append(
                {
                    "choice": number,
                    "ciede2000": choice["ciede2000_from_target"],
                    "interval95_low": low,
                    "interval95_high": high,
                    **grams,
                }
            )
        return found

    def _repr_html_(self) -> str:
        rows = self.rows()
        return _table(rows, tuple(dict.fromkeys(name for row in rows for name in row)))


def _strip_row(of: PhotoOfRow, strip: StripJson) -> StripRow:
    row: StripRow = {
        **of,
        "name": strip["name"],
        "L": strip["L"],
        "a": strip["a"],
        "b": strip["b"],
        "C": strip["C"],
        "h_deg": strip["h_deg"],
        "interval95_ciede2000": strip["interval95_ciede2000"],
        "srgb_approx": strip["srgb_approx"],
        "srgb_in_gamut": strip["srgb_in_gamut"],
        "area_mm2": strip["area_mm2"],
        "unevenness_L": strip["unevenness_L"],
    }
    if strip["interval95_first_photo_ciede2000"] is not None:
        row["interval95_first_photo_ciede2000"] = strip["interval95_first_photo_ciede2000"]
    return row


def _check_row(verdict: Verdict) -> CheckRow:
    found = difference_dict(verdict.difference)
    low, high = found["interval95"]
    return {
        "verdict": verdict.outcome.value,
        "tolerance": verdict.tolerance,
        "sample": found["sample"],
        "reference": found["reference"],
        "ciede2000": found["ciede2000"],
        "delta_L": found["delta_L"],
        "delta_C": found["delta_C"],
        "delta_H": found["delta_H"],
        "cmc_2_1": found["cmc_2_1"],
        "interval95_low": low,
        "interval95_high": high,
    }


def _table(rows: Sequence[Mapping[str, Any]], names: Sequence[str]) -> str:
    """A table for notebooks of these columns; a strip's own colour is drawn in its first cell."""
    drawn = any("srgb_approx" in row for row in rows)
    head = "".join(f"<th>{escape(name)}</th>" for name in names)
    body = "".join(
        f"<tr>{_chip(row) if drawn else ''}{''.join(_cell(row.get(name)) for name in names)}</tr>" for row in rows
    )
    return f"<table><tr>{'<th></th>' if drawn else ''}{head}</tr>{body}</table>"


def _chip(row: Mapping[str, Any]) -> str:
    colour = row.get("srgb_approx")
    return f'<td style="background:{escape(colour)};width:4em"></td>' if colour else ""


def _cell(value: Any) -> str:
    return f"<td>{escape('' if value is None else str(value))}</td>"
