"""A worker process: a job as JSON in, an answer as JSON out, one after the other.

A photo is a stranger's file, and its decoders are much code: so it is opened in a process of its own, which knows no
secrets, may use so much memory and no more, and can be killed.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import traceback
from collections.abc import Callable, Mapping
from importlib import import_module
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import Any

from ...errors import SwatchcamError, UsageError
from ..inbox_files import REFUSED

WorkerTask = Callable[[Mapping[str, Any]], dict[str, Any]]

NO_MEMORY = -4  # OpenCV's number for it


def work(tasks: str, megabytes: int) -> None:
    """Do what comes in at the standard input, line by line, until that ends; `tasks` is `module:NAME`.

    Answers go to what was the standard output. The C libraries' words end up on the error channel.
    """
    lines: SimpleQueue[bytes] = SimpleQueue()
    with open(os.dup(1), "wb") as answers:
        os.dup2(2, 1)
        Thread(target=_listen, args=(lines,), daemon=True).start()
        _bound(megabytes)
        known, answer = _known(tasks), b'{"ready": true}'
        while True:
            answers.write(answer + b"\n")
            answers.flush()
            answer = _done(known, json.loads(lines.get()), megabytes)


def _known(tasks: str) -> Mapping[str, WorkerTask]:
    """The tasks of `module:NAME`, their module prepared if it can be."""
    name, _, attribute = tasks.partition(":")
    module = import_module(name)
    getattr(module, "prepare", lambda: None)()
    found: Mapping[str, WorkerTask] = getattr(module, attribute)
    return found


def _listen(lines: SimpleQueue[bytes]) -> None:
    """Pass jobs on; at the end of the pipe the server is gone, and what is at work here is of no use any more."""
    for line in sys.stdin.buffer:
        lines.put(line)
    os._exit(0)


def _bound(megabytes: int) -> None:
    """Take no more than so much memory, where the system has such a limit."""
    with contextlib.suppress(OSError):  # where all memory runs out, Linux shall end a worker and not the server
        Path("/proc/self/oom_score_adj").write_text("500", encoding="ascii")
    try:
        import resource
    except ImportError:  # Windows
        return
    with contextlib.suppress(ValueError, OSError):  # macOS knows the limit and may refuse to set it
        most = resource.getrlimit(resource.RLIMIT_AS)[1]
        wanted = megabytes << 20
        bound = wanted if most == resource.RLIM_INFINITY else min(wanted, most)
        resource.setrlimit(resource.RLIMIT_AS, (bound, bound))


def _done(tasks: Mapping[str, WorkerTask], call: Mapping[str, Any], megabytes: int) -> bytes:
    """One JSON object: the answer; what went wrong, for the server's log; and whether this process is spent."""
    try:
        try:
            answer = tasks[call["task"]](call["job"])
        except SwatchcamError as error:
            answer = {REFUSED: error.as_json()}
        return _line(answer)
    except Exception as error:
        # Nobody knows what state such an error leaves behind.
        answer = {REFUSED: (_too_much(megabytes) if _is_short(error) else _failed()).as_json()}
        return _line(answer, log=traceback.format_exc(), spent=True)


def _line(answer: Mapping[str, Any], log: str = "", spent: bool = False) -> bytes:
    return json.dumps({"answer": answer, "log": log, "spent": spent}, allow_nan=False).encode()


def _too_much(megabytes: int) -> UsageError:
    return UsageError("memory-too-small", "send-it-smaller", megabytes=megabytes)


def _failed() -> UsageError:
    return UsageError("program-failed", "try-another-photo")


def _is_short(error: BaseException | None) -> bool:
    """Whether memory ran out, here or in a library that says it in its own way."""
    while error is not None:
        if isinstance(error, MemoryError) or getattr(error, "code", None) == NO_MEMORY:
            return True
        error = error.__cause__ or error.__context__
    return False
