"""A code lets in one phone, and only for a while; whoever was removed is out at once."""

from __future__ import annotations

import json
import re
import stat

import pytest

from swatchcam.errors import UsageError
from swatchcam.web.pairing import LASTS, SIGNS, TRIES_OF_ALL, TRIES_OF_ONE, WRONG_TRIES, Door, Phones
from tests.web.visitor import HERE, Clock, studio_in, visitor


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def shown():
    """The codes that the terminal shows after the first."""
    return []


@pytest.fixture
def door(clock, shown):
    return Door(clock, shown.append)


@pytest.fixture
def studio(tmp_path, clock, door):
    return studio_in(tmp_path, clock, door=door)


def pair(browser, code, name="Phone", **headers):
    return browser.post("/pair", data={"code": code, "name": name}, headers=headers)


def test_a_code_has_signs_that_are_not_mistaken(clock):
    codes = {Door(clock).code for _ in range(200)}
    assert len(codes) == 200
    assert all(re.fullmatch(f"[{SIGNS}]{{4}}-[{SIGNS}]{{4}}", code) for code in codes)
    assert not set("0O1IL") & set(SIGNS)


def test_a_code_counts_once(door, shown):
    code = door.code
    assert door.let_in(code.lower().replace("-", " "), "a")
    assert not door.let_in(code, "b")
    assert shown == [door.code] != [code]


def test_a_code_lasts_fifteen_minutes(door, clock, shown):
    first = door.code
    clock.passed = LASTS - 1
    assert door.code == first
    clock.passed = LASTS
    assert not door.let_in(first, "a")
    assert len(shown) == 1
    assert door.let_in(shown[0], "a")


def test_after_five_wrong_tries_another_code_counts_at_once(door, shown):
    first = door.code
    for i in range(WRONG_TRIES - 1):
        assert not door.let_in("AAAA-AAAA", f"10.0.0.{i}")
    assert shown == []
    assert not door.let_in("ÄÄÄÄ", "b")
    assert len(shown) == 1
    assert not door.let_in(first, "c")


def test_one_address_tries_five_times_a_minute(door, clock):
    for _ in range(TRIES_OF_ONE):
        door.let_in("AAAA-AAAA", "a")
    with pytest.raises(UsageError, match="Wait a minute"):
        door.let_in(door.code, "a")
    assert door.let_in(door.code, "b")
    clock.passed = 60
    assert door.let_in(door.code, "a")


def test_all_together_try_twenty_times_a_minute(door):
    for i in range(TRIES_OF_ALL):
        door.let_in("AAAA-AAAA", f"10.0.0.{i}")
    with pytest.raises(UsageError, match="Wait a minute"):
        door.let_in(door.code, "another")


def test_a_phone_is_known_after_a_restart_and_its_token_is_written_nowhere(tmp_path, clock):
    file = tmp_path / "phones.json"
    token = Phones(file, clock.now).add("  Press\u202e \n table ")
    assert len(token) >= 43  # 256 bits, six to a sign
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert token not in file.read_text(encoding="utf-8")
    again = Phones(file, clock.now)
    assert again.known(token).name == "Press table"
    assert again.known(token[:-1]) is None
    assert [path.name for path in tmp_path.iterdir()] == ["phones.json"]


def test_numbers_are_never_given_twice_nor_names(tmp_path, clock):
    phones = Phones(tmp_path / "phones.json", clock.now)
    for name in ("Phone", "phone", ""):
        phones.add(name)
    assert [(phone.number, phone.name) for phone in phones.all()] == [(1, "Phone"), (2, "phone 2"), (3, "Phone 3")]
    phones.remove(3)
    with pytest.raises(UsageError, match="no longer on the list"):
        phones.remove(3)
    again = Phones(tmp_path / "phones.json", clock.now)
    again.add("Phone")
    assert [phone.number for phone in again.all()] == [1, 2, 4]


def test_when_a_phone_was_seen_is_noted_once_an_hour(tmp_path, clock):
    phones = Phones(tmp_path / "phones.json", clock.now)
    token = phones.add("Phone")
    clock.passed = 60
    assert phones.known(token).seen == "2026-03-02T09:01:00+00:00"
    assert Phones(tmp_path / "phones.json").all()[0].seen == "2026-03-02T09:00:00+00:00"
    clock.passed = 3600
    phones.known(token)
    assert Phones(tmp_path / "phones.json").all()[0].seen == "2026-03-02T10:00:00+00:00"


@pytest.mark.parametrize("text", ["", "[]", '{"last": 1, "phones": [{"number": 1}]}', '{"last": "x", "phones": []}'])
def test_a_spoilt_list_of_phones_is_refused_not_written_over(tmp_path, text):
    file = tmp_path / "phones.json"
    file.write_text(text)
    with pytest.raises(UsageError, match="Move that file away"):
        Phones(file)
    assert file.read_text() == text


def test_a_phone_comes_in_with_the_code_and_stays_in(studio):
    browser = visitor(studio)
    assert browser.get("/phones").headers["location"] == "/pair"
    code = studio.door.code
    for _ in range(2):  # a preview of the link opens it too
        asked = browser.get(f"/pair?code={code}", headers={"User-Agent": "Anything Mobile/1"})
        assert f'value="{code}"' in asked.text
        assert 'value="Phone"' in asked.text
    came = pair(browser, code, "Press table", Origin=HERE)
    assert (came.status_code, came.headers["location"]) == (303, "/")
    cookie = came.headers["set-cookie"]
    assert all(word in cookie for word in ("HttpOnly", "SameSite=strict", "Path=/;"))
    assert "Press table" in browser.get("/phones").text
    assert browser.get("/pair").headers["location"] == "/"
    assert pair(visitor(studio), code).status_code == 422


def test_the_cookie_is_the_only_place_of_the_token(studio):
    browser = visitor(studio)
    pair(browser, studio.door.code)
    token = browser.cookies["swatchcam"]
    assert token not in browser.get("/phones").text
    assert token not in studio.phones.file.read_text(encoding="utf-8")


def test_wrong_codes_are_told_and_then_slowed_down(studio):
    browser = visitor(studio)
    for _ in range(TRIES_OF_ONE):
        wrong = pair(browser, '"><b>', "Ada's")
        assert wrong.status_code == 422
        assert "not the code" in wrong.text
        assert "<b>" not in wrong.text
        assert "Ada&#39;s" in wrong.text
    assert pair(browser, studio.door.code).status_code == 429
    assert pair(visitor(studio, address="10.0.0.8"), studio.door.code).status_code == 303


def test_opening_the_page_shows_a_code_that_counts(studio, clock, shown):
    visitor(studio).get("/pair")
    assert shown == []
    clock.passed = LASTS
    visitor(studio).get("/pair")
    assert len(shown) == 1


def test_a_stranger_may_send_no_more_than_a_code(studio):
    sent = visitor(studio).post("/pair", data={"code": studio.door.code, "name": "x" * 20_000})
    assert sent.status_code == 413
    assert studio.phones.all() == []


def test_a_code_from_another_page_is_refused(studio):
    code = studio.door.code
    for origin in ("http://evil.example", "null", HERE.replace("8137", "80"), "https://127.0.0.1:8137"):
        assert pair(visitor(studio), code, Origin=origin).status_code == 403
    assert studio.phones.all() == []


def test_a_removed_phone_is_out_at_once(studio):
    first, second = (visitor(studio, key=studio.phones.add(name)) for name in ("Press", "Office"))
    listed = first.get("/phones").text
    token = re.search(r'name="token" value="(\w+)"', listed)[1]
    assert second.get("/phones").status_code == 200
    gone = first.post("/phones/remove", data={"token": token, "number": "2"})
    assert gone.headers["location"] == "/phones"
    assert second.get("/phones").headers["location"] == "/pair"
    assert second.get("/phones", headers={"Accept": "application/json"}).status_code == 401
    left = first.post("/phones/leave", data={"token": token})
    assert left.headers["location"] == "/pair"
    assert dict(first.cookies) == {}
    assert studio.phones.all() == []


def test_a_forged_cookie_opens_nothing(studio):
    studio.phones.add("Phone")
    digest = json.loads(studio.phones.file.read_text(encoding="utf-8"))["phones"][0]["digest"]
    for key in (digest, "x" * 43, "1"):
        assert visitor(studio, key=key).get("/phones").headers["location"] == "/pair"


def test_another_phone_is_shown_the_code_as_a_square(studio):
    studio = studio_in(studio.phones.file.parent, door=studio.door, hosts=("192.168.1.20", "127.0.0.1"))
    text = visitor(studio, key=studio.phones.add("Phone")).get("/phones").text
    assert studio.door.code in text
    assert f"QR code of http://192.168.1.20:8137/pair?code={studio.door.code}" in text
    drawing = re.search(r"<svg.*</svg>", text, re.S)[0]
    assert " style=" not in drawing
    assert "<style" not in drawing
    assert "--lan" not in text
