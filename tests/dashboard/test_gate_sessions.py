"""Who has been let in, and for how long."""

import pytest

from dashboard.gate.sessions import IDLE_S, LONGEST_S, MOST, Sessions


def test_a_token_lets_in_and_another_does_not():
    """The token that was given lets in; one that differs in a letter, an empty one or none does not."""
    sessions = Sessions()
    token = sessions.open(0.0)

    assert sessions.admits(token, 1.0)
    other = ("A" if token[0] != "A" else "B") + token[1:]
    for forged in (other, token[:-1], token + "=", "", None, "\udc80", "0" * 43):
        assert not sessions.admits(forged, 1.0)


def test_tokens_are_long_and_each_its_own():
    """A token has 256 random bits, and none comes twice."""
    sessions = Sessions()
    tokens = {sessions.open(0.0) for _ in range(200)}

    assert len(tokens) == 200
    assert all(len(token) == 43 for token in tokens)


def test_no_token_is_kept():
    """What is kept are hashes, so nobody can take a session from the table."""
    sessions = Sessions()
    token = sessions.open(0.0)

    assert token not in str(sessions.__dict__)


@pytest.mark.parametrize(("later", "lets_in"), [(IDLE_S - 1, True), (IDLE_S, False)])
def test_twelve_hours_unused_end_it(later, lets_in):
    """A session that nobody uses ends after twelve hours, and stays ended."""
    sessions = Sessions()
    token = sessions.open(0.0)

    assert sessions.admits(token, later) is lets_in
    assert sessions.admits(token, 1.0) is lets_in


def test_seven_days_end_even_one_in_use():
    """A session that is used each hour ends after seven days."""
    sessions = Sessions()
    token = sessions.open(0.0)
    hours = [hour for hour in range(24 * 8) if sessions.admits(token, hour * 3600.0)]

    assert max(hours) * 3600.0 < LONGEST_S <= (max(hours) + 1) * 3600.0


def test_logging_out_ends_one_and_only_one():
    """An ended session lets in no more, the other goes on; ending twice is no error."""
    sessions = Sessions()
    one, two = sessions.open(0.0), sessions.open(0.0)
    sessions.end(one)
    sessions.end(one)
    sessions.end(None)

    assert not sessions.admits(one, 1.0)
    assert sessions.admits(two, 1.0)
    assert sessions.count(1.0) == 1


def test_all_can_be_ended():
    """After ending all nobody is in."""
    sessions = Sessions()
    tokens = [sessions.open(0.0) for _ in range(3)]
    sessions.end_all()

    assert not any(sessions.admits(token, 1.0) for token in tokens)


def test_the_table_stays_small():
    """More sessions than the bound push out the one that has been quiet the longest, not the one in use."""
    sessions = Sessions()
    used, quiet = sessions.open(0.0), sessions.open(0.0)
    for i in range(MOST - 1):
        sessions.admits(used, float(i))
        sessions.open(float(i))

    assert sessions.admits(used, 500.0)
    assert not sessions.admits(quiet, 500.0)
    assert sessions.count(500.0) == MOST
