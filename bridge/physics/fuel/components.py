"""What fuels are made of: pure substances and petrol, and what pumps sell."""

from dataclasses import dataclass
from math import sqrt

from bridge.physics.fuel.elements import Atoms, stoich_afr


@dataclass(frozen=True)
class Component(Atoms):
    """What blends are made of: C_c H_h O_o N_n, its density, and how well its AFR is known."""

    density_kg_m3: float = 745.0
    """At 15 Cel [kg/m3]."""
    afr_sd: float = 0.0

    @property
    def afr(self) -> float:
        """Stoichiometric air-fuel ratio by mass, in dry air of CIPM-2007 [1]."""
        return stoich_afr(self.c, self.h, self.o, self.n)


# Densities at 15 Cel: toluene, n-heptane, ethanol and methanol agree with CoolProp 8 to 1 kg/m3; the rest is
# from memory, nitromethane's at 20 Cel. Petrol: EN 228 allows 720 to 775 kg/m3 (from memory); CH1.87 is common
# practice, and pump petrols lie between about CH1.80 and CH1.95 (from memory): standard uncertainty 0.04 in H/C,
# 0.06 in AFR.
COMPONENTS = {
    "petrol": Component(1, 1.87, density_kg_m3=745.0, afr_sd=0.06),
    "alkylate": Component(1, 2.05, density_kg_m3=700.0, afr_sd=0.06),
    "ethanol": Component(2, 6, 1, density_kg_m3=794.0),
    "methanol": Component(1, 4, 1, density_kg_m3=796.0),
    "isooctane": Component(8, 18, density_kg_m3=696.0),
    "n-heptane": Component(7, 16, density_kg_m3=688.0),
    "toluene": Component(7, 8, density_kg_m3=872.0),
    "benzene": Component(6, 6, density_kg_m3=884.0),
    "mtbe": Component(5, 12, 1, density_kg_m3=745.0),
    "etbe": Component(6, 14, 1, density_kg_m3=745.0),
    "nitromethane": Component(1, 3, 2, 1, density_kg_m3=1137.0),
}

# Pump fuels: their nominal share of ethanol by volume, and its standard uncertainty. A pump's label is an
# upper bound: up to 5 % under it are common practice; E85 is seasonal, 51 to 83 % (ASTM D5798, from memory).
# Uniform over w has the standard uncertainty w / sqrt(12).
PUMP = {
    "e5": (0.05, 0.05 / sqrt(12)),
    "e10": (0.10, 0.05 / sqrt(12)),
    "e20": (0.20, 0.05 / sqrt(12)),
    "e85": (0.85, 0.32 / sqrt(12)),
}


def fuel_names() -> tuple[str, ...]:
    """Return every name that ``fuel_by_name`` knows, pump fuels first. Each may stand in a blend too."""
    return ("petrol", *PUMP, *(name for name in COMPONENTS if name != "petrol"))
