"""Channels worked out of ten million recorded samples, beside plain numpy for the same.

    python tests/bench/bench_calibrate.py [rows]

Ours are the lazy expressions that a session is loaded with, on samples in Parquet; numpy gets its arrays in memory
and does one interpolation. Medians of five after one turn to warm up; ratios count, times move from machine to
machine.
"""

import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import numpy as np
import polars as pl

from bridge.channels.calibrate import Calibration, calibrate, plan_of
from bridge.channels.correct import Correction
from bridge.channels.sound import unsound

VOLTS = Calibration("throttle_voltage", ((0.52, 0.0), (4.31, 100.0)))
CURRENTS = np.linspace(-2.0, 2.5, 30)
TABLE = Calibration("pump_current", tuple((float(c), 1.0 + float(c) / 6.0) for c in CURRENTS), beyond=0.02)
PROBE = Calibration("egt_emf", thermocouple="K", cold_junction="cold_junction")
ALL = {"throttle": VOLTS, "lambda": TABLE, "egt": PROBE}


def write(path, rows):
    """Write an invented ride of that many rows at 100 Hz."""
    rng = np.random.default_rng(1)
    t = np.arange(rows) / 100.0
    columns = {
        "rpm": 5000 + 2000 * np.sin(t / 10),
        "throttle_voltage": 2.4 + 1.8 * np.sin(t / 7),
        "lambda_1": 0.9 + 0.05 * np.sin(t / 3) + rng.normal(0, 0.005, rows),
        "pump_current_2": -0.3 + 0.2 * np.sin(t / 3) + rng.normal(0, 0.005, rows),
        "egt_emf_1": 26 + 3 * np.sin(t / 20),
        "cold_junction": 30 + np.sin(t / 100),
        "exhaust_pressure": 105 + 3 * np.sin(t),
    }
    pl.DataFrame({"t_s": t} | {k: v.astype(np.float32) for k, v in columns.items()}).write_parquet(path)


def timed(run):
    """Return the median of five [ms]."""
    run()
    times = []
    for _ in range(5):
        before = time.perf_counter()
        run()
        times.append((time.perf_counter() - before) * 1e3)
    return median(times)


def main(rows):
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ride.parquet"
        write(path, rows)
        recorded = pl.scan_parquet(path)
        volts = recorded.select("throttle_voltage").collect()["throttle_voltage"].to_numpy()
        print(f"{rows:,} rows")
        print(
            f"{timed(lambda: np.interp(volts, [0.52, 4.31], [0.0, 100.0])):8.0f} ms  numpy.interp of two points"
        )
        print(f"{timed(lambda: recorded.select('lambda_1').collect()):8.0f} ms  reading a recorded channel")
        for name, change, words in (
            ("throttle", Correction(), "throttle from volts"),
            ("lambda_2", Correction(), "lambda from a pump current, 30 points"),
            ("egt_1", Correction(), "type K with its cold junction"),
            ("lambda_1", Correction(offset=0.02), "recorded lambda less an offset"),
            ("lambda_1", Correction(gain=0.97), "recorded lambda, gain of a free-air check"),
            ("lambda_1", Correction(gain=0.97, pressure_share=0.5), "the same with exhaust pressure"),
        ):
            done = calibrate(recorded, ALL, lambda _, change=change: change).samples
            print(f"{timed(lambda d=done, n=name: d.select(n).collect()):8.0f} ms  {words}")
        plan = plan_of(recorded.collect_schema().names(), ALL)
        print(f"{timed(lambda: unsound(recorded, plan)):8.0f} ms  looking for thermocouples wired backwards")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000_000)
