"""A studio's page without its workers, and the phones that visit it."""

from __future__ import annotations

import warnings
from datetime import UTC, datetime, timedelta

from swatchcam.web.app import create_app
from swatchcam.web.context import Studio
from swatchcam.web.pairing import Door, Phones

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", "Using `httpx` with")  # it would like a package of another name
    from starlette.testclient import TestClient

HOST = "127.0.0.1:8137"
HERE = f"http://{HOST}"


class Clock:
    """Seconds that pass when they are told to."""

    def __init__(self):
        self.passed = 0.0

    def __call__(self):
        return self.passed

    def now(self):
        return datetime(2026, 3, 2, 9, 0, tzinfo=UTC) + timedelta(seconds=self.passed)


class Idle:
    """Workers that leave everything on the tray."""

    def start(self):
        pass

    def stop(self):
        pass

    def place(self, id):
        return 2

    def hand_over(self, id):
        pass


def studio_in(folder, clock=None, **others):
    """A studio whose phones are listed in the folder."""
    clock = clock or Clock()
    parts = {
        "tray": None,
        "crew": Idle(),
        "door": Door(clock),
        "phones": Phones(folder / "phones.json", clock.now),
        "hosts": ("127.0.0.1", "localhost"),
    }
    return Studio(**(parts | others))


def visitor(studio, routes=(), key="", address="10.0.0.7"):
    """A browser that follows nowhere by itself; `key` is its cookie, `routes` are pages of the test's own."""
    app = create_app(studio)
    app.router.routes[:0] = routes
    client = TestClient(app, HERE, raise_server_exceptions=False, follow_redirects=False, client=(address, 50000))
    if key:
        client.cookies.set("swatchcam", key, domain="127.0.0.1")
    return client
