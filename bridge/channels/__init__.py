"""The channel catalogue, calibrations, and the oxygen sensor's own history."""

from bridge.channels.catalogue import CATALOGUE, Channel, find, label, lambda_channel
from bridge.channels.sensor import SensorEvent
from bridge.channels.sensor_state import SensorState, sensor_state

__all__ = [
    "CATALOGUE",
    "Channel",
    "SensorEvent",
    "SensorState",
    "find",
    "label",
    "lambda_channel",
    "sensor_state",
]
