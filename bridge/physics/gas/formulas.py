"""Lambda from the gases of the exhaust, and the gases from lambda.

Validity: dry gas (the analyser cools its sample; a hot wet sample reads every gas too low), all gases of one
moment, unburnt fuel as the fuel is. Rich of 1 the water that the analyser took out is reckoned by the water-gas
balance frozen at K = 3.5; the true one depends on how fast the gas cooled: at lambda 0.85 a K of 2.5 reads 0.862
and one of 5 reads 0.839. Every gas may be given in any one unit, percent by custom.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bridge.physics.fuel import AIR_CIPM
from bridge.physics.water_gas import FROZEN_K, burnt, oxygen_need

Array = NDArray[np.float64]

# Atomic weight of hydrogen and molar mass of water [kg/kmol]; published: IUPAC, abridged.
_H, _WATER = 1.008, 18.015


@dataclass(frozen=True)
class DryExhaust:
    """Dry exhaust gas by volume [%]; arrays of one shape."""

    co2: Array
    co: Array
    h2: Array
    o2: Array
    n2: Array
    """Nitrogen, argon and what else the air brings along."""
    hc_c1: Array
    """Unburnt fuel, for each atom of carbon in it."""


def dry_exhaust(
    lambda_: ArrayLike, h_to_c: float, o_to_c: float = 0.0, k: float = FROZEN_K, unburnt: float = 0.0
) -> DryExhaust:
    """Return the dry exhaust of a mixture, the other way round from ``brettschneider``.

    Args:
        lambda_: excess-air factor, any shape [1]; 0.5 and over.
        h_to_c: atoms of hydrogen for each of carbon in the fuel [1].
        o_to_c: atoms of oxygen for each of carbon [1].
        k: constant of the water-gas balance [1], over 0.
        unburnt: share of the fuel that leaves as it came, 0 to under 1 [1]; its air leaves as it came too.

    Returns:
        The gases [%], with no nitrogen monoxide; nan where there is too little oxygen for carbon monoxide.
    """
    gases = burnt(np.asarray(lambda_, dtype=float) / (1.0 - unburnt), h_to_c, o_to_c, k)
    percent = 100.0 / (gases.dry + unburnt / (1.0 - unburnt))
    return DryExhaust(
        co2=gases.co2 * percent,
        co=gases.co * percent,
        h2=gases.h2 * percent,
        o2=gases.o2 * percent,
        n2=gases.inert * percent,
        hc_c1=unburnt / (1.0 - unburnt) * percent,
    )


def brettschneider(  # noqa: PLR0913, PLR0917  # the gases of one analysis
    co2: ArrayLike,
    co: ArrayLike,
    o2: ArrayLike,
    hc_c1: ArrayLike,
    no: ArrayLike,
    h_to_c: float,
    o_to_c: float = 0.0,
    *,
    k: float = FROZEN_K,
    humidity_ratio: float = 0.0,
) -> Array:
    """Return lambda by the balance of oxygen over that of carbon.

    Published: J. Brettschneider, 1979, pages 177 to 186 (the form without humidity is that of the idle test in
    UN R83; from memory). The factor for moist intake air is this project's own, from the same balance: the air's
    water shifts some hydrogen to water, which without it reads as air (0.4 % of lambda at 0.85 and 10 g/kg).

    Args:
        co2: carbon dioxide in dry gas, any shape and any one unit for all gases.
        co: carbon monoxide.
        o2: oxygen.
        hc_c1: unburnt fuel, for each atom of carbon in it (``hc_c1_percent``); with 0 for a gas that has some,
            lambda comes out too high: by 1/(1 - s) where a share s of the charge left unburnt.
        no: nitrogen monoxide.
        h_to_c: atoms of hydrogen for each of carbon in the fuel [1].
        o_to_c: atoms of oxygen for each of carbon [1].
        k: constant of the water-gas balance [1].
        humidity_ratio: water in the intake air for each kilogram of dry air [kg/kg].

    Returns:
        The excess-air factor [1]; nan where there is no carbon dioxide and no carbon monoxide.
    """
    co2, co, o2, hc_c1, no = (np.asarray(gas, dtype=float) for gas in (co2, co, o2, hc_c1, no))
    carbon = co2 + co
    with np.errstate(invalid="ignore", divide="ignore"):
        as_water = k * co2 / (k * co2 + co)  # of the hydrogen
        oxygen = co2 + co / 2.0 + o2 + no / 2.0 + (h_to_c / 4.0 * as_water - o_to_c / 2.0) * carbon
        moist = 1.0 + humidity_ratio * AIR_CIPM / _WATER * (1.0 - as_water) / 2.0
        lambda_: Array = oxygen / (oxygen_need(h_to_c, o_to_c) * (carbon + hc_c1) * moist)
    return lambda_


def spindt_afr(co2: ArrayLike, co: ArrayLike, o2: ArrayLike, hc_c1: ArrayLike, h_to_c: float) -> Array:
    """Return the air-fuel ratio by R. S. Spindt, SAE 650507, 1965 (published; constants from a copy).

    Args:
        co2: carbon dioxide in dry gas, any shape and any one unit for all gases.
        co: carbon monoxide.
        o2: oxygen.
        hc_c1: unburnt fuel, for each atom of carbon in it.
        h_to_c: atoms of hydrogen for each of carbon in the fuel [1].

    Returns:
        Air over fuel by mass, in air of 23.2 % oxygen by mass [1]; oxygen in the fuel counts as air. nan where
        there is no carbon dioxide.
    """
    co2, co, o2, hc_c1 = (np.asarray(gas, dtype=float) for gas in (co2, co, o2, hc_c1))
    with np.errstate(invalid="ignore", divide="ignore"):
        r, q = co / co2, o2 / co2
        burned = (co + co2) / (co + co2 + hc_c1)
    carbon = _CARBON / (_CARBON + _H * h_to_c)
    afr: Array = burned * (
        11.492 * carbon * (1.0 + r / 2.0 + q) / (1.0 + r) + 120.0 * (1.0 - carbon) / (FROZEN_K + r)
    )
    return afr


# Of that paper, which rounds carbon to 12.01 [kg/kmol].
_CARBON = 12.01


def spindt_lambda(co2: ArrayLike, co: ArrayLike, o2: ArrayLike, hc_c1: ArrayLike, h_to_c: float) -> Array:
    """Return lambda by Spindt: his air-fuel ratio over the one that his own formula has at lambda 1.

    Over another air's stoichiometric ratio it would be half a percent off. As he knows no oxygen in the fuel, an
    oxygenated fuel reads too near to 1, by ``spindt_bias``.

    Args:
        co2: carbon dioxide in dry gas, any shape and any one unit for all gases.
        co: carbon monoxide.
        o2: oxygen.
        hc_c1: unburnt fuel, for each atom of carbon in it.
        h_to_c: atoms of hydrogen for each of carbon in the fuel [1].

    Returns:
        The excess-air factor [1]; nan where there is no carbon dioxide.
    """
    return spindt_afr(co2, co, o2, hc_c1, h_to_c) / spindt_afr(1.0, 0.0, 0.0, 0.0, h_to_c)


def fuels_oxygen(h_to_c: float, o_to_c: float) -> float:
    """Return the share of the oxygen in a stoichiometric charge that the fuel itself brings [1]."""
    return o_to_c / 2.0 / (1.0 + h_to_c / 4.0)


def spindt_bias(lambda_: float, h_to_c: float, o_to_c: float) -> float:
    """Return how much Spindt's lambda reads too high on an oxygenated fuel.

    Closed form of the oxygen balance: the fuel's oxygen counts as air above and below the line.

    Args:
        lambda_: the true one [1].
        h_to_c: atoms of hydrogen for each of carbon in the fuel [1].
        o_to_c: atoms of oxygen for each of carbon [1].

    Returns:
        What it reads over the true one [1]; negative lean of 1.
    """
    return (1.0 - lambda_) * fuels_oxygen(h_to_c, o_to_c)


def hc_c1_percent(ppm_hexane: ArrayLike, instrument_factor: float = 1.0) -> Array:
    """Return unburnt fuel for each atom of carbon from an analyser's reading as hexane.

    Args:
        ppm_hexane: as the analyser shows it, any shape [ppm].
        instrument_factor: what the analyser fails to see of this fuel [1]: an infrared analyser set with hexane
            sees about half of petrol's (a factor near 2: Singer et al. 1998, ES&T 32:3241, from memory).

    Returns:
        The same shape [%].
    """
    return 6.0 * np.asarray(ppm_hexane, dtype=float) / 1e4 * instrument_factor


def ppm_hexane(hc_c1: ArrayLike, instrument_factor: float = 1.0) -> Array:
    """Return what an analyser shows for unburnt fuel, the inverse of ``hc_c1_percent``.

    Args:
        hc_c1: for each atom of carbon, any shape [%].
        instrument_factor: as there [1].
    """
    return np.asarray(hc_c1, dtype=float) * 1e4 / 6.0 / instrument_factor
