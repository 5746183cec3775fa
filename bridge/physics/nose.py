"""The insulator nose as a fin: how hot it is along its length, and where the ring of carbon should sit.

The nose stands in hot gas and is cooled at its seat, so its tip is hot and its seat is cool. Carbon is laid down
all along it and burns off faster the hotter the place. The ring is where the two balance: towards the tip the
nose burns itself clean, towards the seat the carbon stays. A richer mixture lays down more, so that the
balance moves to a hotter place, nearer the tip.

None of this has been validated on an engine. It serves for the shape of the curve from depth to lambda, never
for its place; that comes from the tuner's word and the bike's own readings. Everything takes floats or numpy
arrays; depths are from the tip towards the seat.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from bridge.physics.air import KELVIN_AT_0_C, R_UNIVERSAL

Number = TypeVar("Number", float, NDArray[np.float64])

BURN_OFF_J_MOL = 150_000.0
"""Activation energy of the carbon's burning off [J/mol]: assumed, inside 100 to 210 kJ/mol of the review by
Stanmore, Brilhac and Gilot 2001, Carbon 39:2247 (from memory)."""


@dataclass(frozen=True)
class Nose:
    """An insulator nose and what surrounds it. The defaults are assumed, not measured.

    Attributes:
        length_mm: tip to seat [mm].
        diameter_mm: mean outer diameter [mm].
        gas_k: mean temperature of the gas about it, weighted by heat transfer [K].
        seat_c: temperature where it seats in the shell [Cel].
        heat_transfer_w_m2k: mean coefficient from gas to nose [W/(m2 K)].
        conductivity_w_mk: of the ceramic at its mean temperature [W/(m K)]; see ``alumina_conductivity``.
    """

    length_mm: float
    diameter_mm: float = 5.0
    gas_k: float = 1400.0
    seat_c: float = 200.0
    heat_transfer_w_m2k: float = 350.0
    conductivity_w_mk: float = 9.0

    @property
    def fin_parameter_mm(self) -> float:
        """The fin's parameter m = sqrt(4 h / (k d)) [1/mm]."""
        conduct = self.conductivity_w_mk * self.diameter_mm * 1e-3
        return float(np.sqrt(4.0 * self.heat_transfer_w_m2k / conduct)) * 1e-3

    def hotter_range(self, steps: float) -> "Nose":
        """Return the nose of a plug some steps hotter (or, below zero, colder) in heat range.

        A hotter plug exposes a longer nose, which leads its heat away over a longer path.

        Args:
            steps: of heat range, + hotter; each is taken as 6 % of the length (assumed, no source).
        """
        return Nose(
            self.length_mm * 1.06**steps,
            self.diameter_mm,
            self.gas_k,
            self.seat_c,
            self.heat_transfer_w_m2k,
            self.conductivity_w_mk,
        )


def alumina_conductivity(temp_c: Number) -> Number:
    """Return the thermal conductivity of dense alumina.

    Args:
        temp_c: temperature [Cel]; 20 to 1300.

    Returns:
        [W/(m K)], by the fit of Auerkari 1996 (VTT 1792; the formula is from memory). Plug ceramics hold 92 to
        96 % alumina and conduct less, most of all when cold (from memory).
    """
    decay: Number = np.exp(-0.0033 * temp_c)
    return 5.5 + 34.5 * decay


def temp_along_c(depth_mm: Number, nose: Nose) -> Number:
    """Return the temperature of the nose along its length, as a fin with an adiabatic tip.

    Args:
        depth_mm: from the tip [mm], 0 to the length of the nose; beyond the seat the formula goes on falling
            and means nothing.
        nose: the nose.

    Returns:
        [Cel]. Source: the fin with an adiabatic tip of Incropera and DeWitt, Fundamentals of Heat and Mass
        Transfer, table 3.4 (published). Steady; the real nose follows with a time of 14 to 25 s (computed for the
        default nose), and its centre electrode and taper are left out.
    """
    m = nose.fin_parameter_mm
    gas_c = nose.gas_k - KELVIN_AT_0_C
    share: Number = np.cosh(m * depth_mm) / np.cosh(m * nose.length_mm)
    return gas_c - (gas_c - nose.seat_c) * share


def depth_of_temp_mm(temp_c: Number, nose: Nose) -> Number:
    """Return how deep a temperature sits on the nose: the inverse of ``temp_along_c``.

    Args:
        temp_c: temperature [Cel].
        nose: the nose.

    Returns:
        Depth from the tip [mm]; nan where the nose is nowhere so hot.
    """
    m = nose.fin_parameter_mm
    gas_c = nose.gas_k - KELVIN_AT_0_C
    share = (gas_c - temp_c) / (gas_c - nose.seat_c)
    with np.errstate(invalid="ignore"):
        return np.arccosh(share * np.cosh(m * nose.length_mm)) / m  # type: ignore[no-any-return]  # numpy's own


def balance_temp_c(lambda_: Number, at_lambda: float, at_temp_c: float, per_e_fold: float = 0.03) -> Number:
    """Return the temperature at which as much carbon burns off as is laid down.

    What is laid down falls by a factor e for each ``per_e_fold`` of lambda, what burns off follows Arrhenius.

    Args:
        lambda_: excess-air factor [1].
        at_lambda: a lambda for which the balance is known or assumed [1].
        at_temp_c: the temperature of that balance [Cel].
        per_e_fold: lambda over which the deposit falls by a factor e [1]; 0.03 is assumed and differs between
            engines.

    Returns:
        [Cel]; lower for a leaner mixture. Unvalidated; nothing is known outside about 0.7 to 1.05.
    """
    inverse = 1.0 / (at_temp_c + KELVIN_AT_0_C) + R_UNIVERSAL / BURN_OFF_J_MOL * (
        (lambda_ - at_lambda) / per_e_fold
    )
    return 1.0 / inverse - KELVIN_AT_0_C


def ring_depth_mm(
    lambda_: Number,
    nose: Nose,
    at_lambda: float = 0.88,
    at_temp_c: float = 500.0,
    per_e_fold: float = 0.03,
) -> Number:
    """Return where the ring should sit by this model alone.

    Args:
        lambda_: excess-air factor [1].
        nose: the nose.
        at_lambda: as ``balance_temp_c``.
        at_temp_c: as ``balance_temp_c`` (assumed: noses clean themselves from about 450 to 500 Cel on, common
            practice).
        per_e_fold: as ``balance_temp_c``.

    Returns:
        Depth from the tip [mm]; nan where the balance is hotter than the tip, so that all of the nose is dark.
        Over the length of the nose where even the seat is too hot to keep any: no ring.
    """
    return depth_of_temp_mm(balance_temp_c(lambda_, at_lambda, at_temp_c, per_e_fold), nose)


def bent_depth_mm(depth_mm: Number, about_mm: float, nose: Nose) -> Number:
    """Return depth on the axis on which this model is a straight line in lambda.

    By the balance lambda is a straight line in 1/T of the place. This is 1/T along the nose, from ``about_mm`` on
    and scaled so that there a millimetre is a millimetre. Near the tip the nose is almost evenly hot, so that a
    millimetre there means less of lambda than one near the seat.

    Args:
        depth_mm: from the tip [mm].
        about_mm: where the two axes touch [mm]; over 0.
        nose: the nose.

    Returns:
        Distance from ``about_mm`` on the bent axis [mm], rising with depth.
    """
    m = nose.fin_parameter_mm
    gas_c = nose.gas_k - KELVIN_AT_0_C
    here_k = temp_along_c(about_mm, nose) + KELVIN_AT_0_C
    fall = (gas_c - nose.seat_c) * m * np.sinh(m * about_mm) / np.cosh(m * nose.length_mm)
    return (1.0 / (temp_along_c(depth_mm, nose) + KELVIN_AT_0_C) - 1.0 / here_k) * (here_k**2 / float(fall))
