"""What was typed in a form -> values; a refusal names the field."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from unicodedata import category

from starlette.datastructures import FormData, UploadFile

from ..errors import UsageError
from ..recipes.measures import Measures
from ..recipes.numbers import parse_amount
from ..recipes.recipe import SCALE_G, TIP_G, Recipe, parse_recipe

LONGEST = 120  # letters, as of a name in the library
SHOWN = 40  # letters of what was typed, in a refusal
MOST = 1_000_000.0
FINEST = 1e-4  # g; no scale of a studio shows less
WEIGHTS = (("scale", "The scale’s step"), ("drop", "One drop weighs"), ("tip", "One spoon tip weighs"))


def text(
    form: FormData, name: str, *, longest: int = LONGEST, needed: bool = False, lines: bool = False, label: str = ""
) -> str:
    """What was typed in a field, on one line with single blanks, or as `lines`; "" where it is empty or not there.

    `label` is what the page calls the field, where that is not its name.

    Raises
    ------
    UsageError
        It is too long, holds signs that cannot be written, or is `needed` and empty.
    """
    value = form.get(name, "")
    called = _called(name, label)
    if not isinstance(value, str):
        raise _in(called, UsageError("file-in-field", "type-it-there"))
    return _tidied(value, called, longest, needed, lines)


def texts(form: FormData, name: str, *, longest: int = LONGEST, label: str = "") -> list[str]:
    """What was typed in all fields of this name, in their order, empty ones too; as `text`."""
    typed = [value for value in form.getlist(name) if isinstance(value, str)]
    return [_tidied(value, _called(name, label), longest, False, False) for value in typed]


def number(form: FormData, name: str, unit: str, *, least: float = 0.0, most: float = MOST, label: str = "") -> float:
    """A number of this unit, "12,5", "12.5 g"; both bounds are allowed.

    Raises
    ------
    UsageError
        It is missing, cannot be read, or lies beyond the bounds.
    """
    found = number_or_none(form, name, unit, least=least, most=most, label=label)
    if found is None:
        raise _missing(_called(name, label))
    return found


def number_or_none(
    form: FormData, name: str, unit: str, *, least: float = 0.0, most: float = MOST, label: str = ""
) -> float | None:
    """As `number`, but None where the field was left empty."""
    called, typed = _called(name, label), text(form, name, label=label)
    if not typed:
        return None
    try:
        found = parse_amount(typed, unit)
    except UsageError as error:
        error.at("in-field", field=called)
        raise
    if not least <= found <= most:
        refusal = UsageError(
            "out-of-bounds", "keep-within-bounds", typed=typed[:SHOWN], least=least, most=most, unit=unit
        )
        raise _in(called, refusal)
    return found


def whole(form: FormData, name: str, *, least: int = 1, most: int = 999_999, label: str = "") -> int:
    """A whole number; both bounds are allowed.

    Raises
    ------
    UsageError
        It is missing, is no whole number, or lies beyond the bounds.
    """
    found = whole_or_none(form, name, least=least, most=most, label=label)
    if found is None:
        raise _missing(_called(name, label))
    return found


def whole_or_none(form: FormData, name: str, *, least: int = 1, most: int = 999_999, label: str = "") -> int | None:
    """As `whole`, but None where the field was left empty."""
    called, typed = _called(name, label), text(form, name, label=label)
    if not typed:
        return None
    if not re.fullmatch(r"[0-9]{1,12}", typed):
        refusal = UsageError("not-a-whole-number", "type-a-whole-number", typed=typed[:SHOWN], least=least, most=most)
        raise _in(called, refusal)
    if not least <= int(typed) <= most:
        refusal = UsageError("out-of-bounds", "type-a-whole-number", typed=typed[:SHOWN], least=least, most=most)
        raise _in(called, refusal)
    return int(typed)


def choice(form: FormData, name: str, allowed: Collection[str], *, default: str | None = None, label: str = "") -> str:
    """One of the words allowed; `default` where the field is empty or not there.

    Raises
    ------
    UsageError
        It is another word, or missing where there is no default.
    """
    typed, called = text(form, name, label=label), _called(name, label)
    if not typed and default is not None:
        return default
    if typed not in allowed:
        choices = [word for word in allowed if word]
        raise _in(called, UsageError("not-a-choice", "choose-one-of", typed=typed[:SHOWN], choices=choices))
    return typed


def weights(form: FormData, measures: Measures) -> dict[str, float | None]:
    """What the scale's step, a drop and a spoon tip weigh, g; the usual where nothing was typed.

    None for the drop: each is that of its bottle.
    """
    typed = {name: number_or_none(form, name, "g", least=FINEST, label=label) for name, label in WEIGHTS}
    scale = next(step for step in (typed["scale"], measures.scale_g, SCALE_G) if step is not None)
    return typed | {"scale": scale, "tip": typed["tip"] or TIP_G}


def read_recipe(written: str, grams: Mapping[str, float | None], measures: Measures) -> Recipe:
    """What was typed as a recipe, with `weights`; never the name of a file, which would be one of the computer's."""
    return parse_recipe(written, grams["scale"] or SCALE_G, grams["drop"], grams["tip"] or TIP_G, measures=measures)


def ticked(form: FormData, name: str) -> bool:
    """Whether a box was ticked; a browser leaves those out that were not."""
    return bool(form.get(name))


def files(form: FormData, name: str) -> list[UploadFile]:
    """The files of a field; not the empty parts that a browser sends where none was chosen."""
    return [value for value in form.getlist(name) if isinstance(value, UploadFile) and value.filename]


def _called(name: str, label: str) -> str:
    called = label or re.sub("[-_]", " ", name)
    return called[:1].upper() + called[1:]


def _in(called: str, error: UsageError) -> UsageError:
    """The refusal, of this field."""
    error.at("in-field", field=called)
    return error


def _tidied(value: str, called: str, longest: int, needed: bool, lines: bool) -> str:
    value = value.replace("\r\n", "\n")
    if any(category(sign) in ("Cc", "Cs") and sign not in "\n\t" for sign in value):  # no database keeps those
        raise _in(called, UsageError("character-not-stored", "type-it-by-hand"))
    value = value.strip() if lines else " ".join(value.split())
    if len(value) > longest:
        raise _in(called, UsageError("text-too-long", "shorten-it", longest=longest))
    if needed and not value:
        raise _missing(called)
    return value


def _missing(called: str) -> UsageError:
    return UsageError("field-empty", "fill-in-the-field", field=called)
