"""What is asked at the mixing table, and what comes out."""

from __future__ import annotations

from dataclasses import dataclass

from ..library.entry import Entry
from ..library.records import Batch, Record, Shade, State
from .order import Choice, Order, Proposed, Rest
from .target import TargetRequest
from .workbench import Bench


@dataclass(frozen=True)
class PrintConditions:
    """What is mixed for."""

    cloth: str = ""  # by default the only one
    state: State | None = None  # of the strips of a pot in hand; None as they were kept, else air-dried
    ink: str = ""  # the ink's family; by default all


@dataclass(frozen=True)
class Hand:
    """The pot in hand, and where its strip lies in the photo."""

    batch: str = ""  # by default the shade's last one, or the one that this strip was kept under
    strip: str | None = None
    beside: str | None = None  # the strip in the same photo that is the target
    unknown: bool = False  # nobody knows what is in it; nothing is kept then
    others: tuple[str, ...] = ()  # further strips of the pot in the same photo, each with a film of its own
    marks: tuple[str, ...] = ()  # what is written on these strips, in order; by default none, or of several A, B ...


@dataclass(frozen=True)
class CorrectionRequest:
    """What is asked for a pot in hand."""

    asked: TargetRequest  # the target; where it names only the shade, see each verb of `pot_in_hand`
    order: Order  # its grams are what is in the pot now
    hand: Hand = Hand()
    place: PrintConditions = PrintConditions()
    thinner_g: float | None = None  # how many grams of a thinner ink to make, instead of adding to the pot


@dataclass(frozen=True)
class Answer:
    """What came out, and on what it rests."""

    proposed: Proposed
    bench: Bench
    shade: Shade | None
    pot: Batch | None = None  # the pot in hand
    records: tuple[Record, ...] = ()  # its strips, as the library now holds them
    rests: tuple[tuple[Batch, float], ...] = ()  # old pots that go in, g
    entries: tuple[tuple[str, Entry], ...] = ()  # strips, and as what they are still to be kept

    def going_in(self, choice: Choice) -> tuple[Rest, ...]:
        """What goes into a choice of what is left of old pots."""
        return choice.saved.rests or tuple(Rest(batch, grams, grams) for batch, grams in self.rests)

    @property
    def record(self) -> Record | None:
        """The first of the pot's strips, as the library now holds it."""
        return self.records[0] if self.records else None

    @property
    def entry(self) -> Entry | None:
        """As what the first of its strips that is not kept yet is to be kept."""
        return self.entries[0][1] if self.entries else None
