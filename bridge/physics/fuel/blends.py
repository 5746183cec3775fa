"""Blends by volume, as a person writes them."""

from bridge.errors import BadValue, UnknownThing, nearest
from bridge.physics.fuel.components import fuel_names
from bridge.physics.fuel.elements import SUM_TOLERANCE
from bridge.physics.fuel.fuels import Fuel, fuel_of_mixture
from bridge.physics.fuel.mixing import mixture


def parse_blend(text: str) -> Fuel:
    """Return the fuel of a blend by volume.

    Args:
        text: shares by volume such as ``"ethanol=0.10,petrol=0.90"`` or ``"e10=0.85,nitromethane=0.15"``; they
            add up to 1 within 0.005 and are then scaled to it.

    Returns:
        The fuel, under the name of the text.

    Raises:
        BadValue: not of that form, a share below 0, a component twice, or shares that do not add up.
        UnknownThing: an unknown component; the message names the nearest one.
    """
    shares: dict[str, float] = {}
    for part in text.split(","):
        name, share = _share(part, text)
        if name in shares:
            raise BadValue(f"'{name}' stands twice in the blend '{text}'; give each component once")
        shares[name] = share
    total = sum(shares.values())
    if abs(total - 1.0) > SUM_TOLERANCE:
        raise BadValue(
            f"the shares of the blend '{text}' add up to {total:g}; by volume they must add up to 1"
        )
    scaled = {name: share / total for name, share in shares.items() if share > 0}
    return fuel_of_mixture(text.strip(), mixture(scaled))


def _share(part: str, text: str) -> tuple[str, float]:
    name, sign, number = part.partition("=")
    name = name.strip().lower()
    if name and name not in fuel_names():
        raise UnknownThing(f"unknown component '{name}' in the blend '{text}'{nearest(name, fuel_names())}")
    try:
        share = float(number)
    except ValueError:
        share = float("nan")
    if not (name and sign and 0 <= share <= 1 + SUM_TOLERANCE):
        raise BadValue(
            f"'{part.strip()}' in the blend '{text}' is not a component and its share by volume from 0 to 1;"
            " write it as ethanol=0.10,petrol=0.90",
        )
    return name, share
