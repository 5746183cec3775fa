"""The time of each row: years, lengths, zones, and the two days on which clocks are put forward and back."""

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.errors import BadFile
from bridge.imports.delimited import read_delimited
from bridge.imports.map import LogMap

FILE = Path("ride.csv")
STAMPS = {"time": {"column": "at", "format": "iso"}}


def read(stamps, log_map=STAMPS):
    """Read a log with these moments, one row each."""
    rows = "".join(f"{stamp},{i}\n" for i, stamp in enumerate(stamps))
    return read_delimited(FILE, f"at,rpm\n{rows}".encode(), LogMap.model_validate(log_map))


def lives_in(monkeypatch, zone):
    """Let this machine's clock show the time of a zone."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()


@pytest.fixture
def berlin(monkeypatch):
    """A machine whose clock is put forward on 2026-03-29 at 2:00 and back on 2026-10-25 at 3:00."""
    with monkeypatch.context() as patch:
        lives_in(patch, "Europe/Berlin")
        yield
    time.tzset()


@pytest.mark.usefixtures("berlin")
def test_the_hour_that_the_clock_leaves_out():
    """From 1:59:59 to 3:00:00 on the spring day one second passes."""
    sealed = read(["2026-03-29T01:59:59", "2026-03-29T03:00:00", "2026-03-29T03:00:01.5"])

    assert sealed.frame["t_s"].to_list() == [0.0, 1.0, 2.5]
    assert sealed.started_utc == datetime(2026, 3, 29, 0, 59, 59, tzinfo=UTC)
    assert any("this machine's time (+0100 at the first)" in note for note in sealed.notes)


@pytest.mark.usefixtures("berlin")
def test_a_logger_whose_clock_is_not_put_forward():
    """Moments that the machine's clock left out show that the logger's went on, so all have one zone."""
    sealed = read(["2026-03-29T01:59:59", "2026-03-29T02:00:00", "2026-03-29T03:00:00"])

    assert sealed.frame["t_s"].to_list() == [0.0, 1.0, 3601.0]
    assert any("put forward" in note for note in sealed.notes)


@pytest.mark.usefixtures("berlin")
@pytest.mark.parametrize(
    ("clock", "seconds"),
    [
        (
            ["01:59:59", "02:00:00", "02:59:59", "02:00:00", "02:59:59", "03:00:00"],
            [0, 1, 3600, 3601, 7200, 7201],
        ),
        (["02:59:59", "02:00:00", "02:00:01"], [0, 1, 2]),
        (["02:59:59", "03:00:00"], [0, 1]),
        (["01:59:59", "02:00:00", "03:00:00"], [0, 1, 7201]),
        (["02:30:00", "02:30:01"], [0, 1]),
    ],
)
def test_the_hour_that_comes_twice(clock, seconds):
    """On the autumn day time goes on over the hour that comes twice, and a note says how it was taken."""
    sealed = read([f"2026-10-25T{at}" for at in clock])

    assert sealed.frame["t_s"].to_list() == seconds
    assert any("went through twice" in note for note in sealed.notes)


@pytest.mark.usefixtures("berlin")
def test_a_row_out_of_its_order_is_no_clock_put_back():
    """In the hour that comes twice a row a second too early is refused, and moves no other."""
    sealed = read([f"2026-10-25T02:10:{at:02d}" for at in (0, 2, 1, 3)])

    assert sealed.frame["t_s"].to_list() == [0, 2, 3]
    assert sealed.counts["rows_refused"] == 1


@pytest.mark.usefixtures("berlin")
def test_rows_with_and_without_a_zone():
    """A row without a zone is this machine's time also among rows with one, and the answer says so."""
    sealed = read(["2026-05-14T11:20:00+02:00", "2026-05-14T09:20:01Z", "2026-05-14T11:20:02"])

    assert sealed.frame["t_s"].to_list() == [0, 1, 2]
    assert any("1 moment has no zone" in note and "+0200" in note for note in sealed.notes)


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/St_Johns", "Australia/Lord_Howe", "UTC"])
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    begin=st.integers(0, 2 * 366 * 86_400).map(
        lambda s: datetime(2025, 1, 1, tzinfo=UTC) + timedelta(seconds=s)
    ),
    steps=st.lists(st.integers(1, 1700), min_size=1, max_size=12),
)
def test_any_ride_by_the_clock_on_the_wall(monkeypatch, zone, begin, steps):
    """What a clock on the wall shows, put forward and back by its zone, gives back the seconds that passed."""
    seconds = [sum(steps[:i]) for i in range(len(steps) + 1)]
    wall = [(begin + timedelta(seconds=s)).astimezone(ZoneInfo(zone)) for s in seconds]
    with monkeypatch.context() as patch:
        lives_in(patch, zone)
        sealed = read([f"{at:%Y-%m-%dT%H:%M:%S}" for at in wall])
    time.tzset()

    if not any(at.replace(fold=0).utcoffset() != at.replace(fold=1).utcoffset() for at in wall):
        assert sealed.frame["t_s"].to_list() == seconds
        assert sealed.started_utc == begin
    assert sealed.frame["t_s"].is_sorted()


@pytest.mark.parametrize(
    "stamp",
    [
        "0000-01-01T00:00:00Z", "0001-01-01T00:00:00", "0001-01-01T00:00:00+14:00", "1969-12-31T23:59:59Z",
        "2201-01-01T00:00:00Z", "9999-12-31T23:59:59", "9999-12-31T23:59:59-12:00",
        "2026-05-14T11:20:00+99:99", "2026-05-14T11:20:00+15:00", "2026-05-14T11:20:00+02:60",
    ],
)  # fmt: skip  # one value beside the other reads best
def test_a_moment_that_none_can_be(stamp):
    """A year of no session and a zone that is nowhere are refused; beside good rows they are counted."""
    with pytest.raises(BadFile, match=r"ride\.csv.*ISO 8601 from 1970 to 2200"):
        read([stamp])
    sealed = read(["2026-05-14T11:20:00Z", stamp, "2026-05-14T11:20:01Z"])
    assert sealed.frame["t_s"].to_list() == [0, 1]
    assert any("1 row refused that could not be read, the first on line 3" in note for note in sealed.notes)


@pytest.mark.parametrize("stamp", ["1970-01-01T00:00:00Z", "2200-12-31T23:59:59-12:00"])
def test_the_first_and_the_last_year(stamp):
    """The years at the ends are taken."""
    assert read([stamp]).started_utc == datetime.fromisoformat(stamp)


@pytest.mark.parametrize("late", ["1e300", "1e12", "31622401"])
def test_a_session_longer_than_any(late):
    """A time further from the start than any session is long names its row; the longest one is taken."""
    with pytest.raises(BadFile, match=r"ride\.csv, line 3: .*366 days.*unit"):
        read_delimited(FILE, f"t_s,rpm\n0,1\n{late},2\n".encode(), None)
    assert read_delimited(FILE, b"t_s,rpm\n0,1\n31622400,2\n", None).seconds == 31_622_400


def test_stamps_and_steps_longer_than_any_session():
    """Moments years apart and steps that add up to years are refused likewise."""
    with pytest.raises(BadFile, match=r"line 3: .*366 days"):
        read(["2026-05-14T11:20:00Z", "2036-05-14T11:20:00Z"])
    with pytest.raises(BadFile, match=r"line 8787: .*366 days"):
        read(range(9000), {"time": {"step_s": 3600}})
