"""What a charge becomes when it burns: the gases of the exhaust, for each atom of carbon in the fuel.

Rich of 1 the oxygen that there is divides between carbon and hydrogen by the water-gas balance
CO + H2O = CO2 + H2, whose constant K = [CO][H2O]/([CO2][H2]) is frozen as the gas cools; lean of 1 all burns and
oxygen is left. Element balance, closed form. Validity: no soot and no unburnt fuel, so in truth lambda 0.6 and over
(from memory); the balance itself has an answer down to about 0.4. Hot, well mixed gas.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FROZEN_K = 3.5
"""Constant of the frozen water-gas balance [1] (published: Brettschneider 1979; Spindt 1965, SAE 650507). An
equilibrium has it at 1720 K (computed with Cantera)."""
INERT_TO_OXYGEN = 3.76
"""Moles of nitrogen, argon and the rest for each of oxygen in dry air [1]; the simple air of most textbooks."""

_ROUNDED = 1e-9


@dataclass(frozen=True)
class Burnt:
    """Moles of each gas for each mole of carbon in the fuel [1]; arrays of one shape."""

    co2: Floats
    co: Floats
    h2o: Floats
    h2: Floats
    o2: Floats
    inert: Floats

    @property
    def wet(self) -> Floats:
        """All of it, water as vapour."""
        return self.dry + self.h2o

    @property
    def dry(self) -> Floats:
        """All of it but the water."""
        return self.co2 + self.co + self.h2 + self.o2 + self.inert


def oxygen_need(h_to_c: float, o_to_c: float = 0.0) -> float:
    """Return the moles of O2 that one mole of carbon with its hydrogen takes, less the fuel's own oxygen [1]."""
    return 1.0 + h_to_c / 4.0 - o_to_c / 2.0


def burnt(lambda_: float | Floats, h_to_c: float, o_to_c: float = 0.0, k: float = FROZEN_K) -> Burnt:
    """Return what a mixture burns to.

    Args:
        lambda_: excess-air factor [1], over 0; any shape.
        h_to_c: atoms of hydrogen for each of carbon [1].
        o_to_c: atoms of oxygen for each of carbon [1].
        k: constant of the water-gas balance [1], over 0.

    Returns:
        The gases for each mole of carbon; nan where the oxygen does not even make carbon monoxide.
    """
    given = np.asarray(lambda_, dtype=np.float64)
    need = oxygen_need(h_to_c, o_to_c)
    lacks = 2.0 * need * np.clip(1.0 - given, 0.0, None)  # atoms of oxygen, shared out as CO and H2
    # x of CO solves (1 - K) x^2 + (H/2 - D + K (1 + D)) x - K D = 0; this form of the root holds at K = 1 too
    b = h_to_c / 2.0 - lacks + k * (1.0 + lacks)
    with np.errstate(invalid="ignore"):
        co = 2.0 * k * lacks / (b + np.sqrt(b * b + 4.0 * (1.0 - k) * k * lacks))
    co = np.where((co <= 1.0 + _ROUNDED) & (lacks - co <= h_to_c / 2.0 + _ROUNDED), co, np.nan)
    h2 = lacks - co
    return Burnt(
        co2=1.0 - co,
        co=co,
        h2o=h_to_c / 2.0 - h2,
        h2=h2,
        o2=need * np.clip(given - 1.0, 0.0, None) + 0.0 * co,
        inert=INERT_TO_OXYGEN * need * given,
    )
