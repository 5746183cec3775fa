"""What a page shows of a session, and what is worked out for it alone; nothing here opens a logbook."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl

from bridge.agreement import Comparison, CylinderResult
from bridge.agreement.pairs import LeftOut
from bridge.agreement.scales import Layers
from bridge.align import geometry_delay
from bridge.bands import Bands, Running, bands
from bridge.channels.sensor import SensorEvent
from bridge.channels.sensor_state import SensorState
from bridge.model import Photo, PlugLife, PlugStory, Run, Weather
from bridge.physics.air import moist_air_density, relative_density
from bridge.physics.altitude import density_altitude_m
from bridge.plug.hours import Worked
from bridge.plug.scale import RingScale
from dashboard.figures.states import Stretch, stretches_of


@dataclass(frozen=True)
class Air:
    """What the air of a session weighs."""

    density_kg_m3: float
    relative_density: float
    """Over 1.225 kg/m3 [1]."""
    density_altitude_m: float


@dataclass(frozen=True)
class Picture:
    """A session with everything its page shows."""

    run: Run
    lives: tuple[PlugLife, ...]
    comparison: Comparison
    bands: Bands | None
    bands_missing: str | None = None
    """Why there are no bands, in the bridge's own sentence."""
    air: Air | None = None
    """None where the set-up does not tell temperature and pressure."""
    geometry_s: float | None = None
    """The delay as the pipe's geometry alone has it [s]."""


@dataclass(frozen=True)
class Witnesses:
    """What is known of the sensors of a session's bike, and the exhaust-gas analyses of the session.

    Attributes:
        run: the session.
        comparison: with what the analyses come to.
        states: of each sensor at the session's start.
        events: the whole history of the bike's sensors, oldest first; later ones too.
    """

    run: Run
    comparison: Comparison
    states: tuple[SensorState, ...]
    events: tuple[SensorEvent, ...]


@dataclass(frozen=True)
class Tray:
    """The plugs of a session in cylinder order.

    Attributes:
        run: the session.
        comparison: what each cylinder says; its cylinders are the places of the tray.
        photos: those that are kept of the session.
    """

    run: Run
    comparison: Comparison
    photos: tuple[Photo, ...] = ()

    def place(self, cylinder: int) -> CylinderResult | None:
        """Return one cylinder's place, None for a number that this bike has not."""
        return next((place for place in self.comparison.cylinders if place.cylinder == cylinder), None)

    def at_hand(self, cylinder: int) -> "AtHand | None":
        """Return the plug of one place as its form needs it; None for an empty place."""
        place = self.place(cylinder)
        if place is None or place.life is None:
            return None
        session, label = self.run.session, place.life.fitting.plug
        photos = tuple(photo for photo in self.photos if photo.plug == label)
        return AtHand(place.life, session.id, session.place, session.started, place.scale, photos)


@dataclass(frozen=True)
class AtHand:
    """A plug in the hand, as the reading form needs it.

    Attributes:
        life: the plug in the session that it is read for.
        session: number of that session.
        place: where it was ridden.
        started: when, UTC.
        scale: what a ring on it stands for; None without a nose length or a bike.
        photos: those that are kept of it for that session.
    """

    life: PlugLife
    session: int
    place: str | None
    started: datetime
    scale: RingScale | None
    photos: tuple[Photo, ...] = ()


@dataclass(frozen=True)
class Story:
    """A plug's whole life for its page.

    Attributes:
        story: all that happened to it, with its hours.
        time: how long an engine ran on it, and which logs do not tell.
        photos: every one that is kept of it.
        hand: the plug for the session that it was in last; None where it cannot be read.
        why_not: why, in a sentence.
    """

    story: PlugStory
    time: Worked
    photos: tuple[Photo, ...]
    hand: AtHand | None
    why_not: str | None


@dataclass(frozen=True)
class ScalePicture:
    """A bike's ring scale for its page.

    Attributes:
        bike: its name.
        layers: the scale of its usual plug in its build of now; None without a nose length.
        left_out: the readings that make no pair, and why.
    """

    bike: str
    layers: Layers | None
    left_out: tuple[LeftOut, ...]


COLUMNS = 5
"""As many engine-speed columns as a phone can show."""
_STEPS = (500.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0)


def air_of(weather: Weather) -> Air | None:
    """Return what the air weighs; without its humidity that of half saturated air stands in."""
    temp_c, pressure_hpa = weather.air_temp_c, weather.air_pressure_hpa
    if temp_c is None or pressure_hpa is None:
        return None
    damp = 50.0 if weather.humidity_percent is None else weather.humidity_percent
    density = float(moist_air_density(temp_c, pressure_hpa, damp))
    return Air(
        density, float(relative_density(temp_c, pressure_hpa, damp)), float(density_altitude_m(density))
    )


def geometry_of(run: Run, found: Running) -> float | None:
    """Return the delay by the pipe's geometry, to be held against that of the ride [s]."""
    if found.delay.from_ == "geometry":
        return found.delay.seconds
    egt = pl.mean_horizontal(*found.egt_columns) if found.egt_columns else pl.lit(None)
    wanted = found.samples.select("t_s", "rpm", "throttle", egt=egt.cast(pl.Float64))
    held = {
        name: column.cast(pl.Float64).fill_null(np.nan).to_numpy()
        for name, column in wanted.collect().to_dict().items()
    }
    throttle = held["throttle"] if found.has_throttle else None
    egt_c = held["egt"] if found.egt_columns else None
    delay, _ = geometry_delay(held["t_s"], held["rpm"], throttle, egt_c, run.bike, run.setup.weather)
    return delay.seconds


def stretches(found: Running) -> tuple[Stretch, ...]:
    """Return the states of the session as a whole: the engine's, or where a sensor's differs that one's."""
    own = [pl.col(f"state_{column}").cast(pl.String) for column in found.lambda_columns]
    engine = pl.col("state").cast(pl.String)
    odd = [pl.when(state != engine).then(state) for state in own]
    return stretches_of(found.samples.select("t_s", state=pl.coalesce(*odd, engine)).collect())


def few_columns(run: Run) -> Bands:
    """Return the bands, with steps of engine speed so wide that a phone can show them side by side."""
    fine = bands(run)
    held = fine.cells.drop_nulls(["lambda_mean", "rpm_from", "rpm_to"])
    if held.is_empty():
        return fine
    lowest, highest = min(held["rpm_from"].to_list()), max(held["rpm_to"].to_list())
    step = next((s for s in _STEPS if -(-highest // s) - lowest // s <= COLUMNS), _STEPS[-1])
    return fine if step == _STEPS[0] else bands(run, rpm_step=step)
