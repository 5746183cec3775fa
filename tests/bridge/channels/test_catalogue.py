"""The channel catalogue."""

import pytest

from bridge.channels import CATALOGUE, find, label, lambda_channel
from bridge.units import UNITS

# every name that the wire format lists, with the unit that it is kept in
WIRE_NAMES = {
    "lambda": "1",
    "pump_current": "mA",
    "sensor_temp": "Cel",
    "exhaust_pressure": "kPa",
    "egt": "Cel",
    "egt_emf": "mV",
    "cold_junction": "Cel",
    "cht": "Cel",
    "coolant_temp": "Cel",
    "rpm": "/min",
    "throttle": "%",
    "throttle_voltage": "V",
    "air_temp": "Cel",
    "air_pressure": "hPa",
    "humidity": "%",
    "battery": "V",
    "speed": "km/h",
    "gear": "1",
    "roller_rpm": "/min",
    "torque": "N.m",
}


def test_the_catalogue_is_the_wires_list():
    """Exactly the wire's names are in it, each kept in the wire's unit."""
    assert {name: channel.unit for name, channel in CATALOGUE.items()} == WIRE_NAMES


@pytest.mark.parametrize("channel", CATALOGUE.values(), ids=lambda c: c.name)
def test_each_channel_is_whole(channel):
    """A channel has a known unit, limits in order, a label and decimals to show."""
    assert channel.unit in UNITS
    assert channel.low < channel.high
    assert channel.label
    assert 0 <= channel.decimals <= 3


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("lambda", ("lambda", None)),
        ("lambda_1", ("lambda", 1)),
        ("egt_12", ("egt", 12)),
        ("egt_emf_2", ("egt_emf", 2)),
        ("rpm", ("rpm", None)),
        ("air_temp", ("air_temp", None)),
    ],
)
def test_names_are_understood(name, expected):
    """A name may end in the cylinder's number."""
    channel, cylinder = find(name)

    assert (channel.name, cylinder) == expected


@pytest.mark.parametrize(
    "name", ["lambda_0", "lambda_01", "lambda_100", "lambda_", "Lambda", "oil_temp", "_1", ""]
)
def test_other_names_are_never_guessed_at(name):
    """What is not in the list stays what it came as."""
    assert find(name) is None
    assert label(name) == name


def test_labels_name_the_cylinder():
    """On screen a cylinder's channel says which."""
    assert label("lambda_2") == "Lambda, cylinder 2"
    assert label("rpm") == "Engine speed"


def test_a_cylinders_own_lambda_goes_before_the_engines():
    """The engine's lambda stands in only where the cylinder has none."""
    assert lambda_channel(["lambda", "lambda_1"], 1) == "lambda_1"
    assert lambda_channel(["lambda", "lambda_1"], 2) == "lambda"
    assert lambda_channel(["lambda_1", "rpm"], 2) is None


def test_limits_hold_free_air_and_racing_speeds():
    """The limits keep what does happen: free air, 20,000 rpm, a hot pipe, full travel."""
    for name, value in (("lambda", 8.0), ("rpm", 20_000.0), ("egt", 1000.0), ("throttle", 101.0)):
        assert CATALOGUE[name].low <= value <= CATALOGUE[name].high
    assert CATALOGUE["lambda"].low > 0
