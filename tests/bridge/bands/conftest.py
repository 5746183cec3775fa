"""Runs built by hand, sample by sample."""

from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest

from bridge.model import Bike, Run, Session, Setup

TWIN = Bike(
    name="twin", strokes=4, cylinders=2, displacement_cc=400.0, sensor_distance_mm=900.0, pipe_bore_mm=38.0
)


@pytest.fixture
def make_run():
    """Return a maker of runs from columns: arrays, or one number for all rows; 100 rows a second."""

    def made(seconds=20.0, *, t_s=None, bike=TWIN, setup=None, states=(), **columns):
        t = np.arange(round(seconds * 100)) * 0.01 if t_s is None else np.asarray(t_s)
        whole = {"rpm": 6000.0, "throttle": 60.0, "lambda_1": 0.88} | columns
        frame = pl.DataFrame(
            {"t_s": t}
            | {
                name: pl.Series(np.broadcast_to(values, len(t)).astype(np.float32), nan_to_null=True)
                for name, values in whole.items()
                if values is not None
            }
        )
        session = Session(
            7, datetime(2026, 5, 2, tzinfo=UTC), None, None, None, None, seconds, len(t), "sealed", "test"
        )
        return Run(session, bike, setup or Setup(), frame.lazy(), states=states)

    return made


@pytest.fixture
def states_of():
    """Return a reader of the states that a run goes through, each with the seconds it begins and ends."""

    def read(samples):
        frame = samples.collect().with_columns(stay=pl.col("state").rle_id())
        stays = frame.group_by("stay", maintain_order=True).agg(
            pl.col("state").first(), begin=pl.col("t_s").first(), end=pl.col("t_s").last()
        )
        return [(state, begin, end) for _, state, begin, end in stays.iter_rows()]

    return read
