"""Every number on the command line may be written with a point or with a comma, and is refused if it reads two ways."""

from __future__ import annotations

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchcam.cli import main
from swatchcam.cli.options import COUNT, DECIMAL, Typed
from swatchcam.errors import UsageError
from swatchcam.mixing.test_series import parse_loads
from swatchcam.recipes.numbers import parse_amount, parse_number
from tests.cli.keyboard import refused

TWO_WAYS = ("1,234.5", "1.234,5", "1,5,2", "nan", "inf", "-inf", "", " ", "1_000", "1 000", "2,,5", "two")


def walk(command, words=()):
    """Every option and argument of a command and of those below it, each with the words before it."""
    yield from ((words, parameter) for parameter in command.params)
    if isinstance(command, click.Group):
        context = click.Context(command, help_option_names=["-h", "--help"])
        for name in command.list_commands(context):
            yield from walk(command.get_command(context, name), (*words, name))


def reads_decimals_with_a_point_only(parameter):
    """Whether click itself reads the number, or a bare function does."""
    kind = parameter.type
    kinds = kind.types if isinstance(kind, click.Tuple) else [kind]
    bare = (click.types.FloatParamType, click.types.FuncParamType)
    default = isinstance(parameter.default, float) and not isinstance(kind, Typed)
    return default or any(isinstance(one, bare) for one in kinds)


ALL = [*walk(main)]
NUMBERS = [(words, each) for words, each in ALL if isinstance(each, click.Option) and isinstance(each.type, Typed)]
NAMED = [" ".join((*words, each.opts[0])) for words, each in NUMBERS]
DECIMALS = [each for _, each in NUMBERS if each.type is not COUNT]


def test_the_options_with_numbers_are_found():
    """So the tests below do not merely look at none."""
    wanted = {
        *("check --tolerance", "shade set --tolerance", "keep --scale", "keep --drop", "keep --tip"),
        *("batch --scale", "batch --drop", "batch --tip", "opacity --criterion"),
        *("card import --uncertainty", "pigment set --strength", "pigment set --price"),
        *(
            "mix recipe --grams",
            "mix recipe --max-load",
            "mix correct --thin",
            "amount --density",
            "pigment series --cup",
        ),
    }
    assert wanted <= set(NAMED)


def test_no_option_reads_decimals_with_a_point_only():
    assert [each.opts[0] for _, each in ALL if reads_decimals_with_a_point_only(each)] == []


@pytest.mark.parametrize("kind", [click.FLOAT, float, click.FloatRange(0, 1), (float, float), "{:g}".format, None])
def test_an_option_that_would_is_noticed(kind):
    usual = {} if isinstance(kind, tuple) else {"default": 0.5}
    assert reads_decimals_with_a_point_only(click.Option(["--weight"], type=kind, **usual))


@given(st.sampled_from(DECIMALS), st.from_regex(r"[0-9]{1,6}\.[0-9]{1,6}", fullmatch=True))
def test_a_comma_reads_as_a_point(option, text):
    context = click.Context(click.Command("any"))
    read = [option.type_cast_value(context, written) for written in (text, text.replace(".", ","))]
    assert read == [float(text)] * 2


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_what_a_program_writes_is_read_to_the_last_bit(value):
    assert (
        DECIMAL.convert(repr(value), None, None) == DECIMAL.convert(repr(value).replace(".", ","), None, None) == value
    )


@pytest.mark.parametrize("text", TWO_WAYS)
def test_what_can_be_read_in_two_ways_or_none_is_refused(text):
    for read in (parse_number, lambda said: parse_amount(said, "g")):
        with pytest.raises(UsageError, match=r"^'.*' can't be read as a number\. Please type a number such as 2\.5"):
            read(text)


@pytest.mark.parametrize(("words", "option"), NUMBERS, ids=NAMED)
def test_every_option_refuses_it_by_its_own_name(words, option):
    for text in TWO_WAYS:
        problem, _ = refused([*words, f"{option.opts[0]}={text}"])
        said = "is not a whole number" if option.type is COUNT else "can't be read as a number."
        assert problem.startswith(f"{option.opts[0]}: '{text}' {said}")


def test_a_load_may_have_a_comma():
    assert parse_loads(["left=1,6", "right = 0,25 %", "beside-1=.5"]) == {"left": 1.6, "right": 0.25, "beside-1": 0.5}
    for text in TWO_WAYS:
        with pytest.raises(UsageError, match="does not give a strip and its load"):
            parse_loads([f"left={text}"])
