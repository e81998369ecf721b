"""What file names and lists of photos say: read as they are meant, or refused line by line."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from swatchcam.errors import LibraryError, UsageError
from swatchcam.library.bulk.photo_names import PHOTOS, PhotoName, photos_in, read_name
from swatchcam.library.bulk.photo_table import COLUMNS, Listed, read_list
from swatchcam.library.records import State
from swatchcam.messages.surface import TERMINAL
from swatchcam.photo.file_formats import read_header
from swatchcam.recipes.film_weight import parse_coat
from swatchcam.recipes.recipe import parse_recipe
from tests.codes import lines
from tests.worlds.picture_files import dng, heic, noise, pil

# --- one name -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("brick.jpg", PhotoName("brick")),
        ("river blue, 3, heat-set.jpg", PhotoName("river blue", "3", state=State("heat-set"))),
        ("brick, 2025-04, washed 3.jpg", PhotoName("brick", "2025-04", state=State("washed", 3))),
        ("brick,2025-04,washed 3 x.HEIC", PhotoName("brick", "2025-04", state=State("washed", 3))),
        ("brick, wet, right, strip B, v1.2.png", PhotoName("brick", "v1.2", "B", State("wet"), "right")),
        ("brick, Beside-1, Strip north wall.jpg", PhotoName("brick", mark="north wall", strip="beside-1")),
        ("brick, , heat-set, .jpg", PhotoName("brick", state=State("heat-set"))),
        ("River  Blue, Air-dried.dng", PhotoName("River Blue", state=State("air-dried"))),
        ("brick, 3, heat-set (2).jpg", PhotoName("brick", "3", state=State("heat-set"))),
        ("brick, west.jpg", PhotoName("brick", "west")),
        (unicodedata.normalize("NFD", "grün, 3.jpg"), PhotoName("grün", "3")),
    ],
)
def test_a_name_says_what_is_in_the_photo(name, said):
    assert read_name(name) == said
    assert read_name(Path("some, folder") / name) == said


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        (", 3.jpg", "The shade has no name"),
        ("brick, 3, 4.jpg", "'4' is a second batch"),
        ("brick, wet, heat-set.jpg", "'heat-set' is a second state"),
        ("brick, left, right.jpg", "'right' is a second strip"),
        ("brick, strip A, strip B.jpg", "'strip B' is a second mark"),
        ("brick, strip.jpg", "The mark has no name"),
        ("brick, 3, heat-sett.jpg", "There is no state 'heat-sett'"),
        ("brick, airdried.jpg", "There is no state 'airdried'"),
        ("brick, washed 0.jpg", "There is no state 'washed 0'"),
        ("brick, washed3.jpg", "There is no state 'washed3'"),
        ("a" * 121 + ".jpg", "can't be the name of the shade"),
    ],
)
def test_a_name_that_says_nothing_clear_is_refused(name, problem):
    with pytest.raises(UsageError) as refusal:
        read_name(name)
    assert problem in TERMINAL.problem(refusal.value)
    assert name in TERMINAL.problem(refusal.value)
    assert TERMINAL.remedy(refusal.value) != refusal.value.remedy


SHADES = st.from_regex(r"[a-z]{1,8}( [a-z]{1,8})?", fullmatch=True)
PARTS = st.tuples(
    st.sampled_from(["3", "2025-04", "spring"]),
    st.sampled_from(["strip A", "strip 12"]),
    st.sampled_from(["wet", "air-dried", "heat-set", "washed 5 times"]),
    st.sampled_from(["left", "right", "beside-12"]),
)


@given(SHADES, PARTS, st.permutations(range(4)))
def test_what_follows_the_shade_may_stand_in_any_order(shade, parts, order):
    said = read_name(", ".join([shade, *(parts[place] for place in order)]) + ".jpg")
    assert (said.shade, said.batch, f"strip {said.mark}", str(said.state), said.strip) == (shade, *parts)


@given(st.text(alphabet="brick, 3()-strpwahedlft.", max_size=40))
@example("")
@example(".jpg")
def test_any_name_is_read_or_refused(name):
    try:
        said = read_name(name).shade
    except UsageError as refusal:
        said = TERMINAL.problem(refusal)
    assert said


# --- a folder -----------------------------------------------------------------------------------------------


def make(folder, *names):
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")


def test_photos_come_in_the_order_in_which_people_count(tmp_path):
    names = ["1/b.jpg", "2/a.jpg", "10/a.jpg", "Brick 2.JPG", "brick 10.heic", "brick 010.dng"]
    make(tmp_path, *names[::-1])
    found = [path.relative_to(tmp_path).as_posix() for path in photos_in(str(tmp_path))]
    assert found == ["1/b.jpg", "2/a.jpg", "10/a.jpg", "Brick 2.JPG", "brick 010.dng", "brick 10.heic"]


def test_hidden_files_thumbnails_and_other_files_are_left_out(tmp_path):
    make(tmp_path, ".x.jpg", "._a.jpg", ".hidden/a.jpg", "thumbs/a.jpg", "a_thumb.jpg", "Thumbnail 3.png", "notes.txt")
    make(tmp_path, "a.jpg.part", "jpg", "a.webp", "thumbelina.jpg", "a.jpg")
    (tmp_path / "folder.jpg").mkdir()
    assert [path.name for path in photos_in(tmp_path)] == ["a.jpg", "thumbelina.jpg"]


def test_an_empty_folder_has_no_photos_and_a_missing_one_is_told(tmp_path):
    assert photos_in(tmp_path) == []
    make(tmp_path, "file.jpg")
    with pytest.raises(LibraryError, match="can't be read: it is not there"):
        photos_in(tmp_path / "gone")
    with pytest.raises(LibraryError, match="is a file, not a folder"):
        photos_in(tmp_path / "file.jpg")


def test_every_kind_of_photo_that_is_read_is_found_by_its_usual_ending():
    pixels = noise()
    files = [pil(pixels, "JPEG"), pil(pixels, "PNG"), pil(pixels, "TIFF"), heic(pixels), dng(noise(np.uint16)[..., 0])]
    kinds = [read_header(data).kind for data in files]
    assert kinds == ["JPEG", "PNG", "TIFF", "HEIC", "DNG"]
    assert {f".{kind.lower()}" for kind in kinds} <= set(PHOTOS)


# --- a list -------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path):
    make(tmp_path / "photos", "a.jpg", "b.jpg", "c.jpg", "d.jpg", "lamp/é.jpg", "lamp/f.jpg")
    return tmp_path / "photos"


@pytest.fixture
def read(tmp_path, folder):
    def go(text, **options):
        path = tmp_path / "list.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_list(str(path), folder, **options)

    return go


@pytest.fixture
def problems(read):
    def go(text):
        with pytest.raises(LibraryError) as refusal:
            read(text)
        assert refusal.value.remedy
        return lines(refusal.value)

    return go


def test_a_list_says_everything_of_each_strip(read, folder):
    found = read(
        f"{','.join(COLUMNS)}\n"
        "a.jpg,river  blue,left,3,A,cotton,77 T,65 shore,Halm 2,washed,3,40 C,2026-02-07,2026-01-31,"
        '"binder 500 g, blue 2 drops","0,72 g on 10x10 cm",1:10,"a note, long",b.jpg; c.jpg ,lamp/e\u0301.jpg\n'
        "\n"
        "d.jpg,brick,,,,,,,,,,,,,,,,,,\n"
    )
    assert found == (
        Listed(
            line=2,
            photo=folder / "a.jpg",
            shade="river blue",
            strip="left",
            batch="3",
            mark="A",
            state=State("washed", 3, "40 °C"),
            cloth="cotton",
            mesh="77 T",
            squeegee="65 shore",
            ink="Halm 2",
            measured="2026-02-07",
            mixed="2026-01-31",
            recipe=parse_recipe("binder 500 g, blue 2 drops"),
            coat=parse_coat("0.72 g on 10x10 cm"),
            let_down=10.0,
            notes="a note, long",
            again=(folder / "b.jpg", folder / "c.jpg"),
            other_light=(folder / "lamp/é.jpg",),
        ),
        Listed(4, folder / "d.jpg", "brick"),
    )


@pytest.mark.parametrize(
    ("cells", "state"),
    [
        ("heat-set 150 C 4 min press,,", State("heat-set", how="150 °C, 4 min, press")),
        ('heat-set,0,"150 °C, 4 min, press"', State("heat-set", how="150 °C, 4 min, press")),
        ("heat-set press,,150 C", State("heat-set", how="150 °C, press")),
        ("washed,1,", State("washed", 1)),
        ("washed,12,60C 30 min", State("washed", 12, "60 °C, 30 min")),
        ("rubbed,0,wet", State("rubbed", how="wet")),
        ("air-dried,0,", State("air-dried")),
        (",,", None),
        (",0,", None),
    ],
)
def test_a_state_may_stand_in_one_column_or_in_those_of_an_export(read, cells, state):
    (row,) = read(f"photo,shade,state,washes,treatment\na.jpg,brick,{cells}\n")
    assert row.state == state


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ("heat-set,3,", "I can't read '3 times'"),
        ("washed,three,", "I can't read 'three times'"),
        ("washed 2,3,", "I can't read '3 times'"),
        ("heat-set,,gently", "I can't read 'gently'"),
        ("heat-set,,400 C", "'400 °C' can't be right"),
        ("air-dried,,150 C", "There is no state 'air-dried, 150 C'."),
        (",,150 C", "There is no state '150 C'."),
        (",2,", "There is no state '2 times'."),
    ],
)
def test_a_state_that_cannot_be_is_told_with_its_line(problems, cells, told):
    (line,) = problems(f"photo,shade,state,washes,treatment\na.jpg,brick,{cells}\n")
    assert line.startswith(f"line 2, state: {told}")


@pytest.mark.parametrize(
    "text",
    [
        "photo,shade,other_light\nlamp/f.jpg,brick,a.jpg;b.jpg\n",
        '\ufeffPhoto;Shade;Other Light;\r\nlamp\\f.jpg;brick;"a.jpg;b.jpg";\r\n;;;\r\n',
        "shade\tother light\tphoto\nbrick\ta.jpg; b.jpg;\tlamp/f.jpg",
    ],
)
def test_tables_of_several_programs_say_the_same(read, folder, text):
    (row,) = read(text)
    assert (row.photo, row.shade) == (folder / "lamp/f.jpg", "brick")
    assert row.other_light == (folder / "a.jpg", folder / "b.jpg")


def test_one_photo_may_have_a_line_for_each_window(read):
    rows = read("photo,window,shade,again\na.jpg,left,brick,b.jpg\na.jpg,right,river blue,b.jpg\n")
    assert [(row.photo.name, row.strip, row.shade) for row in rows] == [
        ("a.jpg", "left", "brick"),
        ("a.jpg", "right", "river blue"),
    ]


def test_a_studio_weighs_with_its_own_scale(read):
    (row,) = read(
        "photo,shade,recipe\na.jpg,brick,binder 500 g\n", read_recipe=lambda text: parse_recipe(text, scale_g=1)
    )
    assert row.recipe == parse_recipe("binder 500 g", scale_g=1)


def test_all_that_is_wrong_is_told_at_once_with_its_line(problems):
    told = problems(
        "photo,shade,state,mixed,recipe,clothh\n"
        "a.jpg,brick,heat-sett,2026-02-30,yellow 3 g,x\n"
        '"b.jpg",,,,"binder 5 g\nyellow",\n'
        "A.jpg,brick,,,,\n"
        ",brick,,,,\n"
        "c.jpg,brick\n"
        "c.jpg,brick,,,,,more\n"
    )
    assert [line.split(".")[0] for line in told] == [
        "there is no column 'clothh'",
        "line 2, state: There is no state 'heat-sett'",
        "line 2, mixed: '2026-02-30' is not a date",
        "line 2, recipe: The recipe has no clear base",
        "line 3, shade: The shade has no name",
        "line 3, recipe: 'yellow' has no amount in g, kg, mg, ml, drops, spoons or tips",
        "line 5, photo: There is no photo 'A",
        "line 6, photo: No photo is named",
        "line 7: it has 2 entries, but the list has 6 columns",
        "line 8: it has 7 entries, but the list has 6 columns",
    ]
    assert told[0].endswith("Did you mean 'cloth'?")
    assert told[6].endswith("Did you mean 'a.jpg'?")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ["column 'photo' is missing", "column 'shade' is missing"]),
        ("photo,shade\n", ["there is no photo in it"]),
        ("photo,shade,photo\n", ["column 'photo' is there 2 times"]),
        ('photo,shade\na.jpg,"brick\n', ["line 2: from here the table can't be read (unexpected end of data)"]),
        (
            "photo,shade,window\na.jpg,brick,left\na.jpg,blue,left\na.jpg,blue,\n",
            [
                "line 3: strip 'left' of a.jpg is already in line 2",
                "line 4: a.jpg is in several lines, so each must name its strip",
            ],
        ),
        ("photo,shade\na.jpg,brick\na.jpg,brick\n", ["line 3: a.jpg is already in line 2"]),
        ("photo,shade,again\na.jpg,brick,b.jpg;b.jpg\n", ["line 2: it names a photo twice"]),
        ("photo,shade,again\na.jpg,brick,a.jpg\n", ["line 2: it names a photo twice"]),
        (
            "photo,shade,again\na.jpg,brick,b.jpg\nb.jpg,brick,\n",
            ["line 3: b.jpg already belongs to the scene of line 2"],
        ),
        (
            "photo,shade,window,again\na.jpg,brick,left,b.jpg\na.jpg,brick,right,\n",
            ["line 3: the further photos it names for a.jpg differ from those in line 2"],
        ),
        (
            "photo,shade,batch,ink\na.jpg,brick,3,one\nb.jpg,brick,3,\nc.jpg,brick,3,two\nd.jpg,brick,4,two\n",
            ["line 4: ink of batch 3 is not the same as in line 2"],
        ),
    ],
)
def test_lines_that_contradict_each_other_are_told(problems, text, told):
    assert problems(text) == told


def test_a_column_like_no_other_is_told_with_all_that_there_are(problems):
    assert problems("photo,shade,xyzzy\na.jpg,brick,\n") == [
        f"there is no column 'xyzzy'. The columns are {', '.join(COLUMNS)}."
    ]


def test_a_list_that_is_no_text_or_not_there_is_told(read, tmp_path, folder):
    with pytest.raises(LibraryError, match="it is not text in UTF-8") as refusal:
        read("photo,shade\na.jpg,grün\n".encode("latin-1"))
    assert "CSV UTF-8" in TERMINAL.remedy(refusal.value)
    for path in (tmp_path / "gone.csv", tmp_path):
        with pytest.raises(LibraryError, match="can't be read"):
            read_list(path, folder)


@given(
    st.lists(st.lists(st.sampled_from(["a.jpg", "b.jpg", "", "3", "wet", "left", '"', "x,y"]), max_size=6), max_size=4)
)
def test_any_table_is_read_or_refused(tmp_path_factory, table):
    place = tmp_path_factory.getbasetemp() / "any table"
    make(place, "a.jpg", "b.jpg")
    text = "photo,shade,window,state\n" + "\n".join(",".join(row) for row in table)
    (place / "list.csv").write_text(text)
    try:
        said = [row.shade for row in read_list(place / "list.csv", place)]
    except LibraryError as refusal:
        said = TERMINAL.problem(refusal).splitlines()
    assert said
    assert all(said)


@pytest.mark.parametrize(
    "text",
    [
        "photo,shade,strip,mark,state\na.jpg,brick,left,B,wet\n",
        "photo,shade,window,strip,stage\na.jpg,brick,left,B,wet\n",
        "photo,shade,drawdown,label,stage\na.jpg,brick,left,B,wet\n",
    ],
)
def test_headings_of_older_lists_are_still_read(read, text):
    (row,) = read(text)
    assert (row.strip, row.mark, str(row.state)) == ("left", "B", "wet")


def test_a_column_strip_without_left_and_right_is_an_older_list_s_mark(read):
    first, second = read("photo,shade,strip\na.jpg,brick,B\nb.jpg,brick,left\n")
    assert [(row.strip, row.mark) for row in (first, second)] == [("", "B"), ("", "left")]


def test_the_mark_of_a_photo_s_name_may_be_said_in_the_older_way():
    assert read_name("brick, mark B.jpg") == read_name("brick, strip B.jpg") == PhotoName("brick", mark="B")
