"""The measured lambda over a plug's own exposure."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from bridge.model import PartState
from bridge.model.reading_limits import ReadingLimits
from bridge.plug.exposure import MEMORY_S, measured
from bridge.plug.lived import live_through
from tests.virtual_runs import BIKE, life, run_of, virtual_run

RATE_HZ = 20.0


def ridden(*phases, number=1, bike=BIKE, noise=None, **channels):
    """Return a run of phases of (seconds, throttle, rpm, lambda), each constant from its first row on."""
    seconds, throttle, rpm, lambda_ = (np.array(column, dtype=float) for column in zip(*phases, strict=True))
    rows = np.repeat(np.arange(len(phases)), np.round(seconds * RATE_HZ).astype(int))
    reading = lambda_[rows] + (0.0 if noise is None else noise[: len(rows)])
    frame = pl.DataFrame(
        {
            "t_s": np.arange(len(rows)) / RATE_HZ,
            "throttle": throttle[rows],
            "rpm": rpm[rows],
            "lambda_1": reading,
        }
        | {name: np.full(len(rows), value) for name, value in channels.items()},
    )
    return run_of(frame, number=number, bike=bike)


def full(seconds, lambda_):
    return (seconds, 100.0, 9000.0, lambda_)


def part(seconds, lambda_=0.9):
    return (seconds, 40.0, 5000.0, lambda_)


@pytest.mark.parametrize(
    ("openings", "seconds"),
    [
        ((80.0, 96.0, 92.0, 89.0), 4.0),  # 92 after 96 is still full throttle, 89 is not
        ((92.0, 96.0, 80.0, 92.0), 2.0),  # 92 after 80 is not
        ((100.0, 100.0), 4.0),
        ((94.0, 94.0), 0.0),
    ],
)
def test_full_throttle_begins_at_95_and_ends_under_90(openings, seconds):
    """Of phases of 2 s, those count that are at 95 % and over, and after them those from 90 % on."""
    run = ridden(*((2.0, opening, 8000.0, 0.87) for opening in openings))

    assert live_through((run,), 1).full_throttle_s == pytest.approx(seconds, abs=0.06)


def test_a_constant_mixture_is_measured_as_it_is():
    """Where every full-throttle reading says 0.87, so does the mean, whatever the part throttle said."""
    found = measured(life(ridden(part(10, 0.95), full(10, 0.87), part(10, 0.95))))

    assert found.mean == pytest.approx(0.87, abs=1e-4)
    assert found.low < 0.87 < found.high
    assert found.high - found.low > 0.0
    assert 8.0 < found.seconds < 10.0


def test_the_last_full_throttle_counts_most():
    """Each second counts exp(-age/60 s): two straights 70 s apart weigh as that says (closed form)."""
    found = measured(life(ridden(full(10, 0.80), part(60), full(10, 0.90), part(5))))
    old = np.exp(-70.0 / MEMORY_S)

    assert found.mean == pytest.approx((0.80 * old + 0.90) / (old + 1.0), abs=2e-3)
    assert found.mean > 0.85


def test_how_long_a_nose_remembers_is_a_setting_of_the_bike():
    """With a memory of ten minutes two straights 70 s apart count nearly alike (closed form)."""
    bike = BIKE.model_copy(update={"reading": ReadingLimits(memory_s=600.0)})
    run = replace(ridden(full(10, 0.80), part(60), full(10, 0.90), part(5)), bike=bike)
    found = measured(life(run))
    old = np.exp(-70.0 / 600.0)

    assert found.memory_s == 600.0
    assert found.mean == pytest.approx((0.80 * old + 0.90) / (old + 1.0), abs=2e-3)
    assert found.mean < 0.86


def test_age_is_running_time():
    """A stop of ten minutes with the engine off makes what was before it no older."""
    stood = (600.0, 0.0, 0.0, 0.9)
    paused = measured(life(ridden(full(10, 0.80), stood, full(10, 0.90))))
    joined = measured(life(ridden(full(10, 0.80), part(600), full(10, 0.90))))

    assert paused.mean == pytest.approx(0.854, abs=3e-3)
    assert joined.mean == pytest.approx(0.90, abs=1e-3)


def test_all_sessions_since_it_was_fitted_count():
    """A plug that stayed in for two sessions lived through both, the later one weighing more."""
    first, second = ridden(full(20, 0.80)), ridden(full(20, 0.90), number=2)
    both = measured(life([first, second]))

    assert measured(life(first)).mean == pytest.approx(0.80, abs=1e-3)
    assert 0.85 < both.mean < 0.90
    assert both.seconds == pytest.approx(2.0 * measured(life(first)).seconds, abs=0.1)


def test_a_cylinder_is_judged_by_its_own_sensor():
    """Its own channel comes before the engine's, and the engine's stands in where it has none."""
    run = ridden(full(20, 0.87), **{"lambda": 0.95})
    own, engine = measured(life(run, 1)), measured(life(run, 2))

    assert (own.channel, own.engine_wide) == ("lambda_1", False)
    assert (engine.channel, engine.engine_wide) == ("lambda", True)
    assert own.mean == pytest.approx(0.87, abs=1e-3)
    assert engine.mean == pytest.approx(0.95, abs=1e-3)


@pytest.mark.parametrize(
    ("lost", "because"),
    [
        ("throttle", "no reading of the throttle"),
        ("rpm", "no engine speed"),
        ("lambda_1", "no lambda channel for cylinder 1"),
    ],
)
def test_what_the_log_lacks_is_named(lost, because):
    """Without throttle, speed or lambda there is no mean, and the reason says which is missing."""
    run = ridden(full(20, 0.87))
    found = measured(life(replace(run, samples=run.samples.drop(lost))))

    assert found.mean is None
    assert because in found.because


def test_a_channel_without_a_single_reading_is_as_good_as_none():
    """A throttle that was never read is not a throttle that was never open."""
    run = ridden(full(20, 0.87))
    dead = replace(run, samples=run.samples.with_columns(throttle=pl.lit(None, dtype=pl.Float32)))

    assert "no reading of the throttle" in measured(life(dead)).because
    assert live_through((dead,), 1).full_throttle_s is None


@pytest.mark.parametrize("rows", [0, 1, 2])
def test_a_log_of_hardly_any_rows_has_no_mean(rows):
    """Next to nothing recorded is a reason, not a failure."""
    run = ridden(full(20, 0.87))

    assert measured(life(replace(run, samples=run.samples.head(rows)))).mean is None


def test_a_ride_without_full_throttle_has_no_mean():
    """At 94 % the plug saw no full throttle."""
    found = measured(life(ridden((30.0, 94.0, 8000.0, 0.9))))

    assert found.mean is None
    assert "no steady full throttle" in found.because
    assert found.histogram.is_empty()


def test_too_little_full_throttle_has_no_uncertainty_and_so_no_mean():
    """Half a second of steady full throttle is one block, and one block has no spread."""
    found = measured(life(ridden(part(10), full(1.4, 0.87))))

    assert found.mean is None
    assert "too few" in found.because


def test_readings_of_a_cold_sensor_do_not_count():
    """What a sensor says before it is ready is left out."""
    run = ridden(full(20, 0.80), full(20, 0.92))
    warming = replace(
        run, states=(PartState(0.0, "lambda_1", "warming"), PartState(20.5, "lambda_1", "ready"))
    )

    assert measured(life(warming)).mean == pytest.approx(0.92, abs=1e-3)
    assert measured(life(run)).mean < 0.88


def test_what_the_sensor_says_after_a_chop_does_not_count():
    """After the cut the sensor sees air while the throttle is still open: none of that is mixture."""
    run, truth = virtual_run(3)
    found = measured(life(run))
    burned = truth.filter(pl.col("throttle") >= 95.0, pl.col("burning"))["lambda_true_1"]

    assert found.mean == pytest.approx(burned.mean(), abs=0.003)
    assert found.histogram["lambda_from"].max() < burned.max() + 0.03


@pytest.mark.parametrize("fall_per_s", [800.0, 1500.0, 4500.0])
def test_a_cut_in_gear_does_not_count_either(fall_per_s):
    """Where the wheel keeps a dead engine turning, the readings that rise to air are left out all the same."""
    t_s = np.arange(600) / RATE_HZ
    rising = np.where(
        t_s > 20.06, (2.0 - 0.87) * (1.0 - np.exp(-np.clip(t_s - 20.06, 0.0, None) / 0.15)), 0.0
    )
    reading = 0.87 + rising + np.random.default_rng(2).normal(0.0, 0.002, t_s.size)
    columns = {
        "t_s": t_s,
        "throttle": np.full(t_s.size, 100.0),
        "rpm": np.clip(9000.0 - fall_per_s * np.clip(t_s - 20.0, 0.0, None), 0.0, None),
        "lambda_1": np.minimum(reading, 2.0),
    }
    found = measured(life(run_of(pl.DataFrame(columns))))

    assert found.mean == pytest.approx(0.87, abs=5e-4)
    assert found.seconds > 18.0


def test_readings_that_never_change_have_no_effective_number():
    """Where the scatter is below the sensor's step it tells nothing, and the resolution alone bounds the mean."""
    found = measured(life(ridden(part(5), full(20, 0.87))))

    assert found.effective_n is None
    assert found.high - found.mean == pytest.approx(1.96 * 0.001 / np.sqrt(12.0), rel=0.01)


def test_the_histogram_is_the_distribution_that_the_mean_is_of():
    """Its shares add up to one and its mean is the mean, within half a bin."""
    found = measured(life(virtual_run(4)[0]))
    middle = found.histogram["lambda_from"] + 0.0025

    assert found.histogram["share"].sum() == pytest.approx(1.0)
    assert (middle * found.histogram["share"]).sum() == pytest.approx(found.mean, abs=0.0025)


def test_the_sensors_own_error_is_told_apart():
    """0.010 on a four-stroke and 0.05 on a two-stroke, and a year of drift (common practice), in no interval."""
    phases = (part(5), full(20, 0.87))
    four = measured(life(ridden(*phases)))
    two = measured(life(ridden(*phases, bike=BIKE.model_copy(update={"strokes": 2}))))
    unknown = measured(life(ridden(*phases, bike=None)))

    for found, accuracy in ((four, 0.010), (two, 0.05), (unknown, 0.05)):
        assert [part.sd for part in found.sensor.components] == pytest.approx([accuracy, 0.005])
        assert found.sensor_sd == pytest.approx(np.hypot(accuracy, 0.005))
    assert two.high - two.low < 0.01


def correlated(rng, count, sd, share):
    """Return first-order correlated noise of a standard deviation; ``share`` is kept from row to row."""
    white = rng.standard_normal(count)
    white[0] /= np.sqrt(1.0 - share**2)
    kept = share ** np.arange(count)
    return sd * np.sqrt(1.0 - share**2) * np.convolve(white, kept)[:count]


def test_intervals_hold_where_readings_hang_together():
    """With noise that remembers half a second, at least 92 % of 200 intervals of 95 % hold the true mean.

    An interval from the count of the readings would be three times too narrow: 20 of them come each second.
    """
    rng = np.random.default_rng(20260514)
    held, naive = 0, 0
    for _ in range(200):
        run = ridden(full(20, 0.87), noise=correlated(rng, 400, 0.01, 0.9))
        found = measured(life(run))
        held += found.low <= 0.87 <= found.high
        naive += abs(found.mean - 0.87) <= 1.96 * 0.01 / np.sqrt(found.seconds * RATE_HZ)

    assert held >= 184
    assert naive < 160


def test_correlated_readings_count_for_fewer():
    """The effective number of samples is far below their count where they hang together."""
    rng = np.random.default_rng(5)
    found = measured(life(ridden(full(60, 0.87), noise=correlated(rng, 1200, 0.01, 0.95))))

    assert found.effective_n < 0.2 * found.seconds * RATE_HZ


def test_a_mixture_that_runs_away_makes_the_delay_matter():
    """On a slope of lambda the doubt of the delay moves the mean by slope times doubt (closed form)."""
    slope = 0.004
    run = ridden(full(20, 0.85), noise=slope * np.arange(400) / RATE_HZ)
    delay = next(part for part in measured(life(run)).budget.components if "delay" in part.name)
    flat = next(
        part for part in measured(life(ridden(full(20, 0.85)))).budget.components if "delay" in part.name
    )

    assert 0.01 * slope < delay.sd < 0.2 * slope
    assert flat.sd == pytest.approx(0.0, abs=1e-9)


def test_what_the_mixture_does_with_speed_is_no_error():
    """A pull through the revs that leans out by 0.03 is measured nearly as surely as a flat one."""
    rng = np.random.default_rng(11)
    speed = np.linspace(5000.0, 9000.0, 240)
    rise = 0.03 * (speed - 7000.0) / 4000.0
    widths = []
    for mixture in (0.87 + rise, np.full(240, 0.87)):
        reading = mixture + rng.normal(0.0, 0.003, 240)
        columns = {"t_s": np.arange(240) / RATE_HZ, "throttle": np.full(240, 100.0), "rpm": speed}
        found = measured(life(run_of(pl.DataFrame(columns | {"lambda_1": reading}))))
        widths.append(found.high - found.low)

    assert widths[0] < 1.6 * widths[1]


def test_a_coarse_sensor_is_less_sure():
    """Readings in steps of 0.01 add a doubt of 0.01 over the root of 12 (uniform within a step)."""
    rng = np.random.default_rng(6)
    noisy = ridden(full(20, 0.87), noise=0.01 * rng.integers(-3, 4, 400))
    step = next(part for part in measured(life(noisy)).budget.components if "resolution" in part.name)

    assert step.sd == pytest.approx(0.01 / np.sqrt(12.0), rel=0.01)


def test_runs_alone_can_be_measured_where_no_plug_is_known():
    """The same runs give the same mean with a plug and without one."""
    run = ridden(part(5), full(20, 0.87))

    assert measured((run,), 1).mean == measured(life(run)).mean


def test_a_log_with_a_hole_is_not_bridged():
    """Two minutes without lines count neither as full throttle nor as running."""
    run = ridden(full(40, 0.87))
    holed = replace(run, samples=run.samples.filter(~pl.col("t_s").is_between(10.0, 30.0)))
    whole, lost = live_through((run,), 1), live_through((holed,), 1)

    assert whole.full_throttle_s == pytest.approx(40.0, abs=0.1)
    assert lost.full_throttle_s == pytest.approx(20.0, abs=0.2)
    assert lost.frame.filter("printing")["stretch"].n_unique() == 2
