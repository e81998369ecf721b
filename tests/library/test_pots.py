"""Which kept strips stand for a pot, what cloth lies under them, and what they teach of the studio's films."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

import numpy as np
import pytest
from numpy.testing import assert_allclose

from swatchcam.colorimetry.film_scatter import film_scatter
from swatchcam.errors import UsageError
from swatchcam.library.amend import judge_shade
from swatchcam.library.changes import log, undo
from swatchcam.library.compare import ReferenceRequest, check_kept
from swatchcam.library.entry import Entry
from swatchcam.library.library import open_library
from swatchcam.library.pots import cloth_of, strip_of_record, strips_of_pot, studio_films
from swatchcam.library.records import DRY, State
from swatchcam.measurement.pot_verdict import POT, STRIPS, PotOutcome, PotStrip
from swatchcam.measurement.verdict import Outcome
from swatchcam.messages.message import Flag
from swatchcam.recipes.film_weight import Coat
from tests.worlds.inks import cloth
from tests.worlds.mixing_library import put_kept
from tests.worlds.paper_pots import Paste, strips_of
from tests.worlds.studio_records import record

MAUVE = {"violet": 0.5, "golden": 0.3}
YELLOWER = {"violet": 0.5, "golden": 0.36}
WHITE, GREY = (Paste(ground, 0.03, 0.15, (0.025, 0.25)) for ground in ("white", "grey"))
HEAT_SET = State("heat-set")


def seen(paste):
    """(81,) what a photo shows of the bare cloth."""
    return tuple(round(float(value), 5) for value in cloth(paste.ground))


class Studio:
    """A library, and strips that nobody had to photograph."""

    def __init__(self, library, folder):
        self.library, self._folder, self._numbers = library, folder, count(1)

    def strip(self, recipe=MAUVE, film=0.0, paste=WHITE, bare=True, noise=0.2):
        number = next(self._numbers)
        ((kept,),) = strips_of(paste, [(recipe, [film])], np.random.default_rng(number), noise)
        errors = replace(kept.errors, photos=(f"photo {number}",))
        return replace(kept, errors=errors, name="left", cloth=seen(paste) if bare else None)

    def keep(self, recipe=MAUVE, film=0.0, *, mark="", shade="mauve", batch="1", paste=WHITE, bare=True, **said):
        """A record of a strip of that film."""
        card, changes = said.pop("card", "halm-1"), said.pop("changes", {})
        kept = replace(self.strip(recipe, film, paste, bare), **changes)
        entry = Entry(shade, batch, mark=mark, **{"cloth": paste.ground, "take_over": False} | said)
        return put_kept(self.library, self._folder, kept, entry, card)

    def check(self, *strips, **wanted):
        return check_kept(self.library, [PotStrip(strip) for strip in strips], ReferenceRequest(**wanted))


@pytest.fixture
def studio(library, tmp_path):
    return Studio(library, tmp_path / "drawn")


@pytest.fixture
def quick(tmp_path):
    """In the one kind of database that is quick: what is asked there of numbers does not depend on it."""
    return Studio(open_library(str(tmp_path / "halm.sqlite"), create=True), tmp_path / "drawn")


# --- the strips of a pot ------------------------------------------------------------------------------------


def test_of_each_mark_the_last_stands_for_the_pot_and_the_record_itself_first():
    first, older, newer, other = (record(number, mark=mark) for number, mark in enumerate("ABBC", start=1))
    found = strips_of_pot(first, [first, older, newer, other])
    assert [one.number for one in found] == [1, 3, 4]
    # An earlier strip that is asked for itself stays what was asked for; a later one of its mark is left out.
    assert [one.number for one in strips_of_pot(older, [first, older, newer, other])] == [2, 1, 4]


UNLIKE = {
    "another batch": {"batch": "B2"},
    "another shade": {"shade": "Slate"},
    "heat-set": {"state": HEAT_SET},
    "washed": {"state": State("washed", 2)},
    "another cloth": {"cloth": "linen"},
    "let down": {"let_down": 10.0},
}


@pytest.mark.parametrize("unlike", UNLIKE)
def test_strips_made_otherwise_do_not_stand_for_it(unlike):
    first = record(1, mark="A")
    assert strips_of_pot(first, [first, record(2, mark="B", **UNLIKE[unlike])]) == [first]
    assert len(strips_of_pot(first, [first, record(2, mark="B", cloth="Cotton,  White")])) == 2


def test_only_one_card_that_was_never_measured_joins_strips():
    nominal = record(1, mark="A", colour=replace(record().colour, absolute=False), card="nominal")
    same = replace(nominal, number=2, mark="B")
    other, measured = replace(same, number=3, card="home print"), record(4, mark="D")
    assert [one.number for one in strips_of_pot(nominal, [same, other, measured])] == [1, 2]
    # Values of measured cards are alike, whichever card they were read from.
    assert [one.number for one in strips_of_pot(measured, [replace(measured, number=5, mark="E", card="x")])] == [4, 5]


def test_another_viewing_light_is_another_strip():
    first, other = record(1, mark="A"), record(2, mark="B")
    other = replace(other, colour=replace(other.colour, illuminant="D50"))
    assert strips_of_pot(first, [other]) == [first]


def test_a_record_tells_whether_its_colours_were_cut_off_and_its_weight():
    plain = strip_of_record(record())
    assert (plain.vivid, plain.coat) == (False, None)
    told = strip_of_record(record(flags=(Flag("too-vivid", {"channels": ["red"]}),), coat=Coat(72.0, 0.02)))
    assert (told.vivid, told.coat) == (True, (72.0, 0.02))


# --- the cloth ----------------------------------------------------------------------------------------------


def test_the_cloth_is_what_its_own_photo_shows_else_one_on_the_same_cloth(studio):
    own = studio.keep(mark="A")
    blind = studio.keep(mark="B", bare=False)
    assert cloth_of(studio.library, own) == seen(WHITE)
    assert cloth_of(studio.library, blind) == seen(WHITE)
    # Another shade on that cloth tells it as well, one on another cloth does not.
    grey = studio.keep(shade="slate", paste=GREY, bare=False)
    assert cloth_of(studio.library, grey) is None
    studio.keep(shade="rust", paste=GREY)
    assert cloth_of(studio.library, grey) == seen(GREY)


def test_where_nobody_named_the_cloth_no_other_photo_is_asked(studio):
    studio.keep(mark="A", cloth="")
    assert cloth_of(studio.library, studio.keep(mark="B", bare=False, cloth="")) is None


# --- the studio's films -------------------------------------------------------------------------------------


def test_without_pots_of_several_strips_the_usual_is_taken(studio):
    studio.keep(mark="A")
    studio.keep(mark="A", batch="2")
    assert studio_films(studio.library) == film_scatter()


def pots(studio, scatter, number=8, strips=3, seed=5, **said):
    """Pots of several marked strips -> the films that they really have."""
    rng, films = np.random.default_rng(seed), []
    for batch in range(number):
        films.append(rng.normal(0, scatter, strips))
        for mark, film in zip("ABCD", films[-1], strict=False):
            studio.keep(film=film, mark=mark, batch=str(batch), **said)
    return films


@pytest.mark.parametrize("scatter", [0.06, 0.2])
def test_films_are_learned_from_the_colours_of_pots_with_several_strips(quick, scatter):
    films = pots(quick, scatter)
    found, true = studio_films(quick.library), film_scatter(films)
    assert (found.strips, found.pots) == (24, 8)
    assert found.std == pytest.approx(true.std, rel=0.15)
    assert found.low < scatter < found.high


def test_films_are_learned_from_weights_where_every_strip_was_weighed(quick):
    weights = {"A": 60.0, "B": 75.0, "C": 90.0}
    for mark, g_m2 in weights.items():
        quick.keep(mark=mark, coat=Coat(g_m2, 0.01))
    true = film_scatter([np.log(list(weights.values()))])
    assert_allclose(studio_films(quick.library).std, true.std)
    # The colours were all alike: they would have told another scatter.
    assert film_scatter([[0.0, 0.0, 0.0]]).std < 0.7 * true.std


APART = {
    "state": {"state": HEAT_SET},
    "let-down": {"let_down": 10.0},
    "card": {"card": "halm-2"},
    "batch": {"batch": "2"},
    "cloth": {"paste": GREY},
    "light": {"changes": {"illuminant": "D50"}},
}


@pytest.mark.parametrize("what", APART)
def test_strips_that_were_made_otherwise_are_no_pair(quick, what):
    quick.keep(film=-0.3, mark="A")
    quick.keep(film=0.3, mark="B", **APART[what])
    assert studio_films(quick.library).pots == 0
    quick.keep(film=0.3, mark="B")
    assert studio_films(quick.library).pots == 1


def test_pots_whose_cloth_nobody_saw_or_whose_strips_do_not_fit_teach_nothing(quick):
    for mark, film in (("A", -0.2), ("B", 0.2)):
        quick.keep(film=film, mark=mark, bare=False)
    assert studio_films(quick.library) == film_scatter()
    quick.keep({"blue": 0.5}, mark="A", batch="2")
    quick.keep(mark="B", batch="2")
    assert studio_films(quick.library) == film_scatter()


# --- judged -------------------------------------------------------------------------------------------------


def test_a_record_stands_with_the_other_strips_of_its_pot(studio):
    studio.keep(film=-0.1, mark="A")
    last = studio.keep(film=0.1, mark="B")
    studio.keep(film=0.4, mark="C", state=HEAT_SET)
    found = studio.check(studio.strip(film=0.2), studio.strip(film=-0.2), shade="mauve")
    assert found.record.number == last.number
    assert [one.mark for one in found.others] == ["A"]
    assert found.pots.counts == (2, 2)
    assert found.verdict.difference.reference.endswith("and 1 other strip of that pot")
    assert found.pots.scatter == studio_films(studio.library)
    assert found.pots.scatter.pots == 1


def test_a_cloth_that_another_record_shows_is_enough(studio):
    studio.keep(mark="A", shade="rust")
    blind = studio.keep(mark="A", bare=False)
    today = studio.strip(YELLOWER, bare=False)
    found = studio.check(today, record=blind.number)
    assert (found.pots.why_not, found.pots.outcome) == (None, PotOutcome.SHADE)
    elsewhere = studio.keep(mark="A", shade="slate", bare=False, cloth="linen")
    assert studio.check(today, record=elsewhere.number).pots.why_not.code == "cloth-not-seen"


def test_a_strip_of_the_photo_that_is_judged_is_none_of_the_other_pot(studio):
    first = studio.keep(mark="A")
    again = studio.keep(film=0.3, mark="B")
    itself = replace(studio.strip(film=0.3), name="right")
    itself = replace(itself, errors=replace(itself.errors, photos=(again.photos[0].digest,)))
    assert studio.check(itself, record=first.number).pots.counts == (1, 1)
    assert studio.check(studio.strip(film=0.3), record=first.number).pots.counts == (2, 1)


def test_weights_on_both_sides_tell_the_pots_strength(studio):
    kept = studio.keep(film=0.0, coat=Coat(70.0, 0.01))
    thick = replace(studio.strip(film=0.3), name="right")
    blind, weighed = (
        check_kept(studio.library, [PotStrip(thick, coat=coat)], ReferenceRequest(record=kept.number)).pots
        for coat in (None, (70.0 * float(np.exp(0.3)), 0.01))
    )
    assert blind.split.pots.std > 2 * weighed.split.pots.std
    assert weighed.split.pots.value == pytest.approx(0, abs=1.96 * weighed.split.pots.std)
    assert weighed.split.strips.value == pytest.approx(0.3, abs=1.96 * weighed.split.strips.std)


def test_against_a_target_there_is_no_pot(studio):
    from swatchcam.library.changes import set_target

    kept = studio.keep()
    set_target(studio.library, "mauve", kept.colour.lab)
    found = studio.check(studio.strip(), studio.strip(film=0.05), shade="mauve", against_target=True)
    assert (found.pots, found.record, found.others) == (None, None, ())
    assert found.verdict.difference.delta_e < 1


def test_after_heat_several_strips_stand_for_their_pot_but_it_is_not_split(quick):
    for number in range(3):
        for state, day in ((DRY, "2026-03-01"), (HEAT_SET, "2026-03-02")):
            quick.keep(shade=f"pair {number}", state=state, measured=day)
    quick.keep(state=HEAT_SET)
    found = quick.check(quick.strip(), quick.strip(), shade="mauve", after_heat=True)
    assert found.pots is None
    assert found.verdict.difference.sample == "left and left once heat-set (predicted)"
    assert found.predicted.pairs == 3


def test_whose_verdict_counts_is_said_of_the_shade_and_undone(studio):
    studio.keep()
    assert studio.library.shade("mauve").judge == STRIPS
    done = judge_shade(studio.library, "MAUVE", POT)
    assert done.what.facts == {"shade": "mauve", "judge": POT}
    assert studio.library.shade("mauve").judge == POT
    found = studio.check(studio.strip(film=0.25), shade="mauve")
    assert (found.verdict.outcome, found.pots.judged(found.verdict.outcome)) == (Outcome.DIFFERENT, Outcome.TOO_CLOSE)
    undo(studio.library, log(studio.library)[0].number)
    assert studio.library.shade("mauve").judge == STRIPS
    with pytest.raises(UsageError, match="no shade called"):
        judge_shade(studio.library, "slate", POT)
