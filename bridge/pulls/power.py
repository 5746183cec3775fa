"""Power and torque along a pull: from an inertia roller, from a brake's load cell, or from what a road resists.

What is differentiated is differentiated once, by the same window for every run (``bridge.physics.slope``), and each
figure carries the noise that the window left and the bias that it made. Nothing is added for the driveline unless a
coast-down of the same session measured it.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bridge.model import Bike, Run
from bridge.physics import dyno, slope
from bridge.physics.air import STANDARD_DENSITY_KG_M3, moist_air_density
from bridge.pulls.coast import Coasted
from bridge.pulls.conditions import Air
from bridge.pulls.course import Piece
from bridge.pulls.log import Log, Near

Array = NDArray[np.float64]
Source = Literal["roller", "brake", "road"]
Place = Literal["wheel", "wheel, the driveline's loss added", "crankshaft"]

_KMH = 3.6
_ON_THE_ROLLER = (
    'the brake is taken to sit on the roller, since nobody said where; write on = "roller" or on = "engine" into'
    " [brake] of bike.toml, for on the crankshaft the same torque is many times the power"
)


@dataclass(frozen=True)
class Means:
    """What a session's power is told by."""

    source: Source | None
    why_not: str | None
    """What is missing for it, in a sentence without its full stop; None where there is a source."""
    load: str | None = None
    """The channel of the brake's torque or force."""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Along:
    """Power along a pull, even in time where the window is whole."""

    rpm: Array
    """Engine speed, shape (n,) [1/min]."""
    kw: Array
    """As measured, where ``at`` says, shape (n,) [kW]."""
    sd_kw: Array
    """What the noise of the speed leaves in each figure, shape (n,) [kW]."""
    bias_kw: Array
    """What the window makes each figure differ, told minus true, shape (n,) [kW]; nan where it cannot be told."""
    loss_kw: Array
    """What the coast-downs show the driveline to take besides, shape (n,) [kW]; nan where none tells."""
    by: Source
    at: Place
    points: int
    """Of the window."""
    step_s: float
    notes: tuple[str, ...] = ()


def means_of(run: Run, log: Log) -> Means:
    """Return what a session's power is told by, or what is missing.

    A brake goes first, then a roller, unless the session was on the road.
    """
    bike = run.bike
    if bike is None:
        return Means(
            None, "the session has no bike, so neither a roller nor a mass is known and there is no power"
        )
    brake, tried = bike.brake, []
    if brake is not None or log.has("torque"):
        load = "torque" if log.has("torque") else brake.load_cell if brake else None
        if load is not None and log.has(load):
            if (brake is not None and brake.on == "engine") or _turns(log, bike):
                unsaid = brake is None or "on" not in brake.model_fields_set
                return Means("brake", None, load, (_ON_THE_ROLLER,) if unsaid else ())
            tried.append("a brake on the roller needs the channel roller_rpm")
        else:
            tried.append(
                "the brake needs the channel torque, or load_cell and arm_mm in [brake] of bike.toml"
            )
    on_road = run.setup.kind in {"road", "practice"} or (run.setup.kind is None and not log.has("roller_rpm"))
    ways = (_road, _roller) if on_road else (_roller, _road)
    for way in ways:
        source, missing = way(log, bike)
        if not missing:
            return Means(source, None)
        tried.append(missing)
    return Means(None, "there is no power: " + "; ".join(tried))


def _turns(log: Log, bike: Bike) -> bool:
    """Return whether the roller's speed is told: by a channel that ever moved."""
    diameter = bike.roller.diameter_mm if bike.roller else None
    return log.road == "roller_rpm" or (log.road == "speed" and diameter is not None)


def _roller(log: Log, bike: Bike) -> tuple[Source, str]:
    if bike.roller is None:
        return "roller", "the bike has no [roller]"
    if bike.roller.own_kg_m2 is None:
        return (
            "roller",
            "the bike's [roller] has no inertia: inertia_kg_m2, or diameter_mm with mass_kg or length_mm",
        )
    if _turns(log, bike):
        return "roller", ""
    if log.has("roller_rpm"):
        return "roller", "the roller never turned by its channel roller_rpm; look at its sensor"
    return "roller", "the roller needs the channel roller_rpm, or speed and its diameter_mm"


def _road(log: Log, bike: Bike) -> tuple[Source, str]:
    road = bike.road
    named = ("mass_kg", "drag_area_m2", "rolling_resistance")
    missing = [name for name in named if getattr(road, name) is None]
    if missing:
        return "road", f"the bike's [road] has no {' and no '.join(missing)}"
    return "road", "" if log.has("speed") else "the road needs the channel speed"


def power_along(  # noqa: PLR0913, PLR0917  # a pull and what its power is told by
    run: Run,
    log: Near,
    piece: Piece,
    means: Means,
    air: Air,
    coasted: Coasted | None,
    window_s: float,
    *,
    add_loss: bool = False,
) -> Along | None:
    """Return the power along a pull, as measured.

    Args:
        run: the session.
        log: its channels.
        piece: the pull.
        means: what power is told by.
        air: of the pull; the road's drag needs its density.
        coasted: the driveline's own loss, where a coast-down measured it.
        window_s: of the differentiation [s].
        add_loss: add it. Nobody but the tuner knows whether the roller ran out by itself or was braked.

    Returns:
        None where there is no source, or where no window of the pull is whole.
    """
    bike = run.bike
    if bike is None or means.source is None:
        return None
    if means.source == "brake" and bike.brake is not None and bike.brake.on == "engine":
        return _at_the_crank(log, piece, means.load or "torque", bike, window_s)
    on_road = means.source == "road"
    channel = "roller_rpm" if log.road == "roller_rpm" and not on_road else "speed"
    load = means.load or "torque" if means.source == "brake" else None
    turning = _differentiated(log, piece, channel, _scale(channel, bike, on_road=on_road), window_s, load)
    if turning is None:
        return None
    rpm, speed, slopes, noise = turning
    if on_road:
        density, notes = _density(air)
        notes += () if run.setup.slope_percent is not None else ("the road is taken as level",)
        road = bike.road
        rise = (run.setup.slope_percent or 0.0) / 100.0
        told = (density, road.drag_area_m2 or 0.0, road.rolling_resistance or 0.0, rise)
        kw: Array = dyno.road_load_w(road.mass_kg or 0.0, road.rotating_kg, speed, slopes.used, *told) / 1e3
        each = (road.mass_kg or 0.0) + road.rotating_kg
    else:
        each, notes = inertia_of(bike, piece, log)
        kw = dyno.inertia_power_w(each, speed, slopes.used) / 1e3
    loss = np.full(len(kw), np.nan) if coasted is None else coasted.loss_kw(each, speed)
    added = add_loss and coasted is not None
    sd = each * np.abs(speed) * slope.slope_sd(noise, slopes.step_s, slopes.half) / 1e3
    if slopes.load is not None:
        turn = _nm_each(load or "torque", bike) * speed / 1e3
        kw = kw + slopes.load * turn
        sd = np.hypot(sd, slope.value_sd(slopes.load_noise, slopes.half) * np.abs(turn))
    bias = each * speed * slopes.bias / 1e3
    return Along(
        rpm,
        kw + loss if added else kw,
        sd,
        bias,
        loss,
        means.source,
        "wheel, the driveline's loss added" if added else "wheel",
        2 * slopes.half + 1,
        slopes.step_s,
        tuple(notes),
    )


@dataclass(frozen=True)
class _Slopes:
    used: Array
    bias: Array
    step_s: float
    half: int
    load: Array | None
    """Of the brake, in its channel's unit, smoothed by the same window."""
    load_noise: float
    """Standard deviation of its readings' noise."""


def _differentiated(  # noqa: PLR0913, PLR0917  # two channels and how they are taken
    log: Near, piece: Piece, channel: str, scale: float, window_s: float, load: str | None
) -> tuple[Array, Array, _Slopes, float] | None:
    """Return engine speed, the wheel's speed, its slope with the brake's load, and the noise of the speed."""
    rows = log.rows(piece.start_s, piece.end_s)
    own = log.columns[channel][rows]
    known = ~np.isnan(own)
    # a channel slower than the log is differentiated at its own readings: in between there is nothing new
    readings = int(known.sum())
    if readings < 4:
        return None
    every = max(1, round(len(own) / readings))
    step = max(log.period_s * every, log.step_s)
    at = np.arange(piece.start_s, piece.end_s + 1e-9, step)
    speed = log.on(channel, at, rows) * scale
    half = slope.half_window(window_s, step)
    used = slope.slope(speed, step, half)
    taken = None if load is None else log.on(load, at, rows)
    held = None if taken is None else slope.smoothed(taken, half)
    whole = ~np.isnan(used) if held is None else ~np.isnan(used) & ~np.isnan(held)
    if not whole.any():
        return None
    wide = slope.slope(speed, step, 2 * half)
    rpm = slope.smoothed(log.on("rpm", at, rows), half)
    smooth = slope.smoothed(speed, half)
    noise = slope.noise_of(speed, half, smooth)
    slopes = _Slopes(
        used[whole],
        slope.bias_of(used, wide)[whole],
        step,
        half,
        None if held is None else held[whole],
        0.0 if taken is None else slope.noise_of(taken, half, held),
    )
    return rpm[whole], smooth[whole], slopes, noise


def _scale(channel: str, bike: Bike, *, on_road: bool) -> float:
    """Return what turns a channel into the speed that is differentiated: rad/s of the roller, or m/s on the road."""
    if on_road:
        return 1.0 / _KMH
    if channel == "roller_rpm":
        return dyno.RAD_S_PER_RPM
    assert bike.roller is not None and bike.roller.diameter_mm is not None  # noqa: PT018  # as _turns has seen
    return 2e3 / bike.roller.diameter_mm / _KMH


def inertia_of(bike: Bike, piece: Piece, log: Near) -> tuple[float, tuple[str, ...]]:
    """Return all the inertia that turns in a pull as the roller feels it [kg m2], and what is not in it."""
    roller = bike.roller
    if roller is None or roller.own_kg_m2 is None:
        return 0.0, ("the roller's own inertia is not known, so only what the brake took is counted",)
    notes = []
    whole = roller.own_kg_m2 * (1.0 + roller.driveline_percent / 100.0)
    if roller.wheel_inertia_kg_m2 is not None and roller.diameter_mm and roller.wheel_diameter_mm:
        turns = roller.diameter_mm / roller.wheel_diameter_mm
        whole += dyno.seen_from(roller.wheel_inertia_kg_m2, turns)
    else:
        notes.append("what the wheel itself takes to speed up is not counted")
    if roller.engine_inertia_kg_m2 is not None:
        if piece.ratio is not None and log.road == "roller_rpm":
            whole += dyno.seen_from(roller.engine_inertia_kg_m2, piece.ratio)
        else:
            notes.append(
                "what the engine itself takes to speed up is not counted, since its ratio to the roller is not known"
            )
    return whole, tuple(notes)


def _nm_each(load: str, bike: Bike) -> float:
    """Return what turns a brake's channel into a torque [N m]: 1 where it is one, else the arm of its load cell."""
    arm = bike.brake.arm_mm if bike.brake else None
    return 1.0 if load == "torque" or arm is None else arm / 1e3


def _at_the_crank(log: Near, piece: Piece, load: str, bike: Bike, window_s: float) -> Along | None:
    """Return what a brake on the crankshaft takes; what speeds the engine up is not in it."""
    rows = log.rows(piece.start_s, piece.end_s)
    step = log.step_s
    at = np.arange(piece.start_s, piece.end_s + 1e-9, step)
    half = slope.half_window(window_s, step)
    torque = log.on(load, at, rows) * _nm_each(load, bike)
    smooth, rpm = slope.smoothed(torque, half), slope.smoothed(log.on("rpm", at, rows), half)
    whole = ~np.isnan(smooth) & ~np.isnan(rpm)
    if not whole.any():
        return None
    kw = dyno.power_kw(smooth[whole], rpm[whole])
    sd = dyno.power_kw(np.full(len(kw), slope.value_sd(slope.noise_of(torque, half), half)), rpm[whole])
    note = "what the engine itself takes to speed up is not in the brake's torque"
    nothing = np.full(len(kw), np.nan)
    return Along(
        rpm[whole],
        kw,
        sd,
        np.full(len(kw), np.nan),
        nothing,
        "brake",
        "crankshaft",
        2 * half + 1,
        step,
        (note,),
    )


def _density(air: Air) -> tuple[float, tuple[str, ...]]:
    if air.whole is None:
        missing, density = " and ".join(air.missing), STANDARD_DENSITY_KG_M3
        return density, (f"the {missing} is not known, so drag is reckoned with {density:g} kg/m3",)
    return float(moist_air_density(*air.whole)), ()
