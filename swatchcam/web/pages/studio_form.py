"""Page: what the studio has and usually does, asked once; the forms of the pot begin with it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ...cards.values_folder import NOMINAL, known_cards
from ...errors import SwatchcamError, UsageError
from ...library.library import Library
from ...library.records import WET, clean_name, parse_state
from ...library.shelf.names import SLIP, names_known, pigment_meant
from ...library.shelf.pigments import clear_base, pigments, set_pigment
from ...library.shelf.pre_mixes import pre_mix_named, pre_mixes, set_pre_mix_drops
from ...library.shelf.studio import Studio as Said
from ...library.shelf.studio import set_studio
from ...library.shelf.studio import studio_of as said_of
from ...library.shelf.tools import measures_of
from ...recipes.drops import Drops, parse_drops
from ...recipes.measures import NONE, Measures, parse_spoon
from ...recipes.recipe import SCALE_G, is_clear_base
from ...text import key
from ..context import Studio, studio_of
from ..forms import FINEST, LONGEST, choice, number_or_none, text
from ..render import REFUSAL, page
from ..request_checks import posted
from .state_fields import FIELDS as OF_THE_STATE
from .state_fields import WORDS, asked_state, state_said

BACK = re.compile(r"/pot(/[a-z]+)?(\?[^\s\\]*)?")  # where the form may lead on to: a page of the pot
BOTTLES = 60  # that are asked about; more fit no form
LARGEST = 100.0  # CIEDE2000: black is as far from white
STATE = "Your shades are"
SPOON = "spoon"


@dataclass(frozen=True)
class Amount:
    """A field that holds a number."""

    name: str  # of the field
    column: str  # of `Said`
    unit: str
    least: float
    most: float
    label: str
    hint: str


AMOUNTS = (
    Amount(
        "scale",
        "scale_g",
        "g",
        FINEST,
        10,
        "The step of your scale, g",
        "The smallest change it shows: 1 g on most kitchen scales, 0.1 g or 0.01 g on finer ones.",
    ),
    Amount(
        "pot", "pot_g", "g", 1, 1e6, "You usually mix, g", "Such as 300 g. You can still change it in every recipe."
    ),
    Amount(
        "tolerance",
        "tolerance",
        "",
        0.01,
        LARGEST,
        "How far off still counts as the same, CIEDE2000",
        "Such as 2. You can just see a difference of about 1 side by side.",
    ),
)


@dataclass(frozen=True)
class Bottle:
    """A field for the drops of a bottle."""

    name: str  # of its pigment
    drops: Drops | None = None  # as they are known
    typed: str = ""
    new: bool = False  # whether its pigment is typed too


@dataclass
class Filled:
    """What was typed, what it means, and why a field was refused."""

    said: dict[str, Any] = field(default_factory=dict)  # column of `Said` -> what it is now; only what was changed
    drops: dict[str, Drops] = field(default_factory=dict)  # pigment -> those of its bottle
    refused: dict[str, SwatchcamError] = field(default_factory=dict)  # field -> why

    def read(self, name: str, reading: Callable[[], Any]) -> Any:
        """What a field holds; None where it is refused."""
        try:
            return reading()
        except SwatchcamError as error:
            self.refused[name] = error
            return None

    def take(self, form: FormData, name: str, column: str, reading: Callable[[], Any]) -> None:
        """What a field holds, if it was changed since the form was opened."""
        found = self.read(name, reading)
        if " ".join(str(form.get(name, "")).split()) != form.get(f"was-{name}", ""):
            self.said[column] = found


def usual(studio: Studio) -> Said:
    """What was said of the studio; nothing where there is no library yet."""
    library = studio.found()
    return said_of(library) if library else Said()


def measures(studio: Studio) -> Measures:
    """What a recipe that was counted and spooned is read by; nothing is known where there is no library yet."""
    library = studio.found()
    return measures_of(library) if library else NONE


def usual_card(studio: Studio) -> str | None:
    """The card of a measurement, unless another one is chosen; None for the only one."""
    return studio.card or usual(studio).card or None


def ask(request: Request) -> Response:
    """The form, with what was said before in it."""
    return _form(request, FormData(_fields(usual(studio_of(request)))), Filled())


def send(request: Request, form: FormData) -> Response:
    """Save what was changed; a field that is refused stands in the form as it was typed, and nothing is saved."""
    studio = studio_of(request)
    filled = _read(studio, form)
    if filled.refused:
        return _form(request, form, filled)
    if filled.said or filled.drops:
        _save(studio.opened(create=True), filled)
    back = _back(str(form.get("back", "")))
    return RedirectResponse(back or "/studio?saved=yes", 303)


def _save(library: Library, filled: Filled) -> None:
    before, given = vars(said_of(library)), {n: value for n, value in filled.said.items() if value not in (None, "")}
    gone = [name for name in filled.said.keys() - given.keys() if before[name] not in (None, "")]
    if given or gone:  # somebody else may have emptied the same field meanwhile
        set_studio(library, **given, forget=gone)
    for name, drops in filled.drops.items():
        if name.endswith("%"):
            set_pre_mix_drops(library, name, drops)
        else:
            set_pigment(library, name, drops=drops)


def _read(studio: Studio, form: FormData) -> Filled:
    """What is to be saved: only what was changed in this form, for somebody else may have changed the rest."""
    filled, before, library = Filled(), usual(studio), studio.found()
    for one in AMOUNTS:
        filled.take(form, one.name, one.column, partial(_number, form, one))
    cards = ("", before.card, *known_cards(), NOMINAL)
    filled.take(form, "card", "card", partial(choice, form, "card", cards, default="", label="Your usual card"))
    filled.take(form, "cloth", "cloth", partial(text, form, "cloth", label="Your usual cloth"))
    scale = filled.said.get("scale_g", before.scale_g)
    scale = SCALE_G if "scale" in filled.refused else scale  # one refusal is enough
    filled.take(form, SPOON, "spoon_ml", partial(_spoon, library, form, scale))
    state = filled.read("state", partial(state_said, form, STATE))
    if str(state or "") != form.get("was-state", ""):
        filled.said["state"] = state
    _read_bottles(filled, form, library, scale)
    return filled


def _read_bottles(filled: Filled, form: FormData, library: Library | None, scale_g: float | None) -> None:
    sure = _typed(form, "sure")  # names that were asked about, and are new
    bottles = zip(_typed(form, "bottle"), _typed(form, "drops"), strict=False)
    for place, (bottle, typed) in enumerate(bottles, start=1):
        if bottle.strip() or typed.strip():
            read = partial(_drops, library, bottle, typed, scale_g, bottle in sure)
            filled.drops |= filled.read(f"drops-{place}", read) or {}


def _number(form: FormData, one: Amount) -> float | None:
    return number_or_none(form, one.name, one.unit, least=one.least, most=one.most, label=one.label)


def _spoon(library: Library | None, form: FormData, scale_g: float | None) -> float | None:
    """What a spoon holds, ml, as it was typed or weighed."""
    typed, base = text(form, SPOON, label="Your spoon"), clear_base(library) if library else None
    return parse_spoon(typed, scale_g or SCALE_G, base.density if base else None) if typed else None


def _typed(form: FormData, name: str) -> list[str]:
    return [typed for typed in form.getlist(name) if isinstance(typed, str)]


def _drops(library: Library | None, bottle: str, typed: str, scale_g: float | None, sure: bool) -> dict[str, Drops]:
    """The drops of a bottle, by the name of its pigment or pre-mix; none where no count was typed."""
    name = clean_name(bottle, "pigment")
    if not typed.strip():
        return {}
    if is_clear_base(name):
        raise UsageError("clear-base-no-drops", "weigh-clear-base")
    if name.endswith("%"):
        if library is None:
            raise UsageError("pre-mix-unknown", "choose-a-pre-mix", name=name, near=[])
        name = pre_mix_named(library, name).name
    elif library and not sure:
        name = pigment_meant(library, name)
    if scale_g is None:
        raise UsageError("drops-without-scale", "fill-in-the-scale")
    return {name: parse_drops(typed[:LONGEST], scale_g)}


def _fields(said: Said) -> dict[str, str]:
    """What stands in the form at first."""
    numbers = [(one.name, getattr(said, one.column)) for one in AMOUNTS] + [(SPOON, said.spoon_ml)]
    found = [(name, "" if value is None else f"{value:.10g}") for name, value in numbers]
    found += [("card", said.card), ("cloth", said.cloth)]
    return dict(found) | {f"was-{name}": value for name, value in found} | {"was-state": str(said.state or "")}


def _form(request: Request, said: FormData, filled: Filled) -> Response:
    studio = studio_of(request)
    library = studio.found()
    return page(
        request,
        "studio.html.jinja",
        status=REFUSAL if filled.refused else 200,
        said=said,
        problems=filled.refused,
        asked_about={name: error for name, error in filled.refused.items() if error.code == SLIP},
        amounts=AMOUNTS,
        cards=list(dict.fromkeys([*filter(None, [usual(studio).card]), *known_cards(), NOMINAL])),
        cloths=_cloths(library),
        bottles=_bottles(library, said),
        saved=bool(request.query_params.get("saved")),
        back=_back(str(said.get("back", request.query_params.get("back", "")))),
        **_state(library, said),
    )


def _state(library: Library | None, said: FormData) -> dict[str, Any]:
    """The fields that ask what is usually done to a cloth."""
    was = str(said.get("was-state", ""))
    asked = asked_state(library, "", parse_state(was) if was else None)
    # A wet colour is no target.
    asked["states"] = {"": "not said"} | {state: words for state, words in WORDS.items() if state != WET}
    typed = {name: str(said[name]) for name in OF_THE_STATE if name in said}
    return {"for_state": STATE, "state_asked": asked | {"said": asked["said"] | typed}}


def _cloths(library: Library | None) -> list[str]:
    """The cloths that strips were kept on."""
    last = library.latest().values() if library else ()
    return sorted({key(record.cloth): record.cloth for record in last if record.cloth}.values(), key=key)


def _bottles(library: Library | None, said: FormData) -> list[Bottle]:
    """One for each pigment, those with known drops first, and one for another pigment."""
    there = dict[str, tuple[str, Drops | None]]()
    if library:
        there = {name: (written, None) for name, written in names_known(library).items() if not is_clear_base(name)}
        there |= {key(one.name): (one.name, one.drops) for one in pigments(library)}
        there |= {key(one.name): (one.name, one.drops) for one in pre_mixes(library)}
    typed = dict(zip(map(key, _typed(said, "bottle")), _typed(said, "drops"), strict=False))
    new = [name for name in _typed(said, "bottle") if key(name) not in there] or [""]
    first = sorted(there.values(), key=lambda one: (one[1] is None, key(one[0])))[:BOTTLES]
    known = [Bottle(name, drops, typed.get(key(name), "")) for name, drops in first]
    return known + [Bottle(name, None, typed.get(key(name), ""), new=True) for name in new]


def _back(typed: str) -> str:
    """The page of the pot that led here, "" for none: no address leads elsewhere."""
    return typed if BACK.fullmatch(typed) else ""


routes = [Route("/studio", ask), Route("/studio", posted(send), methods=["POST"])]
