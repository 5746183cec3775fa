"""A virtual bike and logger, for trying everything without hardware."""

from bridge.emulator.engine import Circuits, VirtualBike
from bridge.emulator.logger import LoggerChannel, LoggerSettings, channel, damaged
from bridge.emulator.pty import run
from bridge.emulator.ride import Phase, Script, dyno_day, practice, short_ride
from bridge.emulator.scenario import Air, Ride, Scenario, make_ride
from bridge.emulator.sensors import Faults, Sensor

__all__ = [
    "Air",
    "Circuits",
    "Faults",
    "LoggerChannel",
    "LoggerSettings",
    "Phase",
    "Ride",
    "Scenario",
    "Script",
    "Sensor",
    "VirtualBike",
    "channel",
    "damaged",
    "dyno_day",
    "make_ride",
    "practice",
    "run",
    "short_ride",
]
