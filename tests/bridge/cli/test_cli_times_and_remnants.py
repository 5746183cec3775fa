"""Times as they are typed, names no screen can show, and a remnant that cannot be sealed: at the command line."""

from datetime import UTC, datetime

import pytest

from bridge.link.capture import CaptureWriter
from bridge.logbook import Logbook

CSV = "t_s,rpm,lambda_1\n0,5000,0.9\n0.1,5100,0.88\n"


@pytest.fixture
def ride(tmp_path):
    """A short log."""
    path = tmp_path / "ride.csv"
    path.write_text(CSV, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "started",
    [
        "", "now", "0001-01-01T00:00", "0001-01-01T00:00+14:00", "1969-12-31T23:59Z", "2201-01-01",
        "9999-12-31T23:59", "9999-12-31T23:59:59-12:00", "2026-05-14T00:00+99:99",
    ],
)  # fmt: skip  # one value beside the other reads best
def test_a_start_that_none_can_be(sootline, ride, started):
    """A start that is empty, no time, or in a year of no session is refused, and nothing is made."""
    assert f"'{started}'" in sootline.refused("import", ride, "--started", started)
    assert not sootline.folder.exists()


@pytest.mark.parametrize("started", ["1970-01-02T00:00", "2200-12-31T23:59:59-12:00"])
def test_a_start_in_the_first_and_the_last_year(sootline, ride, started):
    """The years at the ends are taken, and the list shows them."""
    sootline.ok("import", ride, "--started", started)

    assert sootline.ok("sessions")["sessions"][0]["id"] == 1
    assert sootline("sessions").code == 0


def test_what_a_terminal_would_obey_stands_in_no_sentence(sootline):
    """A sentence that names a file shows what cannot be seen in its name by its code."""
    said = sootline.refused("import", "odd\x1b[2J.csv")

    assert said.rstrip("\n").isprintable()
    assert r"odd\x1b[2J.csv" in said


@pytest.fixture
def stuck(sootline):
    """A logbook with a remnant whose samples cannot be put in their place; gives what is in the way."""
    with Logbook.open(sootline.folder, write=True) as logbook:
        session = logbook.new_session(
            bike=None, place=None, source="x", started=datetime(2026, 5, 14, tzinfo=UTC)
        )
        CaptureWriter(logbook.raw_path(session)).close()
        way = logbook.samples_path(session)
    way.mkdir(parents=True)
    return way


def test_a_remnant_that_cannot_be_sealed_keeps_no_command_from_its_work(sootline, stuck, ride):
    """It is told on standard error, the command does its work, and the remnant stays to be recovered."""
    answer = sootline("import", ride, "--json")

    assert answer.code == 0
    assert answer.json["session"] == 2
    assert "session 1" in answer.err
    assert str(stuck) in answer.err
    assert "Traceback" not in answer.err
    assert [s["state"] for s in sootline.ok("sessions")["sessions"]] == ["recording", "sealed"]


def test_recover_says_what_it_could_not_seal(sootline, stuck):
    """`recover` leaves with 1 while something is left unsealed, and seals it once nothing is in the way."""
    answer = sootline("recover", "--json")

    assert answer.code == 1
    assert answer.json["recovered"] == []
    assert "session 1" in answer.json["left"][0]
    assert answer.err.startswith(
        "sootline: session 1, which an interrupted recording left, could not be sealed"
    )
    assert answer.err.count("\n") == 1
    stuck.rmdir()
    assert [s["session"] for s in sootline.ok("recover")["recovered"]] == [1]
