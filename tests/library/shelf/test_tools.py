"""What the studio measures with reaches every recipe that is typed or listed, and what a pot uses reaches the shelf."""

from __future__ import annotations

import json

import pytest

from swatchcam.library.bulk.batch_import import scenes_by_list
from swatchcam.library.entry import Entry, entry_of
from swatchcam.library.library import open_library
from swatchcam.library.proposals import PIGMENT, POT, PRE_MIX, Used
from swatchcam.library.shelf.pigments import set_pigment
from swatchcam.library.shelf.studio import set_studio
from swatchcam.library.shelf.tools import measures_of
from swatchcam.recipes.drops import Drops
from swatchcam.recipes.measures import Measures
from swatchcam.recipes.premix import PreMix, makings
from swatchcam.recipes.scale_resolution import weighed_std
from swatchcam.web.jobs.mixing_task import _proposal_dict, proposal_from
from tests.worlds.cheap_measurements import proposal


@pytest.fixture
def library(tmp_path):
    return open_library(str(tmp_path / "halm.sqlite"), create=True)


def test_nothing_is_measured_with_in_a_new_studio(library):
    assert measures_of(library) == Measures()


def test_a_typed_recipe_and_a_listed_one_are_read_with_what_the_studio_has(library, tmp_path):
    set_studio(library, scale_g=1.0, spoon_ml=5.0)
    set_pigment(library, "Weiß", density=1.4)
    set_pigment(library, "Bleu", drops=Drops(0.06, 0.05))
    set_pigment(library, "binder", density=1.03)
    measures = measures_of(library)
    typed = "clear base 300 ml; weiß 2 spoons; bleu 10 drops; red 5 g"
    recipe = entry_of("Brick", recipe=typed, measures=measures).recipe
    assert [part.grams for part in recipe.parts] == pytest.approx([309, 14, 0.6, 5])
    assert recipe.parts[3].grams_std == weighed_std(1.0)
    assert entry_of("Brick", recipe=typed, measures=measures, scale=0.01).recipe.parts[3].grams_std == weighed_std(0.01)
    (tmp_path / "a.jpg").write_bytes(b"drawn")
    (tmp_path / "list.csv").write_text(f'photo,shade,recipe\na.jpg,Brick,"{typed}"\n', encoding="utf-8")
    (scene,) = scenes_by_list(tmp_path / "list.csv", tmp_path, Entry(""), measures)
    assert scene.strips[0][1].recipe == recipe


def test_what_a_pot_uses_goes_to_the_page_and_back():
    used = (Used(POT, "3", 480.0, 7, emptied=True), Used(PRE_MIX, "blue 1 %", 2.5, 1), Used(PIGMENT, "Øl", 0.1))
    jars = makings("blue", 0.01, 1.0, 2.5, (PreMix("blue", 0.1, 0.03, 40.0, Drops(0.05, 0.04), number=3),))
    wanted = proposal(batch="3.1", target=(50.0, 1.0, 2.0), used=used, makings=(*makings("red", 0.01, 0.1), *jars))
    assert proposal_from(json.loads(json.dumps(_proposal_dict(wanted)))) == wanted
