"""The reference chapters, written from what they describe: the commands with their options, the keys of the JSON."""

from __future__ import annotations

import types
from collections.abc import Iterator, Sequence
from typing import Annotated, Any, NotRequired, Required, Union, get_args, get_origin, get_type_hints, is_typeddict

import click


def commands_reference(group: click.Group) -> str:
    """Every command, what it does and each of its options, as a chapter's text."""
    return "\n".join(_command(words, command) for words, command in leaves(group))


def leaves(group: click.Group, words: str = "swatchcam") -> Iterator[tuple[str, click.Command]]:
    """(words, command) of every command, groups left out."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from leaves(command, f"{words} {name}")
        elif command is not None:
            yield f"{words} {name}", command


def _command(words: str, command: click.Command) -> str:
    context = click.Context(command, info_name=words, **command.context_settings)
    usage = " ".join(command.collect_usage_pieces(context))
    said = (command.help or "").partition("\f")[0].partition("\b")[0].strip()
    rows = [_row(*record) for param in command.params if (record := param.get_help_record(context)) and record[1]]
    table = "\n".join(["| option | what it is for |", "|---|---|", *rows]) + "\n" if rows else ""
    return f"## `{words} {usage}`\n\n{_one_line(said)}\n\n{table}"


def _row(spelt: str, said: str) -> str:
    return f"| `{spelt.replace('|', chr(92) + '|')}` | {_one_line(said).replace('|', chr(92) + '|')} |"


def _one_line(text: str) -> str:
    return " ".join(text.split())


def keys_reference(objects: Sequence[type]) -> str:
    """The keys of JSON objects that are TypedDicts whose keys are `Annotated[type, "what it is"]`.

    An object that stands in the list has a table of its own; where another holds it, only the key is named.
    """
    return "\n".join(_object(each, objects) for each in objects)


def _object(found: type, objects: Sequence[type]) -> str:
    rows = [f"| `{path}` | {said.replace('|', chr(92) + '|')} |" for path, said in keys(found, apart=objects)]
    return "\n".join(
        [f"## {_one_line(found.__doc__ or found.__name__)}", "", "| key | what it is |", "|---|---|", *rows, ""]
    )


def keys(found: type, start: str = "", apart: Sequence[type] = ()) -> Iterator[tuple[str, str]]:
    """(path, what it is) of each key: `a.b`, `a[].b` within lists, `a.NAME.b` where a name stands between.

    The keys inside a key follow it, but for those of objects that are described `apart`.
    """
    for name, hint in get_type_hints(found, include_extras=True).items():
        inside, path = _inside(hint)
        yield f"{start}{name}", _said(hint)
        if inside is not None and inside not in apart:
            yield from keys(inside, f"{start}{name}{path}", apart)


def _said(hint: Any) -> str:
    """What a key is; "" where nobody says it."""
    if get_origin(hint) in (NotRequired, Required):
        return _said(get_args(hint)[0])
    told = [each for each in getattr(hint, "__metadata__", ()) if isinstance(each, str)]
    return told[-1] if told else ""  # of a type that says something itself, what its user says counts


def _inside(hint: Any) -> tuple[type | None, str]:
    """The TypedDict within a hint, and how its keys are reached."""
    origin, within = get_origin(hint), get_args(hint)
    if is_typeddict(hint):
        return hint, "."
    if origin in (Annotated, NotRequired, Required):
        return _inside(within[0])
    if origin is list:
        found, path = _inside(within[0])
        return found, f"[]{path}"
    if origin is dict:
        found, path = _inside(within[1])
        return found, f".NAME{path}"
    if origin in (Union, types.UnionType):
        return next((_inside(each) for each in within if _inside(each)[0]), (None, ""))
    return None, ""
