"""Letting phones in: a code that lets in one, the tries at it, and the list of those that were let in."""

from __future__ import annotations

import hmac
import json
import re
import secrets
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from threading import RLock
from typing import Any

from ..errors import UsageError
from ..files import OWNER_ONLY, disk_cause, write_whole
from ..messages.message import finding
from ..text import tidy

SIGNS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # without 0 O 1 I L, which are mistaken for each other
LENGTH = 8  # signs: some 8e11 codes, of which five may be tried before another counts
LASTS = 15 * 60  # s
WRONG_TRIES = 5  # at one code
MINUTE, TRIES_OF_ONE, TRIES_OF_ALL = 60, 5, 20  # s; tries within it
LONGEST_NAME = 40  # letters
NOTED_EVERY = 3600  # s; so often at most is written to the disk when a phone was last seen


def link(host: str, code: str) -> str:
    """What a phone opens to be let in; `host` is the page's host and port."""
    return f"http://{host}/pair?code={code}"


def signs_of(text: str) -> str:
    """A code as it was typed or followed -> its signs alone, "abcd efgh" -> "ABCDEFGH"."""
    return re.sub(r"[^A-Z0-9]", "", text.upper())


class Door:
    """The code that the studio's computer shows. Each lets in one phone, lasts 15 minutes and bears few wrong tries.

    `clock` gives seconds that only grow; `on_new_code` is told each code but the first.
    """

    def __init__(
        self, clock: Callable[[], float] = time.monotonic, on_new_code: Callable[[str], None] | None = None
    ) -> None:
        self._clock, self._on_new_code = clock, on_new_code
        self._lock = RLock()
        self._tries: deque[tuple[float, str]] = deque()
        self._used, self._wrong = False, 0
        self._draw()

    @property
    def code(self) -> str:
        """The code that counts now, "ABCD-EFGH"."""
        self.renew()
        return self._code

    def renew(self) -> None:
        """Make a new code if the last was used, guessed at or grew too old."""
        with self._lock:
            if self._used or self._wrong >= WRONG_TRIES or self._clock() - self._since >= LASTS:
                self._draw()
                if self._on_new_code:
                    self._on_new_code(self._code)

    def let_in(self, code: str, address: str) -> bool:
        """Whether this is the code that counts; if so it is used up, and the next is made when it is asked for.

        Raises
        ------
        UsageError
            Too many tries within a minute, from this address or in all.
        """
        with self._lock:
            self._count(address)
            # Compared as bytes, for text that is not ASCII cannot be compared in constant time.
            right = hmac.compare_digest(signs_of(self.code).encode(), signs_of(code).encode())
            self._used, self._wrong = right, self._wrong + (not right)
            if not right:
                self.renew()
            return right

    def _draw(self) -> None:
        drawn = "".join(secrets.choice(SIGNS) for _ in range(LENGTH))
        self._code = f"{drawn[: LENGTH // 2]}-{drawn[LENGTH // 2 :]}"
        self._since, self._wrong, self._used = self._clock(), 0, False

    def _count(self, address: str) -> None:
        """A try that is refused here is not counted, so that whoever waits a minute may try again."""
        now = self._clock()
        while self._tries and now - self._tries[0][0] >= MINUTE:
            self._tries.popleft()
        of_one = sum(1 for _, other in self._tries if other == address)
        if of_one >= TRIES_OF_ONE or len(self._tries) >= TRIES_OF_ALL:
            raise UsageError("too-many-tries", "wait-then-type-the-code")
        self._tries.append((now, address))


@dataclass(frozen=True)
class Phone:
    """A phone or computer that was let in; times are ISO 8601 with seconds, UTC."""

    number: int
    name: str
    since: str
    seen: str
    digest: str = field(repr=False)  # sha256 of its token, hex: who reads the file cannot come in with it


class Phones:
    """The phones that were let in, in a JSON file that only its owner may read; it survives a restart.

    `now` gives the time in UTC; `on_added` is told each new phone.
    """

    def __init__(
        self,
        file: Path,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        on_added: Callable[[Phone], None] | None = None,
    ) -> None:
        self.file, self._now, self._on_added = file, now, on_added
        self._lock = RLock()
        self._last, phones = _read(file)
        self._phones = {phone.digest: phone for phone in phones}
        self._noted = self._now()

    def all(self) -> list[Phone]:
        """Every phone, in the order in which they came."""
        with self._lock:
            return sorted(self._phones.values(), key=lambda phone: phone.number)

    def known(self, token: str) -> Phone | None:
        """The phone that holds this token, and note that it was seen."""
        with self._lock:
            phone = self._phones.get(_digest(token))
            return phone and self._seen(phone)

    def add(self, name: str) -> str:
        """Let a phone in under this name; its token of 256 bits, which is kept nowhere else.

        Raises
        ------
        UsageError
            The file cannot be written.
        """
        token, now = secrets.token_urlsafe(32), _moment(self._now())
        with self._lock:
            phone = Phone(self._last + 1, self._free(name), now, now, _digest(token))
            self._save(self._phones | {phone.digest: phone}, phone.number)
        if self._on_added:
            self._on_added(phone)
        return token

    def remove(self, number: int) -> Phone:
        """Let this phone in no longer.

        Raises
        ------
        UsageError
            There is none of this number, or the file cannot be written.
        """
        with self._lock:
            found = [phone for phone in self._phones.values() if phone.number == number]
            if not found:
                raise UsageError("phone-removed-already", "look-at-the-list")
            self._save({digest: phone for digest, phone in self._phones.items() if phone not in found}, self._last)
        return found[0]

    def _seen(self, phone: Phone) -> Phone:
        now = self._now()
        phone = self._phones[phone.digest] = replace(phone, seen=_moment(now))
        if (now - self._noted).total_seconds() >= NOTED_EVERY:
            self._noted = now
            with suppress(UsageError):  # when a phone was last seen is not worth turning it away
                self._save(self._phones, self._last)
        return phone

    def _free(self, name: str) -> str:
        """The name on one line, with a number behind it where another phone has it."""
        wanted = tidy(name)[:LONGEST_NAME].strip() or "Phone"
        taken = {phone.name.casefold() for phone in self._phones.values()}
        tries = (wanted, *(f"{wanted} {i}" for i in range(2, len(taken) + 2)))
        return next(free for free in tries if free.casefold() not in taken)

    def _save(self, phones: dict[str, Phone], last: int) -> None:
        facts = {"last": last, "phones": [asdict(phone) for phone in phones.values()]}
        _write(self.file, json.dumps(facts, ensure_ascii=False, indent=1))
        self._phones, self._last = phones, last


def _digest(token: str) -> str:
    return sha256(token.encode("utf-8", "surrogateescape")).hexdigest()


def _moment(time: datetime) -> str:
    return time.astimezone(UTC).isoformat(timespec="seconds")


def _read(file: Path) -> tuple[int, list[Phone]]:
    """The number that was given last, which is never given again, and the phones."""
    try:
        facts: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        return int(facts["last"]), [Phone(**phone) for phone in facts["phones"]]
    except FileNotFoundError:
        return 0, []
    except (OSError, ValueError, TypeError, LookupError) as error:
        cause = disk_cause(error) if isinstance(error, OSError) else finding("was-damaged")
        raise UsageError("phones-not-read", "let-phones-in-again", file=file, cause=cause) from error


def _write(file: Path, text: str) -> None:
    """Written whole and flushed to disk; otherwise a phone that was removed might be back after a power cut."""
    try:
        write_whole(file, text.encode("utf-8"), OWNER_ONLY)
    except OSError as error:
        # Where it lies is no phone's business.
        raise UsageError("phones-not-written", "let-the-list-be-written", cause=disk_cause(error)) from error
