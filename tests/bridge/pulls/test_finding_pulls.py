"""Finding pulls on invented rides: what was scripted is found, what is no pull is told apart and counted."""

import numpy as np
import polars as pl
import pytest

from bridge.model import PullSettings
from bridge.pulls.find import find
from bridge.pulls.log import log_of
from tests.bridge.pulls.invented_rides import RATIOS, Ride
from tests.virtual_runs import BIKE, run_of

SETTINGS = PullSettings()


def found(ride, bike=BIKE, **what):
    """What is found in a ride as a logger would have it."""
    return find(log_of(run_of(ride.frame(**what))), bike, SETTINGS)


def club_day(seed, hz=50.0):
    """A launch through three gears, pulls, an aborted run, wheelspin, a slipping clutch, a hold, a chop."""
    ride = Ride(seed, hz)
    ride.coast(3.0)
    ride.launch().full(11_000.0, "first").shift(2).full(11_000.0).shift(3, 0.25, open_=False).full(10_800.0)
    ride.shut(3.0).coast(4.0, to=60.0).coast(3.0).full(9_500.0).shut(2.0)
    ride.coast(3.0, to=60.0).full(5_200.0, "aborted").shut(2.0)
    ride.coast(3.0, to=62.0).spin().full(10_500.0).shut(2.0).coast(3.0, to=90.0)
    ride.gear = 4
    ride.coast(2.0).full(6_500.0, "until it slipped").slip().full(10_500.0).hold(4.0).shut(2.0)
    ride.coast(2.0, to=85.0).full(10_500.0).cut()
    return ride


@pytest.mark.parametrize("hz", [20.0, 50.0, 100.0, 400.0])
@pytest.mark.parametrize("seed", [1, 2])
def test_every_scripted_pull_is_found_where_it_was(seed, hz):
    """Each pull of the script is found once, its start and end within a quarter of a second, in its gear."""
    ride = club_day(seed, hz)
    got = found(ride)

    pulls, script = got.of("pull"), ride.of("pull")
    assert len(pulls) == len(script)
    for piece, was in zip(pulls, script, strict=True):
        assert piece.start_s == pytest.approx(was.start_s, abs=0.25)
        assert piece.end_s == pytest.approx(was.end_s, abs=0.25)
        assert got.gears.number(piece.ratio) == was.gear
        assert piece.ratio == pytest.approx(RATIOS[was.gear - 1], rel=0.01)


@pytest.mark.parametrize("hz", [20.0, 50.0, 100.0, 400.0])
def test_what_is_no_pull_is_told_apart(hz):
    """Launch, both changes of gear, aborted run, wheelspin, slip, hold and cut are counted where they were."""
    ride = club_day(1, hz)
    got = found(ride)

    for kind, number in {
        "launch": 1, "shift": 2, "aborted": 1, "wheelspin": 1, "clutch slip": 1, "hold": 1, "cut": 1,
    }.items():  # fmt: skip
        assert got.counts[kind] == number, kind
        for piece, was in zip(got.of(kind), ride.of(kind), strict=True):
            assert piece.start_s < was.end_s
            assert piece.end_s > was.start_s
            assert piece.start_s == pytest.approx(was.start_s, abs=0.5)


def test_revs_and_throttle_alone_are_enough():
    """Without a speed the same clean pulls are found; what then cannot be told is named."""
    ride = club_day(3)
    got = found(ride, speed=False)

    starts = [piece.start_s for piece in got.of("pull")]
    clean = [was for was in ride.of("pull") if was.gear in {2, 3}]
    for was in clean:
        assert any(abs(start - was.start_s) < 0.25 for start in starts)
    assert (got.counts["wheelspin"], got.counts["shift"], got.counts["cut"]) == (1, 2, 1)
    assert got.counts["clutch slip"] == 0
    assert any("clutch that slips cannot be told" in note for note in got.notes)
    assert all(piece.ratio is None for piece in got.pieces)


def test_a_wheel_that_spins_is_seen_by_its_own_sensor_too():
    """Where the speed is the driven wheel's, its spin shows as revs that shoot up and fall back in one gear."""
    ride = Ride(4, on_wheel=True).coast(3.0, to=20.0)
    ride.gear = 2
    ride.coast(2.0, to=30.0).spin().full(11_000.0).shut(2.0)
    ride.gear = 3
    ride.coast(5.0, to=60.0)
    got = found(ride)

    assert (got.counts["wheelspin"], got.counts["pull"], got.counts["shift"]) == (1, 1, 0)


def test_two_gears_in_one_run_are_two_pulls():
    """A change of gear at open throttle parts a run: each gear's part is a pull by itself if its revs rise enough."""
    ride = Ride(5).coast(2.0, to=40.0)
    ride.gear = 2
    ride.coast(2.0, to=45.0).full(11_000.0).shift(3).full(11_000.0).shut(1.0)
    got = found(ride)

    assert [got.gears.place(piece.ratio) for piece in got.of("pull")] == [1, 2]
    assert got.counts["shift"] == 1


def test_a_late_speed_is_laid_back():
    """A speed that comes 0.4 s late, as by satellite, still tells gears and slip, and that is said."""
    ride = Ride(6).coast(3.0, to=40.0)
    ride.gear = 3
    ride.coast(3.0, to=60.0).full(10_500.0).shut(2.0).coast(4.0, to=70.0).slip().full(9_000.0).shut(2.0)
    frame = ride.frame().with_columns(pl.col("speed").shift(20, fill_value=40.0))
    got = find(log_of(run_of(frame)), BIKE, SETTINGS)

    assert got.gears.late_s == pytest.approx(0.4)
    assert (got.counts["pull"], got.counts["clutch slip"]) == (2, 1)
    assert any("0.4 s late" in note for note in got.notes)


def test_gears_by_the_bikes_own_ratios():
    """With gear_ratios and a wheel's diameter a gear has its own number, whichever gears the ride shows."""
    ride = Ride(7)
    ride.gear = 4
    ride.coast(2.0, to=85.0).full(10_500.0).shut(1.0)
    turns = 1.0 / 3.6 / (3.14159265 * 0.62) * 60.0
    road = BIKE.road.model_copy(
        update={"gear_ratios": [r / turns for r in RATIOS], "wheel_diameter_mm": 620.0}
    )
    stated = BIKE.model_copy(update={"road": road})
    no_wheel = BIKE.model_copy(update={"road": road.model_copy(update={"wheel_diameter_mm": None})})

    assert [found(ride, stated).gears.number(piece.ratio) for piece in found(ride, stated).of("pull")] == [4]
    assert [found(ride).gears.number(piece.ratio) for piece in found(ride).of("pull")] == [None]
    assert any("add gear_ratios in [road]" in note for note in found(ride).notes)
    assert any(
        "check gear_ratios in [road] and wheel_diameter_mm beside them" in note
        for note in found(ride, no_wheel).notes
    )


@pytest.mark.parametrize("seed", range(6))
def test_a_cut_after_held_revs_is_where_they_fall(seed):
    """A pull, eight seconds held at its top with trembling revs, a cut: one pull, one hold, and the cut at its end."""
    ride = Ride(seed, noise=40.0)
    ride.gear = 3
    ride.coast(2.0, to=60.0).full(9_600.0)
    topped = ride.now
    ride.hold(8.0)
    held = ride.now
    ride.cut()
    got = found(ride)
    (pull,), (hold,), (cut,) = (got.of(kind) for kind in ("pull", "hold", "cut"))

    assert pull.end_s == pytest.approx(topped, abs=0.6)
    assert hold.start_s == pytest.approx(topped, abs=1.2)
    assert hold.end_s == pytest.approx(held, abs=1.2)
    assert cut.start_s == pytest.approx(held, abs=0.4)


def test_stated_ratios_that_do_not_fit_are_said():
    """Ratios three times the ride's number no gear, and it is said that they do not fit."""
    ride = Ride(7)
    ride.gear = 2
    ride.coast(2.0, to=40.0).full(10_500.0).shift(3).full(10_500.0).shut(1.0)
    turns = 1.0 / 3.6 / (3.14159265 * 0.62) * 60.0
    road = BIKE.road.model_copy(
        update={"gear_ratios": [3.0 * r / turns for r in RATIOS], "wheel_diameter_mm": 620.0}
    )
    notes = found(ride, BIKE.model_copy(update={"road": road})).notes

    assert any("the stated gear_ratios do not fit its ratios; check them" in note for note in notes)
    assert any("gear_ratios in [road] make that sure" in note for note in found(ride).notes)


def test_a_throttle_that_never_says_full_is_named():
    """Where the throttle ends at 91 % there is no pull, and its calibration is named as the mend."""
    ride = Ride(8)
    ride.gear = 3
    ride.coast(2.0, to=60.0).full(10_500.0).shut(1.0)
    got = find(log_of(run_of(ride.frame().with_columns(pl.col("throttle") * 0.91))), BIKE, SETTINGS)

    assert got.counts["pull"] == 0
    assert any("calibrating" in note for note in got.notes)


def test_without_a_throttle_pulls_are_assumed_and_that_is_said():
    """A log without a throttle shows its pulls by their revs alone, and says that part throttle cannot be told."""
    ride = Ride(9, speed=60.0)
    ride.gear = 3
    ride.coast(3.0).full(10_500.0).shut(3.0)
    got = found(ride, throttle=False)

    (pull,) = got.of("pull")
    assert pull.start_s == pytest.approx(ride.truth[0].start_s, abs=0.3)
    assert any("part throttle cannot be told" in note for note in got.notes)


def test_a_hole_in_the_log_parts_a_pull():
    """Nobody knows what happened in a hole of a second: a pull does not go on across it."""
    ride = Ride(10)
    ride.gear = 4
    ride.coast(2.0, to=70.0).full(10_800.0).shut(1.0)
    frame = ride.frame()
    start, end = ride.truth[0].start_s, ride.truth[0].end_s
    middle = start + 0.75 * (end - start)
    holed = frame.filter(~pl.col("t_s").is_between(middle, middle + 1.0))
    got = find(log_of(run_of(holed)), BIKE, SETTINGS)

    assert all(piece.end_s <= middle + 0.1 or piece.start_s >= middle + 0.9 for piece in got.pieces)
    assert got.counts["pull"] == 1


def test_slow_channels_between_the_rows_of_quick_ones():
    """A throttle and a speed that come at every fifth row only are enough."""
    ride = club_day(11, 100.0)
    slow = pl.int_range(pl.len()) % 5 == 0
    frame = ride.frame().with_columns(
        pl.when(slow).then(pl.col(name)).alias(name) for name in ("throttle", "speed")
    )
    got = find(log_of(run_of(frame)), BIKE, SETTINGS)

    assert got.counts["pull"] == len(ride.of("pull"))


@pytest.mark.parametrize("rows", [0, 1, 3])
def test_a_log_of_nearly_nothing(rows):
    """A log of no row, one or three holds no pull and troubles nobody."""
    ride = Ride(12)
    ride.coast(1.0, to=30.0)
    got = find(log_of(run_of(ride.frame().head(rows))), BIKE, SETTINGS)

    assert got.pieces == ()


def test_longer_pulls_can_be_asked_for():
    """The settings decide: with 6,000 rpm asked for, the pulls of less are none."""
    ride = club_day(13)
    few = find(log_of(run_of(ride.frame())), BIKE, PullSettings(least_rpm=5_500.0))

    assert few.counts["pull"] < found(ride).counts["pull"]
    assert all(piece.rpm_to - piece.rpm_from >= 5_500.0 for piece in few.of("pull"))


def test_revs_that_are_nonsense_end_somewhere():
    """Revs of pure noise, below zero too, and a throttle stuck at full for hours: an answer, and no endless search."""
    rng = np.random.default_rng(14)
    t = np.arange(60_000) * 0.1
    for rpm in (rng.normal(100.0, 60.0, len(t)), rng.normal(0.0, 1.0, len(t)), np.zeros(len(t))):
        frame = pl.DataFrame(
            {"t_s": t, "rpm": rpm, "throttle": np.full(len(t), 100.0), "speed": rng.random(len(t))}
        )
        got = find(log_of(run_of(frame)), BIKE, SETTINGS)
        assert got.counts["pull"] == 0


def test_a_throttle_that_is_stuck_still_shows_each_pull():
    """With the throttle said to be full for hours, each rise of the revs is found by itself."""
    t = np.arange(200_000) * 0.02
    rpm = 5_000.0 + 4_000.0 * ((t / 8.0) % 1.0) + np.random.default_rng(15).normal(0.0, 10.0, len(t))
    got = find(
        log_of(run_of(pl.DataFrame({"t_s": t, "rpm": rpm, "throttle": np.full(len(t), 100.0)}))),
        BIKE,
        SETTINGS,
    )

    assert got.counts["pull"] == pytest.approx(500, abs=2)
