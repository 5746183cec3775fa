"""What sessions leave behind adds up to the season, exactly."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.bands import add_up, bands, kept_counts, season
from bridge.bands.channel import DOUBTS, SCHEMA, SUMS
from bridge.model import Setup
from bridge.physics.fuel import fuel_by_name

T = np.arange(3000) * 0.01


@pytest.fixture
def rides(make_run):
    """Three sessions of one twin, each a little richer, over several bands."""
    rng = np.random.default_rng(7)
    made = []
    for number in range(3):
        lambda_1 = 0.9 - 0.02 * number + rng.normal(0, 0.01, 3000)
        run = make_run(
            30,
            rpm=6000 + 900 * np.sin(T / (2 + number)),
            throttle=np.where(T < 15, 55.0, 100.0),
            lambda_1=lambda_1,
            lambda_2=lambda_1 + 0.03,
            egt_1=650.0 + 10 * number,
            setup=Setup(fuel="e5"),
        )
        made.append(replace(run, session=replace(run.session, id=number + 1)))
    return made


def of_season(rides, frames):
    """Return the season's bands of frames in their order."""
    return season(
        pl.concat(frames).lazy(), [run.session.id for run in rides], rides[0].bike, fuel_by_name("e5")
    )


def test_one_session_is_its_own_season(rides):
    """A season of one session has that session's cells, budgets and full-throttle value to the last digit."""
    alone, whole = bands(rides[0]), of_season(rides[:1], [kept_counts(rides[0])])

    assert whole.cells.equals(alone.cells)
    assert whole.budgets == alone.budgets
    assert whole.full_throttle == alone.full_throttle


def test_the_order_does_not_matter(rides):
    """Whatever the order in which sessions are added up, the answer is the same to the last digit."""
    frames = [kept_counts(run) for run in rides]
    forward, backward = of_season(rides, frames), of_season(rides, frames[::-1])

    assert forward.cells.equals(backward.cells)
    assert forward.budgets == backward.budgets


def test_kept_and_read_again_nothing_is_lost(rides, tmp_path):
    """A frame that went through a file gives the same season to the last digit as one that was just made."""
    frames = [kept_counts(run) for run in rides]
    again = []
    for number, frame in enumerate(frames):
        frame.write_parquet(tmp_path / f"{number}.parquet", compression="zstd")
        again.append(pl.read_parquet(tmp_path / f"{number}.parquet"))

    assert of_season(rides, again).cells.equals(of_season(rides, frames).cells)


def test_a_season_is_what_all_its_samples_say(rides):
    """Mean, seconds, samples and percentiles are those of all samples together, in plain arithmetic."""
    whole = of_season(rides, [kept_counts(run) for run in rides]).cells
    each = [bands(run).cells for run in rides]
    keys = ["cylinder", "throttle_from", "rpm_from"]
    plain = (
        pl.concat(each)
        .with_columns(total=pl.col("lambda_mean") * pl.col("samples"))
        .group_by(keys)
        .agg(pl.col("samples").sum(), pl.col("seconds").sum(), pl.col("total").sum())
    )
    both = whole.join(plain, on=keys, suffix="_plain").filter(pl.col("total") > 0)

    assert len(both) == len(whole) > 4
    assert both["samples"].to_list() == both["samples_plain"].to_list()
    assert both["seconds"].to_numpy() == pytest.approx(both["seconds_plain"].to_numpy())
    told = both.filter(pl.col("lambda_mean").is_not_null())
    mean = (told["total"] / told["samples"]).to_numpy()
    assert told["lambda_mean"].to_numpy() == pytest.approx(
        mean, abs=1e-4
    )  # bands under a second told no mean


def test_more_sessions_are_surer_by_sampling_and_not_by_the_sensor(rides):
    """Three sessions leave less error of sampling than one of them; the sensor's own accuracy is what it was."""
    one = of_season(rides[:1], [kept_counts(rides[0])]).full_throttle[0].budget.components
    three = of_season(rides, [kept_counts(run) for run in rides]).full_throttle[0].budget.components

    assert three[0].sd < 0.8 * one[0].sd
    assert three[2].sd == pytest.approx(one[2].sd)


def test_a_session_without_lambda_or_speed_leaves_nothing(make_run):
    """Such a session has no rows, and stands in nobody's way."""
    for lack in ("lambda_1", "rpm"):
        assert kept_counts(make_run(**{lack: None})).is_empty()


def test_sessions_without_a_throttle_are_left_out_and_said(rides, make_run):
    """Beside sessions with a throttle channel one without it is left out of the season, with a sentence."""
    blind = make_run(throttle=None)
    found = of_season([*rides, blind], [kept_counts(run) for run in (*rides, blind)])

    assert found.cells.equals(of_season(rides, [kept_counts(run) for run in rides]).cells)
    assert any("1 sessions without a throttle channel" in note for note in found.notes)


@settings(max_examples=25, deadline=None)
@given(st.permutations(range(6)), st.integers(1, 5))
def test_adding_up_is_exact_in_any_grouping(order, cut):
    """Whole numbers of any frames add up the same in any order and in any two groups."""
    frames = [_frame(seed) for seed in range(6)]
    shuffled = [frames[i] for i in order]
    whole = add_up(frames)
    parts = add_up([add_up(shuffled[:cut]), add_up(shuffled[cut:])])

    assert parts.equals(whole)


def _frame(seed):
    rng = np.random.default_rng(seed)
    steps = [sorted(rng.choice(1200, rng.integers(1, 9), replace=False).tolist()) for _ in range(3)]
    return pl.DataFrame(
        {"channel": ["lambda_1"] * 3, "cylinder": [1] * 3, "band": rng.choice(5, 3, replace=False).tolist()}
        | {name: rng.integers(1, 2**40, 3).tolist() for name in (*SUMS, *DOUBTS)}
        | {"steps": steps, "counts": [rng.integers(1, 1000, len(some)).tolist() for some in steps]},
        schema=SCHEMA,
    )
