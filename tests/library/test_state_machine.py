"""Whatever is done to a library, in whatever order: it says what a plain list of the same deeds says.

A state machine (hypothesis) keeps, renames, merges, tags, removes and undoes, beside a model made of dicts.
"""

from __future__ import annotations

import copy
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant, multiple, rule
from sqlalchemy import func, select

from swatchcam.errors import UsageError
from swatchcam.library import schema
from swatchcam.library.amend import amend_record, tag_shade
from swatchcam.library.changes import log, merge_shades, remove_record, remove_shade, rename_shade, set_target, undo
from swatchcam.library.library import open_library
from swatchcam.library.records import parse_state
from swatchcam.library.verify import verify
from swatchcam.text import key
from tests.worlds.cheap_measurements import put

NAMES = st.sampled_from(["Brick", "brick ", "Sage", "Slate", "River  blue"])
BATCHES = st.sampled_from(["1", "2", "B"])
TAGS = st.sampled_from(["old", "linen"])
STATES = st.sampled_from(
    [
        "air-dried",
        "heat-set",
        "heat-set 150 C 4 min press",
        "heat-set 320 F iron",
        "washed 3",
        "washed 3, 40 C",
        "rubbed wet",
    ]
)


class Studio(RuleBasedStateMachine):
    """`shades` of the model: key -> name, tags, target, records; `past` holds the model before each change."""

    changes = Bundle("changes")

    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.patch = pytest.MonkeyPatch()
        self.patch.setenv("SWATCHCAM_PHOTOS", str(Path(self.folder.name) / "photos"))
        self.library = open_library(str(Path(self.folder.name) / "halm.sqlite"), create=True)
        self.shades: dict[str, dict] = {}
        self.past: dict[int, dict] = {}
        self.photos, self.rows = 0, 0

    def teardown(self):
        assert verify(self.library)[1] == []
        self.patch.undo()
        self.folder.cleanup()

    # --- deeds

    @rule(name=NAMES, batch=BATCHES, state=STATES)
    def keep(self, name, batch, state):
        self.photos += 1
        record = put(
            self.library, Path(self.folder.name) / "shots", self.photos, name, batch=batch, state=parse_state(state)
        )
        fresh = {"name": " ".join(name.split()), "tags": [], "target": None, "records": {}, "states": {}}
        shade = self.shades.setdefault(key(name), fresh)
        shade["records"][record.number] = ""
        shade["states"][record.number] = parse_state(state)

    @rule(target=changes, name=NAMES, new=NAMES)
    def rename(self, name, new):
        def change():
            shade = self.shades.pop(key(name))
            self.shades[key(new)] = shade | {"name": " ".join(new.split())}

        allowed = key(name) in self.shades and (key(new) not in self.shades or key(new) == key(name))
        return self._does(lambda: rename_shade(self.library, name, new), change, allowed)

    @rule(target=changes, name=NAMES, into=NAMES)
    def merge(self, name, into):
        def change():
            gone = self.shades.pop(key(name))
            for what in ("records", "states"):
                self.shades[key(into)][what] |= gone[what]

        allowed = key(name) in self.shades and key(into) in self.shades and key(name) != key(into)
        return self._does(lambda: merge_shades(self.library, name, into), change, allowed)

    @rule(target=changes, name=NAMES, tag=TAGS, off=st.booleans())
    def tag(self, name, tag, off):
        def change():
            tags = [one for one in self.shades[key(name)]["tags"] if one != tag or not off]
            self.shades[key(name)]["tags"] = tags if off or tag in tags else [*tags, tag]

        return self._does(lambda: tag_shade(self.library, name, [tag], remove=off), change, key(name) in self.shades)

    @rule(target=changes, name=NAMES, lightness=st.sampled_from([40.0, 50.0]), state=st.none() | STATES)
    def aim(self, name, lightness, state):
        """Without a state the one that was said before stays."""
        wanted, meant = (lightness, 10.0, 10.0), state and parse_state(state)

        def change():
            shade = self.shades[key(name)]
            shade["target"], shade["for"] = wanted, meant or shade.get("for")

        return self._does(lambda: set_target(self.library, name, wanted, state=meant), change, key(name) in self.shades)

    @rule(target=changes, name=NAMES)
    def remove(self, name):
        return self._does(
            lambda: remove_shade(self.library, name), lambda: self.shades.pop(key(name)), key(name) in self.shades
        )

    @rule(target=changes, number=st.integers(1, 12), state=STATES)
    def say_how_it_was_treated(self, number, state):
        owners = [shade for shade in self.shades.values() if number in shade["records"]]

        def change():
            owners[0]["states"][number] = parse_state(state)

        return self._does(lambda: amend_record(self.library, number, state=state), change, bool(owners))

    @rule(target=changes, number=st.integers(1, 12), cloth=st.sampled_from(["", "linen", "jute"]))
    def change_a_record(self, number, cloth):
        """Take it out, or say anew what cloth it is of."""
        owners = [shade for shade in self.shades.values() if number in shade["records"]]

        def change():
            if cloth:
                owners[0]["records"][number] = cloth
            else:
                del owners[0]["records"][number], owners[0]["states"][number]

        def deed():
            return amend_record(self.library, number, cloth=cloth) if cloth else remove_record(self.library, number)

        return self._does(deed, change, bool(owners))

    @rule(number=changes)
    def undo(self, number):
        """The newest change can always be undone, if nothing was kept since that stands in its way."""
        newest = next((change for change in log(self.library) if not change.undone), None)
        if newest is None or newest.number != number or self.past[number]["photos"] != self.photos:
            return
        undo(self.library, number)
        self.past[log(self.library)[0].number] = self._state()
        self.shades = copy.deepcopy(self.past[number]["shades"])

    # --- what must hold

    @invariant()
    def it_says_what_the_model_says(self):
        told = {key(shade.name): shade for shade in self.library.shades()}
        assert {name: shade.name for name, shade in told.items()} == {
            name: shade["name"] for name, shade in self.shades.items()
        }
        for name, shade in self.shades.items():
            said = list(told[name].tags), told[name].target, told[name].target_state
            assert said == (shade["tags"], shade["target"], shade.get("for"))
            # Cloth is taken over from the shade's last record where nobody says it: only what was said is compared.
            records = self.library.records(told[name].name)
            assert {record.number: record.state for record in records} == shade["states"]
            found = {record.number: record.cloth for record in records}
            assert set(found) == set(shade["records"])
            assert all(found[number] == cloth for number, cloth in shade["records"].items() if cloth)

    @invariant()
    def nothing_ever_disappears(self):
        with self.library.reading() as connection:
            counts = [select(func.count()).select_from(table) for table in schema.tables.sorted_tables]
            rows = sum(connection.execute(count).scalar_one() for count in counts)
        assert rows >= self.rows
        self.rows = rows

    # --- how

    def _state(self):
        return {"shades": copy.deepcopy(self.shades), "photos": self.photos}

    def _does(self, deed, change, allowed):
        before, done = self._state(), len(log(self.library))
        if not allowed:
            with pytest.raises(UsageError):
                deed()
            assert len(log(self.library)) == done
            return multiple()
        deed()
        change()
        newest = log(self.library)[0].number
        self.past[newest] = before
        return newest


Studio.TestCase.settings = settings(
    max_examples=15, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True
)
TestStudio = Studio.TestCase
