"""Days of one print: what stays the same and what does not."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from tests.worlds.many_printers import KINDS
from tests.worlds.phone import Phone
from tests.worlds.print_days import OF_THE_DAY, print_days


@pytest.fixture(scope="module", params=["build", "final"])
def prints(request):
    return request.param, [print_days(request.param, number) for number in range(3)]


def test_the_kinds_of_printers_take_turns(prints):
    split, made = prints
    assert [each.kind for each in made] == list(KINDS[split][:3])


def test_one_strip_of_one_studio_lies_in_a_window_of_one_print_every_day(prints):
    for made in prints[1]:
        scenes = [day.scene for day in made.days]
        assert len({id(scene.card) for scene in scenes}) == 1
        assert len({id(day.scene.windows[day.again]) for day in made.days}) == 1
        others = {id(strip) for scene in scenes for strip in scene.windows.values()}
        assert len(others) == len(scenes) + 1
        assert all(np.array_equal(scene.cloth, scenes[0].cloth) for scene in scenes)


def test_a_phone_keeps_its_habits_and_no_photo_is_like_another(prints):
    habits = [field.name for field in fields(Phone) if field.name not in (*OF_THE_DAY, "contrast", "brighten")]
    for made in prints[1]:
        own = [day.scene for day in made.days if not day.other_phone]
        assert own[0] is made.days[0].scene
        assert len({scene.camera for scene in own}) == 1
        assert len({tuple(getattr(scene.phone, name) for name in habits) for scene in own}) == 1
        assert len({day.scene.phone.exposure for day in made.days}) == len(made.days)
        assert len({day.scene.pose for day in made.days}) == len(made.days)


def test_a_print_is_drawn_the_same_again():
    one, again = (print_days("build", 1, days=1).days[0].scene for _ in range(2))
    assert one.phone == again.phone
    assert all(np.array_equal(one.card.spectra[name], again.card.spectra[name]) for name in one.card.spectra)
