"""The virtual bike: everything in it goes the way it goes on a real one."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from bridge.emulator.engine import Circuits, VirtualBike, air_flow
from bridge.emulator.ride import Phase, dyno_day, practice, short_ride, trace
from bridge.emulator.scenario import Scenario, sample
from bridge.emulator.sensors import Faults, Sensor, Stream, arriving
from bridge.emulator.signals import Sampling

BIKE = VirtualBike()
STILL = replace(BIKE, wander_sd=0.0, cycle_sd=0.0)
IDLE, FULL = Phase(20.0, 0.0, 1500.0), Phase(20.0, 100.0, 9500.0)


def truth_of(bike=STILL, script=(IDLE, FULL), seed=1, **other):
    return sample(Scenario(bike=bike, script=tuple(script), **other), seed).truth


def settled(frame, what, throttle):
    """Mean of a column in the last five seconds of one opening."""
    at = frame.filter((pl.col("throttle") - throttle).abs() < 2.0)
    return at.filter(pl.col("t_s") > at["t_s"].max() - 5.0)[what].mean()


def test_lag_answers_a_step_as_a_first_order_does():
    """63.212 % of a step have come through after one time constant (closed form)."""
    step = np.concatenate([np.zeros(10), np.ones(500)])

    answered = Sampling(1, 100.0).lag(step, 0.1)

    assert answered[9] == 0.0
    assert answered[19] == pytest.approx(1 - np.exp(-1), abs=1e-9)
    assert answered[-1] == pytest.approx(1.0, abs=1e-6)
    assert Sampling(1, 100.0).lag(step, 0.0).tolist() == step.tolist()


def test_wander_has_the_spread_and_the_memory_that_it_is_told():
    """Slow noise has its standard deviation from the first value on and forgets with its time constant."""
    starts = [Sampling(seed, 100.0).wander("x", 2, 0.3, 2.0)[0] for seed in range(400)]
    long = Sampling(1, 10.0).wander("x", 200_000, 0.3, 2.0)

    assert np.std(starts) == pytest.approx(0.3, rel=0.12)
    assert np.std(long) == pytest.approx(0.3, rel=0.05)
    assert np.corrcoef(long[:-20], long[20:])[0, 1] == pytest.approx(np.exp(-1), abs=0.06)


def test_a_bigger_main_jet_is_richer_most_at_full_throttle_and_not_at_idle():
    """Five percent more flow lowers lambda at full throttle, less at the needle, not on the pilot."""
    bigger = replace(STILL, circuits=STILL.circuits.with_main_jet(1.05))
    script = (IDLE, Phase(20.0, 50.0, 6000.0), FULL)
    before, after = truth_of(script=script), truth_of(bigger, script)

    drop = [settled(before, "lambda_true_1", x) - settled(after, "lambda_true_1", x) for x in (0, 50, 100)]

    assert drop[0] == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < drop[1] < drop[2]


def test_each_circuit_governs_its_own_openings():
    """A change of one circuit alone is felt at its opening and nowhere else."""
    openings = np.array([4.0, 19.0, 50.0, 97.0])
    plain = Circuits(0.9, 0.9, 0.9, 0.9).at(openings)

    for i, name in enumerate(("pilot", "cutaway", "needle", "main")):
        richer = replace(Circuits(0.9, 0.9, 0.9, 0.9), **{name: 0.8}).at(openings)
        assert np.argmin(richer) == i
        assert np.count_nonzero(plain - richer > 0.01) == 1


def test_opening_the_throttle_is_lean_for_a_moment_and_closing_it_rich():
    """Fuel on the manifold's wall lags behind the air in both directions."""
    truth = truth_of(script=(IDLE, FULL, IDLE))
    just_after = [truth.filter(pl.col("t_s").is_between(t, t + 0.6))["lambda_true_1"] for t in (20.0, 40.0)]

    assert just_after[0].max() > max(settled(truth, "lambda_true_1", x) for x in (0, 100)) + 0.02
    assert just_after[1].min() < min(settled(truth, "lambda_true_1", x) for x in (0, 100)) - 0.02


def test_air_rises_with_throttle_and_with_speed():
    """More opening and more speed both draw more air; a four-stroke at speed draws what continuity says."""
    assert np.all(np.diff(air_flow(BIKE, np.linspace(0, 100, 50), np.full(50, 6000.0))) > 0)
    assert np.all(np.diff(air_flow(BIKE, np.full(50, 100.0), np.linspace(1000, 9800, 50))) > 0)
    at_the_top = air_flow(BIKE, np.array([100.0]), np.array([9800.0]))[0]
    swept = 1.2 * 398e-6 * 9800 / 120
    assert 0.7 * swept < at_the_top < swept


def test_a_leak_reads_lean_in_its_own_cylinder_and_leaner_at_idle():
    """Air drawn in before the sensor raises that reading, most at idle, and not the charge."""
    clean, leaking = truth_of(), truth_of(faults=Faults(leak=(0.04,)))

    def rise(what, throttle):
        return settled(leaking, what, throttle) / settled(clean, what, throttle) - 1.0

    assert rise("seen_lambda_1", 100) == pytest.approx(0.04, abs=0.005)
    assert rise("seen_lambda_1", 0) > 0.2
    assert rise("seen_lambda_2", 0) == rise("seen_lambda_2", 100) == 0.0
    assert rise("lambda_true_1", 0) == rise("lambda_true_1", 100) == 0.0


def test_a_short_circuited_charge_and_an_offset_read_as_they_should():
    """Charge that goes through unburned reads lean, and a sensor's offset is added."""
    # oxygen balance, closed form: lambda / (1 - s (1 - eta)); 0.88 with s = 0.2 and eta = 0 gives 1.100
    flat = replace(STILL, strokes=2, cylinders=1, circuits=Circuits(0.88, 0.88, 0.88, 0.88))

    through = truth_of(flat, faults=Faults(short_circuit=0.2, oxidised=0.0))
    burned = truth_of(flat, faults=Faults(short_circuit=0.2, oxidised=1.0, sensor_offset=(0.03,)))

    assert settled(through, "seen_lambda_1", 100) == pytest.approx(1.100, abs=0.002)
    assert settled(burned, "seen_lambda_1", 100) == pytest.approx(0.91, abs=0.002)
    assert settled(burned, "lambda_true_1", 100) == pytest.approx(0.88, abs=0.001)


def delay_of(bike, rpm, throttle=100.0):
    """Seconds from a step of the mixture at the valve to its arrival at the sensor."""
    sampling = Sampling(1, 1000.0)
    ride = trace((Phase(4.0, throttle, rpm),), sampling)
    flow = air_flow(bike, ride.throttle, ride.rpm) * 1.08 / bike.cylinders
    step = Stream(np.where(ride.t_s < 1.0, 0.9, 0.8), flow, np.full(len(flow), 600.0))
    seen = arriving(bike, ride, step, dead_s=0.0)
    return ride.t_s[np.argmax(seen < 0.85)] - 1.0


def test_a_longer_pipe_and_a_slower_engine_are_later():
    """Gas takes longer through a longer or wider pipe, at lower speed and at smaller opening."""
    usual = delay_of(BIKE, 6000.0)

    assert delay_of(replace(BIKE, sensor_distance_mm=1800.0), 6000.0) > 1.5 * usual
    assert delay_of(replace(BIKE, pipe_bore_mm=50.0), 6000.0) > 1.4 * usual
    assert delay_of(BIKE, 3000.0) > 1.7 * usual
    assert delay_of(BIKE, 6000.0, throttle=20.0) > 1.5 * usual


def test_the_delay_is_of_the_size_that_continuity_gives():
    """Parcel by parcel comes to what volume over flow gives, and half an engine cycle before it leaves."""
    # computed from continuity: 0.9 m by 38 mm for one of two cylinders of 400 cc at 6000 rpm, filling 0.90,
    # gas of 950 K: 0.0326 s; half a four-stroke cycle at 6000 rpm: 0.010 s
    hot = delay_of(replace(BIKE, displacement_cc=400.0), 6000.0)

    assert hot == pytest.approx(0.0326 + 0.010, rel=0.25)


def test_a_collector_reads_between_its_cylinders():
    """Where the pipes have met, one sensor sees the mean of rich and lean, weighted by air."""
    apart = replace(STILL, sensor="collector", cylinder_offset=(-0.04, 0.04))

    truth = truth_of(apart)
    seen = settled(truth, "seen_lambda", 100)

    assert settled(truth, "lambda_true_1", 100) < seen < settled(truth, "lambda_true_2", 100)
    assert seen == pytest.approx(2 / (1 / 0.83 + 1 / 0.91), abs=0.003)


def test_the_sensor_follows_the_truth_late_and_smoothed():
    """A step of lambda is read later and slower with a slower sensor, and ends at the truth."""
    script = (Phase(10.0, 50.0, 6000.0), FULL)
    quick, slow = (truth_of(script=script, sensor=Sensor(lag_s=lag)) for lag in (0.05, 0.3))

    at = pl.col("t_s").is_between(10.0, 10.6)
    assert slow.filter(at)["seen_lambda_1"].max() < quick.filter(at)["seen_lambda_1"].max()
    assert settled(slow, "seen_lambda_1", 100) == pytest.approx(settled(slow, "lambda_true_1", 100), abs=1e-3)


def test_heat_rises_with_load_and_probes_lag():
    """Exhaust and head are hotter at full throttle; the head takes far longer than the exhaust probe."""
    truth = truth_of(script=(IDLE, Phase(60.0, 100.0, 9500.0, rise=0.02)))
    rise = {}
    for what in ("egt_1", "cht_1"):
        assert settled(truth, what, 100) > settled(truth, what, 0)
        after = truth.filter(pl.col("t_s") > 20.0)
        half = (after[what][0] + after[what][-1]) / 2
        rise[what] = after.filter(pl.col(what) > half)["t_s"][0] - 20.0
    assert rise["cht_1"] > 5 * rise["egt_1"]
    assert settled(truth_of(replace(STILL, strokes=2)), "egt_1", 100) < settled(truth, "egt_1", 100)


def test_nothing_burns_after_the_chop_and_the_engine_stops():
    """From the mark on, the throttle still full, no charge burns, the speed falls to nothing."""
    ride = trace(practice(laps=1), Sampling(1, 100.0))
    chop_s = next(t for t, what in ride.marks if what == "chop")
    at = round(chop_s * 100)

    assert ride.burning[: at - 1].all()
    assert not ride.burning[at + 1 :].any()
    assert ride.throttle[at - 800 : at + 50].min() > 95.0
    assert ride.rpm[at - 10] > 9000.0
    assert ride.rpm[-1] == 0.0


@pytest.mark.parametrize(("seconds", "full_s"), [(20, 8.0), (25, 8.0), (30, 12.0), (45, 12.0), (None, 12.0)])
def test_the_short_ride_has_everything_in_its_time(seconds, full_s):
    """Idle, part throttle, enough full throttle, then the chop and the engine off, in 20 s and in more."""
    script = short_ride(seconds)
    ride = trace(script, Sampling(1, 100.0))
    chop_s = next(t for t, what in ride.marks if what == "chop")
    full = (ride.throttle >= 95.0) & ride.burning

    assert sum(phase.seconds for phase in script) == pytest.approx(seconds or 60.0)
    assert full.sum() / 100.0 >= full_s - 0.3
    assert chop_s < min(30.0, (seconds or 60.0) - 3.0)
    assert ((ride.throttle < 2.0) & ride.burning).sum() > 200
    assert ((ride.throttle > 25.0) & (ride.throttle < 70.0)).sum() > 300
    assert not ride.burning[-1]


def test_endings_and_dyno_days_are_what_they_say():
    """A ride rolled in has a long gap from full throttle to the cut, a chop none; a dyno day pulls."""
    gaps = {}
    for ending in ("chop", "shut off", "roll in"):
        ride = trace(practice(laps=1, ending=ending), Sampling(1, 100.0))
        full_s = ride.t_s[(ride.throttle >= 95.0) & ride.burning].max()
        gaps[ending] = ride.t_s[ride.burning].max() - full_s
    day = trace(dyno_day(pulls=3), Sampling(1, 100.0))

    assert gaps["chop"] < 0.1
    assert 2.0 < gaps["shut off"] < 5.0
    assert gaps["roll in"] > 30.0
    assert [what for _, what in day.marks] == ["start", "stop"] * 2 + ["start", "chop"]
    pulling = (day.throttle > 95.0) & day.burning
    assert np.count_nonzero(np.diff(pulling.astype(int)) == 1) == 3
