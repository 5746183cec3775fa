"""What makes a reading worth nothing."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.emulator.ride import practice
from bridge.plug.lived import Lived, live_through
from bridge.plug.validity import LIMITS, judge
from tests.virtual_runs import life, reading, virtual_run

RUN, _ = virtual_run(1)


def lived(full_s=20.0, gap_s=1.0):
    """Return what a log showed, by its two figures alone."""
    return replace(live_through((RUN,), 1), full_throttle_s=full_s, gap_s=gap_s)


def test_a_new_plug_chopped_at_full_throttle_is_valid():
    """Thirteen seconds of full throttle and a chop on a new plug are worth reading."""
    found = judge(life(RUN))

    assert (found.valid, found.because) == (True, None)
    assert found.full_throttle_s == pytest.approx(13.0, abs=0.4)
    assert found.gap_s < 1.0


def test_a_cleaned_plug_is_as_good_as_a_new_one():
    """A plug that was cleaned before it was fitted has no old colour."""
    assert judge(life(RUN, state="cleaned")).valid


@given(
    full_s=st.floats(0.0, 5000.0),
    gap_s=st.floats(0.0, 5000.0),
    ring=st.sampled_from(["seen", "none", "all-dark", "not-seen"]),
    heat_range=st.integers(-2, 2),
)
@settings(max_examples=200)
def test_a_used_plug_is_never_valid(full_s, gap_s, ring, heat_range):
    """Whatever the log and the reading say, a plug that was neither new nor cleaned is no evidence."""
    used = life(RUN, state="used", seen=reading(ring=ring), heat_range=heat_range)
    found = judge(used, lived(full_s, gap_s))

    assert not found.valid
    assert "neither new nor cleaned" in found.because


@pytest.mark.parametrize(
    ("changes", "because"),
    [
        ({"order_lost": True}, "order of the tray was lost"),
        ({"seen": None}, "has not been read"),
        ({"seen": reading(ring="not-seen")}, "nobody could see the ring"),
    ],
)
def test_what_the_tray_and_the_reading_say_against_it(changes, because):
    """An order lost, no reading, and a ring nobody saw are each named."""
    found = judge(life(RUN, **changes), lived())

    assert not found.valid
    assert because in found.because


@pytest.mark.parametrize(
    ("full_s", "gap_s", "valid", "says"),
    [
        (5.0, 0.0, True, None),
        (4.9, 0.0, False, "4.9 s of full throttle"),
        (60.0, 10.0, True, None),
        (60.0, 11.0, False, "ran for 11 s"),
        (0.0, 40.0, False, "0.0 s of full throttle"),
    ],
)
def test_the_log_decides_with_its_figures(full_s, gap_s, valid, says):
    """Under 5 s of full throttle, or over 10 s of running after it, is no reading (common practice)."""
    found = judge(life(RUN), lived(full_s, gap_s))

    assert found.valid is valid
    assert says is None or says in found.because


def test_no_ring_means_lean_only_after_long_enough_at_the_usual_heat_range():
    """A short run or another heat range leaves no ring too: 20 s, as long as a nose takes to come to its heat.

    Common practice, no source; a ring that was seen, or a nose all dark, needs the 5 s of every reading.
    """
    none = reading(ring="none")

    assert judge(life(RUN, seen=none), lived(20.0)).valid
    assert "too short" in judge(life(RUN, seen=none), lived(19.9)).because
    assert "19.9 s" in judge(life(RUN, seen=none), lived(19.9)).because
    assert "too short" in judge(life(RUN, seen=none)).because
    assert judge(life(RUN, seen=reading(ring="all-dark")), lived(9.9)).valid
    assert "2 steps colder" in judge(life(RUN, seen=none, heat_range=2), lived()).because
    assert "1 step hotter" in judge(life(RUN, seen=none, heat_range=-1), lived()).because
    assert judge(life(RUN, heat_range=2), lived(9.9)).valid


def test_the_ride_back_to_the_pit_colours_the_nose():
    """Rolling in with the engine running is invalid; shutting off within three seconds is not."""
    rolled, _ = virtual_run(2, script=practice(laps=0, ending="roll in"))
    shut, _ = virtual_run(2, script=practice(laps=0, ending="shut off"))
    found = judge(life(rolled))

    assert not found.valid
    assert found.gap_s == pytest.approx(35.0, abs=1.5)
    assert "cut the ignition at full throttle" in found.because
    assert judge(life(shut)).valid


def test_a_later_ride_without_full_throttle_colours_it_too():
    """A plug chopped in one session and idled in the next is read after the idling."""
    chopped, _ = virtual_run(3)
    idled, _ = virtual_run(4, script=practice(laps=0, last_full_s=0.0, ending="shut off"), number=2)
    found = judge(life([chopped, idled]))

    assert not found.valid
    assert found.gap_s > LIMITS.gap_s


def test_a_log_without_a_throttle_cannot_show_it():
    """What the log cannot show is not taken as good, and the mend is in the sentence."""
    found = judge(life(replace(RUN, samples=RUN.samples.drop("throttle"))))

    assert not found.valid
    assert "no reading of the throttle" in found.because
    assert (found.full_throttle_s, found.gap_s) == (None, None)


def test_the_figures_of_the_rules_can_be_changed():
    """A tuner who wants ten seconds gets ten seconds."""
    strict = LIMITS.model_copy(update={"full_throttle_s": 10.0})

    assert judge(life(RUN), lived(7.0)).valid
    assert not judge(life(RUN), lived(7.0), strict).valid


def test_two_strokes_are_judged_alike():
    """The rules ask for full throttle and a clean cut, not for strokes."""
    two = replace(RUN, bike=RUN.bike.model_copy(update={"strokes": 2}))

    assert judge(life(two)).valid
    assert isinstance(live_through((two,), 1), Lived)
