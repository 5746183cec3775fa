"""A logbook of the test's own, and sessions to fill it with."""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from bridge.logbook import Logbook
from bridge.model import Bike, PlugSpec
from bridge.model.sealed import SealedFrame

TWIN = Bike(
    name="Chalk Pit 400",
    strokes=4,
    cylinders=2,
    displacement_cc=398,
    plug=PlugSpec(type="short reach", nose_mm=14.0),
)
DAY_ONE = datetime(2026, 5, 14, 9, 20, tzinfo=UTC)


def sealed(seconds=10, **more):
    """A short ride at one row a second."""
    t = np.arange(seconds + 1, dtype=float)
    frame = pl.DataFrame({"t_s": t, "rpm": pl.Series(5000 + 10 * t, dtype=pl.Float32)})
    return SealedFrame(frame, {"rpm": "/min"}, **more)


class Book:
    """A logbook with a twin in it, and a way to add sessions by the day."""

    def __init__(self, logbook, folder):
        self.logbook = logbook
        self.folder = folder

    def ride(self, day=1, bike=TWIN.name, **more):
        """Add a session that began on a day, and give its number."""
        raw = self.folder.parent / "ride.csv"
        raw.write_text(f"ride of day {day}", encoding="utf-8")
        started = DAY_ONE + timedelta(days=day - 1)
        return self.logbook.import_session(
            sealed(**more),
            raw,
            sha256=f"{day:064x}",
            bike=bike,
            place="pit lane",
            started=started,
            again=True,
        )


@pytest.fixture
def folder(tmp_path):
    """Where the test's logbook is."""
    return tmp_path / "logbook"


@pytest.fixture
def book(folder):
    """A logbook, open to write, with a twin in it."""
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(TWIN)
        yield Book(logbook, folder)


@pytest.fixture
def listing(folder):
    """Give every file of the logbook by name, except the index that readers share."""

    def files():
        return sorted(
            str(p.relative_to(folder))
            for p in folder.rglob("*")
            if p.suffix not in {".sqlite-shm", ".sqlite-wal"}
        )

    return files
