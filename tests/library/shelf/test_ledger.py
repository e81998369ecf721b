"""What came in is what went out and what is left, to the last tenth of a milligram, whatever is done in what order.

The sums are kept beside the library in whole numbers, as anybody would with a pencil.
"""

from __future__ import annotations

import copy
import tempfile
import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test
from sqlalchemy import text

from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.backup import back_up, restore
from swatchcam.library.changes import log, merge_shades, remove_shade, rename_shade, undo
from swatchcam.library.library import Library, open_library
from swatchcam.library.proposal_store import keep_proposal, proposals, remove_proposal
from swatchcam.library.proposals import CORRECTION, PIGMENT, POT, PRE_MIX, Used
from swatchcam.library.shelf.ledger import Holding, holding, holdings, take, weigh_left
from swatchcam.library.shelf.pigments import add_lot, remove_pigment, set_pigment
from swatchcam.library.shelf.pre_mixes import keep_pre_mix, pre_mixes
from swatchcam.library.verify import verify
from swatchcam.messages.surface import TERMINAL
from swatchcam.recipes.arithmetic import together, weighed
from swatchcam.recipes.premix import Making, made_of
from swatchcam.recipes.recipe import BINDER, CLEAR_BASE
from tests.worlds.cheap_measurements import proposal, put

UNIT = 10_000  # of a gram
SCALE = 0.01


def grams(number):
    return number / UNIT


def units(weight):
    return round(weight * UNIT)


def left_in(library, of=None):
    """(kind, shade, name) -> g that are left, below 0 where too much went out."""
    return {
        (one.of, one.shade, one.name): None if one.grams is None else one.grams - one.beyond
        for one in holdings(library)
        if of in (None, one.of)
    }


def pot_of(library, batch, shade="Brick"):
    return next(one for one in holdings(library) if (one.of, one.shade, one.name) == (POT, shade, batch))


def bottle_of(library, name):
    return next(one for one in holdings(library) if (one.of, one.name) == (PIGMENT, name))


def mixed(library, batch, base=500.0, red=6.0, shade="Brick", used=(), **said):
    """A pot of clear base and red, kept as a proposal."""
    recipe = weighed({BINDER: base, "red": red}, SCALE)
    parts = (Used(PIGMENT, CLEAR_BASE, base), Used(PIGMENT, "red", red))
    return keep_proposal(library, proposal(shade=shade, batch=batch, recipe=recipe, used=(*parts, *used), **said))


# --- whatever is done, in whatever order --------------------------------------------------------------------

AMOUNTS = st.integers(1, 600 * UNIT)
INKS = st.sampled_from(["Blau", "rouge éclatant", "黒"])
CLOTHED = st.sampled_from(["Brick", "Øresund", "river  blue"])


class Studio(RuleBasedStateMachine):
    """`left` is the pencil's account: what -> tenths of milligrams; `total` is what all of it must come to."""

    def __init__(self, address=""):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.library = open_library(address or str(Path(self.folder.name) / "halm.sqlite"), create=True)
        self.left, self.total, self.count = {}, 0, 0
        self.undo = None  # how the last deed is undone, and the account before it

    def teardown(self):
        assert verify(self.library)[1] == []
        self.folder.cleanup()

    @initialize()
    def stock_up(self):
        """Every bottle is weighed: so nothing comes from nowhere."""
        for name in ("Blau", "rouge éclatant", "黒", CLEAR_BASE):
            set_pigment(self.library, name, price=1.0)
            weigh_left(self.library, bottle_of(self.library, name), 900.0)
            self.left[PIGMENT, name] = 900 * UNIT
        self.total = 4 * 900 * UNIT

    # --- deeds

    @rule(shade=CLOTHED, ink=INKS, base=AMOUNTS, amount=st.integers(1, 30 * UNIT))
    def mix(self, shade, ink, base, amount):
        self._keep(shade, {CLEAR_BASE: base, ink: amount}, [])

    @rule(ink=INKS, amount=st.integers(1, 30 * UNIT))
    def correct(self, ink, amount):
        """All of a pot goes into the next one."""
        for pot in self._pots()[:1]:
            self._keep(pot.shade, {ink: amount}, [(pot, units(pot.grams), True)], kind=CORRECTION, from_batch=pot.name)

    @rule(shade=CLOTHED, ink=INKS, amount=st.integers(1, 30 * UNIT), part=st.integers(1, 400 * UNIT))
    def pour_together(self, shade, ink, amount, part):
        """Of the first so much, perhaps more than there is; all of the last."""
        pots = self._pots()
        if len(pots) > 1:
            poured = [(pots[0], part, False), (pots[-1], units(pots[-1].grams), True)]
            self._keep(shade, {CLEAR_BASE: amount, ink: amount}, poured)

    @rule(
        ink=INKS, amount=st.integers(UNIT, 20 * UNIT), percent=st.sampled_from([10, 1]), lot=st.sampled_from(["", "ß"])
    )
    def make_a_pre_mix(self, ink, amount, percent, lot):
        """The weak one of the strong one, where that is there; a jar that is there is emptied first."""
        strong = next((one for one in pre_mixes(self.library) if one.name == f"{ink} 10 %"), None)
        of = strong if percent == 1 else None
        base = amount * 9 if of or percent == 10 else amount * 99
        made = made_of(ink, grams(amount), grams(base), SCALE, of)
        self._does(lambda: keep_pre_mix(self.library, Making(made, of, grams(amount), grams(base)), lot=lot))
        jar, source = (PRE_MIX, made.name), (PRE_MIX, of.name) if of else (PIGMENT, ink)
        self.total -= self.left.get(jar, 0)
        self.left |= {jar: 0}
        self._flows({source: amount, (PIGMENT, CLEAR_BASE): base}, jar)

    @rule(amount=AMOUNTS, which=st.integers(0, 30))
    def take_out(self, amount, which):
        there = holdings(self.library)
        one = there[which % len(there)]
        self._does(lambda: take(self.library, one, grams(amount)))
        self.left[self._key(one)] -= amount
        self.total -= amount

    @rule(amount=st.integers(0, 600 * UNIT), which=st.integers(0, 30))
    def weigh(self, amount, which):
        there = holdings(self.library)
        one = there[which % len(there)]
        self._does(lambda: weigh_left(self.library, one, grams(amount)))
        self.total += amount - self.left[self._key(one)]
        self.left[self._key(one)] = amount

    @rule()
    def think_better_of_it(self):
        """What was done last is undone; and done again, where that is a change."""
        if self.undo is None:
            return
        (deed, left, total), self.undo = self.undo, None
        deed()
        self.left, self.total = left, total

    # --- what must hold

    @invariant()
    def nothing_is_lost_and_nothing_is_won(self):
        told = {self._key(one): units((one.grams or 0) - one.beyond) for one in holdings(self.library)}
        assert told == {what: amount for what, amount in self.left.items() if amount or what[0] == PIGMENT}
        assert sum(told.values()) == self.total
        assert all(one.grams >= 0 for one in holdings(self.library))

    # --- how

    def _pots(self):
        return [one for one in holdings(self.library) if one.of == POT and one.grams > 0]

    def _key(self, one):
        return (one.of, one.name) if one.of != POT else (POT, one.number)

    def _keep(self, shade, weighed_in, poured, **said):
        account = copy.deepcopy(self.left), self.total
        self.count += 1
        new = weighed({BINDER if what == CLEAR_BASE else what: grams(g) for what, g in weighed_in.items()}, SCALE)
        rest = [weighed({BINDER: grams(g)}, SCALE) for _, g, _ in poured]
        used = [Used(PIGMENT, what, grams(g)) for what, g in weighed_in.items()]
        used += [Used(POT, pot.name, grams(g), pot.number, all_of_it) for pot, g, all_of_it in poured]
        wanted = proposal(shade=shade, batch=f"pot {self.count}", recipe=together(*rest, new), used=tuple(used), **said)
        kept = keep_proposal(self.library, wanted)
        number = next(one.number for one in self.library.batches() if one.name == kept.batch)
        flows = {(PIGMENT, what): g for what, g in weighed_in.items()}
        for pot, g, _ in poured:
            flows[POT, pot.number] = flows.get((POT, pot.number), 0) + g
        self._flows(flows, (POT, number))
        self.undo = lambda: remove_proposal(self.library, kept.number), *account

    def _flows(self, out, into):
        for what, amount in out.items():
            self.left[what] -= amount
            self.left[into] = self.left.get(into, 0) + amount

    def _does(self, deed):
        account = copy.deepcopy(self.left), self.total
        number = deed().number
        self.undo = lambda: undo(self.library, number), *account


Studio.TestCase.settings = settings(
    max_examples=6, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True
)
TestStudio = Studio.TestCase


def test_on_a_server_nothing_is_lost_either(server, monkeypatch, tmp_path):
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "photos"))
    few = settings(Studio.TestCase.settings, max_examples=2, stateful_step_count=15)
    run_state_machine_as_test(lambda: Studio(server.empty()), settings=few)


# --- several people at once ---------------------------------------------------------------------------------


def test_two_who_take_from_one_pot_at_once_lose_nothing(place):
    """Each has a connection of their own; what is left is known to the tenth of a milligram."""
    mixed(open_library(place, create=True), "3")
    failures = []

    def person(amounts):
        library = open_library(place)
        try:
            for amount in amounts:
                take(library, pot_of(library, "3"), amount)
        except BaseException as error:
            failures.append(repr(error))

    shares = ([1.0001] * 12, [2.5] * 12)
    people = [threading.Thread(target=person, args=(share,)) for share in shares]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert not failures, failures
    library = open_library(place)
    assert left_in(library, POT) == {(POT, "Brick", "3"): 463.9988}  # 506 - 12.0012 - 30
    assert len(log(library)) == 24


def test_what_is_written_again_after_a_lost_server_is_booked_once(library, monkeypatch):
    """The first try was kept, and nobody heard of it."""
    mixed(library, "3")
    set_pigment(library, "red", price=1.0)
    weigh_left(library, bottle_of(library, "red"), 100.0)
    once = Library._written

    def twice(self, work):
        once(self, work)
        return once(self, work)

    monkeypatch.setattr(Library, "_written", twice)
    mixed(library, "4", used=(Used(POT, "3", 6.0, pot_of(library, "3").number),))
    take(library, pot_of(library, "4"), 12.0)
    made = made_of("red", 5.0, 45.0, SCALE)
    keep_pre_mix(library, Making(made, None, 5.0, 45.0))
    weigh_left(library, bottle_of(library, "red"), 88.5)
    assert left_in(library) == {
        (POT, "Brick", "3"): 500.0,
        (POT, "Brick", "4"): 494.0,
        (PRE_MIX, "", "red 10 %"): 50.0,
        (PIGMENT, "", "red"): 88.5,
    }


# --- what comes and goes with a pot -------------------------------------------------------------------------


def test_old_pots_are_not_on_the_shelf_until_somebody_says_how_much_there_is(library, tmp_path):
    for number in range(3):
        put(library, tmp_path / "shots", number, batch=str(number))
    assert holdings(library) == []
    old = library.batches()[0]
    known = holding(library, POT, old.number)
    assert (known.grams, known.shade, known.name) == (None, "Brick", "0")
    take(library, known, 20.0)
    assert holdings(library) == []
    weigh_left(library, known, 212.5)
    assert left_in(library) == {(POT, "Brick", "0"): 212.5}
    assert holding(library, POT, 99) is None


def test_a_pot_that_is_corrected_is_empty_then_and_the_new_one_holds_all(library):
    """The pot held 20 g more than anybody said: they are poured over too."""
    mixed(library, "3")
    pot = pot_of(library, "3")
    more = weighed({"red": 2.0}, SCALE)
    recipe = together(weighed({BINDER: 480.0}, SCALE), more)
    used = (Used(POT, "3", 480.0, pot.number, emptied=True), Used(PIGMENT, "red", 2.0))
    keep_proposal(library, proposal(kind=CORRECTION, from_batch="3", recipe=recipe, used=used))
    assert left_in(library, POT) == {(POT, "Brick", "3.1"): 482.0}
    assert holding(library, POT, pot.number) == Holding(POT, pot.number, "3", 0.0, 0.0, "Brick", pot.mixed)
    assert proposals(library)[-1].used == used


def test_a_proposal_that_was_never_mixed_gives_back_what_it_took(library, tmp_path):
    set_pigment(library, "red", price=1.0)
    weigh_left(library, bottle_of(library, "red"), 100.0)
    mixed(library, "3")
    first = left_in(library)
    used = (Used(POT, "3", 506.0, pot_of(library, "3").number, emptied=True),)
    second = mixed(library, "4", used=used)
    after = left_in(library)
    done = remove_proposal(library, second.number)
    assert left_in(library) == first
    undo(library, done.number)
    assert left_in(library) == after
    assert after[POT, "Brick", "4"] == 506.0
    put(library, tmp_path / "shots", batch="4")
    remove_proposal(library, second.number)  # it was mixed, for its strip was measured
    assert left_in(library) == after


def test_a_weighing_counts_for_all_that_came_before_it_and_what_comes_after_goes_on(library):
    mixed(library, "3")
    pot = pot_of(library, "3")
    take(library, pot, 6.0)
    weighing = weigh_left(library, pot, 480.25)
    take(library, pot, 80.0)
    assert left_in(library, POT) == {(POT, "Brick", "3"): 400.25}
    undo(library, weighing.number)
    assert left_in(library, POT) == {(POT, "Brick", "3"): 420.0}


def test_more_than_is_left_may_be_taken_and_is_told(library):
    mixed(library, "3", base=100.0, red=1.0)
    pot = pot_of(library, "3")
    done = take(library, pot, 104.5)
    assert "3.5 g more than the shelf knew of" in TERMINAL.change(done.what)
    (short,) = [one for one in holdings(library) if one.of == POT]
    assert (short.grams, short.beyond, short.there) == (0.0, 3.5, True)
    weigh_left(library, pot, 12.0)
    assert pot_of(library, "3").beyond == 0.0
    weigh_left(library, pot, 0.0)
    assert left_in(library, POT) == {}


def test_a_pot_keeps_what_is_left_of_it_through_renaming_merging_and_removing(library):
    mixed(library, "3")
    mixed(library, "3", shade="Sage", base=200.0)
    rename_shade(library, "brick", "Rust")
    merge_shades(library, "rust", "sage")
    there = {(POT, "Sage", "3"): 206.0, (POT, "Sage", "3 (Rust)"): 506.0}
    assert left_in(library, POT) == there
    done = remove_shade(library, "sage")
    assert left_in(library, POT) == {}
    undo(library, done.number)
    assert left_in(library, POT) == there


def test_a_pigment_that_is_not_on_the_shelf_is_not_booked(library):
    mixed(library, "3")
    assert left_in(library) == {(POT, "Brick", "3"): 506.0}
    set_pigment(library, "red", price=1.0)
    assert left_in(library, PIGMENT) == {(PIGMENT, "", "red"): None}
    mixed(library, "4")
    assert left_in(library, PIGMENT) == {(PIGMENT, "", "red"): None}  # nobody said how much there was
    weigh_left(library, bottle_of(library, "red"), 100.0)
    mixed(library, "5")
    assert left_in(library, PIGMENT) == {(PIGMENT, "", "red"): 94.0}
    remove_pigment(library, "red")
    set_pigment(library, "RED", price=1.0)  # another bottle
    assert left_in(library, PIGMENT) == {(PIGMENT, "", "RED"): None}


def test_a_bottle_tells_the_lot_in_use(library):
    set_pigment(library, "red", price=1.0)
    add_lot(library, "red", "R-1", "2026-01-05")
    add_lot(library, "red", "R-2", "2026-03-05")
    add_lot(library, "red", "R-9", "2999-01-01")
    assert bottle_of(library, "red").lot == "R-2"


def test_what_is_no_weight_is_refused(library):
    mixed(library, "3")
    pot, before = pot_of(library, "3"), log(library)
    for deed in (
        lambda: weigh_left(library, pot, -1.0),
        lambda: weigh_left(library, pot, float("nan")),
        lambda: take(library, pot, 0.0),
        lambda: take(library, pot, 1e9),
    ):
        with pytest.raises(UsageError, match="Weight of the ink"):
            deed()
    assert log(library) == before


# --- it goes with the library -------------------------------------------------------------------------------


def test_a_backup_brings_back_what_is_left_into_the_other_kind_of_database(library, tmp_path, monkeypatch):
    set_pigment(library, "red", price=1.0)
    weigh_left(library, bottle_of(library, "red"), 100.0)
    mixed(library, "3")
    keep_pre_mix(library, Making(made_of("red", 5.0, 45.0, SCALE), None, 5.0, 45.0))
    back_up(library, tmp_path / "all.zip")
    monkeypatch.setenv("SWATCHCAM_PHOTOS", str(tmp_path / "other photos"))
    other = open_library(str(tmp_path / "other.sqlite"), create=True)
    restore(tmp_path / "all.zip", other)
    assert holdings(other) == holdings(library)
    assert pre_mixes(other) == pre_mixes(library)
    take(other, pot_of(other, "3"), 6.0)
    assert left_in(other, POT) == {(POT, "Brick", "3"): 500.0}
    assert verify(other)[1] == []


def test_a_damaged_row_is_found(tmp_path):
    library = open_library(str(tmp_path / "halm.sqlite"), create=True)
    mixed(library, "3")
    with library.engine.begin() as connection:
        connection.execute(text("UPDATE stock SET grams = 'much'"))
    assert [found.what.code for found in verify(library)[1]] == ["library-row-unreadable"]
    with pytest.raises(LibraryError, match="much"):
        holdings(library)


def test_a_pot_that_something_went_out_of_was_mixed(library):
    pot = mixed(library, "3")
    take(library, next(one for one in holdings(library) if one.of == POT), 100.0)
    left = left_in(library)
    done = remove_proposal(library, pot.number)
    assert left_in(library) == left
    assert proposals(library) == []
    undo(library, done.number)
    assert proposals(library) == [pot]
