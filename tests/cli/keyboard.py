"""A person at the keyboard: commands are typed, and never end in a traceback."""

from __future__ import annotations

import json
import shlex

import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from tests.report.typed import check_printed


def split(words):
    """A line as the shell splits it, or words that are split already."""
    return shlex.split(words) if isinstance(words, str) else list(words)


def type_in(words):
    done = CliRunner().invoke(main, split(words))
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    assert "Traceback" not in done.output
    check_printed(split(words), done)
    return done


def answer(words, code=0):
    """The one object that is printed, and nothing else; every number is one."""
    done = type_in([*split(words), "--json"])
    assert done.exit_code == code, done.output
    return json.loads(done.stdout, parse_constant=pytest.fail)


def refused(words, code=2):
    """Problem and remedy, the same in words and for a program."""
    done = type_in(words)
    assert (done.exit_code, done.stdout) == (code, ""), done.output
    problem, remedy = done.stderr.removeprefix("Measuring\n").splitlines()
    told = type_in([*split(words), "--json"])
    assert (told.exit_code, told.stderr.removeprefix("Measuring\n")) == (code, "")
    facts = json.loads(told.stdout)["refused"]
    assert (facts["problem"], facts["next"]) == (problem, remedy)
    return problem, remedy
