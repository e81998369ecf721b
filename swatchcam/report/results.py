"""Results for scripts and notebooks: each knows its JSON, its rows for a table, and how a notebook shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

from ..measurement import measure as measuring
from ..measurement.check import Check
from ..messages.message import Flag
from .measurement import check_dict, measurement_dict

if TYPE_CHECKING:  # the database and the mixing table are loaded where they are used
    from ..library.compare import Recalled
    from ..mixing.order import Order
    from ..mixing.requests import Answer


@dataclass(frozen=True)
class Measurement:
    """The strips that photos of one scene show."""

    found: measuring.Measurement

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Why the numbers may be weak: of the photos, then of each strip."""
        return (*self.found.flags, *(flag for colour in self.found.colours for flag in colour.strip.flags))

    def as_dict(self) -> dict[str, Any]:
        """The JSON of `swatchcam measure`."""
        return measurement_dict(self.found)

    def rows(self) -> list[dict[str, Any]]:
        """One flat dict a strip: the photo, CIELAB, the 95 % interval."""
        facts = self.as_dict()
        photo, card = facts["photo"]["path"], facts["card"]
        about = {"photo": photo, "card": card["values"], "grade": card["grade"]}
        return [about | _flat(strip) for strip in facts["strips"]]

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

    def as_dict(self) -> dict[str, Any]:
        """The JSON of `swatchcam check`."""
        from .library_records import recalled_dict

        return check_dict(self.found, recalled_dict(self.recalled) if self.recalled else None)

    def rows(self) -> list[dict[str, Any]]:
        """One flat dict: the verdict, the difference and its interval."""
        facts = self.as_dict()
        low, high = facts["difference"]["interval95"]
        row = {"verdict": facts["verdict"], "tolerance": facts["tolerance"]} | _flat(facts["difference"])
        return [row | {"interval95_low": low, "interval95_high": high}]

    def _repr_html_(self) -> str:
        facts = self.as_dict()
        low, high = self.interval
        line = f"{facts['sentence']} CIEDE2000 {self.difference:.2f} (95 % interval {low:.2f} to {high:.2f})."
        return f"<p><strong>{escape(line)}</strong></p>{self.sample._repr_html_()}"


@dataclass(frozen=True)
class Recommendation:
    """Recipes for a colour, or what to add to a pot; the recommended choice first."""

    answer: Answer
    order: Order

    def as_dict(self) -> dict[str, Any]:
        """The JSON of `swatchcam mix recipe` and `swatchcam mix correct`."""
        from .mixing import answer_dict

        return answer_dict(self.answer, self.order)

    def rows(self) -> list[dict[str, Any]]:
        """One flat dict for each choice: grams of what is weighed, and how far from the target it is expected to be."""
        found = []
        for number, choice in enumerate(self.as_dict()["choices"], start=1):
            low, high = choice["interval95"]
            grams = {f"{part['what']} (g)": part["grams"] for part in choice["put_in"]}
            found.append(
                {
                    "choice": number,
                    "ciede2000": choice["ciede2000_from_target"],
                    "interval95_low": low,
                    "interval95_high": high,
                }
                | grams
            )
        return found

    def _repr_html_(self) -> str:
        rows = self.rows()
        return _table(rows, tuple(dict.fromkeys(name for row in rows for name in row)))


def _flat(facts: dict[str, Any]) -> dict[str, Any]:
    """What is one number or one word."""
    return {name: value for name, value in facts.items() if isinstance(value, str | int | float | bool)}


def _table(rows: Sequence[dict[str, Any]], names: Sequence[str]) -> str:
    """A table for notebooks of these columns; a strip's own colour is drawn in its first cell."""
    drawn = any("srgb_approx" in row for row in rows)
    head = "".join(f"<th>{escape(name)}</th>" for name in names)
    body = "".join(
        f"<tr>{_chip(row) if drawn else ''}{''.join(_cell(row.get(name)) for name in names)}</tr>" for row in rows
    )
    return f"<table><tr>{'<th></th>' if drawn else ''}{head}</tr>{body}</table>"


def _chip(row: dict[str, Any]) -> str:
    colour = row.get("srgb_approx")
    return f'<td style="background:{escape(colour)};width:4em"></td>' if colour else ""


def _cell(value: Any) -> str:
    return f"<td>{escape('' if value is None else str(value))}</td>"
