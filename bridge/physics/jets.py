"""Carburettor: which circuit governs which slide opening.

Part of every opening belongs to its neighbour too: circuits overlap, and these openings are only where the
one hands over to the next as the larger share. Common practice, no source.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Circuit:
    """One part of the carburettor and the slide openings that it governs."""

    name: str
    opens_at: float
    """Slide opening from which on it governs [%]."""
    until: float
    """Opening at which the next one takes over [%]."""


CIRCUITS = (
    Circuit("pilot", 0.0, 12.5),
    Circuit("cutaway", 12.5, 25.0),
    Circuit("needle (straight)", 25.0, 50.0),
    Circuit("needle (taper)", 50.0, 75.0),
    Circuit("main", 75.0, 100.0),
)
"""Of a slide carburettor, by rising opening (common practice: eighths and quarters of the travel)."""

HAND_OVER_PERCENT = (*(circuit.opens_at for circuit in CIRCUITS), CIRCUITS[-1].until)
"""Slide openings at which the circuits hand over, with both ends [%]."""


def circuit_at(opening: float) -> str:
    """Return the name of the circuit that governs a slide opening.

    Args:
        opening: slide opening [%]. Below 0 the pilot answers and above 100 the main jet, since a throttle
            sensor's ends are never set to the last tenth.

    Returns:
        Its name. Holds for a slide carburettor only: with a constant-depression carburettor the slide
        follows the air and not the hand.
    """
    return next((c.name for c in reversed(CIRCUITS) if opening >= c.opens_at), CIRCUITS[0].name)
