"""The worker processes: what waits is done in its turn, apart from the server, in bounds of time and memory.

Each worker is a thread that feeds one child process through a pipe. A child that takes too long is killed, one that
dies is replaced; what it was at is refused, and the next in turn does not notice.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from threading import Condition, Thread
from typing import Any

from ...errors import SwatchcamError, UsageError, error_from_json
from ..inbox import Tray, TrayItem
from ..inbox_files import REFUSED
from .process import MEGABYTES, PATIENCE, TASKS, Child, Gone

ASKERS = 8  # so many may wait for an answer at once: each holds one of the threads that all pages share

log = logging.getLogger(__name__)


@dataclass(frozen=True, eq=False)
class _Turn:
    """Something to be done: a thing on the tray, or a job that somebody waits for."""

    call: bytes  # what the child is told
    answered: Callable[[dict[str, Any]], object]
    id: str = ""

    @property
    def name(self) -> str:
        """What the log calls it."""
        return self.id or "a job"


class Crew:
    """Workers for what lies on the tray.

    Parameters
    ----------
    seconds : that one thing may take
    megabytes : of memory that each worker may take, where the system can hold it to that
    tasks : `module:NAME` of the dict of what a child can do
    passing_on : names of further environment variables for the children
    more : kind of thing -> what its job says besides; it is not written onto the tray
    """

    def __init__(
        self,
        tray: Tray,
        workers: int = 2,
        seconds: float = 90.0,
        megabytes: int = MEGABYTES,
        tasks: str = TASKS,
        passing_on: Sequence[str] = (),
        more: Mapping[str, Mapping[str, Any]] | None = None,
    ) -> None:
        self.tray, self.workers, self.seconds, self._more = tray, workers, seconds, more or {}
        self._kind_of_child = tasks, megabytes, passing_on
        self._change = Condition()  # guards all below
        self._queue: list[_Turn] = []
        self._at_work: set[_Turn] = set()
        self._children: set[Child] = set()
        self._threads: list[Thread] = []

    def start(self) -> None:
        """Begin, with what waits on the tray since the program was stopped; oldest first."""
        with self._change:
            if self._threads:
                return
            items = list(self.tray.newest(waiting=True))
            self._threads = [Thread(target=self._work, name=f"worker {n}", daemon=True) for n in range(self.workers)]
        for item in reversed(items):
            self._line_up(item)
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """End at once; what is not done yet waits on the tray."""
        with self._change:
            threads, self._threads = self._threads, []
            left, self._queue = self._queue, []
            for child in self._children:
                child.kill()
            self._change.notify_all()
        for turn in left:
            if not turn.id:
                turn.answered(_stopped())
        for thread in threads:
            thread.join(PATIENCE)

    def hand_over(self, id: str) -> None:
        """Have a thing on the tray done, unless it is, or is in turn already.

        Raises
        ------
        UsageError
            There is none of that number.
        """
        self._line_up(self.tray.item(id))

    def place(self, id: str) -> int:
        """How many things are to be done before that one; 0 if it is at work, done or unknown."""
        with self._change:
            things = [turn.id for turn in (*self._at_work, *self._queue) if turn.id]
            return things.index(id) if id in (turn.id for turn in self._queue) else 0

    def do(self, task: str, job: Mapping[str, Any]) -> dict[str, Any]:
        """Have something done that is not on the tray, in its turn, and wait for the answer.

        Raises
        ------
        SwatchcamError
            It was refused.
        """
        future: Future[dict[str, Any]] = Future()
        turn = _Turn(_call(task, job), future.set_result)
        with self._change:
            if not self._threads:
                future.set_result(_stopped())
            elif sum(not turn.id for turn in (*self._queue, *self._at_work)) >= ASKERS:
                future.set_result(_refusal(_busy()))
            else:
                self._queue.append(turn)
                self._change.notify()
        answer = future.result()
        if REFUSED in answer:
            raise error_from_json(answer[REFUSED])
        return answer

    def _line_up(self, item: TrayItem) -> None:
        job = {
            "asked": item.asked,
            "files": [str(path) for path in item.files],
            "names": item.names,
            "folder": str(self.tray.path(item.id)),
            **self._more.get(item.kind, {}),
        }
        turn = _Turn(_call(item.kind, job), lambda answer: self.tray.answer(item.id, answer), item.id)
        with self._change:
            if item.state != "waiting" or item.id in {turn.id for turn in (*self._queue, *self._at_work)}:
                return
            self._queue.append(turn)
            self._change.notify()

    def _state(self, id: str) -> str:
        try:
            return self.tray.item(id).state
        except UsageError:
            return "gone"

    def _work(self) -> None:
        child = self._new_child()
        while turn := self._next():
            try:
                answer, child = self._done(turn, child)
                if answer is not None:
                    turn.answered(answer)
            except Exception:  # a full disk, say; a thing that was removed meanwhile needs no answer
                if self._state(turn.id) != "gone":
                    log.exception("The answer to %s could not be stored; it waits", turn.id)
            finally:
                with self._change:
                    self._at_work.discard(turn)
        self._dismiss(child)

    def _next(self) -> _Turn | None:
        """What comes next, when it comes; None at the end."""
        with self._change:
            self._change.wait_for(lambda: self._queue or not self._threads)
            if not self._threads:
                return None
            turn = self._queue.pop(0)
            self._at_work.add(turn)
            return turn

    def _done(self, turn: _Turn, child: Child | None) -> tuple[dict[str, Any] | None, Child | None]:
        """The answer, None if it stays open; and the child for what comes next."""
        if turn.id and self._state(turn.id) != "waiting":  # removed, or done just before it was handed over again
            return None, child
        child = self._living(child)
        try:
            if child is None:
                raise Gone(late=False)
            said = child.do(turn.call, self.seconds)
        except Gone as gone:
            self._dismiss(child)
            if not self._threads:
                return (None if turn.id else _stopped()), None
            log.error("The worker at %s was replaced: %s", turn.name, gone)
            return _refusal(_too_late(self.seconds) if gone.late else _broke_off()), self._new_child()
        if said["log"]:
            log.error("%s failed:\n%s", turn.name, said["log"])
        if said["spent"]:
            self._dismiss(child)
            child = self._new_child()
        return said["answer"], child

    def _living(self, child: Child | None) -> Child | None:
        """A child that is ready, that one or another; one that dies before it begins is no fault of the photo's."""
        for _ in range(2):
            if child is None or not child.alive:
                self._dismiss(child)
                child = self._new_child()
            if child is None:
                break
            try:
                child.begin()
                return child
            except Gone:
                self._dismiss(child)
                child = None
        return None

    def _new_child(self) -> Child | None:
        """A new worker process; None where none can be started, or none is wanted any more."""
        with self._change:
            if not self._threads:
                return None
            try:
                child = Child(*self._kind_of_child)
            except OSError:
                log.exception("No worker could be started")
                return None
            self._children.add(child)
            return child

    def _dismiss(self, child: Child | None) -> None:
        if child is not None:
            with self._change:
                self._children.discard(child)
            child.close()


def _call(task: str, job: Mapping[str, Any]) -> bytes:
    return json.dumps({"task": task, "job": job}).encode()


def _refusal(error: SwatchcamError) -> dict[str, Any]:
    return {REFUSED: error.as_json()}


def _too_late(seconds: float) -> UsageError:
    return UsageError("work-took-too-long", "send-less-or-smaller", seconds=seconds)


def _broke_off() -> UsageError:
    return UsageError("work-broken-off", "try-again-or-smaller")


def _busy() -> UsageError:
    return UsageError("too-much-asked", "wait-and-load-again")


def _stopped() -> dict[str, Any]:
    return _refusal(UsageError("program-stopped", "start-the-page-again"))
