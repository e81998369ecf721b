"""From a wanted colour to the corrected pot on a phone, in a real browser: the command line says the same beside it."""

from __future__ import annotations

import json
import shutil
from contextlib import closing

import pytest
from click.testing import CliRunner
from pypdfium2 import PdfDocument

from swatchcam.cli import main
from tests.web.browser import CARD, PHONE, SAMPLES, served, watched


@pytest.fixture(scope="module")
def stocked(tmp_path_factory):
    """A studio that knows its pigments, twice: for the phone, and for whoever sits at the computer."""
    folder = tmp_path_factory.mktemp("halm")
    words = ["library", "fill", str(SAMPLES), "--list", str(SAMPLES / "series.csv"), "--card", CARD]
    done = CliRunner().invoke(main, [*words, "--library", str(folder / "phone" / "halm.sqlite")])
    assert done.exit_code == 0, done.output
    shutil.copytree(folder / "phone", folder / "desk")
    return folder


@pytest.fixture(scope="module")
def typed(stocked):
    """A command at the computer -> its JSON."""

    def type_in(*words):
        library = ["--library", str(stocked / "desk" / "halm.sqlite"), "--json"]
        done = CliRunner().invoke(main, [*words, *library])
        assert done.exit_code == 0, done.output
        return json.loads(done.stdout)

    return type_in


def sample(name):
    return str(SAMPLES / f"{name}.jpg")


def printed(eye, paper):
    """The words of each page that comes out of a printer."""
    with closing(PdfDocument(eye.page.pdf(format=paper))) as found:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in found]


def the_same(page, facts):
    """Weighing list, prediction and colours on the page are those of the command line's dict."""
    text, choice = page.open_all().text(), facts["choices"][0]
    low, high = choice["interval95"]
    wanted = [f"{choice['ciede2000_from_target']:.1f} from the target (in 95 of 100 cases {low:.1f} to {high:.1f})"]
    wanted += [step["words"] for step in facts["weighing"][0]["steps"]] + facts["care"]
    for colour in (facts["target"], *(each["predicted"] for each in facts["choices"])):
        wanted += [f"L* {colour['L']:.2f}, a* {colour['a']:.2f}, b* {colour['b']:.2f}"]
    missing = [words for words in wanted if words not in text]
    assert not missing, f"{missing} not in:\n{text}"


def test_from_the_wanted_colour_to_the_corrected_pot(chromium, stocked, typed):
    library = stocked / "phone" / "halm.sqlite"
    with served(library) as shop, watched(chromium, shop, **PHONE) as phone:
        phone.send("wanted")
        phone.page.goto(f"{phone.page.url}?strip=left")
        phone.press("A recipe for this colour").check()
        phone.page.fill("#grams", "300 g")
        phone.page.get_by_label("0.01 g").check()
        phone.press("Work it out").wait().check()
        words = ["--card", CARD, "--scale", "0.01"]
        target = ["--target", f"{sample('wanted')}:left", "--grams", "300", "--shade", "terracotta"]
        the_same(phone, typed("mix", "recipe", *words, *target, "--keep", "--as", "1"))

        boxes = phone.page.locator(".weigh input")
        boxes.nth(0).check()
        boxes.nth(1).check()
        phone.page.get_by_text("Noted.").wait_for()
        phone.page.reload()
        assert [boxes.nth(n).is_checked() for n in range(3)] == [True, True, False]

        phone.page.fill("#shade", "terracotta")
        phone.page.fill("#batch", "1")
        phone.press("Keep choice 1").check()
        assert "Kept as batch 1 of terracotta" in phone.text()
        (sheet,) = printed(phone, "A4")
        assert "Then make a strip" in sheet
        small = printed(phone, "A6")
        assert len(small) > 1
        assert all("batch 1 of terracotta" in each for each in small)

        phone.go("/").send("pot_1").press("What to add to the pot").check()
        phone.page.select_option("#pot", label="terracotta, batch 1")
        phone.page.fill("#grams", "290")
        phone.press("Work it out").wait().check()
        words += ["--shade", "terracotta", "--target-strip", "left"]
        the_same(phone, typed("mix", "correct", sample("pot_1"), *words, "--in-pot", "290", "--keep"))
        phone.press("Keep choice 1")

        phone.go("/").send("pot_2").press("What to add to the pot")
        phone.page.select_option("#pot", label="terracotta, batch 1.1")
        phone.page.fill("#grams", "285")
        phone.press("Work it out").wait().check()
        facts = typed("mix", "correct", sample("pot_2"), *words, "--in-pot", "285", "--keep")
        assert facts["leave_it"]
        assert phone.text("h1") == "Leave it"
        assert facts["leave_why"] in phone.text(".lead").lower()

        phone.go("/pot/predictions").check()
        assert typed("mix", "predictions")["sentence"] in phone.text()
        phone.go("/pot").check().go("/pot/amount").check().go("/pot/use-up").check()
        phone.go("/shelf").check().page.click(".shelf a")
        phone.check()
