"""What a tuner talks about, as plain values: bikes, set-ups, sessions, plugs, readings.

The logbook stores them and the analysis takes them; neither SQL nor a screen is known here.
"""

from bridge.model.bike import Bike, PlugSpec
from bridge.model.bike_channels import ChannelFrom, SensorCell
from bridge.model.dyno import Brake, PullSettings, Road, Roller
from bridge.model.fuel import OwnFuel, StatedFuel
from bridge.model.gas import GasAnalysis
from bridge.model.photo import Photo
from bridge.model.plug import Fitting, PlugEvent, PlugLife, PlugStory, Reading, ScaleStatement
from bridge.model.session import Mark, PartState, Run, Session
from bridge.model.setup import CylinderSetup, Needle, Setup
from bridge.model.todo import Task
from bridge.model.weather import Weather, carried_notes, weather_notes

__all__ = [
    "Bike",
    "Brake",
    "ChannelFrom",
    "CylinderSetup",
    "Fitting",
    "GasAnalysis",
    "Mark",
    "Needle",
    "OwnFuel",
    "PartState",
    "Photo",
    "PlugEvent",
    "PlugLife",
    "PlugSpec",
    "PlugStory",
    "PullSettings",
    "Reading",
    "Road",
    "Roller",
    "Run",
    "ScaleStatement",
    "SensorCell",
    "Session",
    "Setup",
    "StatedFuel",
    "Task",
    "Weather",
    "carried_notes",
    "weather_notes",
]
