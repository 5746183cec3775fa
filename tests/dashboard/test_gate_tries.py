"""How often a PIN may be tried."""

from ipaddress import ip_address

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.gate.tries import (
    AT_ONCE,
    BACK_EVERY_S,
    FORGET_S,
    FREE,
    LONGEST_WAIT_S,
    MOST_ADDRESSES,
    MOST_KNOWN,
    Tries,
    pause,
    who,
)

ADDRESSES = [ip_address(f"192.168.7.{i}") for i in range(1, 9)]
STEPS = st.lists(
    st.tuples(st.sampled_from(ADDRESSES), st.floats(0.0, 2000.0), st.booleans()), min_size=1, max_size=120
)


def test_five_are_free_then_the_waits_double():
    """Five wrong tries are free, then an address waits half a minute, a minute, and at last a quarter of an hour."""
    tries, now, waits = Tries(), 0.0, []
    for _ in range(12):
        assert tries.begin(ADDRESSES[0], now) == 0.0
        waits.append(tries.wait(ADDRESSES[0], now))
        now += waits[-1] + 1000.0

    assert waits[: FREE - 1] == [0.0] * (FREE - 1)
    assert waits[FREE - 1 :] == [30.0, 60.0, 120.0, 240.0, 480.0, 900.0, 900.0, 900.0]


@given(st.integers(0, 10_000))
def test_more_wrong_never_waits_less(wrong):
    """The wait never falls with the count, and never passes its limit."""
    assert pause(wrong) <= pause(wrong + 1) <= LONGEST_WAIT_S


@given(STEPS)
def test_what_is_judged_is_bounded(steps):
    """However it is tried, no more than the burst and one in ten seconds is judged over all that are not known."""
    tries, now, judged = Tries(), 0.0, 0
    for address, step, _ in steps:
        now += step
        judged += tries.begin(address, now) == 0.0

    assert judged <= AT_ONCE + now / BACK_EVERY_S + 1e-6
    assert tries.wrong == judged
    assert tries.turned_away == len(steps) - judged


@given(STEPS)
def test_the_wait_that_is_told_is_true(steps):
    """Whoever waits as long as was said may try, and whoever comes a little earlier may not."""
    tries, now = Tries(), 0.0
    for address, step, was_right in steps:
        now += step
        wait = tries.wait(address, now)
        assert wait >= 0.0
        if wait > 0.01:
            assert tries.begin(address, now + wait - 0.01) > 0.0
            now += wait + 1e-6
        assert tries.begin(address, now) == 0.0
        if was_right:
            tries.right(address)


@given(STEPS)
def test_each_address_is_bounded_by_itself(steps):
    """One address is judged at most five times and then once for each wait, whatever others do."""
    tries, now, judged = Tries(), 0.0, []
    for address, step, _ in steps:
        now += min(step, 30.0)
        if tries.begin(address, now) == 0.0 and address == ADDRESSES[0]:
            judged.append(now)
    for i in range(FREE, len(judged)):
        assert judged[i] - judged[i - 1] >= pause(i) - 1e-6


def test_many_at_once_gain_nothing():
    """A try counts before it is judged, so a hundred at the same moment are five."""
    tries = Tries()

    assert sum(tries.begin(ADDRESSES[0], 5.0) == 0.0 for _ in range(100)) == FREE


def test_a_right_one_takes_its_count_back():
    """Who is let in starts anew, and takes nothing from the others' budget."""
    tries = Tries()
    for _ in range(1000):
        assert tries.begin(ADDRESSES[0], 0.0) == 0.0
        tries.right(ADDRESSES[0])

    assert tries.wrong == 0
    assert all(tries.begin(ADDRESSES[1], 0.0) == 0.0 for _ in range(FREE))


def test_a_stranger_cannot_keep_out_who_was_in_before():
    """With the budget of all used up, an address that was let in before may still try; a new one waits."""
    tries = Tries()
    tries.begin(ADDRESSES[0], 0.0)
    tries.right(ADDRESSES[0])
    for i in range(200):
        tries.begin(ip_address(0x0A000000 + i), 1.0)

    assert tries.wait(ADDRESSES[1], 1.0) == pytest.approx(BACK_EVERY_S, abs=0.2)
    assert tries.begin(ADDRESSES[0], 1.0) == 0.0


def test_who_was_in_before_is_still_counted():
    """A known address that tries wrong PINs waits like any other."""
    tries = Tries()
    tries.begin(ADDRESSES[0], 0.0)
    tries.right(ADDRESSES[0])

    assert sum(tries.begin(ADDRESSES[0], 1.0) == 0.0 for _ in range(100)) == FREE


def test_a_day_without_tries_is_forgotten():
    """After a day an address has its five tries again, a little before it has not."""
    for later, wait in ((FORGET_S, 0.0), (FORGET_S - 1.0, 60.0)):
        tries = Tries()
        for _ in range(FREE):
            tries.begin(ADDRESSES[0], 0.0)
        tries.begin(ADDRESSES[0], later)

        assert tries.wait(ADDRESSES[0], later) == wait


def test_the_tables_stay_small():
    """Twenty thousand addresses leave no more than the bound, and the newest is still counted."""
    tries = Tries()
    for i in range(20_000):
        tries.begin(ip_address(0x0A000000 + i), i * BACK_EVERY_S)
        if i % 4 == 0:
            tries.right(ip_address(0x0A000000 + i))

    assert len(tries) == MOST_ADDRESSES
    assert len(tries._known) == MOST_KNOWN
    assert tries._records[str(ip_address(0x0A000000 + 19_999))].wrong == 1


def test_ipv6_counts_by_its_network():
    """A device has a whole /64 to itself, so that counts as one; the next network is another."""
    assert who(ip_address("fd00:1:2:3::1")) == who(ip_address("fd00:1:2:3:ffff::9"))
    assert who(ip_address("fd00:1:2:3::1")) != who(ip_address("fd00:1:2:4::1"))
    assert who(ip_address("10.0.0.1")) != who(ip_address("10.0.0.2"))
    assert who(None) == who(None)


def test_a_clock_that_steps_back_gives_nothing():
    """A clock set back neither lets more through nor hands the budget out twice."""
    tries = Tries()
    for i in range(int(AT_ONCE)):
        tries.begin(ip_address(0x0A000000 + i), 1000.0)
    for i in range(100, 200):
        assert tries.begin(ip_address(0x0A000000 + i), 0.0 if i % 2 else 1000.0) > 0.0


def test_what_a_day_of_trying_reaches():
    """With any number of addresses a day reaches under 9,000 PINs: 1 in 10,000 of eight digits, 1 in 100 of six."""
    tries, judged = Tries(), 0
    for second in range(86_400):
        judged += tries.begin(ip_address(0x0A000000 + second), float(second)) == 0.0

    assert judged <= 8_670
    assert judged / 10**8 < 1e-4
    assert judged / 10**6 < 1e-2
