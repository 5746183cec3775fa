"""`pulls` as a tuner and a program use it."""

import json
from typing import Annotated

import pytest
from pydantic import Field

from bridge.cli.pulls import _with_window
from bridge.errors import BadValue
from bridge.model import PullSettings
from tests.bridge.pulls.dyno_days import frame_of
from tests.bridge.pulls.invented_rides import Ride

BIKE = """
name = "Hollow Lane 400"
strokes = 4
cylinders = 2
displacement_cc = 398
sensor_distance_mm = 900
pipe_bore_mm = 38
[roller]
inertia_kg_m2 = 12.0
[road]
mass_kg = 250
"""

SETUP = """
kind = "dyno"
fuel = "e5"
[weather]
air_temp_c = 22.0
air_pressure_hpa = 1005.0
humidity_percent = 45.0
"""


@pytest.fixture
def bench(sootline, tmp_path):
    """A command line with a bike, and a way to import a day on the roller."""
    (tmp_path / "bike.toml").write_text(BIKE, encoding="utf-8")
    (tmp_path / "setup.toml").write_text(SETUP, encoding="utf-8")
    sootline.ok("bike", "add", tmp_path / "bike.toml")

    def add(frame, number):
        path = tmp_path / f"day{number}.csv"
        frame.write_csv(path, float_precision=4)
        made = sootline.ok(
            "import", path, "--bike", "Hollow Lane 400", "--started", f"2026-05-14T{8 + number:02d}:00:00Z"
        )
        sootline.ok("setup", "set", made["session"], tmp_path / "setup.toml")
        return made["session"]

    sootline.add = add
    return sootline


def test_pulls_of_a_session(bench):
    """The answer has the contract's keys for each pull and each point of its curve."""
    session = bench.add(frame_of([1.0, 1.0]), 1)
    found = bench.ok("pulls", session, "--target", 0.87)

    assert len(found["pulls"]) == 2
    pull = found["pulls"][0]
    keys = {
        "start_s",
        "end_s",
        "gear",
        "rpm_from",
        "rpm_to",
        "peak_power_kw",
        "peak_power_rpm",
        "corrected_by",
        "curve",
    }
    assert keys <= pull.keys()
    assert {"rpm", "lambda", "lambda_1", "lambda_2", "power_kw", "torque_nm"} <= pull["curve"][0].keys()
    assert pull["peak_power_kw"] == pytest.approx(35.0, abs=1.5)
    assert pull["corrected_by"].startswith("ISO 1585")
    assert len(found["cautions"]) == 3
    assert found["counts"]["pull"] == 2


def test_pulls_for_a_person(bench):
    """The table has a line a pull, names the correction, says what it does not do, and cautions."""
    session = bench.add(frame_of([1.0]), 1)
    said = " ".join(bench("pulls", session).out.split())

    assert "corrected by ISO 1585" in said
    assert "A mixture that moved with the weather is not put right by it" in said
    assert "seize or hole a piston" in said
    assert "never at such speeds on public roads" in said
    assert "kW of noise left by the filter" in said


def test_another_standard_or_none(bench):
    """`--correct` chooses the standard, `none` leaves power as measured, a word that is none is refused."""
    session = bench.add(frame_of([1.0]), 1)

    assert bench.ok("pulls", session, "--correct", "din_70020")["pulls"][0]["corrected_by"].startswith(
        "DIN 70020"
    )
    assert bench.ok("pulls", session, "--correct", "none")["pulls"][0]["corrected_by"] is None
    assert "din_70020" in bench.refused("pulls", session, "--correct", "din")


def test_comparing_sessions(bench):
    """A gain of 6 % is shown with its interval; without sessions on both sides the mend is said."""
    one, two = bench.add(frame_of([1.0, 1.0, 1.0], seed=1), 1), bench.add(frame_of([1.06] * 3, seed=2), 2)
    found = bench.ok("pulls", "compare", "--before", one, "--after", two)

    assert found["shown"]
    assert found["low"] < 6.0 < found["high"]
    assert found["gain_percent"] == pytest.approx(6.0, abs=0.5)
    assert "A gain is shown" in bench("pulls", "compare", "--before", one, "--after", two).out
    assert "--after" in bench.refused("pulls", "compare", "--before", one)
    assert "named twice" in bench.refused("pulls", "compare", "--before", one, "--after", one)
    assert "'x'" in bench.refused("pulls", "compare", "--before", "x", "--after", two)


def test_the_best_mixture(bench):
    """Four jets and their powers give a best lambda, its interval, and whether it is at an edge."""
    for number, lam in enumerate((0.82, 0.85, 0.88, 0.91), 1):
        scale = 1.0 - 12.0 * (lam - 0.865) ** 2
        bench.add(
            frame_of([scale, scale * 1.002, scale * 0.998], seed=number, mixture=(lam + 0.0089,) * 2), number
        )
    found = bench.ok("pulls", "best", "Hollow Lane 400", "--rpm", 7000)

    assert found["low"] < found["best_lambda"] < found["high"]
    assert found["best_lambda"] == pytest.approx(0.865, abs=0.01)
    assert found["at_edge"] is False
    assert len(found["points"]) == 12
    assert "--rpm" in bench.refused("pulls", "best", "Hollow Lane 400")
    assert "12000 rpm" in bench.refused("pulls", "best", "Hollow Lane 400", "--rpm", 12000)
    assert "no bike" in bench.refused("pulls", "best", "Hollow Lane", "--rpm", 7000)


def test_a_stop_on_a_plug_stands_before_every_answer(bench):
    """Aluminium on a plug of the bike is the first line of a session's pulls, of a comparison and of a best mixture."""
    for number in (1, 2):
        bench.add(frame_of([1.0, 1.0, 1.0, 1.0], seed=number), number)
    bench.ok("plug", "fit", "A1", "--cylinder", "1", "--session", "2", "--state", "new")
    for words in (
        ("1",),
        ("compare", "--before", "1", "--after", "2"),
        ("best", "Hollow Lane 400", "--rpm", "7000"),
    ):
        assert bench.ok("pulls", *words)["stops"] == []
    bench.ok("plug", "read", "A1", "--session", "2", "--ring", "not-seen", "--specks", "aluminium")
    for words in (
        ("1",),
        ("compare", "--before", "1", "--after", "2"),
        ("best", "Hollow Lane 400", "--rpm", "7000"),
    ):
        assert "aluminium on plug A1" in bench.ok("pulls", *words)["stops"][0]
        assert "Stop: Session 2, cylinder 1: aluminium on plug A1" in " ".join(
            bench("pulls", *words).out.split()
        )


def test_a_coast_down_on_the_road(bench):
    """A ride that coasts with the clutch in tells drag area and rolling resistance, each with its doubt."""
    ride = Ride(3, 20.0, speed=60.0)
    ride.gear = 4
    ride.coast(4.0, to=60.0).full(9_500.0).coast(10.0)
    speed = ride.speed / 3.6
    for _ in range(2_500):  # 25 s, the clutch in, the engine at idle
        speed -= (0.14254 + 0.0010151 * speed**2) * 0.01
        ride.speed = speed * 3.6
        ride.add(0.0, 1_500.0)
    session = bench.add(ride.frame(), 1)
    found = bench.ok("pulls", "coast", session)

    # air of the set-up: 1.179 kg/m3; closed form B = rho CdA / (2 m), A = Crr g
    assert found["drag_area_m2"] == pytest.approx(2.0 * 0.0010151 * 250.0 / 1.179, rel=0.1)
    assert found["rolling_resistance"] == pytest.approx(0.14254 / 9.80665, rel=0.3)
    assert found["coast_downs"] == 1
    assert any("closed course" in caution for caution in found["cautions"])
    other = bench.add(frame_of([1.0]), 2)
    assert "no road speed" in bench.refused("pulls", "coast", other)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("pulls", "all"), "neither a session's number"),
        (("pulls", "1", "--rpm", "7000"), "--rpm does not belong"),
        (("pulls", "1", "2"), "'2' does not belong"),
        (("pulls", "7"), "no session 7"),
        (("pulls", "best", "x", "--before", "1", "--rpm", "7000"), "--before does not belong"),
        (("pulls", "coast"), "needs a session"),
        (("pulls", "1", "--window", "9"), "0.05 to 5"),
        (("pulls", "1", "--target", "14.7"), "0.5 to 1.5"),
        (("pulls", "1", "--window", "0.04"), "0.05 to 5"),
        (("pulls", "best", "x", "--target", "0", "--rpm", "7000"), "--target does not belong"),
        (("pulls", "compare", "--before", "1", "--after", "2", "--from", "0"), "--from does not belong"),
        (("pulls", "coast", "1", "--to", "0"), "--to does not belong"),
    ],
)
def test_what_was_not_meant_is_refused(bench, words, said):
    """Words of another question, sessions that are not there, values out of range: one sentence each."""
    bench.add(frame_of([1.0]), 1)

    assert said in bench.refused(*words)


def test_a_window_is_held_to_what_the_bike_s_file_is_held_to():
    """The limits are the settings' own, and so is every other check of theirs; what else was set stays."""

    class Narrow(PullSettings):
        window_s: Annotated[float, Field(ge=0.5, le=2)] = 1.0

    assert _with_window(Narrow(rpm_step=50.0), 1.5) == Narrow(window_s=1.5, rpm_step=50.0)
    with pytest.raises(BadValue, match=r"a window of 3 s is none for a pull; give 0\.5 to 2"):
        _with_window(Narrow(), 3.0)


def test_no_pull_is_an_answer_too(bench):
    """A session without a pull says so, in JSON and in words, and is no error."""
    ride = Ride(4, speed=40.0)
    ride.gear = 3
    ride.coast(20.0)
    session = bench.add(ride.frame(), 1)

    assert bench.ok("pulls", session)["pulls"] == []
    assert f"0 pulls in session {session}" in bench("pulls", session).out


def test_json_is_one_document_without_nan(bench):
    """Everything that is not known is null: the answer is JSON that any reader takes."""
    session = bench.add(frame_of([1.0]), 1)
    text = bench("pulls", session, "--json").out

    assert json.loads(text, parse_constant=pytest.fail)["session"] == session
