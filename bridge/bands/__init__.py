"""Throttle by engine speed, steady running only."""

from bridge.bands.cells import Bands, bands, counts
from bridge.bands.edges import Banding, banding
from bridge.bands.fuels import session_fuel
from bridge.bands.running import Running, prepare, running
from bridge.bands.steady import SENSOR_STATES, STATES, SteadyLimits

__all__ = [
    "SENSOR_STATES",
    "STATES",
    "Banding",
    "Bands",
    "Running",
    "SteadyLimits",
    "banding",
    "bands",
    "counts",
    "prepare",
    "running",
    "session_fuel",
]
