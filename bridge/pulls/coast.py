"""Coast-downs: the wheel runs out with the clutch in, and shows what resists it.

On a roller that is the driveline's own loss (bearings, chain, tyre, windage of the drum) without its load: what the
mesh of loaded gears takes besides is not in it. On the road it is rolling resistance and drag.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bridge.errors import BadValue
from bridge.model import Bike, Run
from bridge.physics import dyno
from bridge.physics.air import STANDARD_DENSITY_KG_M3, moist_air_density
from bridge.pulls.conditions import air_of
from bridge.pulls.gears import Gears, gears_of
from bridge.pulls.log import Log, log_of

Array = NDArray[np.float64]

_STEP_S = 0.25
"""Coast-downs are looked for in steps of this [s]."""
_LEAST_S = 4.0
"""A shorter one tells nothing (our choice) [s]."""
_SHUT_PERCENT = 5.0
_FREE = 0.8
"""Below this share of the tallest gear's ratio the engine cannot drive the wheel [1]."""
_LEAST_FALL = 0.2
"""The speed falls by at least this share [1]."""
_MOST, _FEWEST = 20, 8
_RANGE = 1.1
"""A loss is told up to this many times the speed that the coast-downs began at [1]."""


@dataclass(frozen=True)
class Coasted:
    """What a session's coast-downs came to, in the units of the roller [rad/s] or the road [m/s]."""

    constant: float
    """Of the deceleration [speed/s]."""
    square: float
    """[1/speed/s]."""
    constant_sd: float
    square_sd: float
    number: int
    highest: float
    """Speed that the fastest of them began at."""

    def loss_kw(self, inertia: float, speed: Array) -> Array:
        """Return what the driveline takes at each speed [kW]; nan where no coast-down was near so fast.

        Args:
            inertia: of all that ran out [kg m2], or mass on the road [kg].
            speed: shape (n,), [rad/s] or [m/s].
        """
        loss = inertia * (self.constant + self.square * speed**2) * speed / 1e3
        return np.where(speed <= _RANGE * self.highest, loss, np.nan)


def coasted(log: Log, gears: Gears, channel: str, scale: float) -> Coasted | None:
    """Return what the coast-downs of a run show, all of them together.

    Args:
        log: the run; it needs a throttle.
        gears: of the run: slower than its tallest gear the engine does not drive the wheel.
        channel: ``roller_rpm`` or ``speed``.
        scale: what turns it into rad/s or m/s.

    Returns:
        Means over the coast-downs, each weighted alike, with standard deviations from their scatter where there are
        two or more, else from the one fit; None where there is none.
    """
    downs = [one for one in coast_downs(log, gears, channel) if len(one[0]) >= _FEWEST]
    fits = [dyno.fit_coast(t_s, speed * scale) for t_s, speed in downs]
    if not fits:
        return None
    parts = np.array([(fit.constant, fit.square) for fit in fits])
    if len(fits) > 1:
        sd = parts.std(axis=0, ddof=1) / np.sqrt(len(fits))
    else:
        sd = np.array([fits[0].constant_sd, fits[0].square_sd])
    highest = max(float(speed[0]) * scale for _, speed in downs)
    constant, square = parts.mean(axis=0)
    return Coasted(float(constant), float(square), float(sd[0]), float(sd[1]), len(fits), highest)


def coast_downs(log: Log, gears: Gears, channel: str) -> list[tuple[Array, Array]]:
    """Return the coast-downs: times [s] and speeds in the channel's unit, the longest ones first."""
    if not (log.has("throttle") and log.has(channel) and gears.ratios and log.road == channel):
        return []
    every = max(1, round(_STEP_S / log.step_s))
    t_s = log.t_s[::every]
    with np.errstate(invalid="ignore"):
        shut = log.thinned("throttle", every) <= _SHUT_PERCENT
        if not shut.any():
            return []
        rpm, speed = log.thinned("rpm", every), log.thinned(channel, every)
        free = shut & (rpm < _FREE * gears.ratios[-1] * speed)
        # over a second, in which noise does not hide that it falls
        ahead = np.minimum(np.arange(len(speed)) + round(1.0 / _STEP_S), len(speed) - 1)
        free &= speed[ahead] <= 1.002 * speed
        free &= np.append(np.diff(t_s) <= every * log.longest_step_s, False)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], free.astype(np.int8), [0]))))
    spans = [
        (float(t_s[a]), float(t_s[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if b - a >= 8 and t_s[b - 1] - t_s[a] >= _LEAST_S and speed[b - 1] < (1.0 - _LEAST_FALL) * speed[a]
    ]
    longest = sorted(spans, key=lambda span: span[0] - span[1])[:_MOST]
    return [_whole(log, channel, *span) for span in longest]


def _whole(log: Log, channel: str, from_s: float, to_s: float) -> tuple[Array, Array]:
    """Return every reading of a coast-down: times and speeds."""
    low, high = (int(place) for place in np.searchsorted(log.t_s, [from_s, to_s]))
    speed = log.frame[channel].slice(low, high - low).to_numpy().astype(np.float64)
    known = ~np.isnan(speed) & (speed > 0.0)
    return log.t_s[low:high][known], speed[known]


@dataclass(frozen=True)
class RoadNumbers:
    """What coast-downs on the road say of a bike."""

    drag_area_m2: float
    drag_area_sd: float
    rolling_resistance: float
    rolling_resistance_sd: float
    number: int


def road_numbers(found: Coasted, bike: Bike, density_kg_m3: float, slope: float) -> RoadNumbers | None:
    """Return drag area and rolling resistance; None where the bike's mass is not known.

    Wind is not in it: coast both ways and take the mean. The mass's own doubt is not in the standard deviations.

    Args:
        found: on the road [m/s].
        bike: its ``[road]`` has the mass.
        density_kg_m3: of the air [kg/m3].
        slope: rise over run [1].
    """
    road = bike.road
    if road.mass_kg is None:
        return None
    each = (road.mass_kg, road.rotating_kg)
    return RoadNumbers(
        dyno.drag_area_m2(found.square, *each, density_kg_m3),
        dyno.drag_area_m2(found.square_sd, *each, density_kg_m3),
        dyno.rolling_resistance(found.constant, *each, slope),
        dyno.rolling_resistance(found.constant_sd, *each),
        found.number,
    )


def road_numbers_of(run: Run) -> tuple[RoadNumbers, tuple[str, ...]]:
    """Return what a session's coast-downs on the road say of its bike, and what was assumed.

    Args:
        run: the session; coast-downs with the clutch in, at best both ways along a level road.

    Raises:
        BadValue: it has no bike with a mass, no speed, or no coast-down.
    """
    here = f"session {run.session.id}"
    if run.bike is None or run.bike.road.mass_kg is None:
        raise BadValue(
            f"{here}: a coast-down needs the mass of bike and rider; give mass_kg in [road] of bike.toml"
        )
    log = replace(log_of(run), road="speed")
    if not log.has("speed"):
        raise BadValue(f"{here} has no road speed to coast down; record or map a channel named speed")
    found = coasted(log, gears_of(log, run.bike), "speed", 1.0 / 3.6)
    if found is None:
        raise BadValue(
            f"{here} has no coast-down: {_LEAST_S:g} s and more with the throttle shut and the clutch in, in which the"
            f" speed falls by {_LEAST_FALL:.0%} and more; it needs the channels throttle, rpm and speed, and some"
            " riding in gear"
        )
    notes = ["wind is not in it: coast down both ways and the means are what counts"]
    from_s, to_s = float(log.t_s[0]), float(log.t_s[-1])
    air = air_of(log.near([(from_s, to_s)]), from_s, to_s, run.setup.weather)
    density = STANDARD_DENSITY_KG_M3
    if air.whole is None:
        notes.append(
            f"the {' and '.join(air.missing)} is not known, so the air is taken as {density:g} kg/m3"
        )
    else:
        density = float(moist_air_density(*air.whole))
    if run.setup.slope_percent is None:
        notes.append("the road is taken as level")
    numbers = road_numbers(found, run.bike, density, (run.setup.slope_percent or 0.0) / 100.0)
    assert numbers is not None  # there is a mass
    return numbers, tuple(notes)
