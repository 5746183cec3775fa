"""A fuel, by its name, by its composition or by what its supplier states."""

from dataclasses import dataclass, replace

from bridge.errors import BadValue, UnknownThing, nearest
from bridge.physics.fuel.components import COMPONENTS, PUMP, fuel_names
from bridge.physics.fuel.elements import Atoms, parse_formula, parse_mass_fractions, stoich_afr
from bridge.physics.fuel.mixing import Mixture, mixture

STATED_AFR_SD = 0.03
"""Standard uncertainty of a supplier's figure: it is rounded to one decimal (common practice)."""
MASS_SD = 0.003
"""Relative standard uncertainty of an AFR from mass fractions: two decimals of hydrogen (common practice)."""
LEAST_DENSITY, MOST_DENSITY = 400.0, 2000.0
"""What liquid fuels weigh [kg/m3]."""


@dataclass(frozen=True)
class Fuel:
    """A fuel as the rest of the program needs it. None is not known."""

    name: str
    stoich_afr: float
    """Stoichiometric air-fuel ratio by mass, in dry air of CIPM-2007 [1]."""
    h_to_c: float | None
    """Atoms of hydrogen for each of carbon [1]; None also where there is no carbon."""
    o_to_c: float | None
    """Atoms of oxygen for each of carbon [1]."""
    density_kg_m3: float | None
    """At 15 Cel [kg/m3]."""
    afr_sd: float = 0.0
    """Standard uncertainty of ``stoich_afr`` from not knowing what exactly is in the tank [1]."""
    n_to_c: float | None = None
    """Atoms of nitrogen for each of carbon [1]."""


def fuel_by_name(name: str) -> Fuel:
    """Return a fuel by its name.

    Args:
        name: one of ``fuel_names()``, in any case.

    Raises:
        UnknownThing: there is no such fuel; the message names the nearest one.
    """
    known = name.strip().lower()
    if known not in PUMP and known not in COMPONENTS:
        raise UnknownThing(f"unknown fuel '{name}'{nearest(known, fuel_names())}")
    return fuel_of_mixture(known, mixture({known: 1.0}))


def fuel_of_formula(formula: str, density_kg_m3: float | None = None) -> Fuel:
    """Return the fuel of a formula.

    Args:
        formula: such as ``C8H18`` or ``CH3OH``, or for each atom of carbon ``CH1.87``.
        density_kg_m3: at 15 Cel; None where it is not known [kg/m3].

    Raises:
        BadValue: no formula of C, H, O and N, nothing in it that burns, or a density that no liquid fuel has.
    """
    return _fuel_of_atoms(formula.strip(), parse_formula(formula), density_kg_m3, 0.0)


def fuel_of_mass(fractions: str, density_kg_m3: float | None = None) -> Fuel:
    """Return the fuel of a composition by mass.

    Args:
        fractions: such as ``C=0.86,H=0.14``; C, H, O and N add up to 1 within 0.005 and are scaled to it.
        density_kg_m3: at 15 Cel; None where it is not known [kg/m3].

    Raises:
        BadValue: not of that form, fractions that do not add up, nothing in it that burns, or a density that no
            liquid fuel has.
    """
    return _fuel_of_atoms(fractions.strip(), parse_mass_fractions(fractions), density_kg_m3, MASS_SD)


def stated_afr(afr: float) -> Fuel:
    """Return a fuel of which only the supplier's stoichiometric AFR is known.

    Args:
        afr: as the supplier states it, by mass [1]; 1 to 40.

    Raises:
        BadValue: outside 1 to 40.
    """
    return Fuel(f"stated AFR {afr:g}", _checked_afr(afr), None, None, None, STATED_AFR_SD)


def with_stated_afr(fuel: Fuel, afr: float) -> Fuel:
    """Return a fuel with its supplier's stoichiometric AFR in place of the reckoned one; all else stays.

    Args:
        fuel: of which the composition is known.
        afr: as the supplier states it, by mass [1]; 1 to 40.

    Raises:
        BadValue: outside 1 to 40.
    """
    name = f"{fuel.name}, stated AFR {afr:g}"
    return replace(fuel, name=name, stoich_afr=_checked_afr(afr), afr_sd=STATED_AFR_SD)


def with_density(fuel: Fuel, density_kg_m3: float) -> Fuel:
    """Return a fuel with its supplier's density in place of the reckoned one [kg/m3 at 15 Cel].

    Raises:
        BadValue: a density that no liquid fuel has.
    """
    return replace(fuel, density_kg_m3=_checked_density(density_kg_m3))


def fuel_of_mixture(name: str, mixed: Mixture) -> Fuel:
    """Return the fuel of a mixture of components, under a name."""
    return Fuel(
        name=name,
        stoich_afr=mixed.afr,
        h_to_c=mixed.atoms.h / mixed.atoms.c,
        o_to_c=mixed.atoms.o / mixed.atoms.c,
        density_kg_m3=mixed.density_kg_m3,
        afr_sd=mixed.afr_sd,
        n_to_c=mixed.atoms.n / mixed.atoms.c,
    )


def _fuel_of_atoms(name: str, atoms: Atoms, density_kg_m3: float | None, share_sd: float) -> Fuel:
    afr = stoich_afr(atoms.c, atoms.h, atoms.o, atoms.n)
    if density_kg_m3 is not None:
        _checked_density(density_kg_m3)
    ratios = (atoms.h / atoms.c, atoms.o / atoms.c, atoms.n / atoms.c) if atoms.c > 0 else (None, None, None)
    return Fuel(name, afr, ratios[0], ratios[1], density_kg_m3, share_sd * afr, ratios[2])


def _checked_afr(afr: float) -> float:
    if not 1 < afr < 40:
        raise BadValue(f"a stoichiometric AFR of {afr:g} is outside 1 to 40; petrol has about 14.6")
    return afr


def _checked_density(density: float) -> float:
    if not LEAST_DENSITY <= density <= MOST_DENSITY:
        raise BadValue(
            f"a density of {density:g} kg/m3 is outside {LEAST_DENSITY:g} to {MOST_DENSITY:g}; petrol has about 745"
        )
    return density
