"""Test series: strips of one pigment at known load, kept in the library; and what they tell of it and of new lots."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from ..arrays import Array
from ..colorimetry.cielab import Lab
from ..colorimetry.spectra import reflectance_to_lab
from ..errors import LibraryError, UsageError
from ..library.changes import Change
from ..library.entry import Entry, day_of
from ..library.library import Library
from ..library.records import AIR_DRIED, USUAL_LIGHT, Batch, Record, clean_name
from ..library.save import prepare, put
from ..library.search import ALONE, SERIES
from ..library.shelf.names import names_known, refuse_slips
from ..library.shelf.pigments import Known, Lot, add_lot, pigments, set_pigment
from ..measurement.measure import Measurement
from ..measurement.metamerism import SURE
from ..measurement.summary import sitting_of
from ..recipes.arithmetic import filled_up
from ..recipes.numbers import check_number, parse_number
from ..recipes.recipe import Recipe, is_clear_base
from ..text import key
from .known_strip import KnownStrip, known_strip_of
from .pigment_model import Palette
from .prior import MISFIT
from .workbench import Bench, set_up

LOADS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)  # % at which a pigment's strength is shown
READY_LOADS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)  # the same of a ready-mixed ink
ANY_STRENGTH = np.geomspace(0.1, 10.0, 400)  # that pots are tried with
STRENGTHS = np.geomspace(0.4, 2.5, 400)  # that a new lot is tried with, relative to the known strips'; no source
VERY_LITTLE = 0.05  # % of a pigment, by which its tinting strength is told; no source
MOST_LOAD = 50.0  # % of a pigment in a strip, but for a ready-mixed ink; no source
ASSUMED_STD = 0.1  # of a lot's strength that nobody tested, relative; common sense, no source
USUAL_STD = 0.3  # of a lot's strength against another's, as natural logarithm; common sense, no source


@dataclass(frozen=True)
class SeriesStrip:
    """What a pigment looks like at one load."""

    load: float  # %
    lab: Lab
    radius: float  # CIEDE2000 within which the next strip will lie in 95 of 100 cases
    working: float  # % that works: crowded pigment loses strength


def parse_loads(texts: Sequence[str]) -> dict[str, float]:
    """ "left=0.4" -> {"left": 0.4}: strip -> load, %; 0 for binder alone.

    Raises
    ------
    UsageError
        Not a strip and a load, or a strip twice.
    """
    loads: dict[str, float] = {}
    for text in texts:
        strip, _, number = text.partition("=")
        try:
            load = parse_number(number, "%")
        except UsageError:
            load = -1.0
        if not strip.strip() or not 0 <= load <= 100:
            raise UsageError("load-unreadable", "write-load", typed=text)
        if strip.strip() in loads:
            raise UsageError("strip-named-twice", "give-each-load-once", strip=strip.strip())
        loads[strip.strip()] = load
    if not loads:
        raise UsageError("no-loads", "give-loads")
    return loads


def keep_series(
    library: Library,
    measurement: Measurement,
    pigment: str,
    loads: Mapping[str, float],
    *,
    cup_g: float = 100.0,
    scale_g: float = 0.1,
    entry: Entry,
) -> list[Record]:
    """Keep the strips of a test series that one photo shows; what else was said of them stands in `entry`.

    Raises
    ------
    UsageError
        No strip of that name, a load that the scale cannot weigh, a series strip that is kept already, or a pigment
        that may be misspelt.
    LibraryError
        They cannot be written; strips before the one that fails are kept.
    """
    name = clean_name(pigment, "pigment") if any(loads.values()) else ""
    if is_clear_base(name):
        raise UsageError("clear-base-no-pigment", "load-zero-for-clear-base")
    refuse_slips(names_known(library), [name] if name else [])
    check_number(cup_g, "cup-grams", 1, 1e5)
    check_number(scale_g, "scale-step", 1e-4, 10)
    sitting = sitting_of(measurement)
    ready = {key(one.name) for one in pigments(library) if one.ready}
    if (most := max(loads.values())) > MOST_LOAD and key(name) not in ready:
        raise UsageError("load-of-ready-ink", "say-it-is-ready", pigment=name, load=most, most=MOST_LOAD)
    prepared = []
    for strip, load in loads.items():
        grams = load * cup_g / 100
        if 0 < grams < scale_g / 2:
            raise UsageError("load-below-scale", "state-cup-and-scale", load=load, cup=cup_g, grams=grams, step=scale_g)
        said = Entry(
            **vars(entry) | _series_strip(name, load, filled_up({name: grams} if grams else {}, cup_g, scale_g))
        )
        prepared.append(prepare(sitting, strip, said))
    return [put(library, one) for one in prepared]


def strength_curve(bench: Bench, pigment: str) -> list[SeriesStrip]:
    """What a pigment looks like at LOADS, or a ready-mixed ink at READY_LOADS.

    Raises
    ------
    UsageError
        Nothing is known of it.
    """
    found = []
    name, palette = key(pigment), bench.palette
    half = bench.weighs(name, half_strength(palette, pigment)[0])
    for load in READY_LOADS if name in bench.ready else LOADS:
        predicted = palette.predict({name: load / bench.weighs(name, 1.0)})
        found.append(SeriesStrip(load, predicted.lab, predicted.radius, load / (1 + load / half)))
    return found


def half_strength(palette: Palette, pigment: str) -> tuple[float, float, float]:
    """% at which a pigment has lost half its strength by crowding, and the 95 % interval of that."""
    place = palette.layer.crowding_of(int(np.argmax(palette.vector({key(pigment): 1.0}))))
    std = float(np.sqrt(palette.covariance[place, place]))
    middle = float(palette.theta[place])
    return float(np.exp(middle)), float(np.exp(middle - SURE * std)), float(np.exp(middle + SURE * std))


def tinting_strength(bench: Bench) -> dict[str, float]:
    """Pigment -> CIEDE2000-like change of the cloth by a very little of it, for 1 %: which is the strongest."""
    palette = bench.palette
    bare = np.zeros((1, len(palette.pigments)))
    start = reflectance_to_lab(palette.layer.reflectance(palette.theta, bare, later=palette.later))[0]
    little = VERY_LITTLE * np.eye(len(palette.pigments))
    moved = reflectance_to_lab(palette.layer.reflectance(palette.theta, little, later=palette.later))
    found = zip(palette.pigments, (np.linalg.norm(moved - start, axis=1) / VERY_LITTLE).tolist(), strict=True)
    return {name: strength / bench.weighs(name, 1.0) for name, strength in found}


def lot_strength(bench: Bench, known_strip: KnownStrip, pigment: str) -> tuple[float, float]:
    """How strong a new lot is, from one small test mix with it: strength relative to the strips, standard deviation.

    `known_strip` is the test mix, its shares as if the lot were of strength 1; the bench must not hold it.

    Raises
    ------
    UsageError
        The pigment is not in the mix, or the mix is for another light.
    """
    name = key(pigment)
    if not known_strip.shares.get(name):
        raise UsageError("pigment-not-in-test-mix", "name-a-test-mix", pigment=pigment)
    if (known_strip.colour.illuminant, known_strip.colour.observer) != USUAL_LIGHT:
        raise UsageError("test-mix-for-other-light", "measure-for-d65")
    misfit = _misfit(bench, known_strip, name, STRENGTHS)
    if misfit.min() > MISFIT:
        raise UsageError("test-mix-unlike-pigment", "mix-test-again", pigment=pigment)
    likely = np.exp(-0.5 * (misfit - misfit.min() + (np.log(STRENGTHS) / USUAL_STD) ** 2))
    likely /= likely.sum()
    mean = float(likely @ STRENGTHS)
    return mean, float(np.sqrt(likely @ (STRENGTHS - mean) ** 2))


def _misfit(bench: Bench, known_strip: KnownStrip, name: str, strengths: Array) -> Array:
    """How unlike a strip is (squared, of its standard deviations) if the pigment in it were so many times as strong."""
    predicted = bench.palette.predict(known_strip.shares, known_strip.colour, known_strip.shares_std)
    shares = np.array(
        [bench.palette.vector(known_strip.shares | {name: known_strip.shares[name] * s}) for s in strengths]
    )
    off = bench.palette.labs(shares) - bench.palette.aim(known_strip.colour)
    # A film that was weighed is surer than the next one would be.
    known = 1.0 if known_strip.film_std is None else (known_strip.film_std / bench.palette.scatter.std) ** 2
    found: Array = np.einsum("ni,ij,nj->n", off, np.linalg.inv(predicted.ink + known * predicted.film), off)
    return found


def differs(lot: Lot) -> bool:
    """Whether a lot is of another strength than the known strips', more than chance explains."""
    return abs(lot.strength - 1) > SURE * lot.strength_std


def _series_strip(name: str, load: float, recipe: Recipe) -> dict[str, object]:
    shade = f"{SERIES}{name}" if load else ALONE
    return {"shade": shade, "batch": f"{load:g} %" if load else "", "recipe": recipe}


def new_lot(
    library: Library, pigment: str, lot: str, since: str, test: int | None = None, strength: float | None = None
) -> Change:
    """Note a new lot of a pigment, its strength from the record of a small test mix with it.

    Raises
    ------
    UsageError
        A test and a strength were both given, no such record, or the pigment is not in it.
    """
    if test is not None and strength is not None:
        raise UsageError("lot-strength-given-twice", "name-one-of-the-two")
    since = day_of(since, "first used")
    if since > date.today().isoformat():
        raise UsageError("day-in-future", "note-lot-when-used", day=since)
    if test is None:
        if strength is not None and strength > 0:
            _refuse_unlike_pots(library, pigment, since, strength)
        _on_the_shelf(library, pigment)
        value = 1.0 if strength is None else strength
        known: Known = "assumed" if strength is None else "said"
        return add_lot(library, pigment, lot, since, value, ASSUMED_STD * value, known)
    record = library.record(test)
    bench = set_up(library, record.cloth, record.state, about=[record.colour])
    own = {each.number for each in library.records(record.shade, record.batch)}
    (pot,) = [batch for batch in library.batches(record.shade) if key(batch.name) == key(record.batch)]
    shelf = {name: replace(one, lots=()) if name == key(pigment) else one for name, one in bench.shelf.items()}
    known_strip = known_strip_of(record, pot, shelf, bench.usual_coat)
    if known_strip is None:
        raise UsageError(
            "test-mix-without-recipe", "say-what-is-in-test-mix", shade=pot.shade, batch=pot.name, pigment=pigment
        )
    mixed = pot.mixed or record.measured
    if mixed < since:
        raise UsageError("test-mix-before-lot", "give-day-of-use", mixed=mixed, since=since)
    rest = replace(bench, known_strips=tuple(one for one in bench.known_strips if one.record not in own))
    found, std = lot_strength(rest, known_strip, pigment)
    _on_the_shelf(library, pigment)
    return add_lot(library, pigment, lot, since, round(found, 4), round(std, 4), "tested")


def _refuse_unlike_pots(library: Library, pigment: str, since: str, said: float) -> None:
    """Raise UsageError where pots mixed since then speak against a strength: recipes would be for neither of the two.

    The pots' strips count as one: what they are off may be the same for all.
    """
    name = key(pigment)
    pots = {(key(one.shade), key(one.name)): one for one in library.batches() if _holds(one, name)}
    known = [(one, pots.get((key(one.shade), key(one.batch)))) for one in library.records(state=AIR_DRIED)]
    later = [(one, pot) for one, pot in known if pot and (pot.mixed or one.measured) >= since and not one.let_down]
    try:
        bench = set_up(library, later[-1][0].cloth if later else "")
    except (UsageError, LibraryError):  # then nothing is known that could speak against it
        return
    numbers = {one.number for one, _ in later}
    there = {one.record for one in bench.known_strips} & numbers
    rest = replace(bench, known_strips=tuple(one for one in bench.known_strips if one.record not in numbers))
    if not there or name not in {pigment for one in rest.known_strips for pigment in one.shares}:
        return
    shelf = {other: one for other, one in bench.shelf.items() if other != name}
    strips = [
        (one, strip)
        for one, pot in later
        if one.number in there and (strip := known_strip_of(one, pot, shelf, bench.usual_coat))
    ]
    misfit = np.mean([_misfit(rest, strip, name, ANY_STRENGTH) for _, strip in strips], axis=0)
    doubt = misfit + (np.log(ANY_STRENGTH / said) / ASSUMED_STD) ** 2
    if doubt.min() <= misfit.min() + SURE**2 or misfit.min() > MISFIT:
        return
    likely = ANY_STRENGTH[misfit <= misfit.min() + SURE**2]
    raise UsageError(
        "lot-unlike-its-pots",
        "check-day-or-name-test-mix",
        pigment=pigment,
        since=since,
        said=said,
        pots=len({(one.shade, one.batch) for one, _ in strips}),
        range=[float(likely[0]), float(likely[-1])],
        record=strips[-1][0].number,
    )


def _holds(batch: Batch, name: str) -> bool:
    return batch.recipe is not None and name in {key(part.what) for part in batch.recipe.parts}


def _on_the_shelf(library: Library, pigment: str) -> None:
    """A pigment that is in some recipe stands on the shelf, even if nobody put it there yet."""
    if key(pigment) in {key(one.name) for one in pigments(library)}:
        return
    used = {key(part.what): part.what for batch in library.batches() if batch.recipe for part in batch.recipe.parts}
    if key(pigment) in used and not is_clear_base(pigment):
        set_pigment(library, used[key(pigment)])
