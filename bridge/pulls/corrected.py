"""Power brought to a standard's air: the factor and its name, or why there is none."""

from dataclasses import dataclass

from bridge.errors import BadValue, nearest
from bridge.physics.power import Correction, corrections
from bridge.pulls.conditions import Air

STANDARDS = ("iso_1585", "sae_j1349", "din_70020")
"""Short names of the standards; the first is taken where none is asked for: it is the motorcycles' own."""
NOT_FOR_MIXTURE = (
    "A correction makes up for the air's density alone. A mixture that moved with the weather is not put right by it,"
    " and power lost to it stays lost in the corrected figure"
)


@dataclass(frozen=True)
class Corrected:
    """What a correction did to a pull."""

    by: Correction | None
    """The standard that was used; None where power stands as measured."""
    because: str | None
    """Why it stands as measured, or that the standard was used outside its limits, in words."""
    all: dict[str, Correction]
    """Every standard's factor for this air; empty where the air is not known."""

    @property
    def factor(self) -> float:
        """What measured power was multiplied by [1]."""
        return 1.0 if self.by is None else self.by.factor


def check_standard(name: str) -> str:
    """Return a standard's short name, or ``none``.

    Raises:
        BadValue: it is none.
    """
    if name not in (*STANDARDS, "none"):
        raise BadValue(f"'{name}' is no correction{nearest(name, (*STANDARDS, 'none'))}")
    return name


def corrected(air: Air, standard: str = STANDARDS[0], *, anyway: bool = False) -> Corrected:
    """Return the correction of a pull.

    Args:
        air: that it breathed.
        standard: one of ``STANDARDS``, or ``none``.
        anyway: use the factor outside its standard's limits too, flagged; else it is refused there.
    """
    known = air.whole
    if known is None:
        missing = " and ".join(air.missing)
        return Corrected(None, f"the {missing} of the pull is not known, so nothing was corrected", {})
    found = corrections(*known)
    if standard == "none":
        return Corrected(None, None, found)
    wanted = found[standard]
    if wanted.valid:
        return Corrected(wanted, None, found)
    if anyway:
        return Corrected(wanted, f"{wanted.name} was used outside its limits: {wanted.because}", found)
    return Corrected(None, f"{wanted.name} is refused: {wanted.because}", found)
