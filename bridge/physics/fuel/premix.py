"""Two-stroke premix: what the oil in the petrol does to the mixture and to its AFR.

The oil goes through the jet as petrol does and takes its place there. Whether it burns decides the rest; the truth
lies between, nearer to not in most engines (common practice, no source).
"""

from dataclasses import dataclass, replace
from math import exp, hypot, log, sqrt

from bridge.errors import BadValue
from bridge.physics.fuel.elements import Atoms, stoich_afr
from bridge.physics.fuel.fuels import Fuel
from bridge.physics.orifice import PETROL_VISCOSITY_MM2_S, jet_flow_g_s

OIL_DENSITY_KG_M3 = 870.0
"""Of two-stroke oil at 15 Cel [kg/m3]; common practice, no source."""
RICHEST_RATIO, LEANEST_RATIO = 5.0, 200.0
"""Petrol to oil by volume: outside it the ratio was written the other way round or in percent [1]."""

# Assumed: an oil of CH1.95, a hundred times as thick as petrol; fuels mix in the logarithm of viscosity (Arrhenius,
# from memory); a main jet of 1.10 mm at 4 kPa, since the oil's thickness matters little there, and in a pilot jet
# about a percent more.
_OIL = Atoms(1, 1.95)
_OIL_VISCOSITY_MM2_S = 60.0
_JET_MM, _DEPRESSION_PA = 1.10, 4000.0
_FUEL_DENSITY_KG_M3 = 745.0


@dataclass(frozen=True)
class Premix:
    """Fuel with oil in it.

    Attributes:
        fuel: what burns, and so what AFR speaks of: the fuel alone, or fuel and oil together.
        ratio: fuel to oil by volume, 32 for 32:1 [1].
        burns: whether the oil is taken to burn.
        oil_share: of the volume [1].
        oil_to_fuel: by mass [1].
        jet_flow: mass through the same main jet over that without oil [1].
        fuel_flow: mass of fuel through the same main jet over that without oil [1].
        lambda_factor: lambda with the same jets over that without oil [1]; over 1 is leaner.
    """

    fuel: Fuel
    ratio: float
    burns: bool
    oil_share: float
    oil_to_fuel: float
    jet_flow: float
    fuel_flow: float
    lambda_factor: float

    @property
    def sentence(self) -> str:
        """What it means, for a person."""
        leaner = 100.0 * (self.lambda_factor - 1.0)
        way = "leaner" if leaner >= 0.0 else "richer"
        if self.burns:
            return (
                f"the oil at {self.ratio:g}:1 is taken to burn: AFR is air over fuel and oil together,"
                f" {self.fuel.stoich_afr:.2f} at lambda 1, and the same jets give lambda {abs(leaner):.1f} % {way} than"
                " without oil"
            )
        return (
            f"the oil at {self.ratio:g}:1 is taken not to burn: AFR is air over the fuel alone; the same jets give"
            f" {100.0 * (1.0 - self.fuel_flow):.1f} % less of it and lambda {leaner:.1f} % {way} than without oil, and"
            " more oil is leaner still"
        )


def premix(
    fuel: Fuel,
    ratio: float,
    *,
    oil_density_kg_m3: float = OIL_DENSITY_KG_M3,
    burns: bool | None = None,
) -> Premix:
    """Return what oil in the fuel does.

    Args:
        fuel: without oil; where its density is not known, petrol's stands in.
        ratio: fuel to oil by volume, 32 for 32:1 [1]; 5 to 200.
        oil_density_kg_m3: at 15 Cel [kg/m3].
        burns: whether the oil is taken to burn; None is not, with the other way as a doubt about the AFR.

    Returns:
        The premix; its factors hold for a main jet and for a fuel about as thin as petrol.

    Raises:
        BadValue: a ratio outside 5 to 200.
    """
    if not RICHEST_RATIO <= ratio <= LEANEST_RATIO:
        raise BadValue(
            f"an oil ratio of {ratio:g} is outside {RICHEST_RATIO:g} to {LEANEST_RATIO:g}; write fuel to oil by"
            " volume, 32 for 32:1 (3 % of oil)"
        )
    density = fuel.density_kg_m3 or _FUEL_DENSITY_KG_M3
    oil_share = 1.0 / (ratio + 1.0)
    oil_to_fuel = oil_density_kg_m3 / (ratio * density)
    jet_flow = _flow(density, oil_density_kg_m3, oil_share) / _flow(density, oil_density_kg_m3, 0.0)
    fuel_flow = jet_flow / (1.0 + oil_to_fuel)
    together = _together(fuel, ratio, oil_to_fuel)
    if burns:
        burned, factor = together, fuel.stoich_afr / (jet_flow * together.stoich_afr)
    else:
        between = abs(together.stoich_afr - fuel.stoich_afr) / sqrt(3.0) if burns is None else 0.0
        burned, factor = replace(fuel, afr_sd=hypot(fuel.afr_sd, between)), 1.0 / fuel_flow
    return Premix(burned, ratio, bool(burns), oil_share, oil_to_fuel, jet_flow, fuel_flow, factor)


def _flow(density: float, oil_density: float, oil_share: float) -> float:
    """Return the mass through the jet [g/s]."""
    mixed = density * (1.0 - oil_share) + oil_density * oil_share
    viscosity = exp((1.0 - oil_share) * log(PETROL_VISCOSITY_MM2_S) + oil_share * log(_OIL_VISCOSITY_MM2_S))
    return jet_flow_g_s(_JET_MM, _DEPRESSION_PA, mixed, viscosity)[0]


def _together(fuel: Fuel, ratio: float, oil_to_fuel: float) -> Fuel:
    """Return fuel and oil as one fuel: air is additive by mass."""
    whole = 1.0 + oil_to_fuel
    afr = (fuel.stoich_afr + oil_to_fuel * stoich_afr(_OIL.c, _OIL.h)) / whole
    mixed = replace(
        fuel,
        name=f"{fuel.name} with oil {ratio:g}:1",
        stoich_afr=afr,
        afr_sd=fuel.afr_sd / whole,
    )
    if fuel.h_to_c is None or fuel.o_to_c is None:
        return mixed
    # carbon of the oil for each carbon of the fuel
    unit = Atoms(1.0, fuel.h_to_c, fuel.o_to_c, fuel.n_to_c or 0.0)
    oil = oil_to_fuel * unit.mass / _OIL.mass
    return replace(
        mixed,
        h_to_c=(fuel.h_to_c + oil * _OIL.h) / (1.0 + oil),
        o_to_c=fuel.o_to_c / (1.0 + oil),
        n_to_c=None if fuel.n_to_c is None else fuel.n_to_c / (1.0 + oil),
    )
