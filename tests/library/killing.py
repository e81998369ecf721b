"""A process that kills itself at the n-th step of what it does, for n = 1, 2, 3 ... until it lives to the end."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import count

import pytest
from sqlalchemy import Engine, event
from sqlalchemy.pool import Pool

from tests.worlds import cheap_measurements as shelf

FILES = {"open", "os.rename", "os.link", "os.mkdir", "os.chmod", "os.remove", "sqlite3.connect"}
STATEMENTS = ("before_cursor_execute", "after_cursor_execute", "begin", "commit")
MOST = 400
CONNECTIONS = ("connect", "checkin", "close")


def every_step(command: Callable[[], object], check: Callable[[bool], None], stride: int = 1) -> int:
    """Run `command` in a fork killed at each step in turn, and after each death `check(False)`; how many deaths.

    No thread may be alive here. At last it runs to its end: `check(True)`.
    """
    for deaths, step in enumerate(range(1, MOST, stride)):
        survived = _in_a_fork(partial(_die_at, step), command)
        check(survived)
        if survived:
            return deaths
    raise AssertionError("this never ends")


def at_a_moment(command: Callable[[], object], seconds: float) -> None:
    """Run `command` in a fork, and kill that from outside."""
    child = _fork(lambda: None, command)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) in (0, -signal.SIGKILL)


def together(commands: list[Callable[[], object]]) -> None:
    """Run each in a fork of its own, all at once, to the end."""
    start = time.monotonic() + 0.05 * len(commands)
    children = [_fork(partial(_wait_until, start), command) for command in commands]
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * len(children)


def _wait_until(moment: float) -> None:
    time.sleep(max(moment - time.monotonic(), 0))


def _in_a_fork(before: Callable[[], object], command: Callable[[], object]) -> bool:
    code = os.waitstatus_to_exitcode(os.waitpid(_fork(before, command), 0)[1])
    assert code in (0, -signal.SIGKILL), code
    return code == 0


def _fork(before: Callable[[], object], command: Callable[[], object]) -> int:
    child = os.fork()
    if child:
        return child
    code = 1
    try:
        before()
        command()
        code = 0
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(code)


def _die_at(step: int) -> None:
    steps = count(1)

    def tick(*_: object) -> None:
        if next(steps) == step:
            os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(lambda name, _arguments: tick() if name in FILES else None)
    for name in STATEMENTS:
        event.listen(Engine, name, tick)
    for name in CONNECTIONS:
        event.listen(Pool, name, tick)


@pytest.fixture(scope="session")
def apart():
    """One process without threads, which has loaded everything, to fork from."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        found = shelf.sample()
        pool.submit(_know, found).result()
        yield lambda work, *arguments: pool.submit(work, dict(os.environ), *arguments).result(timeout=120)


def _know(found):
    shelf.sample = lambda: found
    gc.freeze()  # a fork need not look through all of this


def settle_environment(environment):
    """The variables of the test that asks, in the process that works for it."""
    os.environ.clear()
    os.environ.update(environment)
