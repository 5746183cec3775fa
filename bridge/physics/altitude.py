"""The standard atmosphere's troposphere: pressure and density against height.

Source: ISO 2533 (ICAO Doc 7488); published. Geopotential heights; at 2000 m the geometric height is 0.6 m more.
Validity: -2000 to 11 000 m; past that the formulas go on, which the atmosphere does not. Floats or numpy arrays.
"""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

SEA_LEVEL_PRESSURE_HPA = 1013.25
SEA_LEVEL_DENSITY_KG_M3 = 1.225
SEA_LEVEL_K = 288.15
LAPSE_K_M = 0.0065
_PRESSURE_POWER = 9.80665 / (287.05287 * LAPSE_K_M)
_DENSITY_POWER = _PRESSURE_POWER - 1.0


def density_altitude_m(density_kg_m3: Number) -> Number:
    """Return the height at which the standard atmosphere has a density [m], from it [kg/m3]; thin air is high."""
    found: Number = (
        SEA_LEVEL_K / LAPSE_K_M * (1.0 - (density_kg_m3 / SEA_LEVEL_DENSITY_KG_M3) ** (1.0 / _DENSITY_POWER))
    )
    return found


def density_at_altitude(altitude_m: Number) -> Number:
    """Return the standard atmosphere's density [kg/m3] at a height [m]: the inverse of ``density_altitude_m``."""
    found: Number = SEA_LEVEL_DENSITY_KG_M3 * (1.0 - LAPSE_K_M * altitude_m / SEA_LEVEL_K) ** _DENSITY_POWER
    return found


def pressure_altitude_m(pressure_hpa: Number) -> Number:
    """Return the height at which the standard atmosphere has a pressure [m], from it [hPa]."""
    found: Number = (
        SEA_LEVEL_K / LAPSE_K_M * (1.0 - (pressure_hpa / SEA_LEVEL_PRESSURE_HPA) ** (1.0 / _PRESSURE_POWER))
    )
    return found


def pressure_at_altitude(altitude_m: Number) -> Number:
    """Return the standard atmosphere's pressure [hPa] at a height [m]: the inverse of ``pressure_altitude_m``."""
    found: Number = SEA_LEVEL_PRESSURE_HPA * (1.0 - LAPSE_K_M * altitude_m / SEA_LEVEL_K) ** _PRESSURE_POWER
    return found


def sea_level_ratio(altitude_m: Number, temp_c: Number) -> Number:
    """Return station pressure over the pressure reduced to sea level.

    Args:
        altitude_m: of the station [m].
        temp_c: air temperature there [Cel], from which the column below it goes on by the standard lapse.

    Returns:
        The ratio [1], under 1 above the sea; by a dry column in balance, as weather services reduce (closed form).
    """
    kelvin = temp_c + 273.15
    found: Number = (kelvin / (kelvin + LAPSE_K_M * altitude_m)) ** _PRESSURE_POWER
    return found
