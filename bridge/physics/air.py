"""Moist air: vapour, density, and what they do to the mixture.

Everything here takes floats or numpy arrays. Validity: -40 to 60 Cel, 500 to 1100 hPa; the mixture of two ideal
gases is within 0.06 % of the CIPM-2007 equation there. Nothing is checked (``stated_air`` does that); outside the
error grows slowly. Pressure is always that of the station, never the value reduced to sea level.
"""

from collections.abc import Callable
from math import sqrt
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from bridge.budget import Budget, Component

Number = TypeVar("Number", float, NDArray[np.float64])

KELVIN_AT_0_C = 273.15
"""[K], by definition."""
R_UNIVERSAL = 8.314462618
"""Molar gas constant [J/(mol K)], exact since the SI of 2019."""
M_DRY_AIR = 28.96546e-3
"""Molar mass of dry air [kg/mol]: CIPM-2007 with 0.0004 of carbon dioxide (from memory)."""
M_WATER = 18.01528e-3
"""Molar mass of water [kg/mol] (from memory)."""
M_OXYGEN = 31.998e-3
"""Molar mass of O2 [kg/mol]; published: IUPAC/CIAAW, abridged."""
OXYGEN_IN_CIPM_AIR = 0.20939
"""Mole fraction of oxygen in dry air, CIPM-2007 (from memory)."""
REFERENCE_TEMP_C, REFERENCE_PRESSURE_HPA, REFERENCE_HUMIDITY_PERCENT = 20.0, 1013.25, 50.0
"""The reference day of this project, assumed wherever the day's own air is not known."""
STANDARD_DENSITY_KG_M3 = 1.225
"""Of dry air at 15 Cel and 1013.25 hPa (published: ISO 2533); relative density is over it."""

TEMP_SD_C, PRESSURE_SD_HPA, HUMIDITY_SD_PERCENT = 0.5, 1.0, 3.0
"""Standard uncertainties of a paddock's weather instruments [Cel, hPa, %]: common practice, no source."""
IDEAL_GAS_SHARE = 0.0006 / sqrt(3)
"""Standard uncertainty of a density that leaving CIPM-2007 for ideal gases brings, as a share of it [1]."""
LAW_SHARE = 0.3
"""Standard uncertainty of the carburettor's law, as a share of what it says [1]; assumed."""

TRIPLE_POINT_C = 0.01


def saturation_pressure_hpa(temp_c: Number) -> Number:
    """Return the pressure of saturated water vapour.

    Args:
        temp_c: air temperature [Cel]; -100 to 200. Up to the triple point it is that over ice, past it over water.
            (A weather station's humidity is over water below 0 too, which at -10 Cel is a tenth more vapour and
            0.01 % of the density.)

    Returns:
        Saturation pressure [hPa], by Hyland and Wexler as in ASHRAE Fundamentals 2017, ch. 1, eq. 5 and 6
        (published). Within 0.03 % of IAPWS from 0 to 60 Cel.
    """
    kelvin = temp_c + KELVIN_AT_0_C
    log_kelvin = np.log(kelvin)
    over_ice = (
        -5.6745359e3 / kelvin
        + 6.3925247
        - 9.677843e-3 * kelvin
        + 6.2215701e-7 * kelvin**2
        + 2.0747825e-9 * kelvin**3
        - 9.484024e-13 * kelvin**4
        + 4.1635019 * log_kelvin
    )
    over_water = (
        -5.8002206e3 / kelvin
        + 1.3914993
        - 4.8640239e-2 * kelvin
        + 4.1764768e-5 * kelvin**2
        - 1.4452093e-8 * kelvin**3
        + 6.5459673 * log_kelvin
    )
    pascal: Number = np.exp(np.where(temp_c <= TRIPLE_POINT_C, over_ice, over_water))[()]
    return pascal / 100.0


def vapour_pressure_hpa(temp_c: Number, humidity_percent: Number) -> Number:
    """Return the pressure of the water vapour in the air.

    Args:
        temp_c: air temperature [Cel].
        humidity_percent: relative humidity [%], 0 to 100.

    Returns:
        Vapour pressure [hPa].
    """
    return humidity_percent / 100.0 * saturation_pressure_hpa(temp_c)


def dry_pressure_hpa(temp_c: Number, pressure_hpa: Number, humidity_percent: Number) -> Number:
    """Return the pressure of the air without its vapour [hPa]; arguments as ``moist_air_density``."""
    return pressure_hpa - vapour_pressure_hpa(temp_c, humidity_percent)


def humidity_ratio(temp_c: Number, pressure_hpa: Number, humidity_percent: Number) -> Number:
    """Return the mass of vapour for each mass of dry air [1]; arguments as ``moist_air_density``."""
    vapour = vapour_pressure_hpa(temp_c, humidity_percent)
    return (M_WATER / M_DRY_AIR) * vapour / (pressure_hpa - vapour)


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


def dry_air_density(temp_c: Number, pressure_hpa: Number, humidity_percent: Number) -> Number:
    """Return the mass of dry air in each volume of moist air: what an engine can burn with.

    Args:
        temp_c: air temperature [Cel].
        pressure_hpa: station pressure [hPa].
        humidity_percent: relative humidity [%].

    Returns:
        Density of the dry part [kg/m3].
    """
    dry = dry_pressure_hpa(temp_c, pressure_hpa, humidity_percent)
    return 100.0 * dry * M_DRY_AIR / (R_UNIVERSAL * (temp_c + KELVIN_AT_0_C))


def oxygen_density(temp_c: Number, pressure_hpa: Number, humidity_percent: Number) -> Number:
    """Return the mass of oxygen in each volume of moist air [kg/m3]; arguments as ``dry_air_density``."""
    share = OXYGEN_IN_CIPM_AIR * M_OXYGEN / M_DRY_AIR
    return share * dry_air_density(temp_c, pressure_hpa, humidity_percent)


def relative_density(temp_c: Number, pressure_hpa: Number, humidity_percent: Number) -> Number:
    """Return the density of moist air over 1.225 kg/m3 [1]; arguments as ``moist_air_density``."""
    return moist_air_density(temp_c, pressure_hpa, humidity_percent) / STANDARD_DENSITY_KG_M3


def lambda_factor(
    temp_c: Number,
    pressure_hpa: Number,
    humidity_percent: Number,
    *,
    reference: tuple[float, float, float] = (
        REFERENCE_TEMP_C,
        REFERENCE_PRESSURE_HPA,
        REFERENCE_HUMIDITY_PERCENT,
    ),
) -> Number:
    """Return lambda in this air over lambda in the reference air, with the same jets.

    Fuel goes with the root of the moist air's density times the air's velocity, the oxygen with the density of
    its dry part, so lambda goes with dry density over the root of moist density.

    Args:
        temp_c: air temperature [Cel].
        pressure_hpa: station pressure [hPa].
        humidity_percent: relative humidity [%].
        reference: temperature, pressure and humidity of the air to compare with [Cel, hPa, %].

    Returns:
        The factor [1]: under 1 in thin or humid air, which is richer. Elementary carburettor theory (from memory):
        a slide carburettor's main circuit at wide throttle, fuel at one temperature. Vented float chambers, air
        jets and constant-depression slides change it; a first guess until the bike's own is known.
    """
    return _breathed(temp_c, pressure_hpa, humidity_percent) / _breathed(*reference)


def _breathed(temp_c: Number, pressure_hpa: Number, humidity_percent: Number) -> Number:
    dry = dry_air_density(temp_c, pressure_hpa, humidity_percent)
    breathed: Number = dry / moist_air_density(temp_c, pressure_hpa, humidity_percent) ** 0.5
    return breathed


def air_budget(  # noqa: PLR0913  # three of the air, and what is known of their doubts
    quantity: Callable[[float, float, float], float],
    temp_c: float,
    pressure_hpa: float,
    humidity_percent: float,
    *,
    sds: tuple[float, float, float] = (TEMP_SD_C, PRESSURE_SD_HPA, HUMIDITY_SD_PERCENT),
    formula: float = 0.0,
    formula_status: str = "published",
) -> Budget:
    """Return the doubts about a quantity of the air, to first order.

    Args:
        quantity: of temperature, pressure and humidity, such as ``moist_air_density``.
        temp_c: air temperature [Cel].
        pressure_hpa: station pressure [hPa].
        humidity_percent: relative humidity [%].
        sds: standard uncertainties of the three as they were read [Cel, hPa, %].
        formula: standard uncertainty of the formula itself, in the unit of the quantity.
        formula_status: where that one comes from.

    Returns:
        The budget, in the unit of the quantity.
    """
    state = (temp_c, pressure_hpa, humidity_percent)
    parts = []
    for place, (name, sd) in enumerate(zip(("temperature", "pressure", "humidity"), sds, strict=True)):
        low, high = (
            quantity(*(v + side * sd if i == place else v for i, v in enumerate(state)))
            for side in (-0.5, 0.5)
        )
        parts.append(Component(f"{name} of the air", abs(high - low), "common practice"))
    if formula:
        parts.append(Component("formula", formula, formula_status))
    return Budget(tuple(parts))


def density_budget(temp_c: float, pressure_hpa: float, humidity_percent: float) -> Budget:
    """Return the doubts about ``moist_air_density`` with usual instruments [kg/m3]."""
    state = temp_c, pressure_hpa, humidity_percent
    return air_budget(moist_air_density, *state, formula=IDEAL_GAS_SHARE * moist_air_density(*state))


def lambda_factor_budget(temp_c: float, pressure_hpa: float, humidity_percent: float) -> Budget:
    """Return the doubts about ``lambda_factor`` with usual instruments, its law among them [1]."""
    state = temp_c, pressure_hpa, humidity_percent
    law = LAW_SHARE * abs(lambda_factor(*state) - 1.0)
    return air_budget(lambda_factor, *state, formula=law, formula_status="assumed")
