"""Rides of blind bikes: what the tool gets of them, a log with noise, a set-up as told, plugs as read."""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from bridge.model import CylinderSetup, Fitting, PlugLife, Reading, Run, Session, Setup
from tests.published.blind_cells import NOSE_MM, BlindBike, Ride

READING_SD_MM = 0.4
RATE_HZ = 8.0
START = datetime(2026, 3, 7, 10, 0, tzinfo=UTC)


def ridden(made: BlindBike, number: int) -> tuple[Run, list[PlugLife]]:
    """Return a session (from 0) as the tool gets it: a log with noise, the set-up as told, and plugs as read."""
    rng = np.random.default_rng([20_261_125, 7, made.seed, number])
    ride = made.rides[number]
    frame = _frame(made, ride, rng)
    started = START + timedelta(days=6 * number)
    head = Session(
        id=number + 1, started=started, bike=made.bike.name, build=1, place=None, kind="practice",
        seconds=float(frame["t_s"].max()), samples=frame.height, state="sealed", source="blind",
    )  # fmt: skip  # the fields of a session are dull
    run = Run(head, made.bike, _setup(made, number), frame.lazy())
    lives = [_life(made, ride, run, cylinder, rng) for cylinder in range(1, made.bike.cylinders + 1)]
    return run, lives


def _setup(made: BlindBike, number: int) -> Setup:
    own = CylinderSetup()
    if made.tells_jets:
        power = 0.5 if made.by_bore else 1.0
        jet = round(150.0 * (0.87 / made.jets[number]) ** power / 0.5) * 0.5
        own = CylinderSetup(main_jet=jet)
    return Setup(fuel="e5", all=own)


def _life(made: BlindBike, ride: Ride, run: Run, cylinder: int, rng: np.random.Generator) -> PlugLife:
    cell = ride.cells[cylinder - 1]
    label = f"P{run.session.id}-{cylinder}"
    true = cell.full + cell.ring + float(rng.normal(0, made.scatter))
    depth = made.law.at(true) + float(rng.normal(0, READING_SD_MM))
    ring, depth_mm = "seen", float(np.round(depth, 1))
    if cell.no_ring or depth_mm > NOSE_MM:
        ring, depth_mm = "none", None
    elif depth_mm < 0.0:
        ring, depth_mm = "all-dark", None
    reading = Reading(
        1, label, run.session.id, run.session.started, ring, ring_mm=depth_mm, ring_sd_mm=READING_SD_MM, view="cut",
        specks=cell.specks, wet=cell.wet, note=cell.note,
    )  # fmt: skip  # as above
    fitting = Fitting(cylinder, label, cylinder, cell.state, run.session.id, None)
    return PlugLife(fitting, reading, "short", NOSE_MM, cell.heat, (run,))


def _frame(made: BlindBike, ride: Ride, rng: np.random.Generator) -> pl.DataFrame:
    """Return a ride: idle, part throttle, pulls, the last full throttle, what comes after, and the cut."""
    parts = [
        ("idle", 12.0),
        ("part", 14.0),
        ("full", 0.4 * ride.full_s),
        ("part", 10.0),
        ("full", 0.6 * ride.full_s),
    ]
    parts += [("part", ride.roll_after_s)] if ride.roll_after_s else []
    parts += [("idle", ride.idle_after_s)] if ride.idle_after_s else []
    what = np.concatenate([np.full(int(seconds * RATE_HZ), name) for name, seconds in (*parts, ("cut", 3.0))])
    count = len(what)
    t_s = np.arange(count) / RATE_HZ
    full, idle = what == "full", what == "idle"
    throttle = np.select([full, idle], [100.0, 0.0], 45.0) + rng.normal(0, 0.2, count)
    throttle = np.where(
        what == "cut", 100.0 if not (ride.roll_after_s or ride.idle_after_s) else 0.0, throttle
    )
    rpm = np.select(
        [full, idle], [8200.0 + 250.0 * np.sin(t_s / 4.0), 1500.0 + rng.normal(0, 15, count)], 5200.0
    )
    tail = what == "cut"
    rpm[tail] = np.maximum(6000.0 - 8000.0 * np.arange(tail.sum()) / RATE_HZ, 0.0)
    columns = {"t_s": t_s, "rpm": rpm, "throttle": np.clip(throttle, 0, 100)}
    bands = np.select([full | tail, idle], [2, 0], 1)
    missed = {}
    for cylinder in range(1, made.bike.cylinders + 1):
        cell = ride.cells[cylinder - 1]
        hits = full & (rng.random(count) < cell.missed)
        missed[cylinder] = hits
        said = np.array(made.measured(ride, cylinder))[bands]
        said = said + rng.normal(0, 0.002) + rng.normal(0, 0.004, count)
        said = said + 0.3 * hits
        true = np.array([cell.idle, cell.part, cell.full])
        heat = np.array([330.0, 560.0, 690.0]) + np.array([0.0, 0.0, 1.0]) * (
            made.egt_slope * (true[2] - 0.87) + cell.egt_k
        )
        session_k = float(rng.normal(0, 5.0))
        columns[f"egt_{cylinder}"] = (
            _slow(heat[bands], 1.5) + session_k - 30.0 * hits + rng.normal(0, 1.5, count)
        )
        columns[f"cht_{cylinder}"] = 150.0 + cell.head_k + rng.normal(0, 3.0) + rng.normal(0, 0.5, count)
        if not made.collector:
            columns[f"lambda_{cylinder}"] = said
        elif cylinder == 1:
            columns["lambda"] = said
    stumble = np.zeros(count)
    for hits in missed.values():
        stumble += hits
    columns["rpm"] = columns["rpm"] * (1.0 - 0.06 * np.minimum(stumble, 1.0))
    frame = pl.DataFrame(columns)
    return frame.with_columns(pl.exclude("t_s").cast(pl.Float32))


def _slow(values: np.ndarray, lag_s: float) -> np.ndarray:
    """Return a first-order lag of the values."""
    keep = np.exp(-1.0 / (RATE_HZ * lag_s))
    out = np.empty_like(values)
    state = values[0]
    for index, value in enumerate(values):
        state = keep * state + (1.0 - keep) * value
        out[index] = state
    return out
