"""What passes the gate, what does not, and what every answer carries."""

from __future__ import annotations

import asyncio
import re

import pytest
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from swatchcam.errors import UsageError
from swatchcam.web import forms, request_checks
from swatchcam.web.app import create_app
from swatchcam.web.request_checks import HEADERS, LINGERED, form_token, posted
from tests.web.visitor import HERE, HOST, studio_in, visitor

JSON = {"Accept": "application/json"}


def sent_back(request, form):
    """A view that says what it was sent."""
    names = [file.filename for file in forms.files(form, "photos")]
    return PlainTextResponse(f"{forms.text(form, 'shade')}: {', '.join(names)}")


def failing(request):
    raise RuntimeError("the secret of the press")


def refusing(request):
    raise UsageError("No <ink>.", "Pour some.")


def refusing_field(request, form):
    forms.number(form, "width", "cm", label="Width")


SAID = {"code", "facts", "remedy", "where", "problem", "next"}  # what a script is told of a refusal
OWN = [
    Route("/refusing-field", posted(refusing_field), methods=["POST"]),
    Route("/sent", posted(sent_back), methods=["POST"]),
    Route("/failing", failing),
    Route("/refusing", refusing),
    Route("/token", lambda request: PlainTextResponse(form_token(request))),
]


@pytest.fixture
def studio(tmp_path):
    return studio_in(tmp_path)


@pytest.fixture
def phone(studio):
    return visitor(studio, OWN, studio.phones.add("Phone"))


@pytest.fixture
def token(phone):
    return phone.get("/token").text


def exchange(app, path, parts, headers=(), then="http.disconnect", pause=0.0):
    """One POST as a server hands it on: (what happened in order, status). After its parts the sender is gone."""
    happened, left = [], list(parts)

    async def receive():
        await asyncio.sleep(pause)
        if not left:
            happened.append("gone")
            return {"type": then}
        happened.append("read")
        return {"type": "http.request", "body": left.pop(0), "more_body": True}

    async def send(message):
        happened.append(message)

    scope = {
        "type": "http", "http_version": "1.1", "method": "POST", "scheme": "http", "path": path, "root_path": "",
        "query_string": b"", "client": ("10.0.0.7", 50000), "server": ("127.0.0.1", 8137),
        "headers": [(b"host", HOST.encode()), *((name.encode(), value.encode()) for name, value in headers)],
    }  # fmt: skip
    asyncio.run(app(scope, receive, send))
    starts = [step for step in happened if isinstance(step, dict) and step["type"] == "http.response.start"]
    return happened, starts


def form_headers(key):
    kind = "multipart/form-data; boundary=b"
    return [("cookie", f"swatchcam={key}"), ("transfer-encoding", "chunked"), ("content-type", kind)]


PART = b'--b\r\nContent-Disposition: form-data; name="photos"; filename="a.jpg"\r\n\r\n'


def test_only_the_studio_s_own_names_are_answered(phone):
    assert phone.get("/phones", headers={"Host": "localhost"}).status_code == 200
    for host in ("halm.example", "127.0.0.1.halm.example", "127.0.0.1/pair?", "x@127.0.0.1", "", "127.0.0.1:x"):
        assert phone.get("/phones", headers={"Host": host}).status_code == 400
        assert phone.get("/static/style.css", headers={"Host": host}).status_code == 400


def test_a_name_of_ours_with_a_path_in_it_opens_nothing(studio):
    for host in (f"{HOST}/pair?", f"{HOST}/static/x?"):
        assert visitor(studio, OWN).get("/token", headers={"Host": host}).status_code == 400


def test_strangers_see_the_way_in_and_the_looks_of_it_only(studio):
    stranger = visitor(studio, OWN)
    assert stranger.get("/pair").status_code == 200
    assert stranger.get("/static/style.css").status_code == 200
    for path in ("/", "/phones", "/no-such-page", "/pair/", "/static", "/failing"):
        assert stranger.get(path).headers["location"] == "/pair"
        assert stranger.get(path, headers=JSON).status_code == 401
    for path in (
        "/static/%2e%2e/request_checks.py",
        "/static/..%2frequest_checks.py",
        "/static//etc/passwd",
        "/static/%00",
    ):
        assert stranger.get(path).status_code == 404
    assert stranger.get("/phones", headers=JSON).json().keys() == SAID


@pytest.mark.parametrize(
    ("method", "path", "headers", "status"),
    [
        ("GET", "/phones", {}, 200),
        ("HEAD", "/phones", {}, 200),
        ("GET", "/pair", {}, 303),
        ("GET", "/static/style.css", {}, 200),
        ("GET", "/static/none.css", {}, 404),
        ("GET", "/no-such-page", {}, 404),
        ("POST", "/no-such-page", {}, 404),
        ("POST", "/phones", {}, 405),
        ("GET", "/phones/remove", {}, 405),
        ("GET", "/phones", {"Host": "halm.example"}, 400),
        ("GET", "/refusing", {}, 422),
        ("GET", "/failing", {}, 500),
        ("POST", "/sent", {}, 403),
        ("GET", "/phones", {"Cookie": "swatchcam=x"}, 303),
    ],
)
def test_every_answer_carries_the_headers(phone, method, path, headers, status):
    answer = phone.request(method, path, headers=headers)
    assert answer.status_code == status
    assert {name: answer.headers[name] for name in HEADERS} == HEADERS
    assert answer.headers["cache-control"] == "no-store"
    if status >= 400:
        assert 'role="alert"' in answer.text
        told = phone.request(method, path, headers=headers | JSON)
        assert (told.status_code, told.json().keys()) == (status, SAID)


def test_files_of_the_page_last_as_long_as_they_are_the_same(phone):
    address = re.search(r'href="(/static/style\.css\?v=\w+)"', phone.get("/phones").text)[1]
    assert "immutable" in phone.get(address).headers["cache-control"]


def test_a_refusal_says_what_to_do(phone):
    assert "No &lt;ink&gt;." in phone.get("/refusing").text
    said = phone.get("/refusing", headers=JSON).json()
    assert (said["problem"], said["next"]) == ("No <ink>.", "Pour some.")
    assert (said["code"], said["facts"], said["where"]) == ("No <ink>.", {}, [])


def test_a_script_is_told_code_and_facts_and_both_sentences(phone):
    said = phone.post("/refusing-field", data={"token": phone.get("/token").text, "width": "wide"}, headers=JSON).json()
    assert said == {
        "code": "number-unreadable",
        "facts": {"typed": "wide", "unit": "cm"},
        "remedy": "type-a-number",
        "where": [{"code": "in-field", "facts": {"field": "Width"}}],
        "problem": "Width: 'wide' can't be read as a number.",
        "next": "Please type a number such as 2.5 cm: only digits, with a point or a comma.",
    }


def test_a_failure_is_told_here_and_shown_there(phone, caplog):
    text = phone.get("/failing?code=ABCD").text
    assert "Nothing that was kept is lost" in text
    assert "secret" not in text
    assert "the secret of the press" in caplog.text
    assert "Traceback" in caplog.text
    assert "ABCD" not in caplog.text


def test_no_form_is_taken_that_is_not_of_the_phone_s_own_page(studio, phone, token):
    other = visitor(studio, OWN, studio.phones.add("Other")).get("/token").text
    walked = [route for route in phone.app.routes if "POST" in (getattr(route, "methods", None) or ())]
    assert len(walked) >= 4
    for route in walked:
        path = re.sub(r"\{[^}]+\}", "1" * 20, route.path)
        for wrong in ({}, {"token": "x"}, {"token": other}, {"token": ""}, {"token": "é"}):
            assert path == "/pair" or phone.post(path, data=wrong).status_code == 403
        for origin in ("http://halm.example", "null", f"{HERE}0"):
            assert phone.post(path, data={"token": token}, headers={"Origin": origin}).status_code == 403
        assert phone.post(path, data={"token": token}, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403
        stranger = visitor(studio, OWN).post(path, data={"token": token})
        assert stranger.status_code == (422 if path == "/pair" else 401)
    assert len(studio.phones.all()) == 2
    assert phone.post("/sent", data={"token": token, "shade": "river"}, headers={"Origin": HERE}).text == "river: "
    assert phone.post("/phones/leave", data={"token": token}).status_code == 303


def test_empty_parts_are_no_files(phone, token):
    photos = [("photos", ("a.jpg", b"1")), ("photos", ("", b"")), ("photos", ("b.jpg", b""))]
    assert phone.post("/sent", data={"token": token, "shade": " river \t blue"}, files=photos).text == (
        "river blue: a.jpg, b.jpg"
    )


def test_too_many_or_too_large_photos_are_refused(phone, token, monkeypatch):
    thirteen = [("photos", (f"{i}.jpg", b"1")) for i in range(13)]
    assert phone.post("/sent", data={"token": token}, files=thirteen).status_code == 413
    assert phone.post("/sent", data={"token": token}, files=thirteen[1:]).status_code == 200
    assert phone.post("/sent", data={"token": token}, files=thirteen * 3).status_code == 400
    monkeypatch.setattr(request_checks, "FILE", 10)
    assert phone.post("/sent", data={"token": token}, files=[("photos", ("a.jpg", b"1" * 11))]).status_code == 413
    assert phone.post("/sent", data={"token": token, "shade": "x" * 70_000}, files=thirteen[1:]).status_code == 400


@pytest.mark.parametrize("key", ["forged", "", "é"])
def test_a_stranger_s_form_is_refused_before_it_is_read(studio, key):
    happened, starts = exchange(create_app(studio), "/phones/leave", [b"x" * 1000] * 5, form_headers(key))
    assert starts[0]["status"] == 401
    assert happened.index(starts[0]) == 0
    assert (b"connection", b"close") in starts[0]["headers"]
    assert happened[-1] == {"type": "http.response.body", "body": b""}


def test_too_much_is_refused_before_it_is_read_where_it_is_announced(studio, monkeypatch):
    monkeypatch.setattr(request_checks, "REQUEST", 5000)
    headers = [*form_headers(studio.phones.add("Phone")), ("content-length", "5001")]
    happened, starts = exchange(create_app(studio), "/phones/leave", [b"x" * 1000] * 5, headers)
    assert starts[0]["status"] == 413
    assert happened.index(starts[0]) == 0


def test_too_much_is_refused_while_it_is_read_where_it_is_not(studio, monkeypatch):
    monkeypatch.setattr(request_checks, "REQUEST", 3_000_000)
    parts = [PART, *[b"x" * 100_000] * 1000]
    happened, starts = exchange(create_app(studio), "/phones/leave", parts, form_headers(studio.phones.add("Phone")))
    assert starts[0]["status"] == 413
    assert happened[: happened.index(starts[0])].count("read") == 31
    assert happened.count("read") <= 31 + LINGERED // 100_000


def test_whoever_goes_while_sending_leaves_nothing(studio, caplog):
    seen = []
    app = create_app(studio)
    app.router.routes.insert(0, Route("/sent", posted(lambda request, form: seen.append(form)), methods=["POST"]))
    happened, _ = exchange(app, "/sent", [PART, b"x" * 1000], form_headers(studio.phones.add("Phone")))
    assert happened[:3] == ["read", "read", "gone"]
    assert (seen, caplog.text) == ([], "")


def test_what_takes_too_long_is_refused(studio, monkeypatch):
    monkeypatch.setattr(request_checks, "READING", 0.05)
    monkeypatch.setattr(request_checks, "LINGER", 0.05)
    parts = [PART, *[b"x"] * 1000]
    app = create_app(studio)
    happened, starts = exchange(app, "/phones/leave", parts, form_headers(studio.phones.add("Phone")), pause=0.01)
    assert starts[0]["status"] == 408
    assert happened.count("read") < 20


def test_a_full_disk_is_told(studio, phone, token, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("starlette.datastructures.UploadFile.write", full)
    answer = phone.post("/sent", data={"token": token}, files=[("photos", ("a.jpg", b"1"))])
    assert answer.status_code == 422
    assert "Make room" in answer.text


FORM = {
    "grams": "12,5 g",
    "count": "12",
    "state": "wet",
    "empty": " ",
    "long": "x" * 121,
    "bad": "a\0b",
    "lines": "a\r\nb",
}


@pytest.fixture
def form():
    from starlette.datastructures import FormData

    return FormData([*FORM.items(), ("many", "a"), ("many", ""), ("box", "on")])


def test_forms_are_read(form):
    assert forms.number(form, "grams", "g") == 12.5
    assert forms.number_or_none(form, "empty", "g") is None
    assert forms.whole(form, "count") == 12
    assert forms.whole_or_none(form, "none") is None
    assert forms.choice(form, "state", ("wet", "air-dried")) == "wet"
    assert forms.choice(form, "empty", ("wet", "air-dried"), default="wet") == "wet"
    assert forms.texts(form, "many") == ["a", ""]
    assert (forms.text(form, "lines", lines=True), forms.text(form, "lines")) == ("a\nb", "a b")
    assert forms.ticked(form, "box")
    assert not forms.ticked(form, "none")


@pytest.mark.parametrize(
    ("read", "words"),
    [
        (
            lambda form: forms.number(form, "count", "g", most=10),
            "12 can't be right. Please type a number from 0 to 10 g.",
        ),
        (
            lambda form: forms.number(form, "state", "g", label="of the pot"),
            "Of the pot: 'wet' can't be read",
        ),
        (lambda form: forms.number(form, "empty", "g"), "The field 'Empty' is empty"),
        (lambda form: forms.whole(form, "grams"), "Grams: '12,5 g' is not a whole number"),
        (lambda form: forms.whole(form, "count", most=5), "Please type a whole number from 1 to 5."),
        (lambda form: forms.choice(form, "grams", ("wet", "dry")), "Choose one of: wet, dry."),
        (lambda form: forms.text(form, "long"), "Use at most 120 characters"),
        (lambda form: forms.text(form, "bad"), "a character in it that can't be stored"),
        (lambda form: forms.text(form, "no-shade", needed=True), "The field 'No shade' is empty"),
    ],
)
def test_a_field_that_is_refused_is_named(form, read, words):
    with pytest.raises(UsageError) as refused:
        read(form)
    assert words in str(refused.value)
