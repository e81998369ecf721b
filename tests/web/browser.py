"""A page that is served as a studio serves it, and a real browser that looks at it.

The browser is Debian's Chromium. Every console error, every failure of a script and every request to another machine is
noted, and a test that leaves any fails.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.paths import SAMPLES

CARD = "sample-card"
NEEDED = "SWATCHCAM_NEEDS_BROWSER"
QUIET = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking")
PHONE = {"viewport": {"width": 360, "height": 740}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2}
DESK = {"viewport": {"width": 1280, "height": 900}}
# WCAG 2.2, levels A and AA, and what axe-core calls good practice.
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


@dataclass
class Served:
    """A page in a process of its own."""

    process: subprocess.Popen[str]
    base: str  # http://127.0.0.1:PORT
    code: str
    library: str

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        """A program that was let in; it follows no redirect by itself."""
        with httpx.Client(base_url=self.base, timeout=60) as client:
            answer = client.post("/pair", data={"code": self.code, "name": "test"}, headers={"Origin": self.base})
            assert answer.status_code == 303, answer.text
            yield client

    def kill(self) -> None:
        """As if the power failed: its workers may live on for a moment."""
        self.process.kill()
        self.process.wait()


@contextmanager
def served(library: Path | str, *words: str, **env: str) -> Iterator[Served]:
    """`swatchcam serve` on a free port of this machine."""
    process = subprocess.Popen(
        [sys.executable, "-m", "swatchcam", "serve", "--port", "0", "--library", str(library), "--card", CARD, *words],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONIOENCODING": "utf-8", "OPENBLAS_NUM_THREADS": "1"} | env,
        start_new_session=True,
    )
    try:
        link = next(filter(None, (re.search(r"http://\S+/pair\?code=\S+", line) for line in process.stdout)), None)
        assert link, "the page gave no link"
        parts = urlsplit(link[0])
        yield Served(process, f"{parts.scheme}://{parts.netloc}", parts.query.removeprefix("code="), str(library))
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
        process.stdout.close()


@pytest.fixture(scope="module")
def chromium():
    """The browser, where it is installed."""
    path = shutil.which("chromium")
    if path is None:
        why = f"no browser: chromium is not on the path ({os.environ.get('PATH')})"
        if os.environ.get(NEEDED):
            pytest.fail(why)
        pytest.skip(why)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(QUIET))
        yield browser
        browser.close()


@dataclass
class Eye:
    """One tab, and what went wrong in it."""

    page: Any
    base: str
    faults: list[str] = field(default_factory=list)

    def go(self, path: str) -> Eye:
        """To a page of the studio."""
        self.page.goto(self.base + path)
        return self

    def press(self, name: str) -> Eye:
        """A button or a link of that name, and on to the page that follows."""
        found = self.page.get_by_role("button", name=name, exact=True)
        (found if found.count() else self.page.get_by_role("link", name=name, exact=True)).first.click()
        self.page.wait_for_load_state()
        return self

    def open_all(self) -> Eye:
        """Everything that is folded up."""
        self.page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        return self

    def text(self, selector: str = "main") -> str:
        """What is read there."""
        return self.page.inner_text(selector)

    def send(self, *photos: str, field: str = "#photos") -> Eye:
        """Sample photos from the first page, until the answer is there."""
        self.page.set_input_files(field, [SAMPLES / f"{photo}.jpg" for photo in photos])
        return self.press("Send and measure").wait()

    def wait(self) -> Eye:
        """Until what was sent is worked out, or refused."""
        self.page.wait_for_selector(".verdict, .wall, .refused, .weigh", timeout=60_000)
        self.page.wait_for_load_state()
        return self

    def check(self) -> Eye:
        """The page is open to everyone: axe-core finds nothing, and nothing has to be pushed sideways."""
        self.open_all()
        found = Axe().run(self.page, options=RULES)
        assert not found.response["violations"], f"{self.page.url}\n{found.generate_report()}"
        assert self.page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{self.page.url} is too wide"
        small = self.page.evaluate(SMALL)
        assert not small, f"{self.page.url}: too small to press: {small}"
        return self


# Whatever is pressed, but links within a sentence (WCAG 2.2, 2.5.8 leaves those out), is at least 44 px high.
SMALL = """() => [...document.querySelectorAll(
  "button, .button, summary, select, .choice, .weigh label, nav a, .tray a, input:not([type=hidden])")]
  .filter(each => each.checkVisibility() && !each.closest(".choice, .weigh") === !each.matches(".choice, .weigh label"))
  .filter(each => each.getBoundingClientRect().height < 44)
  .map(each => each.outerHTML.slice(0, 80))"""


@contextmanager
def watched(browser: Any, served: Served, **settings: Any) -> Iterator[Eye]:
    """A tab of a browser that was let in with the served page's code; its faults are looked at in the end."""
    context = browser.new_context(**settings)
    page = context.new_page()
    eye = Eye(page, served.base)
    page.on("console", lambda said: eye.faults.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: eye.faults.append(str(error)))
    page.on("request", lambda asked: eye.faults.append(asked.url) if not asked.url.startswith(served.base) else None)
    try:
        eye.go(f"/pair?code={served.code}").press("Let this phone in")
        yield eye
        assert not eye.faults
    finally:
        context.close()
