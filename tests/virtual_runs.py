"""What several tests need: runs of a virtual bike with their truth, and plugs that lived through them."""

from dataclasses import replace
from datetime import UTC, datetime

import polars as pl

from bridge.emulator.engine import Circuits, VirtualBike
from bridge.emulator.ride import Script, short_ride
from bridge.emulator.scenario import Scenario, sample
from bridge.model import Bike, Fitting, Mark, PlugLife, PlugSpec, Reading, Run, Session, Setup

NOW = datetime(2026, 5, 14, 11, 20, tzinfo=UTC)
BIKE = Bike(
    name="Hollow Lane 400",
    strokes=4,
    cylinders=2,
    displacement_cc=398.0,
    sensor_distance_mm=900.0,
    pipe_bore_mm=38.0,
    plug=PlugSpec(type="short", nose_mm=14.0),
)


def session(number=1, bike=BIKE, seconds=60.0, samples=0):
    """Return a sealed session."""
    return Session(
        id=number,
        started=NOW,
        bike=bike.name if bike else None,
        build=1 if bike else None,
        place=None,
        kind=None,
        seconds=seconds,
        samples=samples,
        state="sealed",
        source="test",
    )


def run_of(frame, *, number=1, bike=BIKE, setup=None, marks=(), states=()):
    """Return a run of a frame of ``t_s`` and channels."""
    channels = frame.with_columns(pl.exclude("t_s").cast(pl.Float32))
    head = session(number, bike, float(frame["t_s"].max() or 0.0), frame.height)
    return Run(head, bike, setup or Setup(fuel="e5"), channels.lazy(), marks, states)


def virtual_run(
    seed: int,
    *,
    script: Script | None = None,
    main: float = 0.87,
    rate_hz: float = 50.0,
    bike: Bike = BIKE,
    number: int = 1,
    **changes,
):
    """Return a run of a virtual bike as its logger would print it, and its truth.

    Args:
        seed: of the ride.
        script: what the rider does.
        main: lambda of the main jet.
        rate_hz: lines a second.
        bike: as the logbook knows it; the virtual one has the same pipe, strokes and cylinders.
        number: of the session.
        changes: to the scenario.
    """
    virtual = VirtualBike(
        strokes=bike.strokes,
        cylinders=bike.cylinders,
        displacement_cc=bike.displacement_cc,
        sensor=bike.sensor,
        circuits=Circuits(main=main),
    )
    scenario = replace(Scenario(bike=virtual, script=script or short_ride(), rate_hz=rate_hz), **changes)
    sampled = sample(scenario, seed)
    columns = zip(sampled.channels, sampled.values, strict=True)
    frame = pl.DataFrame({"t_s": sampled.t_s} | {c.name: pl.Series(v, dtype=pl.Float64) for c, v in columns})
    marks = tuple(Mark(at, what, "wire") for at, what in sampled.marks)
    return run_of(frame, number=number, bike=bike, marks=marks), sampled.truth


def fitting(cylinder=1, state="new", **changes):
    """Return a plug that was fitted before session 1."""
    return replace(Fitting(cylinder, f"A{cylinder}", cylinder, state, 1, None), **changes)


def reading(plug="A1", ring="seen", ring_mm=6.0, **changes):
    """Return a reading through a cut shell."""
    depth = ring_mm if ring == "seen" else None
    return replace(Reading(1, plug, 1, NOW, ring, ring_mm=depth, view="cut"), **changes)


def life(run, cylinder=1, *, state="new", seen="default", nose_mm=14.0, heat_range=0, **fitted):
    """Return a plug that lived through one run, or several."""
    runs = tuple(run) if isinstance(run, (list, tuple)) else (run,)
    held = fitting(cylinder, state, **fitted)
    found = reading(held.plug) if seen == "default" else seen
    return PlugLife(held, found, "short", nose_mm, heat_range, runs)
