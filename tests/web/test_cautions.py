"""Cautions in a real browser: folded on a phone once they have been read, in full on every sheet of paper."""

from __future__ import annotations

import pytest

from swatchcam.library.entry import entry_of
from swatchcam.library.library import open_library
from swatchcam.library.save import keep_record
from swatchcam.recipes.safety import FIXER, HEAT, LINES
from tests.web.browser import PHONE, served, watched
from tests.worlds.cheap_measurements import measurement

DRY, SET = (41.0, 42.0, 25.0), (39.0, 41.0, 24.0)
PRESSED = "heat-set, 150 °C, 4 min, press"
RECIPE = "clear base 500 g, red 6 g, fixer 10 g"
# What is seen of each line, once the page is drawn: its height on screen or sheet, 0 where it is folded away.
HEIGHTS = """async () => {
  await new Promise(drawn => requestAnimationFrame(() => requestAnimationFrame(drawn)));
  return [...document.querySelectorAll("details.care li")]
    .map(each => each.checkVisibility({contentVisibilityAuto: true}) ? each.getBoundingClientRect().height : 0);
}"""


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """Two batches of one shade with fixer, both heat-set."""
    folder = tmp_path_factory.mktemp("season")
    library = open_library(str(folder / "halm.sqlite"), create=True)
    strips = [(batch, state) for batch in ("1", "2") for state in ("air-dried", PRESSED)]
    for number, (batch, state) in enumerate(strips, start=1):
        said = entry_of("Brick", state, batch=batch, recipe=RECIPE, measured=f"2026-02-{number:02d}")
        keep_record(library, measurement(folder, number, SET if state == PRESSED else DRY), "left", said)
    return folder / "halm.sqlite"


def test_a_fold_is_one_line_on_the_phone_and_open_on_paper(chromium, season):
    with served(season) as shop, watched(chromium, shop, **PHONE) as phone:
        phone.go("/shade?name=Brick")
        fold = phone.page.locator("details.care")
        assert fold.locator("summary").inner_text() == "Caution: fixer and heat"
        assert fold.bounding_box()["height"] < 60
        assert not any(phone.page.evaluate(HEIGHTS))

        phone.page.emulate_media(media="print")
        assert all(height > 10 for height in phone.page.evaluate(HEIGHTS))
        assert fold.locator("li").all_inner_texts() == [*LINES[FIXER], *LINES[HEAT]]

        phone.page.emulate_media(media="screen")
        assert not any(phone.page.evaluate(HEIGHTS))
        phone.page.evaluate("dispatchEvent(new Event('beforeprint'))")  # how older browsers open it
        assert all(height > 10 for height in phone.page.evaluate(HEIGHTS))
        phone.page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert not any(phone.page.evaluate(HEIGHTS))
        phone.check()
