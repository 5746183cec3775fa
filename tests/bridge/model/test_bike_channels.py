"""Channels in bike.toml: points, a sensor's own table, a thermocouple; and what cannot stand there."""

import math

import pytest

from bridge.errors import BadFile
from bridge.model.files import read_bike

HEAD = 'name = "Chalk Pit 400"\nstrokes = 4\ncylinders = 2\ndisplacement_cc = 398\n'
WHOLE = (
    HEAD
    + """
[channel.throttle]
from = "throttle_voltage"
points = [[0.52, 0.0], [4.31, 100.0]]
[channel.lambda]
from = "pump_current"
table = "sensor.csv"
[channel.egt]
from = "egt_emf"
type = "K"
cold_junction = "cold_junction"
[channel.egt_2]
from = "egt_emf_2"
type = "K"
cold_junction_c = 30
instead = true
[sensor_cell]
pressure_share = 0.5
accuracy = 0.01
drift_per_year = 0.004
"""
)


@pytest.fixture
def written(tmp_path):
    """Write bike.toml, and a table beside it, and read the bike."""

    def read(text, table=None):
        (tmp_path / "bike.toml").write_text(text, encoding="utf-8")
        if table is not None:
            (tmp_path / "sensor.csv").write_bytes(table if isinstance(table, bytes) else table.encode())
        return read_bike(tmp_path / "bike.toml")

    return read


def test_every_way(written):
    """Points, a table, a thermocouple with a recorded and with a fixed cold junction are read."""
    bike = written(WHOLE, "mA,lambda\n-1,0.8\n0,1\n")
    told = {name: how.calibration(name) for name, how in bike.channel.items()}

    assert told["throttle"].points == ((0.52, 0.0), (4.31, 100.0))
    assert told["throttle"].beyond == math.inf
    assert told["lambda"].points == ((-1.0, 0.8), (0.0, 1.0))
    assert (told["lambda"].beyond, told["lambda"].table) == (0.02, "sensor.csv")
    assert (told["egt"].thermocouple, told["egt"].cold_junction) == ("K", "cold_junction")
    assert (told["egt_2"].cold_junction, told["egt_2"].instead) == (30.0, True)
    assert (bike.sensor_cell.accuracy, bike.sensor_cell.drift_per_year) == (0.01, 0.004)


def test_a_thermocouple_looks_for_the_usual_cold_junction(written):
    """Where nobody says which, the channel named cold_junction is meant."""
    bike = written(HEAD + '[channel.egt]\nfrom = "egt_emf"\ntype = "K"\n')

    assert bike.channel["egt"].calibration("egt").cold_junction == "cold_junction"


@pytest.mark.parametrize(
    "table",
    [
        "-1,0.8\n0,1\n0.5,1.5\n",
        "\ufeffcurrent,lambda\n# from the data sheet\n\n-1 , 0.8\n0,1\n0.5,1.5\n",
        "mA;lambda\r\n-1,0;0,8\r\n0;1\r\n0,5;1,5\r\n",
        "0.5\t1.5\n0\t1\n-1\t0.8\n",
        "current lambda\n-1 0.8\n0 1\n0.5 1.5\n",
    ],
)
def test_tables_as_people_write_them(written, table):
    """Commas, semicolons, tabs or blanks, a heading or none, rising or falling: one table."""
    bike = written(HEAD + '[channel.lambda]\nfrom = "pump_current"\ntable = "sensor.csv"\n', table)

    assert bike.channel["lambda"].points == [(-1.0, 0.8), (0.0, 1.0), (0.5, 1.5)]


def channel(name="throttle", **keys):
    """One [channel.NAME] as TOML; None leaves a key out."""
    usual = {"from": '"throttle_voltage"', "points": "[[0.5, 0], [4.5, 100]]"} | keys
    return f"[channel.{name}]\n" + "".join(f"{k} = {v}\n" for k, v in usual.items() if v is not None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            channel(points="[[0.5, 0], [2, 50], [3, 40]]"),
            ["[2, 50]", "[3, 40]", "channel.throttle", "line 5"],
        ),
        (channel(points="[[0.5, 0], [0.5, 50]]"), ["[0.5, 50]"]),
        (channel(points="[[0.5, 0]]"), ["two points"]),
        (channel(points="[[0.5, 0, 1], [1, 2]]"), ["channel.throttle.points.0", "pair of numbers"]),
        (channel(points="[[0.5], [1, 2]]"), ["channel.throttle.points.0", "pair of numbers"]),
        (channel(points='[["a", 0], [1, 2]]'), ["must be a number"]),
        (channel("throtle"), ["throtle", "did you mean 'throttle'"]),
        (channel("lambda_3"), ["no cylinder 3", "1 to 2"]),
        (channel(**{"from": '"throttle"'}), ["instead = true"]),
        (channel(**{"from": None}), ["channel.throttle.from", "missing"]),
        (channel(points=None), ["points", "table", 'type = "K"']),
        (channel(type='"K"'), ["one way of three"]),
        (channel(cold_junction_c=25), ['type = "K"']),
        (channel("egt", points=None, type='"K"'), ["mV", "throttle_voltage"]),
        (channel("egt", **{"from": '"egt_emf"', "points": None, "type": '"J"'}), ["channel.egt.type", "'K'"]),
        (channel(points=None, type='"K"', **{"from": '"egt_emf"'}), ["temperature"]),
        (
            channel(
                "egt",
                points=None,
                type='"K"',
                cold_junction='"a"',
                cold_junction_c=1,
                **{"from": '"egt_emf"'},
            ),
            ["two ways to say one thing"],
        ),
        (channel("lambda", points="[[-1, 11.8], [0, 14.7], [1, 22]]"), ["stoichiometric"]),
        (channel("air_pressure", points="[[0, 14], [5, 31]]"), ["400 to 1200", "unit"]),
        (channel(form='"x"'), ["unknown key", "did you mean 'from'"]),
        (channel("lambda", table='"sensor.csv"'), ["leave one of them out"]),
        (channel("lambda", points=None, table='"none.csv"'), ["none.csv", "cannot be read"]),
        ("[sensor_cell]\naccuracy = 5\n", ["sensor_cell.accuracy", "0.2"]),
        ("[sensor_cell]\npressure_share = -1\n", ["sensor_cell.pressure_share", "at least 0"]),
        ("[steady]\nsettle_s = -1\n", ["steady.settle_s", "at least 0"]),
    ],
)
def test_what_cannot_stand(written, text, words):
    """Each slip is one sentence that names the file, the place and the mend."""
    with pytest.raises(BadFile) as error:
        written(HEAD + text, "-1,0.8\n0,1\n")

    told = str(error.value)
    assert "\n" not in told
    assert ("bike.toml" in told) or ("none.csv" in told)
    assert all(word in told for word in words), told


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("-1,0.8\n0,1\n1,0.9\n", ["[0, 1]", "[1, 0.9]"]),
        ("-1,0.8\nfoo,bar\n", ["line 2", "foo bar"]),
        ("-1,0.8\n0,1,2\n", ["line 2"]),
        ("mA,lambda\n", ["two points"]),
        ("", ["two points"]),
        ("-1,0.8\n0,nan\n", ["nan"]),
        ("-1,11.8\n0,14.7\n", ["stoichiometric"]),
        (b"\xff\xfe\x00", ["UTF-8"]),
        ("0,0\n" * 300_000, ["too many"]),
    ],
)
def test_tables_that_are_none(written, table, words):
    """A table that is no table is refused with its file and line, and nothing is guessed."""
    with pytest.raises(BadFile) as error:
        written(HEAD + '[channel.lambda]\nfrom = "pump_current"\ntable = "sensor.csv"\n', table)

    assert all(word in str(error.value) for word in words), str(error.value)
