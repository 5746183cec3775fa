"""`sensor`: the oxygen sensor's history by command, and what it does to the numbers of a session."""

import pytest

BIKE = "Chalk Pit 400"
WEEK_BEFORE = "2026-05-07T09:20:00Z"


@pytest.fixture
def ridden(sootline, files):
    """A twin with a session whose throttle and lambda were recorded raw."""
    bike = (files / "bike.toml").read_text(encoding="utf-8")
    bike += """
[channel.throttle]
from = "throttle_voltage"
points = [[0.5, 0.0], [4.5, 100.0]]
[channel.lambda]
from = "pump_current"
table = "sensor.csv"
"""
    (files / "bike.toml").write_text(bike, encoding="utf-8")
    (files / "sensor.csv").write_text("mA,lambda\n-2,0.6\n0,1\n2,3\n", encoding="utf-8")
    rows = [f"{i / 10},2.1,6000,{-0.6 + 0.01 * (i % 3 - 1)},0.9" for i in range(400)]
    lines = ["t_s,throttle_voltage,rpm,pump_current_1,lambda_2", *rows]
    (files / "ride.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    sootline.ok("bike", "add", files / "bike.toml")
    sootline.ok("import", files / "ride.csv", "--bike", BIKE, "--started", "2026-05-14T09:20:00Z")
    return sootline


def test_keys_and_history(ridden):
    """Each event is kept by its date, and the state of each cylinder's sensor stands beside it."""
    ridden.ok("sensor", BIKE, "--replaced", "--at", "2026-04-01T10:00:00Z")
    ridden.ok(
        "sensor", BIKE, "--free-air", "0.205", "--at", WEEK_BEFORE,
        "--temp", "20", "--pressure", "1004", "--humidity", "50",
    )  # fmt: skip
    answer = ridden.ok(
        "sensor", BIKE, "--offset", "0.02", "--sd", "0.01", "--cylinder", "2", "--at", WEEK_BEFORE
    )

    assert answer == ridden.ok("sensor", BIKE) | {"state": answer["state"]}
    assert answer["bike"] == BIKE
    assert [event["what"] for event in answer["events"]] == ["replaced", "free air", "offset"]
    assert answer["events"][1]["at"] == "2026-05-07T09:20:00.000Z"
    assert answer["events"][1]["humidity_percent"] == 50
    assert [state["cylinder"] for state in answer["state"]] == [1, 2]
    assert [state["offset"] for state in answer["state"]] == [0.0, 0.02]
    assert answer["state"][0]["gain"] == pytest.approx(0.99, abs=0.002)
    assert answer["state"][0]["checked_days"] > 0


def test_now_is_the_time_unless_told(ridden):
    """An event without a time happened now, and a sensor checked now has not drifted."""
    state = ridden.ok("sensor", BIKE, "--free-air", "0.207")["state"][0]

    assert state["checked_days"] == pytest.approx(0.0, abs=0.01)
    assert state["drift_sd"] == pytest.approx(0.0, abs=1e-5)


def test_a_person_reads_it(ridden):
    """Without --json the history is a table, and what was assumed is said in sentences."""
    empty = ridden("sensor", BIKE)
    ridden("sensor", BIKE, "--offset", "0.02", "--sd", "0.01", "--at", "2026-05-07T09:20")
    full = ridden("sensor", BIKE)

    assert "nothing is on record" in empty.out
    assert "a year of drift" in " ".join(empty.out.split())
    assert "offset" in full.out
    assert "0.020" in full.out
    assert all(len(line) <= 80 for line in full.out.splitlines())


def test_bands_use_the_corrected_lambda(ridden):
    """A stated offset moves the measured mixture of its cylinder by just that, and no other."""
    before = {c["cylinder"]: c["lambda_mean"] for c in ridden.ok("bands", 1)["cells"]}
    ridden.ok("sensor", BIKE, "--offset", "0.02", "--sd", "0.01", "--cylinder", "1", "--at", WEEK_BEFORE)
    after = {c["cylinder"]: c["lambda_mean"] for c in ridden.ok("bands", 1)["cells"]}

    assert before[1] == pytest.approx(0.88, abs=0.002)
    assert after[1] == pytest.approx(before[1] - 0.02, abs=1e-5)
    assert after[2] == pytest.approx(before[2], abs=1e-9)


def test_export_is_as_recorded(ridden, files):
    """An export has what the logger recorded, whatever is known of the sensor, so that it can be imported again."""
    ridden.ok("sensor", BIKE, "--offset", "0.02", "--sd", "0.01", "--at", WEEK_BEFORE)
    ridden.ok("export", 1, "--to", files / "out.csv")
    head, first = (files / "out.csv").read_text(encoding="utf-8").splitlines()[:2]

    assert head == "t_s,throttle_voltage,rpm,pump_current_1,lambda_2"
    assert first.endswith(",0.9")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--free-air", "20.5"], "0.205"),
        (["--free-air", "0.9"], "0.209"),
        (["--free-air", "nan"], "not a number"),
        (["--offset", "14.7"], "air-fuel ratio"),
        (["--trapped-offset", "0.08"], "--sd"),
        (["--sd", "0.1"], "alone says nothing"),
        (["--at", WEEK_BEFORE], "alone says nothing"),
        (["--replaced", "--offset", "0.02"], "one after the other"),
        (["--replaced", "--cylinder", "3"], "2 cylinders"),
        (["--replaced", "--at", "yesterday"], "ISO 8601"),
        (["--replaced", "--at", "2190-01-01T00:00:00Z"], "still to come"),
        (["--free-air", "0.205", "--pressure", "29.92"], "inHg"),
        (["--free-air", "0.205", "--humidity", "140"], "humidity"),
        (["--offset", "0.02", "--humidity", "40"], "free-air check"),
    ],
)
def test_refused(ridden, words, told):
    """A slip is refused in one sentence with its mend, and nothing is written down."""
    assert told in ridden.refused("sensor", BIKE, *words)
    assert ridden.ok("sensor", BIKE)["events"] == []


def test_an_unknown_bike(ridden):
    """A misspelt bike is named with the nearest one."""
    assert "did you mean 'Chalk Pit 400'" in ridden.refused("sensor", "Chalk Pit", "--replaced")
