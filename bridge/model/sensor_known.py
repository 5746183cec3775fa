"""What is known of the oxygen sensor that a run was measured by."""

from collections.abc import Sequence
from datetime import datetime

from bridge.channels.sensor import SensorEvent
from bridge.channels.sensor_state import SensorState, sensor_state
from bridge.model.bike import Bike
from bridge.model.session import Run


def state_of(run: Run, cylinder: int | None) -> SensorState:
    """Return what is known of a cylinder's oxygen sensor at the start of a run.

    Args:
        run: the session.
        cylinder: from 1; None for the one sensor that stands for the engine.
    """
    return state_at(run.bike, run.sensor_events, cylinder, run.session.started)


def state_at(
    bike: Bike | None, events: Sequence[SensorEvent], cylinder: int | None, at: datetime
) -> SensorState:
    """Return what is known of a cylinder's oxygen sensor at a moment.

    Args:
        bike: whose; None where nobody said, and the sensor then gets the wider uncertainty.
        events: the history of its sensors.
        cylinder: from 1; None for the one sensor that stands for the engine.
        at: the moment, with its zone.
    """
    if bike is None:
        return sensor_state(events, cylinder, at, strokes=None)
    if bike.cylinders == 1:
        cylinder = 1
    cell = bike.sensor_cell
    return sensor_state(events, cylinder, at, bike.strokes, cell.accuracy, cell.drift_per_year)


def pressure_corrected(run: Run) -> bool:
    """Return whether the exhaust's pressure was recorded, and taken out of the readings."""
    measured = any(name.startswith("exhaust_pressure") for name in run.samples.collect_schema().names())
    return measured and run.bike is not None and run.bike.sensor_cell.pressure_share is not None
