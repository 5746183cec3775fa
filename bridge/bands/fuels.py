"""The fuel of a session."""

from bridge.model import Setup, StatedFuel
from bridge.physics.fuel import OIL_DENSITY_KG_M3, RICHEST_RATIO, Fuel, fuel_by_name, premix

STATED_APART = 0.05
"""A supplier's AFR further than this share from the composition's own is questioned; common practice, no source."""


def session_fuel(setup: Setup) -> tuple[Fuel, str | None]:
    """Return the fuel that AFR speaks of, and what is to be known of it.

    Args:
        setup: of the session, as the logbook gives it, where a fuel of the tuner's own has its definition in place
            of its name. Without a fuel petrol is assumed, which matters for AFR and not for lambda.

    Returns:
        The fuel: with oil in it, and where the oil is taken to burn, fuel and oil together. The notes in one text,
        None where there is none.

    Raises:
        UnknownThing: the set-up names a fuel that there is not.
    """
    fuel, notes = _tank(setup)
    ratio = setup.oil_ratio or 0.0
    if 0.0 < ratio < RICHEST_RATIO:
        notes.append(
            f"an oil ratio of {ratio:g}:1 cannot be and was left out of account; write it as fuel to oil by volume, 32"
            " for 32:1"
        )
    elif ratio:
        mixed = premix(
            fuel,
            ratio,
            oil_density_kg_m3=setup.oil_density_kg_m3 or OIL_DENSITY_KG_M3,
            burns=setup.oil_burns,
        )
        fuel = mixed.fuel
        notes.append(mixed.sentence)
    return fuel, "; ".join(notes) or None


def _tank(setup: Setup) -> tuple[Fuel, list[str]]:
    """Return the fuel without oil."""
    if setup.fuel is None:
        return fuel_by_name("petrol"), ["the set-up names no fuel: AFR is that of petrol"]
    if isinstance(setup.fuel, str):
        return fuel_by_name(setup.fuel), []
    return setup.fuel.fuel(), _questioned(setup.fuel)


def _questioned(stated: StatedFuel) -> list[str]:
    composed = stated.composed()
    if composed is None or stated.afr is None:
        return []
    apart = stated.afr / composed.stoich_afr - 1.0
    if abs(apart) <= STATED_APART:
        return []
    way = "above" if apart > 0 else "below"
    told = f"the stated AFR of {stated.afr:g} is {100 * abs(apart):.0f} % {way}"
    return [f"{told} that of its own composition, {composed.stoich_afr:.2f}; check both"]
