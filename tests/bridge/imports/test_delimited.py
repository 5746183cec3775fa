"""Delimited logs: with a map and without, with damage, and what is no log."""

from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadFile, BadValue
from bridge.imports.delimited import read_delimited
from bridge.imports.map import LogMap

FILE = Path("ride.csv")


def read(text, log_map=None, encoding="utf-8"):
    """Read a text as if it stood in a file."""
    data = text if isinstance(text, bytes) else text.encode(encoding)
    return read_delimited(FILE, data, None if log_map is None else LogMap.model_validate(log_map))


def values(sealed):
    """The samples by column, rounded as float32 is."""
    return {
        name: [None if v is None else round(v, 4) for v in sealed.frame[name]]
        for name in sealed.frame.columns
    }


PLAIN = {"t_s": [0.0, 0.1, 0.2], "rpm": [5000, 5100, 5200], "lambda_1": [0.9, 0.88, None]}


@pytest.mark.parametrize(
    "text",
    [
        "t_s,rpm,lambda_1\n0,5000,0.9\n0.1,5100,0.88\n0.2,5200,\n",
        "t_s;rpm;lambda_1\n0;5000;0.9\n0.1;5100;0.88\n0.2;5200;nan\n",
        "t_s\trpm\tlambda_1\n0\t5000\t0.9\n0.1\t5100\t0.88\n0.2\t5200\t-\n",
        "t_s;rpm;lambda_1\n0;5000;0,9\n0,1;5100;0,88\n0,2;5200;\n",
        '"t_s","rpm","lambda_1"\n"0,0","5000","0,9"\n"0,1","5100","0,88"\n"0,2","5200",""\n',
        "\ufefft_s, rpm ,lambda_1\r\n0, 5000,0.9\r\n\r\n0.1,5100, 0.88\r\n0.2,5200,NaN\r\n",
        "\n\ntime_s,rpm,lambda_1\n0,5000,0.9\n0.1,5100,0.88\n0.2,5200,\n\n",
    ],
)
def test_a_log_that_needs_no_map(text):
    """Delimiter, decimal sign, line ends, quotes, blanks and missing values are told by the file."""
    sealed = read(text)

    assert values(sealed) == PLAIN
    assert sealed.frame.schema == {"t_s": pl.Float64, "rpm": pl.Float32, "lambda_1": pl.Float32}
    assert sealed.counts == {"rows_read": 3, "rows_refused": 0}
    assert sealed.units == {"rpm": "/min", "lambda_1": "1"}


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32", "latin-1"])
def test_a_log_in_another_encoding(encoding):
    """UTF-16 and UTF-32 are told by their marks; what is not UTF-8 is taken for Latin-1, with a note."""
    sealed = read("t_s,rpm,Kühlwasser\n0,5000,80\n1,5100,81\n", encoding=encoding)

    assert sealed.frame["Kühlwasser"].to_list() == [80, 81]
    assert bool(sealed.notes) == (encoding == "latin-1")


def test_a_map_with_everything():
    """AFR, phi, another unit, points of a sensor, a plain rename: each comes out in the catalogue's unit."""
    text = (
        "ms,afr,phi,egt F,tps,revs,driver,spare\n"
        "1000,14.7,1,1000,0.52,5000,me,1\n"
        "1100,13.23,1.25,1100,4.31,5100,me,2\n"
        "1200,11.76,0.8,1200,2.415,5200,me,3\n"
    )
    sealed = read(
        text,
        {
            "time": {"column": "ms", "unit": "ms"},
            "channels": {
                "lambda_1": {"column": "afr", "as": "afr", "stoich": 14.7},
                "lambda_2": {"column": "phi", "as": "phi"},
                "egt_1": {"column": "egt F", "unit": "[degF]"},
                "throttle": {"column": "tps", "volts": [[0.52, 0.0], [4.31, 100.0]]},
                "rpm": {"column": "revs"},
            },
        },
    )

    assert values(sealed) == {
        "t_s": [0.0, 0.1, 0.2],
        "lambda_1": [1.0, 0.9, 0.8],
        "lambda_2": [1.0, 0.8, 1.25],
        "egt_1": [537.7778, 593.3333, 648.8889],
        "throttle": [0.0, 100.0, 50.0],
        "rpm": [5000, 5100, 5200],
        "spare": [1, 2, 3],
    }
    assert sealed.units["egt_1"] == "Cel"
    assert any("driver" in note for note in sealed.notes)


@given(st.floats(10, 15), st.floats(8, 25))
def test_richer_stays_richer(stoich, afr):
    """A lower AFR gives a lower lambda, a higher phi a lower lambda, whatever the fuel's own figure."""
    one = {"time": {"step_s": 1}, "channels": {"lambda": {"column": "a", "as": "afr", "stoich": stoich}}}
    first, second = read(f"a\n{afr:.6f}\n{afr - 1:.6f}\n", one).frame["lambda"]
    assert first > second
    assert first == pytest.approx(afr / stoich, rel=1e-5)
    two = {"time": {"step_s": 1}, "channels": {"lambda": {"column": "a", "as": "phi"}}}
    first, second = read("a\n1.1\n1.2\n", two).frame["lambda"]
    assert first > second


def test_a_sensor_beyond_its_points_is_judged_by_the_limits():
    """A little beyond its ends a sensor reads on; far beyond it is no reading."""
    log_map = {"time": {"step_s": 1}, "channels": {"throttle": {"column": "v", "volts": [[1, 0], [4, 100]]}}}

    assert read("v\n0.97\n4.06\n0.1\n5\n", log_map).frame["throttle"].to_list() == [
        pytest.approx(-1, abs=1e-4),
        pytest.approx(102, abs=1e-4),
        None,
        None,
    ]


def test_moments_with_a_zone():
    """Moments with a zone give the seconds between them, over midnight and a change of zone."""
    text = "at,rpm\n2026-05-14T23:59:59.75+02:00,1\n2026-05-14T22:00:00.25Z,2\n2026-05-14 23:30:00+01:30,3\n"
    sealed = read(text, {"time": {"column": "at", "format": "iso"}})

    assert sealed.frame["t_s"].to_list() == [0.0, 0.5]
    assert sealed.started_utc == datetime(2026, 5, 14, 21, 59, 59, 750000, tzinfo=UTC)


def test_moments_without_a_zone():
    """Moments without a zone are this machine's, and a note says so."""
    sealed = read(
        "at,rpm\n2026-05-14 11:20:00,1\n2026-05-14 11:20:01.5,2\n",
        {"time": {"column": "at", "format": "iso"}},
    )

    assert sealed.frame["t_s"].to_list() == [0.0, 1.5]
    assert sealed.started_utc == datetime(2026, 5, 14, 11, 20).astimezone()
    assert any("this machine's time" in note for note in sealed.notes)


def test_rows_without_a_time():
    """Rows evenly apart are given their time by their place, refused ones in between counted as time."""
    sealed = read("rpm,egt_1\n1,500\n2\nx,500\n4,500\n", {"time": {"step_s": 0.5}})

    assert sealed.frame["t_s"].to_list() == [0.0, 1.5]
    assert sealed.counts == {"rows_read": 2, "rows_refused": 2}
    assert any("the first on line 3" in note for note in sealed.notes)


def test_rows_that_cannot_be_read():
    """A word for a number, a wrong number of fields, and a time that does not rise are refused."""
    text = "t_s,rpm\n0,1\n1,x\n2,2\n2,3\n1.5,4\n3\n3,5,6\n,7\nyesterday,8\n4,9\n"
    sealed = read(text)

    assert sealed.frame["t_s"].to_list() == [0, 2, 4]
    assert sealed.counts == {"rows_read": 3, "rows_refused": 7}
    assert any("5 rows" in note and "line 3" in note for note in sealed.notes)
    assert any("2 rows" in note and "after the row before" in note for note in sealed.notes)


def test_values_out_of_their_limits():
    """A value that its quantity cannot have becomes null, counted by channel in words."""
    sealed = read("t_s,egt_2,rpm\n0,600,5000\n1,1400,5000\n2,-70,inf\n")

    assert sealed.frame["egt_2"].to_list() == [600, None, None]
    assert "egt_2: 2 values outside -60..1300 Cel left out" in sealed.notes
    assert "rpm: 1 value outside 0..25000 /min left out" in sealed.notes


def test_a_channel_that_is_not_in_the_catalogue():
    """A map's channel that is not in the catalogue is kept as it came, with a note that names the nearest."""
    sealed = read("t_s,a\n0,1\n1,2\n", {"channels": {"lamda_1": {"column": "a"}}})

    assert sealed.frame["lamda_1"].to_list() == [1, 2]
    assert any("did you mean 'lambda_1'" in note for note in sealed.notes)


def test_a_long_count_begins_with_the_session():
    """A time that counts since the logger was switched on, in a map, begins at zero with the session."""
    sealed = read("us,rpm\n3600000000,1\n3600100000,2\n", {"time": {"column": "us", "unit": "us"}})

    assert sealed.frame["t_s"].to_list() == pytest.approx([0.0, 0.1], abs=1e-12)


@pytest.mark.parametrize(
    ("text", "log_map", "parts"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), None, ["no text"]),
        (bytes(5000), None, ["no text"]),
        ("certainly not a log", None, ["no log", "header"]),
        ("t_s,rpm\n", None, ["no log", "rows"]),
        ("a,b\n1,2\n", None, ["t_s", "a, b", "map"]),
        ("rpm,b\n1,2\n", None, ["t_s", "rpm, b"]),
        ("t_s,b\n1,2\n", None, ["channel list", "t_s, b"]),
        ("t_s,rpm\nx,y\n", None, ["'t_s'", "no numbers"]),
        ("t_s,rpm\n1,y\n", None, ["none of its rows"]),
        ("t_s,rpm\n1,y,3\n", None, ["t_s"]),
        ("t_s,rpm\n1,2\n", {"channels": {"lambda_1": {"column": "AFR1"}}}, ["'AFR1'", "t_s, rpm"]),
        ("t_s,rpm\n1,2\n", {"time": {"column": "ms"}}, ["'ms'", "t_s, rpm"]),
        ("at,rpm\nnow,2\n", {"time": {"column": "at", "format": "iso"}}, ["'at'", "ISO 8601"]),
    ],
)
def test_what_is_no_log(text, log_map, parts):
    """What cannot be read is refused in one sentence with the file, what it lacks and its own columns."""
    with pytest.raises(BadFile) as caught:
        read(text, log_map)
    sentence = str(caught.value)
    assert sentence.startswith("ride.csv")
    assert "\n" not in sentence
    for part in parts:
        assert part in sentence


@pytest.mark.parametrize("name", ["a\x1b[2J", "a\tb", "\x7f", "\x9bm"])
def test_a_column_that_no_screen_can_show(name):
    """A control character in a column's name is refused with its line, and does not stand in the sentence."""
    with pytest.raises(BadFile, match=r"ride\.csv, line 3: the column '.*\\[xt]") as caught:
        read(f"{' ' * 5000}\n\nt_s,rpm,{name}\n0,1,2\n")
    assert str(caught.value).isprintable()


def test_a_channel_called_time():
    """A channel that a map calls `time` leaves the time's own column alone, and its missing column is named."""
    log_map = {"time": {"column": "t"}, "channels": {"time": {"column": "a"}}}

    assert values(read("t,a\n5,1\n6,3\n", log_map)) == {"t_s": [0.0, 1.0], "time": [1.0, 3.0]}
    with pytest.raises(BadFile, match="no column 'a'"):
        read("t,rpm\n5,1\n6,3\n", log_map)
    with pytest.raises(BadFile, match="no column 't'"):
        read("a,rpm\n5,1\n6,3\n", log_map)


def test_a_unit_that_does_not_fit():
    """A temperature in kilopascals is refused, naming the channel."""
    with pytest.raises(BadValue, match=r"egt_1.*kPa"):
        read("t_s,a\n1,2\n", {"channels": {"egt_1": {"column": "a", "unit": "kPa"}}})


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_in_a_sentence(data):
    """Whatever the bytes are, they are a log or are refused as such."""
    for log_map in (None, LogMap.model_validate({"time": {"step_s": 1}})):
        try:
            sealed = read_delimited(FILE, b"t_s,rpm\n" + data, log_map)
        except BadFile:
            continue
        assert sealed.frame.height == sealed.counts["rows_read"] > 0


@given(st.text(alphabet='0123456789.,;-"\n\tnaetx \r', max_size=120))
def test_any_rows_are_read_or_refused_in_a_sentence(text):
    """Whatever stands in the rows, each is read or counted as refused."""
    try:
        sealed = read("t_s,rpm,lambda_1\n" + text)
    except BadFile:
        return
    rows = [row for row in text.replace("\r\n", "\n").replace("\r", "\n").split("\n") if row.strip()]
    assert sealed.counts["rows_read"] + sealed.counts["rows_refused"] == len(rows)
    assert sealed.frame["t_s"].is_sorted()
