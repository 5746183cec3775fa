"""What a tuner talks about, as plain values: bikes, set-ups, sessions, plugs, readings.

The logbook stores them and the analysis takes them; neither SQL nor a screen is known here.
"""

from bridge.model.bike import Bike, PlugSpec, Roller
from bridge.model.gas import GasAnalysis
from bridge.model.plug import Fitting, PlugLife, Reading, ScaleStatement
from bridge.model.session import Mark, PartState, Run, Session
from bridge.model.setup import Blend, CylinderSetup, Needle, Setup, StatedFuel, Weather

__all__ = [
    "Bike",
    "Blend",
    "CylinderSetup",
    "Fitting",
    "GasAnalysis",
    "Mark",
    "Needle",
    "PartState",
    "PlugLife",
    "PlugSpec",
    "Reading",
    "Roller",
    "Run",
    "ScaleStatement",
    "Session",
    "Setup",
    "StatedFuel",
    "Weather",
]
