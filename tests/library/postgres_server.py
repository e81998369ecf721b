"""A PostgreSQL server of the tests' own: made in a temporary folder, thrown away afterwards.

Debian's package `postgresql` brings the programs. A server refuses to run as root; it is then run as the package's
user.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import psycopg

HOMES = Path("/usr/lib/postgresql")  # where Debian puts the programs, by version
NAMES = count(1)
MEMORY = Path("/dev/shm")  # a folder that Linux keeps in memory, where making a table's files costs next to nothing
ROOM = 2 << 30  # bytes it must have left; in a container it may be a few megabytes


def programs() -> Path | None:
    """The folder of the newest server's programs, if there is one."""
    found = sorted(HOMES.glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).parent if on_path else None


@dataclass(frozen=True)
class Server:
    """A running server."""

    bin: Path
    folder: Path
    port: int
    language: str = "C"  # of what it says: a locale of the system

    def run(self, program: str, *words: str) -> None:
        as_user = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
        command = [*as_user, str(self.bin / program), *words]
        done = subprocess.run(command, capture_output=True, text=True, cwd=self.folder, check=False)
        assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"

    def start(self) -> None:
        # What was written outlives the server without being brought to the disk; it would not outlive the machine.
        options = f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1 -c fsync=off"
        options += f" -c lc_messages={self.language}"
        log = str(self.folder / "log")
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-l", log, "-w", "-o", options, "start")

    def stop(self) -> None:
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")

    def runs(self) -> bool:
        return (self.folder / "data" / "postmaster.pid").exists()

    def address(self, database: str = "postgres", user: str = "halm") -> str:
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}"

    def empty(self) -> str:
        """The address of an empty place for tables: a schema of its own, which costs a hundredth of a database."""
        name = f"studio{next(NAMES)}"
        with psycopg.connect(self.address(), autocommit=True) as connection:
            connection.execute(f"CREATE SCHEMA {name}")
        return f"{self.address()}?options=-csearch_path%3D{name}"

    def database(self) -> str:
        """The address of a new database of its own."""
        name = f"studio{next(NAMES)}"
        with psycopg.connect(self.address(), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return self.address(name)

    def load(self, address: str, dump: Path) -> None:
        """Run a file of `pg_dump` in a database."""
        said = [str(self.bin / "psql"), "-q", "-v", "ON_ERROR_STOP=1", "-d", address]
        with dump.open("rb") as lines:
            done = subprocess.run(said, stdin=lines, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr


@contextmanager
def running(bin_folder: Path, language: str = "C") -> Iterator[Server]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    quick = os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM
    folder = Path(tempfile.mkdtemp(prefix="swatchcam-server-", dir=MEMORY if quick else None))
    if os.getuid() == 0:
        shutil.chown(folder, "postgres")
    server = Server(bin_folder, folder, port, language)
    try:
        server.run("initdb", "-D", str(folder / "data"), "-U", "halm", "-A", "trust", "-E", "UTF8", "--no-sync")
        server.start()
        yield server
    finally:
        if server.runs():
            server.stop()
        shutil.rmtree(folder, ignore_errors=True)
