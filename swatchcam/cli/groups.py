"""Commands that are imported when they are needed, and one place where refusals are told."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

import click
from click.exceptions import NoSuchCommand

from ..errors import SwatchcamError, UsageError
from ..messages.surface import TERMINAL
from ..text import json_text
from .overview import SECTIONS, in_group

USAGE, REFUSED = 2, 3
HELP = ("-h", "--help")
JSON = "swatchcam.json"


class LazyGroup(click.Group):
    """A group whose commands are import strings `module:name`, imported when they are listed or run.

    Modules of commands keep heavy imports inside their functions, so listing them is quick. A command whose
    module is not part of this installation is left out of the list.
    """

    def __init__(self, *args: Any, lazy: Mapping[str, str] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lazy = dict(lazy or {})

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order given, then the commands added by hand."""
        return [*self.lazy, *(name for name in super().list_commands(ctx) if name not in self.lazy)]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Each command of the group in the words of the overview; where it is not there, in its own."""
        lines = [(name.removeprefix(f"{ctx.info_name} "), words) for name, words in in_group(ctx.info_name or "")]
        if not lines:
            super().format_commands(ctx, formatter)
            return
        with formatter.section("Commands"):
            formatter.write_dl(lines)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As usual, but a name that is none is answered with those like it, imported yet or not."""
        try:
            return super().resolve_command(ctx, args)
        except NoSuchCommand as error:
            raise NoSuchCommand(error.command_name, possibilities=self.known_commands(ctx), ctx=ctx) from None

    def known_commands(self, ctx: click.Context) -> list[str]:
        """Every name that may have been meant."""
        return self.list_commands(ctx)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported if need be, or None where there is none of this name."""
        command = self._imported(cmd_name) if cmd_name in self.lazy else super().get_command(ctx, cmd_name)
        if command is not None:  # click keeps the help option of the first context that asks, be it one without parents
            command.context_settings.setdefault("help_option_names", list(HELP))
        return command

    def _imported(self, cmd_name: str) -> click.Command | None:
        """The command of an import string, or None where its module is not part of this installation."""
        module, _, name = self.lazy[cmd_name].partition(":")
        try:
            command: click.Command = getattr(import_module(module), name)
        except ModuleNotFoundError as error:
            if error.name != module:
                raise  # the command is there, but something it needs is not: that is a fault, not an absence
            return None
        return command


class RefusingGroup(LazyGroup):
    """The outermost group: a refusal becomes two lines and an exit code, never a traceback."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run the command line on a terminal that may not know every letter."""
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="backslashreplace")  # a Δ that cannot be shown must not end the run
        return super().main(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; anything but a refusal is left to crash."""
        try:
            return super().invoke(ctx)
        except SwatchcamError as refusal:
            tell_refusal(refusal, as_json=bool(ctx.meta.get(JSON)))
            ctx.exit(USAGE if isinstance(refusal, UsageError) else REFUSED)
        except ImportError as error:
            if error.name != "cv2":  # Python names the module whose library could not be loaded
                raise
            missing = UsageError("opencv-cannot-start", "install-opencv-libraries", cause=error)
            tell_refusal(missing, as_json=bool(ctx.meta.get(JSON)))
            ctx.exit(USAGE)


class Outermost(RefusingGroup):
    """The group `swatchcam`: its help lists every command, those in groups too, by task."""

    def known_commands(self, ctx: click.Context) -> list[str]:
        """Those in groups too: who types `recipe` is told of `mix recipe`."""
        return list(dict.fromkeys([*self.list_commands(ctx), *(name for each in SECTIONS.values() for name in each)]))

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands of `overview`, all their words in one column."""
        width = max(len(name) for commands in SECTIONS.values() for name in commands)
        for title, commands in SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(name.ljust(width), words) for name, words in commands.items()])


def tell_refusal(refusal: SwatchcamError, as_json: bool) -> None:
    """Say what is wrong and what to do next: lines on stderr, or one object on stdout for a program."""
    if as_json:
        from ..report.json_types import RefusedJson
        from ..report.said import refusal_dict

        found: RefusedJson = {"refused": refusal_dict(refusal)}
        click.echo(json_text(found))
    else:
        click.echo(f"{TERMINAL.problem(refusal)}\n{TERMINAL.remedy(refusal)}", file=sys.stderr)


def json_option(function: Callable[..., Any]) -> Callable[..., Any]:
    """The option --json, as parameter `as_json`; refusals follow it too."""
    return click.option(
        "--json",
        "as_json",
        is_flag=True,
        is_eager=True,
        callback=_remember,
        help="Print one JSON object, for programs.",
    )(function)


def _remember(ctx: click.Context, _param: click.Parameter, value: bool) -> bool:
    ctx.meta[JSON] = value  # meta is shared by all contexts of one run
    return value
