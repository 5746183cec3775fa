"""Pulls of a session of ten million rows, beside polars that only reads the same columns, in one run.

    python tests/bench/bench_pulls.py [rows]

Invented dynamometer days, sealed as the product seals: Parquet, float32, zstd. At 1,000 lines a second, the recorder's
fastest (2.8 hours), a pull in four minutes; at 100 lines a second (28 hours) one in ten minutes, and once more one in
four. Ours finds and evaluates every pull from the file: gears, slip, power by the roller, corrected, the mixture of
both cylinders with its interval, exhaust temperatures. The session's delay is given, as it is to every page after the
first one that asked (asking a ride takes some seconds, whatever its length); then once more with the pipe's geometry.
Medians of five after one turn to warm up; ratios count. Reading runs on all processors and finding on one, so both the
time on the wall and that of the processor are told. Goal: at most twice the time of reading.
"""

import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import numpy as np
import polars as pl

from bridge.align import Delay, Found
from bridge.model import Bike, Roller, Run, Session, Setup, Weather
from bridge.pulls import pulls_of

DAYS = ((1000.0, 240.0), (100.0, 600.0), (100.0, 240.0))
"""Lines a second, and from one pull to the next [s]."""
PULL_S = 8.0
BIKE = Bike(
    name="Bench 400",
    strokes=4,
    cylinders=2,
    displacement_cc=400,
    sensor_distance_mm=700,
    pipe_bore_mm=38,
    roller=Roller(inertia_kg_m2=12.0),
)
SETUP = Setup(
    kind="dyno", fuel="e5", weather=Weather(air_temp_c=20.0, air_pressure_hpa=1000.0, humidity_percent=50.0)
)
COLUMNS = ("t_s", "rpm", "throttle", "roller_rpm", "lambda_1", "lambda_2", "egt_1", "egt_2")


def made(rows, hz, every_s):
    """Return an invented day: part throttle, and a pull at the end of every so many seconds."""
    rng = np.random.default_rng(1)
    t = np.arange(rows) / hz
    into = t % every_s - (every_s - PULL_S - 12.0)
    pulling = (into >= 0.0) & (into < PULL_S)
    share = np.clip(into / PULL_S, 0.0, 1.0)
    after = np.clip(into - PULL_S, 0.0, None)
    rpm = 4500.0 + 6000.0 * np.sqrt(share) * np.exp(-after / 3.0) + 200.0 * np.sin(t / 5.0) * (into < -1.0)
    noise = rng.normal(0.0, 6.0, rows)
    columns = {
        "rpm": rpm + noise,
        "throttle": np.where(pulling, 100.0, 15.0) + rng.normal(0.0, 0.2, rows).clip(-0.5, 0.5),
        "roller_rpm": rpm / 5.0 + rng.normal(0.0, 1.0, rows),
        "lambda_1": 0.88 + 0.02 * share + rng.normal(0.0, 0.006, rows),
        "lambda_2": 0.87 + 0.01 * share + rng.normal(0.0, 0.006, rows),
        "egt_1": 450.0 + 250.0 * share + rng.normal(0.0, 2.0, rows),
        "egt_2": 440.0 + 250.0 * share + rng.normal(0.0, 2.0, rows),
    }
    columns["throttle"] = np.minimum(columns["throttle"], 100.0)
    return pl.DataFrame({"t_s": t} | {name: pl.Series(v, dtype=pl.Float32) for name, v in columns.items()})


def run_of(path, rows, hz):
    """Return the file as the run that the logbook would give."""
    head = Session(
        1,
        datetime(2026, 1, 1, 9, 0, tzinfo=UTC),
        BIKE.name,
        1,
        None,
        "dyno",
        rows / hz,
        rows,
        "sealed",
        "bench",
    )
    return Run(head, BIKE, SETUP, pl.scan_parquet(path))


def side_by_side(ways, turns=5):
    """Return the median seconds of each way, all of them taken in turn: on the wall, and of the processor."""
    times = {name: [] for name in ways}
    for turn in range(turns + 1):
        for name, way in ways.items():
            began, used = time.perf_counter(), time.process_time()
            way()
            if turn:
                times[name].append((time.perf_counter() - began, time.process_time() - used))
    return {name: tuple(median(one) for one in zip(*taken, strict=True)) for name, taken in times.items()}


def table(folder, rows, hz, every_s):
    """Time one day."""
    path = Path(folder) / "session.parquet"
    made(rows, hz, every_s).write_parquet(path, compression="zstd", compression_level=3)
    run = run_of(path, rows, hz)
    told = Found(Delay(0.15, 0.01, "ride", lag_s=0.1), np.full(rows, 0.15), None)
    wanted = int((rows / hz - every_s + 12.0) // every_s) + 1
    found = pulls_of(run, delay=told)
    assert abs(len(found.pulls) - wanted) <= 1, (len(found.pulls), wanted)
    assert all(pull.peak and len(pull.mixture) == 2 for pull in found.pulls)
    taken = side_by_side(
        {
            "polars reads the columns": lambda: pl.scan_parquet(path).select(COLUMNS).collect(),
            "ours, reading too, delay given": lambda: pulls_of(run, delay=told),
            "ours, reading too, delay by geometry": lambda: pulls_of(run, ask_ride=False),
        }
    )
    wall, processor = taken["polars reads the columns"]
    print(f"{len(found.pulls)} pulls of {rows:,} rows at {hz:g} lines a second")
    for name, (seconds, used) in taken.items():
        print(
            f"  {name:<38}{seconds * 1e3:8.0f} ms {seconds / wall:6.2f} x reading;"
            f" processor {used * 1e3:6.0f} ms {used / processor:6.2f} x"
        )


def main():
    """Run the tables."""
    rows = int(float(sys.argv[1])) if len(sys.argv) > 1 else 10_000_000
    for hz, every_s in DAYS:
        with tempfile.TemporaryDirectory() as folder:
            table(folder, rows, hz, every_s)


if __name__ == "__main__":
    main()
