"""What a stranger, a broken phone, a bad network and a power cut do to the page: nothing is lost, nobody gets in."""

from __future__ import annotations

import json
import re
import socket
import struct
import subprocess
import sys
import threading
import time
import zlib
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from urllib.parse import urlsplit

import httpx
import pytest

from swatchcam.library.library import open_library
from swatchcam.library.verify import verify
from tests.web.browser import CARD, SAMPLES, served

PHOTO = (SAMPLES / "wanted.jpg").read_bytes()


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    with served(tmp_path_factory.mktemp("halm") / "halm.sqlite") as page:
        yield page


@pytest.fixture(scope="module")
def phone(shop):
    with shop.client() as client:
        yield client


def token(client):
    return re.search(r'name="token" value="(\w+)"', client.get("/").text)[1]


def send(client, data, name="photo.jpg", key="k", **more):
    """A photo as the form of the first page sends it."""
    fields = {"token": token(client), "key": key, "card": CARD, "shade": ""} | more
    return client.post("/photo", data=fields, files=[("photos", (name, data, "image/jpeg"))])


def answered(client, sent, seconds=60):
    """The page of what was sent, once it is worked out."""
    assert sent.status_code == 303, sent.text
    place = sent.headers["location"]
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if client.get(f"{place}/state").json()["state"] != "waiting":
            return client.get(place)
        time.sleep(0.1)
    raise AssertionError(f"{place} was never answered")


def on_the_tray(client):
    return set(re.findall(r'href="(/photo/[0-9a-f]{20})"', client.get("/?all=yes").text))


# --- strangers ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("cookie", ["", "x" * 43, "../phones", "null", "A" * 4000, '"; drop table phone; --'])
@pytest.mark.parametrize("path", ["/", "/shades", "/pot", "/phones", "/record/1", "/photo/" + 20 * "0" + "/drawn.jpg"])
def test_who_was_not_let_in_sees_nothing(shop, cookie, path):
    answer = httpx.get(shop.base + path, headers={"Cookie": f"swatchcam={cookie}"})
    assert (answer.status_code, answer.headers.get("location")) == (303, "/pair")
    assert not answer.text


@pytest.mark.parametrize(
    "path", ["/photo", "/phones/1/remove", "/pot/recipe", "/shade", "/photo/" + 20 * "0" + "/keep"]
)
def test_who_was_not_let_in_sends_nothing(shop, phone, path):
    before = on_the_tray(phone)
    answer = httpx.post(shop.base + path, data={"token": token(phone), "key": "k"}, files={"photos": ("a.jpg", PHOTO)})
    assert answer.status_code == 401
    assert on_the_tray(phone) == before


def test_a_cookie_of_another_studio_opens_nothing(shop, tmp_path):
    with served(tmp_path / "other.sqlite") as other, other.client() as theirs:
        cookie = theirs.cookies["swatchcam"]
        assert theirs.get("/").status_code == 200
    assert httpx.get(shop.base, headers={"Cookie": f"swatchcam={cookie}"}).status_code == 303


def test_a_forged_form_changes_nothing(shop, phone):
    before = on_the_tray(phone)
    for forged in ("", "0" * 64, token(phone)[:-1] + "x"):
        files = [("photos", ("photo.jpg", PHOTO))]
        assert phone.post("/photo", data={"token": forged, "key": "f"}, files=files).status_code == 403
    elsewhere = phone.post("/photo", data={"token": token(phone), "key": "f"}, headers={"Origin": "http://elsewhere"})
    assert elsewhere.status_code == 403
    assert on_the_tray(phone) == before


@pytest.mark.parametrize(
    "path",
    [
        "/static/../request_checks.py",
        "/static/..%2frequest_checks.py",
        "/static/%2e%2e/%2e%2e/errors.py",
        "/static//etc/passwd",
        "/photo/..%2f..%2fphones.json",
        "/photo/" + 20 * "0" + "/..%2fasked.json",
        "/photo/" + 20 * "0" + "/state%00",
        "/record/1/photo/..%2f..%2f..%2fetc%2fpasswd.jpg",
        "/record/999999999999999999999",
    ],
)
def test_no_path_leads_out_of_the_page(shop, phone, path):
    where = urlsplit(shop.base)
    with socket.create_connection((where.hostname, where.port), timeout=10) as line:
        cookie = f"Cookie: swatchcam={phone.cookies['swatchcam']}"
        line.sendall(f"GET {path} HTTP/1.1\r\nHost: {where.netloc}\r\n{cookie}\r\nConnection: close\r\n\r\n".encode())
        answer = b"".join(iter(lambda: line.recv(65536), b"")).decode("utf-8", "replace")
    assert re.match(r"HTTP/1.1 (400|404|422) ", answer), answer[:200]
    assert not re.search("root:|import |sha256|Traceback", answer)


# --- photos that are none ----------------------------------------------------------------------------------


def png(width, height):
    """A picture that says it is so large, in a few bytes."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = zlib.compress(bytes(1000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


MALFORMED = {
    "nothing": b"",
    "noise": bytes(range(256)) * 40,
    "half.jpg": PHOTO[: len(PHOTO) // 2],
    "head.jpg": PHOTO[:700],
    "words.jpg": b"<script>alert(1)</script>" * 100,
    "bomb.png": png(60_000, 60_000),
    "wide.png": png(2**31 - 1, 1),
    "../../evil.jpg": PHOTO[:5000],
    "a\r\nb.heic": b"\0\0\0\x18ftypheic" + bytes(500),
}


@pytest.mark.parametrize("name", MALFORMED)
def test_what_is_no_photo_is_refused_in_words(shop, phone, name):
    answer = answered(phone, send(phone, MALFORMED[name], name, key=name))
    assert "This photo can’t be measured" in answer.text
    assert not re.search(r"Traceback|<script>alert|\.sqlite|/tray/", answer.text)
    assert shop.process.poll() is None


def test_too_much_is_refused_before_it_is_read(shop, phone):
    where, length = urlsplit(shop.base), 300_000_000
    with socket.create_connection((where.hostname, where.port), timeout=10) as line:
        head = f"POST /photo HTTP/1.1\r\nHost: {where.netloc}\r\nCookie: swatchcam={phone.cookies['swatchcam']}\r\n"
        line.sendall(
            f"{head}Content-Type: multipart/form-data; boundary=x\r\nContent-Length: {length}\r\n\r\n".encode()
        )
        assert line.recv(65536).startswith(b"HTTP/1.1 413")


def test_fifty_at_once_all_get_their_answer(shop, phone):
    """Every fifth a photo, the others none."""
    before = on_the_tray(phone)

    def one(number):
        with httpx.Client(base_url=shop.base, cookies=dict(phone.cookies), timeout=120) as client:
            data = PHOTO if number % 5 == 0 else PHOTO[: 3000 + number]
            return answered(client, send(client, data, key=f"crowd {number}"), 120).text

    with ThreadPoolExecutor(50) as crowd:
        pages = list(crowd.map(one, range(50)))
    assert len(on_the_tray(phone) - before) == 50
    for number, text in enumerate(pages):
        assert ("This photo can’t be measured" in text) == (number % 5 > 0)


def test_slow_senders_keep_nobody_waiting(shop, phone):
    where = urlsplit(shop.base)
    lines = [socket.create_connection((where.hostname, where.port)) for _ in range(60)]
    try:
        head = f"POST /photo HTTP/1.1\r\nHost: {where.netloc}\r\nCookie: swatchcam={phone.cookies['swatchcam']}\r\n"
        for number, line in enumerate(lines):
            # A third sends half a head, a third no body, and a third a part of one.
            line.sendall(head.encode())
            if number % 3:
                line.sendall(b"Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 100000\r\n\r\n")
            if number % 3 == 2:
                line.sendall(b"--x\r\nContent-Disposition: form-data; name=")
        answer = answered(phone, send(phone, PHOTO, key="beside slow ones"))
        assert "What next" in answer.text
    finally:
        for line in lines:
            line.close()


# --- a bad network -----------------------------------------------------------------------------------------


def test_an_upload_that_breaks_off_is_stored_once_when_it_is_sent_again(shop, phone):
    fields = {"token": token(phone), "key": "broken off", "card": CARD}
    request = phone.build_request("POST", "/photo", data=fields, files=[("photos", ("photo.jpg", PHOTO))])
    body, before, where = request.read(), on_the_tray(phone), urlsplit(shop.base)
    for part in (0.1, 0.5, 0.99):
        with socket.create_connection((where.hostname, where.port)) as line:
            head = "".join(f"{name}: {value}\r\n" for name, value in request.headers.items())
            line.sendall(f"POST /photo HTTP/1.1\r\n{head}\r\n".encode() + body[: int(part * len(body))])
    time.sleep(0.3)
    assert on_the_tray(phone) == before
    places = {send(phone, PHOTO, key="broken off").headers["location"] for _ in range(3)}
    assert len(places) == 1
    assert on_the_tray(phone) - before == places


def test_other_photos_under_the_same_key_are_another_upload(phone):
    first, second = (send(phone, data, key="one key").headers["location"] for data in (PHOTO, PHOTO[:9000]))
    assert first != second


# --- a power cut -------------------------------------------------------------------------------------------


def test_killed_in_the_middle_of_a_keep_the_strip_is_kept_once(tmp_path):
    library, photos = tmp_path / "halm.sqlite", ("wanted", "pot_1", "pot_2", "season_1_dry")
    with served(library) as page, page.client() as client:
        sent = [send(client, (SAMPLES / f"{name}.jpg").read_bytes()) for name in photos]
        places = [answered(client, each).url.path for each in sent]
        cookies, said = dict(client.cookies), {"token": token(client), "shade": "Brick", "batch": "1", "strip": "right"}
        assert client.post(f"{places[0]}/keep", data=said).status_code == 303
    for place, delay in zip(places[1:], (0.0, 0.03, 0.06), strict=True):
        with served(library) as page, httpx.Client(base_url=page.base, cookies=cookies, timeout=60) as client:
            assert client.get(place).status_code == 200  # all is loaded that a keep needs
            sender = threading.Thread(target=_post, args=(client, f"{place}/keep", said), daemon=True)
            sender.start()
            time.sleep(delay)
            page.kill()
            sender.join(10)
        assert not _harmed(library)
    with served(library) as page, httpx.Client(base_url=page.base, cookies=cookies, timeout=60) as client:
        told = [client.post(f"{place}/keep", data=said) for place in places * 2]
    assert {answer.status_code for answer in told} == {303}
    kept = [answer.headers["location"] for answer in told]
    assert kept[: len(places)] == kept[len(places) :]
    records = open_library(str(library)).records()
    assert {record.photos[0].name for record in records} == {"photo.jpg"}
    assert len({record.photos[0].digest for record in records}) == len(records) == len(places)
    assert not _harmed(library)


def _harmed(library):
    """What is not as it was; a photo without a record, of a keep that was cut off, harms nobody."""
    return [finding for finding in verify(open_library(str(library)))[1] if not finding.harmless]


def _post(client, path, fields):
    with suppress(httpx.HTTPError):  # the power was cut
        client.post(path, data=fields)


def test_what_waits_when_the_power_is_cut_is_measured_when_it_is_back(tmp_path):
    library = tmp_path / "halm.sqlite"
    with served(library) as page, page.client() as client:
        sent = send(client, PHOTO)
        page.kill()
        cookies = dict(client.cookies)
    with served(library) as page, httpx.Client(base_url=page.base, cookies=cookies) as client:
        assert "What next" in answered(client, sent).text


def test_the_numbers_on_the_tray_are_those_of_the_command_line(shop, phone, tmp_path):
    place = answered(phone, send(phone, PHOTO, key="numbers")).url.path
    words = ["check", str(SAMPLES / "wanted.jpg"), "--card", CARD, "--json"]
    done = subprocess.run([sys.executable, "-m", "swatchcam", *words], capture_output=True, text=True, check=False)
    facts = json.loads(done.stdout)
    assert f"CIEDE2000 {facts['difference']['ciede2000']:.2f}" in phone.get(place).text
