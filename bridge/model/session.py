"""Sessions and what was recorded in them."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import polars as pl

from bridge.channels.sensor import SensorEvent
from bridge.model.bike import Bike
from bridge.model.gas import GasAnalysis
from bridge.model.setup import Setup

SessionState = Literal["recording", "interrupted", "sealed"]
MarkWhat = Literal["chop", "lap", "start", "stop", "mark"]


@dataclass(frozen=True)
class Session:
    """One stretch of running with one set-up."""

    id: int
    started: datetime
    """UTC."""
    bike: str | None
    build: int | None
    """Number of the engine build, counted from 1 for each bike."""
    place: str | None
    kind: str | None
    """practice, road or dyno."""
    seconds: float
    samples: int
    state: SessionState
    source: str
    """Where it came from: a port, or the file that was imported."""
    notes: tuple[str, ...] = ()
    """What the reader of the bytes has to say, one sentence each: lines lost, values out of limits."""


@dataclass(frozen=True)
class Mark:
    """A moment that a button, a beacon or a person marked."""

    t_s: float
    what: str
    by: Literal["wire", "hand"]


@dataclass(frozen=True)
class PartState:
    """A part of the logger changed its state (warming, ready, fault, off)."""

    t_s: float
    part: str
    state: str


@dataclass(frozen=True)
class Run:
    """A session with everything that analysis needs of it.

    ``samples`` has one row a data line: ``t_s`` [s] (float64, rising, device clock, from the session's
    start), then one float32 column a channel, named and in units as the channel catalogue says; null where
    there was no valid reading. Lambda columns are as the sensor said them, not yet shifted by the delay. What
    the bike's file says of its channels (calibration points, a sensor's own table) is already applied.
    """

    session: Session
    bike: Bike | None
    setup: Setup
    samples: pl.LazyFrame
    marks: tuple[Mark, ...] = ()
    states: tuple[PartState, ...] = ()
    sensor_events: tuple[SensorEvent, ...] = ()
    """History of the bike's oxygen sensors up to this session's start, oldest first."""
    gas: tuple[GasAnalysis, ...] = ()
    """Exhaust-gas analyses of this session; the newest counts for each cylinder."""
    notes: tuple[str, ...] = ()
    """What was done to the channels since they were recorded, one sentence each."""
    weather_of: tuple[int, float] | None = None
    """The oldest session that a part of the set-up's weather was written for, and how long before [s]; None where it
    is all of this one."""
