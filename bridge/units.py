"""Units by their UCUM codes, converted at the edge and nowhere else.

Codes are those of The Unified Code for Units of Measure (https://ucum.org), as far as a logger's channels
need them. Inside the program each quantity has one unit, which stands in its name.
"""

from dataclasses import dataclass
from typing import TypeVar, cast

from bridge.errors import BadValue

Number = TypeVar("Number")  # float, numpy array, polars expression or series: all take * and +


@dataclass(frozen=True)
class Unit:
    """One unit: value in the dimension's base unit = reading * factor + offset."""

    code: str
    dimension: str
    factor: float
    offset: float = 0.0


# Published: UCUM's table of units; [in_i'Hg] is its inch of mercury column, 3386.38864 Pa
# (25.4 mm of 133.322387 kPa/m); [degF] by its definition from kelvin.
_UNITS = (
    Unit("1", "ratio", 1.0),
    Unit("%", "percent", 1.0),
    Unit("Cel", "temperature", 1.0),
    Unit("K", "temperature", 1.0, -273.15),
    Unit("[degF]", "temperature", 5.0 / 9.0, -32.0 * 5.0 / 9.0),
    Unit("kPa", "pressure", 10.0),
    Unit("hPa", "pressure", 1.0),
    Unit("[in_i'Hg]", "pressure", 33.8638864),
    Unit("/min", "rotation", 1.0),
    Unit("km/h", "speed", 1.0),
    Unit("m/s", "speed", 3.6),
    Unit("V", "voltage", 1.0),
    Unit("mV", "voltage", 1e-3),
    Unit("mA", "current", 1.0),
    Unit("N.m", "torque", 1.0),
    Unit("deg", "angle", 1.0),
    Unit("s", "time", 1.0),
    Unit("ms", "time", 1e-3),
    Unit("us", "time", 1e-6),
    Unit("min", "time", 60.0),
)
UNITS = {unit.code: unit for unit in _UNITS}


def unit(code: str) -> Unit:
    """Return the unit of a UCUM code.

    Raises:
        BadValue: the code is not one of those known; the message lists them.
    """
    try:
        return UNITS[code]
    except KeyError:
        raise BadValue(f"unknown unit '{code}'; use one of {', '.join(UNITS)}") from None


def scale(from_code: str, to_code: str) -> tuple[float, float]:
    """Return (factor, offset) so that value_to = value_from * factor + offset.

    Args:
        from_code: UCUM code of what is given.
        to_code: UCUM code of what is wanted.

    Raises:
        BadValue: a code is unknown, or the two measure different things.
    """
    source, target = unit(from_code), unit(to_code)
    if source.dimension != target.dimension:
        raise BadValue(
            f"the unit '{from_code}' measures {source.dimension}, where '{to_code}' ({target.dimension}) is"
            f" needed; use one of {', '.join(u.code for u in _UNITS if u.dimension == target.dimension)}",
        )
    return source.factor / target.factor, (source.offset - target.offset) / target.factor


def convert(value: Number, from_code: str, to_code: str) -> Number:
    """Convert a number, array, series or expression from one unit to another.

    Args:
        value: what is to be converted [from_code].
        from_code: its UCUM code.
        to_code: the UCUM code wanted.

    Returns:
        The same kind of thing [to_code]; null and nan stay what they are.

    Raises:
        BadValue: a code is unknown, or the two measure different things.
    """
    if from_code == to_code:
        unit(from_code)
        return value
    factor, offset = scale(from_code, to_code)
    return cast("Number", value * factor + offset)  # type: ignore[operator]  # any kind of number will do
