"""What an earlier version stored on the tray is read in today's words; what is stored today comes back as it was."""

import pytest

from swatchcam.web.older_words import in_todays_words, marked

THEN_AND_NOW = {
    "a photo": ({"asked": {"strip": "halm", "lamps": [1]}}, {"asked": {"row": "halm", "lights": [1]}}),
    "a measurement": ({"drawdowns": [{"name": "left"}]}, {"strips": [{"name": "left"}]}),
    "an entry": ({"squeegee": "", "strip": "B", "stage": "wet"}, {"squeegee": "", "mark": "B", "state": "wet"}),
    "a mix": ({"sitting": {"strip": None}, "strip": "left"}, {"sitting": {"row": None}, "strip": "left"}),
    "a form": ({"typed": [["stage", "wet"], ["grams", "5"]]}, {"typed": [["state", "wet"], ["grams", "5"]]}),
}


@pytest.mark.parametrize("name", THEN_AND_NOW)
def test_older_words_are_read(name):
    then, now = THEN_AND_NOW[name]
    assert in_todays_words(then) == now


@pytest.mark.parametrize("name", THEN_AND_NOW)
def test_todays_words_come_back_as_they_were(name):
    for facts in THEN_AND_NOW[name]:
        assert in_todays_words(marked(facts)) == facts
