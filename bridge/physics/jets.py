"""Carburettor: which circuit governs which slide opening, and how jets are scaled.

Part of every opening belongs to its neighbours too: circuits overlap. Where the needle's geometry is known the
shares of needle and main jet follow from it; else, and for pilot and cutaway always, they are common practice.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bridge.physics.orifice import annulus_mm2, bore_area_mm2, series_mm2

Floats = NDArray[np.float64]


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

# Shares of each circuit where one hands over to the next, straight between. Common practice, no source: the two
# that hand over are equal there, so that the one of CIRCUITS is the largest in its own span; beside them the main
# jet works along from a quarter on, since it stands in series with the needle jet.
_SHARES = {
    "pilot": (0.85, 0.40, 0.15, 0.05, 0.025, 0.0),
    "cutaway": (0.15, 0.40, 0.35, 0.10, 0.05, 0.0),
    "needle (straight)": (0.0, 0.15, 0.35, 0.325, 0.125, 0.05),
    "needle (taper)": (0.0, 0.0, 0.05, 0.325, 0.40, 0.15),
    "main": (0.0, 0.05, 0.10, 0.20, 0.40, 0.80),
}


@dataclass(frozen=True)
class NeedleGeometry:
    """Needle, needle jet and main jet of one carburettor.

    Attributes:
        needle_jet_bore_mm: bore of the needle jet [mm].
        straight_mm: diameter of the needle's straight part [mm].
        taper_start_mm: lift at which the taper comes into the needle jet, at the clip position in use [mm].
        taper_deg: included angle of the taper [deg].
        main_jet_bore_mm: bore of the main jet [mm].
        slide_travel_mm: lift of the slide at full opening [mm].
    """

    needle_jet_bore_mm: float
    straight_mm: float
    taper_start_mm: float
    taper_deg: float
    main_jet_bore_mm: float
    slide_travel_mm: float

    def annulus_mm2(self, lift_mm: float | Floats) -> Floats:
        """Return the free area between needle and needle jet at a lift [mm2]."""
        return annulus_mm2(
            lift_mm, self.needle_jet_bore_mm, self.straight_mm, self.taper_start_mm, self.taper_deg
        )

    def main_share(self, lift_mm: float | Floats) -> Floats:
        """Return how much of a relative change of the main jet's area arrives in the flow [1].

        The needle has the rest: in series the two shares add to 1 (closed form, equal discharge coefficients).
        """
        main = bore_area_mm2(self.main_jet_bore_mm)
        return (series_mm2(self.annulus_mm2(lift_mm), main) / main) ** 2

    def straight_share(self, lift_mm: float | Floats) -> Floats:
        """Return the part of the annulus that the straight part alone would leave [1]; the taper has the rest."""
        straight = self.annulus_mm2(0.0)
        return straight / self.annulus_mm2(lift_mm)


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


def shares_by_opening(openings: Floats, geometry: NeedleGeometry | None = None) -> dict[str, Floats]:
    """Return the share that each circuit has in the mixture, opening by opening.

    Args:
        openings: slide openings [%], any shape; under 0 and over 100 as at that end, nan stays nan.
        geometry: where it is known, it divides what pilot and cutaway leave between needle and main jet.

    Returns:
        For each circuit, by rising opening, its share [1] in the shape of ``openings``: continuous, 0 to 1, adding
        up to 1. By common practice without a source; with a geometry that of needle and main jet is the closed
        form of two orifices in series. Of a slide carburettor, steady and warm.
    """
    known = np.clip(np.asarray(openings, dtype=np.float64), 0.0, 100.0)
    shares = {name: np.interp(known, HAND_OVER_PERCENT, knots) for name, knots in _SHARES.items()}
    if geometry is None:
        return shares
    lift = known / 100.0 * geometry.slide_travel_mm
    rest = 1.0 - shares["pilot"] - shares["cutaway"]
    main, straight = geometry.main_share(lift), geometry.straight_share(lift)
    return shares | {
        "needle (straight)": rest * (1.0 - main) * straight,
        "needle (taper)": rest * (1.0 - main) * (1.0 - straight),
        "main": rest * main,
    }


def circuit_shares(opening: float, geometry: NeedleGeometry | None = None) -> dict[str, float]:
    """Return the share that each circuit has in the mixture at one opening, as ``shares_by_opening`` does.

    Args:
        opening: slide opening [%].
        geometry: of the needle, where it is known.
    """
    return {name: float(share) for name, share in shares_by_opening(np.asarray(opening), geometry).items()}


def mean_shares(openings: Floats, geometry: NeedleGeometry | None = None) -> dict[str, float]:
    """Return the mean of the shares over many openings, as a band has them.

    Args:
        openings: slide openings [%], one or more; nan ones do not count.
        geometry: of the needle, where it is known.
    """
    known = np.asarray(openings, dtype=np.float64)
    return {name: float(np.nanmean(s)) for name, s in shares_by_opening(known, geometry).items()}


def governing(shares: dict[str, float]) -> str:
    """Return the circuit with the largest share; of equal ones the one of the wider opening."""
    return max(reversed(CIRCUITS), key=lambda circuit: shares[circuit.name]).name


def shares_status(geometry: NeedleGeometry | None) -> str:
    """Return in words where shares come from."""
    if geometry is None:
        return "shares of the circuits by common practice, no source; circuits overlap"
    return (
        "shares of needle and main jet from the needle's geometry (two orifices in series), those of pilot and"
        " cutaway by common practice, no source"
    )


Numbering = Literal["bore", "flow"]
"""What a jet's number is proportional to: its diameter, or its flow at a fixed head."""


def jet_for_lambda(number: float, lambda_now: float, lambda_wanted: float, by: Numbering) -> float:
    """Return the main jet that takes one lambda to another at wide throttle.

    Args:
        number: of the jet that is in.
        lambda_now: what it gives [1].
        lambda_wanted: what it should give [1].
        by: what the numbers mean; taking one for the other doubles the step or halves it.

    Returns:
        The number wanted, of the same numbering. Fuel goes with the area (elementary carburettor theory): holds
        for small steps at wide throttle with the jet alone in charge; else divide the step by its share.
    """
    return float(number * (lambda_now / lambda_wanted) ** _power(by))


def lambda_after_jet(
    lambda_now: float, number: float, new_number: float, by: Numbering, share: float = 1.0
) -> float:
    """Return the lambda that another jet gives: the inverse of ``jet_for_lambda`` at a share of 1.

    Args:
        lambda_now: with the jet that is in [1].
        number: of that jet.
        new_number: of the other one.
        by: what the numbers mean.
        share: of this jet in the mixture at this opening [1], see ``circuit_shares``.
    """
    return float(lambda_now * (number / new_number) ** (share / _power(by)))


def jet_for_density(number: float, density_ratio: float, by: Numbering) -> float:
    """Return the main jet that keeps lambda when the air's density changes.

    Args:
        number: of the jet that was right.
        density_ratio: density of the air now over that when it was right [1]; over 0.
        by: what the numbers mean.

    Returns:
        The number wanted: thin air takes a smaller jet. By lambda in proportion to the root of the density at a
        fixed jet (elementary carburettor theory), a first guess until the bike's own exponent is known.
    """
    return float(number * density_ratio ** (_power(by) / 2.0))


def _power(by: Numbering) -> float:
    return 0.5 if by == "bore" else 1.0
