"""How long an engine ran on a plug, by the logs."""

import numpy as np
import polars as pl
import pytest

from bridge.model import PlugStory
from bridge.plug.hours import Worked, add_up, with_hours, worked
from bridge.plug.lived import live_through
from tests.virtual_runs import run_of, virtual_run

RATE_HZ = 20.0


def ridden(*phases, number=1, drop=()):
    """A run of phases of (seconds, throttle, rpm)."""
    seconds, throttle, rpm = (np.array(column, dtype=float) for column in zip(*phases, strict=True))
    rows = np.repeat(np.arange(len(phases)), np.round(seconds * RATE_HZ).astype(int))
    frame = pl.DataFrame(
        {"t_s": np.arange(len(rows)) / RATE_HZ, "throttle": throttle[rows], "rpm": rpm[rows]}
    )
    return run_of(frame.drop(drop), number=number)


def test_an_engine_that_stands_does_not_run():
    """Half a minute of standing, one of part throttle, ten seconds of full throttle: 70 s, of which 10 s full."""
    found = worked([ridden((30, 0, 0), (60, 40, 5000), (10, 100, 9000))])

    assert found.running_s == pytest.approx(70, abs=0.1)
    assert found.full_throttle_s == pytest.approx(10, abs=0.1)
    assert found.blind == ()


def test_sessions_add_up():
    """Two sessions together are the sum of both, in whatever order."""
    one, two = ridden((60, 40, 5000)), ridden((20, 100, 9000), number=2)

    both = worked([one, two])

    assert both == worked([two, one]) == add_up([worked([one]), worked([two])])
    assert both.running_s == pytest.approx(80, abs=0.1)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_tray_and_the_verdict_count_alike(seed):
    """Full throttle on a plug is the same number in the tray as where its reading is judged."""
    run, _ = virtual_run(seed)

    found, lived = worked([run]), live_through((run,), 1)

    assert found.full_throttle_s == pytest.approx(lived.full_throttle_s)
    assert found.running_s == pytest.approx(float(lived.frame["running_s"][-1]))
    assert found.running_s > found.full_throttle_s > 0


@pytest.mark.parametrize(("lacks", "runs_s"), [("rpm", None), ("throttle", 60.0)])
def test_what_a_log_does_not_tell_is_not_nought(lacks, runs_s):
    """Without engine speed or throttle the figure is unknown, and the session is named."""
    blind, told = ridden((60, 100, 9000), number=7, drop=[lacks]), ridden((60, 100, 9000))

    found = worked([blind])

    assert (found.running_s, found.full_throttle_s, found.blind) == (
        runs_s if runs_s is None else pytest.approx(runs_s, abs=0.1),
        None,
        (7,),
    )
    assert worked([blind, told]).full_throttle_s == pytest.approx(60, abs=0.1)
    assert worked([blind, told]).blind == (7,)


def test_a_channel_without_a_reading_tells_nothing():
    """An engine speed that is there but never read is as none."""
    run = ridden((10, 100, 9000))
    empty = run_of(run.samples.collect().with_columns(rpm=pl.lit(None, dtype=pl.Float32)))

    assert worked([empty]) == Worked(None, None, (1,))


def test_no_session_is_no_figure():
    """A plug from the box has no hours yet, and its story is as told with them."""
    story = PlugStory("A1", None, None, (), "new")

    assert worked([]) == Worked(None, None)
    assert with_hours(story, Worked(90.0, 12.0)).hours_s == 90.0
    assert with_hours(story, Worked(90.0, 12.0)).full_throttle_s == 12.0
