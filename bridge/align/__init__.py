"""Device ticks to seconds, and the delay from valve to sensor."""

from bridge.align.clock import ClockFit, fit_clock, unwrap_ticks
from bridge.align.delay import Delay, geometry_delay
from bridge.align.fitted import DelayFit, Example, Found
from bridge.align.host_clock import HostClock, Jump, read_host_clock, with_sleep
from bridge.align.session import session_delay
from bridge.align.shift import (
    Knots,
    Nearest,
    between,
    filled_in,
    knots_of,
    longest_step_s,
    nearest,
    readings_at,
    typical_period_s,
)
from bridge.align.undo import undo_lag

__all__ = [
    "ClockFit",
    "Delay",
    "DelayFit",
    "Example",
    "Found",
    "HostClock",
    "Jump",
    "Knots",
    "Nearest",
    "between",
    "filled_in",
    "fit_clock",
    "geometry_delay",
    "knots_of",
    "longest_step_s",
    "nearest",
    "read_host_clock",
    "readings_at",
    "session_delay",
    "typical_period_s",
    "undo_lag",
    "unwrap_ticks",
    "with_sleep",
]
