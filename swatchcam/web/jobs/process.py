"""One worker process, at the other end of a pipe: given one thing at a time, killed when it takes too long."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from threading import Event, Timer
from typing import Any

TASKS = "swatchcam.web.jobs.photo_tasks:TASKS"
# Measured on two cores, as the most that a fresh child took of its addresses until a photo was answered: JPEG of 12 and
# 48 megapixels 482 MB (a large JPEG is shrunk as it is read), of 119, the most that is read, 499; HEIC of 12, 48 and
# 119: 544, 712, 1069; PNG of 48 and 119: 738, 1179; in 16 bits 1170, 2160. In memory they took 360 MB less.
MEGABYTES = 3000
READY = 60.0  # seconds to load the libraries, on a slow disk
LONGEST = 64 << 20  # bytes of an answer
PATIENCE = 5.0  # seconds to wait for what was killed
# The matrices are tiny, threads cost more than they save; and each thread's heap would take 128 MB of addresses.
SETTINGS = {"OPENBLAS_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "2"}
# All that a child is told of the server's environment: no passwords, nor where the library lies.
PASSED_ON = (
    *("PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "SYSTEMROOT", "WINDIR", "TEMP", "TMP", "TMPDIR"),
    *("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA", "XDG_DATA_HOME", "SWATCHCAM_CARDS"),
    *("LANG", "LC_ALL", "LC_CTYPE", "TZ", "PYTHONHOME", "PYTHONUTF8"),
)
START = (
    # Ctrl-C ends the server, and the server its workers, be they ready or not.
    "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN); "
    "import json, sys; sys.path[:] = json.loads(sys.argv[1]); "
    "from swatchcam.web.jobs.worker import work; work({!r}, {})"
)


class Gone(Exception):
    """A child that gives no answer any more."""

    def __init__(self, late: bool) -> None:
        super().__init__("too late" if late else "it died")
        self.late = late


class Child:
    """One worker process. Raises OSError where none can be started."""

    def __init__(self, tasks: str, megabytes: int, passing_on: Sequence[str] = ()) -> None:
        path = json.dumps([os.path.abspath(folder) for folder in sys.path])
        self._ready = False
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", START.format(tasks, megabytes), path],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={name: os.environ[name] for name in (*PASSED_ON, *passing_on) if name in os.environ} | SETTINGS,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )

    @property
    def alive(self) -> bool:
        """Whether it may be given something to do."""
        return self._process.poll() is None

    def begin(self) -> None:
        """Wait until it has loaded what it needs; raises as `do`."""
        if not self._ready:
            self._ready = bool(self._exchange(b"", READY))

    def do(self, call: bytes, seconds: float) -> dict[str, Any]:
        """What `worker.work` says of a call: `answer`, `log` and `spent`.

        Raises
        ------
        Gone
            There was no answer in so many seconds, or none at all; it was killed.
        """
        said = self._exchange(call + b"\n", seconds)
        if not isinstance(said.get("answer"), dict):
            raise Gone(late=False)
        return {"log": "", "spent": False} | said

    def kill(self) -> None:
        """End it at once; whoever waits for its answer sees that it is gone."""
        self._process.kill()

    def close(self) -> None:
        """End it, and clear away what is left of it."""
        self.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(PATIENCE)
        for pipe in filter(None, (self._process.stdin, self._process.stdout)):
            with contextlib.suppress(OSError):
                pipe.close()

    def _exchange(self, line: bytes, seconds: float) -> dict[str, Any]:
        process, late = self._process, Event()
        assert process.stdin
        assert process.stdout

        def end() -> None:
            late.set()
            process.kill()

        watch = Timer(seconds, end)
        watch.daemon = True
        watch.start()
        try:
            process.stdin.write(line)
            process.stdin.flush()
            found = process.stdout.readline(LONGEST)
            answer = json.loads(found) if found.endswith(b"\n") else None
        except (OSError, ValueError):  # a broken pipe; or a line that is none of ours
            answer = None
        watch.cancel()
        watch.join()  # or it might kill what has just begun with the next
        if late.is_set() or not isinstance(answer, dict):
            process.kill()
            raise Gone(late.is_set())
        return answer
