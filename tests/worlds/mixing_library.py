"""Libraries for mixing, without photos: strips of an `inkworld` studio, kept as if a phone had measured them."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import pytest

from swatchcam.library.entry import Entry
from swatchcam.library.library import Library, open_library
from swatchcam.library.records import HEAT_SET, Record, State
from swatchcam.library.save import Prepared, put
from swatchcam.library.search import ALONE, BARE
from swatchcam.measurement import measure, summary
from swatchcam.measurement.error_budget import Colour
from swatchcam.measurement.measure import Measurement
from swatchcam.measurement.measure import measure as really_measure
from swatchcam.measurement.stored_colour import Kept, PhotoRef, errors_as_text
from swatchcam.measurement.stored_colour import keep as really_keep
from swatchcam.mixing import pot_in_hand, target, workbench
from swatchcam.mixing.known_strip import KnownStrip
from swatchcam.mixing.other_cloth import BareCloths
from swatchcam.mixing.pigment_learning import learn
from swatchcam.mixing.pigment_model import Palette
from swatchcam.mixing.requests import Answer, CorrectionRequest
from swatchcam.recipes.arithmetic import filled_up
from swatchcam.recipes.recipe import Recipe
from tests.worlds.cheap_measurements import of_file
from tests.worlds.inks import cloth
from tests.worlds.inkworld import World, film_world, guessed, heat_set, kept_of
from tests.worlds.spectra import reflectance_lab

CLOTH = "white cotton"
DAY = "2026-03-01"  # of every record for which no other is said
LOADS = (0.2, 0.8, 3.2)  # % of each strip, geometric as those of `World.series`
ORANGE, WANTED = {"red": 1.0, "yellow": 1.0}, {"red": 1.6, "yellow": 2.2}  # % in a pot
INKS = "black", "blue", "red", "yellow"
FINISHED = State(HEAT_SET, how="150 °C, 4 min, press")


@cache
def studio() -> tuple[World, tuple[KnownStrip, ...], Palette]:
    """A world of four inks, its test series of three and a strip of binder alone, and what they teach."""
    world = film_world(1, INKS)
    known_strips = tuple(world.series(len(LOADS), LOADS[0], LOADS[-1]))
    return world, known_strips, learn(known_strips)


LEARNED: dict[tuple[object, ...], Palette] = {}


def remember_palettes(patch: pytest.MonkeyPatch) -> None:
    """Learn what the same known strips teach only once: strips of the same number are the same."""

    def learned(
        known_strips: Sequence[KnownStrip],
        _before: Palette | None = None,
        *,
        two_states: bool = False,
        cloths: BareCloths | None = None,
    ) -> Palette:
        details = "shares", "shares_std", "strip", "film", "film_std", "later", "ready"
        asked = (
            two_states,
            str(cloths),
            *((strip.colour.lab, *(str(getattr(strip, name)) for name in details)) for strip in known_strips),
        )
        if asked not in LEARNED:
            LEARNED[asked] = learn(known_strips, two_states=two_states, cloths=cloths)
        return LEARNED[asked]

    patch.setattr(workbench, "learn", learned)


def pot_of(shares: Mapping[str, float], whole_g: float = 500.0, scale_g: float = 0.01) -> Recipe:
    """A pot with such shares, %, weighed on a good scale."""
    return filled_up({name: share * whole_g / 100 for name, share in shares.items()}, whole_g, scale_g)


def put_kept(library: Library, folder: Path, kept: Kept, entry: Entry, card: str = "halm-1") -> Record:
    """Keep a colour as the left strip of a photo of its own; that of a nominal card is not absolute."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{kept.errors.photos[0]} {kept.name}.jpg"
    path.write_bytes(path.name.encode())
    photo = PhotoRef(hashlib.sha256(path.read_bytes()).hexdigest(), path.name, 1)
    values = {
        "strip": entry.mark,
        "stage": entry.state.name,
        "washes": entry.state.washes,
        "how": entry.state.how or None,
        "measured": entry.measured or DAY,
        "card": card,
        "grade": "measured" if kept.absolute else "nominal",
        "phone": "studio phone",
        "drawdown": kept.name,
        "illuminant": kept.illuminant,
        "observer": kept.observer,
        "absolute": kept.absolute,
        "radius": kept.radius,
        "errors": errors_as_text(kept),
        "settings": "{}",
        "flags": "[]",
        "notes": entry.notes,
    } | dict(zip("lab", kept.lab, strict=True))
    return put(library, Prepared(entry, kept.name, ((str(path), photo),), values))


@dataclass
class Shop:
    """A library and the studio that fills it; every strip is a new one."""

    library: Library
    folder: Path
    world: World = field(default_factory=lambda: studio()[0])
    drawn: int = 1000  # far from the numbers of the all_series
    heats: bool = False  # whether heat setting changes what a strip looks like, or nobody would see it

    def keep(self, shares: Mapping[str, float], shade: str, batch: str = "1", **said: object) -> Record:
        """A strip of a pot of known recipe.

        Beside what an `Entry` holds one may say what is really in the pot (`true`), that its card was never measured
        (`nominal`), the card, the number of the strip, and that of its photo, where the strip was in another before.
        """
        self.drawn += 1
        true, nominal, number = said.pop("true", shares), said.pop("nominal", False), said.pop("number", self.drawn)
        photo = said.pop("photo", number)
        card = str(said.pop("card", "halm-1"))
        entry = {"cloth": CLOTH, "recipe": pot_of(shares), "measured": DAY, "take_over": False} | said
        hot = self.heats and getattr(said.get("state"), "name", "") == HEAT_SET
        world = heat_set(self.world) if hot else self.world
        kept = replace(world.kept(true, number, photo), absolute=not nominal)  # type: ignore[arg-type]
        return put_kept(self.library, self.folder, kept, Entry(shade, batch, **entry), card)  # type: ignore[arg-type]

    def keep_bare(self, name: str, drawn: str = "natural") -> Record:
        """A strip of a cloth without ink, called so; drawn as one of `inks.cloth`."""
        lab = self.world.seen(reflectance_lab(cloth(drawn)))
        kept = kept_of(lab, guessed(lab), self.world.phone, f"bare {name}")
        return put_kept(self.library, self.folder, kept, Entry(BARE, cloth=name, measured=DAY, take_over=False))

    def all_series(self, loads: tuple[float, ...] = LOADS, binder: bool = True, first: int = 0) -> None:
        """Strips from number `first` on; by default those of `studio`."""
        if binder:
            self.keep({}, ALONE, number=first)
        series = [(name, load) for name in self.world.pigments for load in loads]
        for number, (name, load) in enumerate(series, start=first + 1):
            self.keep({name: load}, f"series {name}", f"{load:g} %", number=number)


def finished_shop(address: str, folder: Path, pairs: int = 8) -> Shop:
    """A studio that heat-sets: test series, so many of their strips heat-set too, and a dry pot of orange."""
    shop = Shop(open_library(address, create=True), folder / "shots", heats=True)
    shop.all_series()
    series = [(name, load) for load in LOADS for name in shop.world.pigments]
    numbers = {strip: at for at, strip in enumerate(((n, x) for n in shop.world.pigments for x in LOADS), start=1)}
    for name, load in series[:pairs]:
        at, how = numbers[name, load], {"state": FINISHED, "measured": "2026-03-02"}
        shop.keep({name: load}, f"series {name}", f"{load:g} %", number=at, photo=5000 + at, **how)
    shop.keep(ORANGE, "orange", measured="2026-03-03", mixed="2026-03-03")
    return shop


def asked_and_kept(library: Library, photos: Sequence[str], request: CorrectionRequest) -> Answer:
    """What to do with a pot of which strips were photographed; they are kept."""
    sitting = pot_in_hand.photographed(photos, request)
    answer = pot_in_hand.correct_sitting(library, sitting, request)
    return pot_in_hand.strips_kept(library, sitting, answer)


class Camera:
    """What is measured with: it sees the strips that were laid before it, file by file; other files it reads."""

    def __init__(self, world: World, patch: pytest.MonkeyPatch) -> None:
        self.world, self.seen, self.asked = world, {}, []
        for module in (pot_in_hand, target, measure):
            patch.setattr(module, "measure", self.measure)
        patch.setattr(summary, "keep", self.keep)

    def lay(self, path: Path, absolute: bool = True, **strips: Mapping[str, float]) -> str:
        """A photo with such strips: window -> what is really in the ink."""
        path.write_text(f"drawn {path.name}")
        for place, (window, shares) in enumerate(strips.items()):
            kept = self.world.kept(shares, int(hashlib.sha256(path.name.encode()).hexdigest()[:6], 16) + place)
            errors = replace(kept.errors, photos=(path.name,))
            self.seen[str(path), window] = replace(kept, name=window, errors=errors, absolute=absolute)
        return str(path)

    def measure(self, path: str, card: str | None = None, **how: object) -> Measurement:
        """As `measure` would have it; how it was asked for is noted."""
        self.asked.append((path, card, how))
        if not any(laid == path for laid, _ in self.seen):
            return really_measure(path, card, **how)  # type: ignore[arg-type]
        return of_file(Path(path))

    def keep(self, colour: Colour, measured: Measurement) -> Kept:
        """As `keep` would have it."""
        return self.seen.get((measured.photo.path, colour.name)) or really_keep(colour, measured)


def orange_shop(address: str, folder: Path) -> Shop:
    """Test series, and two pots of orange, one of them 500 g of what is wanted; the last one was not measured."""
    shop = Shop(open_library(address, create=True), folder / "shots")
    shop.all_series()
    shop.keep(WANTED, "orange", "1")
    shop.keep(ORANGE, "orange", "2", measured="2026-03-02", mixed="2026-03-02")
    return shop


def desk_in(stocked: Path, folder: Path, patch: pytest.MonkeyPatch) -> Camera:
    """Go to a copy of a stocked folder, in which commands are typed; the camera there."""
    shutil.copytree(stocked, folder)
    remember_palettes(patch)
    patch.chdir(folder)
    patch.setenv("SWATCHCAM_LIBRARY", "halm.sqlite")
    return Camera(Shop(open_library("halm.sqlite"), folder).world, patch)
