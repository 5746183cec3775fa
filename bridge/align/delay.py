"""The delay from the charge that burns to the sensor's reading of it, from the pipe's geometry.

Dead time (one working cycle, then plug flow through the pipe) and the sensor's own lag, which to a slow
change looks like a delay of its time constant. What follows a charge pushes it along, so its dead time is
over once the flow from then on has carried it the whole way, however the flow changes meanwhile. What is not
known is assumed, with a wide uncertainty and a note.
"""

from dataclasses import dataclass
from math import hypot
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bridge.model import Bike, Weather
from bridge.physics import air, exhaust

Array = NDArray[np.float64]

SENSOR_LAG_S, SENSOR_LAG_SD_S = 0.10, 0.03
"""Time constant of a warm pump cell [s]; from memory: 0.05 to 0.15 s, slower under a hood."""
LONGEST_S = 2.0
"""No delay is taken to be longer: below about a third of idle speed the gas stands still [s]."""
EFFICIENCY_SD = 0.15
"""Relative, of the volumetric efficiency by throttle and speed (assumed)."""
EFFICIENCY_SD_BLIND = 0.35
"""Relative, without a throttle channel (assumed)."""
EXHAUST_TEMP_SD = 0.10
"""Relative, of the mean gas temperature in the pipe, measured at one place or assumed."""
COLLECTOR_SD = 0.30
"""Relative, of the pipe's volume over its flow where the pipes meet somewhere on the way."""
CYCLE_SD = 0.5
"""Of one cycle: where in it the charge leaves differs over the charge."""
UNDER_LOAD_PERCENT = 10.0
"""The delay of a session is told at its median gas flow with the throttle over this [%]."""

# stand-ins for what bike.toml leaves out, and their relative uncertainties (assumed)
_DISTANCE_MM, _DISTANCE_SD = 700.0, 0.4
_BORE_MM, _BORE_SD = 38.0, 0.2
_CYLINDER_CC, _CYLINDER_SD = 200.0, 0.5


@dataclass(frozen=True)
class Delay:
    """How much later the sensor says what burned."""

    seconds: float
    """Dead time plus sensor lag at the session's median gas flow with the throttle over 10 % [s]."""
    sd_s: float
    """Its standard uncertainty [s]."""
    from_: Literal["ride", "geometry"]
    note: str | None = None
    """What had to be assumed, and why the ride could not tell."""
    dead_s: float = 0.0
    """Of it, the time before the sensor sees anything of the charge: a cycle, the pipe, the electronics [s]."""
    dead_sd_s: float = 0.0
    """Its standard uncertainty; those of the two parts are not independent [s]."""
    lag_s: float = SENSOR_LAG_S
    """Of it, the time constant of the sensor's first-order answer [s]."""
    lag_sd_s: float = SENSOR_LAG_SD_S
    """Its standard uncertainty [s]."""


@dataclass(frozen=True)
class Pipe:
    """The gas path of one sensor."""

    volume_m3: float
    displacement_cc: float
    """Of the cylinders that breathe through it [cm3]."""
    strokes: int
    relative_sd: float
    """Of its volume over its flow."""
    missing: tuple[str, ...]
    """What had to be assumed, in words."""


def pipe_of(bike: Bike | None) -> Pipe:
    """Return the gas path of a bike's sensors; what the bike does not tell is assumed and named."""
    if bike is None:
        volume = exhaust.pipe_volume_m3(_DISTANCE_MM, _BORE_MM)
        sd = hypot(_DISTANCE_SD, 2 * _BORE_SD, _CYLINDER_SD)
        told = f"the session has no bike: a pipe of {_DISTANCE_MM:g} mm by {_BORE_MM:g} mm on a four-stroke"
        return Pipe(volume, _CYLINDER_CC, 4, sd, (f"{told} cylinder of {_CYLINDER_CC:g} cm3 is assumed",))
    each = bike.sensor == "each"
    missing = []
    sd = 0.0 if each else COLLECTOR_SD
    if bike.sensor_distance_mm is None:
        missing.append(f"the bike has no sensor_distance_mm: {_DISTANCE_MM:g} mm is assumed")
        sd = hypot(sd, _DISTANCE_SD)
    if bike.pipe_bore_mm is None:
        missing.append(f"the bike has no pipe_bore_mm: {_BORE_MM:g} mm is assumed")
        sd = hypot(sd, 2 * _BORE_SD)
    return Pipe(
        exhaust.pipe_volume_m3(bike.sensor_distance_mm or _DISTANCE_MM, bike.pipe_bore_mm or _BORE_MM),
        bike.displacement_cc / (bike.cylinders if each else 1),
        bike.strokes,
        sd,
        tuple(missing),
    )


def assumed_efficiency(throttle: Array, rpm: Array) -> Array:
    """Return the volumetric efficiency assumed for a carburetted engine.

    Args:
        throttle: opening [%], shape (n,); nan counts as half open.
        rpm: engine speed [1/min], shape (n,).

    Returns:
        Drawn air over displacement [1], 0.3 with the throttle shut, rising to 0.75 at low and 0.95 at high
        speed with it open. Assumed, within 15 %: common practice has 0.35 near idle, 0.5 at part throttle and
        0.8 to 0.95 fully open.
    """
    opening = np.clip(np.nan_to_num(throttle, nan=50.0), 0.0, 100.0)
    full = np.clip(0.75 + 0.02e-3 * rpm, 0.75, 0.95)
    return 0.3 + (full - 0.3) * (1.0 - np.exp(-opening / 25.0))


def assumed_exhaust_temp_k(rpm: Array) -> Array:
    """Return the mean gas temperature in the pipe where no thermocouple tells it [K].

    Args:
        rpm: engine speed [1/min], shape (n,).

    Returns:
        600 K and 50 K for each 1000 rpm, at most 1050 K (assumed, within 10 %).
    """
    return np.minimum(600.0 + 0.05 * rpm, 1050.0)


def geometry_delay(  # noqa: PLR0913, PLR0917  # three columns of one table, and what they are read by
    t_s: Array,
    rpm: Array,
    throttle: Array | None,
    egt_c: Array | None,
    bike: Bike | None,
    weather: Weather,
) -> tuple[Delay, Array]:
    """Return a session's delay, and the delay of each sample, from the geometry of the pipe.

    Args:
        t_s: rising times of the rows, shape (n,) [s]; they need not be even.
        rpm: engine speed [1/min], shape (n,); nan where there is no reading.
        throttle: opening [%], shape (n,), or None where there is no such channel.
        egt_c: exhaust-gas temperature near the sensor [Cel], shape (n,), or None.
        bike: its displacement, strokes, cylinders and where the sensor sits; what is missing is assumed.
        weather: of the intake air; the reference day where not known, which moves the delay by under 5 %.

    Returns:
        The session's delay, and what is to be added to the time of each sample to find the reading that
        shows its charge, shape (n,) [s]: from 0 to ``LONGEST_S``, nan where the speed is not known; longest
        near idle, and short for what an opening of the throttle flushes out. Where the flow on the way is
        not known, it is taken straight from one known flow to the next.
    """
    ways = ways_of(rpm, throttle, egt_c, bike, weather)
    dead_s = ways.transport_s + ways.cycle_s
    return told_by_geometry(ways), later_than(t_s, dead_s, SENSOR_LAG_S)


@dataclass(frozen=True)
class Ways:
    """How long the gas takes by geometry, at each row's own flow held steady."""

    pipe: Pipe
    transport_s: Array
    """Through the pipe, shape (n,) [s]; nan where the speed is not known, infinite where the engine stands."""
    cycle_s: Array
    """A working cycle, shape (n,) [s]; likewise."""
    loaded: NDArray[np.bool_]
    """Rows that the session's delay is told at, shape (n,)."""
    blind: bool
    """Without a throttle channel."""

    @property
    def usual(self) -> int | None:
        """Return the row of the median flow under load, or None where the engine never ran."""
        rows = np.flatnonzero(self.loaded)
        if len(rows) == 0:
            return None
        # a row and not a mean of two, so that speed, opening and flow are those of one moment
        dead_s = (self.transport_s + self.cycle_s)[rows]
        middle = len(rows) // 2
        return int(rows[np.argpartition(dead_s, middle)[middle]])


def ways_of(
    rpm: Array, throttle: Array | None, egt_c: Array | None, bike: Bike | None, weather: Weather
) -> Ways:
    """Return the times through the pipe by geometry; for the arguments see ``geometry_delay``."""
    pipe = pipe_of(bike)
    opening = np.full(len(rpm), np.nan) if throttle is None else throttle
    with np.errstate(divide="ignore", invalid="ignore"):
        transport_s = _transport(pipe, rpm, opening, egt_c, weather)
        cycle_s = exhaust.cycle_s(rpm, pipe.strokes)
    loaded = rpm > 0 if throttle is None else (rpm > 0) & (throttle > UNDER_LOAD_PERCENT)
    if not loaded.any():
        loaded = rpm > 0
    return Ways(pipe, transport_s, cycle_s, loaded, throttle is None)


def told_by_geometry(ways: Ways) -> Delay:
    """Return a session's delay from the geometry of the pipe."""
    notes = list(ways.pipe.missing)
    if not ways.loaded.any():
        notes.append("the engine never ran, so the delay is the sensor's lag alone")
        return Delay(SENSOR_LAG_S, SENSOR_LAG_SD_S, "geometry", _sentence(notes))
    # a median, so that of the flow and that of the transport through it are the same sample
    dead_s = (ways.transport_s + ways.cycle_s)[ways.loaded]
    seconds = float(np.median(np.minimum(dead_s + SENSOR_LAG_S, LONGEST_S)))
    cycle = float(np.median(ways.cycle_s[ways.loaded]))
    efficiency_sd = EFFICIENCY_SD_BLIND if ways.blind else EFFICIENCY_SD
    transport_sd = hypot(efficiency_sd, EXHAUST_TEMP_SD, ways.pipe.relative_sd)
    transport = max(0.0, seconds - SENSOR_LAG_S - cycle)
    dead_sd = hypot(transport * transport_sd, cycle * CYCLE_SD)
    sd = hypot(dead_sd, SENSOR_LAG_SD_S)
    return Delay(seconds, sd, "geometry", _sentence(notes), max(0.0, seconds - SENSOR_LAG_S), dead_sd)


def later_than(t_s: Array, dead_s: Array, lag_s: float) -> Array:
    """Return what is to be added to the time of each row to find the reading that shows its charge [s].

    Args:
        t_s: rising times of the rows, shape (n,) [s].
        dead_s: dead time at each row's own flow held steady, shape (n,) [s].
        lag_s: what is added whatever the flow: the sensor's lag, and a dead time of its own [s].
    """
    later: Array = np.clip(_on_the_way(t_s, dead_s) + lag_s, 0.0, LONGEST_S)
    return later


def _on_the_way(t_s: Array, dead_s: Array) -> Array:
    """Return how long each charge is on its way while the flow changes.

    A charge covers ``1 / dead`` of its way in a second, at the flow of that second, and is there when that
    adds up to one. For the pipe this is plug flow by continuity: the volume that has flowed since fills it.

    Args:
        t_s: rising times of the rows, shape (n,) [s].
        dead_s: dead time at each row's own flow held steady, shape (n,) [s]; nan where it is not known,
            infinite where the gas stands still.

    Returns:
        Dead times, shape (n,) [s], infinite where the gas never gets there; nan where ``dead_s`` is. Past the
        last row its flow is held.
    """
    known = ~np.isnan(dead_s)
    if not known.any():
        return dead_s
    rate = 1.0 / dead_s
    if not known.all():
        rate = np.interp(t_s, t_s[known], rate[known])
    way = np.empty(len(t_s) + 1)
    way[0] = 0.0
    np.cumsum(np.diff(t_s) * (rate[1:] + rate[:-1]) / 2.0, out=way[1:-1])
    way[-1] = way[-2] + rate[-1] * LONGEST_S
    there_s = np.interp(way[:-1] + 1.0, way, np.append(t_s, t_s[-1] + LONGEST_S), right=np.inf)
    return np.where(known, there_s - t_s, np.nan)


def _transport(pipe: Pipe, rpm: Array, throttle: Array, egt_c: Array | None, weather: Weather) -> Array:
    """Return the time through the pipe at each sample's gas flow, shape (n,) [s]."""
    temp_k = assumed_exhaust_temp_k(rpm)
    if egt_c is not None:
        temp_k = np.where(np.isnan(egt_c), temp_k, egt_c + air.KELVIN_AT_0_C)
    flow = exhaust.air_flow_kg_s(
        pipe.displacement_cc, rpm, assumed_efficiency(throttle, rpm), intake_density(weather), pipe.strokes
    )
    return exhaust.transport_s(pipe.volume_m3, exhaust.volume_flow_m3_s(flow, temp_k))


def intake_density(weather: Weather) -> float:
    """Return the density of the intake air, with the reference day for what is not known [kg/m3]."""
    temp, pressure, humidity = weather.air_temp_c, weather.air_pressure_hpa, weather.humidity_percent
    return float(
        air.moist_air_density(
            air.REFERENCE_TEMP_C if temp is None else temp,
            air.REFERENCE_PRESSURE_HPA if pressure is None else pressure,
            air.REFERENCE_HUMIDITY_PERCENT if humidity is None else humidity,
        ),
    )


def _sentence(notes: list[str]) -> str | None:
    return "; ".join(notes) or None
