"""Components mixed by volume: air for each kilogram of fuel is additive by mass, so the mean is exact."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

from bridge.physics.fuel.components import COMPONENTS, PUMP
from bridge.physics.fuel.elements import Atoms


@dataclass(frozen=True)
class Mixture:
    """What comes of it."""

    atoms: Atoms
    """In one kilogram [kmol]."""
    density_kg_m3: float
    """At 15 Cel, volumes taken to add up [kg/m3]."""
    afr: float
    """Stoichiometric, by mass, in dry air of CIPM-2007 [1]."""
    afr_sd: float
    """From components not well known and from what pump fuels really hold [1]."""


def mixture(shares: Mapping[str, float]) -> Mixture:
    """Mix components and pump fuels by volume.

    Args:
        shares: share by volume of each, which add up to 1 [1]; names of ``fuel_names()``.
    """
    volume, doubts = _pure(shares)
    parts = {name: COMPONENTS[name] for name in volume}
    density = sum(volume[name] * part.density_kg_m3 for name, part in parts.items())
    mass = {name: volume[name] * part.density_kg_m3 / density for name, part in parts.items()}
    afr = sum(mass[name] * part.afr for name, part in parts.items())
    variance = sum((mass[name] * part.afr_sd) ** 2 for name, part in parts.items())
    for sd in doubts:  # what a pump fuel gains in ethanol it loses in petrol
        gained, lost = (
            parts[name].density_kg_m3 * (parts[name].afr - afr) / density for name in ("ethanol", "petrol")
        )
        variance += ((gained - lost) * sd) ** 2
    kmol = {name: mass[name] / part.mass for name, part in parts.items()}
    atoms = Atoms(
        *(sum(kmol[name] * getattr(part, element) for name, part in parts.items()) for element in "chon")
    )
    return Mixture(atoms, density, afr, sqrt(variance))


def _pure(shares: Mapping[str, float]) -> tuple[dict[str, float], list[float]]:
    """Return the volumes of the components alone, and each pump fuel's doubt about its ethanol."""
    volume: dict[str, float] = {}
    doubts: list[float] = []
    for name, share in shares.items():
        ethanol, sd = PUMP.get(name, (0.0, 0.0))
        inside = {"ethanol": ethanol, "petrol": 1.0 - ethanol} if name in PUMP else {name: 1.0}
        for part, of_it in inside.items():
            volume[part] = volume.get(part, 0.0) + share * of_it
        if sd:
            doubts.append(share * sd)
    return volume, doubts
