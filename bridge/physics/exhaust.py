"""The way from the valve to the oxygen sensor: gas flow in the pipe and how long it takes.

Plug flow by continuity: pulsation and mixing in the pipe are left out, and so is gas that is drawn back up an
open pipe near idle. Everything takes floats or numpy arrays.
"""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from bridge.physics.air import M_DRY_AIR, OXYGEN_IN_CIPM_AIR, R_UNIVERSAL

Number = TypeVar("Number", float, NDArray[np.float64])

PETROL_H_TO_C = 1.87
"""Of the fuel in ``moles_ratio`` where none is given (common practice)."""


def pipe_volume_m3(length_mm: float, bore_mm: float) -> float:
    """Return the volume of a round pipe.

    Args:
        length_mm: from the exhaust port to the sensor [mm].
        bore_mm: inner diameter [mm].

    Returns:
        Its volume [m3].
    """
    return float(np.pi / 4.0 * bore_mm**2 * length_mm * 1e-9)


def air_flow_kg_s(
    displacement_cc: float,
    rpm: Number,
    volumetric_efficiency: Number,
    air_density_kg_m3: float,
    strokes: int,
) -> Number:
    """Return the mass of air that an engine draws in a second.

    Args:
        displacement_cc: of the cylinders that share the pipe [cm3].
        rpm: engine speed [1/min].
        volumetric_efficiency: drawn air over displacement; a two-stroke's delivery ratio [1].
        air_density_kg_m3: of the intake air [kg/m3].
        strokes: 4, which fills once in two turns, or 2, which fills at each.

    Returns:
        Mass flow of air [kg/s].
    """
    fillings_per_s = rpm / (120.0 if strokes == 4 else 60.0)
    return volumetric_efficiency * air_density_kg_m3 * displacement_cc * 1e-6 * fillings_per_s


def moles_ratio(lambda_: float, h_to_c: float = PETROL_H_TO_C) -> float:
    """Return the moles of exhaust gas for each mole of air.

    Args:
        lambda_: excess-air factor of the mixture [1]; 0.6 and over, where no soot forms.
        h_to_c: of a fuel without oxygen [1].

    Returns:
        The ratio [1], water still vapour. Rich of 1 it does not depend on the water-gas balance, since
        CO2 + H2 = CO + H2O keeps the number of moles.
    """
    oxygen = 1.0 + h_to_c / 4.0
    air = lambda_ * oxygen / OXYGEN_IN_CIPM_AIR
    products = 1.0 + h_to_c / 2.0
    return (products + air * (1.0 - OXYGEN_IN_CIPM_AIR) + max(0.0, lambda_ - 1.0) * oxygen) / air


def volume_flow_m3_s(
    air_kg_s: Number,
    exhaust_temp_k: Number,
    exhaust_pressure_hpa: float = 1030.0,
    lambda_: float = 0.88,
) -> Number:
    """Return the volume of exhaust gas that passes in a second.

    Args:
        air_kg_s: mass flow of the intake air [kg/s].
        exhaust_temp_k: mean temperature of the gas in the pipe [K].
        exhaust_pressure_hpa: absolute pressure in the pipe [hPa].
        lambda_: excess-air factor [1]; from 0.8 to 1.0 it moves the flow by 6 %.

    Returns:
        Volume flow [m3/s], of an ideal gas.
    """
    moles = air_kg_s / M_DRY_AIR * moles_ratio(lambda_)
    return moles * (R_UNIVERSAL * exhaust_temp_k / (exhaust_pressure_hpa * 100.0))


def transport_s(volume_m3: float, flow_m3_s: Number) -> Number:
    """Return how long the gas takes through a pipe in plug flow.

    Args:
        volume_m3: of the pipe from port to sensor [m3].
        flow_m3_s: volume flow of the exhaust [m3/s], above 0.

    Returns:
        Time from port to sensor [s], at this flow held steady.
    """
    return volume_m3 / flow_m3_s


def cycle_s(rpm: Number, strokes: int) -> Number:
    """Return the time of one working cycle: a charge that burned leaves within it.

    Args:
        rpm: engine speed [1/min], above 0.
        strokes: 4 or 2.

    Returns:
        Time of two turns, or of one [s].
    """
    return (120.0 if strokes == 4 else 60.0) / rpm
