"""`swatchcam serve`: opened, found, used and closed as a person does it; and what is refused before it opens."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import socket
import stat
import subprocess
import sys
from contextlib import contextmanager

import click
import cv2
import httpx
import numpy as np
import pytest
import uvicorn
from click.testing import CliRunner
from uvicorn.server import ServerState

from swatchcam.cli import main
from swatchcam.errors import UsageError
from swatchcam.web import server
from swatchcam.web.server import Wishes, network_address, serve, serving_folder
from swatchcam.web.terminal import square

LINK = "http://192.168.1.20:8137/pair?code=ABCD-EFGH"
PIXELS = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1), "#": (1, 1)}  # upper and lower half, 1 is light


@pytest.fixture
def asked():
    """Words after `swatchcam serve` -> what came of them, where that is no page."""
    return lambda *words: CliRunner().invoke(main, ["serve", *words])


@pytest.fixture
def unserved(monkeypatch):
    """Instead of a server a list of the studios that were to be served."""
    studios = []
    monkeypatch.setattr(server, "_run", lambda studio, line: studios.append(studio))
    return studios


@contextmanager
def started(*words):
    """The page in a process of its own, and the lines that it says."""
    page = subprocess.Popen(
        [sys.executable, "-m", "swatchcam", "serve", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONIOENCODING": "utf-8"},
        start_new_session=True,
    )
    try:
        yield page
    finally:
        page.kill()
        page.communicate()


def said_until(page, pattern):
    """All that is said up to the line that fits."""
    said = ""
    for line in page.stdout:
        said += line
        if re.search(pattern, line):
            return said
    raise AssertionError(f"never said {pattern}: {said}{page.stderr.read()}")


def test_the_page_is_opened_used_and_closed(tmp_path, asked):
    library = tmp_path / "halm.sqlite"
    with started("--port", "0", "--library", str(library)) as page:
        said = said_until(page, "Ctrl-C")
        link = re.search(r"http://127\.0\.0\.1:\d+/pair\?code=(\S+)", said)
        assert str(tmp_path / "halm.serve") in said
        address, code = link[0].partition("/pair")[0], link[1]

        with httpx.Client(base_url=address) as browser:
            assert 'name="code"' in browser.get(link[0]).text
            came = browser.post("/pair", data={"code": code, "name": "Press table"})
            assert came.status_code == 303
            assert "server" not in came.headers
            assert "Press table" in browser.get("/phones").text
        after = said_until(page, "/pair")
        assert after.index("'Press table' was let in") < after.index("/pair")
        assert code not in after

        other = asked("--port", "0", "--library", str(library))
        assert (other.exit_code, "already open" in other.output) == (2, True)

        host, _, port = address.removeprefix("http://").partition(":")
        with socket.create_connection((host, int(port)), timeout=5) as stranger:
            head = f"POST /phones/leave HTTP/1.1\r\nHost: {host}:{port}\r\nContent-Length: 300000000\r\n\r\n"
            stranger.sendall(head.encode() + b"x" * 4_000_000)
            answer = b""
            while b"</html>" not in answer:
                answer += stranger.recv(65536) or b"</html>"
        assert answer.startswith(b"HTTP/1.1 401")
        assert b"not been let in" in answer

        os.killpg(page.pid, signal.SIGINT)  # Ctrl-C reaches the workers too
        rest, failures = page.communicate(timeout=10)
    assert page.returncode == 0
    assert rest.strip().endswith("The page is closed; what was kept is in the library.")
    assert failures == ""
    assert not library.exists()


def test_a_library_or_card_that_cannot_be_used_is_refused_at_once(tmp_path, asked, unserved):
    spoilt = tmp_path / "halm.sqlite"
    spoilt.write_text("no library")
    done = asked("--port", "0", "--library", str(spoilt))
    assert (done.exit_code, f"{spoilt} can't be used: that file is not a library" in done.output) == (3, True)
    for words in (("--card", "no-such-card"), ("--row", "no-such-row")):
        done = asked("--port", "0", "--library", str(tmp_path / "new.sqlite"), *words)
        assert (done.exit_code, words[1] in done.output) == (3, True)
    assert unserved == []


def test_a_port_that_is_taken_is_refused(tmp_path, asked, unserved):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        done = asked("--port", str(port), "--library", str(tmp_path / "halm.sqlite"))
    assert done.exit_code == 2
    assert f"Port {port} is taken" in done.output
    assert "--port" in done.output
    assert unserved == []


@pytest.mark.parametrize(
    "words", [["--address", "192.168.1.20"], ["--lan", "--address", "http://halm"], ["--port", "x"]]
)
def test_an_address_that_is_none_is_refused(words, asked, unserved):
    assert asked(*words).exit_code == 2
    assert unserved == []


def test_the_network_is_told_what_it_needs(tmp_path, unserved):
    said = []
    wishes = Wishes(str(tmp_path / "halm.sqlite"), lan=True, port=0, address="Press.local")
    serve(wishes, said.append, "utf-8")
    text = "\n".join(said)
    assert unserved[0].hosts == ("press.local", "127.0.0.1", "localhost")
    assert re.search(rf"http://press\.local:\d+/pair\?code={unserved[0].door.code}", text)
    assert "not encrypted" in text
    assert "█" in text
    assert "15 minutes" in text
    assert said[-1].startswith("The page is closed")


def test_the_browser_is_opened_with_a_code(tmp_path, unserved, monkeypatch):
    opened = []
    monkeypatch.setattr(server, "_browse", opened.append)
    said = []
    serve(Wishes(str(tmp_path / "halm.sqlite"), port=0, browser=True), said.append, "cp1252")
    assert re.fullmatch(rf"http://127\.0\.0\.1:\d+/pair\?code={unserved[0].door.code}", opened[0])
    assert "".join(said).isascii()


def test_what_is_sent_waits_beside_its_own_library(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_data_path", lambda *_, **__: tmp_path / "data")
    beside = serving_folder(str(tmp_path / "work" / "halm.sqlite"))
    assert beside == tmp_path / "work" / "halm.serve"
    assert stat.S_IMODE(beside.stat().st_mode) == 0o700
    servers = [
        serving_folder(f"postgresql://halm@{name}/{base}") for name, base in (("a", "x"), ("b", "x"), ("a", "y"))
    ]
    assert len(set(servers)) == 3
    assert {folder.parent for folder in servers} == {tmp_path / "data" / "serve"}
    (tmp_path / "file").touch()
    with pytest.raises(UsageError, match="can't be made"):
        serving_folder(str(tmp_path / "file" / "halm.sqlite"))


def test_the_address_in_the_network_is_found_or_asked_for(monkeypatch):
    def nowhere(*_):
        raise OSError

    monkeypatch.setattr(socket.socket, "connect", nowhere)
    monkeypatch.setattr(socket, "gethostbyname_ex", lambda _: ("halm", [], ["127.0.1.1", "192.168.1.20"]))
    assert network_address() == "192.168.1.20"
    monkeypatch.setattr(socket, "gethostbyname_ex", lambda _: ("halm", [], ["127.0.1.1"]))
    with pytest.raises(UsageError, match="--address"):
        network_address()


@pytest.mark.parametrize("blocks", [True, False])
def test_the_square_is_read_by_a_camera(blocks):
    lines = click.unstyle(square(LINK, blocks)).split("\n")
    assert max(map(len, lines)) < 80
    assert "".join(lines).isascii() != blocks
    halves = [[PIXELS[sign][half] for sign in line] for line in lines for half in (0, 1)]
    wide = np.array(halves, np.uint8)[:, :: 1 if blocks else 2][:: 1 if blocks else 2]
    read = set()
    for size in (4, 5, 6, 8):  # a camera has many looks at it; OpenCV does not find every one
        drawn = np.pad(np.kron(wide, np.ones((size, size), np.uint8)) * 255, 20, constant_values=255)
        read.add(cv2.QRCodeDetector().detectAndDecode(drawn)[0])
    assert read - {""} == {LINK}


def test_a_connection_that_says_nothing_is_cut(monkeypatch):
    monkeypatch.setattr(server, "SILENCE", 0.1)

    async def app(scope, receive, send):
        await send({"type": "http.response.start", "status": 204, "headers": []})
        await send({"type": "http.response.body"})

    async def held(words):
        """Whether the connection is still open a while after these words were said."""
        config = uvicorn.Config(app, ws="none", log_config=None, lifespan="off", timeout_keep_alive=20)
        config.load()
        loop = asyncio.get_running_loop()
        listener = await loop.create_server(lambda: server._Line(config, ServerState(), {}), "127.0.0.1", 0)
        async with listener:
            reader, writer = await asyncio.open_connection(*listener.sockets[0].getsockname())
            writer.write(words)
            try:
                async with asyncio.timeout(0.4):
                    await reader.read(-1)
                return False
            except TimeoutError:
                return True
            finally:
                writer.close()

    assert not asyncio.run(held(b""))
    assert not asyncio.run(held(b"GET / HTTP/1.1\r\n"))
    assert asyncio.run(held(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n"))
