"""What is not known of the oxygen sensor itself: the doubts that stand beside the interval of a measured mean."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bridge.budget import Component
from bridge.model import Run
from bridge.model.sensor_known import state_of

ACCURACY = "the sensor's own accuracy"
DRIFT = "the sensor's drift since it was last checked"


@dataclass(frozen=True)
class SensorDoubt:
    """The doubts about a sensor's own constant errors, parted by what becomes of them from session to session.

    Attributes:
        constant: what stays the same from one session to the next (its accuracy, a stated offset, what a
            two-stroke's lost charge does), so that it cancels against the bike's own history.
        changing: what does not stay (drift), so that it counts there too.
        calibrated: False where the sensor reads lean by an unknown amount: a two-stroke without a stated
            trapped offset.
        checked_days: days from its last check to the last session [d]; None where none is on record.
        notes: what was assumed of it or taken from its history, one sentence each.
    """

    constant: tuple[Component, ...]
    changing: tuple[Component, ...]
    calibrated: bool
    checked_days: float | None
    notes: tuple[str, ...]

    @property
    def components(self) -> tuple[Component, ...]:
        """All of them, as they go into an absolute difference."""
        return self.constant + self.changing

    @property
    def sd(self) -> float:
        """Their combined standard uncertainty [1]."""
        return math.hypot(*(part.sd for part in self.components))


def sensor_doubt(
    runs: Sequence[Run], cylinder: int | None, shares: Sequence[float] | None = None
) -> SensorDoubt:
    """Return the doubts about the sensor over the sessions that a plug lived through.

    Args:
        runs: the sessions, oldest first, at least one.
        cylinder: whose sensor; None for one that stands for the whole engine.
        shares: how much each session counts for the mean, adding up to 1 [1]; the last one alone where left out.

    Returns:
        The doubts, each the mean over the sessions by their shares: one sensor's errors go the same way in all of
        them. Where it was replaced in between they do not, and this is then somewhat too wide.
    """
    states = [state_of(run, cylinder) for run in runs]
    weights = list(shares) if shares is not None else [0.0] * (len(states) - 1) + [1.0]
    accuracy = sum(w * state.accuracy_sd for w, state in zip(weights, states, strict=True))
    drift = sum(w * state.drift_sd for w, state in zip(weights, states, strict=True))
    counted = [state for w, state in zip(weights, states, strict=True) if w > 0.0]
    bike = runs[-1].bike
    knows_accuracy = bike is not None and bike.sensor_cell.accuracy is not None
    knows_drift = bike is not None and bike.sensor_cell.drift_per_year is not None
    stated = all(state.calibrated and (knows_accuracy or state.offset_sd > 0.0) for state in counted)
    return SensorDoubt(
        constant=(Component(ACCURACY, accuracy, _status(stated=stated)),),
        changing=(Component(DRIFT, drift, _status(stated=knows_drift)),),
        calibrated=all(state.calibrated for state in counted),
        checked_days=states[-1].checked_days,
        notes=tuple(dict.fromkeys(note for state in states for note in state.notes)),
    )


def _status(*, stated: bool) -> str:
    return "stated" if stated else "common practice"
