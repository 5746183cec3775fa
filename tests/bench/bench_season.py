"""A season's bands from what is kept of each session, beside the same from the samples, in one run.

    python tests/bench/bench_season.py [sessions] [minutes]

Some invented rides are reckoned for real; what they left behind is then kept as that many sessions of one bike, each
under its own name, and read by the way that ``sootline bands --bike`` takes: what is stale by its digest, all files in
one scan, added up, and everything that a band says. The plain way reads the samples of the same rides and bands
them; it is timed on a few and told for all. Medians of five; ratios count. Goal: 0.3 s for 2,000 sessions.
"""

import os
import shutil
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import numpy as np
import polars as pl

from bridge.bands import counts_version, kept_counts, season
from bridge.logbook import Logbook
from bridge.model import Bike, Setup
from bridge.model.sealed import SealedFrame
from bridge.physics.fuel import fuel_by_name

BIKE = Bike(
    name="Bench 400", strokes=4, cylinders=1, displacement_cc=400, sensor_distance_mm=700, pipe_bore_mm=38
)
RIDES = 4
BEGAN = datetime(2026, 1, 1, 9, 0, tzinfo=UTC)


def ride(seed, minutes):
    """Return a ride of hands that open, hold and close, at 100 lines a second."""
    rng = np.random.default_rng(seed)
    n = round(minutes * 6000)
    t = np.arange(n) * 0.01
    holds = rng.choice([0.0, 10.0, 20.0, 35.0, 60.0, 85.0, 100.0], n // 300 + 1)
    throttle = np.repeat(holds, 300)[:n]
    rpm = 4000 + 40 * throttle + 800 * np.sin(t / 9) + rng.normal(0, 8, n)
    lambda_1 = 0.9 - 0.0004 * throttle + rng.normal(0, 0.01, n)
    columns = {"rpm": rpm, "throttle": throttle, "lambda_1": lambda_1, "egt_1": 500 + 2 * throttle}
    return pl.DataFrame({"t_s": t} | {name: pl.Series(v, dtype=pl.Float32) for name, v in columns.items()})


def fill(folder, sessions, minutes):
    """Import a few rides, put copies of them beside, and keep for each what its ride leaves behind."""
    raw = folder / "ride.csv"
    raw.write_text("invented", encoding="utf-8")
    book = folder / "logbook"
    with Logbook.open(book, write=True) as logbook:
        logbook.add_bike(BIKE)
        for number in range(1, RIDES + 1):
            logbook.import_session(
                SealedFrame(
                    ride(number, minutes), {"rpm": "/min", "throttle": "%", "lambda_1": "1", "egt_1": "Cel"}
                ),
                raw,
                sha256=f"{number:064x}",
                bike=BIKE.name,
                place=None,
                started=BEGAN + timedelta(hours=number),
                again=True,
            )
        logbook.set_setup(1, Setup(fuel="e5"))
        made = [kept_counts(logbook.run(number)) for number in range(1, RIDES + 1)]
    copy_sessions(book, sessions)
    with Logbook.open(book, write=True) as logbook:
        digests = logbook.season(BIKE.name, counts_version()).digests
        for number in range(1, sessions + 1):
            logbook.keep_counts(number, digests[number], made[(number - 1) % RIDES])
    return made


def copy_sessions(book, sessions):
    """Put sessions into the logbook that are the first few again, an hour apart."""
    with closing(sqlite3.connect(book / "logbook.sqlite")) as connection, connection:
        names = [row[1] for row in connection.execute("pragma table_info(sessions)")]
        rows = connection.execute(
            f"select {','.join(names)} from sessions order by id"
        ).fetchall()  # names from the table itself
        for number in range(RIDES + 1, sessions + 1):
            values = dict(zip(names, rows[(number - 1) % RIDES], strict=True))
            began = (BEGAN + timedelta(hours=number)).replace(tzinfo=None)
            values |= {"id": number, "started": began.isoformat(" "), "sha256": f"{number:064x}"}
            marks = ",".join("?" * len(names))
            connection.execute(
                f"insert into sessions ({','.join(names)}) values ({marks})", list(values.values())
            )  # as above
            source = book / "samples" / f"{(number - 1) % RIDES + 1:04d}.parquet"
            os.link(source, book / "samples" / f"{number:04d}.parquet")


def from_kept(logbook):
    """The product's way."""
    found = logbook.season(BIKE.name, counts_version())
    assert not found.stale
    return season(found.rows, found.sessions, found.bike, fuel_by_name("e5"))


def from_samples(logbook, sessions):
    """Everything from the samples of the first few sessions."""
    frames = [kept_counts(logbook.run(number)) for number in range(1, RIDES + 1)]
    return season(pl.concat(frames).lazy(), range(sessions), BIKE, fuel_by_name("e5"))


def taken(way, turns=5):
    """Return the median time of a way [s], after one turn to warm up."""
    times = []
    for _ in range(turns + 1):
        began = time.perf_counter()
        way()
        times.append(time.perf_counter() - began)
    return median(times[1:])


def main():
    """Show both ways and their ratio."""
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    minutes = float(sys.argv[2]) if len(sys.argv) > 2 else 30.0
    folder = Path(tempfile.mkdtemp())
    try:
        made = fill(folder, sessions, minutes)
        with Logbook.open(folder / "logbook", write=False) as logbook:
            again = [
                frame.with_columns(session=pl.lit(n)) for n in range(sessions) for frame in [made[n % RIDES]]
            ]
            whole = season(pl.concat(again).lazy(), range(sessions), BIKE, fuel_by_name("e5"))
            assert from_kept(logbook).cells.equals(whole.cells)
            kept_s = taken(lambda: from_kept(logbook))
            samples_s = taken(lambda: from_samples(logbook, sessions), 2) * sessions / RIDES
        print(f"{sessions} sessions of {minutes:g} min: {kept_s:.3f} s from what is kept")
        print(
            f"  {samples_s:.0f} s from the samples (told from {RIDES}): {samples_s / kept_s:.0f} times as long"
        )
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
