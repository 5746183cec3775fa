"""Throttle by engine speed, steady running only."""

from bridge.bands.cells import Bands, bands, counts
from bridge.bands.channel import add_up
from bridge.bands.edges import Banding, banding
from bridge.bands.fuels import session_fuel
from bridge.bands.running import Running, prepare, running
from bridge.bands.season import counts_version, kept_counts, season
from bridge.bands.steady import SENSOR_STATES, STATES, SteadyLimits
from bridge.bands.uncertainty import FullThrottle

__all__ = [
    "SENSOR_STATES",
    "STATES",
    "Banding",
    "Bands",
    "FullThrottle",
    "Running",
    "SteadyLimits",
    "add_up",
    "banding",
    "bands",
    "counts",
    "counts_version",
    "kept_counts",
    "prepare",
    "running",
    "season",
    "session_fuel",
]
