"""``gas``: an exhaust-gas analysis by hand, its list, and where it then stands."""

import pytest

FIGURES = ("--co2", 11.6, "--co", 5.6, "--o2", 0.2, "--hc", 90, "--no", 300)


@pytest.fixture
def ridden(sootline, files):
    """A logbook with a twin's session: 40 s of full throttle at 0.88 and 0.87, and its set-up."""
    sootline.ok("bike", "add", files / "bike.toml")
    rows = [
        f"{i / 10},{100 if i > 100 else 30},{8000 if i > 100 else 5000},0.88{i % 3},0.87{i % 3}"
        for i in range(500)
    ]
    (files / "ride.csv").write_text(
        "t_s,throttle,rpm,lambda_1,lambda_2\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    sootline.ok("import", files / "ride.csv", "--bike", "Chalk Pit 400", "--started", "2026-05-14T09:20:00Z")
    sootline.ok("setup", "set", 1, files / "setup.toml")
    return sootline


def test_an_analysis_gives_its_lambda_twice(ridden):
    """The answer has lambda by Brettschneider and by Spindt with an interval, and names the fuel."""
    found = ridden.ok("gas", 1, "--cylinder", 1, *FIGURES)

    # closed form, computed by hand: CH1.87 with 11.60 % CO2 and 5.63 % CO burned at 0.85; E5 and a little O2 shift it
    assert found["lambda_brettschneider"] == pytest.approx(0.85, abs=0.01)
    assert found["lambda_spindt"] == pytest.approx(0.85, abs=0.015)
    assert found["low"] < found["lambda_brettschneider"] < found["high"]
    assert (found["session"], found["cylinder"], found["fuel"]) == (1, 1, "e5")


def test_more_oxygen_reads_leaner_and_more_carbon_monoxide_richer(ridden):
    """The direction of both gases is that of the mixture (common practice)."""
    base = ridden.ok("gas", 1, "--co2", 12.0, "--co", 4.0, "--o2", 0.5, "--hc", 100)
    lean = ridden.ok("gas", 1, "--co2", 12.0, "--co", 4.0, "--o2", 1.5, "--hc", 100)
    rich = ridden.ok("gas", 1, "--co2", 12.0, "--co", 6.0, "--o2", 0.5, "--hc", 100)
    unburnt = ridden.ok("gas", 1, "--co2", 12.0, "--co", 4.0, "--o2", 0.5, "--hc", 2000)

    assert lean["lambda_brettschneider"] > base["lambda_brettschneider"] > rich["lambda_brettschneider"]
    assert unburnt["lambda_brettschneider"] < base["lambda_brettschneider"]


def test_the_list_keeps_every_analysis(ridden):
    """A second analysis of a cylinder is added and the first stays; without figures the session's are listed."""
    assert ridden.ok("gas", 1) == {"session": 1, "fuel": "e5", "gas": []}
    ridden.ok("gas", 1, "--cylinder", 1, *FIGURES)
    ridden.ok("gas", 1, "--co2", 12.1, "--co", 4.2, "--o2", 0.6, "--hc", 900)
    found = ridden.ok("gas", 1)["gas"]

    assert [one["cylinder"] for one in found] == [1, None]
    assert [one["no_ppm"] for one in found] == [300.0, None]
    assert all(one["lambda_brettschneider"] and one["written"].endswith("Z") for one in found)


def test_compare_says_it_beside_ring_and_sensor(ridden):
    """The newest analysis of a cylinder stands in ``compare``, for programs and for people."""
    ridden.ok("gas", 1, "--cylinder", 1, "--co2", 13.0, "--co", 3.0, "--o2", 0.2, "--hc", 90)
    entered = ridden.ok("gas", 1, "--cylinder", 1, *FIGURES)
    document = ridden.ok("compare", 1)
    one = document["cylinders"][0]["gas"]

    assert one["lambda_brettschneider"] == pytest.approx(entered["lambda_brettschneider"])
    assert document["cylinders"][1]["gas"] is None
    assert "Exhaust gas 0.8" in ridden("compare", 1).out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--co2", 121000, "--co", 4.2, "--o2", 0.6, "--hc", 900), "ppm"),
        (("--co2", 12.1, "--co", 4.2, "--o2", 0.6, "--hc", 0.09), "percent"),
        (("--co2", 60, "--co", 42, "--o2", 0.6, "--hc", 900), "over 100"),
        (("--co2", -1, "--co", 4.2, "--o2", 0.6, "--hc", 900), "below zero"),
        (("--co2", 12.1, "--co", 4.2, "--o2", 0.6), "--hc"),
        (("--cylinder", 3, *FIGURES), "Chalk Pit 400"),
        (("--cylinder", 0, *FIGURES), "cylinder"),
        (("--cylinder", 1), "--co2"),
        (("--co2", "much", "--co", 4.2, "--o2", 0.6, "--hc", 900), "much"),
    ],
)
def test_a_wrong_analysis_changes_nothing(ridden, words, says):
    """Each slip is one sentence with its mend, and nothing is written down."""
    assert says in ridden.refused("gas", 1, *words)
    assert ridden.ok("gas", 1)["gas"] == []


def test_an_unknown_session_is_told(ridden):
    """A session that is not there is named, on entering and on listing."""
    assert "77" in ridden.refused("gas", 77)
    assert "77" in ridden.refused("gas", 77, *FIGURES)


def test_the_danger_stands_where_the_work_is(ridden):
    """Carbon monoxide is cautioned with the answer, the list and the help, on lines of at most 80 characters."""
    entered = ridden("gas", 1, "--cylinder", 1, *FIGURES)
    listed, helped = ridden("gas", 1), ridden("gas", "--help")

    for said in (entered, listed, helped):
        assert said.code == 0
        assert "carbon monoxide" in " ".join(said.out.split())
        assert "outdoors" in said.out
    assert all(len(line) <= 80 for said in (entered, listed) for line in said.out.splitlines())
    assert "carbon monoxide" in ridden.ok("gas", 1, "--cylinder", 1, *FIGURES)["caution"]


def test_the_budget_is_printed_on_asking(ridden):
    """``compare --budget`` has each doubt with its figure, in 80 columns."""
    out = ridden("compare", 1, "--budget").out
    flat = " ".join(out.split())

    assert "the sensor's own accuracy 0.0100 (common practice)" in flat
    assert "sampling 0.0" in flat
    assert all(len(line) <= 80 for line in out.splitlines())
