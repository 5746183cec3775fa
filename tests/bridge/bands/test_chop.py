"""The chop that is found by itself: what it is, and all that only looks like one."""

import numpy as np
import pytest

from bridge.bands.chop import ChopFinder, ChopLimits
from bridge.emulator import Scenario, make_ride, practice, short_ride
from bridge.sealing.wire_frame import frame_from_capture

RATE_HZ = 100.0


def pieces(*parts):
    """Return (t_s, throttle, rpm) of stretches given as (seconds, throttle, rpm from, rpm to)."""
    throttle = [np.full(round(s * RATE_HZ), value) for s, value, _, _ in parts]
    rpm = [np.linspace(begin, end, round(s * RATE_HZ)) for s, _, begin, end in parts]
    joined = np.concatenate(throttle), np.concatenate(rpm)
    return np.arange(len(joined[0])) / RATE_HZ, *joined


def found(t_s, throttle, rpm, limits=None):
    """Return every chop that is found in a run of lines."""
    finder = ChopFinder(limits)
    chops = [finder.feed(*line) for line in zip(t_s.tolist(), throttle.tolist(), rpm.tolist(), strict=True)]
    return [chop for chop in chops if chop is not None]


FULL = (5.0, 100.0, 7000.0, 9500.0)
DEAD = (4.0, 0.0, 0.0, 0.0)


def test_a_chop_with_the_throttle_open():
    """Revs that fall to nothing with the throttle still full are a chop, at the moment they begin to fall."""
    (chop,) = found(*pieces(FULL, (1.2, 100.0, 9500.0, 0.0), DEAD))

    assert chop.t_s == pytest.approx(5.0, abs=0.06)
    assert chop.rpm == pytest.approx(9500.0, rel=0.03)
    assert chop.full_throttle_s == pytest.approx(5.0, abs=0.1)


def test_a_chop_with_the_throttle_shut_at_once():
    """Revs that fall to nothing as fast with the throttle let go are a chop too."""
    (chop,) = found(*pieces(FULL, (1.2, 0.0, 9500.0, 0.0), DEAD))

    assert chop.t_s == pytest.approx(5.0, abs=0.06)


def test_each_chop_is_said_once():
    """Two chops are two, each said one time."""
    one = (FULL, (1.2, 100.0, 9500.0, 0.0), DEAD)
    chops = found(*pieces(*one, (3.0, 20.0, 1500.0, 6000.0), *one))

    assert [round(chop.t_s) for chop in chops] == [5, 18]


@pytest.mark.parametrize(
    ("what", "parts"),
    [
        ("a change of gear", ((0.15, 100.0, 9500.0, 6800.0), (4.0, 100.0, 6800.0, 9500.0))),
        (
            "a change of gear with the throttle eased",
            ((0.25, 30.0, 9500.0, 6500.0), (4.0, 100.0, 6500.0, 9500.0)),
        ),
        ("throttle shut, wheel driving", ((4.0, 0.0, 9500.0, 4000.0), (3.0, 0.0, 4000.0, 1500.0))),
        ("throttle shut, clutch in, idling", ((1.2, 0.0, 9500.0, 1300.0), (6.0, 0.0, 1300.0, 1300.0))),
        ("rolled off, ignition off later", ((5.0, 0.0, 9500.0, 1500.0), (0.4, 0.0, 1500.0, 0.0), DEAD)),
        ("a pick-up that misses sparks", ((0.1, 100.0, 0.0, 0.0), (4.0, 100.0, 9500.0, 9600.0))),
        ("a limiter", ((0.1, 100.0, 9500.0, 8900.0), (0.1, 100.0, 8900.0, 9500.0)) * 10),
        ("full throttle bogging slowly", ((4.0, 100.0, 9500.0, 4000.0),)),
    ],
)
def test_what_only_looks_like_one(what, parts):
    """Changes of gear, a shut throttle, a limiter, missed sparks and bogging are no chops."""
    assert found(*pieces(FULL, *parts)) == [], what


def test_a_blip_before_is_too_short():
    """Full throttle shorter than the limit is none, and just longer is one."""
    end = ((1.2, 100.0, 9500.0, 0.0), DEAD)
    idle = (1.0, 20.0, 5000.0, 7000.0)

    assert found(*pieces(idle, (2.5, 100.0, 7000.0, 9500.0), *end)) == []
    assert len(found(*pieces(idle, (3.5, 100.0, 7000.0, 9500.0), *end))) == 1


def test_a_hole_in_the_lines_hides_it():
    """Revs that are gone after a hole in the lines are no chop: nobody knows what happened in it."""
    t_s, throttle, rpm = pieces(FULL, DEAD)
    later = np.where(t_s >= 5.0, t_s + 10.0, t_s)

    assert found(later, throttle, rpm) == []


def test_missing_readings_change_nothing():
    """Lines without throttle or revs between the others neither make a chop nor hide one."""
    finder, chops = ChopFinder(), []
    lines = zip(*(part.tolist() for part in pieces(FULL, (1.2, 100.0, 9500.0, 0.0), DEAD)), strict=True)
    for t_s, throttle, rpm in lines:
        chops += [finder.feed(t_s, None, None), finder.feed(t_s, throttle, None), finder.feed(t_s, None, rpm)]

    assert len([chop for chop in chops if chop is not None]) == 1


def test_a_stricter_limit_finds_less():
    """Asking for a faster fall than the engine's finds none; asking for a slower one still finds it."""
    run = pieces(FULL, (1.2, 100.0, 9500.0, 0.0), DEAD)

    assert found(*run, ChopLimits(rpm_per_s=9000.0)) == []
    assert len(found(*run, ChopLimits(rpm_per_s=2000.0))) == 1


@pytest.mark.parametrize(
    ("script", "many"),
    [(short_ride(), 1), (practice(laps=2), 1), (practice(laps=2, ending="roll in"), 0)],
)
@pytest.mark.parametrize("seed", [1, 2])
def test_in_a_virtual_ride(script, many, seed):
    """In a whole virtual ride the chop is found where the logger marked it, and nowhere else."""
    sealed = frame_from_capture(make_ride(Scenario(script=script), seed).wire, None)
    frame = sealed.frame.select("t_s", "throttle", "rpm").drop_nulls()
    chops = found(*(frame[name].to_numpy() for name in ("t_s", "throttle", "rpm")))
    marked = [mark.t_s for mark in sealed.marks if mark.what == "chop"]

    assert len(chops) == len(marked) == many
    assert all(abs(chop.t_s - at) < 0.3 for chop, at in zip(chops, marked, strict=True))
