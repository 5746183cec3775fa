"""Pulls on logs that lack something: dead sensors, slow or mad channels, lost rows, no full throttle at all."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from bridge.model import Brake, Roller, Setup
from bridge.pulls import pulls_of
from tests.bridge.pulls.dyno_days import BIKE, INERTIA, WEATHER, day, frame_of
from tests.virtual_runs import run_of


def evaluated(run):
    """Pulls of a run, the delay by geometry."""
    return pulls_of(run, ask_ride=False)


def test_a_sensor_that_tells_nothing_leaves_the_other_one():
    """With one of two lambda channels empty pulls have the other's mixture and say so; with both they have none."""
    run = day([1.0, 1.0])
    one = evaluated(replace(run, samples=run.samples.with_columns(lambda_2=pl.lit(None, dtype=pl.Float32))))
    none = evaluated(
        replace(run, samples=run.samples.with_columns(pl.col("^lambda_.$") * pl.lit(None, dtype=pl.Float32)))
    )

    for pull in one.pulls:
        assert pull.curve["lambda"].to_list() == pull.curve["lambda_1"].to_list()
        assert pull.curve["lambda_1"].drop_nulls().len() > 20
        assert any("lambda_2 tells nothing of it" in note for note in pull.notes)
    assert none.pulls[0].curve["lambda"].null_count() == none.pulls[0].curve.height
    assert any("no lambda reading of it counts" in note for note in none.pulls[0].notes)


def test_a_dead_roller_under_a_brake_has_no_power():
    """A brake on a roller whose speed stays at 0 all day makes no 0 kW, but a sentence."""
    bike = BIKE.model_copy(update={"brake": Brake(on="roller"), "roller": Roller(inertia_kg_m2=INERTIA)})
    run = day([1.0, 1.0], bike=bike)
    dead = run.samples.with_columns(roller_rpm=pl.lit(0.0, dtype=pl.Float32), torque=pl.lit(40.0))
    got = evaluated(replace(run, samples=dead))

    assert all(pull.peak is None for pull in got.pulls)
    assert any("a brake on the roller needs the channel roller_rpm" in note for note in got.notes)


def test_a_roller_that_never_turned_has_no_power():
    """Its channel at 0 all day, or empty: no power, and the sensor is named instead of 0 kW."""
    run = day([1.0, 1.0])
    for dead in (pl.lit(0.0), pl.lit(None)):
        got = evaluated(replace(run, samples=run.samples.with_columns(roller_rpm=dead.cast(pl.Float32))))
        assert len(got.pulls) == 2
        assert all(pull.peak is None for pull in got.pulls)
        assert any("the roller never turned" in note for note in got.notes)


def openings(frame):
    """Rows at which the throttle is opened fully."""
    throttle = frame["throttle"].to_numpy()
    return np.flatnonzero((throttle[1:] > 99.0) & (throttle[:-1] < 99.0)) + 1


@pytest.mark.parametrize(("channel", "every"), [("roller_rpm", 10), ("rpm", 8)])
def test_a_channel_that_became_slower_is_still_told(channel, every):
    """Read at each tenth or eighth row from the third pull on, a channel tells that pull and its ratio as before."""
    frame = frame_of([1.0, 1.0, 1.0])
    late = np.arange(frame.height) >= openings(frame)[2] - 200
    left_out = pl.Series(late & (np.arange(frame.height) % every != 0))
    slow = frame.with_columns(pl.when(left_out).then(None).otherwise(pl.col(channel)).alias(channel))
    pulls = evaluated(run_of(slow, bike=BIKE, setup=Setup(kind="dyno", weather=WEATHER))).pulls

    assert len(pulls) == 3
    assert [pull.piece.ratio for pull in pulls] == pytest.approx([5.0, 5.0, 5.0], rel=0.01)


def test_rows_lost_between_quick_lines_are_no_hole():
    """A log of ten lines a second that has fifty near full throttle: 0.14 s lost there part no pull."""
    frame = frame_of([1.0, 1.0, 1.0], rest_s=120.0)
    ups = openings(frame)
    kept = np.arange(frame.height) % 5 == 0
    for up in ups:
        kept[up - 50 : up + 400] = True
    kept[ups[1] + 150 : ups[1] + 156] = False
    run = run_of(frame.filter(pl.Series(kept)), bike=BIKE, setup=Setup(kind="dyno", weather=WEATHER))
    pulls = evaluated(run).pulls

    assert len(pulls) == 3
    assert all(pull.piece.rpm_from < 4_000.0 and pull.piece.rpm_to > 9_400.0 for pull in pulls)


@pytest.mark.parametrize("channel", ["rpm", "roller_rpm"])
def test_one_mad_reading_spoils_no_other_pull(channel):
    """A value of 1e20 within the first pull: the two others are found and told as without it."""
    frame = frame_of([1.0, 1.0, 1.0])
    at = int(openings(frame)[0]) + 50
    mad = frame.with_columns(
        pl.when(pl.int_range(pl.len()) == at).then(1e20).otherwise(channel).alias(channel)
    )
    setup = Setup(kind="dyno", weather=WEATHER)
    sound, hurt = (evaluated(run_of(one, bike=BIKE, setup=setup)).pulls[-2:] for one in (frame, mad))

    for one, other in zip(sound, hurt, strict=True):
        assert (one.piece.start_s, one.piece.end_s) == (other.piece.start_s, other.piece.end_s)
        assert other.piece.ratio == pytest.approx(one.piece.ratio, rel=1e-3)


def test_a_torque_of_a_brake_that_nobody_described_has_no_power():
    """A channel of torque, no [brake] in the bike's file and no wheel: the pulls have no power, and it is said why."""
    frame = frame_of([1.0, 1.0]).drop("roller_rpm").with_columns(torque=pl.lit(40.0))
    bike = BIKE.model_copy(update={"roller": None})
    got = evaluated(run_of(frame, bike=bike, setup=Setup(kind="dyno", weather=WEATHER)))

    assert len(got.pulls) == 2
    assert all(pull.peak is None for pull in got.pulls)
    assert any("a brake on the roller needs the channel roller_rpm" in note for note in got.notes)


@pytest.mark.parametrize("rows", [0, 1, 3, None], ids=["empty", "one row", "three rows", "never full"])
def test_a_day_without_full_throttle_is_answered(rows):
    """With lambda recorded and no full throttle, or next to no row, there are no pulls and no trouble."""
    run = day([1.0])
    few = run.samples.with_columns(pl.col("throttle") * 0.9)
    got = evaluated(replace(run, samples=few if rows is None else few.head(rows)))

    assert got.pulls == ()
    assert any("calibrating" in note for note in got.notes) == (rows is None)
