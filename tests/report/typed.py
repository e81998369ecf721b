"""Whether JSON is what its TypedDict says: the same keys, no more and no fewer, at every depth, and the plain types."""

from __future__ import annotations

import json
import math
import types
from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Literal, NotRequired, Union, get_args, get_origin, get_type_hints, is_typeddict

from click.testing import Result

from swatchcam.report import json_types


def faults(found: Any, hint: Any) -> list[str]:
    """What is not as the hint says, in words; `found` is taken through JSON first, as a program gets it."""
    return list(_faults(json.loads(json.dumps(found, allow_nan=False)), hint, "")) + list(_tuples(found, ""))


def _faults(found: Any, hint: Any, path: str) -> Iterator[str]:
    origin, within = get_origin(hint), get_args(hint)
    if origin in (Annotated, NotRequired):
        yield from _faults(found, within[0], path)
    elif is_typeddict(hint):
        yield from _object(found, hint, path)
    elif origin in (Union, types.UnionType):
        tried = [list(_faults(found, each, path)) for each in within]
        if all(tried):
            yield from min(tried, key=len)
    elif origin is Literal:
        if found not in within:
            yield f"{path}: {found!r} is none of {within}"
    elif origin is list and isinstance(found, list):
        for place, each in enumerate(found):
            yield from _faults(each, within[0], f"{path}[{place}]")
    elif origin is dict and isinstance(found, dict):
        for name, each in found.items():
            yield from _faults(each, within[1], f"{path}.{name}")
    elif hint is not Any and not _is_a(found, hint):
        yield f"{path}: {found!r} is no {hint}"


def _object(found: Any, hint: Any, path: str) -> Iterator[str]:
    if not isinstance(found, dict):
        yield f"{path}: {found!r} is no object"
        return
    said = get_type_hints(hint, include_extras=True)
    must = {name for name, each in said.items() if get_origin(each) is not NotRequired}
    yield from (f"{path}.{name} is missing" for name in must - found.keys())
    yield from (f"{path}.{name} is in no type" for name in found.keys() - said.keys())
    for name in found.keys() & said.keys():
        yield from _faults(found[name], said[name], f"{path}.{name}")


def _is_a(found: Any, hint: Any) -> bool:
    """Of JSON's plain types; a whole number is a number, and true is none."""
    if hint in (None, type(None)):
        return found is None
    if isinstance(found, bool):
        return hint is bool
    if hint is float:
        return isinstance(found, int | float) and math.isfinite(found)
    return hint in (str, int) and isinstance(found, hint)


def _tuples(found: Any, path: str) -> Iterator[str]:
    """What is a list only once it is JSON; a program in Python would get something else than one that reads JSON."""
    if isinstance(found, tuple):
        yield f"{path}: a tuple"
    if isinstance(found, dict):
        for name, each in found.items():
            yield from _tuples(each, f"{path}.{name}")
    if isinstance(found, list | tuple):
        for place, each in enumerate(found):
            yield from _tuples(each, f"{path}[{place}]")


PRINTED: dict[str, tuple[type, ...]] = {
    "check": (json_types.CheckJson, json_types.StainingJson),
    "measure": (json_types.MeasurementJson,),
    "opacity": (json_types.OpacityJson,),
    "near": (json_types.NearJson,),
    "card print": (json_types.CardPrintJson, json_types.RowPrintJson),
    "card import": (json_types.CardJson, json_types.RowJson),
    "card learn": (json_types.CardJson, json_types.RowJson),
    "card list": (json_types.CardsJson,),
    "card use": (json_types.CardTiedJson, json_types.ChangeJson),
    "card test": (json_types.CardTestJson,),
    "card show": (json_types.CardJson, json_types.RowJson),
    "card remove": (json_types.CardRemovedJson,),
    "keep": (json_types.KeptJson,),
    "shade list": (json_types.ShadesJson,),
    "shade show": (json_types.ShadeAccountJson,),
    "shade set": (json_types.ChangesJson,),
    "shade page": (json_types.DoneJson,),
    "shade cards": (json_types.DoneJson,),
    "batch": (json_types.BatchAccountJson, json_types.ChangeJson),
    "record": (json_types.RecordJson, json_types.ChangeJson),
    "remove": (json_types.ChangeJson,),
    "undo": (json_types.LogJson, json_types.ChangeJson),
    "mix recipe": (json_types.AnswerJson,),
    "mix correct": (json_types.AnswerJson,),
    "mix again": (json_types.AnswerJson,),
    "mix use-up": (json_types.AnswerJson, json_types.LeftoversJson),
    "mix predictions": (json_types.PredictionsJson,),
    "amount": (json_types.AmountJson,),
    "pigment list": (json_types.PaletteJson,),
    "pigment show": (json_types.PigmentJson,),
    "pigment set": (json_types.ChangesJson,),
    "pigment series": (json_types.SeriesJson,),
    "shelf list": (json_types.ShelfJson,),
    "shelf weigh": (json_types.ChangeJson,),
    "shelf pre-mix": (json_types.PreMixJson,),
    "studio": (json_types.StudioJson, json_types.ChangesJson),
    "handbook": (json_types.ContentsJson, json_types.ChapterJson),
    "library where": (json_types.WhereJson,),
    "library fill": (json_types.FillJson,),
    "library export": (json_types.DoneJson,),
    "library backup": (json_types.CountJson,),
    "library restore": (json_types.CountJson,),
    "library verify": (json_types.VerifyJson,),
    "library upgrade": (json_types.DoneJson,),
}
WRONG_USE = 2  # click's own refusal of a command that cannot be read prints no object


def check_printed(words: Sequence[object], done: Result) -> None:
    """Whatever was typed: if it was to print one object, that is of the command's type, or a refusal."""
    if "--json" not in words or "--help" in words or (done.exit_code == WRONG_USE and not done.stdout):
        return
    found = json.loads(done.stdout)
    command = next(name for name in (" ".join(map(str, words[:2])), words[0]) if name in PRINTED)
    refused = isinstance(found.get("refused"), dict)  # a list is what `library fill` could not keep
    types_ = (json_types.RefusedJson,) if refused else PRINTED[command]
    assert [] in (told := [faults(found, each) for each in types_]), told
