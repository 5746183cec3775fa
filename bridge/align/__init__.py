"""Device ticks to seconds, and the delay from valve to sensor."""

from bridge.align.clock import lay_on_time
from bridge.align.delay import Delay, geometry_delay
from bridge.align.shift import filled_in, longest_step_s, readings_at, typical_period_s

__all__ = [
    "Delay",
    "filled_in",
    "geometry_delay",
    "lay_on_time",
    "longest_step_s",
    "readings_at",
    "typical_period_s",
]
