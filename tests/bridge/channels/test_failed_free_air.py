"""A free-air check that is too far off corrects nothing. The limit of 10 %: common practice, no source."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.channels import SensorEvent
from bridge.channels.sensor_state import free_air_gain, sensor_state

DAY = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)


def check(share, days=0):
    """Return a free-air check."""
    return SensorEvent("free air", DAY + timedelta(days=days), value=share)


def state(*events):
    """Return what is known of a four-stroke's sensor a month later."""
    return sensor_state(events, None, DAY + timedelta(days=30), 4)


@pytest.mark.parametrize("share", [0.15, 0.185, 0.235, 0.25])
def test_a_check_that_is_far_off_corrects_nothing_and_is_said(share):
    """The gain stays 1, the reading is less sure, and the note says to check again or to replace it."""
    found = state(check(share))
    (note,) = [note for note in found.notes if "free-air check of 2026-05-01" in note]

    assert found.gain == 1.0
    assert found.sd > state().sd
    assert "check again" in note
    assert "replace the sensor" in note
    assert not any("corrected for" in one for one in found.notes)


@given(share=st.floats(0.15, 0.25))
def test_no_correction_is_ever_larger_than_a_tenth(share):
    """Whatever a check told, the gain stays within 10 %, and within it the check counts."""
    told = free_air_gain(check(share))[0]
    found = state(check(share))
    assert abs(found.gain - 1.0) <= 0.10
    assert found.gain == (told if abs(told - 1.0) <= 0.10 else 1.0)


def test_a_failed_check_leaves_the_good_one_before_it():
    """The earlier correction stays, with the doubt of what came after; a good check after it ends that doubt."""
    good, bad = check(0.205), check(0.15, days=10)
    alone, both, mended = state(good), state(good, bad), state(good, bad, check(0.206, days=20))

    assert both.gain == alone.gain
    assert both.sd > alone.sd
    assert both.checked_days == alone.checked_days == 30.0
    assert mended.gain > both.gain
    assert mended.gain_sd == pytest.approx(alone.gain_sd, rel=0.05)
    assert mended.checked_days == 10.0


def test_the_further_off_the_less_sure():
    """More off is more doubt."""
    assert state(check(0.15)).sd > state(check(0.18)).sd > state().sd
