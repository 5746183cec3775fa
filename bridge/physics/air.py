"""Moist air: vapour pressure and density.

Everything here takes floats or numpy arrays. Validity: -20 to 60 Cel, 500 to 1100 hPa; the ideal-gas
mixture is within 0.06 % of the CIPM-2007 equation there. Nothing is checked; outside the error grows slowly.
"""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

KELVIN_AT_0_C = 273.15
"""[K], by definition."""
R_UNIVERSAL = 8.314462618
"""Molar gas constant [J/(mol K)], exact since the SI of 2019."""
M_DRY_AIR = 28.96546e-3
"""Molar mass of dry air [kg/mol]: CIPM-2007 with 0.0004 of carbon dioxide (from memory)."""
M_WATER = 18.01528e-3
"""Molar mass of water [kg/mol] (from memory)."""
REFERENCE_TEMP_C, REFERENCE_PRESSURE_HPA, REFERENCE_HUMIDITY_PERCENT = 20.0, 1013.25, 50.0
"""The reference day of this project, assumed wherever the day's own air is not known."""


def saturation_pressure_hpa(temp_c: Number) -> Number:
    """Return the pressure of saturated water vapour over water.

    Args:
        temp_c: air temperature [Cel]; -20 to 60. Below 0 it is that over supercooled water.

    Returns:
        Saturation pressure [hPa], by the Magnus form of WMO-No. 8 (from memory): within 0.3 % of the
        reference equation from 0 to 40 Cel, which is 0.01 % of the air's density.
    """
    growth: Number = np.exp(17.62 * temp_c / (243.12 + temp_c))
    return 6.112 * growth


def vapour_pressure_hpa(temp_c: Number, humidity_percent: Number) -> Number:
    """Return the pressure of the water vapour in the air.

    Args:
        temp_c: air temperature [Cel].
        humidity_percent: relative humidity [%], 0 to 100.

    Returns:
        Vapour pressure [hPa].
    """
    return humidity_percent / 100.0 * saturation_pressure_hpa(temp_c)


def moist_air_density(temp_c: Number, pressure_hpa: Number, humidity_percent: Number) -> Number:
    """Return the density of moist air, as a mixture of two ideal gases.

    Args:
        temp_c: air temperature [Cel].
        pressure_hpa: station pressure, never the value reduced to sea level [hPa].
        humidity_percent: relative humidity [%].

    Returns:
        Density [kg/m3].
    """
    vapour = vapour_pressure_hpa(temp_c, humidity_percent)
    kelvin = temp_c + KELVIN_AT_0_C
    return 100.0 * ((pressure_hpa - vapour) * M_DRY_AIR + vapour * M_WATER) / (R_UNIVERSAL * kelvin)
