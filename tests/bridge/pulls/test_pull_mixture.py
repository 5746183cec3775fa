"""Mixture along a pull: where it burned, with its interval, and where it leaves the target."""

import numpy as np
import polars as pl
import pytest

from bridge.align import Delay, Found
from bridge.errors import BadValue
from bridge.model import PartState, Setup
from bridge.pulls import pulls_of
from tests.bridge.pulls.dyno_days import BIKE, WEATHER, day, frame_of
from tests.virtual_runs import run_of

SETUP = Setup(kind="dyno", fuel="e5", weather=WEATHER)


def known_delay(seconds, rows, sd_s=0.01):
    """A delay that is the same all along."""
    return Found(Delay(seconds, sd_s, "ride", lag_s=0.05), np.full(rows, seconds), None)


def ramp(late_s=0.0):
    """A pull along which lambda rises from 0.82 to 0.92 with the revs, told that much too late."""
    frame = frame_of([1.0])
    t = frame["t_s"].to_numpy()
    burned = 0.82 + 0.1 * np.clip((frame["rpm"].to_numpy() - 4_000.0) / 5_000.0, 0.0, 1.0)
    noise = np.random.default_rng(3).normal(0.0, 0.003, len(t))
    return frame.with_columns(pl.Series("lambda_1", np.interp(t - late_s, t, burned) + noise)).drop(
        "lambda_2"
    )


def test_lambda_stands_where_its_charge_burned():
    """Read 0.4 s late and shifted by that, lambda along the revs is the truth; not shifted it lags behind it."""
    frame = ramp(0.4)
    run = run_of(frame, bike=BIKE, setup=SETUP)
    (right,) = pulls_of(run, delay=known_delay(0.4, frame.height)).pulls
    (wrong,) = pulls_of(run, delay=known_delay(0.0, frame.height)).pulls

    curve = right.curve.drop_nulls("lambda")
    true = 0.82 + 0.1 * (curve["rpm"].to_numpy() - 4_000.0) / 5_000.0
    inner = (curve["rpm"] > 4_500).to_numpy() & (curve["rpm"] < 8_800).to_numpy()
    assert np.abs(curve["lambda"].to_numpy() - true)[inner].max() < 0.005
    behind = wrong.curve["lambda"].to_numpy()[inner] - true[inner]
    assert behind.mean() < -0.004


def test_the_delay_of_the_session_is_that_of_the_bands():
    """Asked of the ride, a pull's delay is the very one that the session's bands are laid back by."""
    from bridge.bands import running  # noqa: PLC0415  # beside its only use

    run = day([1.0, 1.0, 1.0])

    assert pulls_of(run).delay == running(run).delay


def test_a_quick_log_has_the_delay_of_a_slower_one():
    """At 1,000 lines a second the gas is followed at 200: delay and mixture are those of every fifth line alone."""
    slow = frame_of([1.0, 1.0])
    t = slow["t_s"].to_numpy()
    quick_s = np.arange(0.0, t[-1], 0.001)
    quick = pl.DataFrame(
        {"t_s": quick_s} | {c: np.interp(quick_s, t, slow[c].to_numpy()) for c in slow.columns[1:]}
    )
    whole, fifth = (
        pulls_of(run_of(frame, bike=BIKE, setup=SETUP), ask_ride=False)
        for frame in (quick, quick.gather_every(5))
    )

    assert whole.delay.seconds == pytest.approx(fifth.delay.seconds, abs=1e-4)
    for one, other in zip(whole.pulls, fifth.pulls, strict=True):
        both = one.curve.join(other.curve, on="rpm").drop_nulls(["lambda_1", "lambda_1_right"])
        assert both.height > 40
        assert both["lambda_1"].to_numpy() == pytest.approx(both["lambda_1_right"].to_numpy(), abs=0.001)


def test_each_cylinder_has_its_own_curve_and_their_mean():
    """Both cylinders' curves stand beside their mean, each inside its interval."""
    (pull,) = pulls_of(day([1.0], mixture=(0.86, 0.92)), ask_ride=False).pulls
    curve = pull.curve.drop_nulls("lambda")

    assert [one.cylinder for one in pull.mixture] == [1, 2]
    assert pull.mixture[1].mean - pull.mixture[0].mean == pytest.approx(0.06, abs=0.002)
    assert curve["lambda"].to_numpy() == pytest.approx(
        (curve["lambda_1"] + curve["lambda_2"]).to_numpy() / 2.0
    )
    for name in ("lambda_1", "lambda_2"):
        assert (curve[f"{name}_low"] < curve[name]).all()
        assert (curve[name] < curve[f"{name}_high"]).all()
    assert curve["egt_1"][-1] > curve["egt_1"][0] + 100.0


def test_the_interval_has_the_sensors_own_accuracy_in_it():
    """On a four-stroke no bin is told closer than twice the sensor's 0.010, and a doubtful delay widens it."""
    # common practice, no source: 0.010 lambda on a four-stroke
    frame = ramp()
    run = run_of(frame, bike=BIKE, setup=SETUP)

    def width(sd_s):
        curve = pulls_of(run, delay=known_delay(0.0, frame.height, sd_s)).pulls[0].curve.drop_nulls("lambda")
        return float((curve["lambda_1_high"] - curve["lambda_1_low"]).median())

    assert width(0.01) > 2.0 * 1.96 * 0.010
    assert width(0.2) > width(0.01)


def test_where_the_mixture_leaves_its_target():
    """A mixture that leans out with the revs is richer than the target below and leaner above, by revs and surely."""
    frame = ramp()
    run = run_of(frame, bike=BIKE, setup=SETUP)
    (pull,) = pulls_of(run, delay=known_delay(0.0, frame.height), target=0.86).pulls

    # 0.86 + 0.03 is passed at 4,000 + 5,000 x 0.7 = 7,500 rpm
    lean = [one for one in pull.leaves if one.direction == "leaner"]
    assert max(lean, key=lambda one: one.rpm_to - one.rpm_from).rpm_from == pytest.approx(7_500.0, abs=250.0)
    assert max(one.farthest for one in lean) == pytest.approx(0.92, abs=0.01)
    assert any(one.surely for one in lean)
    assert pulls_of(run, delay=known_delay(0.0, frame.height), target=0.87).pulls[0].leaves != pull.leaves
    assert pulls_of(run, delay=known_delay(0.0, frame.height)).pulls[0].leaves == ()


def test_a_target_must_be_one():
    """A target of 14.7 is an AFR and no lambda: refused with the mend."""
    with pytest.raises(BadValue, match=r"0\.5 to 1\.5"):
        pulls_of(day([1.0]), target=14.7)


def test_a_sensor_that_was_not_ready_is_left_out():
    """While its heater warmed, a sensor's readings are no mixture; the other cylinder's are."""
    run = day([1.0])
    cold = run.__class__(
        run.session, run.bike, run.setup, run.samples, states=(PartState(0.0, "lambda_1", "warming"),)
    )
    (pull,) = pulls_of(cold, ask_ride=False).pulls

    assert pull.mixture[0].mean is None
    assert pull.mixture[0].left_out > 100
    assert pull.mixture[1].mean == pytest.approx(0.88, abs=0.02)


def test_readings_off_the_sensors_range_are_left_out():
    """Air in the pipe (lambda 2.5) in the middle of a pull is no mixture and takes no part in its curve."""
    frame = ramp()
    t = frame["t_s"].to_numpy()
    spoiled = np.where((t > 13.0) & (t < 13.2), 2.5, frame["lambda_1"].to_numpy())
    run = run_of(frame.with_columns(pl.Series("lambda_1", spoiled)), bike=BIKE, setup=SETUP)
    (pull,) = pulls_of(run, delay=known_delay(0.0, frame.height)).pulls

    assert pull.mixture[0].left_out > 10
    assert pull.curve["lambda"].drop_nulls().max() < 1.0


def test_a_session_without_lambda_still_has_its_power():
    """No oxygen sensor: power is told, and that there is no mixture."""
    got = pulls_of(day([1.0], keep=["t_s", "rpm", "throttle", "roller_rpm"]))

    assert got.pulls[0].peak is not None
    assert got.pulls[0].mixture == ()
    assert any("no lambda channel" in note for note in got.notes)
