"""The wideband oxygen sensor: what its pumped current stands for, and what bends the reading.

A reference cell holds the cavity behind a diffusion barrier near stoichiometry; the current that this takes is
the flow of oxygen through the barrier less what the unburnt gases take of it. Principle: Dietz 1982, Solid State
Ionics 6:175; Soejima and Mase 1985, SAE 850378 (published). The model here is that of diffusion in the bulk of the
gas and of nothing else: a real sensor has a curve and a trim of its own, so the model is used to *move* a reading
by a few percent of its own current, never to make one.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bridge.physics import air
from bridge.physics.water_gas import FROZEN_K, INERT_TO_OXYGEN, burnt

Floats = NDArray[np.float64]

OXYGEN_IN_DRY_AIR = 0.20946
"""Mole fraction of oxygen in dry air [1] (from memory)."""
PETROL_H_TO_C = 1.87
"""Of the fuel that a sensor's own table is written for (common practice)."""
# Diffusivity over that of oxygen at 1050 K in exhaust gas: computed with Cantera, gri30, mixture-averaged.
_H2_OVER_O2, _CO_OVER_O2 = 3.626, 0.987
RICHEST = 0.4
"""Lambda under which the model of the exhaust ends [1]: a little less oxygen makes no carbon monoxide of all carbon."""
BULK_OVER_KNUDSEN = 0.5
"""Share ``a`` of a barrier between free gas (0) and fine pores; each sensor has its own (assumed)."""
MODEL_SHARE = 0.2
"""Standard uncertainty of a correction, as a share of it: the model's slope is not the sensor's (assumed)."""


def free_air_oxygen(
    temp_c: float = air.REFERENCE_TEMP_C,
    pressure_hpa: float = air.REFERENCE_PRESSURE_HPA,
    humidity_percent: float = air.REFERENCE_HUMIDITY_PERCENT,
) -> float:
    """Return the share of oxygen in free air, which a free-air check should find.

    Args:
        temp_c: air temperature [Cel]; -40 to 60.
        pressure_hpa: station pressure [hPa]; 500 to 1100.
        humidity_percent: relative humidity [%]; 0 to 100.

    Returns:
        Mole fraction of oxygen [1]: 0.20946 in dry air, less by what the water displaces.
    """
    vapour = air.vapour_pressure_hpa(temp_c, humidity_percent)
    return OXYGEN_IN_DRY_AIR * (1.0 - vapour / pressure_hpa)


def pressure_effect(pressure_ratio: float | Floats, share: float = BULK_OVER_KNUDSEN) -> Floats:
    """Return by how much exhaust pressure swells the pumped current, rich and lean alike.

    Args:
        pressure_ratio: absolute pressure at the sensor over that at which it was calibrated [1]; over 0.
        share: ``a``, bulk diffusivity over that in the pores at the pressure of calibration [1]; 0 is a barrier
            of wide pores, on which pressure has no effect. Under 0 is no barrier.

    Returns:
        Current over current at the pressure of calibration [1], (P (1 + a)) / (P + a): the mix of both kinds of
        diffusion by Bosanquet (from memory). Good for ratios of some 0.5 to 2; nan where a ratio is not over 0.
    """
    ratio = np.asarray(pressure_ratio, dtype=np.float64)
    ratio = np.where(ratio > 0, ratio, np.nan)
    return ratio * (1.0 + share) / (ratio + share)


def pressure_ratio_of(effect: float | Floats, share: float = BULK_OVER_KNUDSEN) -> Floats:
    """Return the pressure ratio that swells the current so: the inverse of ``pressure_effect``.

    Args:
        effect: current over that at the pressure of calibration [1]; over 0 and under 1 + share.
        share: as there, over 0.

    Returns:
        The ratio [1]; nan where no pressure does that.
    """
    swollen = np.asarray(effect, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = swollen * share / (1.0 + share - swollen)
    return np.where((swollen > 0) & (swollen < 1.0 + share), ratio, np.nan)


def relative_current(
    lambda_: float | Floats, h_to_c: float = PETROL_H_TO_C, o_to_c: float = 0.0, k: float = FROZEN_K
) -> Floats:
    """Return the pumped current over that in dry air, by the model of bulk diffusion.

    Args:
        lambda_: excess-air factor of the exhaust [1], ``RICHEST`` and over; infinite is air without fuel.
        h_to_c: of the fuel [1].
        o_to_c: of the fuel [1].
        k: constant of the water-gas balance that the exhaust froze at [1].

    Returns:
        The current [1]: below 0 rich, 0 at lambda 1, 1 in dry air; it rises with lambda throughout. nan under
        ``RICHEST``.
    """
    given = np.asarray(lambda_, dtype=np.float64)
    inside = (given >= RICHEST) & np.isfinite(given)
    gas = burnt(np.where(inside, given, 1.0), h_to_c, o_to_c, k)
    pumped = gas.o2 - 0.5 * _CO_OVER_O2 * gas.co - 0.5 * _H2_OVER_O2 * gas.h2
    current = pumped / gas.wet * (1.0 + INERT_TO_OXYGEN)  # over the share of oxygen in the air of the model
    return np.where(inside, current, np.where(np.isposinf(given), 1.0, np.nan))


@lru_cache(maxsize=16)
def _curve(h_to_c: float, o_to_c: float) -> tuple[Floats, Floats]:
    """Return rising currents and the fuel-air ratio phi = 1/lambda that belongs to each, knotted at 1."""
    phi = np.concatenate((np.linspace(1.0 / RICHEST, 1.0, 1001), np.linspace(1.0, 0.0, 1001)[1:]))
    with np.errstate(divide="ignore"):
        current = relative_current(1.0 / phi, h_to_c, o_to_c)
    known = np.isfinite(current)
    return current[known], phi[known]


def lambda_of_current(current: float | Floats, h_to_c: float = PETROL_H_TO_C, o_to_c: float = 0.0) -> Floats:
    """Return the lambda of a pumped current: the inverse of ``relative_current`` at K = 3.5.

    Args:
        current: over that in dry air [1].
        h_to_c: of the fuel [1].
        o_to_c: of the fuel [1].

    Returns:
        Lambda [1]; infinite in dry air and over, nan where the current is under that at ``RICHEST``.
    """
    currents, phi = _curve(h_to_c, o_to_c)
    found = np.interp(np.asarray(current, dtype=np.float64), currents, phi, left=np.nan)
    with np.errstate(divide="ignore"):
        return 1.0 / found


def corrected_lambda(
    lambda_read: float | Floats,
    gain: float | Floats = 1.0,
    pressure_ratio: float | Floats = 1.0,
    share: float = BULK_OVER_KNUDSEN,
) -> Floats:
    """Return lambda as a sensor would read it with a gain of 1 at the pressure of its calibration.

    Args:
        lambda_read: what it said [1]; any shape.
        gain: what it told in free air over what it should have told there (``free_air_oxygen``) [1]; over 0. An
            aged sensor has less than 1.
        pressure_ratio: absolute pressure at the sensor over that of its calibration [1]; one for each reading,
            or one for all.
        share: of the barrier, see ``pressure_effect``.

    Returns:
        Lambda [1]. Readings at 1 stay: both errors swell the distance from 1 and never turn it. Infinite where the
        corrected current is that of free air or more; nan under ``RICHEST``, and where a gain or a pressure is nan.
        Good for corrections of some 10 % of the current; past that the model's slope, not the sensor's, is the
        answer.
    """
    return _rescaled(lambda_read, 1.0 / (np.asarray(gain) * pressure_effect(pressure_ratio, share)))


def uncorrected_lambda(
    lambda_true: float | Floats,
    gain: float | Floats = 1.0,
    pressure_ratio: float | Floats = 1.0,
    share: float = BULK_OVER_KNUDSEN,
) -> Floats:
    """Return what a sensor of this gain at this pressure reads: the inverse of ``corrected_lambda``.

    Args:
        lambda_true: of the exhaust [1].
        gain: as there [1].
        pressure_ratio: as there [1].
        share: as there [1].

    Returns:
        The reading [1]; infinite where the current is that of dry air and more, nan under ``RICHEST``.
    """
    return _rescaled(lambda_true, np.asarray(gain) * pressure_effect(pressure_ratio, share))


def _rescaled(lambda_: float | Floats, factor: Floats) -> Floats:
    given = np.asarray(lambda_, dtype=np.float64)
    currents, phi = _curve(PETROL_H_TO_C, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        current = np.interp(1.0 / given, phi[::-1], currents[::-1], right=np.nan)
    moved = lambda_of_current(np.where(factor > 0, current * factor, np.nan))
    return np.where(
        factor == 1.0, given, moved
    )  # what needs no correction stays as it was, to the last digit


def correction_sd(  # noqa: PLR0913, PLR0917  # those of ``corrected_lambda`` and their doubts
    lambda_read: float | Floats,
    gain: float = 1.0,
    gain_sd: float = 0.0,
    pressure_ratio: float | Floats = 1.0,
    share: float = BULK_OVER_KNUDSEN,
    share_sd: float = 0.0,
) -> Floats:
    """Return the standard uncertainty that a correction brings into the corrected lambda.

    Args:
        lambda_read: as in ``corrected_lambda`` [1].
        gain: as there [1].
        gain_sd: its standard uncertainty [1].
        pressure_ratio: as there [1].
        share: as there [1].
        share_sd: its standard uncertainty [1].

    Returns:
        Standard uncertainty [1], to first order: of the gain, of the barrier, and ``MODEL_SHARE`` of the
        correction itself for the model's own slope.
    """
    moved = corrected_lambda(lambda_read, gain, pressure_ratio, share)
    by_gain = corrected_lambda(lambda_read, gain + gain_sd, pressure_ratio, share) - moved
    by_share = corrected_lambda(lambda_read, gain, pressure_ratio, share + share_sd) - moved
    by_model = MODEL_SHARE * (moved - np.asarray(lambda_read))
    total: Floats = np.sqrt(by_gain**2 + by_share**2 + by_model**2)
    return total


def reading_on_fuel(
    lambda_true: float | Floats, h_to_c: float, o_to_c: float = 0.0, k: float = FROZEN_K
) -> Floats:
    """Return what a sensor whose table was made on petrol reads on another fuel.

    Args:
        lambda_true: of the exhaust [1].
        h_to_c: of the fuel [1].
        o_to_c: of the fuel [1].
        k: constant at which the exhaust froze [1]; 3.5 in the sensor's own table.

    Returns:
        The reading [1]. The sensor finds lambda 1 on any fuel; away from it the gases differ a little.
    """
    return lambda_of_current(relative_current(lambda_true, h_to_c, o_to_c, k))


def lambda_on_fuel(lambda_read: float | Floats, h_to_c: float, o_to_c: float = 0.0) -> Floats:
    """Return the lambda behind a reading on another fuel: the inverse of ``reading_on_fuel`` at K = 3.5.

    Args:
        lambda_read: what a sensor with a table for petrol said [1].
        h_to_c: of the fuel [1].
        o_to_c: of the fuel [1].

    Returns:
        Lambda [1].
    """
    return lambda_of_current(relative_current(lambda_read), h_to_c, o_to_c)
