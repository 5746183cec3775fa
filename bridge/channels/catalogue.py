"""The channel catalogue: one table for scaling, limits, labels, axis ranges and colour roles."""

import re
from dataclasses import dataclass
from unicodedata import category


@dataclass(frozen=True)
class Channel:
    """One kind of channel.

    ``low`` and ``high`` are the limits of what the quantity can be, in its unit; what lies outside is no
    reading. They are wide on purpose (common practice, no source): they catch a broken sensor, not an odd day.
    """

    name: str
    unit: str
    """UCUM code that it is kept in."""
    label: str
    low: float
    high: float
    decimals: int
    role: str
    """Colour role in the dashboard's theme."""
    per_cylinder: bool = False


CATALOGUE = {
    channel.name: channel
    for channel in (
        Channel("lambda", "1", "Lambda", 0.4, 10.0, 3, "mixture", per_cylinder=True),
        Channel("pump_current", "mA", "Pump current", -10.0, 10.0, 3, "sensor", per_cylinder=True),
        Channel("sensor_temp", "Cel", "Sensor temperature", -60.0, 1200.0, 0, "sensor", per_cylinder=True),
        Channel("exhaust_pressure", "kPa", "Exhaust pressure", 10.0, 500.0, 1, "pressure", per_cylinder=True),
        Channel("egt", "Cel", "Exhaust gas", -60.0, 1300.0, 0, "heat", per_cylinder=True),
        # as far below zero as above: one that is wired backwards is to be seen, not lost
        Channel("egt_emf", "mV", "Exhaust thermocouple", -55.0, 55.0, 3, "heat", per_cylinder=True),
        Channel("cold_junction", "Cel", "Cold junction", -60.0, 150.0, 1, "heat"),
        Channel("cht", "Cel", "Cylinder head", -60.0, 500.0, 0, "heat", per_cylinder=True),
        Channel("coolant_temp", "Cel", "Coolant", -60.0, 200.0, 0, "heat"),
        Channel("rpm", "/min", "Engine speed", 0.0, 25_000.0, 0, "speed"),
        Channel("throttle", "%", "Throttle", -2.0, 105.0, 1, "throttle"),
        Channel("throttle_voltage", "V", "Throttle sensor", -0.5, 15.0, 3, "throttle"),
        Channel("air_temp", "Cel", "Intake air", -60.0, 100.0, 1, "air"),
        Channel("air_pressure", "hPa", "Air pressure", 400.0, 1200.0, 1, "air"),
        Channel("humidity", "%", "Humidity", 0.0, 100.0, 0, "air"),
        Channel("battery", "V", "Battery", 0.0, 60.0, 2, "power"),
        Channel("speed", "km/h", "Road speed", 0.0, 500.0, 1, "speed"),
        Channel("gear", "1", "Gear", 0.0, 10.0, 0, "speed"),
        Channel("roller_rpm", "/min", "Roller speed", 0.0, 20_000.0, 0, "power"),
        Channel("torque", "N.m", "Torque", -2_000.0, 5_000.0, 1, "power"),
    )
}

_NUMBERED = re.compile(r"(?P<base>.+)_(?P<cylinder>[1-9][0-9]?)")


def find(name: str) -> tuple[Channel, int | None] | None:
    """Return what a channel name stands for.

    Args:
        name: as the wire or a file has it, such as ``lambda_1`` or ``rpm``.

    Returns:
        The channel and its cylinder (None for the engine as a whole), or None for a name that is not in the
        catalogue: that one is kept as it came and never guessed at.
    """
    if name in CATALOGUE:
        return CATALOGUE[name], None
    match = _NUMBERED.fullmatch(name)
    if match and match["base"] in CATALOGUE:
        return CATALOGUE[match["base"]], int(match["cylinder"])
    return None


def is_plain(name: str) -> bool:
    """Return whether a name holds no control character, so that a channel may have it."""
    return not any(category(character) == "Cc" for character in name)


def label(name: str) -> str:
    """Return how a channel is called on screen, such as ``Lambda, cylinder 1``."""
    found = find(name)
    if found is None:
        return name
    channel, cylinder = found
    return channel.label if cylinder is None else f"{channel.label}, cylinder {cylinder}"


def lambda_channel(columns: list[str], cylinder: int) -> str | None:
    """Return the column that carries a cylinder's lambda: its own, else the engine's, else None."""
    own = f"lambda_{cylinder}"
    return own if own in columns else "lambda" if "lambda" in columns else None
