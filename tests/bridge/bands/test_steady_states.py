"""What each moment of a run is, on rides built by hand."""

import numpy as np
import pytest

from bridge.bands import STATES, SteadyLimits, prepare, running
from bridge.errors import BadValue
from bridge.model import PartState

T = np.arange(2000) * 0.01


def test_a_step_of_the_throttle_settles_for_its_time(make_run, states_of):
    """From 40 to 60 % at 10 s: not steady from a delay and 0.1 s before the step until 0.8 s after it."""
    run = make_run(throttle=np.where(T < 10, 40.0, 60.0))
    stays = states_of(prepare(run))
    ahead_s = running(run).delay.seconds + 0.1

    assert [state for state, _, _ in stays] == [
        "settling",
        "steady",
        "settling",
        "opening",
        "settling",
        "steady",
    ]
    assert stays[0][2] == pytest.approx(0.8, abs=0.02)
    assert stays[2][1] == pytest.approx(10.0 - ahead_s, abs=0.025)
    assert stays[3][1:] == pytest.approx((10.0, 10.19), abs=0.03)
    assert stays[4][2] == pytest.approx(10.8, abs=0.03)


def test_at_idle_it_must_stay_settled_until_the_slow_reading(make_run):
    """Before an opening nothing is steady whose reading, by idle's own slow flow, comes after it."""
    run = make_run(throttle=np.where(T < 10, 2.0, 100.0), rpm=np.where(T < 10, 1500.0, 6000.0))
    steady = prepare(run).collect().filter("steady")["t_s"]

    assert 9.1 < steady.filter(steady < 10.0).max() < 9.4


def test_a_longer_settling_leaves_less(make_run):
    """Asking for more settling never gives more steady running."""
    run = make_run(throttle=60 + 20 * np.sign(np.sin(T)))
    shares = [
        prepare(run, limits=SteadyLimits(settle_s=s)).collect()["steady"].mean() for s in (0.3, 0.8, 2.0, 5.0)
    ]

    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.8
    assert shares[-1] == 0


def test_a_trembling_hand_is_steady(make_run):
    """A throttle that trembles by 1 % and an engine that hunts by 100 rpm are steady."""
    rng = np.random.default_rng(1)
    run = make_run(throttle=60 + rng.uniform(-1, 1, 2000), rpm=6000 + 100 * np.sin(9 * T))

    assert prepare(run).collect()["steady"].mean() > 0.94


def test_a_pull_at_full_throttle_is_steady(make_run, states_of):
    """Speed may rise by 1000 rpm a second at full throttle, but not by 4000."""
    pull = states_of(prepare(make_run(throttle=100.0, rpm=np.clip(3000 + 1000 * (T - 10), 3000, 9000))))
    wild = states_of(prepare(make_run(throttle=100.0, rpm=np.clip(3000 + 4000 * (T - 10), 3000, 9000))))

    assert [state for state, _, _ in pull] == ["settling", "steady"]
    assert [state for state, _, _ in wild] == ["settling", "steady", "settling", "steady"]


def test_a_shut_throttle_at_speed_is_overrun(make_run, states_of):
    """With the throttle shut at 5000 rpm the wheel drives the engine; idling at 1500 is none."""
    stays = states_of(prepare(make_run(throttle=np.where(T < 10, 60.0, 0.0), rpm=5000.0)))
    idle = states_of(prepare(make_run(throttle=0.0, rpm=1500.0)))

    assert [state for state, _, _ in stays] == ["settling", "steady", "settling", "overrun"]
    assert stays[3][1] == pytest.approx(10.0, abs=0.02)
    assert idle[-1][0] == "idle"


def test_what_follows_an_overrun_settles_first(make_run, states_of):
    """After an overrun of slow change the mixture in the pipe is still the old one for the settling time."""
    rpm = np.clip(2600 - 50 * (T - 8), 2300, 2600)
    stays = states_of(prepare(make_run(throttle=2.0, rpm=rpm)))

    assert [state for state, _, _ in stays] == ["overrun", "settling", "idle"]
    assert stays[1][2] - stays[1][1] == pytest.approx(0.8, abs=0.03)


def test_a_chop_is_a_cut_ignition_and_then_a_stop(make_run, states_of):
    """Full throttle, then the spark is cut: the speed falls with the throttle open, until nothing turns."""
    rpm = np.clip(9000 - 4500 * np.clip(T - 10, 0, None), 0, 9000)
    stays = states_of(prepare(make_run(throttle=100.0, rpm=rpm)))
    names = [state for state, _, _ in stays]

    assert names == ["settling", "steady", "settling", "cut", "stopped"]
    assert stays[1][2] < 9.95


def test_nothing_is_steady_around_a_change_of_gear(make_run):
    """A change of gear takes 1500 rpm in 0.15 s: a second around it is not steady, and no ignition is cut."""
    rpm = 9000 - 10_000 * np.clip(T - 10, 0, 0.15)
    frame = prepare(make_run(throttle=100.0, rpm=rpm)).collect()

    assert not frame.filter(frame["t_s"].is_between(9.9, 10.9))["steady"].any()
    assert frame.filter(frame["t_s"] > 11.2)["steady"].all()
    assert "cut" not in frame["state"].unique().to_list()


def test_lost_speed_and_throttle_are_no_reading(make_run, states_of):
    """Two seconds without a throttle reading are that and nothing else; settling begins anew after them."""
    throttle = np.where((T >= 8) & (T < 10), np.nan, 60.0)
    stays = states_of(prepare(make_run(throttle=throttle)))

    assert [state for state, _, _ in stays] == [
        "settling",
        "steady",
        "settling",
        "no reading",
        "settling",
        "steady",
    ]


def test_a_hole_in_the_log_begins_settling_anew(make_run):
    """Nobody knows what happened in ten seconds without lines, and they count for no time."""
    t = np.concatenate((np.arange(500) * 0.01, 15.0 + np.arange(500) * 0.01))
    frame = prepare(make_run(t_s=t)).collect()

    assert not frame["steady"][500:580].any()
    assert frame["steady"][585:].all()
    assert frame["dt_s"].sum() == pytest.approx(10.0)


def test_a_log_of_one_line_a_second_can_be_steady(make_run):
    """A slow log is judged over two of its own periods, not over less than one."""
    t = np.arange(120) * 1.0
    steady = prepare(make_run(t_s=t, throttle=np.where(t < 60, 30.0, 80.0))).collect()["steady"]

    assert steady[5:58].all()
    assert steady[64:].all()
    assert not steady[60:62].any()


def test_without_a_throttle_speed_alone_decides(make_run):
    """No throttle channel: settled speed is steady, and the column is there and empty."""
    frame = prepare(make_run(throttle=None)).collect()

    assert frame["throttle"].null_count() == len(frame)
    assert frame["steady"][100:].all()


def test_without_speed_there_is_a_sentence(make_run):
    """A run without engine speed is refused by what it lacks."""
    with pytest.raises(BadValue, match=r"session 7 has no engine speed.*channel named rpm"):
        prepare(make_run(rpm=None))


def test_lambda_is_laid_back_to_its_charge(make_run):
    """What the sensor shows a delay later is at the moment that burned it."""
    run = make_run(lambda_1=0.8 + 0.005 * T)
    found = running(run)
    frame = found.samples.collect().drop_nulls("lambda_1")

    assert frame["lambda_1"].to_numpy() == pytest.approx(
        0.8 + 0.005 * (frame["t_s"].to_numpy() + found.delay.seconds), abs=3e-5
    )


def test_a_sensor_that_warms_is_not_ready(make_run):
    """Readings until the sensor says ready are left out and named; the other cylinder's stay."""
    states = (PartState(0.5, "lambda_1", "warming"), PartState(6.0, "lambda_1", "ready"))
    frame = prepare(make_run(lambda_2=0.9, states=states)).collect()
    early = frame.filter(frame["t_s"] < 5.5)

    assert early["lambda_1"].null_count() == len(early)
    assert (early["sensor_1"] == "not ready").all()
    assert early["lambda_2"].null_count() == 0
    assert (frame.filter(frame["t_s"].is_between(6.0, 19.0))["sensor_1"] == "ready").all()


def test_a_fault_later_on_counts_from_then(make_run):
    """A sensor that was ready before its fault keeps what it read before."""
    states = (PartState(0.5, "lambda_1", "ready"), PartState(10.0, "lambda_1", "fault"))
    frame = prepare(make_run(states=states)).collect()

    assert frame.filter(frame["t_s"] < 9.5)["lambda_1"].null_count() == 0
    assert frame.filter(frame["t_s"] > 10.0)["lambda_1"].null_count() > 900


def test_air_in_the_pipe_is_off_range(make_run):
    """Readings that no firing engine makes are off range, whatever the throttle does."""
    frame = prepare(make_run(lambda_1=np.where(T < 10, 0.88, 4.0))).collect()

    assert (frame.filter(frame["t_s"].is_between(10.0, 19.5))["sensor_1"] == "off range").all()
    assert frame["lambda_1"].max() < 1.0


def test_a_part_of_the_run_is_what_burned_in_it(make_run):
    """From and to take their seconds, and settling is judged with what went before."""
    frame = prepare(make_run(), from_s=5.0, to_s=8.0).collect()

    assert frame["t_s"].min() == pytest.approx(5.0)
    assert frame["t_s"].max() == pytest.approx(8.0)
    assert frame["steady"].all()


def test_an_empty_run_gives_an_empty_frame(make_run):
    """No samples, no rows, no failure."""
    frame = prepare(make_run(t_s=[])).collect()

    assert frame.shape[0] == 0
    assert set(frame["state"].unique()) <= set(STATES)
