"""Card designs: what ships is sound, what is wrong in a file is refused with a reason."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from swatchcam.cards.design import designs, read_design
from swatchcam.errors import CardError
from swatchcam.messages.surface import TERMINAL
from swatchcam.resources import calibration_folder
from tests.codes import findings, lines, tells

SHIPPED = (calibration_folder() / "a5.toml").read_text(encoding="utf-8")

NUMBER = "[[number]]\nx = 171\ny = 128.5\nsize = 9\n"


@pytest.fixture(autouse=True)
def folder_is_there(own_folder):
    own_folder.mkdir()


def read(text, folder):
    path = folder / "design.toml"
    path.write_text(text, encoding="utf-8")
    return read_design(path)


def test_the_shipped_card_has_the_patches_a_measurement_needs():
    card = designs()["a5"]
    assert card.size_mm == (210, 148)  # ISO 216: A5
    assert len([patch for patch in card.patches if patch.role == "colour"]) >= 28
    assert [window.name for window in card.windows] == ["left", "right"]
    left = {patch.srgb for patch in card.greys if patch.box.centre[0] < card.size_mm[0] / 3}
    right = {patch.srgb for patch in card.greys if patch.box.centre[0] > card.size_mm[0] * 2 / 3}
    assert len(left) >= 6
    assert left == right  # every grey step lies on two opposite sides


def test_every_size_is_the_same_card_with_tags_of_its_own():
    sizes = [designs()[name] for name in ("a6", "a5", "a4")]
    assert len({tag.id for card in sizes for tag in card.tags}) == sum(len(card.tags) for card in sizes)
    for card in sizes:
        factor = card.size_mm[0] / 210
        for own, base in zip(card.patches, sizes[1].patches, strict=True):
            assert (own.name, own.srgb) == (base.name, base.srgb)
            assert own.box.x == pytest.approx(base.box.x * factor)
            assert own.box.w == pytest.approx(base.box.w * factor)
        assert card.scale_bar.w % 10 == 0


def test_a_users_design_is_known_beside_the_shipped_ones(own_folder):
    mine = re.sub(r"(?s)\[\[size\]\].*?(?=\[scale\])", "", SHIPPED).replace('name = "a5"', 'name = "mine"')
    mine = re.sub(r"(?m)^id = (\d+)$", lambda match: f"id = {int(match[1]) + 100}", mine)
    (own_folder / "mine.toml").write_text(mine, encoding="utf-8")
    assert set(designs()) == {"a4", "a5", "a6", "mine"}
    assert [tag.id for tag in designs()["mine"].tags] == [100, 101, 102, 103, 104, 105]


def test_a_users_design_from_before_numbers_keeps_its_tags(own_folder):
    mine = re.sub(r"(?s)\[\[size\]\].*?(?=\[scale\])|\[\[number\]\].*?(?=\[\[tag\]\])", "", SHIPPED)
    mine = re.sub(r"(?m)^id = (\d+)$", lambda match: f"id = {int(match[1]) + 400}", mine.replace('"a5"', '"mine"'))
    (own_folder / "mine.toml").write_text(mine, encoding="utf-8")
    assert [tag.id for tag in designs()["mine"].tags] == [400, 401, 402, 403, 404, 405]
    assert designs()["mine"].number_boxes == ()


def test_two_designs_cannot_share_a_name_or_a_tag(own_folder):
    (own_folder / "mine.toml").write_text(SHIPPED, encoding="utf-8")
    with pytest.raises(CardError, match="Two card designs are called 'a5'"):
        designs()
    renamed = SHIPPED.replace('name = "a5"', 'name = "b5"').replace('name = "a6"', 'name = "b6"')
    (own_folder / "mine.toml").write_text(renamed.replace('name = "a4"', 'name = "b4"'), encoding="utf-8")
    with pytest.raises(CardError, match="both use tag number 0"):
        designs()


@pytest.mark.parametrize(
    ("old", "new", "code", "facts"),
    [
        ("format = 1", "format = 2", "format-unknown", {"format": 2, "known": 1}),
        ("format = 1\n", "", "entry-missing", {"entry": "format"}),
        ("format = 1", "format = ", "file-not-read", {}),
        ("x = 24.75\ny = 10.5", "x = 24.75\ny = 'top'", "entry-not-a-number", {"value": "top"}),
        ("x = 24.75\ny = 10.5", "x = nan\ny = 10.5", "entry-not-a-number", {"value": "nan"}),
        ("x = 24.75\ny = 10.5", "x = 300\ny = 10.5", "items-outside-card", {"names": ["A1"]}),
        ("x = 24.75\ny = 10.5", "x = 27\ny = 10.5", "items-overlap", {"pairs": [["A1", "A2"]]}),
        (
            "w = 10\nh = 10\nsrgb = [255, 3, 83]",
            "w = 0\nh = 10\nsrgb = [255, 3, 83]",
            "items-without-area",
            {"names": ["A1"]},
        ),
        ("[255, 3, 83]", "[256, 3, 83]", "patch-colour-impossible", {"patch": "A1"}),
        ('role = "colour"', 'role = "color"', "patch-role-unknown", {"patch": "A1", "role": "color"}),
        ("[255, 3, 83]", "[25.5, 3, 83]", "entry-not-whole", {"value": "25.5"}),
        ("[255, 3, 83]", "[255, 3]", "entry-of-wrong-kind", {}),
        ('name = "A2"', 'name = "A1"', "names-doubled", {"names": ["A1"]}),
        ('name = "A2"', 'name = "paper"', "names-unusable", {"names": ["paper"]}),
        ('name = "A2"', 'name = "#2"', "names-unusable", {"names": ["#2"]}),
        ("id = 1\n", "id = 0\n", "names-doubled", {"names": ["tag 0"]}),
        (NUMBER, "", "number-boxes-miscounted", {"count": 2, "wanted": 3}),
        (NUMBER, NUMBER.replace("171", "150"), "number-outside-label", {"names": ["number 1"]}),
        (NUMBER, NUMBER.replace("128.5", "131"), "number-outside-label", {"names": ["number 1"]}),
        (NUMBER, NUMBER.replace("171", "173"), "items-overlap", {"pairs": [["number 1", "number 2"]]}),
        (NUMBER, NUMBER.replace("size = 9", "size = 0"), "items-without-area", {}),
        ("id = 1\n", "id = 331\n", "tags-of-numbers", {"tags": [331], "first": 331, "last": 586}),
        ("first_tag = 12", "first_tag = 328", "tags-of-numbers", {"tags": [331, 332, 333]}),
        ("scale = 0.7", "scale = 0", "items-without-area", {}),
        ("size_mm = [210, 148]", f"size_mm = [{'9' * 400}, 148]", "entry-of-wrong-kind", {}),
        ("[scale]", "[[scale]]", "entry-of-wrong-kind", {}),
    ],
)
def test_a_wrong_design_is_refused_with_a_reason(own_folder, old, new, code, facts):
    assert old in SHIPPED
    with pytest.raises(CardError) as refused:
        read(SHIPPED.replace(old, new, 1), own_folder)
    assert tells(refused.value, code, **facts)
    assert refused.value.remedy in ("correct-the-file", "correct-these")
    assert str(own_folder) in TERMINAL.problem(refused.value)


def test_all_that_is_wrong_with_a_design_is_told_at_once(own_folder):
    with pytest.raises(CardError) as refused:
        read(
            SHIPPED.replace('name = "A2"', 'name = "#2"').replace("x = 24.75\ny = 10.5", "x = 300\ny = 10.5"),
            own_folder,
        )
    assert lines(refused.value)[:2] == ["a values file can't hold these names: #2", "these lie outside the card: A1"]


def test_a_file_that_is_no_text_is_refused(own_folder):
    path = own_folder / "x.toml"
    path.write_bytes(b"\xff\xfe\x00name")
    with pytest.raises(CardError, match="can't be read"):
        read_design(path)
    with pytest.raises(CardError, match="can't be read"):
        read_design(own_folder / "missing.toml")


VALUES = st.one_of(
    st.integers(), st.floats(), st.text(max_size=5), st.booleans(), st.lists(st.integers(), max_size=4),
    st.just({}), st.just([{}]), st.just(10**400),
)  # fmt: skip


def as_toml(value):
    """Enough TOML for the values above."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(char):08x}" for char in value if not 0xD800 <= ord(char) < 0xE000) + '"'
    if isinstance(value, list):
        return f"[{', '.join(as_toml(item) for item in value)}]"
    return "{}" if isinstance(value, dict) else repr(value)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_whatever_stands_in_a_design_only_a_refusal_comes_out(own_folder, data):
    lines = SHIPPED.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(lines) - 1))
        key = lines[place].partition("=")[0]
        lines[place] = data.draw(
            st.one_of(VALUES.map(lambda value, key=key: f"{key}= {as_toml(value)}"), st.text(max_size=20), st.just(""))
        )
    found, refused = outcome("\n".join(lines).encode("utf-8", "replace").decode(), own_folder)
    assert (found is None) != (refused is None)
    assert refused is None or TERMINAL.problem(refused).endswith(".") or findings(refused)
    assert all(0 <= patch.box.x <= card.size_mm[0] for card in found or [] for patch in card.patches)


def outcome(text, folder):
    try:
        return read(text, folder), None
    except CardError as refused:
        return None, refused
