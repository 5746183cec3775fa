"""The fuel of a session."""

from bridge.model import Blend, Setup, StatedFuel
from bridge.physics.fuel import Fuel, fuel_by_name, parse_blend, stated_afr


def session_fuel(setup: Setup) -> tuple[Fuel, str | None]:
    """Return what was in the tank, and a note where nobody said so.

    Args:
        setup: of the session; without a fuel petrol is assumed, which matters for AFR and not for lambda.
    """
    if setup.fuel is None:
        return fuel_by_name("petrol"), "the set-up names no fuel: AFR is that of petrol"
    if isinstance(setup.fuel, Blend):
        return parse_blend(setup.fuel.blend), None
    if isinstance(setup.fuel, StatedFuel):
        return stated_afr(setup.fuel.afr), None
    return fuel_by_name(setup.fuel), None
