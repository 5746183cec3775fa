"""Maps: what they may say, and one sentence for what they may not."""

import pytest

from bridge.errors import BadFile, BadValue, RequestError
from bridge.imports import read_map

WHOLE = """
delimiter = ";"
time = { column = "ms", unit = "ms" }
decimal = ","
[channels]
lambda_1 = { column = "afr", as = "afr", stoich = 14.7 }
lambda_2 = { column = "phi", as = "phi" }
egt_1    = { column = "egt F", unit = "[degF]" }
throttle = { column = "tps", volts = [[0.52, 0.0], [4.31, 100.0]] }
rpm      = { column = "rpm" }
"""


def written(folder, text):
    """Write a map and give its path."""
    (folder / "map.toml").write_text(text, encoding="utf-8")
    return folder / "map.toml"


def test_a_whole_map(tmp_path):
    """Every key of a map is read."""
    found = read_map(written(tmp_path, WHOLE))

    assert (found.delimiter, found.decimal, found.time.column, found.time.unit) == (";", ",", "ms", "ms")
    assert found.channels["lambda_1"].stoich == 14.7
    assert found.channels["throttle"].volts == [(0.52, 0.0), (4.31, 100.0)]


@pytest.mark.parametrize(
    "time", ['{ column = "at", format = "iso" }', "{ step_s = 1.0 }", '{ column = "t" }']
)
def test_the_three_ways_to_say_a_time(tmp_path, time):
    """A time is a count, a moment, or a step; one without a unit is in seconds."""
    found = read_map(written(tmp_path, f"time = {time}")).time

    assert getattr(found, "unit", "s") == "s"


@pytest.mark.parametrize(
    ("text", "kind", "parts"),
    [
        ('[chanels]\nrpm = { column = "a" }', BadFile, ["'chanels'", "'channels'"]),
        ('[channels]\nrpm = { colum = "a" }', BadFile, ["'channels.rpm.colum'", "'column'"]),
        ('[channels]\nrpm = { unit = "/min" }', BadFile, ["'channels.rpm.column'", "missing"]),
        ('[channels]\nrpm = "revs"', BadFile, ["channels.rpm", "a table"]),
        ('time = { colum = "ms" }', BadFile, ["'time.colum'", "'column'"]),
        ("time = { step_s = 0 }", BadFile, ["time.step_s = 0", "more than 0"]),
        ('time = { column = "a", format = "us" }', BadFile, ["time.format", "'iso'"]),
        ('time = { column = "a", unit = "Cel" }', BadValue, ["time", "Cel", "ms"]),
        ('delimiter = "|"', BadFile, ["delimiter"]),
        ('[channels]\nlambda = { column = "a", as = "afr" }', BadFile, ["line 2", "stoich"]),
        ('[channels]\nlambda = { column = "a", stoich = 14.7 }', BadFile, ["stoich", "together"]),
        ('[channels]\nlambda = { column = "a", as = "afr", stoich = 147 }', BadFile, ["147", "less than 40"]),
        ('[channels]\nrpm = { column = "a", as = "phi" }', BadFile, ["rpm", "lambda channels"]),
        ('[channels]\nrpm = { column = "a", unit = "Cel" }', BadValue, ["channel rpm", "Cel", "/min"]),
        (
            '[channels]\nrpm = { column = "a", unit = "rpm" }',
            BadValue,
            ["channel rpm", "unknown unit", "/min"],
        ),
        ('[channels]\nthrottle = { column = "a", volts = [[1, 0]] }', BadFile, ["throttle", "two points"]),
        (
            '[channels]\nthrottle = { column = "a", volts = [[1, 0], [1, 9]] }',
            BadFile,
            ["[1, 0]", "[1, 9]", "readings"],
        ),
        (
            '[channels]\nthrottle = { column = "a", volts = [[1, 0], [2, 9], [3, 5]] }',
            BadFile,
            ["all the way"],
        ),
        ('[channels]\nt_s = { column = "a" }', BadFile, ["t_s is the time"]),
    ],
)
def test_what_a_map_must_not_say(tmp_path, text, kind, parts):
    """A map's fault is told in one sentence with the key and the mend."""
    path = written(tmp_path, text)
    with pytest.raises(RequestError) as caught:
        read_map(path)
    assert isinstance(caught.value, kind)
    assert str(caught.value).startswith(str(path))
    assert "\n" not in str(caught.value)
    for part in parts:
        assert part in str(caught.value)


@pytest.mark.parametrize("name", ['"\\u0000line"', '"a\\u001b[2J"', '" "', '""'])
def test_a_channel_that_no_screen_can_show(tmp_path, name):
    """A name of blanks or with a control character is no channel's; the sentence shows it in plain characters."""
    path = written(tmp_path, f'[channels]\n{name} = {{ column = "a" }}\n')
    with pytest.raises(BadFile, match=r"line [12]: .*no name for a channel"):
        read_map(path)


def test_a_time_in_two_ways_at_once(tmp_path):
    """A time written in two ways at once is told how to be written, not that a third way lacks a key."""
    path = written(tmp_path, 'time = { column = "t", unit = "ms", format = "iso" }')
    with pytest.raises(BadFile, match=r"line 1.*column and unit and format do not go together") as caught:
        read_map(path)
    assert "missing" not in str(caught.value)


def test_a_nesting_without_end(tmp_path):
    """A map that nests deeper than anybody writes is refused in a sentence."""
    path = written(tmp_path, "a = " + "[" * 3000 + "]" * 3000)
    with pytest.raises(BadFile, match="too deep"):
        read_map(path)
