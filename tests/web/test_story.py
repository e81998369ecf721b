"""A day in the studio on a phone, in a real browser: every number on its pages is the command line's."""

from __future__ import annotations

import json
import re

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from swatchcam.cli import main
from tests.web.browser import CARD, DESK, PHONE, SAMPLES, served, watched
from tests.worlds.picture_files import exif, heic, jpeg, with_segments


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """The page of a studio that has kept nothing yet."""
    with served(tmp_path_factory.mktemp("halm") / "halm.sqlite") as page:
        yield page


@pytest.fixture(scope="module")
def phone(chromium, shop):
    with watched(chromium, shop, **PHONE) as eye:
        yield eye


def told(*words):
    """What the command line says, as its JSON; a verdict's exit code is no failure."""
    done = CliRunner().invoke(main, [*words, "--json"])
    assert done.exit_code in (0, 4, 5), done.output
    return json.loads(done.stdout)


def sample(name):
    return str(SAMPLES / f"{name}.jpg")


def same_numbers(page, facts):
    """The page shows difference, interval, directions and colours to the last digit of the command line's dict."""
    text = page.open_all().text()
    difference = facts["difference"]
    low, high = difference["interval95"]
    wanted = [f"CIEDE2000 {difference['ciede2000']:.2f}, in 95 of 100 cases {low:.2f} to {high:.2f}"]
    wanted += [f"Δ{axis}* {difference[f'delta_{axis}']:+.2f}" for axis in "LCH"]
    for colour in facts["sample_photo"]["strips"]:
        wanted += [f"L* {colour['L']:.2f}, a* {colour['a']:.2f}, b* {colour['b']:.2f}"]
        wanted += [f"± {colour['interval95_ciede2000']:.2f} CIEDE2000"]
    missing = [words for words in wanted if words not in text]
    assert not missing, f"{missing} not in:\n{text}"
    assert page.text("h1").lower() == facts["verdict"]


@pytest.mark.parametrize("photo", ["good_pair", "differs", "close_call"])
def test_a_photo_is_judged_as_on_the_command_line(phone, photo):
    phone.go("/").check().send(photo).check()
    same_numbers(phone, told("check", sample(photo), "--card", CARD))


def test_a_photo_that_cannot_be_trusted_gives_no_number(phone):
    phone.go("/").send("bad_glare").check()
    refused = CliRunner().invoke(main, ["check", sample("bad_glare"), "--card", CARD])
    assert refused.exit_code == 3
    assert phone.text(".lead") in " ".join(refused.output.split())
    assert not re.search(r"CIEDE2000|L\*", phone.text())
    assert phone.page.get_by_role("link", name="Take another photo").is_visible()


@pytest.fixture(scope="module")
def files_of_phones(tmp_path_factory):
    """One scene as phones store it: HEIC, a JPEG that is to be turned, and one of 48 megapixels."""
    folder, rgb = tmp_path_factory.mktemp("phones"), cv2.imread(sample("wanted"))[..., ::-1]
    large = cv2.resize(cv2.imread(sample("good_pair")), None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR)
    turned = with_segments(jpeg(np.rot90(rgb), quality=92, subsampling=0), (0xE1, b"Exif\0\0" + exif(orientation=6)))
    (folder / "photo.heic").write_bytes(heic(rgb, quality=92, chroma=420, matrix_coefficients=6))
    (folder / "turned.jpg").write_bytes(turned)
    cv2.imwrite(str(folder / "large.jpg"), large)
    return folder


@pytest.mark.parametrize("name", ["photo.heic", "turned.jpg", "large.jpg"])
def test_files_of_phones_are_measured_as_on_the_command_line(phone, files_of_phones, name):
    path = files_of_phones / name
    phone.go("/").page.set_input_files("#photos", path)
    phone.press("Send and measure").wait()
    same_numbers(phone, told("check", str(path), "--card", CARD))
    drawn = phone.page.request.get(phone.base + phone.page.get_attribute("[src$='drawn.jpg']", "src")).body()
    height, width = cv2.imdecode(np.frombuffer(drawn, np.uint8), cv2.IMREAD_COLOR).shape[:2]
    assert width > height  # upright, however it was stored


def test_two_lights_tell_whether_a_match_holds(phone):
    phone.go("/").open_all()
    phone.page.set_input_files("#light", sample("two_lights_led"))
    phone.send("two_lights_window").check()
    facts = told("check", sample("two_lights_window"), "--other-light", sample("two_lights_led"), "--card", CARD)
    same_numbers(phone, facts)
    assert facts["metamerism"]["sentence"] in phone.text()


def test_a_light_added_afterwards_tells_the_same(phone):
    phone.go("/").send("two_lights_window").open_all()
    phone.page.set_input_files("#more", sample("two_lights_led"))
    phone.page.get_by_label("another light: shows whether a match holds there too").check()
    before = phone.page.url
    phone.press("Send and measure together")
    phone.page.wait_for_url(lambda url: url != before)
    phone.wait()
    facts = told("check", sample("two_lights_window"), "--other-light", sample("two_lights_led"), "--card", CARD)
    same_numbers(phone, facts)


def test_what_is_kept_is_judged_against_the_day_after(phone, shop, tmp_path):
    library = str(tmp_path / "halm.sqlite")
    phone.go("/").send("before_heat").press("Keep the right strip").check()
    phone.page.fill("#shade", "Brick")
    phone.page.fill("#batch", "1")
    assert phone.press("Keep it").page.url.endswith("let_down=")  # nothing is kept before its state is tapped
    phone.page.get_by_label("air-dried", exact=True).check()
    phone.press("Keep it").check()
    kept = told("keep", sample("before_heat"), "--card", CARD, "--shade", "Brick", "--batch", "1", "--library", library)
    assert "Kept as record 1" in phone.text()
    assert f"L* {kept['record']['L']:.2f}" in phone.open_all().text()
    phone.go("/shades").check()
    phone.page.get_by_role("link", name=re.compile("Brick")).first.click()
    phone.page.wait_for_load_state()
    phone.check().press("Compare a photo with this shade").check()
    phone.page.get_by_label("air-dried", exact=True).check()
    phone.send("after_heat")
    words = ["check", sample("after_heat"), "--card", CARD, "--shade", "Brick", "--library", library]
    same_numbers(phone, told(*words))
    assert "batch 1 of Brick" in phone.text()
    phone.press("Keep the right strip")
    phone.page.fill("#shade", "Brick")
    phone.page.fill("#batch", "1")
    assert "Last kept of Brick, batch 1: air-dried" in phone.text()
    phone.page.get_by_label("heat-set", exact=True).check()
    phone.press("Keep it").check()
    words = ["keep", sample("after_heat"), "--card", CARD, "--shade", "Brick", "--batch", "1", "--state", "heat-set"]
    shift = told(*words, "--library", library)["heat_and_wash"][0]
    assert shift["sentence"] in phone.text()


def test_on_a_desk_the_same_pages_stand(chromium, shop, phone):
    words = ["keep", sample("tilted"), "--card", CARD, "--shade", "Rose", "--library", shop.library]
    number = told(*words)["record"]["number"]
    phone.go("/phones")
    code = re.search(r"\b[A-Z2-9]{4}-[A-Z2-9]{4}\b", phone.check().text())
    assert code
    shop.code = code[0]
    with watched(chromium, shop, **DESK, color_scheme="dark") as desk:
        desk.go("/").check().send("differs").check()
        same_numbers(desk, told("check", sample("differs"), "--card", CARD))
        for path in ("/shades", "/shade?name=Rose", f"/record/{number}", "/phones", "/pot", "/studio", "/shelf"):
            desk.go(path).check()


def test_a_cloth_that_was_rubbed_with_a_strip_is_graded_and_kept_with_it(phone, shop):
    words = ["keep", sample("season_3_set"), "--card", CARD, "--shade", "Rust", "--batch", "1", "--state", "rubbed wet"]
    number = told(*words, "--library", shop.library)["record"]["number"]
    phone.go(f"/record/{number}").check().press("Grade the white cloth that was rubbed with it").check()
    phone.send("stained").check()
    facts = told("check", sample("stained"), "--staining", "--card", CARD)
    low, high = facts["interval95"]
    assert phone.text("h1") == facts["sentence"]
    text = phone.open_all().text()
    assert f"{facts['difference']:.1f}, in 95 of 100 cases {low:.1f} to {high:.1f}" in text
    assert facts["caution"] in text
    phone.press("Keep the grade with it").check()
    assert facts["sentence"] in phone.text()
    kept = told("record", str(number), "--library", shop.library)["staining"]
    assert (kept["grade"], kept["difference"], kept["interval95"]) == (facts["grade"], facts["difference"], [low, high])
    phone.go("/shade?name=Rust").check()
    assert facts["sentence"] in phone.text()
    before = phone.go("/").send("stained").page.url  # the clean window is seen to hold no ink: one tap
    phone.press("See how much colour came off").page.wait_for_url(lambda url: url != before)
    phone.page.wait_for_selector("h1:has-text('Staining grade')")
    phone.check()
    assert phone.text("h1") == facts["sentence"]
