"""Power and torque of pulls with a known truth, and what is said where there is none."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from bridge.errors import BadValue
from bridge.model import Brake, Mark, Road, Roller, Setup, Weather
from bridge.physics import dyno
from bridge.pulls import pulls_of
from tests.bridge.pulls.dyno_days import BIKE, INERTIA, WEATHER, day, frame_of, power_w
from tests.virtual_runs import run_of


def evaluated(run, **what):
    """Pulls of a run, the delay by geometry."""
    return pulls_of(run, **({"ask_ride": False} | what))


def true_kw(rpm, scale=1.0, turns=5.0):
    """Power that the invented engine has at the roller [kW]."""
    return power_w(rpm * dyno.RAD_S_PER_RPM / turns, scale) / 1e3


def test_the_roller_tells_the_power():
    """As measured, power along each pull is the truth within four of its own standard deviations and its bias."""
    got = evaluated(day([1.0, 1.0, 1.05]), standard="none")

    assert len(got.pulls) == 3
    for pull, scale in zip(got.pulls, (1.0, 1.0, 1.05), strict=True):
        known = pull.curve.drop_nulls("power_kw")
        off = known["power_kw"].to_numpy() - true_kw(known["rpm"].to_numpy(), scale)
        bias = known["power_bias_kw"].fill_null(0.1).to_numpy()
        assert (np.abs(off) < 4.0 * known["power_sd_kw"].to_numpy() + 3.0 * np.abs(bias) + 0.05).all()
        assert known.height > 40
    assert got.pulls[2].peak[0] > got.pulls[0].peak[0] + 1.0


def test_peak_torque_and_engine_speed_hang_together():
    """Torque is power over engine speed at every point; the peak is the curve's own."""
    (pull,) = evaluated(day([1.0])).pulls
    known = pull.curve.drop_nulls("power_kw")

    assert known["torque_nm"].to_numpy() == pytest.approx(
        known["power_kw"].to_numpy() * 9549.297 / known["rpm"].to_numpy(), rel=1e-6
    )
    assert pull.peak[0] == known["power_kw"].max()
    assert pull.peak[1] == pytest.approx(140.0 * 5.0 / dyno.RAD_S_PER_RPM, abs=700.0)


def test_power_is_corrected_and_the_standard_named():
    """By default ISO 1585 is used, within its limits, and every standard's factor stands beside it."""
    (plain,) = evaluated(day([1.0]), standard="none").pulls
    for standard, name in (("iso_1585", "ISO 1585"), ("sae_j1349", "SAE J1349"), ("din_70020", "DIN 70020")):
        (pull,) = evaluated(day([1.0]), standard=standard).pulls
        factor = pull.corrected.all[standard].factor
        assert pull.corrected.by.name.startswith(name)
        assert pull.peak[0] == pytest.approx(plain.peak[0] * factor)
        assert pull.curve["power_measured_kw"].to_list() == plain.curve["power_measured_kw"].to_list()
    assert evaluated(day([1.0])).pulls[0].corrected.by.name.startswith("ISO 1585")


def test_without_weather_nothing_is_corrected():
    """Where pressure or humidity is missing power stands as measured, and what is missing is named."""
    setup = Setup(kind="dyno", weather=Weather(air_temp_c=20.0))
    (pull,) = evaluated(day([1.0], setup=setup)).pulls

    assert pull.corrected.by is None
    assert pull.peak is not None
    assert any("air pressure and humidity" in note for note in pull.notes)


def test_recorded_air_goes_before_the_set_up():
    """The air that was recorded during the pull is the one that is corrected from."""
    frame = frame_of([1.0]).with_columns(
        air_temp=pl.lit(30.0), air_pressure=pl.lit(980.0), humidity=pl.lit(40.0)
    )
    (pull,) = evaluated(run_of(frame, bike=BIKE, setup=Setup(kind="dyno", weather=WEATHER))).pulls

    assert pull.conditions.air.whole == pytest.approx((30.0, 980.0, 40.0))
    assert pull.conditions.air.told_by == "recorded"
    assert pull.corrected.factor > 1.0


def test_what_else_turns_takes_power_too():
    """Wheel, engine and driveline add inertia, by the square of their ratio, and so power."""
    roller = Roller(
        inertia_kg_m2=INERTIA,
        diameter_mm=500.0,
        wheel_inertia_kg_m2=0.6,
        wheel_diameter_mm=625.0,
        engine_inertia_kg_m2=0.004,
        driveline_percent=2.0,
    )
    bare = evaluated(day([1.0]), standard="none").pulls[0]
    whole = evaluated(day([1.0], bike=BIKE.model_copy(update={"roller": roller})), standard="none").pulls[0]

    # closed form, computed by hand: 12 x 1.02 + 0.6 x 0.8^2 + 0.004 x 5^2 = 12.724
    assert whole.peak[0] / bare.peak[0] == pytest.approx(12.724 / 12.0, rel=2e-4)
    assert any("wheel itself" in note for note in bare.notes)
    assert not any("not counted" in note for note in whole.notes)


def test_a_roller_by_its_dimensions():
    """A drum of 300 kg and 0.5 m across is a roller of 9.375 kg m2, and tells the power that goes with it."""
    by_size = BIKE.model_copy(update={"roller": Roller(diameter_mm=500.0, mass_kg=300.0)})

    assert by_size.roller.own_kg_m2 == pytest.approx(9.375)
    assert Roller(diameter_mm=500.0, inner_diameter_mm=420.0, length_mm=700.0).own_kg_m2 == pytest.approx(
        16.93022, abs=1e-4
    )
    ratio = evaluated(day([1.0], bike=by_size)).pulls[0].peak[0] / evaluated(day([1.0])).pulls[0].peak[0]
    assert ratio == pytest.approx(9.375 / 12.0, rel=1e-6)


@pytest.mark.parametrize(
    ("bike", "keep", "word"),
    [
        (BIKE.model_copy(update={"roller": Roller(diameter_mm=500.0)}), None, "has no inertia"),
        (BIKE.model_copy(update={"roller": None}), None, "has no [roller]"),
        (BIKE, ["t_s", "rpm", "throttle", "lambda_1", "lambda_2"], "needs the channel roller_rpm"),
        (None, None, "has no bike"),
    ],
)
def test_what_is_missing_for_power_is_named(bike, keep, word):
    """A roller of no inertia, no roller and no brake, no channel of it, no bike: mixture is shown, the rest named."""
    got = evaluated(day([1.0], bike=bike, keep=keep))

    (pull,) = got.pulls
    assert pull.peak is None
    assert word in got.means.why_not
    assert any(word in note for note in got.notes)
    assert pull.mixture[0].mean == pytest.approx(0.87, abs=0.02)
    assert pull.curve["power_kw"].null_count() == pull.curve.height


def test_a_slowing_roller_gives_no_power_below_zero():
    """Where the roller slows while the revs rise, its power is left out of the curve and that is said."""
    frame = frame_of([1.0])
    rows = frame["t_s"].to_numpy()
    turning = frame["roller_rpm"].to_numpy()
    late = (rows > 13.0) & (rows < 14.2)
    slowing = np.where(late, np.interp(13.0, rows, turning) - 30.0 * (rows - 13.0), turning)
    # a wide share of the ratio, so that the roller's own fall does not end the pull
    bike = BIKE.model_copy(update={"roller": Roller(inertia_kg_m2=INERTIA, diameter_mm=500.0)})
    run = run_of(
        frame.with_columns(pl.Series("roller_rpm", slowing)),
        bike=bike.model_copy(update={"pulls": bike.pulls.model_copy(update={"ratio_share": 0.2})}),
        setup=Setup(kind="dyno", weather=WEATHER),
    )
    got = evaluated(run)

    (pull,) = got.pulls
    assert np.nanmin(pull.along.kw) < 0.0
    assert (pull.curve["power_kw"].drop_nulls() >= 0.0).all()
    assert pull.curve["power_kw"].null_count() > 0
    assert any("slowed down" in note for note in pull.notes)


def test_a_pull_shorter_than_the_window_has_mixture_and_no_power():
    """With a window of 5 s a pull of 4 s has no power; its mixture is there and the reason is said."""
    run = day([2.0], bike=BIKE.model_copy(update={"pulls": BIKE.pulls.model_copy(update={"window_s": 5.0})}))
    (pull,) = evaluated(run).pulls

    assert pull.peak is None
    assert any("shorter than the window" in note for note in pull.notes)
    assert pull.mixture[0].mean is not None


def held_run(seed=5, weather=WEATHER):
    """Return a run in which a brake on the roller holds the revs for eight seconds."""
    rng = np.random.default_rng(seed)
    n, step = 3_000, 0.02
    t = np.arange(n) * step
    held = (t > 20.0) & (t < 28.0)
    speed = np.where(t < 20.0, 100.0, 140.0)
    frame = pl.DataFrame(
        {
            "t_s": t,
            "rpm": speed * 5.0 * 60.0 / (2.0 * np.pi) + rng.normal(0.0, 3.0, n),
            "roller_rpm": speed * 60.0 / (2.0 * np.pi) + rng.normal(0.0, 0.5, n),
            "throttle": np.where(held, 100.0, 20.0),
            "cell": np.where(held, 400.0, 20.0) + rng.normal(0.0, 5.0, n),
            "lambda_1": np.full(n, 0.88),
        }
    )
    brake = Brake(load_cell="cell", arm_mm=500.0)
    bike = BIKE.model_copy(update={"brake": brake, "roller": Roller(inertia_kg_m2=INERTIA)})
    return run_of(frame, bike=bike, setup=Setup(kind="dyno", weather=weather))


def test_a_brake_with_a_load_cell():
    """A brake on the roller that holds the revs gives points: force times arm times speed, corrected like the rest."""
    got = evaluated(held_run(), standard="none")

    # closed form, computed by hand: 400 N x 0.5 m x 140 rad/s = 28 kW
    (hold,) = got.holds
    assert hold.power_kw == pytest.approx(28.0, rel=0.01)
    assert hold.rpm == pytest.approx(140.0 * 5.0 * 9.549297, rel=0.002)
    assert hold.torque_nm == pytest.approx(28.0 * 9549.297 / hold.rpm, rel=0.01)
    assert hold.lambdas["lambda_1"] == pytest.approx(0.88, abs=1e-6)


def test_the_doubt_of_a_held_power_is_no_less_than_its_scatter():
    """Over 25 days alike held power scatters by what is told of its noise at most, and by a quarter of it at least."""
    holds = [evaluated(held_run(seed), standard="none").holds[0] for seed in range(25)]
    scatter = np.std([hold.power_kw for hold in holds], ddof=1)
    told = np.mean([hold.power_sd_kw for hold in holds])

    assert 0.25 * told < scatter < 1.2 * told


def test_air_beside_held_speeds_is_questioned_too():
    """A session of nothing but a held speed names a pressure that cannot be of that height, as one with pulls does."""
    weather = Weather(air_temp_c=18.0, air_pressure_hpa=1018.0, humidity_percent=60.0, altitude_m=900.0)
    got = evaluated(held_run(weather=weather))

    assert got.pulls == ()
    assert any("station pressure" in note for note in got.notes)


def test_the_noise_of_a_load_cell_is_told():
    """A pull on a braked roller: what is told of the noise is how the power scatters, cell and speed together."""
    brake = Brake(on="roller")
    bike = BIKE.model_copy(update={"brake": brake, "roller": Roller(inertia_kg_m2=INERTIA)})
    powers, told = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        t = np.arange(1_000) * 0.02
        pulling = (t > 8.0) & (t < 16.0)
        roller = np.clip(80.0 + 10.0 * (t - 8.0), 80.0, 160.0)
        frame = pl.DataFrame(
            {
                "t_s": t,
                "rpm": roller * 5.0 * 9.549297 + rng.normal(0.0, 3.0, len(t)),
                "roller_rpm": roller * 9.549297 + rng.normal(0.0, 0.5, len(t)),
                "throttle": np.where(pulling, 100.0, 20.0),
                "torque": np.where(pulling, 30.0, 0.0) + rng.normal(0.0, 25.0, len(t)),
            }
        )
        (pull,) = evaluated(
            run_of(frame, bike=bike, setup=Setup(kind="dyno", weather=WEATHER)), standard="none"
        ).pulls
        row = pull.curve.filter(pl.col("rpm") == 6_000.0).row(0, named=True)
        powers.append(row["power_kw"])
        told.append(row["power_sd_kw"])

    # closed form, computed by hand: 6000 / 5 / 9.549297 = 125.66 rad/s; (12 x 10 + 30) x 125.66 / 1000 = 18.85 kW
    assert np.mean(powers) == pytest.approx(18.85, abs=0.15)
    # a step of the curve is a mean over a few of the figures whose noise is told, which hang together
    assert 0.75 < np.std(powers, ddof=1) / np.mean(told) < 1.25
    # one window of 51 points: the sum of a parabola's squared weights is its middle one, 9/4/51 for many points
    assert np.mean(told) == pytest.approx(25.0 * np.sqrt(9.0 / 4.0 / 51.0) * 0.12566, rel=0.05)


def test_a_brake_whose_shaft_nobody_named_is_said_to_sit_on_the_roller():
    """Without ``on`` the power may be a sixth of the true one, so what was taken is said; with it nothing is."""
    run = day([1.0])
    run = replace(run, samples=run.samples.with_columns(torque=pl.lit(40.0)))
    said = [
        evaluated(replace(run, bike=BIKE.model_copy(update={"brake": brake}))).notes
        for brake in (Brake(), Brake(on="roller"), None)
    ]

    assert [any("taken to sit on the roller" in note for note in notes) for notes in said] == [
        True,
        False,
        True,
    ]


def test_air_of_another_day_and_a_pressure_of_the_sea_are_questioned():
    """Where power is corrected it is said that the air was written weeks before, or cannot be of that height."""
    run = day([1.0])
    old = evaluated(replace(run, weather_of=(11, 52 * 86_400.0)))
    fresh = evaluated(replace(run, weather_of=(11, 3_600.0)))
    weather = Weather(air_temp_c=18.0, air_pressure_hpa=1018.0, humidity_percent=60.0, altitude_m=900.0)
    sea = evaluated(replace(run, setup=run.setup.model_copy(update={"weather": weather})))

    assert any("written down for session 11, 52 days before" in note for note in old.notes)
    assert not any("written down for session" in note for note in fresh.notes)
    assert any("station pressure" in note for note in sea.notes)


def test_a_brake_on_the_crankshaft():
    """Torque at the crankshaft times engine speed is the power along a pull; the engine's own inertia is named."""
    frame = frame_of([1.0]).drop("roller_rpm").with_columns(torque=pl.lit(30.0))
    bike = BIKE.model_copy(update={"brake": Brake(on="engine"), "roller": None})
    (pull,) = evaluated(
        run_of(frame, bike=bike, setup=Setup(kind="dyno", weather=WEATHER)), standard="none"
    ).pulls

    known = pull.curve.drop_nulls("torque_nm")
    assert known["torque_nm"].to_numpy() == pytest.approx(np.full(known.height, 30.0), rel=2e-3)
    assert pull.along.at == "crankshaft"
    assert any("speed up is not in the brake's torque" in note for note in pull.notes)


def test_power_on_the_road():
    """On the road power is what mass, air, tyres and slope take: worked back within its noise from a known ride."""
    road = Road(mass_kg=250.0, rotating_kg=8.0, drag_area_m2=0.45, rolling_resistance=0.015)
    bike = BIKE.model_copy(update={"road": road, "roller": None})
    density, step = 1.184, 0.02
    speed, speeds = 20.0, []
    while speed < 46.0:
        drive = 36e3 / speed
        speeds.append(speed)
        speed += (drive - 0.5 * density * 0.45 * speed**2 - 250.0 * 9.80665 * 0.015) / 258.0 * step
    speeds = np.concatenate((np.full(200, 20.0), speeds, np.full(100, 42.0)))
    n, rng = len(speeds), np.random.default_rng(6)
    frame = pl.DataFrame(
        {
            "t_s": np.arange(n) * step,
            "speed": speeds * 3.6 + rng.normal(0.0, 0.02, n),
            "rpm": speeds * 3.6 * 50.0 + rng.normal(0.0, 5.0, n),
            "throttle": np.where((np.arange(n) >= 200) & (np.arange(n) < n - 100), 100.0, 10.0),
        }
    )
    weather = Weather(air_temp_c=25.0, air_pressure_hpa=1013.25, humidity_percent=0.0)
    setup = Setup(kind="road", weather=weather, slope_percent=0.0)
    (pull,) = evaluated(run_of(frame, bike=bike, setup=setup), standard="none").pulls
    uphill = setup.model_copy(update={"slope_percent": 1.0})
    (steep,) = evaluated(run_of(frame, bike=bike, setup=uphill), standard="none").pulls

    # density of dry air at 25 Cel: 1.184 kg/m3, closed form
    known = pull.curve.drop_nulls("power_kw")
    assert known["power_kw"].mean() == pytest.approx(36.0, rel=0.01)
    assert steep.peak[0] > pull.peak[0] + 0.5
    assert not any("level" in note for note in pull.notes)
    flat = evaluated(run_of(frame, bike=bike, setup=Setup(kind="road", weather=weather))).pulls[0]
    assert any("taken as level" in note for note in flat.notes)


def test_driveline_loss_only_from_a_coast_down():
    """A roller that ran out shows the loss beside the power; it is added where that is asked for, and never made up."""
    ran_out = day([1.0, 1.0], coast_s=30.0)
    got = evaluated(ran_out, standard="none")

    # closed form: -dw/dt = w / 30 s, so 12 kg m2 at 140 rad/s lose 12 x 140^2 / 30 W = 7.84 kW
    assert got.coasted.number == 2
    curve = got.pulls[0].curve.drop_nulls("power_kw")
    at = int((curve["rpm"] - 140.0 * 5.0 * 9.549297).abs().arg_min())
    assert curve["driveline_loss_kw"][at] == pytest.approx(7.84, rel=0.1)
    added = evaluated(ran_out, standard="none", add_loss=True).pulls[0]
    assert added.peak[0] > got.pulls[0].peak[0] + 6.0
    assert "loss added" in added.along.at
    assert evaluated(day([1.0]), add_loss=True).coasted is None
    assert evaluated(day([1.0]), add_loss=True).pulls[0].along.at == "wheel"


def test_start_temperature_and_rest_are_kept_and_held_against_the_window():
    """Each pull knows the head's temperature at its start and its rest; one outside the stated window is named."""
    window = BIKE.pulls.model_copy(update={"start_low_c": 70.0, "start_high_c": 110.0, "rest_high_s": 60.0})
    bike = BIKE.model_copy(update={"pulls": window})
    got = evaluated(day([1.0, 1.0, 1.0], bike=bike, heads=[55.0, 85.0, 95.0]))

    assert [round(pull.conditions.start_temp_c) for pull in got.pulls] == [55, 85, 95]
    assert got.pulls[0].conditions.rest_s is None
    assert got.pulls[1].conditions.rest_s == pytest.approx(20.0, abs=0.5)
    assert [bool(pull.conditions.outside) for pull in got.pulls] == [True, False, False]
    assert any("pull 1 is outside the stated window" in note for note in got.notes)


def test_a_chop_after_a_pull_is_known():
    """A chop mark within five seconds of a pull's end makes it the pull that the plug read; later ones do not."""
    end = evaluated(day([1.0, 1.0])).pulls[1].piece.end_s
    soon = evaluated(day([1.0, 1.0], marks=(Mark(end + 2.0, "chop", "wire"),)))
    late = evaluated(day([1.0, 1.0], marks=(Mark(end + 9.0, "chop", "wire"),)))

    assert soon.pulls[1].chop_s == pytest.approx(2.0, abs=0.05)
    assert soon.pulls[0].chop_s is None
    assert [pull.chop_s for pull in late.pulls] == [None, None]


def test_a_part_of_a_session():
    """Only pulls that lie whole in the part asked for are told."""
    whole = evaluated(day([1.0, 1.0, 1.0]))
    second = whole.pulls[1].piece
    part = evaluated(day([1.0, 1.0, 1.0]), from_s=second.start_s - 1.0, to_s=second.end_s + 1.0)

    assert [pull.piece for pull in part.pulls] == [second]


def test_revs_are_needed():
    """A log without engine speed is refused with the mend."""
    with pytest.raises(BadValue, match="no engine speed"):
        evaluated(day([1.0], keep=["t_s", "throttle", "roller_rpm"]))
    with pytest.raises(BadValue, match="no correction"):
        evaluated(day([1.0]), standard="iso")
