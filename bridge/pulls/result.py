"""What is said of a session's pulls: each pull, each hold, and how they came about."""

from dataclasses import dataclass

import polars as pl

from bridge.align import Delay
from bridge.model import Mark, PullSettings, Run
from bridge.pulls.coast import Coasted
from bridge.pulls.conditions import Conditions
from bridge.pulls.corrected import Corrected
from bridge.pulls.course import Piece
from bridge.pulls.find import Findings
from bridge.pulls.mixture import Leaves, Mixture
from bridge.pulls.power import Along, Means, Place

CHOP_WITHIN_S = 5.0
"""A chop within so long of a pull's end read what that pull burned (common practice) [s]."""


@dataclass(frozen=True)
class Pull:
    """One pull."""

    session: int
    number: int
    """In the session, from 1."""
    piece: Piece
    gear: int | None
    conditions: Conditions
    corrected: Corrected
    curve: pl.DataFrame
    """One row a step of engine speed: ``rpm`` [1/min], ``lambda`` (mean of the cylinders [1]), for each lambda channel
    itself with ``_low`` and ``_high`` (95 %), each egt channel [Cel], ``power_kw`` and ``torque_nm`` (corrected where
    ``corrected.by`` says so), ``power_measured_kw``, ``power_sd_kw`` (what the filter leaves of the noise),
    ``power_bias_kw`` (told minus true by the filter's window) and ``driveline_loss_kw`` (by coast-downs)."""
    mixture: tuple[Mixture, ...]
    along: Along | None
    leaves: tuple[Leaves, ...]
    chop_s: float | None
    """Time from its end to a chop that followed it [s]."""
    notes: tuple[str, ...]

    @property
    def peak(self) -> tuple[float, float] | None:
        """The greatest power of the curve [kW] and its engine speed [1/min]; None without power."""
        known = self.curve.filter(pl.col("power_kw").is_not_null())
        if known.is_empty():
            return None
        row = known.row(int(known["power_kw"].arg_max() or 0), named=True)
        return float(row["power_kw"]), float(row["rpm"])


@dataclass(frozen=True)
class Hold:
    """One engine speed held at full throttle: a point."""

    start_s: float
    end_s: float
    gear: int | None
    rpm: float
    lambdas: dict[str, float | None]
    """Mean of each lambda channel [1]."""
    lambda_sds: dict[str, float | None]
    """Standard uncertainty of each by the whole budget [1]."""
    power_kw: float | None
    """Corrected as ``corrected`` says [kW]."""
    power_sd_kw: float | None
    """What noise leaves in it, as a standard uncertainty [kW]."""
    torque_nm: float | None
    at: Place | None
    """Where that power is told; None without power."""
    corrected: Corrected


@dataclass(frozen=True)
class Pulls:
    """The pulls of a session."""

    run: Run
    settings: PullSettings
    pulls: tuple[Pull, ...]
    holds: tuple[Hold, ...]
    findings: Findings
    means: Means
    coasted: Coasted | None
    delay: Delay
    target: float | None
    notes: tuple[str, ...]
    stops: tuple[str, ...] = ()
    """What the bike's plugs show that stops all talk of leaner, a sentence each, told by whoever has its readings."""


def chop_after(piece: Piece, marks: tuple[Mark, ...], within_s: float = CHOP_WITHIN_S) -> float | None:
    """Return how long after a pull a chop followed: its plug read what the pull burned.

    Args:
        piece: the pull.
        marks: of the session.
        within_s: what still belongs to the pull [s].

    Returns:
        Seconds from the pull's end to the chop, below 0 where the mark stands a moment before it [s]; None where
        none followed.
    """
    after = [mark.t_s - piece.end_s for mark in marks if mark.what == "chop"]
    return next((gap for gap in sorted(after) if -1.0 <= gap <= within_s), None)
