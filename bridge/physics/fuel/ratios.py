"""Lambda, AFR and the fuel-air equivalence ratio: three ways to say one mixture.

All take numbers, arrays, series or polars expressions. Validity: any mixture over 0; a ratio of 0 or less has no
meaning, and gives infinity, nan or a negative number, as division does.
"""

from typing import TypeVar, cast

from bridge.physics.fuel.fuels import Fuel

Number = TypeVar("Number")


def afr_from_lambda(lambda_: Number, fuel: Fuel) -> Number:
    """Return the air-fuel ratio by mass [1] of a lambda [1]: it is that of this fuel, in dry air of CIPM-2007."""
    return cast("Number", lambda_ * fuel.stoich_afr)  # type: ignore[operator]  # any kind of number will do


def lambda_from_afr(afr: Number, stoich: float) -> Number:
    """Return lambda [1] of an air-fuel ratio [1].

    Args:
        afr: by mass.
        stoich: the stoichiometric one that it was written for, not that of what is in the tank [1].
    """
    return cast("Number", afr / stoich)  # type: ignore[operator]  # any kind of number will do


def phi_from_lambda(lambda_: Number) -> Number:
    """Return the fuel-air equivalence ratio [1] of a lambda [1]: its inverse."""
    return cast("Number", 1.0 / lambda_)  # type: ignore[operator]  # any kind of number will do


def lambda_from_phi(phi: Number) -> Number:
    """Return lambda [1] of a fuel-air equivalence ratio [1]: its inverse."""
    return phi_from_lambda(phi)


def convert_afr(afr: Number, written_for: float | Fuel, fuel: Fuel) -> Number:
    """Return the air-fuel ratio for the fuel in the tank of one that was written for another.

    Args:
        afr: as it was written, by mass [1].
        written_for: the fuel, or the stoichiometric ratio, that it was written for: a column that says 14.7 at
            lambda 1 was written for 14.7, whatever was in the tank.
        fuel: what was in the tank.

    Returns:
        Air over this fuel by mass [1], at the same lambda.
    """
    stoich = written_for.stoich_afr if isinstance(written_for, Fuel) else written_for
    return afr_from_lambda(lambda_from_afr(afr, stoich), fuel)


def same_jet_factor(before: Fuel, after: Fuel) -> float | None:
    """Return what lambda is multiplied by when the fuel changes and the jets stay.

    The orifice law: a jet passes mass as the root of density, so lambda goes as 1 / (AFR sqrt(density)). Elementary
    carburettor theory; holds for a jet in turbulent flow, so rather for the main jet than for the pilot.

    Args:
        before: the fuel that the jets were chosen for.
        after: the fuel now.

    Returns:
        The factor [1], over 1 where the engine runs leaner; None where a density is not known.
    """
    if before.density_kg_m3 is None or after.density_kg_m3 is None:
        return None
    root: float = (before.density_kg_m3 / after.density_kg_m3) ** 0.5
    return before.stoich_afr / after.stoich_afr * root
